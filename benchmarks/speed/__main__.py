"""Print the timings: ``python -m benchmarks.speed [--growth] [--peers] [--cold]``.

Every time is a median of many runs in this process, on this machine, in this minute, beside the
least CPU time of one. Ratios are to what is measured beside it: bare assembly and solution are the
kernels' own work without the search for contact, cut elements and records; scipy's banded solution
is LAPACK's, called as often. Neither is the least that is possible. Figures of other machines are
quoted, not compared by the clock.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path as Path_

import numpy as np

from benchmarks.cases import c02_tip_load, c14_reference_walk
from benchmarks.speed import growth as growing, peers
from benchmarks.speed.clock import Timing, banded_solves, bare_iterations, kernel_only, medians
from benchmarks.speed.curl import curled_limb, walk_limb
from benchmarks.speed.links import links_for
from benchmarks.speed.shots import shots as shot_times
from benchmarks.table import show
from bowfem.bow import limb_side_factors, walk
from bowfem.design import Design
from bowfem.rod import Force, Path, Rod, Settings, clamp, follow

GOAL = 1e-6
EXAMPLES = Path_(__file__).parents[2] / "examples" / "designs"
EXAMPLE_NAMES = ("wagtail", "curlew", "dunlin", "lapwing")
HEAD = ("what", "value", "least CPU", "unit", "beside")
QUOTED = (
    "Quoted, from another machine: general-purpose peers took about 151 ms for the same walk to\n"
    "1e-6 in one run, 24.5 ms by Richardson extrapolation of two runs. --peers times some here."
)

Row = tuple[str, str, str, str, str]


def row(what: str, value: float, unit: str, beside: str = "") -> Row:
    """Make a row of the table; times come in seconds."""
    scale = {"ms": 1e3, "us": 1e6}.get(unit, 1.0)
    cpu = f"{value.cpu * scale:.4g}" if isinstance(value, Timing) else ""
    return what, f"{value * scale:.4g}", cpu, unit, beside


def smallest_mesh(error: Callable[[int], float], begin: int = 1) -> int:
    """Return the least number of elements whose error is within the goal."""
    return next(n for n in range(begin, 65) if error(n) <= GOAL)


def reference_walk(runs: int) -> list[Row]:
    """Time case 14, D0: 10 steps to brace, 40 draws, to 1e-6 of the force at full draw."""
    source = c14_reference_walk.WALKS["D0"].pull[-40:, 1]

    def draw(n: int, predict: bool = True) -> Path:
        return c14_reference_walk.draw("D0", n, Settings(predict=predict))

    def error(n: int) -> float:
        return float(np.max(np.abs(draw(n).pull[-40:, 1] - source)) / source[-1])

    n = smallest_mesh(error)
    path, unaided = draw(n), draw(n, False)
    count = int(path.iterations.sum())
    string = c14_reference_walk.limb("D0", n)[1]
    spent, plain, kernel, bare, floor = medians(
        runs,
        lambda: draw(n),
        lambda: draw(n, False),
        kernel_only(lambda: draw(n)),
        bare_iterations(path, string, count),
        banded_solves(n, count),
    )
    links, order = links_for(GOAL)
    again, many = medians(max(1, runs // 10), lambda: draw(n), lambda: draw(links))
    return [
        row("elements for 1e-6 of the force", n, "", f"error {error(n):.1e} over 40 draws"),
        row("walk of 50 steps", spent, "ms", f"{told(path)} (target 1.4)"),
        row("of it compiled", kernel, "ms", "the rest is Python: rod, set-up, records"),
        row("without prediction", plain, "ms", told(unaided)),
        row(
            "bare assembly and solution, as often",
            bare,
            "ms",
            f"walk is {spent / bare:.1f} x, its compiled part {kernel / bare:.1f} x",
        ),
        row("scipy banded solution, as often", floor, "ms", f"walk is {spent / floor:.1f} x"),
        row(
            "elements an order-2 element needs",
            links,
            "",
            f"chain of links, order {order:.2f} measured: {links / n:.0f} x as many",
        ),
        row(
            "this solver with as many elements",
            many,
            "ms",
            f"{many / again:.0f} x: what the order is worth, of any ratio to order-2 peers",
        ),
    ]


def curled_walk(runs: int) -> list[Row]:
    """Time a symmetric bow's limb with a curl under the string and a tabulated law, 40 draws."""
    limb, straight = curled_limb(curl=True), curled_limb(curl=False)
    wrapped, free = walk_limb(limb), walk_limb(straight)
    count = int(wrapped.iterations.sum())
    spent, spent_free, kernel, bare = medians(
        runs,
        lambda: walk_limb(limb),
        lambda: walk_limb(straight),
        kernel_only(lambda: walk_limb(limb)),
        bare_iterations(wrapped, limb[1], count),
    )
    span = wrapped.contact[:, 0, 0] - wrapped.contact[:, 0, 1]
    return [
        row(
            "curled limb, brace and 40 draws",
            spent,
            "ms",
            f"{limb[0].n_elements} elements, "
            f"{told(wrapped)}; {span[0] * 1e3:.0f} to {span[-1] * 1e3:.0f} mm wrapped",
        ),
        row(
            "of it compiled",
            kernel,
            "ms",
            f"{kernel / count * 1e6:.0f} us an iteration, "
            f"{bare / count * 1e6:.0f} us of them assembly and solution",
        ),
        row(
            "the same limb, curl straightened",
            spent_free,
            "ms",
            f"free of contact, {told(free)}: {spent / spent_free:.1f} x (target 3)",
        ),
        row(
            "bare assembly and solution, as often",
            bare,
            "ms",
            f"walk is {spent / bare:.1f} x, its compiled part {kernel / bare:.1f} x (target 3)",
        ),
    ]


