"""The horse's back: from measured profiles, or a grid of heights, to a surface of cells.

Axes: x toward the tail, y to the horse's right (off side), z up; origin on the midline, level with
the rear edge of the more rearward shoulder blade. SI units, angles in radians. Arrays that hold
both sides have a first axis of length two, left then right, and count y outward from the midline.
Left and right are measured apart and stay apart: nothing here mirrors or averages them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import PPoly

from .errors import InvalidShape
from .profiles import (
    BAR_LINE,
    SIDES,
    Array,
    LineProfile,
    Station,
    depth_at,
    height_at,
    line_curve,
    monotone_cubic,
    profile_curve,
)


@dataclass(frozen=True)
class BackShape:
    """A back measured by cross-sections and lengthwise lines.

    Attributes
    ----------
    stations : tuple of Station
        At least two, from front to rear.
    left_line, right_line : LineProfile or None
        Bar lines, `bar_line` off the midline. They set the lengthwise shape; their level and tilt
        do not matter, because the sections already say how far below the midline they run.
    midline : LineProfile or None
        Stands in for a bar line that was not measured.
    last_rib : float or None
        Distance to the top of the last rib (the nearer of the two sides) [m].
    girth_groove : float or None
        Where the girth comes to lie, behind the shoulder blade [m].
    bar_line : float
        How far off the midline the bar lines were taken [m].
    """

    stations: tuple[Station, ...]
    left_line: LineProfile | None = None
    right_line: LineProfile | None = None
    midline: LineProfile | None = None
    last_rib: float | None = None
    bar_line: float = BAR_LINE
    girth_groove: float | None = None


@dataclass(frozen=True, eq=False)
class HeightGrid:
    """A back given as heights of cell centres, from a scan or for a textbook case.

    Attributes
    ----------
    x : (n,) array
        Distances behind the shoulder blade, evenly spaced [m].
    y : (m,) array
        Distances off the midline, positive outward, evenly spaced [m].
    heights : (2, n, m) array
        Left and right [m].
    last_rib : float or None
        Distance to the top of the last rib [m].
    girth_groove : float or None
        As in `BackShape` [m].
    """

    x: Array
    y: Array
    heights: Array
    last_rib: float | None = None
    girth_groove: float | None = None


Back = BackShape | HeightGrid


@dataclass(frozen=True)
class Grid:
    """Cells laid over each half of the back: `along` by `across`, between the limits [m]."""

    front: float = -0.05
    rear: float = 0.65
    inner: float = 0.010
    outer: float = 0.190
    along: int = 80
    across: int = 16

    def centres(self) -> tuple[Array, Array]:
        """Return the cell centres along x and outward along y [m]."""
        if min(self.along, self.across) < 3 or self.rear <= self.front or self.outer <= self.inner:
            raise InvalidShape(f"needs three cells each way and a size, got {self}", path="grid")
        step_x = (self.rear - self.front) / self.along
        step_y = (self.outer - self.inner) / self.across
        x = self.front + step_x * (np.arange(self.along, dtype=float) + 0.5)
        return x, self.inner + step_y * (np.arange(self.across, dtype=float) + 0.5)


@dataclass(frozen=True, eq=False)
class BackSurface:
    """A back as cells: `z`, `area` (2, n, m) and outward `normal` (2, n, m, 3), y signed.

    `midline` (n,) is the height of the spine where sections tell it; `warnings` lists what had to
    be assumed. A surface can be reused for any number of trees.
    """

    x: Array
    y: Array
    z: Array
    normal: Array
    area: Array
    midline: Array | None = None
    warnings: tuple[str, ...] = ()

    @property
    def points(self) -> Array:
        """Cell centres (2, n, m, 3), y signed [m]."""
        x, y = np.meshgrid(self.x, self.y, indexing="ij")
        return np.stack(
            [np.stack([x, sign * y, z], axis=-1) for sign, z in zip((-1, 1), self.z, strict=True)]
        )


def section_curves(back: BackShape) -> tuple[tuple[PPoly, PPoly], ...]:
    """Return the (left, right) depth curves of each station, after checking their order."""
    if len(back.stations) < 2:
        raise InvalidShape(
            f"needs two or more stations, got {len(back.stations)}", path="back.stations"
        )
    distances = [station.distance for station in back.stations]
    if not np.isfinite(distances).all() or np.any(np.diff(distances) <= 0):
        raise InvalidShape(
            f"stations must run from front to rear, got {distances}", path="back.stations"
        )
    return tuple(
        (
            profile_curve(station.left, path=f"back.stations.{i}.left"),
            profile_curve(station.right, path=f"back.stations.{i}.right"),
        )
        for i, station in enumerate(back.stations)
    )


class BackModel:
    """A measured back as two height functions; the lengthwise lines are levelled on the sections.

    Notes
    -----
    z(x, y) = line(x) + depth(x, bar line) - depth(x, y). Where a side has a bar line, the line it
    implies for the midline, line + depth, is moved and tilted so that both sides agree on the
    midline's straight trend: a curve lifted off the back keeps its shape, not its level.
    """

    def __init__(self, back: BackShape) -> None:
        self.back = back
        self.curves = section_curves(back)
        self.distances = np.array([s.distance for s in back.stations])
        self.warnings: list[str] = []
        self._lines = [self._line(side) for side in range(2)]
        bar_line = [[depth_at(c, [back.bar_line]) for c in pair] for pair in self.curves]
        self._bar_line_depth = self._along(np.array(bar_line))
        self._trend = self._levels()

    def _line(self, side: int) -> PPoly:
        name = SIDES[side]
        own = self.back.left_line if side == 0 else self.back.right_line
        if own is not None:
            return line_curve(own, path=f"back.{name}_line")
        if self.back.midline is None:
            raise InvalidShape(
                f"the {name} side has neither a bar line nor a midline profile, so its lengthwise "
                "shape is unknown",
                path=f"back.{name}_line",
            )
        self.warnings.append(
            f"No bar line on the {name} side: the midline stands in for it, which shows bone "
            "rather than muscle."
        )
        return line_curve(self.back.midline, path="back.midline")

    def _owns_line(self, side: int) -> bool:
        return (self.back.left_line if side == 0 else self.back.right_line) is not None

    def depth(self, x: ArrayLike, y: ArrayLike) -> Array:
        """Return depth below the midline [m] at x (n,) and outward y (m,), shape (2, n, m)."""
        table = np.array([[depth_at(curve, y) for curve in pair] for pair in self.curves])
        return self._along(table)(x)

    def _along(self, table: Array) -> Callable[[ArrayLike], Array]:
        """Interpolate (stations, 2, m) along x, as at the end stations beyond them: (2, n, m)."""
        curve = monotone_cubic(self.distances, table)
        first, last = self.distances[0], self.distances[-1]
        return lambda x: np.moveaxis(np.asarray(curve(np.clip(x, first, last)), float), 0, 1)

    def _implied_midlines(self, x: Array) -> Array:
        """Return the midline each side implies before levelling, (2, n) [m]."""
        lines = np.array([height_at(line, x) for line in self._lines])
        own = np.array([self._owns_line(side) for side in range(2)])
        return lines + own[:, None] * self._bar_line_depth(x)[:, :, 0]

    def _levels(self) -> Array:
        """Return the straight line (tilt, level) to add to each side, (2, 2)."""
        x = np.linspace(self.distances[0], self.distances[-1], 41)
        fits = np.polyfit(x, self._implied_midlines(x).T, 1).T
        target = fits.mean(axis=0)
        if self.back.midline is not None:
            target = np.polyfit(x, height_at(line_curve(self.back.midline), x), 1)
        return np.asarray(target - fits, float)

    def midline_height(self, x: ArrayLike) -> Array:
        """Return the height of the midline that each side implies at x (n,), (2, n) [m]."""
        x = np.asarray(x, float)
        trend = self._trend[:, :1] * x + self._trend[:, 1:]
        return np.asarray(self._implied_midlines(x) + trend, float)

    def height(self, x: ArrayLike, y: ArrayLike) -> Array:
        """Return surface heights (2, n, m) [m] at x (n,) and outward y (m,) [m]."""
        return self.midline_height(x)[:, :, None] - self.depth(x, y)


def build_surface(back: Back, *, grid: Grid | None = None) -> BackSurface:
    """Return the cells of a back.

    Parameters
    ----------
    back : BackShape or HeightGrid
        A height grid is used as it stands; `grid` lays cells over a measured back.
    grid : Grid, optional
        Cells per side; by default 80 along by 16 across.

    Raises
    ------
    InvalidShape
        If a profile is malformed, or a side has no lengthwise line.

    Notes
    -----
    Areas are those of the surface, dx dy / n_z; normals come from second-order differences.
    """
    if isinstance(back, HeightGrid):
        return from_heights(*_checked_grid(back))
    model = BackModel(back)
    x, y = (grid or Grid()).centres()
    midline = model.midline_height(x).mean(axis=0)
    return from_heights(x, y, model.height(x, y), midline, tuple(model.warnings))


def _checked_grid(back: HeightGrid) -> tuple[Array, Array, Array]:
    x, y = even_axis(back.x, path="back.x"), even_axis(back.y, path="back.y")
    z = np.asarray(back.heights, float)
    if z.shape != (2, len(x), len(y)):
        raise InvalidShape(
            f"has shape {z.shape}, needs (2, {len(x)}, {len(y)})", path="back.heights"
        )
    if not np.isfinite(z).all():
        raise InvalidShape("holds a value that is not a finite number", path="back.heights")
    return x, y, z


def even_axis(values: ArrayLike, *, path: str) -> Array:
    """Return the axis of a grid with its steps evened out.

    Raises
    ------
    InvalidShape
        If there are fewer than three values, or the steps differ by over half a percent.
    """
    axis = np.asarray(values, float)
    if axis.ndim != 1 or len(axis) < 3:
        raise InvalidShape("needs three or more values", path=path)
    steps = np.diff(axis)
    if not np.all(steps > 0) or np.ptp(steps) > 5e-3 * steps.mean():
        raise InvalidShape("must grow in even steps", path=path)
    return np.linspace(axis[0], axis[-1], len(axis))


def from_heights(
    x: Array,
    y: Array,
    z: Array,
    midline: Array | None = None,
    warnings: tuple[str, ...] = (),
) -> BackSurface:
    """Return the cells of heights (2, n, m) over even axes x and outward y [m]."""
    slope_x, slope_y = np.gradient(z, x, y, axis=(1, 2), edge_order=2)
    sign = np.array([-1.0, 1.0])[:, None, None]
    normal = np.stack([-slope_x, -slope_y * sign, np.ones_like(z)], axis=-1)
    length = np.linalg.norm(normal, axis=-1)
    area = length * (x[1] - x[0]) * (y[1] - y[0])
    return BackSurface(x, y, z, normal / length[..., None], area, midline, warnings)
