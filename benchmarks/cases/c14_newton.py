"""How fast Newton's method closes in: its steps square, if and only if every tangent is exact.

Steps are in radians and rod lengths. From a step of size a to the next, b, the order is
``log b / log a``; that of the last pair above rounding counts. A term missing in a tangent leaves
every answer of the other cases right, and shows here alone: convergence is then linear.
"""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, c14_reference_walk as walk
from bowfem.rod import (
    Force,
    LineLoad,
    MomentTable,
    Path,
    Pressure,
    Rod,
    Settings,
    Spring,
    TautString,
    clamp,
    follow,
    pull,
    rest_length,
)

#: Far enough that several steps are needed, without help from earlier states.
BLUNT = Settings(predict=False, tolerance=1e-13)
ROUNDING = 1e-13


def softening(rod: Rod) -> Rod:
    """Give a rod ``M = tanh(k)``, tabulated to k = 4."""
    k = np.broadcast_to(np.linspace(-4.0, 4.0, 161), (*rod.EI.shape, 161)).copy()
    return rod.with_table(MomentTable(k, np.tanh(k), np.cosh(k) ** -2.0))


def cantilevers(n_elements: int) -> dict[str, Path]:
    """Bend a straight rod far in one step, by each kind of load and law."""
    rigid, soft = (
        Rod.straight(1.0, n_elements, EI=1.0, EA=a, GA=g)
        for a, g in ((np.inf, np.inf), (200.0, 100.0))
    )
    each = {
        "dead force": (rigid, Force(y=4.0)),
        "follower force": (rigid, Force(y=4.0, follower=True)),
        "pressure": (rigid, Pressure(4.0)),
        "dead line load": (rigid, LineLoad(y=4.0)),
        "stretch and shear": (soft, Force(x=1.0, y=3.0)),
        "pressure, stretch and shear": (soft, Pressure(4.0)),
        "softening law": (softening(rigid), Force(y=0.8)),
    }
    paths = {
        name: follow(rod, [clamp(0)], [load], settings=BLUNT) for name, (rod, load) in each.items()
    }
    springs = Spring(n_elements, x=2.0, y=5.0, turn=1.0)
    paths["springs"] = follow(rigid, [clamp(0), springs], [Force(y=6.0)], settings=BLUNT)
    return paths


def wrapped(n_elements: int) -> Path:
    """Draw a curled rod whose string lies on a belly of changing height, in one large step."""
    nodes = np.linspace(0.0, 1.0, 2 * n_elements + 1)
    rod = Rod.from_curvature(
        nodes,
        EI=1.0,
        EA=2e3,
        GA=1e3,
        belly=lambda s: 0.01 + 0.3 * s,
        curvature0=lambda s: np.where(s > 0.5, -4.0, 0.0),
    )
    nock = (0.0, 0.25)
    rest = rest_length(rod, nock)
    string = TautString(EA=1e3)
    braced = pull(rod, [clamp(0)], string, [nock], 0.97 * rest, begin=(*nock, rest))
    return pull(
        rod,
        [clamp(0)],
        string,
        [(0.0, 0.5)],
        0.97 * rest,
        begin=(*nock, rest),
        start=braced,
        settings=BLUNT,
    )


def drawn(model: str, n_elements: int) -> Path:
    """Draw a limb of the reference walk by twenty of its steps at once."""
    rod, string = walk.limb(model, n_elements)
    nock = walk.WALKS[model].nock
    begin = (float(nock[0, 0]), float(nock[0, 1]), walk.STRING)
    braced = pull(rod, [clamp(0)], string, nock[1:12], walk.STRING, begin=begin)
    return pull(
        rod, [clamp(0)], string, nock[31:32], walk.STRING, begin=begin, start=braced, settings=BLUNT
    )


def missing_order(path: Path) -> float:
    """Return by how much the order of the last pair of steps above rounding is below two."""
    steps = path.history[:, 1]
    last = int(np.flatnonzero(steps > ROUNDING)[-1])
    if path.substeps[-1] != 1 or last < 2 or steps[last - 1] > 0.1:
        return np.inf  # halved, or not closing in
    return max(0.0, 2.0 - float(np.log(steps[last]) / np.log(steps[last - 1])))


def run(n_elements: int) -> Mapping[str, Array]:
    """Measure it for every kind of load, law and string."""
    paths = cantilevers(n_elements)
    paths |= {f"string, {model}": drawn(model, n_elements) for model in walk.MODELS}
    paths["string on a belly"] = wrapped(n_elements)
    return {name: np.array(missing_order(path)) for name, path in paths.items()}


NAMES = (
    "dead force",
    "follower force",
    "pressure",
    "dead line load",
    "stretch and shear",
    "pressure, stretch and shear",
    "softening law",
    "springs",
    "string, D0",
    "string, D2",
    "string on a belly",
)

CASE = Case(
    title="Newton's method, short of order 2 by",
    source="with an exact tangent the method converges quadratically (any textbook)",
    kind="theorem",
    expected=dict.fromkeys(NAMES, 0.0),
    run=run,
    tolerance=0.3,
    reason="b = C a^2 falls short by log C / log(1/a): 0.30 with C = 30 and a = 1e-5",
    n_elements=8,
    floor=1.0,
)
