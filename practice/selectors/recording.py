"""What the recording pages read: one horse on one visit with everything recorded on it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from fitting.models import FitEvaluation, HandCheck, Pairing, SafetyCheck, Verdict
from horses.models import (
    BackMeasurement,
    LineProfile,
    SectionProfile,
    SorenessCheck,
    TracingPhoto,
)
from practice.models import StepDraft, VisitHorse


def visit_horses(visit_pk: int, horse_pk: int) -> QuerySet[VisitHorse]:
    """Return the one row of a horse on a visit, or nothing when the horse is not on it."""
    rows = VisitHorse.objects.filter(visit_id=visit_pk, horse_id=horse_pk)
    return rows.select_related("horse", "visit__client", "visit__place", "visit__fitter")


def day_of(visit_horse: VisitHorse) -> date:
    """Return the day of the visit on the clock of its place."""
    return visit_horse.visit.starts_local.date()


def measurement_of(visit_horse: VisitHorse) -> BackMeasurement | None:
    found = BackMeasurement.objects.filter(
        horse_id=visit_horse.horse_id, visit_id=visit_horse.visit_id
    )
    return found.select_related("horse").prefetch_related("sections", "lines").first()


def tracings_of(visit_horse: VisitHorse) -> QuerySet[TracingPhoto]:
    """Return the photos of tracings taken of a horse on a visit."""
    found = TracingPhoto.objects.filter(
        measurement__horse_id=visit_horse.horse_id, measurement__visit_id=visit_horse.visit_id
    )
    return found.select_related("measurement__horse")


def photos_of(visit_horse: VisitHorse, shows: Iterable[str]) -> list[TracingPhoto]:
    """Return the photos of some stations or lines, with whether anything was kept from them."""
    kept = SectionProfile.objects.filter(tracing=OuterRef("pk"))
    kept_lines = LineProfile.objects.filter(tracing=OuterRef("pk"))
    found = tracings_of(visit_horse).filter(shows__in=list(shows))
    return list(found.annotate(is_kept=Exists(kept) | Exists(kept_lines)))


def soreness_of(visit_horse: VisitHorse) -> SorenessCheck | None:
    found = SorenessCheck.objects.filter(
        horse_id=visit_horse.horse_id,
        visit_id=visit_horse.visit_id,
        moment=SorenessCheck.Moment.VISIT,
    )
    return found.prefetch_related("scores").first()


def last_check_for(visit_horse: VisitHorse) -> SorenessCheck | None:
    """Return the latest feeling-over before this visit."""
    found = SorenessCheck.objects.filter(
        horse_id=visit_horse.horse_id, checked_at__lt=visit_horse.visit.starts_at
    ).exclude(visit_id=visit_horse.visit_id)  # work may begin before the hour booked
    return found.prefetch_related("scores").first()


def last_measurement_for(visit_horse: VisitHorse) -> BackMeasurement | None:
    """Return the latest measuring before the day of this visit."""
    found = BackMeasurement.objects.filter(
        horse_id=visit_horse.horse_id, measured_on__lt=day_of(visit_horse)
    )
    return found.prefetch_related("sections").first()


def pairings_of(visit_horse: VisitHorse) -> QuerySet[Pairing]:
    """Return the pairings in use on the day, and those with anything recorded on this visit."""
    return pairings_on(visit_horse.visit_id, day_of(visit_horse), [visit_horse.horse_id])


def pairings_on(visit_pk: int, day: date, horse_pks: list[int]) -> QuerySet[Pairing]:
    """Return the same for several horses of one visit."""
    in_use = Q(from_date__lte=day) & (Q(to_date__isnull=True) | Q(to_date__gte=day))
    recorded = (
        Q(hand_checks__visit=visit_pk)
        | Q(verdicts__visit=visit_pk)
        | Q(evaluations__visit=visit_pk)
    )
    found = Pairing.objects.filter(in_use | recorded, horse__in=horse_pks).distinct()
    return found.select_related("horse", "saddle__tree", "pad", "rider").prefetch_related(
        Prefetch("hand_checks", HandCheck.objects.filter(visit=visit_pk)),
        Prefetch("verdicts", Verdict.objects.filter(visit=visit_pk).select_related("signed_by")),
        Prefetch("evaluations", FitEvaluation.objects.filter(visit=visit_pk).defer("result")),
        Prefetch("saddle__safety_checks", SafetyCheck.objects.filter(visit=visit_pk)),
    )


def drafts_of(visit_horse: VisitHorse) -> set[str]:
    """Return the steps at which something typed is not stored yet."""
    return set(visit_horse.drafts.values_list("step", flat=True))


def draft_of(visit_horse: VisitHorse, step: str) -> StepDraft | None:
    return visit_horse.drafts.filter(step=step).first()


@dataclass(frozen=True)
class Recorded:
    """Everything recorded for one horse on one visit."""

    visit_horse: VisitHorse
    measurement: BackMeasurement | None
    check: SorenessCheck | None
    last_check: SorenessCheck | None
    pairings: list[Pairing]
    drafts: set[str]


def recorded_for(visit_horse: VisitHorse) -> Recorded:
    return Recorded(
        visit_horse=visit_horse,
        measurement=measurement_of(visit_horse),
        check=soreness_of(visit_horse),
        last_check=last_check_for(visit_horse),
        pairings=list(pairings_of(visit_horse)),
        drafts=drafts_of(visit_horse),
    )


@dataclass(frozen=True)
class Previous:
    """What was found last time, to hold beside what is found now."""

    measurement: BackMeasurement | None
    check: SorenessCheck | None
    verdicts: list[Verdict]

    @property
    def scores(self) -> dict[tuple[str, str], int | None]:
        rows = self.check.scores.all() if self.check else []
        return {(row.site, row.side): row.score for row in rows}

    @property
    def is_known(self) -> bool:
        return bool(self.measurement or self.check or self.verdicts)


def previous_for(visit_horse: VisitHorse) -> Previous:
    """Return the latest of each kind before the day of this visit."""
    verdicts = Verdict.objects.filter(
        pairing__horse_id=visit_horse.horse_id, signed_at__lt=visit_horse.visit.starts_at
    ).exclude(visit_id=visit_horse.visit_id)
    return Previous(
        measurement=last_measurement_for(visit_horse),
        check=last_check_for(visit_horse),
        verdicts=_latest_per_pairing(verdicts),
    )


def _latest_per_pairing(verdicts: QuerySet[Verdict]) -> list[Verdict]:
    latest: dict[int, Verdict] = {}
    for verdict in verdicts.select_related("pairing__saddle", "pairing__horse")[:20]:
        latest.setdefault(verdict.pairing_id, verdict)
    return list(latest.values())


def last_height_mm(visit_horse: VisitHorse) -> float | None:
    """Return the height measured last before this visit."""
    found = BackMeasurement.objects.filter(
        horse_id=visit_horse.horse_id,
        measured_on__lt=day_of(visit_horse),
        height_mm__isnull=False,
    )
    return found.order_by("-measured_on", "-pk").values_list("height_mm", flat=True).first()


def last_hand_checks(pairing: Pairing, visit_horse: VisitHorse, phase: str) -> dict[str, str]:
    """Return how each check of a phase was on the latest earlier visit with this pairing."""
    rows = (
        HandCheck.objects.filter(pairing=pairing, phase=phase)
        .filter(visit__starts_at__lt=visit_horse.visit.starts_at)
        .exclude(visit_id=visit_horse.visit_id)
        .order_by("visit__starts_at")
    )
    return {row.code: row.get_outcome_display().lower() for row in rows}


def visit_horses_of_visit(visit_pk: int) -> QuerySet[VisitHorse]:
    return VisitHorse.objects.filter(visit_id=visit_pk).select_related("horse", "visit")
