"""The owner's report as one frozen record of plain words and numbers, ready to store as JSON.

It holds no address, no telephone or e-mail of the client, no place, no weight of a rider, no load
from which that weight could be worked out, and no other horse.
"""

from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Any

from django.utils.timezone import localdate

from fitting.adapters.felt import felt_of
from fitting.models import Verdict
from horses.adapters.profiles import back_point, problems_of, soreness_point
from horses.models import SorenessCheck, sides_of
from horses.recovery import recovery_result
from horses.seasons import site_changes
from practice.report import words
from practice.report.appendix import AppendixGroup, appendix_of
from practice.report.comparing import earlier_measurement
from practice.report.done import what_we_did
from practice.report.drawings import Drawings, Trend, drawings_of, trend_of
from practice.selectors.flags import SITE_WORDS, back_flags, check_before, ride_flags
from practice.selectors.reports import PairingRecords, ReportRecords

VERSION = 1
SIDE_WORDS = {"L": "left", "R": "right", "M": ""}
NOT_TESTED = "–"  # the legend beside the table says so
CHANGE_WORDS = {"not compared": "first time", "not tested": "not tested"}
NOTHING_FELT = "Nothing reacted."
RECOVERY_AFTER_DAYS = 14
SATURDAY = 5
RIDES_SHOWN = timedelta(days=366)


@dataclass(frozen=True)
class VerdictPart:
    """The decision on one saddle, in words."""

    saddle: str
    word: str
    level: str
    meaning: str
    rest_first: bool
    reason: str
    hours: str
    holds_until: str
    signed: str


@dataclass(frozen=True)
class FoundSpot:
    """A place that reacted now or the time before."""

    where: str
    now: str
    before: str
    change: str


@dataclass(frozen=True)
class BackPart:
    """What the hand felt. `map` has "BS.L" style keys; None is 'not tested'.

    `left_out` says that some places were no part of this check.
    """

    felt_on: str
    summary: str
    map: dict[str, int | None]
    spots: tuple[FoundSpot, ...]
    before_on: str
    untested: tuple[str, ...]
    left_out: bool
    painkillers: str


@dataclass(frozen=True)
class RecoverySheet:
    """The long-ride test with its dates filled in, to be printed and written on."""

    moments: tuple[tuple[str, str], ...]
    places: tuple[str, ...]
    scale: tuple[str, ...]


