"""Bands of measures and the draws behind findings: against whole evaluations, and in themselves."""

import math
import subprocess
import sys
import tracemalloc
from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest

from fitting.engine import (
    Errors,
    FitInputs,
    FitResult,
    Placement,
    evaluate_fit,
    from_dict,
    sensitivity_of,
    to_dict,
    with_uncertainty,
)
from fitting.engine import response as response_module
from fitting.engine import uncertainty as uncertainty_module
from fitting.engine.drawn_findings import levels_of
from fitting.engine.draws import (
    drawn_amounts,
    drawn_inputs,
    seed_of,
    smooth_shapes,
    sources_of,
    stiffened,
)
from fitting.engine.evaluate import solve_cases
from fitting.engine.findings import LEVELS, level_of
from fitting.engine.layers import default_layers
from fitting.engine.rules import RULES
from fitting.engine.uncertainty import whole_tables
from tests.engine.pairs import TR_02, fern_pair, flat_pair, panel_tree, thistle_pair

STILL = Errors().scaled(0.0)


def few_cases(inputs: FitInputs, *names: str) -> FitInputs:
    return replace(inputs, cases=tuple(case for case in inputs.cases if case.name in names))


GOOD = few_cases(thistle_pair(TR_02), "standing", "bend_left", "saddle_only")
RESULT = evaluate_fit(GOOD)
STANDING = few_cases(GOOD, "standing")
BANDED = with_uncertainty(GOOD, RESULT)


def band(result: FitResult, code: str, zone: str = "", side: str = "", case: str = "standing"):
    keys = [(b.code, b.zone, b.side, b.case) for b in result.bands]
    return result.bands[keys.index((code, zone, side, case))]


def width(result: FitResult, code: str, zone: str = "", side: str = "", case: str = "standing"):
    found = band(result, code, zone, side, case)
    return found.high - found.low


# Against whole evaluations of the drawn inputs ---------------------------------------------------

MAIN = (
    ("share", "cranial", ""),
    ("share", "caudal", ""),
    ("share_over_face", "middle", ""),
    ("mean_pressure", "cranial", "left"),
    ("mean_pressure", "caudal", "right"),
    ("peak_pressure", "cranial", ""),
    ("peak_pressure", "caudal", ""),
    ("left_share", "", ""),
    ("share_behind_last_rib", "", "left"),
    ("pitch", "", ""),
    ("stability_margin", "", ""),
    ("withers_clearance", "", ""),
)
DRAWS = 60
# Of the whole evaluations' own spread: how far the means may lie apart, and the spreads in ratio.
APART, RATIO, ORDER = 0.25, 1.35, 0.75
LEAST = defaultdict(float, share_behind_last_rib=0.02)  # bands under 2 % of the load say nothing
PAIRS = {
    "rocked": thistle_pair(TR_02),
    "flat": flat_pair(),
    "panels": fern_pair(panel_tree(head_deg=80)),
}


def whole_and_quick(name: str) -> tuple[dict, dict]:
    """Measures of the same draws by whole evaluations and by the quick way, standing."""
    inputs = few_cases(PAIRS[name], "standing")
    result, sources = evaluate_fit(inputs), sources_of(inputs)
    rows = drawn_amounts(3, DRAWS, len(sources))
    whole = {case: table for case, _, table in whole_tables(inputs, result, sources, rows)}
    still = np.vstack([np.zeros(len(sources)), np.eye(len(sources)), rows])
    tables = uncertainty_module._tables(inputs, result, sources, still)
    quick = {case: table for case, _, table in tables}
    kept = {key: values[-DRAWS:] for key, values in quick["standing"].items()}
    return whole["standing"], kept


def disagreeing(whole: dict, quick: dict) -> list[tuple[str, str, str]]:
    """Main measures whose draws have another middle, another spread or another order."""
    out = []
    for key in MAIN:
        if key not in whole or np.ptp(np.quantile(whole[key], (0.05, 0.95))) < LEAST[key[0]]:
            continue
        a, b = whole[key], quick[key]
        spread = float(np.std(a))
        close = abs(np.median(a) - np.median(b)) <= APART * 3.29 * spread
        alike = 1 / RATIO <= np.std(b) / spread <= RATIO
        ordered = np.corrcoef(a, b)[0, 1] >= ORDER
        if not (close and alike and ordered):
            out.append(key)
    return out


