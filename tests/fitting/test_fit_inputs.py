"""From records to the engine's inputs: units, sides, what is missing and what was assumed."""

from math import degrees, radians

import numpy as np
import pytest

from fitting.adapters.backs import mean_trace
from fitting.adapters.errors import CannotEvaluate
from fitting.adapters.fit_inputs import fit_inputs_of, gather_fit_inputs
from fitting.engine import PanelTree, TwoBarTree
from fitting.models import Pad, Pairing
from horses.models import BackMeasurement
from tests.factories import (
    make_horse,
    make_measurement,
    make_pad,
    make_pairing,
    make_rider,
    make_saddle,
    make_tree,
    section_points,
)

pytestmark = pytest.mark.django_db
DEMO_PANEL = {
    "kind": "panelled",
    "head_angle_deg": 90.0,
    "head_width_mm": 285.0,
    "panel_length_mm": 460.0,
    "panel_width_front_mm": 110.0,
    "panel_width_middle_mm": 112.0,
    "panel_width_rear_mm": 114.0,
    "panel_depth_front_mm": 30.0,
    "panel_depth_middle_mm": 25.0,
    "panel_depth_rear_mm": 35.0,
    "channel_front_mm": 75.0,
    "channel_middle_mm": 74.0,
    "channel_rear_mm": 70.0,
    "panel_rock_mm": 9.0,
}


@pytest.fixture
def measurement() -> BackMeasurement:
    return make_measurement(make_horse())


@pytest.fixture
def pairing(measurement: BackMeasurement) -> Pairing:
    return make_pairing(measurement.horse)


def missing_of(pairing: Pairing, measurement: BackMeasurement) -> list[str]:
    with pytest.raises(CannotEvaluate) as caught:
        gather_fit_inputs(pairing, measurement)
    return [item.what for item in caught.value.missing]


def assumed_of(pairing: Pairing, measurement: BackMeasurement) -> dict[str, str]:
    account = gather_fit_inputs(pairing, measurement).account
    return {row.what: row.taken for row in account.assumptions}


def test_lengths_arrive_in_metres(pairing: Pairing, measurement: BackMeasurement) -> None:
    """21 in is 533.4 mm is 0.5334 m (inch of 25.4 mm, yard and pound agreement 1959)."""
    inputs = fit_inputs_of(pairing, measurement)
    assert isinstance(inputs.tree, TwoBarTree)
    assert inputs.tree.left.length == pytest.approx(21 * 0.0254)
    assert inputs.tree.spread_hand_hole == pytest.approx(4.1 * 0.0254)
    assert inputs.tree.left.rock == pytest.approx(0.016)
    assert inputs.placement.tip == pytest.approx(0.0254)
    assert inputs.layers.pad_thickness == pytest.approx(0.019)
    assert inputs.back.last_rib == pytest.approx(0.4699)
    assert inputs.back.stations[0].distance == pytest.approx(0.0381)


def test_angles_arrive_in_radians(pairing: Pairing, measurement: BackMeasurement) -> None:
    tree = fit_inputs_of(pairing, measurement).tree
    assert degrees(tree.left.slope_front) == pytest.approx(43.5)
    assert degrees(tree.right.slope_front) == pytest.approx(44.0)


def test_masses_stay_kilograms(pairing: Pairing, measurement: BackMeasurement) -> None:
    loads = fit_inputs_of(pairing, measurement).loads
    assert (loads.rider_mass, loads.saddle_mass, loads.gear_mass) == (81.6, 17.2, 9.1)


def test_seat_lies_behind_the_stirrup(pairing: Pairing, measurement: BackMeasurement) -> None:
    tree = fit_inputs_of(pairing, measurement).tree
    assert tree.stirrup == pytest.approx(0.2032)
    assert tree.seat_low == pytest.approx(0.2032 + 0.0889)


def test_girth_hangs_where_the_rigging_says(pairing: Pairing, measurement: BackMeasurement) -> None:
    """Seven eighths of 16 in: 2 in behind the fork line (common practice, no source)."""
    fork = 0.075  # the stated assumption, as no fork was measured
    assert fit_inputs_of(pairing, measurement).loads.rigging == pytest.approx(fork + 2 * 0.0254)


