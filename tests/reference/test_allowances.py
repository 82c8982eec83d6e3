"""Allowances on strips whose pressures have a closed form (checks C1, C2, C7 to C11, C21).

The critical pull is found on the closed form by Brent's method (`scipy.optimize.brentq`); pose and
pressures of the strips are those of `fitting.engine.reference`, sources named there (K. L. Johnson,
Contact Mechanics, Cambridge 1985, sec. 4.3 [memory]; Roark's formulas for the flat strip [memory];
the rest derived). The pull itself is statics: N = P + T sin a, moments about the strip's middle.
Sizes, stiffness and bounds are illustrative, no source: these checks hang on none of the rules.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq, fsolve

from fitting.engine import reference
from fitting.engine.allowances import (
    BEND_SPAN,
    HAND_PUSH,
    at_rest,
    rope_allowances,
    see_saw,
    tip_allowances,
)
from fitting.engine.evaluate import place
from fitting.engine.geometry import HeightGrid, build_surface
from fitting.engine.inputs import FitInputs, Placement, Settings
from fitting.engine.layers import Layer, Layers
from fitting.engine.loads import STANDING, Loads, PointForce
from fitting.engine.pose import Placed
from fitting.engine.rules import RULES
from fitting.engine.stance import Stance, bend_crossings
from fitting.engine.trees import UndersideGrid
from fitting.engine.underside import underside

from .cases import LENGTH, LINE_MODULUS, MODULUS, WIDTH

HALF = LENGTH / 2
DIP = np.radians(20.0)
BOUNDS = {"cranial": 34.5e3, "middle": 30.3e3, "caudal": 31.0e3}  # [Pa] illustrative here
PEAK = next(rule for rule in RULES if rule.measure == "peak_pressure")
LIMITS = tuple(
    replace(PEAK, code=f"peak_{zone}", zone=zone, beyond=(0.0, bound))
    for zone, bound in BOUNDS.items()
)
ALONG = 640
EDGE = HALF - LENGTH / ALONG / 2  # middle of the outermost cell, where the end's pressure is read
# The front third, the middle and the rear, in x forward from the middle of the strip.
THIRDS = {
    "cranial": (LENGTH / 6, EDGE),
    "middle": (-LENGTH / 6, LENGTH / 6),
    "caudal": (-EDGE, -LENGTH / 6),
}


def strip(*, curvature: float, load: float, at: float = 0.0) -> Stance:
    """Two strips side by side, `WIDTH` across in all, pressed by a load `at` forward of middle."""
    placed, inputs = laid(curvature=curvature, load=load, at=at)
    return replace(at_rest(inputs, placed, STANDING, np.zeros((1, 3))), limits=LIMITS)


def laid(*, curvature: float, load: float, at: float = 0.0) -> tuple[Placed, FitInputs]:
    """The strips on a flat back, curved by 1/R; positive rocks."""
    dx, dy = LENGTH / ALONG, WIDTH / 2 / 4
    x, y = dx * (np.arange(ALONG) + 0.5) - HALF, dy * (np.arange(4) + 0.5)
    flat = np.zeros((2, ALONG, 4))
    inputs = FitInputs(
        back=HeightGrid(x, y, flat),
        tree=UndersideGrid(x, y, flat + curvature * x[:, None] ** 2 / 2, flat == 0),
        placement=Placement(tip=0.0),
        layers=Layers(Layer(MODULUS)),
        loads=Loads(girth_tension=0.0, forces=(PointForce((0.0, 0.0, -load), (-at, 0.0, 0.0)),)),
        cases=(STANDING,),
        settings=Settings(is_linear=True, axis=(0.0, 0.0)),
    )
    return place(inputs, build_surface(inputs.back), underside(inputs.tree)), inputs


def rope(stance: Stance, *, ahead: float, height: float) -> float:
    """The engine's critical pull, forward and down at `DIP`."""
    point = (-ahead, 0.0, height)

    def pulled(pull: float) -> tuple[PointForce, ...]:
        force = (-pull * np.cos(DIP), 0.0, -pull * np.sin(DIP))
        return (*stance.forces, PointForce(force, point))

    (allowance,) = rope_allowances(stance, {"rope": pulled})
    assert allowance.reached
    return allowance.value


def pulled_load(pull: float, load: float, at: float, ahead: float, height: float) -> tuple:
    """Load and its eccentricity forward with a rope on (check C21)."""
    total = load + pull * np.sin(DIP)
    moment = load * at + pull * (np.sin(DIP) * ahead + np.cos(DIP) * height)
    return total, moment / total


