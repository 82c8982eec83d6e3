"""Placing a tree and letting it settle: closed forms on explicit grids, and large attitudes."""

import numpy as np
import pytest

from fitting.engine import (
    FitInputs,
    HeightGrid,
    InvalidShape,
    Layer,
    Layers,
    LoadOutsideSupport,
    Loads,
    Placement,
    PointForce,
    Settings,
    UndersideGrid,
    build_surface,
    evaluate_fit,
)
from fitting.engine.loads import STANDING
from fitting.engine.pose import Placed, distance, patch_under, rows_at
from fitting.engine.underside import underside
from tests.engine.pairs import THISTLE, TR_02, thistle_pair

MODULUS = 1.2e6
LENGTH, WIDTH = 0.53, 0.10


def weight(newtons: float, *, x: float, y: float = 0.0, z: float = 0.0) -> Loads:
    force = PointForce((0.0, 0.0, -newtons), (x, y, z))
    return Loads(girth_tension=0.0, forces=(force,))


def bars(
    *,
    along: int,
    across: int,
    beta: float = 0.0,
    centre: float = WIDTH / 4,
    width: float = WIDTH / 2,
    curvature: float = 0.0,
    **kwargs: object,
) -> FitInputs:
    """Two flat bars inclined by beta at +-centre on a back that fits but for a curvature [1/m].

    By default two strips side by side make one of `WIDTH` across the midline.
    """
    dx, dy = LENGTH / along, width * np.cos(beta) / across
    x = dx * (np.arange(along) + 0.5) - LENGTH / 2
    y = centre - width * np.cos(beta) / 2 + dy * (np.arange(across) + 0.5)
    plane = np.broadcast_to(-np.tan(beta) * (y - centre), (2, along, across))
    under = plane + curvature * x[:, None] ** 2 / 2
    return FitInputs(
        back=HeightGrid(x, y, plane),
        tree=UndersideGrid(x, y, under, np.ones(plane.shape, bool)),
        placement=Placement(tip=0.0),
        layers=Layers(Layer(MODULUS)),
        cases=(STANDING,),
        **{"settings": Settings(is_linear=True, axis=(0.0, 0.0)), **kwargs},
    )


# -- Closed forms through the whole engine


def inclined(z_axis: float = 0.0, beta: float = np.radians(35)) -> FitInputs:
    return bars(
        along=80,
        across=16,
        beta=beta,
        centre=0.12,
        width=WIDTH,
        loads=weight(1000.0, x=0.0, y=-0.025, z=z_axis),
        settings=Settings(is_linear=True, axis=(0.0, z_axis)),
    )


def test_two_inclined_bars_carry_by_their_normals():
    """d = P/(2 k A cos2 b) = 11.71612 mm, p = P/(2 A cos b) = 11 516.74 Pa; elementary statics."""
    case = evaluate_fit(inclined()).cases[0]
    assert case.pose[0] == pytest.approx(11.71612e-3, rel=1e-6)
    assert case.pressure.mean() == pytest.approx(11516.74, rel=1e-6)
    flat = evaluate_fit(inclined(beta=0.0)).cases[0]
    assert flat.pose[0] != pytest.approx(11.71612e-3, rel=0.1)


@pytest.mark.parametrize(
    ("z_axis", "stiffness", "roll"), [(0.0, 1335.076, 0.01872553), (0.10, 3187.898, 0.007842159)]
)
def test_roll_stiffness_depends_on_the_axis(z_axis, stiffness, roll):
    """K = 2 k A (q0^2 + W^2/12) with q0 = s cos b + z_a sin b; rigid bodies on springs."""
    case = evaluate_fit(inclined(z_axis)).cases[0]
    assert case.value("roll_stiffness") == pytest.approx(stiffness, rel=1e-3)
    # Roll is positive with the left down, and the weight is 25 mm to the left.
    assert case.pose[2] == pytest.approx(roll, rel=1e-3)


