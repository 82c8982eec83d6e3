"""Undersides as functions of position: height, slope, edges and which cells lie beneath.

Tree frame as in `trees`: x behind the front tip, y outward from the midline, z up. Every function
takes points of any shape with the side of each (0 left, 1 right).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .errors import InvalidShape
from .flexible import Bending
from .frameless import Draping, check_frameless
from .frames import frame_of, set_shape
from .geometry import even_axis
from .profiles import SIDES, STRAIGHT_EDGE, Array, monotone_cubic
from .trees import Bar, FlexibleTree, FramelessTree, Panel, PanelTree, Tree, UndersideGrid
from .yielding import Yielding

TABLE_POINTS = 241  # along the bar; 2.5 mm apart on the longest bar
DRAWN_SLOPE = np.radians(35.0)  # about that of a back beside the spine; assumption, drawing only
PANEL_TWIST = np.radians(15.0)  # assumption where not measured: low end of common practice, 15-30

# Columns of the table along the bar
_BASE, _INNER, _OUTER, _SLOPE, _CURVE = range(5)


@dataclass(frozen=True, eq=False)
class Face:
    """Both undersides as tables along x: heights, gradients and edges at any point.

    Attributes
    ----------
    step : float
        Spacing of the tables [m].
    tables : (2, n, 5) array
        Per side: height on the bar line, inner and outer edge, tangent of the slope, crown over
        the squared half-width [1/m].
    line : (2,) array
        Bar line off the midline [m].
    length : (2,) array
        Tip to tip [m].
    bearing : (2, 2) array
        Start and end of the bearing part of each side, behind the front tip [m].
    relief : float
        Radius of the edges, the smaller of both sides [m].
    start : float
        Where the underside begins: at the front tip [m].
    yields : Yielding or None
        How it settles if it gives way; None for a stiff tree.
    """

    step: float
    tables: Array
    line: Array
    length: Array
    bearing: Array
    relief: float
    start: float = 0.0
    yields: Yielding | None = None

    @cached_property
    def _columns(self) -> tuple[Array, Array]:
        """The tables and their changes to the next row, each column on its own: (5, 2 n)."""
        changes = np.diff(self.tables, axis=1, append=self.tables[:, -1:])
        starts, steps = (np.ascontiguousarray(a.reshape(-1, 5).T) for a in (self.tables, changes))
        return starts, steps

    def near(self, side: NDArray[np.intp], x: Array) -> Strip:
        """Return the bars near points at x behind the tip, for a few questions at little cost."""
        points = self.tables.shape[1]
        scaled = np.clip(x / self.step, 0.0, points - 1.000001)
        index = scaled.astype(np.intp)
        starts, changes = self._columns
        at = side * points + index
        row, change = starts.take(at, axis=1), changes.take(at, axis=1)
        row += change * (scaled - index)
        return Strip(
            face=self,
            side=side,
            x=x,
            base=row[_BASE],
            inner=row[_INNER],
            outer=row[_OUTER],
            slope=row[_SLOPE],
            curve=row[_CURVE],
            base_change=change[_BASE] / self.step,
            slope_change=change[_SLOPE] / self.step,
        )

    def height(self, side: NDArray[np.intp], x: Array, y: Array) -> tuple[Array, Array, Array]:
        """Return height [m] and its gradients along x and outward y, for points of any shape."""
        return self.near(side, x).height(x, y)

    def edges(self, side: int, x: Array) -> tuple[Array, Array]:
        """Return inner and outer edge of one side at x behind the tip [m]."""
        strip = self.near(np.full(x.shape, side, np.intp), x)
        return strip.inner, strip.outer


@dataclass(frozen=True, eq=False)
class Strip:
    """A face near points at `x`: straight on along the bar from there, so good for millimetres.

    `base`, `inner`, `outer`, `slope`, `curve` are the face's table at the points and the changes
    those along the bar; all of the points' shape.
    """

    face: Face
    side: NDArray[np.intp]
    x: Array
    base: Array
    inner: Array
    outer: Array
    slope: Array
    curve: Array
    base_change: Array
    slope_change: Array

    def height(self, x: Array, y: Array) -> tuple[Array, Array, Array]:
        """Return height [m] and its gradients along x and outward y."""
        half = (self.outer - self.inner) / 2
        across = y - self.inner - half
        off = y - self.face.line[self.side]
        # Beyond its edges the face goes on straight, so that rays near them still meet it.
        held = np.clip(across, -half, half)
        tilt = 2 * self.curve * held
        along = self.base_change - self.slope_change * off
        z = self.base - self.slope * off + along * (x - self.x) + tilt * (across - held / 2)
        if self.face.relief > 0:
            # A rounded edge falls away as a parabola over its radius, to half of it at the edge.
            reach = np.maximum((np.abs(across) - half) / self.face.relief + 1.0, 0.0)
            steep = np.minimum(reach, 1.0)
            z = z + self.face.relief * steep * (reach - steep / 2)
            tilt = tilt + steep * np.sign(across)
        return z, along, tilt - self.slope

    def cover(self, x: Array, y: Array, step_x: float, step_y: float) -> Array:
        """Return the share of each cell (0 to 1) that lies under the bar."""
        across = np.minimum(self.outer, y + step_y / 2) - np.maximum(self.inner, y - step_y / 2)
        length = self.face.length[self.side]
        along = np.minimum(length, x + step_x / 2) - np.maximum(0.0, x - step_x / 2)
        return np.asarray(np.clip(across / step_y, 0, 1) * np.clip(along / step_x, 0, 1), float)


@dataclass(frozen=True, eq=False)
class GridFace:
    """An explicit underside, interpolated between its points; same questions as `Face`.

    It may begin before the zero of its x, `start`; `length` is where it ends.
    """

    grid: UndersideGrid
    line: Array
    length: Array
    bearing: Array
    start: float
    yields: Yielding | None = None

    def near(self, side: NDArray[np.intp], x: Array) -> GridStrip:
        """Return the underside for points of one side each."""
        return GridStrip(self.grid, side)

    def height(self, side: NDArray[np.intp], x: Array, y: Array) -> tuple[Array, Array, Array]:
        """Return height [m] and its gradients along x and outward y, for points of any shape."""
        return self.near(side, x).height(x, y)

    def edges(self, side: int, x: Array) -> tuple[Array, Array]:
        """Return the innermost and outermost masked y at each x [m]; zero for a bare side."""
        mask, y = self.grid.mask[side], self.grid.y
        rows = np.flatnonzero(mask.any(axis=1))
        if not len(rows):
            return np.zeros(x.shape), np.zeros(x.shape)
        inner = y[mask[rows].argmax(axis=1)]
        outer = y[len(y) - 1 - mask[rows, ::-1].argmax(axis=1)]
        at = self.grid.x[rows]
        return np.interp(x, at, inner), np.interp(x, at, outer)


@dataclass(frozen=True, eq=False)
class GridStrip:
    """An explicit underside, seen from points of a given side; same questions as `Strip`."""

    grid: UndersideGrid
    side: NDArray[np.intp]

    def height(self, x: Array, y: Array) -> tuple[Array, Array, Array]:
        """Return height [m] and its gradients along x and outward y, bilinear."""
        (i, u), (j, v) = (_between(*pair) for pair in ((self.grid.x, x), (self.grid.y, y)))
        z, side = self.grid.heights, self.side
        a, b = z[side, i, j], z[side, i + 1, j]
        c, d = z[side, i, j + 1], z[side, i + 1, j + 1]
        low, high = a + (b - a) * u, c + (d - c) * u
        along = ((b - a) * (1 - v) + (d - c) * v) / (self.grid.x[1] - self.grid.x[0])
        return low + (high - low) * v, along, (high - low) / (self.grid.y[1] - self.grid.y[0])

    def cover(self, x: Array, y: Array, step_x: float, step_y: float) -> Array:
        """Return 1 where the nearest point of the mask is set, else 0."""
        (i, in_x), (j, in_y) = (_nearest(*pair) for pair in ((self.grid.x, x), (self.grid.y, y)))
        return np.asarray(self.grid.mask[self.side, i, j] & in_x & in_y, float)


def _between(axis: Array, value: Array) -> tuple[NDArray[np.intp], Array]:
    """Interval of an even axis and the share of it passed, held at the axis' ends."""
    scaled = np.clip((value - axis[0]) / (axis[1] - axis[0]), 0, len(axis) - 1.000001)
    index = scaled.astype(np.intp)
    return index, scaled - index


