"""Closed-form solutions that the contact solver is held to, each with its source.

Conventions: SI; x along a bar of length L, y across its width W, both from its middle; k modulus
per area [Pa/m]; K = k W that of a line [Pa]; e eccentricity of the load along x [m]; R radius of
relative curvature of bar and back along x [m], of parabolas x2/2R. Status words after a source:
[abstract] only its abstract was read, [memory] cited from memory, [derived] worked out here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, fsolve
from scipy.special import erf

from .laws import Array, LayerLaw

# --- Flat rectangle on a no-tension layer: the footing of foundation engineering ---------------


@dataclass(frozen=True)
class Footing:
    """Edge pressures [Pa] and the length [m] or share [-] in contact."""

    highest: float
    lowest: float
    contact: float


def eccentric_strip(*, load: float, length: float, width: float, eccentricity: float) -> Footing:
    """Return pressures under a rectangle loaded off its middle along one axis.

    Notes
    -----
    Within L/6 q = P/(LW)(1 +- 6e/L); beyond, a triangle of length 3(L/2 - e) and peak
    2P/(3W(L/2 - e)).

    References
    ----------
    W. C. Young and R. G. Budynas, Roark's Formulas for Stress and Strain, short prisms loaded
    eccentrically, stress reversal impossible [memory]; K. Irles and F. Irles, Explicit stresses
    under rectangular footings, J. Geotech. Eng. 1994 [abstract].
    """
    mean = load / (length * width)
    if eccentricity <= length / 6:
        part = 6 * eccentricity / length
        return Footing(mean * (1 + part), mean * (1 - part), length)
    arm = length / 2 - eccentricity
    return Footing(2 * load / (3 * width * arm), 0.0, 3 * arm)


def trapezoid_factor(kx: float, ky: float) -> float:
    """Return peak over mean pressure when contact is a trapezoid along one whole edge.

    Parameters
    ----------
    kx, ky : float
        Eccentricities over length and width, the second the larger [-].

    Notes
    -----
    With s = sqrt(1 - 12 kx2): (2 - s)(1 + 6 kx + s)/(3(1/2 - ky)).

    References
    ----------
    S. Bellos and N. Bakas, Int. J. Geomech. 2017, doi 10.1061/(ASCE)GM.1943-5622.0000874
    [abstract]; checked against exact polygons (`two_way_footing`) to rounding.
    """
    s = np.sqrt(1 - 12 * kx**2)
    return float((2 - s) * (1 + 6 * kx + s) / (3 * (0.5 - ky)))


def corner_peak(*, load: float, to_edge_x: float, to_edge_y: float) -> float:
    """Return the corner pressure [Pa] of a triangular contact, 3P/(8 cx cy).

    Holds when both eccentricities are at least a quarter of the side; the legs are 4cx and 4cy,
    with cx, cy the load's distances to the edges. Source as for `trapezoid_factor`.
    """
    return 3 * load / (8 * to_edge_x * to_edge_y)


def two_way_footing(kx: float, ky: float) -> tuple[float, float]:
    """Return peak over mean pressure and contact share of a unit square, both axes eccentric.

    Notes
    -----
    The pressure is the positive part of a plane; its force and moments over the polygon in contact
    are integrated exactly, and the plane found by Newton's method on them. [derived]
    """
    plane = np.array([1.0, 12 * kx, 12 * ky])
    target = np.array([1.0, kx, ky])
    for _ in range(200):
        moments = _polygon_moments(_loaded_polygon(plane))
        matrix = np.array([[moments[i][j] for j in range(3)] for i in range(3)])
        change = np.linalg.solve(matrix, target - matrix @ plane)
        plane = plane + change
        if np.max(np.abs(change)) < 1e-14 * np.max(np.abs(plane)):
            break
    share = _polygon_moments(_loaded_polygon(plane))[0][0]
    return float(plane[0] + 0.5 * abs(plane[1]) + 0.5 * abs(plane[2])), float(share)


def _loaded_polygon(plane: Array) -> Array:
    """Corners of the part of the unit square where the plane is positive."""
    square = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    value = plane[0] + square @ plane[1:]
    corners = []
    for i in range(4):
        j = (i + 1) % 4
        if value[i] > 0:
            corners.append(square[i])
        if value[i] * value[j] < 0:
            corners.append(square[i] + value[i] / (value[i] - value[j]) * (square[j] - square[i]))
    return np.array(corners)


def _polygon_moments(corners: Array) -> list[list[float]]:
    """Integrals of (1, x, y) times (1, x, y) over a polygon, by Green's theorem."""
    x, y = corners.T
    xn, yn = np.roll(x, -1), np.roll(y, -1)
    cross = x * yn - xn * y
    area = cross.sum() / 2
    sx, sy = ((x + xn) * cross).sum() / 6, ((y + yn) * cross).sum() / 6
    xx = ((x * x + x * xn + xn * xn) * cross).sum() / 12
    yy = ((y * y + y * yn + yn * yn) * cross).sum() / 12
    xy = ((x * yn + 2 * x * y + 2 * xn * yn + xn * y) * cross).sum() / 24
    return [[area, sx, sy], [sx, xx, xy], [sy, xy, yy]]


