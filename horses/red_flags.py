"""What a feeling-over says must go to the veterinarian, or rest, before any saddle is judged.

The list is common practice without a source. These are findings, never a diagnosis.
"""

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from horses.models import SiteScore

SPINE_TIPS = "SP"
REST_FROM = 3
SPINE_FROM = 2
NO_TOUCH = 4


def place(row: "SiteScore") -> str:
    """Say where a row is: 'behind the shoulder blade, left'."""
    side = {"L": ", left", "R": ", right"}.get(row.side, "")
    return f"{row.get_site_display().lower()}{side}"


def vet_reasons(scores: Iterable["SiteScore"]) -> list[str]:
    """Return the findings that send the horse to the veterinarian first."""
    return [reason for row in scores for reason in _vet_reasons_of(row)]


def rest_reasons(scores: Iterable["SiteScore"]) -> list[str]:
    """Return the findings on which no fit may be judged: a score of 3 or more, or swelling."""
    reasons = []
    for row in scores:
        if row.swelling_mm:
            reasons.append(f"swelling {place(row)}")
        if row.score is not None and row.score >= REST_FROM:
            reasons.append(f"score {row.score} {place(row)}")
    return reasons


def _vet_reasons_of(row: "SiteScore") -> list[str]:
    score = row.score or 0
    reasons = []
    if row.is_warm and row.swelling_mm:
        reasons.append(f"heat and swelling {place(row)}")
    if score == NO_TOUCH:
        reasons.append(f"will not be touched, or open or hot: {place(row)}")
    elif score >= REST_FROM and row.is_repeatable:
        reasons.append(f"the same strong reaction again: {place(row)}")
    if row.site == SPINE_TIPS and score >= SPINE_FROM:
        reasons.append("reacts on the spine tips")
    return reasons
