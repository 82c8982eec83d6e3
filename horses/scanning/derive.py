"""Reads from the heights of a scan what a fitter would trace: half-sections and lines.

A curve laid on the back spans its small bumps; here a flat strip fitted by least squares does, so
that the noise of a phone scan averages out. Across a hole nothing is read, and it is said where.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression

from horses.scanning.resample import BackGrid
from horses.scanning.surface import Array

STRIP = 0.015  # [m] to either side along the back; a dip of 25 mm over 17 in bends 0.1 mm in it
WIDE = 0.010  # [m] to either side across, where a line is read
CROWN = 0.012  # [m] of the section's top over which the midline's height is taken
LEAST = 4  # heights that a fitted strip needs
WIDEST_GAP = 0.0151  # [m] between neighbours of a section; three steps of the grid


@dataclass(frozen=True)
class HalfSection:
    """Half-widths at depths below the midline [m], and the depths a hole or an end took away."""

    station: str
    distance: float
    side: str
    points: tuple[tuple[float, float], ...]
    missing: tuple[float, ...]


@dataclass(frozen=True)
class Line:
    """Heights at distances behind the blade [m], and the distances where there are none."""

    name: str
    off_midline: float
    points: tuple[tuple[float, float], ...]
    missing: tuple[float, ...]


def section(
    grid: BackGrid, *, station: str, distance: float, depths: Sequence[float]
) -> tuple[HalfSection, HalfSection]:
    """Return the left and the right half of the section at a distance behind the blade [m]."""
    z = _strip(grid, distance)
    top = _crown(grid, z)
    left, right = (
        _half(grid.y, top - z[side], station, distance, "LR"[side], depths) for side in range(2)
    )
    return left, right


def _strip(grid: BackGrid, distance: float) -> Array:
    """Return heights (2, m) at a distance, each from a straight line along its own strip."""
    near = np.abs(grid.x - distance) <= STRIP + 1e-9
    return _straight(grid.x[near] - distance, grid.heights[:, near])


def _straight(x: Array, z: Array) -> Array:
    """Return the value at 0 of straight lines through z (2, k, m), nan with too few values."""
    known = np.isfinite(z)
    weight = known.astype(float)
    value = np.where(known, z, 0.0)
    n = weight.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_x = np.einsum("k,skm->sm", x, weight) / n
        mean_z = value.sum(axis=1) / n
        apart = (x[None, :, None] - mean_x[:, None]) * weight
        spread = (apart**2).sum(axis=1)
        slope = np.where(spread > 0, (apart * value).sum(axis=1) / spread, 0.0)
    is_around = (mean_x > -STRIP / 2) & (mean_x < STRIP / 2)  # else it would be reached for
    enough = (n >= min(LEAST, len(x))) & is_around
    return np.where(enough, mean_z - slope * mean_x, np.nan)


def _crown(grid: BackGrid, z: Array) -> float:
    """Return the midline's height: of a parabola through the top of the section; nan in a hole."""
    near = grid.y <= CROWN
    y = np.concatenate([-grid.y[near], grid.y[near][1:]])
    height = np.concatenate([z[0, near], z[1, near][1:]])
    known = np.isfinite(height)
    if known.sum() < 3:
        return float("nan")
    return float(np.polyfit(y[known], height[known], 2 if known.sum() > 3 else 1)[-1])


def _half(
    y: Array, depth: Array, station: str, distance: float, side: str, depths: Sequence[float]
) -> HalfSection:
    points, missing = [], []
    read = _widths(y, depth, np.asarray(depths, float))
    for asked, width in zip(depths, read, strict=True):
        if np.isfinite(width):
            points.append((float(asked), float(width)))
        else:
            missing.append(float(asked))
    return HalfSection(station, distance, side, tuple(points), tuple(missing))


def _widths(y: Array, depth: Array, asked: Array) -> Array:
    """Return half-widths at depths; nan below the end, across a hole, or without a midline."""
    known = np.flatnonzero(np.isfinite(depth))
    if len(known) < 3:
        return np.full(len(asked), np.nan)
    # Going outward a back only falls: the nearest curve that does so (least squares).
    fallen = isotonic_regression(np.maximum(depth[known], 0.0)).x
    fallen[0] = 0.0 if y[known[0]] == 0 else fallen[0]
    rising = fallen + np.arange(len(fallen)) * 1e-9  # where it is level, the inner edge counts
    width = np.interp(asked, rising, y[known], left=np.nan, right=np.nan)
    width = np.where(_crosses_gap(y[known], rising, asked), np.nan, width)
    return np.where(asked == 0, 0.0, width)


def _crosses_gap(y: Array, rising: Array, asked: Array) -> NDArray[np.bool_]:
    after = np.clip(np.searchsorted(rising, asked), 1, len(y) - 1)
    return np.asarray(y[after] - y[after - 1] > WIDEST_GAP)


def line(
    grid: BackGrid, *, name: str, off_midline: float, places: Sequence[float], side: str
) -> Line:
    """Return the heights along a line at some places; `side` L, R, or M for the midline."""
    points, missing = [], []
    for place in places:
        height = _height(grid, place, off_midline, side)
        if np.isfinite(height):
            points.append((float(place), float(height)))
        else:
            missing.append(float(place))
    return Line(name, off_midline, tuple(points), tuple(missing))


def _height(grid: BackGrid, place: float, off_midline: float, side: str) -> float:
    z = _strip(grid, place)
    if side == "M":
        return _crown(grid, z)
    near = np.abs(grid.y - off_midline) <= WIDE + 1e-9
    height = z["LR".index(side), near]
    known = np.isfinite(height)
    if known.sum() < 3:
        return float("nan")
    return float(np.polyfit(grid.y[near][known] - off_midline, height[known], 1)[-1])


def lowest(grid: BackGrid, *, support: float) -> float:
    """Return where between blade and last rib the midline is lowest [m]; nan across holes."""
    places = np.arange(0.0, support, 0.02)
    heights = np.array([_height(grid, place, 0.0, "M") for place in places])
    known = np.isfinite(heights)
    if known.sum() < 5:
        return float("nan")
    return float(places[known][np.argmin(heights[known])])
