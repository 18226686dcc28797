"""The JSON record: units in keys, shapes as promised, the design inside reads back."""

import json

import numpy as np
import pytest

from bowfem.design import Design
from bowfem.show.record import to_dict, to_json


@pytest.mark.parametrize("name", ["wagtail", "curlew", "lapwing", "giving_way"])
@pytest.mark.parametrize("system", ["us", "metric"])
def test_json_is_strict_and_reads_back(name, system, request, findings):
    walk = request.getfixturevalue(name)

    def refuse(word):
        raise AssertionError(word)  # NaN and Infinity are no JSON (RFC 8259)

    data = json.loads(to_json(findings(walk), system), parse_constant=refuse)
    assert data == to_dict(findings(walk), system)
    assert Design.from_toml(data["design"]) == walk.design
    assert data["message"] == walk.message
    states = data["states"]
    n, m = walk.limbs[0].x.shape
    for key, values in states.items():
        assert len(values) == n, key
    x, length = ("x_in", 0.0254) if system == "us" else ("x_mm", 1e-3)
    np.testing.assert_allclose(np.array(states[x]) * length, walk.limbs[0].x, atol=1e-12)
    assert {len(row) for row in states[x]} == {m}


def test_units_of_both_systems_agree(curlew, findings):
    us, metric = to_dict(findings(curlew), "us"), to_dict(findings(curlew), "metric")
    # by definition: inch 25.4 mm, pound-force 4.4482216152605 N
    pairs = {
        ("force_lbf", "force_N"): 4.4482216152605,
        ("moment_in_lbf", "moment_N_m"): 0.0254 * 4.4482216152605,
        ("stress_back_psi", "stress_back_MPa"): 4.4482216152605 / 25.4**2,
        ("curvature_change_per_in", "curvature_change_per_m"): 1 / 0.0254,
        ("energy_ft_lbf", "energy_J"): 0.3048 * 4.4482216152605,
        ("pressure_lbf_per_in", "pressure_N_per_mm"): 4.4482216152605 / 25.4,
        ("strain_belly_percent", "strain_belly_percent"): 1.0,
    }
    for (one, other), factor in pairs.items():
        np.testing.assert_allclose(
            np.array(us["states"][one]) * factor, metric["states"][other], rtol=1e-12, atol=1e-12
        )


def test_draw_is_given_in_both_conventions(wagtail, findings):
    summary = to_dict(findings(wagtail), "us")["summary"]
    # AMO standard (seen): 26.25 in to the pivot is a 28 in draw
    assert summary["draw_to_pivot_in"] == pytest.approx(26.25, rel=1e-9)
    assert summary["draw_amo_in"] == pytest.approx(28.0, rel=1e-9)


def test_unused_contact_is_null(curlew, findings):
    first = to_dict(findings(curlew), "metric")["states"]["contact_mm"][0]
    assert first[-1] == [None, None]
    assert first[0][0] is not None


def test_lower_limb_and_tuning_of_unequal_limbs(lapwing, curlew, findings):
    data = to_dict(findings(lapwing), "metric")
    lower, tuning = lapwing.limbs[1], data["tuning"]
    states = data["lower"]["states"]
    np.testing.assert_allclose(np.array(states["y_mm"]) * 1e-3, lower.y, atol=1e-12)
    np.testing.assert_allclose(np.array(data["lower"]["stations"]["s_mm"]) * 1e-3, lower.s)
    gap = tuning["string_to_belly_at_fade_upper_mm"] - tuning["string_to_belly_at_fade_lower_mm"]
    assert tuning["tiller_mm"] == pytest.approx(gap, rel=1e-9)
    # the slower limb takes longer
    times = {side: tuning[f"return_time_{side}_ms"] for side in ("upper", "lower")}
    assert max(times, key=lambda side: times[side]) == tuning["late"]
    assert len(tuning["nock_travel_mm"]) == lapwing.draw.size
    assert tuning["nock_travel_mm"][-1] == pytest.approx(0.0, abs=1e-9)
    assert {spot["limb"] for spot in data["summary"]["hot_spots"]} <= {"upper", "lower"}
    alike = to_dict(findings(curlew), "metric")
    assert "lower" not in alike and "tuning" not in alike
    assert alike["summary"]["hot_spots"][0]["limb"] is None


def test_lengths_are_in_the_record(wagtail, findings):
    summary = to_dict(findings(wagtail), "us")["summary"]
    # Wagtail is straight: its cut length; string plus 3 in is common practice
    assert summary["tip_to_tip_unstrung_in"] == pytest.approx(48.0, rel=1e-9)
    assert summary["trade_length_in"] == pytest.approx(summary["string_length_in"] + 3.0, rel=1e-9)
    assert len(summary["box_strung_in"]) == len(summary["box_unstrung_in"]) == 3


def test_keys_are_the_same_however_the_walk_ended(wagtail, giving_way, findings):
    def keys(of):
        if isinstance(of, dict):
            return {key: keys(value) for key, value in of.items()}
        return None

    whole, early = (to_dict(findings(found), "us") for found in (wagtail, giving_way))
    assert keys(whole) == keys(early)
    assert whole["schema"] == early["schema"]
    # what there is none of is null, not left out
    assert early["summary"]["string_follow_in"] is None
    assert whole["summary"]["string_follow_in"] > 0.0
    assert early["summary"]["gives_way_how"] == early["stop"] == giving_way.ending.key
