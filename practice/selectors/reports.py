"""What one horse's report of one visit is made from. Nothing later than the visit is read."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import (
    BooleanField,
    Case,
    Count,
    Max,
    Prefetch,
    Q,
    QuerySet,
    Value,
    When,
)
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone

from fitting.models import FitEvaluation, HandCheck, Pairing, SafetyCheck, Verdict
from horses.models import BackMeasurement, Horse, Ride, SkinMark, SorenessCheck
from horses.selectors.seasons import AT_REST, rides_with_checks
from practice.models import HorseRole, Practice, ShareLink, VisitHorse


@dataclass(frozen=True)
class PairingRecords:
    """What was decided, felt and computed for one pairing at the visit."""

    pairing: Pairing
    verdict: Verdict | None
    hand_checks: tuple[HandCheck, ...]
    safety: SafetyCheck | None
    evaluation: FitEvaluation | None


@dataclass(frozen=True)
class ReportRecords:
    """Every record that a report is made from; lists run from oldest to latest."""

    visit_horse: VisitHorse
    practice: Practice
    day: date
    checks: tuple[SorenessCheck, ...]
    measurements: tuple[BackMeasurement, ...]
    pairings: tuple[PairingRecords, ...]
    history: tuple[Pairing, ...]
    marks: tuple[SkinMark, ...]
    rides: tuple[Ride, ...]
    owners: tuple[str, ...]
    links: tuple[ShareLink, ...]

    @property
    def check(self) -> SorenessCheck | None:
        """The soreness check of the visit itself."""
        return next((c for c in self.checks if c.visit_id == self.visit_horse.visit_id), None)

    @property
    def measurement(self) -> BackMeasurement | None:
        """The measuring of the visit itself."""
        visit_id = self.visit_horse.visit_id
        return next((m for m in self.measurements if m.visit_id == visit_id), None)


def visit_horse_or_404(visit_pk: int, horse_pk: int) -> VisitHorse:
    rows = VisitHorse.objects.select_related(
        "horse", "visit__client", "visit__place", "visit__fitter"
    )
    return get_object_or_404(rows, visit_id=visit_pk, horse_id=horse_pk)


def records_for_report(visit_horse: VisitHorse) -> ReportRecords:
    """Return everything that a report shows, up to the end of the visit's day."""
    visit, horse = visit_horse.visit, visit_horse.horse
    day = visit.starts_local.date()
    return ReportRecords(
        visit_horse=visit_horse,
        practice=Practice.objects.first() or Practice(),
        day=day,
        checks=_checks(horse, day, visit.time_zone),
        measurements=_measurements(horse, day),
        pairings=_pairings(visit_horse, day),
        history=tuple(
            Pairing.objects.filter(horse=horse, from_date__lte=day)
            .select_related("saddle__tree", "pad")
            .order_by("from_date", "pk")
        ),
        marks=tuple(SkinMark.objects.filter(horse=horse, first_seen_on__lte=day)),
        rides=tuple(rides_with_checks(horse).filter(ended_at__lt=_end_of(day, visit.time_zone))),
        owners=_owners(horse, day),
        links=tuple(links_of(visit_horse)),
    )


def _end_of(day: date, zone: str) -> datetime:
    return datetime.combine(day + timedelta(days=1), time(), tzinfo=ZoneInfo(zone))


def _checks(horse: Horse, day: date, zone: str) -> tuple[SorenessCheck, ...]:
    """Checks at rest up to the end of the day on the clock of the place visited."""
    rows = SorenessCheck.objects.filter(
        horse=horse, moment__in=AT_REST, checked_at__lt=_end_of(day, zone)
    )
    found = rows.prefetch_related("scores").order_by("checked_at", "pk")
    return tuple(c for c in found if any(row.score is not None for row in c.scores.all()))


def _measurements(horse: Horse, day: date) -> tuple[BackMeasurement, ...]:
    rows = BackMeasurement.objects.filter(horse=horse, measured_on__lte=day)
    return tuple(rows.prefetch_related("sections", "lines").order_by("measured_on", "pk"))


def _pairings(visit_horse: VisitHorse, day: date) -> tuple[PairingRecords, ...]:
    """The pairings looked at on the visit: with a verdict, a hand check or a computed fit of it."""
    visit = visit_horse.visit
    touched = Q(verdicts__visit=visit) | Q(hand_checks__visit=visit) | Q(evaluations__visit=visit)
    done = FitEvaluation.objects.filter(
        state=FitEvaluation.State.DONE, evaluated_on__lte=day
    ).order_by("-evaluated_on", "-pk")
    rows = (
        Pairing.objects.filter(touched, horse=visit_horse.horse)
        .distinct()
        .select_related("saddle__tree", "pad", "rider")
        .prefetch_related(
            Prefetch(
                "verdicts",
                Verdict.objects.filter(visit=visit).select_related("signed_by"),
                to_attr="of_visit",
            ),
            Prefetch(
                "hand_checks", HandCheck.objects.filter(visit=visit), to_attr="checks_of_visit"
            ),
            Prefetch("evaluations", done.filter(visit=visit), to_attr="evaluations_of_visit"),
            Prefetch(
                "saddle__safety_checks",
                SafetyCheck.objects.filter(visit=visit),
                to_attr="safety_of_visit",
            ),
        )
        .order_by("pk")
    )
    return tuple(_gathered(pairing) for pairing in rows)


def _gathered(pairing: Pairing) -> PairingRecords:
    return PairingRecords(
        pairing=pairing,
        verdict=next(iter(pairing.of_visit), None),  # type: ignore[attr-defined]
        hand_checks=tuple(pairing.checks_of_visit),  # type: ignore[attr-defined]
        safety=next(iter(pairing.saddle.safety_of_visit), None),  # type: ignore[attr-defined]
        evaluation=next(iter(pairing.evaluations_of_visit), None),  # type: ignore[attr-defined]
    )


def _owners(horse: Horse, day: date) -> tuple[str, ...]:
    """Names of the owners on the day of the visit."""
    roles = HorseRole.objects.filter(
        Q(from_date__isnull=True) | Q(from_date__lte=day),
        Q(to_date__isnull=True) | Q(to_date__gte=day),
        horse=horse,
        role__in=(HorseRole.Role.OWNER, HorseRole.Role.CO_OWNER),
    )
    return tuple(dict.fromkeys(role.client.name for role in roles.select_related("client")))


def links_of(visit_horse: VisitHorse) -> QuerySet[ShareLink]:
    """Return the links to a report, latest first, with how often and when last opened."""
    return ShareLink.objects.filter(visit_horse=visit_horse).annotate(
        view_count=Count("views"),
        last_seen_at=Max("views__seen_at"),
        is_open=Case(
            When(revoked_at__isnull=True, expires_at__gt=timezone.now(), then=Value(True)),
            default=Value(False),
            output_field=BooleanField(),
        ),
    )


def link_of_report(visit_horse: VisitHorse, pk: int) -> ShareLink:
    return get_object_or_404(ShareLink, visit_horse=visit_horse, pk=pk)


def open_link(token: str) -> ShareLink:
    """Return the link that a token opens now; wrong, revoked and run-out ones are alike."""
    link = ShareLink.objects.filter(
        token=token, revoked_at__isnull=True, expires_at__gt=timezone.now()
    ).first()
    if link is None:
        raise Http404
    return link