@pytest.mark.parametrize("name", PAIRS)
def test_draws_agree_with_whole_evaluations_of_the_same_inputs(name):
    whole, quick = whole_and_quick(name)
    assert disagreeing(whole, quick) == []
    # Twins: half the errors, and draws in another order, must be told apart.
    still = {key: np.median(v) + (v - np.median(v)) / 2 for key, v in quick.items()}
    assert len(disagreeing(whole, still)) > 8
    assert len(disagreeing(whole, {key: v[::-1] for key, v in quick.items()})) > 8


def test_bands_agree_with_those_of_whole_evaluations():
    whole, quick = whole_and_quick("rocked")
    for key in MAIN:
        a, b = (np.quantile(values[key], (0.05, 0.95)) for values in (whole, quick))
        assert np.abs(a - b).max() <= APART * (a[1] - a[0]), key


def test_measures_without_error_are_those_of_the_evaluation(monkeypatch):
    """On all cells and without error the drawn measures are the evaluation's, thresholds apart."""
    monkeypatch.setattr(response_module, "EVERY", 1)
    monkeypatch.setattr(uncertainty_module, "_levelled", lambda measures, table: table)
    inputs = few_cases(thistle_pair(TR_02), "standing")
    sources = sources_of(inputs)
    rows = np.vstack([np.zeros(len(sources)), np.eye(len(sources))])
    tables = uncertainty_module._tables(inputs, RESULT, sources, rows)
    found = {case: table for case, _, table in tables}["standing"]
    case = RESULT.case("standing")
    for code in ("share", "mean_pressure", "peak_pressure"):
        for zone in ("cranial", "middle", "caudal"):
            ours = found[code, zone, "left"][0]
            assert ours == pytest.approx(case.value(code, zone, "left"), rel=0.05), (code, zone)
    for code in ("load", "contact_area", "centre_of_pressure_x", "roll_stiffness", "heave"):
        assert found[code, "", ""][0] == pytest.approx(case.value(code), rel=0.02), code
    for code in ("bearing_length", "support_start", "support_end"):
        step = RESULT.x[1] - RESULT.x[0]
        assert found[code, "", "left"][0] == pytest.approx(case.value(code, "", "left"), abs=step)


# Bands -------------------------------------------------------------------------------------------


def test_a_band_holds_the_measure_nearly_always():
    values = {
        (m.code, m.zone, m.side, case.name): m.value for case in RESULT.cases for m in case.measures
    }
    inside = [
        b.low <= values[key] + 1e-12 and values[key] - 1e-12 <= b.high
        for b in BANDED.bands
        if (key := (b.code, b.zone, b.side, b.case)) in values
    ]
    assert len(inside) > 150
    assert np.mean(inside) > 0.95


def test_without_errors_bands_are_points_and_findings_certain():
    result = with_uncertainty(replace(GOOD, errors=STILL), RESULT, draws=5)
    assert max(b.high - b.low for b in result.bands if b.code == "share") < 1e-3
    assert band(result, "angle_mismatch", "cranial", "left", "").middle == pytest.approx(
        RESULT.value("angle_mismatch", "cranial", "left")
    )
    assert {finding.share for finding in result.findings} == {1.0}


def test_twice_the_errors_make_the_bands_twice_as_wide():
    once, twice = (
        with_uncertainty(replace(GOOD, errors=Errors().scaled(n)), RESULT, seed=4) for n in (0.5, 1)
    )
    for code, zone in (("angle_mismatch", "cranial"), ("angle_mismatch", "caudal")):
        ratio = width(twice, code, zone, "left", "") / width(once, code, zone, "left", "")
        assert ratio == pytest.approx(2.0, rel=0.02)
    assert 1.6 < width(twice, "share", "cranial") / width(once, "share", "cranial") < 2.4


def test_a_repeated_trace_narrows_what_hangs_on_the_section():
    errors = Errors(half_width_at=((0.5e-3, 0.5e-3),) * 5)
    better = with_uncertainty(replace(GOOD, errors=errors), RESULT, seed=4)
    plain = with_uncertainty(GOOD, RESULT, seed=4)
    assert width(better, "back_slope", "cranial", "left", "") < 0.65 * width(
        plain, "back_slope", "cranial", "left", ""
    )


