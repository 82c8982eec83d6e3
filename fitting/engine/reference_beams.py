"""Closed forms for beams on an elastic foundation, bonded and tensionless.

Conventions: beam of length L and bending stiffness EI on a foundation of K per length [Pa], x from
its middle, deflections positive down, moments positive where the beam sags; lambda = (K/4EI)^(1/4).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from .laws import Array

LIFT_OFF = np.pi  # lambda L beyond which a part of a weightless free beam leaves the foundation


@dataclass(frozen=True)
class BentBeam:
    """Deflections at the middle and the ends [m], moment at the middle [N m], contact [m]."""

    middle: float
    end: float
    moment: float
    contact: float


def stiffness_ratio(*, line_modulus: float, bending_stiffness: float) -> float:
    """Return lambda = (K/4EI)^(1/4) [1/m]."""
    return float((line_modulus / (4 * bending_stiffness)) ** 0.25)


def centrally_loaded_beam(
    *, load: float, length: float, line_modulus: float, bending_stiffness: float
) -> BentBeam:
    """Return a free beam loaded in the middle, all in contact (lambda L up to pi).

    References
    ----------
    M. Hetenyi, Beams on Elastic Foundation (Univ. of Michigan Press 1946), ch. IV, beams with
    free ends [section seen, this case memory].
    """
    ratio = stiffness_ratio(line_modulus=line_modulus, bending_stiffness=bending_stiffness)
    a = ratio * length
    below = np.sinh(a) + np.sin(a)
    scale = load * ratio / (2 * line_modulus)
    return BentBeam(
        middle=float(scale * (np.cosh(a) + np.cos(a) + 2) / below),
        end=float(4 * scale * np.cosh(a / 2) * np.cos(a / 2) / below),
        moment=float(load / (4 * ratio) * (np.cosh(a) - np.cos(a)) / below),
        contact=length,
    )


def end_loaded_beam(
    *, load: float, length: float, line_modulus: float, bending_stiffness: float
) -> BentBeam:
    """Return a free beam with ``load`` at each end, all in contact (lambda L up to pi).

    References
    ----------
    M. Hetenyi, Beams on Elastic Foundation (1946), sec. 19a, eqs 37a to 37c [seen].
    """
    ratio = stiffness_ratio(line_modulus=line_modulus, bending_stiffness=bending_stiffness)
    a = ratio * length
    below = np.sinh(a) + np.sin(a)
    scale = 2 * load * ratio / line_modulus
    return BentBeam(
        middle=float(2 * scale * np.cosh(a / 2) * np.cos(a / 2) / below),
        end=float(scale * (np.cosh(a) + np.cos(a)) / below),
        moment=float(-2 * load / ratio * np.sinh(a / 2) * np.sin(a / 2) / below),
        contact=length,
    )


def endless_beam(
    *, load: float, line_modulus: float, bending_stiffness: float
) -> tuple[float, float]:
    """Return deflection [m] and moment [N m] under a load on an endless bonded beam.

    w = P lambda/2K, M = P/(4 lambda).

    References
    ----------
    M. Hetenyi, Beams on Elastic Foundation (1946), ch. II [memory].
    """
    ratio = stiffness_ratio(line_modulus=line_modulus, bending_stiffness=bending_stiffness)
    return load * ratio / (2 * line_modulus), load / (4 * ratio)


def lifting_centrally_loaded_beam(
    *, load: float, length: float, line_modulus: float, bending_stiffness: float
) -> BentBeam:
    """Return a weightless beam loaded in the middle whose ends lift (lambda L above pi).

    Notes
    -----
    Contact reaches pi/(2 lambda) to each side whatever the load; the ends are straight, of slope
    0.4345372 P lambda2/K.

    References
    ----------
    From Hetenyi's eq. 37a, whose end deflection vanishes at lambda l = pi; that contact does not
    depend on the load: Y. Weitsman, On foundations that react in compression only, J. Appl. Mech.
    37 (1970) [memory]; N. C. Tsai and R. E. Westmann, J. Eng. Mech. Div. ASCE 93 (1967) [memory].
    """
    ratio = stiffness_ratio(line_modulus=line_modulus, bending_stiffness=bending_stiffness)
    contact = np.pi / ratio
    coth = 1 / np.tanh(np.pi / 2)
    slope = 0.4345372 * load * ratio**2 / line_modulus
    return BentBeam(
        middle=float(load * ratio / (2 * line_modulus) * coth),
        end=float(-slope * (length - contact) / 2),
        moment=float(load / (4 * ratio) * coth),
        contact=float(contact),
    )


# Derivatives of cosh cos, sinh sin, cosh sin, sinh cos in terms of one another.
DERIVATIVE = np.array(
    [[0.0, 0.0, 1.0, 1.0], [0.0, 0.0, 1.0, -1.0], [-1.0, 1.0, 0.0, 0.0], [1.0, 1.0, 0.0, 0.0]]
)


def lifting_end_loaded_beam(
    *, load: float, length: float, line_modulus: float, bending_stiffness: float
) -> BentBeam:
    """Return a weightless beam with ``load`` at each end whose middle lifts (lambda L above pi).

    Notes
    -----
    On 0 <= x <= c from an end, w is a sum of cosh cos, sinh sin, cosh sin and sinh cos with
    w''(0) = 0, EI w'''(0) = P, w(c) = 0, w'''(c) = 0; the middle is an arc of even moment, so
    w'(c) + w''(c)(L/2 - c) = 0 fixes lambda c whatever the load. ``contact`` is c, at each end.
    [derived]

    References
    ----------
    A. D. Lovcov, A freely resting beam on a tensionless Winkler foundation loaded by forces at its
    ends, Engineering Journal of Don 2025 no. 10 [abstract]: lift-off beyond pi, independent of
    the load.
    """
    ratio = stiffness_ratio(line_modulus=line_modulus, bending_stiffness=bending_stiffness)
    shear = load / (bending_stiffness * ratio**3)

    def shape(reach: float) -> Array:
        third = _basis(0.0) @ np.linalg.matrix_power(DERIVATIVE, 3)
        conditions = np.array(
            [
                _basis(0.0) @ DERIVATIVE @ DERIVATIVE,
                third,
                _basis(reach),
                _basis(reach) @ np.linalg.matrix_power(DERIVATIVE, 3),
            ]
        )
        return np.asarray(np.linalg.solve(conditions, [0.0, shear, 0.0, 0.0]), float)

    def kink(reach: float) -> float:
        slope = _basis(reach) @ DERIVATIVE @ shape(reach)
        bend = _basis(reach) @ DERIVATIVE @ DERIVATIVE @ shape(reach)
        return float(slope + bend * (ratio * length / 2 - reach))

    reach = brentq(kink, 0.3, np.pi / 2, xtol=1e-14)
    bend = float(_basis(reach) @ DERIVATIVE @ DERIVATIVE @ shape(reach))
    slope = float(_basis(reach) @ DERIVATIVE @ shape(reach))
    free = ratio * length / 2 - reach
    return BentBeam(
        middle=slope * free + 0.5 * bend * free**2,
        end=float(_basis(0.0) @ shape(reach)),
        moment=-bending_stiffness * ratio**2 * bend,
        contact=reach / ratio,
    )


def _basis(s: float) -> Array:
    return np.array(
        [
            np.cosh(s) * np.cos(s),
            np.sinh(s) * np.sin(s),
            np.cosh(s) * np.sin(s),
            np.sinh(s) * np.cos(s),
        ]
    )


def lifting_load(
    *, weight_per_length: float, line_modulus: float, bending_stiffness: float
) -> tuple[float, float]:
    """Return the load [N] that first lifts an endless heavy beam, and where [m from the load].

    P = 2 q e^pi / lambda, at lambda x = pi: superposition on Hetenyi's endless beam.
    """
    ratio = stiffness_ratio(line_modulus=line_modulus, bending_stiffness=bending_stiffness)
    return float(2 * weight_per_length * np.exp(np.pi) / ratio), float(np.pi / ratio)