def test_roll_stiffness_falls_where_the_normals_meet():
    """Axis at -s/tan b: only 2 k A W^2/12 = 106.0000 N m/rad is left; reported, not hidden."""
    inputs = inclined(-0.12 / np.tan(np.radians(35)))
    low = weight(1000.0, x=0.0, z=-0.1713778)
    case = evaluate_fit(FitInputs(**{**vars(inputs), "loads": low})).cases[0]
    assert case.value("roll_stiffness") == pytest.approx(106.0, rel=5e-3)


def test_rocking_strip():
    """a = (3PR/2K)^(1/3) = 0.1957434 m, p0 = 15 326.19 Pa; Johnson, Contact Mechanics 4.3."""
    rocking = bars(along=80, across=8, curvature=1 / 1.5, loads=weight(400.0, x=0.0))
    case = evaluate_fit(rocking).cases[0]
    assert case.pose[0] * MODULUS == pytest.approx(15326.19, rel=1e-3)
    assert case.value("contact_length", side="left") == pytest.approx(
        2 * 0.1957434, abs=LENGTH / 80
    )
    steeper = bars(along=80, across=8, curvature=1 / 1.0, loads=weight(400.0, x=0.0))
    assert evaluate_fit(steeper).cases[0].pose[0] * MODULUS != pytest.approx(15326.19, rel=0.05)


def test_rocking_strip_turns_by_e_over_r():
    """theta = e/R = 0.04 exactly, peak 9 654.894 Pa whatever e is (derived)."""
    case = evaluate_fit(
        bars(along=80, across=8, curvature=1 / 1.5, loads=weight(200.0, x=0.06))
    ).cases[0]
    assert case.pose[1] == pytest.approx(0.04, rel=1e-3)
    assert case.value("peak_pressure") == pytest.approx(9654.894, rel=2e-3)
    assert case.value("centre_of_pressure_x") == pytest.approx(0.06, rel=1e-3)


@pytest.mark.parametrize(("newtons", "gap"), [(300.0, 1.398141e-3), (380.0, 0.0)])
def test_bridging_strip_leaves_a_gap_until_it_closes(newtons, gap):
    """Mid gap c^2/2R = 1.398 mm at 300 N; closed above K L^3/(24 R) = 372.2 N (derived)."""
    case = evaluate_fit(
        bars(along=80, across=8, curvature=-1 / 2.0, loads=weight(newtons, x=0.0))
    ).cases[0]
    assert case.value("largest_gap", side="left") == pytest.approx(gap, abs=3e-5)


def test_full_path_agrees_with_the_textbook_at_small_rotations():
    settings = Settings(axis=(0.0, 0.0))
    case = evaluate_fit(
        bars(along=80, across=8, curvature=1 / 1.5, loads=weight(200.0, x=0.06), settings=settings)
    ).cases[0]
    assert case.pose[1] == pytest.approx(0.04, rel=5e-3)
    assert case.value("peak_pressure") == pytest.approx(9654.894, rel=1e-2)


def test_weight_high_above_a_round_strip_falls_over():
    """Rocking stiffness is P R: no stable balance with the weight higher than R = 0.2 m."""
    from fitting.engine import EngineError

    def tip(height: float):
        return evaluate_fit(
            bars(along=160, across=4, curvature=1 / 0.2, loads=weight(60.0, x=0.002, z=height))
        )

    assert tip(0.1).cases[0].value("stability_margin") > 0
    with pytest.raises(EngineError):
        tip(0.3)


def test_load_off_the_bars_is_refused():
    with pytest.raises(LoadOutsideSupport, match="outside the support"):
        evaluate_fit(bars(along=20, across=4, loads=weight(400.0, x=0.4)))
    evaluate_fit(bars(along=20, across=4, loads=weight(400.0, x=0.2)))


# -- Large attitudes


def placed_over_thistle() -> Placed:
    surface, face = build_surface(THISTLE), underside(TR_02)
    patch = patch_under(surface, face, 0.0254)
    axis = np.array([0.0254 + face.bearing.mean(), 0.0, 0.0])
    return Placed(face, patch, 0.0254, axis, np.zeros(len(patch.side)))