def test_shape_bands_follow_a_normal_law():
    """The slope of the bar is read to 1 degree: 90 % of draws lie within 1.645 degrees."""
    only = replace(STANDING, errors=replace(STILL, slope=math.radians(1.0)))
    found = with_uncertainty(only, RESULT, draws=4000, seed=1)
    expected = 2 * 1.644854 * math.radians(1.0)
    assert width(found, "angle_mismatch", "cranial", "left", "") == pytest.approx(
        expected, rel=0.06
    )
    assert width(found, "angle_mismatch", "cranial", "left", "") != pytest.approx(
        1.2 * expected, rel=0.06
    )


# Findings ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("ahead", [0.0, 0.004, -0.004])
def test_share_of_draws_behind_a_finding_is_that_of_the_normal_law(ahead):
    """Only the tip is uncertain: its place is normal, so P(ahead of the rib) = Phi(ahead / s)."""
    sigma = 5.0e-3
    tip = GOOD.placement.tip + RESULT.value("ahead_of_last_rib", "", "left") - ahead
    inputs = replace(
        STANDING,
        placement=Placement(tip),
        errors=replace(STILL, tip=sigma),
    )
    result = with_uncertainty(inputs, evaluate_fit(inputs), draws=2000, seed=2)
    finding = next(f for f in result.findings if (f.code, f.side) == ("ahead_of_last_rib", "left"))
    plain = 0.5 * (1 + math.erf(ahead / sigma / math.sqrt(2)))
    expected = plain if finding.level == "plain" else 1 - plain
    assert finding.share == pytest.approx(expected, abs=4 * 0.5 / math.sqrt(2000))


def test_every_finding_tells_its_draws():
    assert all(finding.share is not None for finding in BANDED.findings)
    assert all(0.0 <= (finding.share or 0.0) <= 1.0 for finding in BANDED.findings)
    assert [f.level for f in BANDED.findings] == [f.level for f in RESULT.findings]


def test_levels_of_many_values_are_those_of_each():
    values = np.linspace(-1.0, 1.0, 41)
    for rule in RULES:
        one_by_one = [LEVELS.index(level_of(rule, float(v))) for v in values]
        assert levels_of(rule, values).tolist() == one_by_one


# What narrows the band ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("errors", "group", "item"),
    [
        (replace(STILL, half_width=1.5e-3), "sections", "S1 left"),
        (replace(STILL, slope=0.02), "tree", "slope_front left"),
    ],
)
def test_with_one_thing_uncertain_all_variance_comes_from_it(errors, group, item):
    result = with_uncertainty(replace(GOOD, errors=errors), RESULT, draws=4)
    found = [n for n in result.narrowing if (n.code, n.zone) == ("angle_mismatch", "cranial")]
    assert [(n.group, n.share) for n in found if n.side == "left"] == [(group, pytest.approx(1.0))]
    assert next(n.item for n in found if n.side == "left") == item


def test_shares_of_the_variance_add_up_and_point_to_the_larger_error():
    for code in ("mean_pressure", "angle_mismatch"):
        mine = [n for n in BANDED.narrowing if n.code == code]
        keys = {(n.code, n.zone, n.side, n.case) for n in mine}
        for key in keys:
            shares = [n.share for n in mine if (n.code, n.zone, n.side, n.case) == key]
            assert 0.95 < sum(shares) < 1.0 + 1e-9
            assert shares == sorted(shares, reverse=True)
    wild = replace(GOOD, errors=Errors(half_width_at=((9e-3, 9e-3),) + ((1e-3, 1e-3),) * 4))
    first = next(
        n
        for n in with_uncertainty(wild, RESULT, draws=4).narrowing
        if (n.code, n.zone, n.side) == ("angle_mismatch", "cranial", "left")
    )
    assert (first.group, first.item) == ("sections", "S1 left")


# Draws -------------------------------------------------------------------------------------------


def test_computing_again_gives_the_same():
    again = with_uncertainty(GOOD, RESULT)
    assert again.bands == BANDED.bands
    assert (again.seed, again.draws) == (BANDED.seed, 200)
    assert with_uncertainty(GOOD, RESULT, seed=1).bands != BANDED.bands


def test_seed_hangs_on_everything_that_goes_in_and_nothing_else():
    copy = from_dict(to_dict(GOOD))
    assert seed_of(copy) == seed_of(GOOD) == BANDED.seed
    others = [
        replace(GOOD, placement=Placement(GOOD.placement.tip + 1e-3)),
        replace(GOOD, errors=Errors(tip=6e-3)),
        replace(GOOD, horse_mass=500.0),
    ]
    assert len({seed_of(other) for other in [GOOD, *others]}) == 4


