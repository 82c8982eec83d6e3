"""The story's days, moved so that it ends just before today."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

ZONE = "America/Denver"
LAST_DAY = date(2024, 10, 12)  # the newest visit of the story
SETTLED = timedelta(days=7)  # at least so long ago, and less than a week more


@dataclass(frozen=True)
class Calendar:
    """Maps days of the story to days that end shortly before `today`.

    The shift is a whole number of weeks, so a Saturday stays one and the spans between visits
    hold. Months of the year move with it: the season follows the day on which the demo is made.
    """

    today: date

    @property
    def shift(self) -> timedelta:
        return timedelta(weeks=(self.today - SETTLED - LAST_DAY).days // 7)

    def day(self, story_day: date) -> date:
        return story_day + self.shift

    def moment(self, story_day: date, hour: int = 9, minute: int = 0) -> datetime:
        """Return a time on the practice's clock on a day of the story."""
        return self.local(self.day(story_day), hour, minute)

    def soon(self, days: int, hour: int, minute: int = 0) -> datetime:
        """Return a time so many days from today."""
        return self.local(self.today + timedelta(days=days), hour, minute)

    def local(self, day: date, hour: int, minute: int = 0) -> datetime:
        return datetime.combine(day, time(hour, minute), ZoneInfo(ZONE))
