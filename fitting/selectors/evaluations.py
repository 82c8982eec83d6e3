"""Fit evaluations and what stands beside them on a page."""

from datetime import date

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from fitting.models import FitEvaluation, Pairing
from horses.models import BackMeasurement, Horse, Job, SorenessCheck

BESIDE = ("pairing__horse", "pairing__saddle__tree", "pairing__pad", "pairing__rider")
HEAVY = ("inputs", "result")


def evaluation_for_page(pk: int) -> FitEvaluation:
    """Return an evaluation with all its page names, or raise 404."""
    rows = FitEvaluation.objects.select_related(*BESIDE, "measurement", "visit", "created_by")
    return get_object_or_404(rows, pk=pk)


def evaluation_to_compute(pk: int) -> FitEvaluation:
    """Return an evaluation with every record that its inputs are read from."""
    rows = FitEvaluation.objects.select_related(*BESIDE, "measurement").prefetch_related(
        "measurement__sections", "measurement__lines"
    )
    return rows.get(pk=pk)


def evaluations_of_horse(horse: Horse, *, pairing_id: int | None = None) -> QuerySet[FitEvaluation]:
    """Return the evaluations of a horse, latest first, without their bulky parts."""
    rows = FitEvaluation.objects.filter(pairing__horse=horse).select_related(*BESIDE)
    if pairing_id is not None:
        rows = rows.filter(pairing_id=pairing_id)
    return rows.defer(*HEAVY)


def horse_or_404(pk: int) -> Horse:
    return get_object_or_404(Horse, pk=pk)


def pairing_or_404(pk: int) -> Pairing:
    return get_object_or_404(Pairing.objects.select_related("horse", "saddle"), pk=pk)


def others_to_compare(evaluation: FitEvaluation, *, limit: int = 12) -> list[FitEvaluation]:
    """Return computed evaluations of the same horse to set beside this one, latest first."""
    rows = evaluations_of_horse(evaluation.pairing.horse).exclude(pk=evaluation.pk)
    return list(rows.filter(state=FitEvaluation.State.DONE)[:limit])


def last_soreness_check(horse: Horse, day: date) -> SorenessCheck | None:
    """Return the last check at or before a day, with its scores."""
    checks = SorenessCheck.objects.filter(horse=horse, checked_at__date__lte=day)
    return checks.prefetch_related("scores").select_related("examiner", "ride").first()


def measurement_for(
    pairing: Pairing, *, measurement_pk: int | None = None, visit_pk: int | None = None
) -> BackMeasurement | None:
    """Return the measuring asked for, the visit's, or else the horse's latest."""
    rows = BackMeasurement.objects.filter(horse=pairing.horse)
    if measurement_pk is not None:
        return get_object_or_404(rows, pk=measurement_pk)
    if visit_pk is not None:
        rows = rows.filter(visit_id=visit_pk)
    return rows.first()


def job_of(evaluation: FitEvaluation) -> Job | None:
    """Return the job that computes an evaluation, the latest if there were several."""
    return Job.objects.filter(kind="evaluate_fit", arguments__evaluation=evaluation.pk).first()
