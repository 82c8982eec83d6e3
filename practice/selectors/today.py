"""What the day needs: the round, and what is due, unfinished or worrying."""

from dataclasses import dataclass, field
from datetime import date, datetime, time
from itertools import groupby
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.utils import timezone
from django.utils.formats import date_format

from fitting.models import Pairing, Verdict
from horses.models import Horse, SiteScore, SorenessCheck
from practice.models import Visit, VisitHorse
from practice.selectors.visits import Clash, clashes_within, free_minutes, visits_with_horses

SORE = 2


@dataclass(frozen=True)
class Stop:
    """One visit of the day, with what stands in its way."""

    visit: Visit
    clashes: list[Clash] = field(default_factory=list)
    free_minutes: int | None = None
    other_clock: bool = False
    is_next: bool = False


@dataclass(frozen=True)
class DueHorse:
    """A horse that wants a visit, and why."""

    horse: Horse
    reasons: list[str]


def stops_of(visits: list[Visit], zone: str) -> list[Stop]:
    """Return the visits with clashes and the free time before each."""
    clashes, gaps = clashes_within(visits), free_minutes(visits)
    left = [visit for visit in visits if visit.state != Visit.State.RECORDED]
    return [
        Stop(
            visit,
            clashes.get(visit.pk, []),
            gaps.get(visit.pk),
            other_clock=_differs(visit.time_zone, zone, visit.starts_at),
            is_next=bool(left) and visit == left[0],
        )
        for visit in visits
    ]


def _differs(one: str, other: str, moment: datetime) -> bool:
    if one == other:
        return False
    return (
        moment.astimezone(ZoneInfo(one)).utcoffset()
        != moment.astimezone(ZoneInfo(other)).utcoffset()
    )


def start_of(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time()))


def _latest_verdicts() -> QuerySet[Verdict]:
    """Return the last verdict of each pairing in use on a horse in care, with nothing booked."""
    last = Verdict.objects.filter(pairing=OuterRef("pairing")).order_by("-signed_at", "-pk")
    return Verdict.objects.filter(
        pairing__to_date=None,
        pairing__horse__state=Horse.State.ACTIVE,
        pk=Subquery(last.values("pk")[:1]),
    ).select_related("pairing__horse__place", "pairing__saddle")


def _booked(horse_field: str, day: date) -> Exists:
    return Exists(
        VisitHorse.objects.filter(
            horse=OuterRef(horse_field),
            visit__state__in=(Visit.State.BOOKED, Visit.State.UNDERWAY),
            visit__starts_at__gte=start_of(day),
        )
    )


def due_horses(day: date) -> list[DueHorse]:
    """Return horses whose next check has passed, longest overdue first.

    A verdict that has run out is an alert (`practice.selectors.alerts`).
    """
    late = (
        _latest_verdicts()
        .filter(next_check_on__lt=day)
        .exclude(_booked("pairing__horse", day))
        .order_by("pairing__horse__barn_name", "pairing__horse", "pk")
    )
    by_horse = [
        (horse, list(verdicts))
        for horse, verdicts in groupby(late, key=lambda verdict: verdict.pairing.horse)
    ]
    by_horse.sort(key=lambda pair: min(_due_on(verdict) for verdict in pair[1]))
    return [DueHorse(horse, [_why(v) for v in verdicts]) for horse, verdicts in by_horse]


def _due_on(verdict: Verdict) -> date:
    return verdict.next_check_on or verdict.expires_on


def _why(verdict: Verdict) -> str:
    due_on = date_format(_due_on(verdict), "j M Y")
    return f"{verdict.pairing.saddle}: re-check was due on {due_on}"


def shims_past_date(day: date) -> QuerySet[Pairing]:
    """Return pairings in use whose shims should have been looked at."""
    has_shim = Q()
    for corner in ("front_left", "front_right", "rear_left", "rear_right"):
        has_shim |= Q(**{f"shim_{corner}_mm__gt": 0})
    return (
        Pairing.objects.filter(
            has_shim, to_date=None, shims_until__lt=day, horse__state=Horse.State.ACTIVE
        )
        .select_related("horse", "saddle")
        .order_by("shims_until", "pk")
    )


def unfinished_visits(day: date) -> QuerySet[Visit]:
    """Return visits whose day has passed and whose records are not closed."""
    return (
        visits_with_horses()
        .filter(state__in=(Visit.State.BOOKED, Visit.State.UNDERWAY), starts_at__lt=start_of(day))
        .order_by("-starts_at", "-pk")
    )


def sore_checks() -> QuerySet[SorenessCheck]:
    """Return the last check of each horse in care whose back was sore (2 or more anywhere)."""
    felt = SorenessCheck.objects.filter(
        Exists(SiteScore.objects.filter(check_done=OuterRef("pk"), score__isnull=False))
    )
    last = felt.filter(horse=OuterRef("horse")).order_by("-checked_at", "-pk")
    sore = SiteScore.objects.filter(score__gte=SORE).order_by("-score", "pk")
    return (
        SorenessCheck.objects.filter(
            Exists(sore.filter(check_done=OuterRef("pk"))), pk=Subquery(last.values("pk")[:1])
        )
        .exclude(horse__state__in=(Horse.State.SOLD, Horse.State.DIED))
        .select_related("horse")
        .prefetch_related(Prefetch("scores", queryset=sore, to_attr="sore_scores"))
        .order_by("-checked_at", "-pk")
    )
