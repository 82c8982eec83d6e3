"""A horse through time: what was felt and measured on each day, in plain numbers for charts.

A season is three calendar months of the northern half of the world; backs are compared like with
like, spring with spring (common practice, no source).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

SEASON_NAMES = ("Winter", "Spring", "Summer", "Autumn")
SiteSide = tuple[str, str]
StationSide = tuple[str, str]


@dataclass(frozen=True)
class Season:
    """Three months; December counts to the winter of the year that follows."""

    year: int
    name: str

    def __str__(self) -> str:
        return f"{self.name} {self.year}"


def season_of(day: date) -> Season:
    index = day.month % 12 // 3
    return Season(day.year + (day.month == 12), SEASON_NAMES[index])


@dataclass(frozen=True)
class Change:
    """Something about the saddle changed on this day, and stayed so until `until` (None: still)."""

    day: date
    words: str
    until: date | None = None


@dataclass(frozen=True)
class SorenessPoint:
    """The scores of one check; a site that was not tested is None or absent, never 0."""

    day: date
    scores: Mapping[SiteSide, int | None]

    def score(self, site: str, side: str) -> int | None:
        return self.scores.get((site, side))


@dataclass(frozen=True)
class SectionNumbers:
    """One side of one section: half-widths [mm] 30 and 150 mm down, slope [deg] 100 mm out."""

    w3_mm: float | None
    w15_mm: float | None
    slope_deg: float | None

    @property
    def ratio(self) -> float | None:
        """w3 / w15: lower when the muscle beside the withers is hollow."""
        if self.w3_mm is None or not self.w15_mm:
            return None
        return self.w3_mm / self.w15_mm


@dataclass(frozen=True)
class BackPoint:
    """The back on one day, in the numbers that are followed over time."""

    day: date
    sections: Mapping[StationSide, SectionNumbers]
    rock_mm: Mapping[str, float] = field(default_factory=dict)
    problems: tuple[str, ...] = ()

    @property
    def is_poor(self) -> bool:
        return bool(self.problems)

    def included_angle(self, station: str) -> float | None:
        """180 degrees less the slopes of both sides."""
        sides = [self.sections.get((station, side)) for side in "LR"]
        slopes = [s.slope_deg for s in sides if s is not None and s.slope_deg is not None]
        return 180 - sum(slopes) if len(slopes) == 2 else None

    def left_less_right(self, station: str) -> float | None:
        """Half-width left less right [mm], 150 mm down."""
        left, right = (self.sections.get((station, side)) for side in "LR")
        if left is None or right is None or left.w15_mm is None or right.w15_mm is None:
            return None
        return left.w15_mm - right.w15_mm

    def twist(self, side: str) -> float | None:
        """Slope over S1 and S2 less slope over S4 and S5 [deg]."""
        front, rear = self._mean_slope(side, ("S1", "S2")), self._mean_slope(side, ("S4", "S5"))
        return None if front is None or rear is None else front - rear

    def _mean_slope(self, side: str, stations: Sequence[str]) -> float | None:
        found = [self.sections.get((station, side)) for station in stations]
        slopes = [s.slope_deg for s in found if s is not None and s.slope_deg is not None]
        return sum(slopes) / len(slopes) if len(slopes) == len(stations) else None


@dataclass(frozen=True)
class BodyPoint:
    """Weight and condition on one day."""

    day: date
    mass_kg: float | None
    is_scale: bool
    condition: int | None
    muscle: int | None


def same_season_before(days: Iterable[date], day: date) -> date | None:
    """Return the latest of `days` in the same season of an earlier year."""
    season = season_of(day)
    earlier = [
        d for d in days if season_of(d).name == season.name and season_of(d).year < season.year
    ]
    return max(earlier, default=None)


@dataclass(frozen=True)
class SiteChange:
    """One place on the back, now and the time before."""

    site: str
    side: str
    now: int | None
    before: int | None

    @property
    def word(self) -> str:
        """Better, worse or same; what was not tested cannot be compared."""
        if self.now is None:
            return "not tested"
        if self.before is None:
            return "not compared"
        if self.now == self.before:
            return "same"
        return "worse" if self.now > self.before else "better"


def site_changes(
    now: SorenessPoint, before: SorenessPoint | None, order: Sequence[str]
) -> list[SiteChange]:
    """Return the places sore now or before, worst first, then in the order felt."""
    earlier = before.scores if before is not None else {}
    keys = dict.fromkeys([*now.scores, *earlier])
    changes = [SiteChange(*key, now.scores.get(key), earlier.get(key)) for key in keys]
    sore = [change for change in changes if change.now or change.before]
    return sorted(sore, key=lambda c: (-(c.now or 0), order.index(c.site), c.side))
