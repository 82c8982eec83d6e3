"""How fast a back changes, and how soon it will have changed by more than measuring shows.

For young horses and any back on the move: the interval to the next check is the time in which the
fastest number passes the error of measuring, kept within the intervals of the trade.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from horses.measuring_error import MeasuringError
from horses.seasons import BackPoint
from horses.statistics.change import Trend, trend_of

# Weeks between checks of young horses in work, and the longest for any horse (common practice, no
# source: 8 to 12 weeks from two to five years, 3 to 6 months for mature ones).
SHORTEST_WEEKS, YOUNG_WEEKS, LONGEST_WEEKS = 8.0, 12.0, 26.0
WEEK, YEAR = 7.0, 365.25


@dataclass(frozen=True)
class Growth:
    """The trend of one number, per year, and the weeks in which it passes its error.

    `weeks` is None where the trend does not stand out from chance.
    """

    what: str
    side: str
    per_year_mm: float
    low_mm: float
    high_mm: float
    count: int
    error_mm: float
    weeks: float | None


def growth_of(
    points: Sequence[BackPoint], stations: Mapping[str, str], error: MeasuringError
) -> list[Growth]:
    """Return the growth of half-widths and dips that can be told (points oldest first)."""
    rows = []
    for station, words in stations.items():
        for side in "LR":
            values = [
                (p, n.w15_mm)
                for p in points
                if (n := p.sections.get((station, side))) is not None and n.w15_mm is not None
            ]
            rows.append(_growth(f"{words}, 15 cm down", side, values, error.half_width_mm))
    for side in "LR":
        dips = [(p, p.rock_mm[side]) for p in points if side in p.rock_mm]
        rows.append(_growth("Dip under 17 in", side, dips, error.dip_mm))
    return [row for row in rows if row is not None]


def _growth(
    what: str, side: str, values: Sequence[tuple[BackPoint, float]], error_mm: float
) -> Growth | None:
    days = [float(point.day.toordinal()) for point, _ in values]
    trend = trend_of(days, [value for _, value in values])
    if trend is None:
        return None
    return Growth(
        what=what,
        side=side,
        per_year_mm=trend.slope * YEAR,
        low_mm=trend.low * YEAR,
        high_mm=trend.high * YEAR,
        count=trend.count,
        error_mm=error_mm,
        weeks=_weeks(trend, error_mm),
    )


def _weeks(trend: Trend, error_mm: float) -> float | None:
    if not trend.is_notable or trend.slope == 0:
        return None
    return error_mm / abs(trend.slope) / WEEK


def recheck_weeks(rows: Sequence[Growth], *, is_young: bool) -> float | None:
    """Return the weeks to the next check: when the fastest number passes its error, within limits.

    None where nothing can be told; the usual interval holds then.
    """
    known = [row.weeks for row in rows if row.weeks is not None]
    if not known:
        return None
    longest = YOUNG_WEEKS if is_young else LONGEST_WEEKS
    return min(max(min(known), SHORTEST_WEEKS), longest)