@dataclass(frozen=True)
class ReportContent:
    """Everything the report shows, in its order."""

    version: int
    horse: str
    horse_words: str
    visit_on: str
    practice: str
    practice_phone: str
    fitter: str
    verdicts: tuple[VerdictPart, ...]
    vet: tuple[str, ...]
    back: BackPart | None
    drawings: tuple[Drawings, ...]
    done: tuple[str, ...]
    to_do: tuple[str, ...]
    recovery: RecoverySheet | None
    next_check: str
    trend: Trend | None
    rides: tuple[str, ...]
    appendix: tuple[AppendixGroup, ...]
    compared_with: str
    caution: str
    copies: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the content as plain lists and dictionaries, as it is stored and shown."""
        found: dict[str, Any] = _plain(asdict(self))
        return found


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def long_day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def build_content(
    records: ReportRecords, *, ride_on: date | None = None, recipient: str = ""
) -> ReportContent:
    """Return the report of a visit. `ride_on` dates the recovery sheet."""
    visit_horse = records.visit_horse
    horse, visit = visit_horse.horse, visit_horse.visit
    imperial = is_imperial(records)
    return ReportContent(
        version=VERSION,
        horse=horse.barn_name,
        horse_words=_horse_words(records),
        visit_on=long_day(records.day),
        practice=records.practice.name,
        practice_phone=records.practice.phone,
        fitter=str(visit.fitter) if visit.fitter else "",
        verdicts=_verdicts(records),
        vet=_vet(records),
        back=_back(records),
        drawings=drawings_of(records, imperial=imperial),
        done=what_we_did(records),
        to_do=_to_do(records),
        recovery=_recovery(records, ride_on),
        next_check=_next_check(records),
        trend=trend_of(records),
        rides=_rides(records),
        appendix=appendix_of(records, imperial=imperial),
        compared_with=_compared_with(records),
        caution=words.CAUTION,
        copies=_copies(records, recipient),
    )


def is_imperial(records: ReportRecords) -> bool:
    """The client's own units, or the practice's where the client named none."""
    units = records.visit_horse.visit.client.units or records.practice.units
    return units == records.practice.Units.IMPERIAL


def _horse_words(records: ReportRecords) -> str:
    horse = records.visit_horse.horse
    age = horse.age_years_on(records.day)
    said = [
        " ".join(w for w in (horse.colour, horse.get_sex_display().lower()) if w),
        f"{age:.0f} years" if age is not None else "",
        horse.use,
    ]
    return ", ".join(w for w in said if w)


def _signed(records: ReportRecords) -> list[tuple[PairingRecords, Verdict]]:
    """Pairings with a verdict of the visit, the strictest verdict first."""
    found = [(p, p.verdict) for p in records.pairings if p.verdict is not None]
    order = {word: index for index, word in enumerate(words.STRICTEST_FIRST)}
    return sorted(found, key=lambda pair: order[Verdict.Word(pair[1].word)])


def _verdicts(records: ReportRecords) -> tuple[VerdictPart, ...]:
    return tuple(_verdict(pairing, verdict) for pairing, verdict in _signed(records))


def _verdict(records: PairingRecords, verdict: Verdict) -> VerdictPart:
    hours = verdict.hours_limit
    level = words.LEVELS.get(verdict.word, "beyond")
    return VerdictPart(
        saddle=saddle_words(records),
        word=verdict.get_word_display(),
        level=level,
        meaning=words.MEANINGS[verdict.word],
        rest_first=verdict.also_rest_first,
        reason=verdict.reason.strip(),
        hours="" if hours is None else f"At most {hours:g} hours a day.",
        holds_until="" if level == "beyond" else long_day(verdict.expires_on),
        signed=f"{verdict.signed_by}, {verdict.get_confidence_display().lower()}",
    )


def saddle_words(records: PairingRecords) -> str:
    """Name the saddle by our tag, and what was under it."""
    saddle, pad = records.pairing.saddle, records.pairing.pad
    under = f" with pad “{pad.name}”" if pad else " without a pad"
    return f"{saddle.get_kind_display()} saddle {saddle.tag}{under}"


def _back(records: ReportRecords) -> BackPart | None:
    check = records.check
    if check is None:
        return None
    before = check_before([c for c in records.checks if c.checked_at <= check.checked_at])
    now = soreness_point(check)
    then = soreness_point(before) if before else None
    changes = site_changes(now, then, list(SITE_WORDS))
    untested = [_where(site, side) for (site, side), score in now.scores.items() if score is None]
    return BackPart(
        felt_on=long_day(now.day),
        summary=_summary(check),
        map={f"{site}.{side}": score for (site, side), score in now.scores.items()},
        spots=tuple(
            FoundSpot(
                _where(c.site, c.side),
                _score(c.now),
                _score(c.before),
                CHANGE_WORDS.get(c.word, c.word),
            )
            for c in changes
        ),
        before_on=long_day(then.day) if then else "",
        untested=tuple(untested),
        left_out=any(
            (site, side) not in now.scores for site in SITE_WORDS for side in sides_of(site)
        ),
        painkillers=check.painkillers,
    )


def _vet(records: ReportRecords) -> tuple[str, ...]:
    """What was found that a veterinarian should see, counted up to this visit."""
    tests = [(ride, recovery_result(ride)) for ride in records.rides]
    backs = [back_point(m) for m in records.measurements if not problems_of(m)]
    at_visit = records.checks if records.check is not None else ()
    return (*back_flags(at_visit, records.marks, backs, records.day), *ride_flags(tests))


def _rides(records: ReportRecords) -> tuple[str, ...]:
    """The long-ride tests of the year before the visit, latest first."""
    lines = []
    for ride in records.rides:
        ended_on = localdate(ride.ended_at)
        if records.day - ended_on > RIDES_SHOWN:
            continue
        result = recovery_result(ride)
        reasons = "; ".join(result.reasons)
        day = long_day(ended_on)
        lines.append(f"{day}, {ride.hours:g} hours: {result.outcome.words.lower()} ({reasons}).")
    return tuple(lines)


def _where(site: str, side: str) -> str:
    return f"{SITE_WORDS[site]}, {SIDE_WORDS[side]}" if SIDE_WORDS[side] else SITE_WORDS[site]


def _score(score: int | None) -> str:
    return NOT_TESTED if score is None else str(score)


def _summary(check: SorenessCheck) -> str:
    felt = felt_of(check)
    if felt.level == "quiet":
        return NOTHING_FELT if not felt.spots else "Nothing reacted under the saddle."
    return f"{felt.words}."


def _to_do(records: ReportRecords) -> tuple[str, ...]:
    lines: list[str] = []
    for _, verdict in _signed(records):
        lines += [line.strip() for line in verdict.advice.splitlines() if line.strip()]
    lines += _riding_limits(records)
    return tuple(dict.fromkeys([*lines, words.EVERY_RIDE, words.CALL_VET]))


def _riding_limits(records: ReportRecords) -> list[str]:
    """Say how far the horse may be ridden; the strictest verdict speaks for all saddles."""
    signed = [verdict for _, verdict in _signed(records)]
    if any(v.word == Verdict.Word.VET_FIRST for v in signed):
        return [words.NO_RIDES]
    if any(v.also_rest_first or v.word == Verdict.Word.REST_FIRST for v in signed):
        return [words.NO_RIDES_YET]
    return [] if _may_ride_long(records) else [words.NO_LONG_RIDES]


def _may_ride_long(records: ReportRecords) -> bool:
    signed = [verdict for _, verdict in _signed(records)]
    return any(v.word in words.MAY_RIDE_LONG for v in signed) and not any(
        v.also_rest_first or v.word in {Verdict.Word.VET_FIRST, Verdict.Word.REST_FIRST}
        for v in signed
    )


def first_long_ride(day: date) -> date:
    """Return the first Saturday two weeks after the visit, as a date to start from."""
    start = day + timedelta(days=RECOVERY_AFTER_DAYS)
    return start + timedelta(days=(SATURDAY - start.weekday()) % 7)


def _recovery(records: ReportRecords, ride_on: date | None) -> RecoverySheet | None:
    if not _may_ride_long(records):
        return None
    ride = ride_on or first_long_ride(records.day)
    return RecoverySheet(
        moments=(
            ("Before", _short(ride)),
            ("After", _short(ride)),
            ("Next day", _short(ride + timedelta(days=1))),
            ("2nd day", _short(ride + timedelta(days=2))),
        ),
        places=words.OWNER_PLACES,
        scale=words.SCALE,
    )


def _short(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def _next_check(records: ReportRecords) -> str:
    days = [v.next_check_on for _, v in _signed(records) if v.next_check_on]
    return long_day(min(days)) if days else ""


def _compared_with(records: ReportRecords) -> str:
    earlier = earlier_measurement(records)
    return long_day(earlier.measured_on) if earlier else ""


def _copies(records: ReportRecords, recipient: str) -> tuple[str, ...]:
    """Who has this report: the practice, whoever the link is made for, earlier links' readers."""
    earlier = [
        name
        for link in records.links
        if link.revoked_at is None
        for name in link.content.get("copies", [])[1:]
    ]
    ours = f"{records.practice.name}, in its records"
    named = [f"{recipient}, by link"] if recipient else []
    return tuple(dict.fromkeys([ours, *named, *earlier]))


def default_recipient(records: ReportRecords) -> str:
    """The owners on the day of the visit, else the client who called."""
    return ", ".join(records.owners) or records.visit_horse.visit.client.name
