"""What every saddle fitter knows must come out of the engine, as directions.

Common practice, no source, where no paper is named; the rest as cited. Each check has a twin that
would catch an engine in which the effect is missing or reversed. Sizes are asserted only where they
are published, and then with the gap between model and paper stated.
"""

import functools
from dataclasses import replace

import numpy as np
import pytest

from fitting.engine import (
    FitInputs,
    FitResult,
    Layer,
    Layers,
    Loads,
    Shims,
    TwoBarTree,
    evaluate_fit,
)
from tests.engine.pairs import (
    INCH,
    TR_02,
    flat_pair,
    mirrored,
    shares,
    thistle_pair,
    wider,
    with_bars,
)

EVEN = 1 / 3
RIDDEN_CASES = ("standing", "rider_left", "rider_right")


@functools.cache
def flat() -> FitResult:
    return evaluate_fit(flat_pair())


@functools.cache
def good() -> FitResult:
    return evaluate_fit(thistle_pair(TR_02))


def under(tree: TwoBarTree, **place: float) -> FitResult:
    return evaluate_fit(thistle_pair(tree, **place))


def mean(result: FitResult, zone: str, side: str = "", case: str = "standing") -> float:
    return result.case(case).value("mean_pressure", zone, side)


def peak(result: FitResult, zone: str, case: str = "standing") -> float:
    return result.case(case).value("peak_pressure", zone)


def level(result: FitResult, code: str, side: str = "") -> str:
    return next(f.level for f in result.findings if f.code == code and f.side in (side, ""))


# -- Flat tree on a dipped back


@pytest.mark.parametrize("side", ["left", "right"])
def test_flat_tree_stands_off_the_middle_with_the_girth_alone(side):
    assert flat().case("saddle_only").value("bridge_gap", side=side) > 0.008


@pytest.mark.parametrize("side", ["left", "right"])
def test_replacement_leaves_no_air_under_the_middle(side):
    assert good().case("saddle_only").value("bridge_gap", side=side) == 0.0


def test_flat_tree_leaves_the_middle_third_nearly_empty_under_a_rider():
    assert shares(flat())[1] < 0.1 * EVEN


def test_replacement_carries_in_the_middle_under_a_rider():
    # A waist of 3.5 in between pads of 6 in has about a quarter of the face: 0.20 is even for it.
    assert shares(good())[1] > 0.5 * EVEN


def test_flat_tree_is_found_to_bridge_and_the_replacement_is_not():
    assert level(flat(), "bridging", "left") == "beyond"
    assert level(good(), "bridging", "left") == "plain"


def test_replacement_passes_no_limit():
    assert [f.code for f in good().findings if f.level == "beyond"] == []


def test_flat_tree_passes_limits_at_both_ends():
    found = {f.code for f in flat().findings if f.level == "beyond"}
    assert {"mean_pressure_cranial", "mean_pressure_caudal", "ahead_of_last_rib"} <= found


def test_flatness_alone_empties_the_middle_and_loads_both_ends():
    same_but_flat = under(with_bars(TR_02, rock=-0.013))
    assert shares(same_but_flat)[1] < 0.5 * shares(good())[1]
    assert peak(same_but_flat, "cranial") > 1.2 * peak(good(), "cranial")
    assert peak(same_but_flat, "caudal") > 1.2 * peak(good(), "caudal")


def test_more_rock_than_the_back_puts_the_peak_in_the_middle():
    rocker = under(with_bars(TR_02, rock=0.010))
    assert peak(rocker, "middle") > 1.2 * peak(good(), "middle")
    assert rocker.value("rock_mismatch", side="left") < -0.008


# -- Too narrow, too wide


@functools.cache
def narrow() -> FitResult:
    return under(wider(TR_02, degrees=-10, spread=-0.02))


@functools.cache
def wide() -> FitResult:
    return under(wider(TR_02, degrees=10, spread=0.02))


def test_narrow_tree_perches_and_wide_tree_drops():
    heave = {r: r_.case("standing").pose[0] for r, r_ in (("narrow", narrow()), ("wide", wide()))}
    middle = good().case("standing").pose[0]
    assert heave["narrow"] < middle - 0.005
    assert heave["wide"] > middle + 0.005


def test_narrow_tree_tips_its_front_up_and_wide_tree_down():
    # Pitch is positive with the rear down.
    assert narrow().case("standing").pose[1] > good().case("standing").pose[1]
    assert wide().case("standing").pose[1] < good().case("standing").pose[1]