def _nearest(axis: Array, value: Array) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Nearest point of an even axis, and whether the value lies within half a step of it."""
    index = np.rint((value - axis[0]) / (axis[1] - axis[0])).astype(np.intp)
    return np.clip(index, 0, len(axis) - 1), (index >= 0) & (index < len(axis))


Underside = Face | GridFace


def underside(tree: Tree) -> Underside:
    """Return the underside of a tree as functions of position.

    Raises
    ------
    InvalidShape
        If a dimension is missing, negative or contradicts another; `path` names the field.
    """
    if isinstance(tree, UndersideGrid):
        return _grid_face(tree)
    if isinstance(tree, FramelessTree):
        return _body(tree)
    if isinstance(tree, PanelTree):
        bars = (_panel_bar(tree.left), _panel_bar(tree.right))
        spreads = (tree.channel_front, tree.channel_middle, tree.channel_rear)
    else:
        bars = (tree.left, tree.right)
        waist = tree.spread_hand_hole
        spreads = (
            waist if tree.spread_front is None else tree.spread_front,
            waist,
            waist if tree.spread_rear is None else tree.spread_rear,
        )
    for name, bar in zip(SIDES, bars, strict=True):
        _check_bar(bar, spreads, path=f"tree.bars.{name}")
    face = _face(bars, spreads)
    return _bending(tree, face) if isinstance(tree, FlexibleTree) else face


def _bending(tree: FlexibleTree, face: Face) -> Face:
    """The face of a tree on bending bars, with the set that each has taken."""
    x = face.step * np.arange(face.tables.shape[1], dtype=float)
    tables = face.tables.copy()
    for side in range(2):
        tables[side, :, _BASE] += set_shape(tree, side, x)
    return replace(face, tables=tables, yields=Bending(frame_of(tree, face.line)))


def _body(tree: FramelessTree) -> Face:
    """The outline of a body without a frame; it has no heights of its own, which are nan."""
    check_frameless(tree)
    inner, outer = tree.channel / 2, tree.channel / 2 + tree.width * float(np.cos(DRAWN_SLOPE))
    table = np.zeros((TABLE_POINTS, 5))
    table[:, [_BASE, _INNER, _OUTER]] = np.nan, inner, outer
    return Face(
        step=tree.length / (TABLE_POINTS - 1),
        tables=np.array([table, table]),
        line=np.full(2, (inner + outer) / 2),
        length=np.full(2, tree.length),
        bearing=np.array([[0.0, tree.length]] * 2),
        relief=0.0,
        yields=Draping(tree),
    )


def _panel_bar(panel: Panel) -> Bar:
    """A panel bears along its whole length; its sagitta is turned into one over 17 in."""
    rear = panel.slope_front - PANEL_TWIST if panel.slope_rear is None else panel.slope_rear
    return Bar(
        length=panel.length,
        bearing_length=panel.length,
        width_front=panel.width_front,
        width_centre=panel.width_middle,
        width_rear=panel.width_rear,
        slope_front=panel.slope_front,
        slope_rear=rear,
        rock=panel.rock * (STRAIGHT_EDGE / panel.length) ** 2,
        crown=panel.crown,
        edge_relief=panel.depth / 3,  # assumption: a filled panel is rounded over a third of it
    )


def _check_bar(bar: Bar, spreads: tuple[float, float, float], *, path: str) -> None:
    for name in ("length", "bearing_length", "width_front", "width_centre", "width_rear"):
        value = getattr(bar, name)
        if not (np.isfinite(value) and value > 0):
            raise InvalidShape(f"must be a length above zero, got {value}", path=f"{path}.{name}")
    for name in ("slope_front", "slope_rear"):
        value = getattr(bar, name)
        if not 0 <= value < np.radians(80):
            raise InvalidShape(
                f"must lie between 0 and 80 degrees, got {np.degrees(value):.1f}",
                path=f"{path}.{name}",
            )
    if bar.bearing_rear > bar.length * (1 + 1e-9) or bar.bearing_front < 0:
        raise InvalidShape(
            f"the bearing part ends {bar.bearing_rear:.3f} m behind a tip of a bar "
            f"{bar.length:.3f} m long",
            path=f"{path}.bearing_length",
        )
    if not np.isfinite(bar.rock) or min(spreads) < 0 or not np.isfinite(spreads).all():
        raise InvalidShape(f"rock {bar.rock}, spreads {spreads}", path=path)


def bar_line(bar: Bar, spread: float) -> float:
    """Return how far off the midline the bar line runs [m]: the waist's middle."""
    waist_slope = (bar.slope_front + bar.slope_rear) / 2
    return spread / 2 + bar.width_centre / 2 * float(np.cos(waist_slope))


