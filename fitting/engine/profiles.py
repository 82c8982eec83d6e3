"""What a fitter traces off a back: half-sections and lengthwise lines, as smooth curves.

SI units; y counts outward from the midline, depth downward from it, x behind the shoulder blade.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PPoly

from .errors import InvalidShape

Array = NDArray[np.float64]
Side = Literal["left", "right"]
SIDES: tuple[Side, Side] = ("left", "right")

STRAIGHT_EDGE = 0.4318  # [m] 17 in, the length over which rock and dip are read; common practice
BAR_LINE = 0.088  # [m] off the midline: 3 to 4 in, where a bar sits; common practice, no source
SLOPE_BAND = (0.060, 0.140)  # [m] off the midline, between which a slope is read (our definition)
ANGLE_AT = 0.100  # [m] off the midline, where the included angle is read (our definition)
STANDARD_DEPTHS = (0.0, 0.010, 0.020, 0.030, 0.050, 0.080, 0.100, 0.120, 0.150)  # [m]


@dataclass(frozen=True)
class HalfProfile:
    """One side of a cross-section: half-widths [m] at depths below the midline [m]."""

    half_widths: tuple[float, ...]
    depths: tuple[float, ...]


@dataclass(frozen=True)
class Station:
    """A cross-section at a distance behind the shoulder blade [m], each side measured."""

    name: str
    distance: float
    left: HalfProfile
    right: HalfProfile


@dataclass(frozen=True)
class LineProfile:
    """Heights [m] of a lengthwise line at distances behind the shoulder blade [m]."""

    distances: tuple[float, ...]
    heights: tuple[float, ...]


def monotone_cubic(x: Array, y: Array, *, extrapolate: bool = True) -> PPoly:
    """Return the monotone cubic through points (n,), along the first axis of y (n, ...).

    Notes
    -----
    The same curve as scipy's PchipInterpolator, which spends many times as long on checking its
    input; here that has been done. Not a number outside the points without `extrapolate`.

    References
    ----------
    F. N. Fritsch and J. Butland, A method for constructing local monotone piecewise cubic
    interpolants, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304 [memory].
    """
    step = np.diff(x).reshape(-1, *[1] * (y.ndim - 1))
    chord = np.diff(y, axis=0) / step
    slope = np.repeat(chord, 2, axis=0) if len(x) == 2 else _monotone_slopes(step, chord)
    bend = (slope[:-1] + slope[1:] - 2 * chord) / step
    rows = [bend / step, (chord - slope[:-1]) / step - bend, slope[:-1], y[:-1]]
    return PPoly.construct_fast(np.array(rows), x, extrapolate)


def _monotone_slopes(step: Array, chord: Array) -> Array:
    """Slopes at the points: a weighted harmonic mean of the chords, zero where they turn."""
    same_way = chord[:-1] * chord[1:] > 0
    before, after = (np.where(same_way, part, 1.0) for part in (chord[:-1], chord[1:]))
    first, second = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    mean = (first + second) / (first / before + second / after)
    start = _end_slope(step[0], step[1], chord[0], chord[1])
    end = _end_slope(step[-1], step[-2], chord[-1], chord[-2])
    return np.concatenate([start[None], np.where(same_way, mean, 0.0), end[None]])


def _end_slope(step: Array, next_step: Array, chord: Array, next_chord: Array) -> Array:
    """Slope at an end: of the parabola through three points, held to the way the end runs."""
    slope = ((2 * step + next_step) * chord - step * next_chord) / (step + next_step)
    slope = np.where(slope * chord > 0, slope, 0.0)
    steep = (chord * next_chord < 0) & (np.abs(slope) > 3 * np.abs(chord))
    return np.asarray(np.where(steep, 3 * chord, slope), float)


@lru_cache(maxsize=512)  # many trees and draws share a section; its curve is only ever read
def profile_curve(profile: HalfProfile, *, path: str = "profile") -> PPoly:
    """Return depth [m] as a monotone cubic of the distance off the midline [m].

    Raises
    ------
    InvalidShape
        If there are fewer than three points, or the half-widths don't grow with depth.

    References
    ----------
    F. N. Fritsch and R. E. Carlson, Monotone piecewise cubic interpolation, SIAM J. Numer. Anal.
    17 (1980) 238-246, doi 10.1137/0717021 [memory].
    """
    y, d = np.asarray(profile.half_widths, float), np.asarray(profile.depths, float)
    if y.ndim != 1 or y.shape != d.shape or len(y) < 3:
        raise InvalidShape(
            f"needs three or more half-widths and as many depths, got {len(y)} and {len(d)}",
            path=path,
        )
    if not (np.isfinite(y).all() and np.isfinite(d).all()):
        raise InvalidShape("holds a value that is not a finite number", path=path)
    if y[0] > 0:
        y, d = np.insert(y, 0, 0.0), np.insert(d, 0, 0.0)
    if np.any(np.diff(y) <= 0) or np.any(np.diff(d) < 0) or y[0] < 0 or d[0] < 0:
        raise InvalidShape(
            f"half-widths must grow with depth, got {profile.half_widths} at {profile.depths}",
            path=path,
        )
    return monotone_cubic(y, d, extrapolate=False)


def depth_at(curve: PPoly, y: ArrayLike) -> Array:
    """Return the depth [m] at distances off the midline [m]; straight on beyond the last point."""
    y = np.asarray(y, float)
    end = curve.x[-1]
    inside = np.minimum(y, end)
    return np.asarray(curve(inside) + (y - inside) * float(curve(end, 1)), float)


def half_width_at(curve: PPoly, depth: ArrayLike) -> Array:
    """Return the half-width [m] at depths [m]; not a number below the deepest point measured."""
    y = np.linspace(0.0, curve.x[-1], 1001)
    depths = np.asarray(curve(y), float)
    asked = np.asarray(depth, float)
    asked = np.where(np.isclose(asked, depths[-1], rtol=0, atol=1e-9), depths[-1], asked)
    return np.asarray(np.interp(asked, depths, y, right=np.nan), float)


def resample_profile(
    profile: HalfProfile, *, depths: tuple[float, ...] = STANDARD_DEPTHS
) -> HalfProfile:
    """Return the same half-profile at other depths [m], leaving out those below its end."""
    widths = half_width_at(profile_curve(profile), depths)
    kept = [(float(w), d) for w, d in zip(widths, depths, strict=True) if np.isfinite(w)]
    return HalfProfile(tuple(w for w, _ in kept), tuple(d for _, d in kept))


def power_profile(
    *, half_width_3: float, half_width_15: float, depths: tuple[float, ...] = STANDARD_DEPTHS
) -> HalfProfile:
    """Return the half-profile depth = 3 cm (y/y3)^p through the widths 3 and 15 cm down [m].

    Notes
    -----
    p = ln 5 / ln(y15/y3), so that y = y3 (depth / 3 cm)^(1/p). Two widths 3 and 15 cm below the
    midline are what back-shape studies report (Greve and Dyson 2014, doi 10.1111/evj.12267_161);
    the power law between them is our own choice.
    """
    if not 0 < half_width_3 < half_width_15:
        raise InvalidShape(f"needs 0 < {half_width_3} < {half_width_15}", path="half_width_3")
    exponent = np.log(5.0) / np.log(half_width_15 / half_width_3)
    widths = half_width_3 * (np.asarray(depths) / 0.03) ** (1.0 / exponent)
    return HalfProfile(tuple(float(w) for w in widths), depths)


def sagitta_line(
    *, sagitta: float, lowest: float, front: float = -0.1, rear: float = 0.7
) -> LineProfile:
    """Return a parabola that dips by `sagitta` over 17 in, lowest at x = `lowest` [m]."""
    x = np.linspace(front, rear, 33)
    z = 4.0 * sagitta * ((x - lowest) / STRAIGHT_EDGE) ** 2
    return LineProfile(tuple(float(v) for v in x), tuple(float(v) for v in z))


@lru_cache(maxsize=128)
def line_curve(line: LineProfile, *, path: str = "line") -> PPoly:
    """Return the height [m] along a lengthwise line as a shape-preserving cubic.

    Notes
    -----
    The straight line through both ends is set aside first and added again, so that the curve found
    does not depend on how level the tracing was held.
    """
    x, z = np.asarray(line.distances, float), np.asarray(line.heights, float)
    if x.ndim != 1 or x.shape != z.shape or len(x) < 3:
        raise InvalidShape(f"needs three or more points, got {len(x)} and {len(z)}", path=path)
    if not (np.isfinite(x).all() and np.isfinite(z).all()) or np.any(np.diff(x) <= 0):
        raise InvalidShape("distances must be finite and grow from front to rear", path=path)
    tilt = (z[-1] - z[0]) / (x[-1] - x[0])
    curve = monotone_cubic(x, z - tilt * x, extrapolate=False)
    curve.c[-2] += tilt
    curve.c[-1] += tilt * x[:-1]
    return curve


def height_at(curve: PPoly, x: ArrayLike) -> Array:
    """Return the height [m] along a line [m]; straight on beyond both ends."""
    x = np.asarray(x, float)
    inside = np.clip(x, curve.x[0], curve.x[-1])
    slope = np.where(x < inside, float(curve(curve.x[0], 1)), float(curve(curve.x[-1], 1)))
    return np.asarray(curve(inside) + (x - inside) * slope, float)