def test_narrow_tree_loads_the_rear():
    """Meschan et al. 2007, Vet J 173:578-584: caudal mean 1.26 times under a tree 2 cm narrower.

    These bars, 10 degrees and 2 cm narrower throughout, give 1.21. A panelled saddle narrower at
    its head alone gives 1.13: the papers do not say how their trees differ (docs/calibration.md).
    """
    ratio = mean(narrow(), "caudal") / mean(good(), "caudal")
    assert 1.04 < ratio < 1.40
    assert shares(narrow())[2] > shares(good())[2]


def test_wide_tree_loads_the_middle():
    """Meschan et al. 2007: mean of the middle third rises under trees 2 and 4 cm too wide."""
    assert mean(wide(), "middle") > 1.03 * mean(good(), "middle")
    assert mean(narrow(), "middle") < mean(good(), "middle")


def test_width_moves_load_forward():
    """Too wide: more cranially; too narrow: more caudally (MacKechnie-Guire et al. 2019).

    doi 10.3390/ani9100842. The front-to-rear ratio follows; that the front mean alone rises by 1.1
    to 1.3 times (conference abstract 2023, with half pad and shims) does not under these bars:
    it stays level. Under the panelled saddle of docs/calibration.md it rises, by less.
    """
    ratio = [shares(r)[0] / shares(r)[2] for r in (narrow(), good(), wide())]
    assert ratio[0] < ratio[1] < ratio[2]


def test_narrow_tree_bears_on_its_outer_edge_and_wide_tree_beside_the_spine():
    # Wide: the strip next to the spine carries most (Hofmann 2007, doctoral thesis, Vienna).
    for side in ("left", "right"):
        assert mean(narrow(), "outer", side) > mean(narrow(), "inner", side)
        assert mean(wide(), "inner", side) > mean(wide(), "outer", side)


# -- Too long


def test_long_tree_loads_the_loin():
    longer = under(with_bars(TR_02, length=3 * INCH, bearing_length=3 * INCH))
    for side in ("left", "right"):
        behind = longer.case("standing").value("share_behind_last_rib", side=side)
        assert behind > 2 * good().case("standing").value("share_behind_last_rib", side=side)
        assert longer.value("ahead_of_last_rib", side=side) < 0


def test_short_tree_leaves_the_loin_alone():
    shorter = under(with_bars(TR_02, length=-3 * INCH, bearing_length=-3 * INCH))
    assert shorter.case("standing").value("share_behind_last_rib", side="left") < 0.005


# -- Rider off balance


def test_rider_off_balance_makes_a_good_tree_uneven():
    assert abs(good().case("standing").value("left_share") - 0.5) < 0.02
    assert good().case("rider_left").value("left_share") > 0.55
    assert good().case("rider_right").value("left_share") < 0.45


def test_rider_to_one_side_presses_that_side_harder():
    """Upper-body tilt loads the same side (Gunst et al. 2019, J Equine Vet Sci 78:20-28)."""
    for zone in ("cranial", "caudal"):
        left, centre = mean(good(), zone, "left", "rider_left"), mean(good(), zone, "left")
        assert left > centre > mean(good(), zone, "left", "rider_right")


def test_centre_of_pressure_lies_under_the_resultant_in_every_case():
    for result in (flat(), good(), narrow(), wide()):
        for case in result.cases:
            assert case.value("centre_of_pressure_x") == pytest.approx(
                case.value("resultant_x"), abs=0.004
            )


def test_total_force_is_the_weight_and_the_girth():
    """Statics: 238 lb of weight and two straps of 100 N at 15 degrees from the vertical."""
    weight = 238 * 0.45359237 * 9.80665 + 2 * 100 * np.cos(np.radians(15))
    for name in RIDDEN_CASES:
        assert good().case(name).value("load") == pytest.approx(weight, rel=1e-6)


# -- Same tree, rigging and stirrup position: the same to the horse


def same_to_the_horse(first: FitResult, second: FitResult) -> bool:
    return all(
        np.allclose(a.pressure, b.pressure, rtol=1e-9, atol=1e-6)
        for a, b in zip(first.cases, second.cases, strict=True)
    )


def test_same_tree_rigging_and_stirrups_give_the_same_pressures():
    assert same_to_the_horse(good(), evaluate_fit(thistle_pair(TR_02)))


def test_another_stirrup_position_gives_other_pressures():
    moved = under(replace(TR_02, seat_low=TR_02.seat_low + 2 * INCH))
    assert not same_to_the_horse(good(), moved)
    assert shares(moved)[2] > shares(good())[2]  # chair seat: the rider sits back


# -- Invariants


def uneven() -> FitInputs:
    inputs = thistle_pair(TR_02)
    left = replace(inputs.tree.left, slope_front=inputs.tree.left.slope_front + 0.03, rock=0.013)
    return replace(inputs, tree=replace(inputs.tree, left=left))


