"""A tree at rest, and what may grow until it passes a limit: the problems behind the allowances."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .continuation import Crossing, Point, Span, first_crossings
from .errors import NotConverged
from .laws import LayerLaw
from .loads import MOVED, PointForce
from .measures import Field, Layout, field_of, layout_of, load_measures, support_measures
from .pose import Placed, Settled, settle
from .profiles import SIDES, Array
from .rules import RULES, Rule

WATCHED = ("peak_pressure", "share_behind_last_rib", "stability_margin")
LIMITS: tuple[Rule, ...] = tuple(
    rule for rule in RULES if rule.measure in WATCHED and set(rule.reads) & set(MOVED)
)
HOLDS = "stability"  # what is lost when the tree tips over
TIP_SCALE = 5e-3  # [m] to which the gap at a tip is compared


@dataclass(frozen=True, eq=False)
class Stance:
    """A tree on a back with what presses it: what an allowance starts from.

    Attributes
    ----------
    placed : Placed
    forces : tuple of PointForce
    moments : tuple of float
    law : LayerLaw
    last_rib : float or None
        [m]
    settled : Settled
        It at rest under those forces alone.
    is_linear : bool
        Small rotations, as textbook cases ask for.
    limits : tuple of Rule
        Whose far bounds end an allowance.
    """

    placed: Placed
    forces: tuple[PointForce, ...]
    moments: tuple[float, float]
    law: LayerLaw
    settled: Settled
    last_rib: float | None = None
    is_linear: bool = False
    limits: tuple[Rule, ...] = LIMITS

    @cached_property
    def layout(self) -> Layout:
        """Places of the cells along and across the bars."""
        return layout_of(self.placed)

    @property
    def pose(self) -> Array:
        """Where it rests, (3,)."""
        return np.asarray(self.settled.pose[0], float)

    @cached_property
    def down(self) -> float:
        """Everything that presses down [N]."""
        return -sum(force.force[2] for force in self.forces)

    def field(self, settled: Settled, case: int) -> Field:
        """Return one of the poses settled as a field."""
        return field_of(self.placed, settled, case, self.layout)

    def under(self, cases: Sequence[tuple[PointForce, ...]], near: Array) -> Settled:
        """Return the tree at rest under each of some sets of forces, from poses near by."""
        return settle(
            self.placed, tuple(cases), self.moments, self.law, linear=self.is_linear, start=near
        )


Growing = Callable[[float], tuple[PointForce, ...]]
Excess = Callable[[Stance, Settled, int], Array]


@dataclass(frozen=True, eq=False)
class Trial:
    """One thing that grows: from where, the forces at each size, what is watched, how far to go."""

    stance: Stance
    forces: Growing
    excess: Excess
    span: Span


# -- What is watched


def excess_of_limits(stance: Stance, settled: Settled, case: int) -> Array:
    """Return how far each limit is passed, as a share of it; below zero inside it.

    The last one is whether the tree holds at all.
    """
    limits = stance.limits
    if settled.status[case] != 0:
        return np.array([*(-1.0 for _ in limits), np.inf])
    field = stance.field(settled, case)
    readings = {"stability_margin": [float(settled.margin[case])]}
    for measure in (*load_measures(field), *support_measures(field, stance.last_rib)):
        if measure.side in SIDES:
            readings.setdefault(measure.code + measure.zone, []).append(measure.value)
    passed = [_excess(rule, readings.get(rule.measure + rule.zone, ())) for rule in limits]
    return np.array([*passed, -1.0])


def _excess(rule: Rule, values: Sequence[float]) -> float:
    low, high = rule.beyond
    parts = [v / high - 1.0 if np.isfinite(high) else 1.0 - v / low for v in values]
    return max(parts, default=-1.0)


def excess_of_tip(end: int) -> Excess:
    """Return what watches the tips at one end (0 front, -1 rear): above zero once one carries."""

    def excess(stance: Stance, settled: Settled, case: int) -> Array:
        if settled.status[case] != 0:
            return np.full(2, np.inf)
        return -tip_gaps(stance, settled, case)[:, end] / TIP_SCALE

    return excess


def tip_gaps(stance: Stance, settled: Settled, case: int) -> Array:
    """Return how far each tip stands off the back, (2, 2): sides by front and rear [m].

    The smallest gap across, carried straight on to the tip from the two outermost rows of cells of
    which at least half a bar's width lies under it: gaps are read along the back's normals, which
    lean, so single cells past the tip meet a corner of it. Below zero once pressed.
    """
    placed, shape = stance.placed, stance.placed.patch.shape
    cover = settled.cover[case].reshape(shape)
    wide = cover.sum(axis=2) >= 0.5 * np.median(cover.sum(axis=2).max(axis=1))
    gap = np.where(cover > 0, -settled.overlap[case].reshape(shape), np.inf).min(axis=2)
    gap = np.where(wide, gap, np.inf)
    x = placed.patch.points[:, 0].reshape(shape)[0, :, 0] - placed.tip
    out = np.full((2, 2), np.nan)
    for side in range(2):
        rows = np.flatnonzero(np.isfinite(gap[side]))
        if len(rows) > 1:
            tips = (placed.face.start, float(placed.face.length[side]))
            pairs = (rows[:2], rows[:-3:-1])
            out[side] = [
                _carried_on(x[p], gap[side, p], at) for p, at in zip(pairs, tips, strict=True)
            ]
    return out


def _carried_on(x: Array, values: Array, at: float) -> float:
    """Go on straight from the second through the first of two places, at most as far again."""
    step = x[0] - x[1]
    share = np.clip((at - x[0]) / step, -1.0, 1.0)
    return float(values[0] + (values[0] - values[1]) * share)


# -- Following it


def crossings(trials: Sequence[Trial]) -> tuple[Crossing | None, ...]:
    """Return where each trial first passes what it watches.

    All are of one tree as it is placed, and are solved together.
    """

    def advance(which: NDArray[np.intp], at: Array, near: Array) -> list[Point | None]:
        forces = [trials[i].forces(float(t)) for i, t in zip(which, at, strict=True)]
        found = settled_each(trials[0].stance, forces, near)
        return [
            None if one is None else _point(trials[i], *one, float(t))
            for i, t, one in zip(which, at, found, strict=True)
        ]

    starts = [_point(trial, trial.stance.settled, 0, 0.0) for trial in trials]
    return first_crossings(advance, [trial.span for trial in trials], starts)


def _point(trial: Trial, settled: Settled, case: int, at: float) -> Point:
    return Point(at, trial.excess(trial.stance, settled, case), settled.pose[case])


def settled_each(
    stance: Stance, forces: Sequence[tuple[PointForce, ...]], near: Array
) -> list[tuple[Settled, int] | None]:
    """Return each problem's solution: all together, or one by one if one will not come to rest."""
    try:
        settled = stance.under(forces, near)
    except NotConverged:
        if len(forces) == 1:
            return [None]
        each = [
            settled_each(stance, [own], start[None])
            for own, start in zip(forces, near, strict=True)
        ]
        return [one[0] for one in each]
    return [(settled, case) for case in range(len(forces))]


def bend_crossings(
    stance: Stance, on_bent: Callable[[float], Placed], span: Span
) -> tuple[Crossing | None, Crossing | None]:
    """Return the bends to the left and to the right at which a limit is first passed.

    Every bend is another back, so the two sides are followed one problem at a time.
    """

    def advance(which: NDArray[np.intp], at: Array, near: Array) -> list[Point | None]:
        out: list[Point | None] = []
        for side, bend, start in zip(which, at, near, strict=True):
            bent = replace(stance, placed=on_bent(float(bend) * (-1.0, 1.0)[side]))
            found = settled_each(bent, [stance.forces], start[None])[0]
            out.append(found and Point(bend, excess_of_limits(bent, *found), found[0].pose[0]))
        return out

    start = Point(0.0, excess_of_limits(stance, stance.settled, 0), stance.pose)
    left, right = first_crossings(advance, [span] * 2, [start] * 2)
    return left, right
