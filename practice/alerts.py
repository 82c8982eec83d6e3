"""What is pointed out about a horse: why, what to do, and who says so. Pure rules over numbers.

An alert is a finding, never a diagnosis. It can be put off until a day, with a reason.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from horses.recovery import Outcome, RecoveryResult, must_refer
from horses.red_flags import uneven_flags
from horses.seasons import BackPoint, SorenessPoint

SORE = 2
RECOVERY_FOR = timedelta(days=60)  # a test older than this says nothing of the horse now
FOLLOWED = ("S1", "S3", "S5")  # nearest to T8, T13 and T18, where drift was published

PRACTICE = "common practice, no source"
GREVE = "Greve and Dyson 2014: back shape of sports horses differs after two months"
SLIP = "Greve and Dyson 2013: slip in 54 % of horses lame behind, in none of those sound"

TITLES = {
    "sore_twice": "Sore twice running",
    "recovery": "Slow to recover",
    # A kind of its own: a first slow test put off must not keep the second failed one quiet.
    "refer": "Failed to recover twice",
    "uneven": "Newly uneven",
    "drift": "The back has changed since the last fit",
    "slip": "Slips to one side",
    "expired": "Verdict has run out",
    "shims": "Shims past their date",
}


@dataclass(frozen=True)
class Alert:
    """One thing pointed out; `code` is a key of `TITLES`, `level` is "watch" or "beyond"."""

    code: str
    level: str
    why: str
    what: str
    source: str = PRACTICE

    @property
    def title(self) -> str:
        return TITLES[self.code]


def sore_twice(points: Sequence[SorenessPoint], site_words: Mapping[str, str]) -> list[Alert]:
    """Point out sites sore at each of the last two checks at rest (points oldest first)."""
    if len(points) < 2:
        return []
    before, now = points[-2:]
    sites = [
        f"{site_words[site].lower()}{_side(side)}"
        for (site, side), score in now.scores.items()
        if (score or 0) >= SORE and (before.score(site, side) or 0) >= SORE
    ]
    if not sites:
        return []
    return [
        Alert(
            "sore_twice",
            "beyond",
            f"{', '.join(sites).capitalize()}: sore on {_day(before.day)} and {_day(now.day)}.",
            "Rest from this saddle until it has been looked at; if it is there a third time, or "
            "there is heat or swelling, ask the veterinarian.",
        )
    ]


def _side(side: str) -> str:
    return {"L": ", left", "R": ", right"}.get(side, "")


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def recovery(tests: Sequence[tuple[datetime, RecoveryResult]], day: date) -> list[Alert]:
    """Point out the last long ride if the back was slow to recover, and two fails in a year."""
    if must_refer(tests):
        return [
            Alert(
                "refer",
                "beyond",
                "Two failed recovery tests within a year.",
                "No long rides. Ask the veterinarian before going on.",
            )
        ]
    if not tests:
        return []
    ended, result = max(tests, key=lambda test: test[0])
    if day - ended.date() > RECOVERY_FOR or result.outcome not in {Outcome.SLOW, Outcome.FAIL}:
        return []
    is_fail = result.outcome is Outcome.FAIL
    return [
        Alert(
            "recovery",
            "beyond" if is_fail else "watch",
            f"{result.outcome.words} after the ride of {_day(ended.date())}: "
            f"{'; '.join(result.reasons)}.",
            "Short rides only, check saddle and pad, and do the test again after a rest. "
            "Heat or swelling goes to the veterinarian.",
        )
    ]


def uneven(points: Sequence[BackPoint], stations: Mapping[str, str]) -> list[Alert]:
    """Point out stations where left and right newly differ by over 10 mm."""
    return [
        Alert(
            "uneven",
            "beyond",
            flag,
            "Measure again with all four feet square. If it stays, ask the veterinarian before "
            "the saddle is made to follow it.",
        )
        for flag in uneven_flags(points, stations)
    ]


def drift(
    fitted: BackPoint | None, now: BackPoint | None, stations: Mapping[str, str], error_mm: float
) -> list[Alert]:
    """Point out stations whose width has changed beyond the measuring error since the last fit."""
    if fitted is None or now is None or fitted.day >= now.day:
        return []
    moved = [
        f"{stations[station]} {side_words} {change:+.0f} mm"
        for station in FOLLOWED
        for side, side_words in (("L", "left"), ("R", "right"))
        if (change := _width_change(fitted, now, (station, side))) is not None
        and abs(change) > error_mm
    ]
    if not moved:
        return []
    return [
        Alert(
            "drift",
            "watch",
            f"Half-width 150 mm down, since the fit of {_day(fitted.day)}: {', '.join(moved)} "
            f"(measuring error {error_mm:.0f} mm).",
            "Check the fit again on the back as it is now.",
            GREVE,
        )
    ]


def _width_change(fitted: BackPoint, now: BackPoint, key: tuple[str, str]) -> float | None:
    was, is_now = fitted.sections.get(key), now.sections.get(key)
    if was is None or is_now is None or was.w15_mm is None or is_now.w15_mm is None:
        return None
    return is_now.w15_mm - was.w15_mm


def slip(seen: Iterable[tuple[str, date]]) -> list[Alert]:
    """Point out saddles that slipped to one side when last ridden: (tag, day)."""
    return [
        Alert(
            "slip",
            "beyond",
            f"{tag} slipped to one side on {_day(day)}.",
            "Have the horse looked at for lameness by the veterinarian before the saddle is "
            "changed; look at the rider's straightness, too.",
            SLIP,
        )
        for tag, day in seen
    ]


def expired(verdicts: Iterable[tuple[str, str, date]]) -> list[Alert]:
    """Point out verdicts that have run out: (tag, verdict, last day)."""
    return [
        Alert(
            "expired",
            "watch",
            f"“{word}” on {tag} ran out on {_day(day)}.",
            "Nothing holds now. Book a re-check.",
        )
        for tag, word, day in verdicts
    ]


def shims(pairings: Iterable[tuple[str, date]]) -> list[Alert]:
    """Point out shims that should have been looked at: (tag, day)."""
    return [
        Alert(
            "shims",
            "watch",
            f"The shims under {tag} were to be looked at by {_day(day)}.",
            "A shim is for a while. Measure, and take out or renew it.",
        )
        for tag, day in pairings
    ]
