"""What a number is compared with, and the word for the difference."""

from collections.abc import Callable
from dataclasses import dataclass

from horses.adapters.profiles import problems_of
from horses.models import BackMeasurement
from horses.seasons import same_season_before
from practice.selectors.reports import ReportRecords

# Differences smaller than these are within what two measurings of the same back differ by (our
# design: half-widths from the repeat limit of the flexible curve).
SAME_WIDTH_MM = 4.0
SAME_ANGLE_DEG = 2.0
SAME_ROCK_MM = 2.0
SAME_MASS = 0.02
SAME_LENGTH_MM = 6.0


@dataclass(frozen=True)
class Kind:
    """How a number is shown and what its going up and down is called."""

    show: Callable[[float], str]
    same: float
    up: str
    down: str


def earlier_measurement(records: ReportRecords) -> BackMeasurement | None:
    """Return what to compare with: the same season last time round, else the one before."""
    now = records.measurement
    if now is None:
        return None
    earlier = [m for m in records.measurements if m.pk != now.pk and not problems_of(m)]
    earlier = [m for m in earlier if m.measured_on < now.measured_on]
    like = same_season_before([m.measured_on for m in earlier], now.measured_on)
    chosen = [m for m in earlier if like is None or m.measured_on == like]
    return chosen[-1] if chosen else None


def width_change(now_mm: float | None, before_mm: float | None) -> str:
    """Return wider, narrower or same for a half-width, nothing where one is missing."""
    if now_mm is None or before_mm is None:
        return ""
    return change_word(now_mm, before_mm, Kind(str, SAME_WIDTH_MM, "wider", "narrower"))


def change_word(now: float, before: float | None, kind: Kind) -> str:
    if before is None:
        return "first time"
    if abs(now - before) < kind.same:
        return "same"
    return kind.up if now > before else kind.down