def test_mirrored_input_gives_mirrored_output():
    one, other = evaluate_fit(uneven()), evaluate_fit(mirrored(uneven()))
    pairs = (("standing", "standing"), ("rider_left", "rider_right"))
    for name, swapped in pairs:
        a, b = one.case(name), other.case(swapped)
        assert np.allclose(a.pressure, b.pressure[::-1], rtol=1e-6, atol=1e-2)
        assert a.pose[2] == pytest.approx(-b.pose[2], abs=1e-9)


def test_uneven_tree_does_not_give_an_even_load():
    result = evaluate_fit(uneven()).case("standing")
    assert not np.allclose(result.pressure[0], result.pressure[1], rtol=1e-2, atol=100)


def test_twice_the_stiffness_under_twice_the_load_leaves_the_shape_of_the_contact():
    """Linear layers: pressures double, poses stay. Holds for any unit of force."""

    def linear(modulus: float, load: float) -> FitResult:
        inputs = thistle_pair(TR_02, layers=Layers(Layer(modulus)))
        loads = Loads(rider_mass=80 * load, saddle_mass=17 * load, girth_tension=100 * load)
        return evaluate_fit(replace(inputs, loads=loads))

    once, twice = linear(1.2e6, 1.0), linear(2.4e6, 2.0)
    for a, b in zip(once.cases, twice.cases, strict=True):
        assert b.pose == pytest.approx(a.pose, abs=1e-9)
        assert np.allclose(2 * a.pressure, b.pressure, rtol=1e-7, atol=1e-3)
    half = linear(1.2e6, 2.0)
    assert half.case("standing").pose[0] > once.case("standing").pose[0] + 1e-3


# -- Pads and shims


def shimmed(**millimetres: float) -> FitResult:
    inputs = thistle_pair(TR_02)
    shims = Shims(**{corner: mm / 1000 for corner, mm in millimetres.items()})
    return evaluate_fit(replace(inputs, layers=replace(inputs.layers, shims=shims)))


def test_shim_loads_its_own_corner_and_tips_the_tree_away_from_it():
    plain, shim = good().case("standing"), shimmed(right_front=6).case("standing")
    assert mean(shimmed(right_front=6), "cranial", "right") > mean(good(), "cranial", "right")
    assert shim.pose[2] > plain.pose[2] + 0.002  # roll is positive with the left down


def test_shims_on_both_sides_in_front_lift_the_front_and_do_not_roll():
    plain, shim = good().case("standing"), shimmed(left_front=6, right_front=6).case("standing")
    assert shim.pose[1] > plain.pose[1] + 0.002  # pitch is positive with the rear down
    assert shim.pose[2] == pytest.approx(plain.pose[2], abs=0.001)


def test_pad_makes_a_narrow_tree_no_wider():
    """A pad makes a tight shoe tighter: the outer edges stay the harder ones."""
    for pad in (6.0, 25.0):
        result = evaluate_fit(thistle_pair(wider(TR_02, degrees=-10, spread=-0.02), pad_mm=pad))
        assert mean(result, "outer", "left") > mean(result, "inner", "left")


# -- Ranks over what nobody has measured


@pytest.mark.parametrize("height", [0.20, 0.30])
@pytest.mark.parametrize("young", [30e3, 200e3])
def test_ranks_hold_over_the_sweep_of_tissue_and_rider_height(young, height):
    """Nobody has measured a horse's back: 30 to 200 kPa (human muscle, Isogai et al. 2022).

    Absolute pressures move with it; which tree bridges, and where, must not.
    """
    tissue = Layer(young / 0.040, 30e3)

    def swept(inputs: FitInputs) -> FitResult:
        layers = replace(inputs.layers, tissue=tissue)
        loads = replace(inputs.loads, rider_height=height)
        return evaluate_fit(replace(inputs, layers=layers, loads=loads))

    bridging, even = swept(flat_pair()), swept(thistle_pair(TR_02))
    assert shares(bridging)[1] < 0.5 * shares(even)[1]
    for zone in ("cranial", "caudal"):
        assert mean(bridging, zone) > 1.2 * mean(even, zone)
    gaps = [r.case("saddle_only").value("bridge_gap", side="left") for r in (bridging, even)]
    assert gaps[0] > gaps[1] == 0.0


def test_absolute_pressures_do_move_with_the_tissue():
    inputs = thistle_pair(TR_02)
    soft, stiff = (
        evaluate_fit(replace(inputs, layers=replace(inputs.layers, tissue=Layer(k, 30e3))))
        for k in (0.75e6, 5e6)
    )
    assert peak(stiff, "cranial") > 1.15 * peak(soft, "cranial")
