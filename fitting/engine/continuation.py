"""Following a tree at rest from one load to the next, up to where a limit is first passed.

Each problem has one parameter that grows from zero: a pull, a turn of the load, a bend of the back.
Every solve starts from the pose that its neighbours lead to expect, which is most of what makes it
quick. A step goes where the last two points say the limit lies, no further than three times the
last step; once a limit is passed the crossing is closed in by a secant kept inside its bracket.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .profiles import Array

GROWTH, LEAST = 3.0, 0.25  # of the last step, how long the next may be
OVERREACH = 1.05  # aim a little past the limit, so that it gets bracketed
CLOSE = 3e-3  # of the limit: near enough for the last straight line to land on it
ROUNDS = 30
FAILURES = 3  # solves without an answer before a problem is given up


@dataclass(frozen=True)
class Span:
    """Where a parameter ends, its first step, and how closely its crossing is wanted."""

    end: float
    first: float
    tolerance: float


@dataclass(frozen=True, eq=False)
class Point:
    """One solve: `excess` (K,) is below zero inside each limit; `pose` (3,) is where it rests."""

    at: float
    excess: Array
    pose: Array

    @property
    def worst(self) -> float:
        """The excess of the limit that is nearest or furthest passed."""
        return float(np.max(self.excess))

    @property
    def nearest(self) -> int:
        """Which limit that is."""
        return int(np.argmax(self.excess))


@dataclass(frozen=True, eq=False)
class Crossing:
    """Where the first limit is passed.

    Attributes
    ----------
    at : float
        The parameter there, or its end.
    is_reached : bool
        False if the span ended inside all limits.
    limit : int
        Which limit, or the nearest one.
    pose : (3,) array
    start : (3,) array
        The pose at zero.
    """

    at: float
    is_reached: bool
    limit: int
    pose: Array
    start: Array


# Solves problems (a,) at parameters (a,) from poses near by (a, 3); None where it finds no answer.
Advance = Callable[[NDArray[np.intp], Array, Array], Sequence[Point | None]]


@dataclass(frozen=True, eq=False)
class _Track:
    """What is known of one problem: the last points inside, the first outside."""

    span: Span
    start: Point
    low: Point
    before: Point | None = None
    high: Point | None = None
    stale: int = 0  # solves in a row that moved the low end of the bracket; below zero the high end
    failures: int = 0
    is_given_up: bool = False

    @property
    def is_done(self) -> bool:
        if self.is_given_up or self.low.worst >= -CLOSE:
            return True
        if self.high is None:
            return self.low.at >= self.span.end
        return self.high.worst <= CLOSE or self.high.at - self.low.at <= self.span.tolerance

    def proposed(self) -> float:
        """Return the parameter to try next."""
        at = self._outward() if self.high is None else self._inward(self.high)
        return self.low.at + (at - self.low.at) * 0.25**self.failures

    def _outward(self) -> float:
        if self.before is None:
            return min(self.span.first, self.span.end)
        last = self.low.at - self.before.at
        rise = self.low.worst - self.before.worst
        aim = -OVERREACH * self.low.worst * last / rise if rise > 0 else np.inf
        step = float(np.clip(aim, LEAST * last, GROWTH * last))
        return min(self.low.at + step, self.span.end)

    def _inward(self, high: Point) -> float:
        """A secant in which an end that stays where it is counts for less and less (Illinois)."""
        width = high.at - self.low.at
        below = -self.low.worst / 2 ** max(-self.stale - 1, 0)
        above = high.worst / 2 ** max(self.stale - 1, 0)
        share = below / (below + above) if np.isfinite(above) else 0.5
        edge = min(0.5, self.span.tolerance / (2 * width))
        return float(self.low.at + width * np.clip(share, edge, 1 - edge))

    def near(self, at: float) -> Array:
        """Return the pose to expect at a parameter, on the straight line through two neighbours."""
        other = self.high if self.high is not None else self.before
        if other is None or not np.isfinite(other.excess).all() or other.at == self.low.at:
            return self.low.pose
        slope = (other.pose - self.low.pose) / (other.at - self.low.at)
        return np.asarray(self.low.pose + slope * (at - self.low.at), float)

    def taken(self, point: Point | None) -> _Track:
        """Return what is known once one more point is."""
        if point is None:
            failures = self.failures + 1
            return replace(self, failures=failures, is_given_up=failures > FAILURES)
        if point.worst > 0:
            return replace(self, high=point, stale=min(self.stale, 0) - 1, failures=0)
        stale = 0 if self.high is None else max(self.stale, 0) + 1
        return replace(self, before=self.low, low=point, stale=stale, failures=0)

    def crossing(self) -> Crossing | None:
        if self.is_given_up:
            return None
        high, low = self.high, self.low
        if low.worst >= 0 or (high is None and low.worst < -CLOSE):
            is_reached = low.worst >= 0
            return Crossing(float(low.at), is_reached, low.nearest, low.pose, self.start.pose)
        other = self.before if high is None else high
        if other is None:
            return Crossing(float(low.at), True, low.nearest, low.pose, self.start.pose)
        rise = other.worst - low.worst if np.isfinite(other.worst) else np.inf
        at = low.at - low.worst * (other.at - low.at) / rise
        last = low if high is None else high
        return Crossing(float(at), True, last.nearest, self.near(at), self.start.pose)


def first_crossings(
    advance: Advance, spans: Sequence[Span], starts: Sequence[Point]
) -> tuple[Crossing | None, ...]:
    """Return where each problem first passes a limit.

    Parameters
    ----------
    advance : callable
        Solves some of the problems at a parameter each; see `Advance`.
    spans : sequence of Span
        One per problem.
    starts : sequence of Point
        Each problem solved at zero.

    Returns
    -------
    tuple of Crossing or None
        At zero where a limit is passed already; None where no answer was found on the way.

    Notes
    -----
    Between two steps the excess is taken not to pass a limit and come back.
    """
    tracks = [_Track(span, start, start) for span, start in zip(spans, starts, strict=True)]
    for _ in range(ROUNDS):
        active = np.array([i for i, track in enumerate(tracks) if not track.is_done], np.intp)
        if not len(active):
            break
        at = np.array([tracks[i].proposed() for i in active])
        near = np.array([tracks[i].near(t) for i, t in zip(active, at, strict=True)])
        for i, point in zip(active, advance(active, at, near), strict=True):
            tracks[i] = tracks[i].taken(point)
    return tuple(track.crossing() if track.is_done else None for track in tracks)