def _face(bars: tuple[Bar, Bar], spreads: tuple[float, float, float]) -> Face:
    length = max(bar.length for bar in bars)
    x = np.linspace(0.0, length, TABLE_POINTS)
    lines = np.array([bar_line(bar, spreads[1]) for bar in bars])
    return Face(
        step=float(x[1]),
        tables=np.array([_table(bar, spreads, x) for bar in bars]),
        line=lines,
        length=np.array([bar.length for bar in bars]),
        bearing=np.array([[bar.bearing_front, bar.bearing_rear] for bar in bars]),
        relief=min(bar.edge_relief for bar in bars),
    )


def _table(bar: Bar, spreads: tuple[float, float, float], x: Array) -> Array:
    """Columns of `Face.tables` for one bar; pads are read a sixth of the bearing part in."""
    front, rear = bar.bearing_front, bar.bearing_rear
    span = bar.bearing_length
    stations = np.array([front + span / 6, front + span / 2, rear - span / 6])
    at = np.clip(x, stations[0], stations[-1])
    widths = (bar.width_front, bar.width_centre, bar.width_rear)
    width, spread = monotone_cubic(stations, np.array([widths, spreads]).T)(at).T
    slope = np.interp(x, [front, rear], [bar.slope_front, bar.slope_rear])
    half = width / 2 * np.cos(slope)
    inner = spread / 2
    low = (front + rear) / 2 if bar.rock_low is None else bar.rock_low
    base = 4 * bar.rock * ((x - low) / STRAIGHT_EDGE) ** 2
    base += bar.flare_front * _ramp((front - x) / max(front, 1e-9))
    base += bar.flare_rear * _ramp((x - rear) / max(bar.length - rear, 1e-9))
    curve = bar.crown / np.cos(slope) / half**2
    return np.column_stack([base, inner, inner + 2 * half, np.tan(slope), curve])


