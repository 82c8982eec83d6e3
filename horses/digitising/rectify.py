"""From the photo to the paper: scale and perspective, from marks, corners or squares.

A camera maps a flat sheet by a homography (R. Hartley and A. Zisserman, Multiple View Geometry in
Computer Vision, 2nd ed. 2004, chapter 4; solved here by the normalised linear method given there).
"""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from horses.digitising.errors import TracingError

Array = npt.NDArray[np.float64]

# Assumption: with a magnifier a finger marks a point to about this (one standard deviation).
MARK_ERROR_MM = 0.7
# Assumption: two marks say nothing of tilt, and a photo by hand is within about 10 degrees of
# square on. Pictures rendered so gave half-widths off by 1.7 % rms, 2.8 % at worst.
TILT_ERROR = 0.02
# Assumption: a sheet is cut to about half a millimetre (ISO 216 allows 2 mm; from memory).
CUT_ERROR_MM = 0.5
EDGE_MM = 2.0  # the dark rim of a sheet is no pen line
EDGE_SAMPLES, EDGE_KEPT = 80, 0.5
SHARPENING_PX = (28.0, 10.0)
LEAST_CORNER_PX = 40.0


@dataclass(frozen=True)
class Paper:
    """How the photo lies on the paper: a homography to mm and how well its scale is known.

    `scale_error` is one standard deviation of a length divided by that length. `box_mm` is the part
    of the paper a line may run in (left, top, right, bottom), None when its edges are not known.
    """

    to_mm: Array
    scale_error: float
    box_mm: tuple[float, float, float, float] | None = None

    def mm(self, pixels: npt.ArrayLike) -> Array:
        return mapped(self.to_mm, pixels)

    def pixels(self, mm: npt.ArrayLike) -> Array:
        return mapped(np.asarray(np.linalg.inv(self.to_mm), dtype=float), mm)

    def outline(self) -> Array | None:
        """Return the corners of `box_mm` in pixels, (4, 2)."""
        if self.box_mm is None:
            return None
        left, top, right, bottom = self.box_mm
        return self.pixels([(left, top), (right, top), (right, bottom), (left, bottom)])

    def px_per_mm(self, pixel: npt.ArrayLike) -> float:
        """Return the mean number of pixels per mm around a pixel."""
        here = np.asarray(pixel, dtype=float)
        corner = self.mm(here + np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]))
        across, down = corner[1] - corner[0], corner[2] - corner[0]
        area = abs(across[0] * down[1] - across[1] * down[0])
        return float(1 / sqrt(max(area, 1e-12)))


def mapped(matrix: Array, points: npt.ArrayLike) -> Array:
    """Return points (n, 2) carried by a homography (3, 3)."""
    given = np.atleast_2d(np.asarray(points, dtype=float))
    raised = np.column_stack([given, np.ones(len(given))]) @ matrix.T
    return np.asarray(raised[:, :2] / raised[:, 2:])


def homography(source: npt.ArrayLike, target: npt.ArrayLike) -> Array:
    """Return the homography that best carries four or more points onto others."""
    a, b = np.asarray(source, dtype=float), np.asarray(target, dtype=float)
    shift_a, shift_b = _normaliser(a), _normaliser(b)
    x, y = mapped(shift_a, a).T
    u, v = mapped(shift_b, b).T
    zero, one = np.zeros_like(x), np.ones_like(x)
    rows = np.vstack(
        [
            np.column_stack([x, y, one, zero, zero, zero, -u * x, -u * y, -u]),
            np.column_stack([zero, zero, zero, x, y, one, -v * x, -v * y, -v]),
        ]
    )
    # The least squares direction; of the 9 by 9 product, so that many points cost no more.
    inner = np.linalg.eigh(rows.T @ rows)[1][:, 0].reshape(3, 3)
    matrix = np.linalg.inv(shift_b) @ inner @ shift_a
    return np.asarray(matrix / matrix[2, 2])


def _normaliser(points: Array) -> Array:
    centre = points.mean(axis=0)
    spread = np.hypot(*(points - centre).T).mean() or 1.0
    scale = sqrt(2) / spread
    return np.array([[scale, 0, -scale * centre[0]], [0, scale, -scale * centre[1]], [0, 0, 1]])


def from_marks(one: npt.ArrayLike, other: npt.ArrayLike, apart_mm: float) -> Paper:
    """Return the paper from two marks a known distance apart; perspective stays in the photo."""
    first, second = np.asarray(one, dtype=float), np.asarray(other, dtype=float)
    apart_px = float(hypot(*(second - first)))
    if apart_px < LEAST_CORNER_PX:
        raise TracingError("The two marks are too close together to give a scale.", "marks")
    scale = apart_mm / apart_px
    error = hypot(TILT_ERROR, sqrt(2) * MARK_ERROR_MM / apart_mm)
    return Paper(np.diag([scale, scale, 1.0]), error)


