"""Findings that send a horse to the veterinarian before anyone works on the saddle.

The list is common practice without a source; it names what was found and never a cause.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from horses.seasons import BackPoint, SorenessPoint

SEVERE = 3
PAIN_ON_BONE = 2
BONE_SITES = ("SP", "CR")  # spine tips, and the croup over the pelvis
NEW_UNEVEN_MM = 10.0
RECENT_MARK = timedelta(days=60)
OPEN_MARKS = ("gall", "swelling")


@dataclass(frozen=True)
class Mark:
    """A mark on the skin: what, where in words, first seen when."""

    kind: str
    words: str
    first_seen_on: date


def soreness_flags(
    now: SorenessPoint,
    before: SorenessPoint | None,
    *,
    hot_and_swollen: Sequence[tuple[str, str]] = (),
    site_words: Mapping[str, str],
) -> list[str]:
    """Return the flags in the latest check, given the one before it."""
    flags = [f"Heat with swelling: {site_words[site].lower()}." for site, _ in hot_and_swollen]
    for (site, side), score in now.scores.items():
        if score is None:
            continue
        where = f"{site_words[site].lower()}{_side_words(side)}"
        earlier = (before.scores.get((site, side)) if before else None) or 0
        if score >= SEVERE and earlier >= SEVERE:
            flags.append(f"A score of {score} that repeats: {where}.")
        elif score > SEVERE:
            flags.append(f"Will not be touched, or heat, swelling or open skin: {where}.")
        elif site in BONE_SITES and score >= PAIN_ON_BONE:
            flags.append(f"Reacts to pressure on bone: {where}.")
    return flags


def _side_words(side: str) -> str:
    return {"L": ", left", "R": ", right"}.get(side, "")


def uneven_flags(points: Sequence[BackPoint], stations: Mapping[str, str]) -> list[str]:
    """Return the stations where left and right have newly grown apart (points oldest first)."""
    if len(points) < 2:
        return []
    before, now = points[-2:]
    flags = []
    for station, words in stations.items():
        was, is_now = before.left_less_right(station), now.left_less_right(station)
        if was is None or is_now is None:
            continue
        if abs(is_now) > NEW_UNEVEN_MM >= abs(was):
            wider = "left" if is_now > 0 else "right"
            flags.append(
                f"New difference of {abs(is_now):.0f} mm at {words}, wider on the {wider}."
            )
    return flags


def skin_flags(marks: Sequence[Mark], day: date) -> list[str]:
    """Return open or swollen places first seen lately."""
    return [
        f"{mark.words}, first seen {mark.first_seen_on:%d %b %Y}."
        for mark in marks
        if mark.kind in OPEN_MARKS and day - mark.first_seen_on <= RECENT_MARK
    ]