def told(path: Path) -> str:
    """Say what a walk took."""
    halved = int(path.substeps.sum()) - len(path)
    return f"{int(path.iterations.sum())} Newton iterations, {halved} steps halved"


def textbook(runs: int) -> list[Row]:
    """Time the elastica to PL^2/EI = 10 in 10 steps, and the roll-up to a circle, to 1e-6."""
    exact = np.array([1.0 - c02_tip_load.TABLE["u_L"][-1], c02_tip_load.TABLE["w_L"][-1]])

    def elastica(n: int) -> Path:
        rod = Rod.straight(1.0, n, EI=1.0)
        return follow(rod, [clamp(0)], [Force(y=10.0)], np.arange(1, 11) / 10)

    def circle(n: int) -> Path:
        return follow(Rod.straight(1.0, n, EI=1.0), [clamp(0)], [Force(couple=2 * np.pi)])

    rows = []
    for name, solve, tip in (
        ("elastica, PL^2/EI = 10 in 10 steps", elastica, exact),
        ("roll-up to a full circle", circle, np.zeros(2)),
    ):
        n = smallest_mesh(lambda n, s=solve, t=tip: float(np.max(np.abs(s(n).tip[-1] - t))))
        path = solve(n)
        (spent,) = medians(runs, lambda s=solve, n=n: s(n))
        size = f"{n} elements for 1e-6, {told(path)}"
        rows.append(row(name, spent, "ms", f"{size} (target 2.5)"))
    return rows


def sideways(runs: int) -> list[Row]:
    """Time what every state of an example's walk costs out of the plane, beside the walk."""
    rows = []
    for name in EXAMPLE_NAMES:
        design = Design.from_file(EXAMPLES / f"{name}.toml")
        found = walk(design)
        assert found.solved is not None
        bow, states = found.solved
        pairs = list(zip(bow.models, states.limbs, strict=True))
        walked, spent = medians(
            runs,
            lambda design=design: walk(design),
            lambda design=design, pairs=pairs: [
                limb_side_factors(design, model, path) for model, path in pairs
            ],
        )
        share = f"{100.0 * spent.cpu / walked.cpu:.1f} % of its walk's {walked.cpu * 1e3:.3g} ms"
        rows.append(row(f"{name}, all states", spent, "ms", f"{share} (target 15)"))
    return rows


