"""The door of the engine: what it gives, what it refuses, and that it can be kept and repeated."""

import json
from dataclasses import replace

import numpy as np
import pytest

from fitting.engine import (
    ENGINE_VERSION,
    FitInputs,
    Grid,
    InvalidShape,
    LoadOutsideSupport,
    Placement,
    Settings,
    build_surface,
    cases_for,
    evaluate_fit,
    evaluate_many,
    from_dict,
    to_dict,
)
from tests.engine.pairs import TR_01, TR_02, fern_pair, flat_pair, panel_tree, thistle_pair

RESULT = evaluate_fit(thistle_pair(TR_02))


def test_result_has_every_case_on_the_whole_grid():
    assert [case.name for case in RESULT.cases] == [case.name for case in cases_for()]
    for case in RESULT.cases:
        assert case.pressure.shape == case.gap.shape == RESULT.z.shape == (2, 80, 16)
        assert case.residual < 1e-9
    assert RESULT.engine_version == ENGINE_VERSION


def test_pressure_never_pulls_and_never_bridges_a_gap():
    for case in RESULT.cases:
        assert case.pressure.min() >= 0
        assert np.all((case.pressure == 0) | (case.gap < 0))
        assert np.all(np.isfinite(case.gap[case.pressure > 0]))


def test_sections_follow_the_stations_and_the_bars():
    assert [section.name for section in RESULT.sections] == ["S1", "S2", "S3", "S4", "S5"]
    third = RESULT.sections[2]
    assert third.back_z.shape == (2, 16)
    back_under_bar = np.interp(third.tree_y[0], third.back_y, third.back_z[0])
    gap = third.tree_z[0] - back_under_bar
    assert 0.0 < gap.min() < gap.max() < 0.035  # the pad lies between


def test_result_survives_storage():
    text = json.dumps(to_dict(RESULT))
    assert len(text) < 400_000
    kept = from_dict(json.loads(text))
    assert json.dumps(to_dict(kept)) == text
    assert np.allclose(kept.cases[0].pressure, RESULT.cases[0].pressure, atol=0.5)
    assert np.isnan(kept.cases[0].gap).sum() == np.isnan(RESULT.cases[0].gap).sum()
    assert kept.findings == RESULT.findings
    assert kept.cases[3].measures == RESULT.cases[3].measures


def test_results_kept_in_the_long_form_are_still_read():
    """As results were written before there were many load cases: plain lists, no new fields."""
    data = json.loads(json.dumps(to_dict(RESULT)))
    kept = from_dict(data)
    for stored, case in zip(data["cases"], kept.cases, strict=True):
        stored["pressure"] = case.pressure.astype(int).tolist()
        gap = case.gap.astype(object)
        gap[np.isnan(case.gap)] = None
        stored["gap"] = gap.tolist()
        stored["measures"] = [{"type": "Measure", **vars(m)} for m in case.measures]
        del stored["short"]
    for name in ("allowances", "bands", "narrowing", "suggestion", "placement_sweep"):
        del data[name]
    again = from_dict(json.loads(json.dumps(data)))
    for old, new in zip(again.cases, kept.cases, strict=True):
        assert np.array_equal(old.pressure, new.pressure)
        assert np.allclose(old.gap, new.gap, atol=1e-12, equal_nan=True)
        assert old.measures == new.measures
    assert again.allowances == ()


def test_load_cases_of_old_inputs_are_read_by_the_rules_they_always_were():
    """Inputs kept before load cases said what reads them name the built-in ones."""
    data = json.loads(json.dumps(to_dict(thistle_pair(TR_02))))
    data["cases"] = [
        {key: case[key] for key in ("type", "name", "title", "has_rider", "offset_x", "offset_y")}
        for case in data["cases"]
        if case["name"] in ("standing", "rider_left", "rider_right", "saddle_only")
    ]
    again = evaluate_fit(from_dict(data))
    codes = {f.code for f in again.findings}
    assert {"mean_pressure_cranial", "bridging", "stability", "peak_pressure_caudal"} <= codes
    assert again.case("rider_left").pose == pytest.approx(RESULT.case("rider_left").pose, abs=1e-6)


@pytest.mark.parametrize("inputs", [thistle_pair(TR_02), fern_pair(panel_tree(head_deg=80))])
def test_stored_inputs_give_the_same_result(inputs):
    again = from_dict(json.loads(json.dumps(to_dict(inputs))))
    assert again.tree == inputs.tree
    assert again.back == inputs.back
    first, second = evaluate_fit(inputs), evaluate_fit(again)
    assert np.array_equal(first.cases[0].pressure, second.cases[0].pressure)


def test_other_inputs_do_not_give_the_same_result():
    inputs = thistle_pair(TR_02)
    other = evaluate_fit(replace(inputs, placement=Placement(tip=inputs.placement.tip + 0.01)))
    assert not np.allclose(other.cases[0].pressure, RESULT.cases[0].pressure, atol=200)


