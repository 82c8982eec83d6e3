"""Following a pen line across a photo between a few marked points.

The path of least cost over the pixels, as in E. N. Mortensen and W. A. Barrett, Interactive
segmentation with Intelligent Scissors, Graphical Models and Image Processing 60 (1998) 349-384;
here with the darkness of the pen against the paper as cost and Dijkstra's method from scipy.
First over a coarse picture, then over a band of the full one; last, across the line, its middle.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw
from scipy import ndimage
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from horses.digitising.errors import TracingError

Array = npt.NDArray[np.float64]

COARSE_SIDE = 640  # longest side of the coarse picture, in its pixels
FAINT = 0.12  # cost of blank paper: (1 + 1 / FAINT)^2 times that of a full line
STEPS = ((0, 1), (1, 0), (1, 1), (1, -1))
BACKGROUND_SIDE = 24  # paper brightness is taken over about 1 / 24 of the photo
LEAST_PEN = 0.06  # darkness below which nothing is taken for a pen
PIXEL_LEVELS = 255.0


def darkness_of(grey: npt.ArrayLike) -> Array:
    """Return how dark each pixel is against the paper around it, 0 (paper) to 1.

    `grey` is rows by columns, 0 to 255. Dividing by the brightness of the paper nearby takes out
    shadows and uneven light.
    """
    picture = np.asarray(grey, dtype=np.float32) / PIXEL_LEVELS
    step = max(1, max(picture.shape) // 400)
    small = ndimage.uniform_filter(picture, step)[::step, ::step]
    size = max(5, max(small.shape) // BACKGROUND_SIDE)
    paper = ndimage.percentile_filter(small, 85, size=size, mode="nearest")
    paper = ndimage.gaussian_filter(paper, size / 3)
    factor = np.array(picture.shape) / small.shape
    whole = ndimage.zoom(paper, factor, order=1, mode="grid-constant", grid_mode=True)
    dark = 1.0 - picture / np.maximum(whole[: picture.shape[0], : picture.shape[1]], 0.02)
    return np.asarray(np.clip(ndimage.gaussian_filter(dark, 0.8), 0.0, 1.0), dtype=float)


def within(dark: Array, outline: Array | None) -> Array:
    """Return the darkness inside an outline (n, 2) in pixels; beside the paper nothing is dark."""
    if outline is None:
        return dark
    mask = Image.new("1", (dark.shape[1], dark.shape[0]))
    ImageDraw.Draw(mask).polygon([(float(x), float(y)) for x, y in outline], fill=1)
    return np.where(np.asarray(mask), dark, 0.0)


@dataclass(frozen=True)
class Followed:
    """A line in pixels (n, 2), and the marks as they were drawn onto it."""

    line: Array
    marks: Array


def with_mark(marks: npt.ArrayLike, mark: npt.ArrayLike) -> Array:
    """Return the marks with one more between the ends, where it lengthens the way least."""
    given, point = np.asarray(marks, dtype=float), np.asarray(mark, dtype=float)
    there = np.hypot(*(given - point).T)
    more = there[:-1] + there[1:] - np.hypot(*np.diff(given, axis=0).T)
    if there.min() < 3:
        return given
    return np.insert(given, int(more.argmin()) + 1, point, axis=0)


def follow(dark: Array, marks: npt.ArrayLike, px_per_mm: float) -> Followed:
    """Return the pen line through the marks, in their order.

    `dark` is what `darkness_of` returns; `px_per_mm` sets how far a mark may lie beside the line.
    """
    given = np.asarray(marks, dtype=float)
    if given.ndim != 2 or len(given) < 2:
        raise TracingError("Mark at least both ends of the line.", "line")
    _check_inside(given, dark.shape)
    reach = float(np.clip(1.6 * px_per_mm, 4.0, 24.0))
    snapped = np.array([_onto_line(dark, mark, reach) for mark in given])
    pen = _pen(dark, snapped)
    cost = 1.0 / (FAINT + np.clip(dark / pen, 0.0, 1.0)) ** 2
    parts = [_between(cost, a, b) for a, b in pairwise(snapped)]
    rough = np.vstack([parts[0], *(part[1:] for part in parts[1:])])
    return Followed(_middle(dark, _smooth(rough, 2.0), reach, pen), snapped)


def _check_inside(marks: Array, shape: Sequence[int]) -> None:
    height, width = shape
    if np.any(marks < 0) or np.any(marks[:, 0] > width - 1) or np.any(marks[:, 1] > height - 1):
        raise TracingError("A mark lies outside the photo.", "line")
    if np.hypot(*np.diff(marks, axis=0).T).min() < 3:
        raise TracingError("Two marks on the line are the same point.", "line")


def _onto_line(dark: Array, mark: Array, reach: float) -> Array:
    """Return the darkest place near a mark, nearer ones first; the mark itself on blank paper."""
    x, y = np.rint(mark).astype(int)
    r = int(reach)
    top, left = max(y - r, 0), max(x - r, 0)
    window = dark[top : y + r + 1, left : x + r + 1]
    rows, columns = np.indices(window.shape)
    away = np.hypot(rows + top - mark[1], columns + left - mark[0])
    score = np.where(away <= reach, window * (1 - 0.5 * away / reach), 0.0)
    best = np.unravel_index(int(score.argmax()), window.shape)
    if window[best] < LEAST_PEN:
        return mark
    return np.array([best[1] + left, best[0] + top], dtype=float)


def _pen(dark: Array, marks: Array) -> float:
    """Return how dark the pen is, from the marks that lie on it."""
    at = np.rint(marks).astype(int)
    found = float(np.median(dark[at[:, 1], at[:, 0]]))
    if found < LEAST_PEN:
        raise TracingError("No line was found under the marks.", "line")
    return found


def _between(cost: Array, start: Array, end: Array) -> Array:
    """Return the path from one mark to the next, (n, 2) whole pixels."""
    step = max(1, -(-max(cost.shape) // COARSE_SIDE))
    rough = _pooled(cost, step)
    coarse = _least_path(
        rough, _box(rough.shape, start / step, end / step), _cell(start, step), _cell(end, step)
    )
    band = np.zeros(cost.shape, dtype=bool)
    centres = np.clip(coarse * step + step // 2, 0, np.array(cost.shape) - 1)
    band[centres[:, 0], centres[:, 1]] = True
    first, last = _cell(start, 1), _cell(end, 1)
    band[first], band[last] = True, True
    around = 3 * step
    rows, columns = np.nonzero(band)
    window = tuple(
        slice(max(int(line.min()) - around - 1, 0), int(line.max()) + around + 2)
        for line in (rows, columns)
    )
    allowed = np.zeros_like(band)
    allowed[window] = ndimage.distance_transform_edt(~band[window]) <= around
    return _least_path(cost, allowed, first, last)[:, ::-1].astype(float)


def _cell(point: Array, step: int) -> tuple[int, int]:
    x, y = np.rint(point).astype(int) // step
    return int(y), int(x)


def _pooled(cost: Array, step: int) -> Array:
    """Return the least cost in each block of step by step pixels: a thin line stays a line."""
    if step == 1:
        return cost
    high, wide = (-(-n // step) * step for n in cost.shape)
    padded = np.pad(cost, ((0, high - cost.shape[0]), (0, wide - cost.shape[1])), mode="edge")
    return np.asarray(padded.reshape(high // step, step, wide // step, step).min(axis=(1, 3)))


def _box(shape: Sequence[int], start: Array, end: Array) -> npt.NDArray[np.bool_]:
    """Return the part of the picture a line between two marks may run in."""
    margin = 0.75 * float(np.hypot(*(end - start))) + 12
    low, high = np.minimum(start, end) - margin, np.maximum(start, end) + margin
    box = np.zeros(shape, dtype=bool)
    box[max(int(low[1]), 0) : int(high[1]) + 1, max(int(low[0]), 0) : int(high[0]) + 1] = True
    return box


def _least_path(
    cost: Array,
    allowed: npt.NDArray[np.bool_],
    start: tuple[int, int],
    end: tuple[int, int],
) -> npt.NDArray[np.int64]:
    """Return rows and columns (n, 2) of the path of least cost inside `allowed`."""
    rows, columns = np.nonzero(allowed)
    number = np.full(cost.shape, -1)
    number[rows, columns] = np.arange(len(rows))
    edges = [_edges(cost, number, rows, columns, step) for step in STEPS]
    one, other, weight = (np.concatenate(parts) for parts in zip(*edges, strict=True))
    graph = coo_array((weight, (one, other)), shape=(len(rows), len(rows))).tocsr()
    first, last = int(number[start]), int(number[end])
    before = dijkstra(graph, directed=False, indices=first, return_predecessors=True)[1]
    path = [last]
    while path[-1] != first:
        path.append(int(before[path[-1]]))
        if path[-1] < 0:
            raise TracingError("The line breaks off between two marks. Mark it in between.", "line")
    found = np.array(path[::-1])
    return np.column_stack([rows[found], columns[found]])


def _edges(
    cost: Array,
    number: npt.NDArray[np.int64],
    rows: npt.NDArray[np.int64],
    columns: npt.NDArray[np.int64],
    step: tuple[int, int],
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], Array]:
    to_rows, to_columns = rows + step[0], columns + step[1]
    inside = (to_rows < cost.shape[0]) & (to_columns >= 0) & (to_columns < cost.shape[1])
    one = number[rows[inside], columns[inside]]
    other = number[to_rows[inside], to_columns[inside]]
    mean = (cost[rows[inside], columns[inside]] + cost[to_rows[inside], to_columns[inside]]) / 2
    kept = other >= 0
    return one[kept], other[kept], mean[kept] * float(np.hypot(*step))


def _smooth(line: Array, sigma: float) -> Array:
    """Return the line evened out along its length, its ends where they were."""
    spaced = evenly(line, 1.0)
    if len(spaced) < 3:
        return spaced
    even = ndimage.gaussian_filter1d(spaced, sigma, axis=0, mode="nearest")
    even[0], even[-1] = spaced[0], spaced[-1]
    return np.asarray(even)


def evenly(line: Array, spacing: float) -> Array:
    """Return points about `spacing` apart along a line."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    count = max(2, round(run[-1] / spacing) + 1)
    at = np.linspace(0.0, run[-1], count)
    return np.column_stack([np.interp(at, run, line[:, axis]) for axis in (0, 1)])


