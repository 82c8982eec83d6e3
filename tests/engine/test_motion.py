"""A back that bends, rounds or hollows: symmetry, volume, size and direction."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from fitting.engine import BackChange, BackSurface, HeightGrid, build_surface, moved
from fitting.engine.loads import BEND, LIFT
from fitting.engine.motion import (
    MUSCLE_DEPTH,
    lift_shape,
    muscle_depth,
    unbent,
)
from fitting.engine.profiles import STRAIGHT_EDGE
from tests.engine.pairs import FERN, THISTLE

X = np.linspace(-0.05, 0.65, 141)
Y = np.linspace(0.010, 0.190, 37)
MIDDLE = 0.28
CURVATURE = 0.4  # per metre: 9.9 degrees over 17 in
STRONG = BackChange(bend=CURVATURE * STRAIGHT_EDGE)


def grid_of(height) -> BackSurface:
    """Surface of a height over x and signed y."""
    x, y = np.meshgrid(X, Y, indexing="ij")
    return build_surface(HeightGrid(X, Y, np.array([height(x, -y), height(x, y)])))


def mirror(surface: BackSurface) -> BackSurface:
    flip = surface.normal[::-1] * np.array([1.0, -1.0, 1.0])
    return replace(surface, z=surface.z[::-1], area=surface.area[::-1], normal=flip)


# -- Nothing, a little, and mirrored


def test_no_change_is_the_same_back():
    surface = build_surface(THISTLE)
    assert moved(surface, BackChange()) is surface
    assert moved(surface, BackChange(bend=1e-3)) is not surface


@pytest.mark.parametrize("change", [BackChange(bend=0.14), BackChange(0.05, -0.02)])
@pytest.mark.parametrize("back", [THISTLE, FERN], ids=["thistle", "fern"])
def test_mirrored_back_bent_the_other_way_is_the_mirror(back, change):
    surface = build_surface(back)
    one = moved(mirror(surface), replace(change, bend=-change.bend))
    other = mirror(moved(surface, change))
    assert np.allclose(one.z, other.z, atol=1e-12)
    assert np.allclose(one.normal, other.normal, atol=1e-9)
    same_way = moved(mirror(surface), change)
    assert not np.allclose(same_way.z, other.z, atol=1e-3)


@pytest.mark.parametrize("change", [BackChange(bend=1e-3), BackChange(lift=1e-3)])
def test_small_changes_add_up(change):
    surface = build_surface(THISTLE)

    def off_straight(step: float) -> float:
        once, twice = (
            moved(surface, BackChange(k * step * change.bend, k * step * change.lift)).z
            for k in (1, 2)
        )
        return float(np.abs(twice - 2 * once + surface.z).max())

    rise = np.abs(moved(surface, change).z - surface.z).max()
    assert rise > 1e-5
    assert off_straight(1.0) < 0.01 * rise
    # The rest is of second order: four times as much for twice the change. A lift is straight.
    if change.bend:
        assert off_straight(2.0) == pytest.approx(4 * off_straight(1.0), rel=0.1)


# -- Volume


def ridged(x, y):
    """Two ridges across a level back, 200 mm apart."""
    return sum(0.004 * np.exp(-(((x - at) / 0.01) ** 2)) for at in (0.18, 0.38)) + 0 * y


def ridge_distance(surface: BackSurface, side: int, column: int) -> float:
    """Distance between the tops of the two ridges, along one line of cells."""
    z = surface.z[side, :, column]

    def top(near: float) -> float:
        at = minimize_scalar(
            lambda x: -np.interp(x, X, z), bounds=(near - 0.02, near + 0.02), method="bounded"
        ).x
        k = int(np.argmin(np.abs(X - at)))
        parabola = np.polyfit(X[k - 1 : k + 2], z[k - 1 : k + 2], 2)
        return float(-parabola[1] / (2 * parabola[0]))

    return top(0.38) - top(0.18)


@pytest.mark.parametrize("side", [0, 1])
@pytest.mark.parametrize("y", [0.07, 0.10, 0.13])
def test_muscle_keeps_its_volume(side, y):
    """Length between two marks on the skin times depth over the bone, before and after.

    The marks are ridges, found again on the bent back; the bone is the same back moved without
    muscle. Where the muscle is even, its breadth does not change.
    """
    column = int(np.argmin(np.abs(Y - y)))
    level = grid_of(lambda x, y: 0 * x)
    bone = moved(level, STRONG, middle=MIDDLE, muscle=0.0)
    skin = moved(level, STRONG, middle=MIDDLE)
    row = int(np.argmin(np.abs(X - MIDDLE)))
    before = muscle_depth(np.array([y]))[0]
    depth = before + skin.z[side, row, column] - bone.z[side, row, column]
    marked = ridge_distance(moved(grid_of(ridged), STRONG, middle=MIDDLE, muscle=0.0), side, column)
    assert marked * depth == pytest.approx(0.200 * before, rel=3e-3)
    assert abs(marked / 0.200 - 1) > 0.02  # the twin: depth or length alone does not keep it
    assert (marked < 0.200) == (side == 1)  # shorter on the inside, the right


def test_muscle_that_only_follows_the_bone_does_not_keep_its_volume():
    level = grid_of(lambda x, y: 0 * x)
    still = moved(level, STRONG, muscle=0.0)
    assert np.abs(still.z).max() < 1e-12
    assert np.abs(moved(level, STRONG).z).max() > 1e-3
    assert muscle_depth(np.array([0.0, 0.1, 0.25])).tolist() == [0.0, MUSCLE_DEPTH, 0.0]


# -- Direction and size


def spine(surface: BackSurface) -> np.ndarray:
    """Signed y of the top of each row, by a parabola through its highest cells."""
    y = np.concatenate([-surface.y[::-1], surface.y])
    z = np.concatenate([surface.z[0][:, ::-1], surface.z[1]], axis=1)
    fits = [np.polyfit(y, row, 2) for row in z]
    return np.array([-b / (2 * a) for a, b, _ in fits])


def test_midline_becomes_an_arc_of_the_bend():
    """Sagitta of an arc of curvature k over a chord L: (1 - cos(k L / 2)) / k (geometry)."""
    tent = grid_of(lambda x, y: -2.0 * y**2)
    top = spine(moved(tent, STRONG, middle=MIDDLE, muscle=0.0))
    ends = [np.interp(MIDDLE + s * STRAIGHT_EDGE / 2, X, top) for s in (-1, 1)]
    sagitta = np.mean(ends) - np.interp(MIDDLE, X, top)
    expected = (1 - np.cos(CURVATURE * STRAIGHT_EDGE / 2)) / CURVATURE
    assert sagitta == pytest.approx(expected, rel=0.02)  # positive: the ends lie to the right
    inside = np.abs(X - MIDDLE) < STRAIGHT_EDGE / 2
    assert abs(top[inside].mean()) < 2e-4  # the tree stays over the middle of the arc
    assert spine(tent) == pytest.approx(0.0, abs=1e-9)


def test_points_come_from_where_the_arc_says():
    """Forward on the arc and back: a point at arc length s and n inside it."""
    s, n = np.array([0.1, 0.3, 0.5]), np.array([-0.1, 0.05, 0.15])
    centre = 1 / CURVATURE - CURVATURE * STRAIGHT_EDGE**2 / 24
    angle = CURVATURE * (s - MIDDLE)
    x = MIDDLE + (1 / CURVATURE - n) * np.sin(angle)
    y = centre - (1 / CURVATURE - n) * np.cos(angle)
    assert np.allclose(unbent(x, y, CURVATURE, MIDDLE), (s, n), atol=1e-12)
    assert not np.allclose(unbent(x, y, 1.1 * CURVATURE, MIDDLE), (s, n), atol=1e-4)


@pytest.mark.parametrize(("change", "inside"), [(BEND, 1), (-BEND, 0)])
def test_muscle_rises_on_the_inside_and_sinks_on_the_outside(change, inside):
    surface = build_surface(THISTLE)
    bent, bone = (moved(surface, BackChange(bend=change), muscle=m) for m in (MUSCLE_DEPTH, 0.0))
    under_bars = (surface.x > 0.1) & (surface.x < 0.45)
    column = int(np.argmin(np.abs(surface.y - 0.1)))
    swell = (bent.z - bone.z)[:, under_bars, column].mean(axis=1)
    assert swell[inside] > 5e-4
    assert swell[1 - inside] < -5e-4


def sagitta_under_bars(surface: BackSurface) -> float:
    """Dip of the bar line under a 17 in straight edge, as a fitter reads it."""
    line = surface.z[0, :, int(np.argmin(np.abs(surface.y - 0.088)))]
    front, middle, rear = np.interp(
        [MIDDLE - STRAIGHT_EDGE / 2, MIDDLE, MIDDLE + STRAIGHT_EDGE / 2], surface.x, line
    )
    return float((front + rear) / 2 - middle)


def test_rounding_takes_dip_away_and_hollowing_adds_it():
    surface = build_surface(THISTLE)
    dips = [
        sagitta_under_bars(moved(surface, BackChange(lift=lift))) for lift in (0.02, 0.0, -0.02)
    ]
    assert dips[0] < dips[1] - 0.002 < dips[2] - 0.004


def test_back_moves_from_the_loin_and_not_from_the_middle():
    x = np.linspace(0.05, 0.65, 601)
    rise = lift_shape(x)
    assert rise.max() == pytest.approx(1.0, abs=1e-6)
    highest = x[np.argmax(rise)]
    assert highest > MIDDLE + 0.15
    bend = np.gradient(np.gradient(rise, x), x)[2:-2]
    assert np.all(np.diff(-bend) > -1e-6)  # ever more curved toward the loin
    assert lift_shape(np.array([0.05]))[0] == 0.0  # the withers are the pivot


def test_sizes_are_those_of_a_walking_horse():
    """Half the swing of sound horses at walk, angles read over about 0.18 m (from memory).

    Lateral bend 6.34 degrees at T13 (Wennerstrand et al. 2004, Equine Vet J 36:707-711); flexion
    and extension about 7 at walk (Faber et al. 2000), 4.9 at most at trot (Faber et al. 2001).
    """
    over = 0.18
    assert pytest.approx(np.radians(6.34) / 2 / over * STRAIGHT_EDGE, rel=0.07) == BEND
    x = np.linspace(0.3, 0.5, 201)
    curved = -np.gradient(np.gradient(lift_shape(x), x), x)[2:-2].mean() * over
    half_swing = [np.radians(angle) / 2 / curved for angle in (4.9, 7.0)]
    assert half_swing[0] < LIFT < half_swing[1]
    assert not half_swing[0] < 2 * LIFT < half_swing[1]


def test_grid_that_begins_on_the_midline_bends_as_one_that_begins_beside_it():
    x, y = np.linspace(-0.1, 0.7, 41), np.linspace(0.0, 0.19, 20)
    heights = np.broadcast_to(-2.0 * y**2, (2, len(x), len(y)))
    change = BackChange(bend=0.14)
    whole = moved(build_surface(HeightGrid(x, y, heights)), change, muscle=0.0)
    beside = moved(build_surface(HeightGrid(x, y[1:], heights[:, :, 1:])), change, muscle=0.0)
    assert np.allclose(whole.z[:, :, 1:], beside.z, atol=1e-4)
    assert not np.allclose(whole.z[:, :, 1:], heights[:, :, 1:], atol=1e-3)