# --- Curved strip: a bar that rocks on or bridges the back --------------------------------------


@dataclass(frozen=True)
class Strip:
    """Pose and contact of a rigid curved strip; ``peak`` is in compression [m], not pressure."""

    heave: float
    angle: float
    first: float
    last: float
    peak: float


def rocking_strip(*, load: float, line_modulus: float, radius: float, eccentricity: float) -> Strip:
    """Return the pose of a strip rounder than the back, its contact clear of both ends.

    Notes
    -----
    a = (3PR/2K)^(1/3); the patch [e - a, e + a]; the strip rolls until its lowest point is under
    the load, so its angle is e/R exactly; peak compression a2/2R whatever e. [derived]

    References
    ----------
    K. L. Johnson, Contact Mechanics (Cambridge 1985), sec. 4.3, elastic foundation [memory].
    """
    half = (1.5 * load * radius / line_modulus) ** (1 / 3)
    angle = eccentricity / radius
    peak = half**2 / (2 * radius)
    heave = peak - eccentricity**2 / (2 * radius)
    return Strip(heave, angle, eccentricity - half, eccentricity + half, peak)


def clipped_rocking_strip(
    *, load: float, line_modulus: float, radius: float, eccentricity: float, length: float
) -> Strip:
    """Return the pose of a rocking strip whose contact runs out at its end x = L/2. [derived]

    Notes
    -----
    u = (a2 - (x - c)2)/2R with c = R angle; force and moment from x = c - a to L/2 are set equal to
    the load's.
    """

    def unbalanced(unknown: Array) -> list[float]:
        half, centre = unknown
        low, high = -half, length / 2 - centre
        force = half**2 * (high - low) - (high**3 - low**3) / 3
        moment = half**2 * (high**2 - low**2) / 2 - (high**4 - low**4) / 4
        factor = line_modulus / (2 * radius) / load
        return [
            factor * force - 1.0,
            (factor * (moment + centre * force) - eccentricity) / eccentricity,
        ]

    free = rocking_strip(
        load=load, line_modulus=line_modulus, radius=radius, eccentricity=eccentricity
    )
    half, centre = map(
        float, fsolve(unbalanced, [free.last - eccentricity, eccentricity], xtol=1e-12)
    )
    peak = half**2 / (2 * radius)
    heave = peak - centre**2 / (2 * radius)
    return Strip(heave, centre / radius, centre - half, length / 2, peak)


def closed_rocking_strip(
    *, load: float, line_modulus: float, radius: float, eccentricity: float, length: float
) -> Strip:
    """Return the pose of a rocking strip in contact all along: angle 12Pe/KL3. [derived]"""
    angle = 12 * load * eccentricity / (line_modulus * length**3)
    heave = load / (line_modulus * length) + (length / 2) ** 2 / (6 * radius)
    centre = np.clip(radius * angle, -length / 2, length / 2)
    peak = heave + angle * centre - centre**2 / (2 * radius)
    return Strip(heave, angle, -length / 2, length / 2, float(peak))


def closing_load(*, line_modulus: float, radius: float, length: float, bridges: bool) -> float:
    """Return the central load [N] that closes the gap: KL3/12R rocking, KL3/24R bridging."""
    return line_modulus * length**3 / ((24 if bridges else 12) * radius)


def bridging_strip(*, load: float, line_modulus: float, radius: float, length: float) -> Strip:
    """Return the pose of a strip straighter than the back, loaded in the middle; open mid-length.

    Notes
    -----
    P = (K/3R)(h - c)2(h + 2c), with h = L/2 and the gap from -c to c; ``first`` and ``last`` are
    the gap's ends; mid gap c2/2R is minus the heave. [derived]
    """
    h = length / 2

    def unbalanced(c: float) -> float:
        return line_modulus / (3 * radius) * (h - c) ** 2 * (h + 2 * c) - load

    c = brentq(unbalanced, 0.0, h, xtol=1e-15)
    return Strip(-(c**2) / (2 * radius), 0.0, -c, c, (h**2 - c**2) / (2 * radius))


@dataclass(frozen=True)
class TiltedBridge:
    """Load and eccentricity that hold a bridging strip in a pose, and its end compressions."""

    load: float
    eccentricity: float
    heave: float
    angle: float
    front: float
    rear: float


