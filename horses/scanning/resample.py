"""From triangles to heights over an even grid. Where the scan has a hole, the grid has one too."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from horses.scanning.surface import Array, Surface

STEP = 0.005  # [m] between heights, about half the distance between a phone scan's points
FRONT, BEHIND_SUPPORT = -0.06, 0.12  # [m] from the blade, and behind the last rib
OUTER = 0.30  # [m] off the midline: sections reach 15 cm down
BEARING = 0.19  # [m] off the midline: where a saddle may bear
AT_ONCE = 2_000_000
WORTH_TELLING = 4e-4  # [m2] 2 cm by 2 cm: smaller holes lie between a phone scan's points


@dataclass(frozen=True, eq=False)
class BackGrid:
    """Heights of the back over the level plane; not a number where the scan has a hole.

    Attributes
    ----------
    x : (n,) array
        Behind the shoulder blade [m].
    y : (m,) array
        Off the midline, positive outward, starting at the midline [m].
    heights : (2, n, m) array
        Left and right [m].
    """

    x: Array
    y: Array
    heights: Array

    def save(self, path: Path) -> None:
        with path.open("wb") as file:
            np.savez_compressed(file, x=self.x, y=self.y, heights=self.heights.astype(np.float32))

    @classmethod
    def opened(cls, path: Path) -> BackGrid:
        with np.load(path, allow_pickle=False) as kept:
            return cls(kept["x"], kept["y"], kept["heights"].astype(float))


@dataclass(frozen=True)
class Hole:
    """A patch that the scan does not show: side, middle, and area [m, m2]."""

    side: str
    behind_blade: float
    off_midline: float
    area: float


def resample(surface: Surface, *, support: float) -> BackGrid:
    """Return the heights of an aligned surface [m], from the blades to behind the last rib.

    `support` is the distance from the blade to the last rib [m]. Where layers lie above each
    other, the upper one counts. Nothing is filled in.
    """
    x = np.arange(FRONT, support + BEHIND_SUPPORT + STEP / 2, STEP)
    y = np.arange(0.0, OUTER + STEP / 2, STEP)
    both = np.concatenate([-y[:0:-1], y])
    z = heights_over(surface, x, both)
    middle = len(y) - 1
    return BackGrid(x, y, np.stack([z[:, middle::-1], z[:, middle:]]))


def heights_over(surface: Surface, x: Array, y: Array) -> Array:
    """Return the highest point of a surface over each node of an even grid, (n, m)."""
    z = np.full(len(x) * len(y), -np.inf)
    corners = surface.vertices[surface.faces]
    low, high = corners.min(axis=1), corners.max(axis=1)
    inside = (high[:, 0] >= x[0]) & (low[:, 0] <= x[-1])
    inside &= (high[:, 1] >= y[0]) & (low[:, 1] <= y[-1])
    corners = corners[inside]
    first_x, count_x = _span(corners[:, :, 0], x)
    first_y, count_y = _span(corners[:, :, 1], y)
    nodes = count_x * count_y
    for part in _parts(nodes):
        spans = (first_x[part], first_y[part], count_y[part])
        _lay(z, corners[part], nodes[part], spans, (x, y))
    return np.where(np.isfinite(z), z, np.nan).reshape(len(x), len(y))


def _span(at: Array, axis: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the first node under each triangle along one axis, and how many there are."""
    step = axis[1] - axis[0]
    first = np.ceil((at.min(axis=1) - axis[0]) / step - 1e-9).astype(np.int64)
    last = np.floor((at.max(axis=1) - axis[0]) / step + 1e-9).astype(np.int64)
    first, last = np.maximum(first, 0), np.minimum(last, len(axis) - 1)
    return first, np.maximum(last - first + 1, 0)


def _parts(nodes: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Return the triangles in lots whose nodes fit in memory at once."""
    some = np.flatnonzero(nodes)
    lot = np.cumsum(nodes[some]) // AT_ONCE
    return np.split(some, np.flatnonzero(np.diff(lot)) + 1) if len(some) else []


def _lay(
    z: Array,
    corners: Array,
    nodes: NDArray[np.int64],
    spans: tuple[NDArray[np.int64], ...],
    axes: tuple[Array, Array],
) -> None:
    """Raise z to the triangles over each of their nodes."""
    first_x, first_y, count_y = spans
    which = np.repeat(np.arange(len(corners)), nodes)
    within = np.arange(len(which)) - np.repeat(np.cumsum(nodes) - nodes, nodes)
    i = first_x[which] + within // count_y[which]
    j = first_y[which] + within % count_y[which]
    a, b, c = (corners[which, k] for k in range(3))
    at = np.stack([axes[0][i], axes[1][j]], axis=1)
    area = _cross(b - a, c - a)
    with np.errstate(divide="ignore", invalid="ignore"):
        v = _cross(at - a[:, :2], c - a) / area
        w = _cross(b - a, at - a[:, :2]) / area
    hit = (v >= -1e-9) & (w >= -1e-9) & (v + w <= 1 + 1e-9)  # not where the triangle is upright
    height = a[:, 2] + v * (b[:, 2] - a[:, 2]) + w * (c[:, 2] - a[:, 2])
    np.maximum.at(z, (i * len(axes[1]) + j)[hit], height[hit])


def _cross(one: Array, other: Array) -> Array:
    return np.asarray(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])


def covered(grid: BackGrid, *, support: float) -> tuple[float, float]:
    """Return which share of the bearing region is there, left and right."""
    shares = np.isfinite(_bearing(grid, support)[0]).mean(axis=(1, 2))
    return float(shares[0]), float(shares[1])


def _bearing(grid: BackGrid, support: float) -> tuple[Array, Array, Array]:
    x, y = (grid.x >= 0) & (grid.x <= support), grid.y <= BEARING
    return grid.heights[:, x][:, :, y], grid.x[x], grid.y[y]


def holes(grid: BackGrid, *, support: float) -> tuple[Hole, ...]:
    """Return the holes in the bearing region, the largest first."""
    z, x, y = _bearing(grid, support)
    cell = float((x[1] - x[0]) * (y[1] - y[0]))
    found = []
    for side, heights in zip("LR", z, strict=True):
        patches, count = ndimage.label(np.isnan(heights), structure=np.ones((3, 3)))
        for number in range(1, count + 1):
            i, j = np.nonzero(patches == number)
            found.append(Hole(side, float(x[i].mean()), float(y[j].mean()), len(i) * cell))
    told = [hole for hole in found if hole.area >= WORTH_TELLING]
    return tuple(sorted(told, key=lambda hole: -hole.area))
