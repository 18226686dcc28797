"""Every textbook case agrees with its source, at the order its smoothness allows."""

import numpy as np
import pytest

from benchmarks.__main__ import main
from benchmarks.cases import Case, c14_reference_walk, load

CASES = load()
#: Laws with a corner, which quadrature through the wall meets at first order only.
KINKED = {"elastic-plastic tubes, moment and residual curvature"}
SMOOTH = {name: case for name, case in CASES.items() if case.coarse}


def test_the_cases_are_all_there():
    # references.json: rods and strings are 01 to 08, 11, 12, 15; sections 09, 10, 12; walk 14
    numbers = {name[1:3] for name in CASES}
    wanted = "01 02 03 04 05 06 07 08 09 10 11 12 14 15".split()
    assert sorted(numbers) == wanted
    assert len(CASES) >= 21
    assert len(SMOOTH) >= 14


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_agrees_with_its_source(case: Case):
    worst = case.worst(case.run(case.n_elements))
    assert worst.error <= case.tolerance, f"{worst}: allowed {case.tolerance}, {case.reason}"
    assert case.tolerance <= (1e-3 if case.title in KINKED else 1e-5)
    assert case.reason and case.source and case.kind


@pytest.mark.parametrize("case", SMOOTH.values(), ids=SMOOTH)
def test_converges_at_its_order(case: Case):
    assert case.order >= 2.0
    assert case.measured_order() >= case.order


@pytest.mark.parametrize("model", ["D0", "D2"])
def test_force_of_the_reference_walk(model):
    # reference_walk.csv: shooting, good to 3e-13 of the force at full draw
    source = c14_reference_walk.WALKS[model].pull[-40:, 1]

    def error(n_elements: int) -> float:
        force = c14_reference_walk.draw(model, n_elements).pull[-40:, 1]
        return float(np.max(np.abs(force - source)) / source[-1])

    assert error(8) <= 1e-5
    assert error(32) <= 1e-8
    counts = np.array([2, 3, 4, 6, 8])
    slope, _ = np.polyfit(np.log(counts), np.log([error(n) for n in counts]), 1)
    assert -slope >= 4.0


def test_table_is_printed(capsys):
    assert main(["c02_", "c05_shear"]) == 0
    out = capsys.readouterr().out
    assert "Mattiasson" in out and "0 outside" in out and "MISS" not in out
    rows = [line.split("|")[1:-1] for line in out.splitlines() if line.startswith("| c02_tip_load")]
    quantities, sources = rows[:-1], rows[-1]
    assert {row[1].strip() for row in quantities} == set(CASES["c02_tip_load"].expected)
    assert all(float(row[4]) <= float(row[5]) for row in quantities)
    assert [part.strip() for part in sources[1:]] == [
        CASES["c02_tip_load"].title, CASES["c02_tip_load"].source, CASES["c02_tip_load"].kind,
        CASES["c02_tip_load"].reason,
    ]  # fmt: skip


def test_a_wrong_answer_is_seen():
    case = CASES["c02_tip_load"]
    good = {name: np.asarray(v) for name, v in case.run(case.n_elements).items()}
    assert case.worst({**good, "w": good["w"] * (1 + 1e-7)}).error > case.tolerance
    assert case.worst({**good, "w": good["w"] * float("nan")}).error > case.tolerance
    with pytest.raises(ValueError, match="shape"):
        case.worst({**good, "w": good["w"][:-1]})


def test_the_arc_in_its_plane_satisfies_its_equation():
    # the case's own quadrature against integration of the differential equation
    from scipy.integrate import solve_ivp

    from benchmarks.cases import c05_planar_arc as arc

    for load_, row in zip(arc.LOADS, arc.EXACT, strict=True):
        found = solve_ivp(
            lambda s, u, p=load_: [u[1], -p * np.cos(u[0]), np.cos(u[0]), np.sin(u[0])],
            (0.0, arc.ANGLE), [0.0, 1.0 + row["M0"], 0.0, 0.0], rtol=1e-11, atol=1e-12,
        )  # fmt: skip
        assert found.y[:, -1] == pytest.approx([row["theta"], 1.0, row["x"], row["y"]], abs=1e-9)
