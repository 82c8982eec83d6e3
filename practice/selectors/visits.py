"""Visits as pages show them, and which of them get in each other's way."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import combinations, pairwise
from typing import Any

from django.db.models import Min, Prefetch, Q, QuerySet
from django.utils import timezone

from practice.models import Client, HorseRole, User, Visit, VisitHorse

BUFFER_MINUTES = 15  # between two stops; common practice, no source
LONGEST = timedelta(minutes=600)
STANDING = (Visit.State.BOOKED, Visit.State.UNDERWAY, Visit.State.RECORDED)


@dataclass(frozen=True)
class Clash:
    """Two visits that cannot both go as booked, in words."""

    words: str
    other: Visit
    is_hard: bool = True


def visits_with_horses() -> QuerySet[Visit]:
    horses = VisitHorse.objects.select_related("horse")
    return Visit.objects.select_related("client", "place", "fitter").prefetch_related(
        Prefetch("visit_horses", queryset=horses, to_attr="rows")
    )


def visits_listed(*, when: str = "coming", state: str = "", words: str = "") -> QuerySet[Visit]:
    """Return coming visits soonest first, or past ones latest first."""
    start = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    visits = visits_with_horses()
    if when == "past":
        visits = visits.filter(starts_at__lt=start).order_by("-starts_at", "-pk")
    elif when == "coming":
        visits = visits.filter(starts_at__gte=start).order_by("starts_at", "pk")
    if state:
        visits = visits.filter(state=state)
    for word in words.split():
        visits = visits.filter(_about(word))
    return visits


def _about(word: str) -> Q:
    named = VisitHorse.objects.filter(horse__barn_name__icontains=word).values("visit")
    return Q(client__name__icontains=word) | Q(place__name__icontains=word) | Q(pk__in=named)


def visits_between(first: date, last: date) -> list[Visit]:
    """Return standing visits whose day, on the clock of their own place, is in the span."""
    # The window is wider by a day on each side: clocks differ by up to 14 hours from UTC.
    start = datetime.combine(first - timedelta(days=1), time(), tzinfo=UTC)
    end = datetime.combine(last + timedelta(days=2), time(), tzinfo=UTC)
    near = visits_with_horses().filter(starts_at__gte=start, starts_at__lt=end, state__in=STANDING)
    here = [visit for visit in near if first <= visit.starts_local.date() <= last]
    return sorted(here, key=lambda visit: (visit.starts_at, visit.pk))


def _overlaps(one: Visit, other: Visit) -> bool:
    return one.starts_at < other.ends_at and other.starts_at < one.ends_at


def _clock(visit: Visit) -> str:
    return f"{visit.starts_local:%H:%M}–{visit.ends_local:%H:%M}"


def _names(horse_ids: set[int], visit: Visit) -> str:
    return ", ".join(str(row.horse) for row in visit.rows if row.horse_id in horse_ids)  # type: ignore[attr-defined]


def _shared_horses(horse_ids: set[int], other: Visit) -> set[int]:
    return horse_ids & {row.horse_id for row in other.rows}  # type: ignore[attr-defined]


def clash_between(visit: Visit, horse_ids: set[int], other: Visit) -> Clash | None:
    """Return how two visits clash: the fitter twice at once, a horse twice, or no time to drive."""
    place = other.place or other.client
    if _overlaps(visit, other):
        if visit.fitter_id is not None and visit.fitter_id == other.fitter_id:
            return Clash(f"{visit.fitter} is already at {place} {_clock(other)}.", other)
        both = _shared_horses(horse_ids, other)
        if both:
            words = f"{_names(both, other)} is already booked at {place} {_clock(other)}."
            return Clash(words, other)
        return None
    return _short_gap(visit, other)


def _short_gap(visit: Visit, other: Visit) -> Clash | None:
    same_fitter = visit.fitter_id is not None and visit.fitter_id == other.fitter_id
    if not same_fitter or visit.place_id is None or visit.place_id == other.place_id:
        return None
    first, then = (visit, other) if visit.starts_at < other.starts_at else (other, visit)
    gap = int((then.starts_at - first.ends_at).total_seconds() // 60)
    if gap >= BUFFER_MINUTES:
        return None
    words = (
        f"Only {gap} min to get from {first.place or first.client} to {then.place or then.client}."
    )
    return Clash(words, other, is_hard=False)


def clashes_of(visit: Visit, horse_ids: Iterable[int]) -> list[Clash]:
    """Return what a booked or proposed visit gets in the way of."""
    wide = timedelta(minutes=BUFFER_MINUTES)
    near = (
        visits_with_horses()
        .filter(
            state__in=(Visit.State.BOOKED, Visit.State.UNDERWAY),
            starts_at__lt=visit.ends_at + wide,
            starts_at__gt=visit.starts_at - LONGEST - wide,
        )
        .exclude(pk=visit.pk)
        .order_by("starts_at", "pk")
    )
    ids = set(horse_ids)
    found = (clash_between(visit, ids, other) for other in near)
    return [clash for clash in found if clash is not None]


def clashes_within(visits: Sequence[Visit]) -> dict[int, list[Clash]]:
    """Return the clashes of each visit of a day, by visit, without further queries."""
    standing = [v for v in visits if v.state in {Visit.State.BOOKED, Visit.State.UNDERWAY}]
    found: dict[int, list[Clash]] = {}
    for one, other in combinations(standing, 2):
        ids = {row.horse_id for row in one.rows}  # type: ignore[attr-defined]
        clash = clash_between(one, ids, other)
        if clash is not None:
            found.setdefault(other.pk, []).append(_told_from(other, one, clash))
    return found


def _told_from(visit: Visit, other: Visit, clash: Clash) -> Clash:
    """Tell a clash at the later visit, naming the earlier one."""
    if not clash.is_hard:
        return clash
    ids = {row.horse_id for row in visit.rows}  # type: ignore[attr-defined]
    return clash_between(visit, ids, other) or clash


def free_minutes(visits: Sequence[Visit]) -> dict[int, int]:
    """Return the minutes between each visit and the one before it of the same fitter."""
    gaps: dict[int, int] = {}
    for fitter_id in {visit.fitter_id for visit in visits} - {None}:
        round_ = [visit for visit in visits if visit.fitter_id == fitter_id]
        for before, after in pairwise(round_):
            gaps[after.pk] = int((after.starts_at - before.ends_at).total_seconds() // 60)
    return gaps


def next_visit_after(pk: int) -> dict[str, Any]:
    """Return what a re-check after a visit starts with: same people, on the next check date."""
    visit = visits_with_horses().filter(pk=pk).first()
    if visit is None:
        return {}
    horses = [row.horse for row in visit.rows]  # type: ignore[attr-defined]
    due = visit.verdicts.aggregate(day=Min("next_check_on"))["day"]
    asked = {
        "client": visit.client_id,
        "place": visit.place_id,
        "time_zone": visit.time_zone,
        "clock": visit.starts_local.time(),
        "horses": [horse.pk for horse in horses if horse.is_in_care],
    }
    return asked | ({"day": due} if due else {})


def fitters() -> QuerySet[User]:
    """Return who can be sent to a visit."""
    return User.objects.filter(is_active=True, role__in=(User.Role.LEAD, User.Role.HELPER))


def horse_ids_of_client(client: Client | None) -> set[int]:
    """Return the horses in which a client has a part that has not ended."""
    if client is None:
        return set()
    today = timezone.localdate()
    current = HorseRole.objects.filter(client=client).exclude(to_date__lt=today)
    return set(current.values_list("horse_id", flat=True))
