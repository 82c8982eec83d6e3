"""A horse's soreness as a series that changes of tack interrupt: stretches, and steps between."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import median
from typing import Protocol

from horses.seasons import Change
from horses.statistics.change import (
    FEWEST_EACH,
    Shift,
    Trend,
    could_tell,
    fewest_each,
    shift_between,
    trend_of,
)

LEAST_SHIFT = 0.05  # of a score: less reads as none


class Felt(Protocol):
    """A check as one number."""

    @property
    def day(self) -> date: ...
    @property
    def value(self) -> float: ...


@dataclass(frozen=True)
class Stretch:
    """The checks between two changes; `changes` opened it, none at the beginning."""

    changes: tuple[Change, ...]
    days: tuple[date, ...]
    values: tuple[float, ...]
    trend: Trend | None

    @property
    def median(self) -> float | None:
        return median(self.values) if self.values else None


@dataclass(frozen=True)
class Step:
    """A change with the stretches either side of it; no shift where either has too few checks."""

    changes: tuple[Change, ...]
    before: Stretch
    after: Stretch
    shift: Shift | None

    @property
    def day(self) -> date:
        return self.changes[0].day

    @property
    def words(self) -> str:
        """Return what may be said of this step; with too few checks, just that."""
        before, after = len(self.before.values), len(self.after.values)
        if self.shift is None or not could_tell(before, after):
            return (
                f"Too few checks to tell: {before} before, {after} after. "
                f"It takes about {fewest_each()} of each."
            )
        return f"{_direction(self.shift)} {_chance(self.shift)}"


def _direction(shift: Shift) -> str:
    if abs(shift.shift) < LEAST_SHIFT:
        return "As before."
    word = "Sorer" if shift.shift > 0 else "Less sore"
    interval = "" if shift.low is None else f" (90 %: {shift.low:+.1f} to {shift.high:+.1f})"
    return f"{word} by {abs(shift.shift):.1f} of a score{interval}."


def _chance(shift: Shift) -> str:
    if shift.is_notable:
        return f"Hard to put down to chance (p {_p(shift.p)})."
    return f"May well be chance (p {_p(shift.p)})."


def _p(value: float) -> str:
    return "below 0.001" if value < 0.001 else f"{value:.3f}" if value < 0.1 else f"{value:.2f}"


def stretches_of(felt: Sequence[Felt], changes: Sequence[Change]) -> tuple[Stretch, ...]:
    """Part the checks at the days of change; one on such a day belongs to the time before."""
    days = sorted({change.day for change in changes})
    bounds = [date.min, *days, date.max]
    out = []
    for start, end in pairwise(bounds):
        mine = [f for f in felt if start < f.day <= end]
        opened = tuple(change for change in changes if change.day == start)
        ordinals = [float(f.day.toordinal()) for f in mine]
        values = tuple(f.value for f in mine)
        out.append(Stretch(opened, tuple(f.day for f in mine), values, trend_of(ordinals, values)))
    return tuple(out)


def steps_of(stretches: Sequence[Stretch]) -> tuple[Step, ...]:
    """Return what happened at each change, oldest first."""
    return tuple(
        Step(
            changes=after.changes,
            before=before,
            after=after,
            shift=shift_between(before.values, after.values)
            if min(len(before.values), len(after.values)) >= FEWEST_EACH
            else None,
        )
        for before, after in pairwise(stretches)
    )