def test_seed_is_the_same_in_another_process():
    code = (
        "from tests.engine.test_uncertainty import GOOD\n"
        "from fitting.engine.draws import seed_of\nprint(seed_of(GOOD))"
    )
    said = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=True
    )
    assert int(said.stdout) == seed_of(GOOD)


def test_errors_along_a_section_are_smooth_and_of_the_size_stated():
    at = np.linspace(0.01, 0.15, 15)
    shapes = smooth_shapes(at, 0.05)
    assert np.sum(shapes**2, axis=0) == pytest.approx(np.ones(15))
    likeness = shapes.T @ shapes
    stated = np.exp(-0.5 * (np.subtract.outer(at, at) / 0.05) ** 2)
    assert np.abs(likeness - stated).max() < 0.12
    white = np.eye(15)
    assert np.abs(white - stated).max() > 0.12


def test_drawn_sections_still_grow_with_depth():
    sources = sources_of(GOOD)
    for row in drawn_amounts(7, 20, len(sources)):
        drawn = drawn_inputs(GOOD, sources, 3 * row)
        for station in drawn.back.stations:
            for half in (station.left, station.right):
                assert np.all(np.diff(half.half_widths) > 0)


def test_memory_does_not_grow_with_the_draws_fields():
    """800 more draws keep their measures, not their fields of overlap, cover and pressure."""
    peaks = []
    for draws in (10, 200, 1000):  # the first only warms up
        tracemalloc.start()
        with_uncertainty(STANDING, RESULT, draws=draws)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    cells = response_module.thinned(solve_cases(STANDING)[0].placed).patch.area.size
    fields = 3 * 8 * cells  # bytes of one draw
    assert (peaks[2] - peaks[1]) / 800 < fields / 3
    assert peaks[2] < 1.3 * peaks[1]


def test_drawn_layers_meet_their_law():
    """The nominal law, stretched, is within 3 % of the drawn layers' own between 2 and 25 kPa."""
    nominal = default_layers()
    tissue, pad = nominal.tissue, nominal.pad
    assert pad is not None
    stiffer = replace(nominal, tissue=stiffened(tissue, 2.0), pad=stiffened(pad, 0.7))
    factor, stretch = response_module.matched(nominal, [stiffer, nominal])
    assert (factor[1], stretch[1]) == (pytest.approx(1.0), pytest.approx(1.0))
    pressure = np.array([2e3, 5e3, 1e4, 2.5e4])
    exact = stiffer.law().compression(pressure)
    ours = factor[0] * nominal.law().pressure(exact / stretch[0])
    assert ours == pytest.approx(pressure, rel=0.03)
    assert nominal.law().pressure(exact) != pytest.approx(pressure, rel=0.03)


def test_bands_are_stored_and_read_again():
    again = from_dict(to_dict(BANDED))
    assert again.bands == BANDED.bands
    assert again.narrowing == BANDED.narrowing
    assert again.findings == BANDED.findings
    assert (again.seed, again.draws) == (BANDED.seed, BANDED.draws)


# Sweeps ------------------------------------------------------------------------------------------


def test_sweeps_stand_at_the_evaluation_and_are_whole_evaluations_elsewhere():
    inputs = few_cases(GOOD, "standing")
    result = evaluate_fit(inputs)
    found = sensitivity_of(inputs, result)
    codes = [sweep.code for sweep in found.sweeps]
    assert codes == ["tissue", "pad", "placement", "height", "stirrups", "girth"]
    for sweep in found.sweeps:
        at = next(point for point in sweep.points if point.value == sweep.assumed)
        assert [f.value for f in at.findings] == [f.value for f in result.findings]
        values = [point.value for point in sweep.points]
        assert values == sorted(values)
    placement = found.sweeps[2]
    further = evaluate_fit(replace(inputs, placement=Placement(placement.points[-1].value)))
    assert [f.value for f in placement.points[-1].findings] == [f.value for f in further.findings]
    assert from_dict(to_dict(found)) == found


def test_a_stiffer_back_is_pressed_harder():
    inputs = few_cases(GOOD, "standing")
    tissue = sensitivity_of(inputs, evaluate_fit(inputs)).sweeps[0]
    peaks = [
        next(f.value for f in point.findings if f.code == "mean_pressure_cranial")
        for point in tissue.points
    ]
    assert peaks == sorted(peaks)
    assert peaks[-1] > 1.1 * peaks[0]