def tilted_bridge(
    *, gap_half: float, gap_centre: float, line_modulus: float, radius: float, length: float
) -> TiltedBridge:
    """Return what holds a bridging strip so that its gap is [xc - c, xc + c]. [derived]

    Notes
    -----
    F(v) = (v - c)2(v + 2c)/3, G(v) = (v2 - c2)2/4, v+ = h - xc, v- = h + xc:
    P = (K/2R)(F(v+) + F(v-)), M = xc P + (K/2R)(G(v+) - G(v-)), heave (xc2 - c2)/2R.
    """
    c, xc = gap_half, gap_centre
    ahead, behind = length / 2 - xc, length / 2 + xc

    def force(v: float) -> float:
        return (v - c) ** 2 * (v + 2 * c) / 3

    def moment(v: float) -> float:
        return (v**2 - c**2) ** 2 / 4

    factor = line_modulus / (2 * radius)
    load = factor * (force(ahead) + force(behind))
    turning = xc * load + factor * (moment(ahead) - moment(behind))
    return TiltedBridge(
        load=load,
        eccentricity=turning / load,
        heave=(xc**2 - c**2) / (2 * radius),
        angle=-xc / radius,
        front=(ahead**2 - c**2) / (2 * radius),
        rear=(behind**2 - c**2) / (2 * radius),
    )


# --- Bowl-shaped and strip contacts on any layer ------------------------------------------------


def paraboloid_load(*, law: LayerLaw, approach: float, radius_x: float, radius_y: float) -> float:
    """Return the load [N] that presses an elliptic paraboloid in by ``approach`` [m].

    Notes
    -----
    P = 2 pi sqrt(RxRy) Psi(d) for any law, as the area at compression u to u + du is
    2 pi sqrt(RxRy) du. [derived] For a linear layer this is pi k sqrt(RxRy) d2.

    References
    ----------
    K. L. Johnson, Contact Mechanics (Cambridge 1985), sec. 4.3 [memory] for the linear case.
    """
    return float(2 * np.pi * np.sqrt(radius_x * radius_y) * law.energy(approach))


def paraboloid_approach(*, law: LayerLaw, load: float, radius_x: float, radius_y: float) -> float:
    """Return the approach [m] under a load [N]; the inverse of `paraboloid_load`."""

    def unbalanced(d: float) -> float:
        return paraboloid_load(law=law, approach=d, radius_x=radius_x, radius_y=radius_y) / load - 1

    return float(brentq(unbalanced, 1e-9, _bracket(unbalanced), xtol=1e-16))


def _bracket(function: Callable[[float], float]) -> float:
    high = 1e-4
    while function(high) < 0:
        high *= 2
    return high


def stiffening_strip_load(
    *, pressure_scale: float, compression_scale: float, radius: float, width: float, approach: float
) -> float:
    """Return the load [N] of a rocking strip on a stiffening pad alone, p = ps(exp(u/us) - 1).

    Notes
    -----
    P = W ps (exp(d/us) sqrt(2 pi R us) erf(sqrt(d/us)) - 2 sqrt(2Rd)). [derived]
    """
    ratio = approach / compression_scale
    bell = np.exp(ratio) * np.sqrt(2 * np.pi * radius * compression_scale) * erf(np.sqrt(ratio))
    return float(width * pressure_scale * (bell - 2 * np.sqrt(2 * radius * approach)))


# --- Two inclined bars --------------------------------------------------------------------------


@dataclass(frozen=True)
class InclinedBars:
    """Heave [m], pressure [Pa], roll stiffness [N m/rad] and roll [rad] of two flat bars."""

    heave: float
    pressure: float
    roll_stiffness: float
    roll: float


def inclined_bars(
    *,
    modulus_per_area: float,
    length: float,
    width: float,
    offset: float,
    slope: float,
    axis_height: float,
    load: float,
    roll_moment: float,
) -> InclinedBars:
    """Return the response of two flat bars sloped like a roof, all in contact. [derived]

    Parameters
    ----------
    offset, slope : float
        Of each bar's middle from the midline [m] and of its underside from level [rad].
    axis_height : float
        Of the roll axis above the bars' middles [m].

    Notes
    -----
    Heave P/(2kA cos2 b), pressure P/(2A cos b); roll stiffness 2kA(q0^2 + W2/12) with
    q0 = s cos b + z sin b. It falls to 2kA W2/12 about the axis z = -s/tan b, where the two bars'
    normals meet.
    """
    area, c, s = length * width, np.cos(slope), np.sin(slope)
    lever = offset * c + axis_height * s
    stiffness = 2 * modulus_per_area * area * (lever**2 + width**2 / 12)
    return InclinedBars(
        heave=load / (2 * modulus_per_area * area * c**2),
        pressure=load / (2 * area * c),
        roll_stiffness=stiffness,
        roll=roll_moment / stiffness,
    )