def test_a_horse_bigger_on_the_left_is_bigger_on_the_engines_left(
    pairing: Pairing, measurement: BackMeasurement
) -> None:
    measurement.sections.filter(side="L").update(points=section_points(80, 190))
    measurement.sections.filter(side="R").update(points=section_points(70, 170))
    for station in fit_inputs_of(pairing, measurement).back.stations:
        assert station.left.half_widths[-1] == pytest.approx(0.190)
        assert station.right.half_widths[-1] == pytest.approx(0.170)


def test_bar_lines_keep_their_side(pairing: Pairing, measurement: BackMeasurement) -> None:
    measurement.lines.filter(line="left_bar").update(points=[[0, 0], [230, -31], [460, 0]])
    back = fit_inputs_of(pairing, measurement).back
    assert min(back.left_line.heights) == pytest.approx(-0.031)
    assert min(back.right_line.heights) > -0.022


def test_shims_keep_their_corner(measurement: BackMeasurement) -> None:
    pairing = make_pairing(measurement.horse, shim_front_right_mm=6, shim_rear_left_mm=3)
    shims = fit_inputs_of(pairing, measurement).layers.shims
    assert (shims.right_front, shims.left_rear) == (0.006, 0.003)
    assert (shims.left_front, shims.right_rear) == (0.0, 0.0)


def test_two_traces_of_a_side_are_averaged(pairing: Pairing, measurement: BackMeasurement) -> None:
    """The factory's second trace is 1 mm wider than the first."""
    first = fit_inputs_of(pairing, measurement).back.stations[0]
    deepest = measurement.sections.get(station="S1", side="L", trace=1).points[-1][1]
    assert first.left.half_widths[-1] * 1000 == pytest.approx(deepest + 0.5, abs=0.01)


def test_a_trace_that_ends_higher_shortens_the_mean() -> None:
    assert mean_trace([[[0, 0], [50, 90], [150, 170]], [[0, 0], [50, 94], [100, 140]]]) == [
        [0, 0],
        [50, 92],
    ]


def test_traces_that_differ_are_said(pairing: Pairing, measurement: BackMeasurement) -> None:
    measurement.sections.filter(station="S3", side="R", trace=2).update(
        points=section_points(91, 220)
    )
    assert any(
        what.startswith("S3 right: traces 8 mm") for what in assumed_of(pairing, measurement)
    )


def test_a_panel_s_slope_is_half_of_what_its_angle_lacks(measurement: BackMeasurement) -> None:
    saddle = make_saddle(kind="general", tree=make_tree(**DEMO_PANEL), rigging="")
    tree = fit_inputs_of(make_pairing(measurement.horse, saddle=saddle), measurement).tree
    assert isinstance(tree, PanelTree)
    assert tree.left.slope_front == pytest.approx(radians(45))
    assert tree.channel_front == pytest.approx(0.075)
    assert tree.left.width_rear == pytest.approx(0.114)
    # The engine reads a panel's rock over its whole length; the tape read it over 17 in.
    assert tree.left.rock == pytest.approx(0.009 * (460 / 431.8) ** 2)


def test_scale_beats_tape_and_tape_is_said(pairing: Pairing, measurement: BackMeasurement) -> None:
    """girth 73 in, length 66 in: 73^2 x 66 / 330 = 1065.8 lb (extension texts)."""
    assert fit_inputs_of(pairing, measurement).horse_mass == pytest.approx(
        73**2 * 66 / 330 * 0.45359237
    )
    assert assumed_of(pairing, measurement)["Weight of the horse"] == "483 kg"
    measurement.scale_mass_kg = 501.0
    assert fit_inputs_of(pairing, measurement).horse_mass == 501.0
    assert "Weight of the horse" not in assumed_of(pairing, measurement)


