"""From a followed line on the paper to half-widths by depth, or heights along the back."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from horses.digitising.errors import TracingError

Array = npt.NDArray[np.float64]

# Assumption: less than this above the midline is the thickness of a pen, not muscle.
ABOVE_MIDLINE_MM = 0.6
ZERO_REACH_MM = 12.0  # the midline must be marked this close to the line
NEAR_ZERO_MM = 3.0  # the line's own height at the midline is a mean over this much either side

Points = list[list[float]]


@dataclass(frozen=True)
class Section:
    """Both halves of a section: [[depth_mm, half_width_mm], ...] with the depth each reaches.

    `is_seen_from_front` says that the paper shows the horse's left on the right of the withers.
    """

    left: Points
    right: Points
    left_reach_mm: float
    right_reach_mm: float
    is_seen_from_front: bool


def section_of(
    line_mm: Array, midline_mm: Array, level: Array, depths_mm: Sequence[float]
) -> Section:
    """Return half-widths at the depths that both the paper and the line reach.

    Parameters
    ----------
    line_mm : (n, 2) the line in mm, from the horse's left end to its right end.
    midline_mm : (2,) where the midline was marked.
    level : (2,) a direction on the paper that was level when the curve was taken.
    depths_mm : depths below the midline, ascending.
    """
    across = _unit(level)
    if (line_mm[-1] - line_mm[0]) @ across < 0:
        across = -across
    down = np.array([-across[1], across[0]])
    top = _nearest(line_mm, midline_mm, "midline")
    zero = _mean_near(line_mm, top)
    ends = (line_mm[0] + line_mm[-1]) / 2 - zero
    is_mirrored = bool(ends @ down < 0)
    if is_mirrored:
        down = -down
    flat = np.column_stack([(line_mm - zero) @ across, (line_mm - zero) @ down])
    if min(flat[0, 1], flat[-1, 1]) <= 0:
        raise TracingError(
            "One end of the line lies above the midline. Is the level marked rightly?", "level"
        )
    left = np.column_stack([-flat[top::-1, 0], flat[top::-1, 1]])
    right = flat[top:]
    return Section(
        _half(left, depths_mm),
        _half(right, depths_mm),
        float(left[:, 1].max()),
        float(right[:, 1].max()),
        is_mirrored,
    )


def _unit(direction: npt.ArrayLike) -> Array:
    vector = np.asarray(direction, dtype=float)
    size = float(np.hypot(*vector))
    if size < 1e-9:
        raise TracingError("The two marks of the level are the same point.", "level")
    return vector / size


def _nearest(line_mm: Array, mark_mm: Array, name: str) -> int:
    away = np.hypot(*(line_mm - mark_mm).T)
    place = int(away.argmin())
    if away[place] > ZERO_REACH_MM:
        raise TracingError(
            f"The {name} is marked {away[place]:.0f} mm from the line. Mark it where it "
            "crosses the line.",
            "zero",
        )
    if place in {0, len(line_mm) - 1} and name == "midline":
        raise TracingError("The midline must lie between the two ends of the line.", "zero")
    return place


def _mean_near(line_mm: Array, place: int) -> Array:
    """Return the point of the line at `place`, its pen noise taken out by a small parabola."""
    near = np.abs(_run(line_mm) - _run(line_mm)[place]) <= NEAR_ZERO_MM
    if near.sum() < 5:
        return np.asarray(line_mm[place])
    along = _run(line_mm)[near] - _run(line_mm)[place]
    return np.array([np.polyfit(along, line_mm[near, axis], 2)[2] for axis in (0, 1)])


def _run(line_mm: Array) -> Array:
    """Return the length along the line at each of its points."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line_mm, axis=0).T))])


def _half(half: Array, depths_mm: Sequence[float]) -> Points:
    """Return the outermost half-width at each depth that the half reaches, for (n, 2) points."""
    found = []
    for depth in depths_mm:
        width = _width_at(half, depth)
        if width is not None:
            found.append([float(depth), round(width, 1)])
    return found


def _width_at(half: Array, depth: float) -> float | None:
    across, down = half.T
    if depth <= 0 and down.min() > -ABOVE_MIDLINE_MM:
        return 0.0
    above = np.flatnonzero(down <= depth)
    if not len(above) or above[-1] + 1 >= len(half):
        return None
    n = int(above[-1])
    share = (depth - down[n]) / (down[n + 1] - down[n])
    return float(max(across[n] + share * (across[n + 1] - across[n]), 0.0))


def heights_of(
    line_mm: Array,
    zero_mm: Array,
    level: Array,
    places_mm: Sequence[float],
    *,
    up: Array,
) -> Points:
    """Return [[distance_mm, height_mm], ...] at the places the line reaches, the first height 0.

    Parameters
    ----------
    line_mm : (n, 2) the line in mm, from front to rear.
    zero_mm : (2,) where the rear edge of the shoulder blade was marked.
    level : (2,) a direction on the paper that was level.
    places_mm : distances behind the blade along the level.
    up : (2,) roughly upward on the paper; only its side of the level counts.
    """
    along = _unit(level)
    if (line_mm[-1] - line_mm[0]) @ along < 0:
        along = -along
    upward = np.array([along[1], -along[0]])
    if upward @ up < 0:
        upward = -upward
    zero = line_mm[_nearest(line_mm, zero_mm, "blade")]
    x, height = (line_mm - zero) @ along, (line_mm - zero) @ upward
    order = np.argsort(x, kind="stable")
    within = [p for p in places_mm if x.min() - 1.0 <= p <= x.max() + 1.0]
    if len(within) < 3:
        raise TracingError("The line is too short: it reaches fewer than three places.", "line")
    read = np.interp(within, x[order], height[order])
    return [[float(p), round(float(h - read[0]), 1)] for p, h in zip(within, read, strict=True)]