def _middle(dark: Array, line: Array, reach: float, pen: float) -> Array:
    """Return the line moved to the middle of the pen stroke across it."""
    smooth = line
    for width in (reach / 2, reach / 3):
        smooth = _smooth(_centred(dark, smooth, max(width, 3.0), pen), 3.0)
    return smooth


def _centred(dark: Array, line: Array, width: float, pen: float) -> Array:
    direction = np.gradient(ndimage.gaussian_filter1d(line, 4.0, axis=0, mode="nearest"), axis=0)
    size = np.maximum(np.hypot(*direction.T), 1e-9)
    normal = np.column_stack([-direction[:, 1], direction[:, 0]]) / size[:, None]
    offsets = np.arange(-width, width + 0.25, 0.5)
    at = line[:, None, :] + offsets[None, :, None] * normal[:, None, :]
    values = ndimage.map_coordinates(dark, [at[..., 1], at[..., 0]], order=1, mode="nearest")
    weight = np.clip(values - 0.4 * pen, 0.0, None) * np.exp(-((offsets / width) ** 2) * 1.5)
    total = weight.sum(axis=1)
    shift = np.where(total > 1e-6, (weight @ offsets) / np.maximum(total, 1e-6), 0.0)
    shift = ndimage.median_filter(shift, size=9, mode="nearest")
    return np.asarray(line + shift[:, None] * normal)