def from_corners(
    corners: npt.ArrayLike, width_mm: float, height_mm: float, grey: Array | None = None
) -> Paper:
    """Return the paper from the four corners of a rectangle of known size.

    The longer side in the photo is taken as the longer one. With the photo (`grey`, rows by
    columns) the corners are sharpened along the rectangle's edges where those can be seen.
    """
    ordered = in_order(corners)
    sharp = None if grey is None else sharpened(ordered, grey)
    used = ordered if sharp is None else sharp
    top, side = _length(used, 0, 1) + _length(used, 2, 3), _length(used, 1, 2) + _length(used, 3, 0)
    long, short = max(width_mm, height_mm), min(width_mm, height_mm)
    across, down = (long, short) if top >= side else (short, long)
    matrix = homography(used, [(0, 0), (across, 0), (across, down), (0, down)])
    mark = MARK_ERROR_MM if sharp is None else CUT_ERROR_MM
    box = (EDGE_MM, EDGE_MM, across - EDGE_MM, down - EDGE_MM)
    return Paper(matrix, sqrt(2) * mark / sqrt(across * down), box)


def _length(points: Array, one: int, other: int) -> float:
    return float(hypot(*(points[other] - points[one])))


def in_order(corners: npt.ArrayLike) -> Array:
    """Return four corners clockwise from the top left one, whatever order they were marked in."""
    points = np.asarray(corners, dtype=float)
    if points.shape != (4, 2):
        raise TracingError("Mark all four corners.", "corners")
    around = points - points.mean(axis=0)
    points = points[np.argsort(np.arctan2(around[:, 1], around[:, 0]))]
    points = np.roll(points, -int(np.argmin(points.sum(axis=1))), axis=0)
    sides = np.roll(points, -1, axis=0) - points
    turns = sides[:, 0] * np.roll(sides[:, 1], -1) - sides[:, 1] * np.roll(sides[:, 0], -1)
    if np.any(turns <= 0) or np.hypot(*sides.T).min() < LEAST_CORNER_PX:
        raise TracingError("These four corners are not those of a sheet seen whole.", "corners")
    return points


def sharpened(corners: Array, grey: Array) -> Array | None:
    """Return the corners where straight lines along the seen edges meet, None if edges are unclear.

    On each side the strongest step of brightness across it is looked for, first further around
    what the finger marked, then near what was found.
    """
    smooth = ndimage.gaussian_filter(grey, 1.2)
    found: Array | None = corners
    for reach in SHARPENING_PX:
        found = None if found is None else _sharper(found, smooth, reach)
    return found


def _sharper(corners: Array, smooth: Array, reach: float) -> Array | None:
    lines = [_edge(smooth, corners[n], corners[(n + 1) % 4], reach) for n in range(4)]
    if any(line is None for line in lines):
        return None
    crossed = [np.cross(lines[n - 1], lines[n]) for n in range(4)]  # type: ignore[arg-type]
    if any(abs(point[2]) < 1e-9 for point in crossed):
        return None
    sharp = np.array([point[:2] / point[2] for point in crossed])
    return sharp if np.hypot(*(sharp - corners).T).max() <= 1.5 * reach else None


def _edge(smooth: Array, start: Array, end: Array, reach: float) -> Array | None:
    """Return the line (a, b, c), a x + b y + c = 0, along a side; None when it is not straight."""
    along = (end - start) / np.hypot(*(end - start))
    across = np.array([-along[1], along[0]])
    places = start + np.linspace(0.08, 0.92, EDGE_SAMPLES)[:, None] * (end - start)
    offsets = np.arange(-reach, reach + 0.25, 0.5)
    at = places[:, None, :] + offsets[None, :, None] * across
    values = ndimage.map_coordinates(smooth, [at[..., 1], at[..., 0]], order=1, mode="nearest")
    change = np.gradient(values, axis=1)
    change = change * _sign(change)
    best = change.argmax(axis=1)
    found = places + offsets[best][:, None] * across
    return _straight(found, change.max(axis=1))


def _sign(change: Array) -> float:
    """Return which way most of the side steps: the sheet is lighter or darker than its ground."""
    return 1.0 if np.median(change.sum(axis=1)) >= 0 else -1.0


def _straight(found: Array, strength: Array) -> Array | None:
    kept = strength > 0.35 * np.median(strength)
    for _ in range(4):
        if kept.sum() < EDGE_KEPT * len(found):
            return None
        centre = found[kept].mean(axis=0)
        normal = np.linalg.svd(found[kept] - centre)[2][1]
        off = np.abs((found - centre) @ normal)
        kept = off < max(1.0, 2.5 * float(np.median(off)))
    if float(np.sqrt((off[kept] ** 2).mean())) > 1.5:
        return None
    return np.array([*normal, -normal @ centre])