@pytest.mark.parametrize("pose", [(0.01, 0.1, -0.05), (-0.02, -0.15, 0.08), (0.0, 0.0, 0.0)])
def test_rays_end_on_the_underside(pose):
    placed = placed_over_thistle()
    s, cover = distance(placed, np.array([pose]), None)
    met = cover[0] > 0.9
    ends = placed.patch.points[met] + s[0, met, None] * placed.patch.normals[met]
    heave, pitch, roll = pose
    back = ends - placed.axis + [0, 0, heave]
    y, z = back[:, 1], back[:, 2]
    back[:, 1], back[:, 2] = (
        np.cos(roll) * y + np.sin(roll) * z,
        -np.sin(roll) * y + np.cos(roll) * z,
    )
    x, z = back[:, 0].copy(), back[:, 2].copy()
    back[:, 0] = np.cos(pitch) * x - np.sin(pitch) * z
    back[:, 2] = np.sin(pitch) * x + np.cos(pitch) * z
    tree = back + placed.axis
    side = placed.patch.side[met]
    z = placed.face.height(side, tree[:, 0] - placed.tip, np.abs(tree[:, 1]))[0]
    assert np.abs(tree[:, 2] - z).max() < 2e-5


@pytest.mark.parametrize("component", [0, 1, 2])
def test_rows_are_how_the_distance_changes(component):
    placed = placed_over_thistle()
    pose = np.array([[0.005, 0.05, -0.04]])
    step = np.zeros((1, 3))
    step[0, component] = 1e-5
    (ahead, cover), (behind, _) = (distance(placed, pose + sign * step, None) for sign in (1, -1))
    met = cover[0] > 0.9
    change = -(ahead - behind)[0, met] / 2e-5
    rows = rows_at(placed, pose)[0, met, component]
    # Rows work along the back's normal; the tree's own differs by some degrees at a pad's edge.
    assert np.median(np.abs(change - rows)) < 0.15 * np.abs(rows).max()
    assert np.median(np.abs(change + rows)) > 0.15 * np.abs(rows).max()  # the sign matters


def test_tree_finds_the_pitch_of_a_steep_back():
    x, y = np.linspace(-0.3, 0.3, 61), np.linspace(0.06, 0.14, 9)
    slope = np.tan(np.radians(12))
    ramp = np.broadcast_to(-slope * x[:, None], (2, 61, 9)).copy()
    inside = np.broadcast_to(np.abs(x[:, None]) < 0.205, ramp.shape)
    inputs = FitInputs(
        back=HeightGrid(x, y, ramp),
        tree=UndersideGrid(x, y, np.zeros(ramp.shape), inside),
        placement=Placement(tip=0.0),
        layers=Layers(Layer(MODULUS)),
        loads=weight(800.0, x=0.0),
        cases=(STANDING,),
    )
    case = evaluate_fit(inputs).cases[0]
    assert np.degrees(case.pose[1]) == pytest.approx(12, abs=0.2)
    level = evaluate_fit(FitInputs(**{**vars(inputs), "back": HeightGrid(x, y, 0 * ramp)}))
    assert np.degrees(level.cases[0].pose[1]) == pytest.approx(0, abs=0.01)


def test_pad_lifts_the_tree_along_the_normals():
    inputs = thistle_pair(TR_02)
    layers = inputs.layers
    thin = evaluate_fit(inputs).case("standing")
    thicker = Layers(layers.tissue, layers.pad, layers.pad_thickness + 0.010)
    thick = evaluate_fit(FitInputs(**{**vars(inputs), "layers": thicker})).case("standing")
    lift = thin.pose[0] - thick.pose[0]
    assert 0.010 < lift < 0.018  # 10 mm over the cosine of some 37 degrees: 12.5


def test_tree_off_the_back_is_refused():
    inputs = thistle_pair(TR_02)
    with pytest.raises(InvalidShape) as caught:
        evaluate_fit(FitInputs(**{**vars(inputs), "placement": Placement(tip=2.0)}))
    assert caught.value.path == "placement.tip"