@pytest.mark.parametrize(
    "data",
    [
        {"type": "Path"},
        {"type": "Placement", "tip": 0.1, "more": 1},
        {"type": "Placement"},
        {"tip": 0.1},
    ],
)
def test_unknown_stored_data_is_refused(data):
    with pytest.raises(InvalidShape):
        from_dict(data)


def test_many_evaluations_are_those_of_one():
    pairs = [thistle_pair(TR_02), thistle_pair(TR_01)]
    for one, many in zip(map(evaluate_fit, pairs), evaluate_many(pairs), strict=True):
        assert np.array_equal(one.cases[0].pressure, many.cases[0].pressure)
    surface = build_surface(pairs[0].back)
    reused = evaluate_fit(pairs[0], surface=surface)
    assert np.array_equal(reused.cases[0].pressure, RESULT.cases[0].pressure)


def test_finer_cells_change_little():
    """Means and shares on twice as many cells each way, within 4 %: a waist is 8 cells wide."""
    inputs = thistle_pair(TR_02)
    fine = evaluate_fit(replace(inputs, settings=Settings(grid=Grid(along=160, across=32))))
    for zone in ("cranial", "middle", "caudal"):
        for code in ("share", "mean_pressure"):
            value = RESULT.cases[0].value(code, zone)
            assert fine.cases[0].value(code, zone) == pytest.approx(value, rel=0.04)
    coarse = evaluate_fit(replace(inputs, settings=Settings(grid=Grid(along=8, across=3))))
    assert coarse.cases[0].value("share", "middle") != pytest.approx(
        RESULT.cases[0].value("share", "middle"), rel=0.04
    )


def test_grid_too_coarse_to_have_slopes_is_refused():
    with pytest.raises(InvalidShape, match="three cells"):
        build_surface(thistle_pair(TR_02).back, grid=Grid(along=8, across=2))


def test_panelled_saddle_settles_on_a_steep_young_back():
    result = evaluate_fit(fern_pair(panel_tree(head_deg=80)))
    assert len(result.cases) == len(cases_for())
    assert result.case("standing").value("share", "middle") > 0.15
    assert {f.evidence for f in result.findings if f.code.startswith("mean")} == {"published"}


def test_head_opened_too_far_bears_nearer_the_spine():
    tight, open_ = (
        evaluate_fit(fern_pair(panel_tree(head_deg=degrees))).case("standing")
        for degrees in (74, 90)
    )
    for side in ("left", "right"):
        inner = [case.value("mean_pressure", "inner", side) for case in (tight, open_)]
        outer = [case.value("mean_pressure", "outer", side) for case in (tight, open_)]
        assert inner[0] < inner[1]
        assert outer[0] > outer[1]


def test_rider_behind_the_bars_is_refused():
    inputs = thistle_pair(TR_02)
    with pytest.raises(LoadOutsideSupport, match="standing"):
        evaluate_fit(replace(inputs, tree=replace(TR_02, seat_low=1.2)))


def test_case_that_tips_over_is_left_out_with_a_warning():
    inputs = thistle_pair(TR_02)
    far = replace(inputs.cases[1], name="far_left", title="Hanging on", offset_y=-0.40)
    result = evaluate_fit(replace(inputs, cases=(inputs.cases[0], far)))
    assert [case.name for case in result.cases] == ["standing"]
    assert any("far_left" in warning for warning in result.warnings)
    assert RESULT.warnings == ()


def test_tree_past_the_last_section_is_said():
    longer = replace(flat_pair(), placement=Placement(tip=0.05))
    assert any("behind the last section" in warning for warning in evaluate_fit(longer).warnings)


def test_unmeasured_horse_has_no_load_ratio():
    inputs: FitInputs = replace(thistle_pair(TR_02), horse_mass=None)
    assert np.isnan(evaluate_fit(inputs).value("load_ratio"))
    assert RESULT.value("load_ratio") == pytest.approx(238 / 1066, rel=1e-6)


def test_withers_keep_room_and_a_narrow_fork_stands_higher():
    room = RESULT.case("standing").value("withers_clearance")
    assert 0.02 < room < 0.08
    low = evaluate_fit(thistle_pair(replace(TR_02, gullet_height=TR_02.gullet_height - 0.03)))
    assert low.case("standing").value("withers_clearance") == pytest.approx(room - 0.03, abs=1e-6)


def test_a_tree_that_hardly_settles_says_so():
    """A head plate of 40 degrees teeters on this back; one that fits comes to rest and is quiet."""
    teetering = evaluate_fit(fern_pair(panel_tree(head_deg=40)))
    assert any("would not settle" in warning for warning in teetering.warnings)
    steady = evaluate_fit(fern_pair(panel_tree(head_deg=80)))
    assert not any("would not settle" in warning for warning in steady.warnings)
