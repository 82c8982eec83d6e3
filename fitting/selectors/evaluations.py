"""Fit evaluations and what stands beside them on a page."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from fitting.models import FitEvaluation, Pairing, SafetyCheck
from horses.models import BackMeasurement, Horse, Job, SorenessCheck

BESIDE = ("pairing__horse", "pairing__saddle__tree", "pairing__pad", "pairing__rider")
HEAVY = ("inputs", "result", "sensitivity")


@dataclass(frozen=True)
class StoredFindings:
    """What a suggestion reads of an evaluation: findings as stored, kind of tree, what it lacks."""

    findings: tuple[dict[str, Any], ...]
    tree: str
    missing: tuple[str, ...] = ()


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


def stored_findings(evaluation_pk: int) -> StoredFindings | None:
    """Return what a suggestion reads of a computed or failed evaluation, and nothing bulky."""
    rows = FitEvaluation.objects.filter(pk=evaluation_pk).exclude(state=FitEvaluation.State.WAITING)
    kept = rows.values_list("result__findings", "inputs__engine__tree__type", "inputs__missing")
    found = kept.first()
    if found is None:
        return None
    findings, tree, missing = found
    lacking = tuple(item["what"] for item in missing or ())
    return StoredFindings(tuple(findings or ()), tree or "", lacking)


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


def unsafe_saddle(evaluation: FitEvaluation) -> tuple[str, ...]:
    """Return in words that the saddle's last check at or before an evaluation failed it, or ()."""
    checks = SafetyCheck.objects.filter(
        saddle=evaluation.pairing.saddle_id, checked_on__lte=evaluation.evaluated_on
    ).exclude(result="")
    last = checks.values_list("result", flat=True).first()
    failed = last == SafetyCheck.Result.UNSAFE
    return (f"{evaluation.pairing.saddle} is not to be ridden",) if failed else ()


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


def sweep_job_of(evaluation: FitEvaluation) -> Job | None:
    """Return the job that sweeps what an evaluation assumed, the latest if there were several."""
    return Job.objects.filter(kind="sweep_fit", arguments__evaluation=evaluation.pk).first()
