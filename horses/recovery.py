"""The long-ride recovery test: how the back is before, just after, one day and two days after.

The belief behind it (common practice, no source): after a long day a horse may be a little sore the
next day, but must be as before the day after. The numbers that make it a rule are our own design.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from horses.models import Ride, SorenessCheck

BEFORE, AFTER, NEXT_DAY, SECOND_DAY = "before", "after", "next_day", "second_day"
# Hours after the ride in which a check answers the question (common practice, no source).
WINDOW_HOURS = {NEXT_DAY: (20.0, 28.0), SECOND_DAY: (44.0, 52.0)}
MOMENT_WORDS = {
    BEFORE: "before the ride",
    AFTER: "after the ride",
    NEXT_DAY: "the next day",
    SECOND_DAY: "the second day",
}
SEVERE = 3
FAILS_TO_REFER = 2
REFER_WITHIN = timedelta(days=365)

SiteSide = tuple[str, str]


class Outcome(Enum):
    """What a recovery test says."""

    PASS = "pass"
    SLOW = "slow"
    FAIL = "fail"
    INCOMPLETE = "incomplete"

    @property
    def words(self) -> str:
        return {
            Outcome.PASS: "Passed",
            Outcome.SLOW: "Slow to recover",
            Outcome.FAIL: "Failed",
            Outcome.INCOMPLETE: "Not complete",
        }[self]

    @property
    def level(self) -> str:
        """How a page marks it."""
        return {
            Outcome.PASS: "plain",
            Outcome.SLOW: "watch",
            Outcome.FAIL: "beyond",
            Outcome.INCOMPLETE: "unknown",
        }[self]


@dataclass(frozen=True)
class Felt:
    """One feeling-over: scores (None is "not tested"), heat or swelling."""

    scores: Mapping[SiteSide, int | None]
    hours_after: float = 0.0
    has_heat_or_swelling: bool = False

    @property
    def tested(self) -> dict[SiteSide, int]:
        return {key: score for key, score in self.scores.items() if score is not None}


@dataclass(frozen=True)
class RecoveryResult:
    """The outcome with its reasons in plain words."""

    outcome: Outcome
    reasons: tuple[str, ...]


def rise(before: Felt, later: Felt) -> int | None:
    """Return the largest rise over the score before the ride, None when nothing can be compared."""
    base = before.tested
    rises = [score - base[key] for key, score in later.tested.items() if key in base]
    return max(rises, default=None)


def judge_recovery(felt: Mapping[str, Felt]) -> RecoveryResult:
    """Judge the checks of one ride, keyed by moment.

    Pass: the next day no site more than 1 above before and none at 3 or 4, and the second day no
    site above before. Slow: 2 above the next day, or 1 above the second day. Fail: anything more,
    a 3 or 4 the next day, or any heat or swelling after the ride. A check that is missing, too
    early or too late, or that left out a site, can never give a pass.
    """
    fails = [*_heat(felt), *_severe(felt), *_rises(felt, {NEXT_DAY: 3, SECOND_DAY: 2})]
    if fails:
        return RecoveryResult(Outcome.FAIL, tuple(fails))
    slow = _rises(felt, {NEXT_DAY: 2, SECOND_DAY: 1})
    if slow:
        return RecoveryResult(Outcome.SLOW, tuple(slow))
    gaps = _gaps(felt)
    if gaps:
        return RecoveryResult(Outcome.INCOMPLETE, tuple(gaps))
    return RecoveryResult(Outcome.PASS, ("as before by the second day",))


def _counts(felt: Mapping[str, Felt], moment: str) -> bool:
    """A check made too early says nothing yet; one made too late still shows what is left."""
    return moment in felt and felt[moment].hours_after >= WINDOW_HOURS[moment][0]


def _heat(felt: Mapping[str, Felt]) -> list[str]:
    return [
        f"heat or swelling {MOMENT_WORDS[moment]}"
        for moment in (AFTER, NEXT_DAY, SECOND_DAY)
        if moment in felt and felt[moment].has_heat_or_swelling
    ]


def _severe(felt: Mapping[str, Felt]) -> list[str]:
    if not _counts(felt, NEXT_DAY):
        return []
    worst = max(felt[NEXT_DAY].tested.values(), default=0)
    return [f"a score of {worst} the next day"] if worst >= SEVERE else []


def _rises(felt: Mapping[str, Felt], limits: Mapping[str, int]) -> list[str]:
    if BEFORE not in felt:
        return []
    found = []
    for moment, limit in limits.items():
        up = rise(felt[BEFORE], felt[moment]) if _counts(felt, moment) else None
        if up is not None and up >= limit:
            found.append(f"{up} above the score before, {MOMENT_WORDS[moment]}")
    return found


def _gaps(felt: Mapping[str, Felt]) -> list[str]:
    gaps = [
        f"no check {MOMENT_WORDS[moment]}"
        for moment in (BEFORE, NEXT_DAY, SECOND_DAY)
        if moment not in felt or not felt[moment].tested
    ]
    if gaps:
        return gaps
    for moment, (earliest, latest) in WINDOW_HOURS.items():
        hours = felt[moment].hours_after
        if not earliest <= hours <= latest:
            gaps.append(
                f"the check of {MOMENT_WORDS[moment]} was {hours:.0f} h after the ride, "
                f"not {earliest:.0f} to {latest:.0f} h"
            )
        gaps += _sites_left_out(felt[BEFORE], felt[moment], moment)
    return gaps


def _sites_left_out(before: Felt, later: Felt, moment: str) -> list[str]:
    """A site felt before must be felt again; one that is sore now needs a score from before."""
    missing = before.tested.keys() - later.tested.keys()
    new = [key for key, score in later.tested.items() if score and key not in before.tested]
    words = []
    if missing:
        words.append(f"{_places(missing)} not felt {MOMENT_WORDS[moment]}")
    if new:
        words.append(f"{_places(new)} sore {MOMENT_WORDS[moment]} but not felt before the ride")
    return words


def _places(keys: Iterable[SiteSide]) -> str:
    return ", ".join(f"{site} {side}" for site, side in sorted(keys))


def felt_in(check: "SorenessCheck", ended_at: datetime) -> Felt:
    """Return one stored check of a ride as the rule needs it."""
    rows = list(check.scores.all())
    return Felt(
        scores={(row.site, row.side): row.score for row in rows},
        hours_after=(check.checked_at - ended_at).total_seconds() / 3600,
        has_heat_or_swelling=any(row.is_warm or row.swelling_mm for row in rows),
    )


def recovery_result(ride: "Ride") -> RecoveryResult:
    """Judge one ride from its stored checks (prefetch `soreness_checks__scores`)."""
    checks = ride.soreness_checks.all()
    return judge_recovery({check.moment: felt_in(check, ride.ended_at) for check in checks})


def must_refer(tests: Sequence[tuple[datetime, RecoveryResult]]) -> bool:
    """Two failed tests within a year of the latest one: stop and ask the veterinarian."""
    if not tests:
        return False
    latest = max(when for when, _ in tests)
    fails = [
        when
        for when, result in tests
        if result.outcome is Outcome.FAIL and latest - when <= REFER_WITHIN
    ]
    return len(fails) >= FAILS_TO_REFER
