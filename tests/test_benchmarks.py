"""Every textbook case agrees with its source, at the order its smoothness allows."""

import pytest

from benchmarks.__main__ import main
from benchmarks.cases import Case, load

CASES = load()
SMOOTH = {name: case for name, case in CASES.items() if case.coarse}


def test_the_cases_are_all_there():
    assert len(CASES) >= 18
    assert len(SMOOTH) >= 12


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_agrees_with_its_source(case: Case):
    worst = case.worst(case.run(case.n_elements))
    assert worst.error <= case.tolerance, f"{worst}: allowed {case.tolerance}, {case.reason}"


@pytest.mark.parametrize("case", SMOOTH.values(), ids=SMOOTH)
def test_converges_at_its_order(case: Case):
    assert case.order >= 2.0
    assert case.measured_order() >= case.order


def test_table_is_printed(capsys):
    assert main(["c02"]) == 0
    out = capsys.readouterr().out
    assert "c02_tip_load" in out and "Mattiasson" in out and "0 outside" in out


def test_a_wrong_answer_is_seen():
    case = CASES["c02_tip_load"]
    good = dict(case.run(case.n_elements))
    assert case.worst({**good, "w": good["w"] * (1 + 1e-7)}).error > case.tolerance
    assert case.worst({**good, "w": good["w"] * float("nan")}).error > case.tolerance
    with pytest.raises(ValueError, match="shape"):
        case.worst({**good, "w": good["w"][:-1]})
