"""Inextensible ring under external pressure: where it buckles, and where its sides meet."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import TIGHT, Array, Case
from bowfem.rod import Force, Pressure, Rod, follow, guide


def crown(n_elements: int, pressure: Array, push: float) -> Array:
    """Return how far the crown comes inward, over R, of a quarter pushed there a little."""
    quarter = Rod.arc(1.0, 0.5 * np.pi, n_elements, EI=1.0)
    loads = [Pressure(1.0), Force(node=0, y=push, constant=True)]
    held = [guide(0, "y"), guide(n_elements, "x")]
    return follow(quarter, held, loads, pressure, settings=TIGHT).nodes[:, 0, 1]


def run(n_elements: int) -> Mapping[str, Array]:
    """Seek where a push would move the crown without end, and follow the buckled ring."""
    push, below = 1e-9, np.array([2.5, 2.8, 2.9, 2.95])
    # what the push meets falls to nothing at buckling
    fit = np.polynomial.Polynomial.fit(push / crown(n_elements, below, push), below, 3)
    path = np.concatenate([np.linspace(2.9, 3.2, 4), np.linspace(3.3, 5.2, 20), [5.23, 5.26]])
    inward = crown(n_elements, path, 1e-5)[-3:]  # less of a push leaves the branch to rounding
    touch = np.polynomial.Polynomial.fit(inward, path[-3:], 2)
    return {"buckling": np.array([fit(0.0)]), "sides meet": np.array([touch(1.0)])}


CASE = Case(
    title="ring under external pressure, p R^3 / EI",
    source="Levy, 1884; Flaherty, Keller, Rubinow, SIAM J. Appl. Math. 23 (1972), from memory",
    kind="closed form; printed digits (4)",
    expected={"buckling": 3.0, "sides meet": 5.247},
    run=run,
    tolerance=1e-4,
    reason="four digits of the reference",
    n_elements=16,
)
