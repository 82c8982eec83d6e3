"""How a back changes shape under a tree: it bends to a side, rounds, or hollows.

Bending. Over the bars the midline becomes an arc of constant curvature in the level plane, each
cross-section staying square on it, so the bar line on the inside is shorter by the factor 1 - k n
(k curvature, n distance toward the inside) and the one on the outside longer. Muscle keeps its
volume: its cross-section grows on the inside by the factor its length shrinks by, and thins on
the outside; the breadth of the muscle is held, so all of that goes into its depth. The tree stays
along the mean line of the arc under its bars, centred on it: it is carried round by the horse.
Axial rotation, which goes with bending, is left out, and so is any give of the ribs.

Rounding and hollowing. The withers are a pivot and the croup is held; between them the back line
rises by lift * b(t) / b_max with b = t - t^3. Its curvature grows from nothing at the withers
toward the loin, where the lift is greatest: the back works from the loin, not from the middle.
The top line's change of length (about 1 %) would thin the muscle by under a millimetre; left out.

Sizes. Vertebral range at walk, whole swing: lateral bend 6.3 degrees at T13 in sound horses
(Wennerstrand et al. 2004, Equine Vet J 36:707-711, abstract read); flexion and extension about 7
behind T10 (Faber et al. 2000, Am J Vet Res 61:399-406, abstract read), 2.8 to 4.9 at trot (Faber
et al. 2001, 62:757-764). Such an angle is read over about 0.18 m of back (three to four vertebrae;
from memory). Half the swing then bends 17 in of back by 7.6 degrees and lifts the loin by 25 mm at
walk, 10 to 17 mm at trot. Standing horses provoked to it reach far more: 65 mm to a side, 91 mm up
and 37 mm down at T16 (Licka and Peham 1998, of 155 cm). The shapes are assumptions; no published
measurement of a back's surface in motion was found.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RectBivariateSpline

from .geometry import BackSurface, from_heights
from .profiles import STRAIGHT_EDGE, Array

MIDDLE = 0.28  # [m] behind the blade: middle of the bars where no tree says; assumption
WITHERS, CROUP = 0.05, 0.80  # [m] held while the back between rounds or hollows; assumption
MUSCLE_DEPTH = 0.060  # [m] of the long muscle at its deepest, straight down; assumption
MUSCLE_EDGES = (0.02, 0.06, 0.14, 0.22)  # [m] off the midline: begins, full, full, ends; assumption
_RISE = 2.0 / (3.0 * np.sqrt(3.0))  # largest value of t - t^3, at t = 1 / sqrt 3


@dataclass(frozen=True)
class BackChange:
    """A change of shape from the standing back.

    Attributes
    ----------
    bend : float
        Turn of the midline over 17 in under the bars, positive when hollow (concave) to the right
        [rad].
    lift : float
        Rise of the loin over its place when standing: positive rounded, negative hollowed [m].
    """

    bend: float = 0.0
    lift: float = 0.0


AS_STANDING = BackChange()


def moved(
    surface: BackSurface,
    change: BackChange,
    *,
    middle: float = MIDDLE,
    muscle: float = MUSCLE_DEPTH,
) -> BackSurface:
    """Return a back's cells after a change of shape, on the same grid.

    Parameters
    ----------
    surface : BackSurface
        Standing.
    change : BackChange
        The same surface is returned where it is nothing.
    middle : float
        Middle of the bars behind the blade, along which the tree keeps its direction [m].
    muscle : float
        Greatest depth of muscle [m]; 0 moves the surface as bone.

    Returns
    -------
    BackSurface
        Heights where the moved back crosses the old grid; carried on straight past its edge.
    """
    if change == AS_STANDING:
        return surface
    z, midline = surface.z, surface.midline
    if change.bend:
        z, midline = _bent(surface, change.bend / STRAIGHT_EDGE, middle, muscle)
    rise = change.lift * lift_shape(surface.x)
    z = z + rise[:, None]
    midline = None if midline is None else midline + rise
    return from_heights(surface.x, surface.y, z, midline, surface.warnings)


def lift_shape(x: Array) -> Array:
    """Return the rise along the back (n,) per unit of lift; a straight line ahead of the withers.

    Largest, 1, at the front of the loin, 0.48 m behind the blade.
    """
    t = (x - WITHERS) / (CROUP - WITHERS)
    return np.asarray(np.where(t > 0, t - t**3, t) / _RISE, float)


def muscle_depth(y: Array, deepest: float = MUSCLE_DEPTH) -> Array:
    """Return the depth of muscle at distances off the midline [m]; none over the spine."""
    begins, full, still_full, ends = MUSCLE_EDGES
    up, down = (np.abs(y) - begins) / (full - begins), (ends - np.abs(y)) / (ends - still_full)
    share = np.clip(np.minimum(up, down), 0.0, 1.0)
    return np.asarray(deepest * share**2 * (3 - 2 * share), float)


def unbent(x: Array, y: Array, curvature: float, middle: float) -> tuple[Array, Array]:
    """Return where on the standing back (x, signed y) the points of a bent one come from [m].

    Notes
    -----
    With u = k (x - middle) and w = 1 - k (y - y0), the arc's centre lies at distance
    r = sqrt(u^2 + w^2) / k: so n = (1 - r k) / k toward the inside and the angle along it is
    atan2(u, w). Written so that nothing is lost for small k. y0 = -k L^2 / 24 centres the arc over
    the length L of 17 in.
    """
    from_middle = x - middle
    outward = y + curvature * STRAIGHT_EDGE**2 / 24
    u, w = curvature * from_middle, 1.0 - curvature * outward
    n = (2 * outward - curvature * (from_middle**2 + outward**2)) / (1.0 + np.hypot(u, w))
    return middle + np.arctan2(u, w) / curvature, n


def _bent(
    surface: BackSurface, curvature: float, middle: float, muscle: float
) -> tuple[Array, Array | None]:
    """Heights (2, n, m), and of the midline (n,), of a back bent to an arc."""
    y = surface.y
    x, across = np.meshgrid(surface.x, np.concatenate([-y[::-1], [0.0], y]), indexing="ij")
    from_x, n = unbent(x, across, curvature, middle)
    grown = muscle_depth(n, muscle) * curvature * n / (1.0 - curvature * n)
    z = _read(surface, from_x, n) + grown
    m = len(y)
    sides = np.array([z[:, m - 1 :: -1], z[:, m + 1 :]])
    return sides, None if surface.midline is None else z[:, m]


def _read(surface: BackSurface, x: Array, y: Array) -> Array:
    """Heights at places (any shape) of the standing back; straight on past the grid."""
    left, right = surface.z
    across, heights = [-surface.y[::-1], surface.y], [left[:, ::-1], right]
    if surface.y[0] == 0.0:  # both sides begin on the midline: once is enough
        across[1], heights[1] = across[1][1:], heights[1][:, 1:]
    elif surface.midline is not None:
        across.insert(1, np.zeros(1))
        heights.insert(1, surface.midline[:, None])
    grid_y = np.concatenate(across)
    order = min(3, len(surface.x) - 1)
    spline = RectBivariateSpline(surface.x, grid_y, np.hstack(heights), kx=order, ky=3)
    in_x, in_y = np.clip(x, *surface.x[[0, -1]]), np.clip(y, *grid_y[[0, -1]])
    z = spline.ev(in_x, in_y)
    z = z + spline.ev(in_x, in_y, dx=1) * (x - in_x) + spline.ev(in_x, in_y, dy=1) * (y - in_y)
    return np.asarray(z, float)
