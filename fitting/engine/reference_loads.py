"""Closed forms for loads and for propagated measuring error, beside those of `reference`.

Units are SI; a force acts downward, x along the bars.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .laws import Array


@dataclass(frozen=True)
class Resultant:
    """Vertical force [N], its place along x [m] and the friction asked for over the force [-]."""

    force: float
    place: float
    friction: float


def rope_resultant(
    *,
    weight: float,
    weight_place: float,
    pull: float,
    pull_angle: float,
    horn_place: float,
    horn_height: float,
) -> Resultant:
    """Return the resultant of a weight and a rope pulled forward and down at the horn (statics).

    N = P + T sin a; place (x0 P + xh T sin a + zh T cos a)/N; friction demand T cos a/N.
    """
    down, along = pull * np.sin(pull_angle), pull * np.cos(pull_angle)
    force = weight + down
    place = (weight_place * weight + horn_place * down + horn_height * along) / force
    return Resultant(force, place, along / force)


def girth_force(*, tension: float, angle: float) -> float:
    """Return the downward force [N] of a strap pulled on both sides, 2T cos g (statics)."""
    return float(2 * tension * np.cos(angle))


@dataclass(frozen=True)
class PropagatedError:
    """Standard deviations of heave [m], pitch and roll [rad], and rms pressure noise [Pa]."""

    heave: float
    pitch: float
    roll: float
    pressure: float


def propagated_shape_error(
    *, deviation: float, modulus_per_area: float, x: Array, y: Array
) -> PropagatedError:
    """Return what independent errors of the cells' heights do to a flat tree, all in contact.

    Notes
    -----
    sigma/sqrt(N), sigma/sqrt(N<x2>), sigma/sqrt(N<y2>); the fit takes up three freedoms, so the
    pressure's is k sigma sqrt((N - 3)/N). Cells at x, y (N,) symmetric about zero.

    References
    ----------
    JCGM 101:2008, Supplement 1 to the Guide to the expression of uncertainty in measurement, for
    the method of propagating distributions [memory]; the linear case is derived here.
    """
    n = len(x)
    return PropagatedError(
        heave=float(deviation / np.sqrt(n)),
        pitch=float(deviation / np.sqrt(np.sum(x**2))),
        roll=float(deviation / np.sqrt(np.sum(y**2))),
        pressure=float(modulus_per_area * deviation * np.sqrt((n - 3) / n)),
    )