def test_everything_missing_is_listed_at_once(measurement: BackMeasurement) -> None:
    saddle = make_saddle(tree=make_tree(tag="TR-77", rock_mm=None))
    pairing = make_pairing(
        measurement.horse, saddle=saddle, rider=make_rider(mass_kg=None), tip_behind_blade_mm=None
    )
    measurement.sections.filter(station="S3", side="R").delete()
    measurement.lines.all().delete()
    assert missing_of(pairing, measurement) == [
        "Section S3, right side",
        "Lengthwise profile along the left bar line",
        "Lengthwise profile along the right bar line",
        "Rock over 17 in (tree TR-77)",
        "Front tip behind the blade (pairing Corporal Thistle with " + saddle.tag + ")",
        "Weight in riding clothes (rider Garrick Nettleworth)",
    ]


def test_one_side_never_stands_in_for_the_other(
    pairing: Pairing, measurement: BackMeasurement
) -> None:
    measurement.sections.filter(station="S2", side="L").delete()
    assert missing_of(pairing, measurement) == ["Section S2, left side"]


def test_defaults_are_listed_not_silent(measurement: BackMeasurement) -> None:
    saddle = make_saddle(tree=make_tree(crown_mm=None), mass_kg=None, rigging="")
    pairing = make_pairing(measurement.horse, saddle=saddle, pad=None, gear_mass_kg=None)
    measurement.sections.filter(station="S4").delete()
    assumed = assumed_of(pairing, measurement)
    assert assumed["Crown"] == "0 mm"
    assert assumed["Weight with girth and stirrups"] == "17 kg"
    assert assumed["Pad"] == "none"
    assert assumed["Gear carried"] == "none"
    assert assumed["Section S4"] == "a curve between its neighbours"
    assert assumed["Girth behind the front tip"].startswith("125 mm")


def test_a_pad_gives_way_as_its_kind_does_and_says_what_that_rests_on(
    measurement: BackMeasurement,
) -> None:
    gives = {}
    for material in Pad.Material.values:
        pairing = make_pairing(measurement.horse, pad=make_pad(material=material, thickness_mm=12))
        gathered = gather_fit_inputs(pairing, measurement)
        row = next(row for row in gathered.account.assumptions if row.what == "Give of the pad")
        assert "no source" in row.why
        assert gathered.inputs.layers.pad is not None
        gives[material] = float(gathered.inputs.layers.pad.law().compression(10e3))
    assert gives["foam_open"] > gives["fleece"] > gives["wool"] > gives["felt"] > gives["gel"]


def test_what_went_in_keeps_the_words_as_typed(measurement: BackMeasurement) -> None:
    tree = make_tree(typed={"bar_length_mm": "21", "rock_mm": "16 mm"})
    pairing = make_pairing(measurement.horse, saddle=make_saddle(tree=tree))
    rows = {row.label: row for row in gather_fit_inputs(pairing, measurement).account.went_in}
    assert rows["Bar length, tip to tip"].typed == "21"
    assert (rows["Rock over 17 in"].value, rows["Rock over 17 in"].unit) == (16.0, "small")
    assert rows["Weight in riding clothes"].is_private
    assert not rows["Gear carried"].is_private


def test_midline_stands_in_for_a_bar_line_and_is_said(
    pairing: Pairing, measurement: BackMeasurement
) -> None:
    measurement.lines.filter(line="left_bar").delete()
    inputs = fit_inputs_of(pairing, measurement)
    assert inputs.back.left_line is None
    assert inputs.back.midline is not None
    assert np.isfinite(inputs.back.bar_line)
    assert assumed_of(pairing, measurement)["Bar line, left"] == "the midline profile"


def test_an_assumed_length_or_weight_can_be_shown_in_the_practices_units(
    pairing: Pairing, measurement: BackMeasurement
) -> None:
    pairing.saddle.fork_behind_tip_mm = None
    account = gather_fit_inputs(pairing, measurement).account
    rows = {row.what: row for row in account.assumptions}
    assert (
        rows["Fork centre behind front tip"].value,
        rows["Fork centre behind front tip"].unit,
    ) == (
        75.0,
        "mm",
    )
    assert rows["Weight of the horse"].unit == "kg"
    assert rows["Give of the pad"].value is None