def critical(pose, *, load: float, at: float, ahead: float, height: float, curvature: float):
    """The pull at which the closed form's pressure first passes a bound, by Brent's method."""

    def worst(pull: float) -> float:
        heave, angle = pose(*pulled_load(pull, load, at, ahead, height))

        def pressure(x: float) -> float:
            return MODULUS * (heave + angle * x + -curvature * x**2 / 2)

        out = []
        for zone, bound in BOUNDS.items():
            ends = THIRDS[zone]
            places = [*ends]
            if curvature > 0:  # a strip that rocks presses hardest at its lowest point
                places.append(float(np.clip(angle / curvature, *ends)))
            out.append(max(pressure(x) for x in places) / bound - 1)
        return max(out)

    end = next(pull for pull in np.arange(10.0, 1500.0, 10.0) if worst(pull) > 0)
    return brentq(worst, end - 10.0, end, xtol=1e-9)


def rocking(radius: float):
    def pose(load: float, eccentricity: float) -> tuple[float, float]:
        found = reference.rocking_strip(
            load=load, line_modulus=LINE_MODULUS, radius=radius, eccentricity=eccentricity
        )
        return found.heave, found.angle

    return pose


def clipped(radius: float):
    def pose(load: float, eccentricity: float) -> tuple[float, float]:
        found = reference.clipped_rocking_strip(
            load=load,
            line_modulus=LINE_MODULUS,
            radius=radius,
            eccentricity=eccentricity,
            length=LENGTH,
        )
        return found.heave, found.angle

    return pose


def closed(radius: float):
    def pose(load: float, eccentricity: float) -> tuple[float, float]:
        found = reference.closed_rocking_strip(
            load=load,
            line_modulus=LINE_MODULUS,
            radius=radius,
            eccentricity=eccentricity,
            length=LENGTH,
        )
        return found.heave, found.angle

    return pose


def bridging(radius: float):
    """The inverse form (check C11), solved for the load and eccentricity given."""

    def pose(load: float, eccentricity: float) -> tuple[float, float]:
        def held(c: float, xc: float) -> reference.TiltedBridge:
            return reference.tilted_bridge(
                gap_half=c, gap_centre=xc, line_modulus=LINE_MODULUS, radius=radius, length=LENGTH
            )

        def apart(unknown) -> list[float]:
            found = held(*unknown)
            return [found.load / load - 1, (found.eccentricity - eccentricity) / HALF]

        found = held(*fsolve(apart, [0.1, -eccentricity / 4], xtol=1e-13))
        return found.heave, found.angle

    return pose


def flat(load: float, eccentricity: float) -> tuple[float, float]:
    """Pressure q = qmax falling in a straight line (checks C1, C2) as heave and angle."""
    found = reference.eccentric_strip(
        load=load, length=LENGTH, width=WIDTH, eccentricity=eccentricity
    )
    angle = (found.highest - found.lowest) / found.contact / MODULUS
    return found.highest / MODULUS - angle * HALF, angle


def horn(height: float) -> dict[str, float]:
    """A horn so far ahead that the strip's own turning leaves the rope's moment as it is."""
    return {"height": height, "ahead": height * float(np.tan(DIP))}


ROPES = {
    # 1/R (positive rocks), pose by closed form, load [N], its place [m], height of the horn [m]
    "rocks, contact clear of the ends": (1 / 0.3, rocking(0.3), 400.0, 0.0, 0.05),
    "rocks, higher horn": (1 / 0.3, rocking(0.3), 400.0, 0.0, 0.10),
    "rocks, contact cut off by the front end": (1 / 1.0, clipped(1.0), 600.0, 0.12, 0.10),
    "rocks, contact all along": (1 / 4.0, closed(4.0), 1000.0, 0.0, 0.18),
    "bridges": (-1 / 2.0, bridging(2.0), 200.0, 0.0, 0.10),
    "flat, load off the middle": (0.0, flat, 700.0, -0.02, 0.18),
}


@pytest.mark.parametrize("name", ROPES)
def test_pull_that_first_passes_a_limit_is_the_closed_forms(name):
    curvature, pose, load, at, height = ROPES[name]
    expected = critical(pose, load=load, at=at, curvature=curvature, **horn(height))
    found = rope(strip(curvature=curvature, load=load, at=at), **horn(height))
    assert found == pytest.approx(expected, rel=1e-3)
    other = rope(strip(curvature=curvature, load=0.97 * load, at=at), **horn(height))
    assert other != pytest.approx(expected, rel=1e-3)


# -- Turning: the rock angle is e/R exactly (check C7)


def allowance(found, code: str, side: str = "") -> float:
    return next(a.value for a in found if a.code == code and a.side in (side, ""))


def rolled(radius: float, load: float) -> tuple:
    """A strip that rocks, with the half-length of its contact, a = (3PR/2K)^(1/3)."""
    found = tip_allowances({"standing": strip(curvature=1 / radius, load=load)})
    return found, (1.5 * load * radius / LINE_MODULUS) ** (1 / 3)


