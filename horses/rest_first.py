"""When the back must rest before any saddle is judged on it: swelling, or a score of 3 or more."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from horses.models import SiteScore

REST_FROM = 3
SIDE_WORDS = {"L": ", left", "R": ", right"}


def rest_reasons(scores: Iterable["SiteScore"]) -> list[str]:
    """Return the findings on which no fit may be judged, in plain words."""
    reasons = []
    for row in scores:
        where = f"{row.get_site_display().lower()}{SIDE_WORDS.get(row.side, '')}"
        if row.swelling_mm:
            reasons.append(f"swelling {where}")
        if row.score is not None and row.score >= REST_FROM:
            reasons.append(f"a score of {row.score} {where}")
    return reasons