def shots(runs: int) -> list[Row]:
    """Time the shots of examples on the mesh that `bowfem shoot` uses."""
    rows = []
    for name in EXAMPLE_NAMES:
        found = walk(Design.from_file(EXAMPLES / f"{name}.toml"), refine=2)
        (alone, kernel, bare, full, sweep), motion = shot_times(found, runs)
        after = f"with its error and {1e3 * motion.time[-1]:.0f} ms in all"
        of_bare = f"{kernel / bare:.1f} x as many bare static iterations, its compiled part"
        rows += [
            row(f"{name}, until the arrow leaves", alone, "ms", f"{of_bare} (target 300)"),
            row(f"{name}, {after}", full, "ms", f"{motion.iterations} iterations (target 900)"),
            row(f"{name}, ten arrows with their errors", sweep, "ms", "(target 3000)"),
        ]
    return rows


def growth(runs: int) -> list[Row]:
    """Time what a user waits for, and how it grows."""
    jobs = zip(growing.JOBS, medians(runs, *(job.run for job in growing.JOBS)), strict=True)
    rows = [row(job.what, spent, "ms", job.remark) for job, spent in jobs]
    for name, sizes, times in growing.growths(runs):
        told = ", ".join(f"{n}: {t * 1e3:.3g} ms" for n, t in zip(sizes, times, strict=True))
        rows.append(row(f"power of {name}", growing.slope(sizes, times), "", told))
    return rows


def against_peers(runs: int) -> list[Row]:
    """Time general-purpose peers on the reference walk beside this solver, all to the goal."""
    n = smallest_mesh(lambda n: peers.error(c14_reference_walk.draw("D0", n).pull[:, 1]))
    tried = (1e-2, 1e-3, 1e-4, 1e-5)
    tolerance = next(t for t in tried if peers.error(peers.collocation(t)) <= GOAL)
    frame = peers.frame_program()
    count = 0 if isinstance(frame, str) else peers.coarsest(frame, GOAL)
    walks = [
        lambda: c14_reference_walk.draw("D0", n).pull[:, 1],
        lambda: peers.collocation(tolerance),
    ]
    names = [f"bowfem, {n} elements", f"scipy solve_bvp, tolerance {tolerance:.0e}"]
    if not isinstance(frame, str):
        walks.append(lambda: frame(count))
        names.append(f"OpenSees, {count} and {2 * count} elements, extrapolated")
    times = medians(runs, *walks)
    rows = [
        row(name, spent, "ms", f"error {peers.error(walk()):.1e}, {spent / times[0]:.0f} x")
        for name, spent, walk in zip(names, times, walks, strict=True)
    ]
    return [*rows, ("OpenSees", "-", "", "", frame)] if isinstance(frame, str) else rows


def main(words: Sequence[str] = (), runs: int = 101) -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.speed", description=__doc__)
    cold_help = "also start the command line with an empty compile cache (minutes)"
    parser.add_argument("--cold", action="store_true", help=cold_help)
    parser.add_argument(
        "--growth", action="store_true", help="also what a user waits for, and how cost grows"
    )
    parser.add_argument(
        "--peers", action="store_true", help="also general-purpose programs on the reference walk"
    )
    asked = parser.parse_args(words)
    few = max(3, runs // 20)
    parts: dict[str, Callable[[int], list[Row]]] = {
        "Reference walk (case 14, inextensible)": reference_walk,
        "Limb with a wrapped curl and a tabulated law": curled_walk,
        "Textbook rods": textbook,
        "Out of the plane": lambda _: sideways(few),
        "Shots": lambda _: shots(few),
    }
    if asked.growth:
        parts["What a user waits for, and how it grows"] = lambda _: growth(few)
    if asked.peers:
        parts["General-purpose peers, reference walk"] = lambda _: against_peers(few)
    load = " ".join(f"{each:.2f}" for each in os.getloadavg())
    print(f"{os.cpu_count()} cores, load over 1, 5 and 15 minutes {load}\n")
    for title, part in parts.items():
        print(title)
        show(HEAD, part(runs))
        if part is reference_walk:
            print(QUOTED)
        print(flush=True)
    if asked.cold:
        from benchmarks.speed.cold import start

        print("Command line, from nothing compiled on")
        show(HEAD, [row(*found) for found in start()])


if __name__ == "__main__":
    main(sys.argv[1:])
