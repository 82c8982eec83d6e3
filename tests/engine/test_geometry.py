"""Backs from profiles: what was measured comes back, and nothing is mirrored or averaged."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitting.engine import (
    BackShape,
    Grid,
    HalfProfile,
    HeightGrid,
    InvalidShape,
    back_numbers,
    build_surface,
    power_profile,
    resample_profile,
    sagitta_line,
)
from fitting.engine.geometry import BackModel
from fitting.engine.profiles import depth_at, half_width_at, profile_curve
from tests.engine.pairs import INCH, THISTLE, half, line

# Half-widths 3 and 15 cm down, left and right [cm], and the included angle worked out by hand from
# depth = 3 (y/y3)^p at y = 10 cm: the practice's own records (invented), an outside check here.
INCLUDED = [
    ((7.0, 17.4), (6.9, 17.3), 90),
    ((7.1, 17.6), (7.1, 17.6), 91),
    ((7.4, 18.1), (7.4, 18.0), 94),
    ((9.1, 21.2), (9.1, 21.2), 111),
    ((9.5, 21.7), (9.5, 21.7), 114),
    ((10.8, 22.9), (10.7, 22.8), 122),
    ((11.2, 23.4), (11.2, 23.4), 126),
    ((5.9, 15.2), (5.9, 15.1), 77),
    ((6.9, 17.3), (6.9, 17.2), 89),
    ((6.9, 17.4), (6.9, 17.3), 90),
    ((7.6, 18.6), (7.5, 18.5), 97),
    ((5.6, 14.6), (5.6, 14.5), 73),
    ((8.4, 19.9), (8.4, 19.8), 104),
]


def included_deg(left, right) -> float:
    halves = replace(THISTLE.stations[0], left=half(left), right=half(right))
    shape = replace(THISTLE, stations=(halves, *THISTLE.stations[1:]))
    return float(np.degrees(back_numbers(shape).stations[0].included_angle))


@pytest.mark.parametrize(("left", "right", "degrees"), INCLUDED)
def test_included_angle_agrees_with_the_records(left, right, degrees):
    # Recorded to half a degree; the cubic reads up to a degree flatter on a very steep back.
    assert included_deg(left, right) == pytest.approx(degrees, abs=1.3)


def test_included_angle_moves_with_the_width():
    """The twin: one width step wider is not the recorded angle any more."""
    assert included_deg((7.8, 18.8), (7.8, 18.8)) != pytest.approx(90, abs=5.0)


def test_widths_and_their_ratio_come_back():
    station = back_numbers(THISTLE).stations[0]
    assert station.width_3 == pytest.approx(0.139, abs=1e-5)
    assert station.width_15 == pytest.approx(0.347, abs=1e-5)
    assert station.ratio == pytest.approx(13.9 / 34.7, abs=1e-4)
    assert station.difference_15 == pytest.approx(0.001, abs=1e-5)


@given(st.floats(0.05, 0.12), st.floats(1.9, 2.9), st.lists(st.floats(0.01, 0.15), min_size=1))
def test_cubic_through_nine_depths_follows_the_power_law(narrow, ratio, depths):
    curve = profile_curve(power_profile(half_width_3=narrow, half_width_15=narrow * ratio))
    exponent = np.log(5) / np.log(ratio)
    y = narrow * (np.array(depths) / 0.03) ** (1 / exponent)
    assert np.abs(depth_at(curve, y) - depths).max() < 0.0015  # of 150 mm: less than a hand reads


def test_profile_goes_straight_on_below_its_end():
    curve = profile_curve(half((7.0, 17.4)))
    steps = np.diff(depth_at(curve, [0.20, 0.21, 0.22]))
    assert steps[0] == pytest.approx(steps[1], rel=1e-9)
    assert np.isnan(half_width_at(curve, 0.20))


def test_resampled_profile_says_the_same():
    fine = resample_profile(half((7.0, 17.4)), depths=tuple(np.linspace(0, 0.15, 31)))
    again = resample_profile(fine)
    assert np.allclose(again.half_widths, half((7.0, 17.4)).half_widths, atol=5e-4)


@pytest.mark.parametrize(
    ("widths", "depths", "word"),
    [
        ((0.0, 0.07), (0.0, 0.03), "three or more"),
        ((0.0, 0.07, 0.06), (0.0, 0.03, 0.05), "must grow"),
        ((0.0, float("nan"), 0.1), (0.0, 0.03, 0.05), "finite"),
    ],
)
def test_malformed_profile_is_named(widths, depths, word):
    bad = replace(THISTLE.stations[2], right=HalfProfile(widths, depths))
    shape = replace(THISTLE, stations=(*THISTLE.stations[:2], bad, *THISTLE.stations[3:]))
    with pytest.raises(InvalidShape, match=word) as caught:
        build_surface(shape)
    assert caught.value.path == "back.stations.2.right"


def test_stations_out_of_order_are_refused():
    with pytest.raises(InvalidShape, match="front to rear"):
        build_surface(replace(THISTLE, stations=THISTLE.stations[::-1]))


# -- Lengthwise


@pytest.mark.parametrize("sagitta", [0.018, 0.004, -0.010])
def test_dip_of_the_bar_line_comes_back(sagitta):
    lines = {"left_line": sagitta_line(sagitta=sagitta, lowest=0.26)}
    numbers = back_numbers(replace(THISTLE, **lines))
    assert numbers.rock[0] == pytest.approx(sagitta, abs=2e-4)
    assert numbers.rock[1] == pytest.approx(0.018, abs=2e-4)


def test_level_and_tilt_of_a_lifted_curve_do_not_matter():
    surface = build_surface(THISTLE).z
    moved = sagitta_line(sagitta=0.018, lowest=11.5 * INCH)
    tilted = replace(
        moved,
        heights=tuple(z + 0.03 + 0.05 * x for x, z in zip(*vars(moved).values(), strict=True)),
    )
    both = build_surface(replace(THISTLE, left_line=tilted, right_line=tilted)).z
    bent = build_surface(replace(THISTLE, left_line=sagitta_line(sagitta=0.01, lowest=0.3))).z
    trend = np.polyfit(np.arange(80), (both - surface)[0, :, 0], 1)
    assert np.allclose((both - surface)[0, :, 0], np.polyval(trend, np.arange(80)), atol=1e-9)
    assert np.abs(bent - surface).max() > 0.002


def test_one_tilted_curve_is_levelled_on_the_sections():
    moved = sagitta_line(sagitta=0.018, lowest=11.5 * INCH)
    lifted = replace(moved, heights=tuple(z + 0.04 for z in moved.heights))
    surface = build_surface(replace(THISTLE, left_line=lifted)).z
    assert np.allclose(surface - build_surface(THISTLE).z, 0.02, atol=1e-9)


def test_side_without_any_lengthwise_line_is_refused():
    with pytest.raises(InvalidShape, match="left side") as caught:
        build_surface(replace(THISTLE, left_line=None))
    assert caught.value.path == "back.left_line"


def test_midline_stands_in_with_a_warning():
    midline = line({-0.1: 0.02, 0.1: 0.0, 0.3: -0.01, 0.5: 0.0, 0.7: 0.02})
    surface = build_surface(replace(THISTLE, left_line=None, midline=midline))
    assert any("left" in warning for warning in surface.warnings)
    assert build_surface(replace(THISTLE, midline=midline)).warnings == ()


def test_left_and_right_stay_apart():
    shape = replace(THISTLE, left_line=sagitta_line(sagitta=0.005, lowest=0.26))
    surface = build_surface(shape)
    assert np.abs(surface.z[0] - surface.z[1]).max() > 0.003
    swapped = replace(
        shape,
        stations=tuple(replace(s, left=s.right, right=s.left) for s in shape.stations),
        left_line=shape.right_line,
        right_line=shape.left_line,
    )
    assert np.allclose(build_surface(swapped).z[::-1], surface.z, atol=1e-12)


def test_depths_between_stations_lie_between_theirs():
    model = BackModel(THISTLE)
    depth = model.depth(np.linspace(0.038, 0.14, 20), [0.1])[0, :, 0]
    assert np.all(np.diff(depth) <= 1e-12)  # the back flattens to the rear, and so must its model


# -- Cells


def test_area_of_a_slope_is_that_of_the_surface():
    x, y = np.linspace(0, 0.5, 11), np.linspace(0.05, 0.15, 11)
    z = np.broadcast_to(-np.tan(0.6) * y, (2, 11, 11))
    surface = build_surface(HeightGrid(x, y, z))
    plan = (x[1] - x[0]) * (y[1] - y[0])
    assert np.allclose(surface.area, plan / np.cos(0.6), rtol=1e-12)
    assert np.allclose(surface.normal[1, 5, 5], [0, np.sin(0.6), np.cos(0.6)], atol=1e-12)
    assert np.allclose(surface.normal[0, 5, 5], [0, -np.sin(0.6), np.cos(0.6)], atol=1e-12)


def test_normals_are_of_unit_length_and_point_out():
    normal = build_surface(THISTLE).normal
    assert np.allclose(np.linalg.norm(normal, axis=-1), 1.0, atol=1e-12)
    assert (normal[0, :, :, 1] < 0).all()
    assert (normal[1, :, :, 1] > 0).all()


def test_grid_does_not_depend_on_the_tree():
    surface = build_surface(THISTLE, grid=Grid(along=40, across=8))
    assert surface.z.shape == (2, 40, 8)
    assert build_surface(THISTLE).z.shape == (2, 80, 16)


def test_uneven_height_grid_is_refused():
    x = np.array([0.0, 0.1, 0.3, 0.4])
    with pytest.raises(InvalidShape, match="even steps") as caught:
        build_surface(HeightGrid(x, np.linspace(0, 0.1, 5), np.zeros((2, 4, 5))))
    assert caught.value.path == "back.x"


def test_shape_without_stations_is_refused():
    with pytest.raises(InvalidShape, match="two or more stations"):
        build_surface(BackShape(stations=()))