def _ramp(t: Array) -> Array:
    """A flare leaves the bearing curve as a parabola and reaches its full lift at the tip."""
    return np.maximum(t, 0.0) ** 2


def _grid_face(grid: UndersideGrid) -> GridFace:
    x, y = even_axis(grid.x, path="tree.x"), even_axis(grid.y, path="tree.y")
    heights, mask = np.asarray(grid.heights, float), np.asarray(grid.mask, bool)
    shape = (2, len(x), len(y))
    for name, values in (("heights", heights), ("mask", mask)):
        if values.shape != shape:
            raise InvalidShape(f"has shape {values.shape}, needs {shape}", path=f"tree.{name}")
    if not mask.any() or not np.isfinite(heights[mask]).all():
        raise InvalidShape("needs a mask with at least one cell and finite heights", path="tree")
    filled = np.where(np.isfinite(heights), heights, 0.0)
    kept = mask.any(axis=(0, 2))
    ends = x[kept][[0, -1]] + np.array([-0.5, 0.5]) * (x[1] - x[0])
    middle = np.array([np.average(y, weights=m.sum(axis=0) + 1e-12) for m in mask])
    return GridFace(
        UndersideGrid(x, y, filled, mask, grid.seat_low, grid.stirrup),
        line=middle,
        length=np.full(2, ends[1]),
        bearing=np.array([ends, ends]),
        start=float(ends[0]),
    )