@pytest.mark.parametrize(("radius", "load"), [(0.5, 300.0), (1.5, 400.0)])
def test_tip_room_is_the_gap_at_the_tip(radius, load):
    """(h2 - a2)/2R, with h half the length."""
    found, half = rolled(radius, load)
    expected = (HALF**2 - half**2) / (2 * radius)
    for end in ("front", "rear"):
        assert allowance(found, f"tip_room_{end}", "left") == pytest.approx(expected, rel=1e-3)
    nearby, _ = rolled(radius, 1.1 * load)
    assert allowance(nearby, "tip_room_front", "left") != pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("radius", "load"), [(0.5, 300.0), (1.5, 400.0)])
def test_tree_turns_until_its_contact_has_rolled_to_the_tip(radius, load):
    """The patch [e - a, e + a] reaches the tip at e = h - a: the angle is (h - a)/R."""
    found, half = rolled(radius, load)
    expected = (HALF - half) / radius
    for end in ("front", "rear"):
        turned = next(a.value for a in found if a.code == f"tip_turn_{end}")
        assert turned == pytest.approx(expected, rel=2e-3)
        assert turned != pytest.approx((HALF - half) / (1.02 * radius), rel=2e-3)


@pytest.mark.parametrize("radius", [0.5, 0.8])
def test_see_saw_is_twice_the_rock_angle_of_the_hand_at_an_end(radius):
    """With weight W in the middle and a push F at +-h: e = F h/(W + F), the angle 2 e/R."""
    weight = 600.0
    loose = (PointForce((0.0, 0.0, -weight), (0.0, 0.0, 0.0)),)
    (found,) = see_saw(strip(curvature=1 / radius, load=weight), loose)
    expected = 2 * HAND_PUSH * HALF / (weight + HAND_PUSH) / radius
    assert found.value == pytest.approx(expected, rel=1e-4)
    assert found.value != pytest.approx(expected / 1.01, rel=1e-4)


def test_strip_that_fits_has_no_room_under_its_tips():
    found = tip_allowances({"standing": strip(curvature=0.0, load=600.0)})
    assert allowance(found, "tip_room_front", "left") == 0.0
    assert allowance(found, "tip_turn_rear", "left") == 0.0


# -- Bending: the back under a straight bar dips on one side of the horse and arches on the other

DIP_PER_BEND = 20.0  # [1/m per rad] curvature that the bend gives the back lengthwise; illustrative


def bends(load: float, per_bend: float = DIP_PER_BEND) -> tuple[float, float]:
    """The engine's critical bends: to the left, where it rocks, and right, where it bridges."""
    stance = strip(curvature=0.0, load=load)

    def on_bent(bend: float) -> Placed:
        return laid(curvature=-per_bend * bend, load=load)[0]

    left, right = bend_crossings(stance, on_bent, BEND_SPAN)
    assert left.is_reached
    assert right.is_reached
    return left.at, right.at


def critical_dip(load: float) -> float:
    """Curvature at which the end cells of a bridging strip pass the rear bound (check C10).

    Closed, its ends are pressed by P/(KL) + h2/(3R); open, as `reference.bridging_strip` says.
    """

    def excess(curvature: float) -> float:
        radius = 1 / curvature
        heave = load / (LINE_MODULUS * LENGTH) - HALF**2 / (6 * radius)
        if load < reference.closing_load(
            line_modulus=LINE_MODULUS, radius=radius, length=LENGTH, bridges=True
        ):
            heave = reference.bridging_strip(
                load=load, line_modulus=LINE_MODULUS, radius=radius, length=LENGTH
            ).heave
        return MODULUS * (heave + EDGE**2 / (2 * radius)) - BOUNDS["caudal"]

    return brentq(excess, 1e-3, 10.0, xtol=1e-12)


def critical_arch(load: float) -> float:
    """Curvature at which the middle of a rocking strip passes its bound (checks C6, C9)."""

    def excess(curvature: float) -> float:
        radius = 1 / curvature
        peak = load / (LINE_MODULUS * LENGTH) + HALF**2 / (6 * radius)
        if load < LINE_MODULUS * LENGTH**3 / (12 * radius):
            peak = reference.rocking_strip(
                load=load, line_modulus=LINE_MODULUS, radius=radius, eccentricity=0.0
            ).peak
        return MODULUS * peak - BOUNDS["middle"]

    return brentq(excess, 1e-3, 10.0, xtol=1e-12)


@pytest.mark.parametrize("load", [400.0, 900.0])
def test_bend_that_first_passes_a_limit_is_the_closed_forms(load):
    left, right = bends(load)
    expected = critical_arch(load) / DIP_PER_BEND, critical_dip(load) / DIP_PER_BEND
    assert left == pytest.approx(expected[0], rel=2e-3)
    assert right == pytest.approx(expected[1], rel=2e-3)
    other = bends(load, 1.02 * DIP_PER_BEND)
    assert other[0] != pytest.approx(expected[0], rel=2e-3)
    assert other[1] != pytest.approx(expected[1], rel=2e-3)
