"""Asking for a fit evaluation and computing it. A stored evaluation is never computed over."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.db import transaction

from fitting.adapters.errors import CannotEvaluate
from fitting.adapters.fit_inputs import gather_fit_inputs
from fitting.adapters.measures import flat_measures
from fitting.engine import ENGINE_VERSION, STEPS, EngineError, study_fit, to_dict
from fitting.models import FitEvaluation, Pairing
from fitting.selectors.evaluations import evaluation_to_compute
from horses.models import BackMeasurement, Job
from horses.services.jobs import queue_job, report_progress

if TYPE_CHECKING:
    from practice.models import User, Visit

KIND = "evaluate_fit"
FIRST = 10  # per cent of the work shown before the first step is done
MEASURING_GONE = "The measuring it was asked for has been removed."


@dataclass(frozen=True)
class Requested:
    """An evaluation waiting to be computed, and the job that will."""

    evaluation: FitEvaluation
    job: Job


@transaction.atomic
def start_evaluation(
    *,
    pairing: Pairing,
    measurement: BackMeasurement,
    visit: "Visit | None" = None,
    evaluated_on: date | None = None,
    created_by: "User | None" = None,
) -> FitEvaluation:
    """Write down a new evaluation without computing it; its inputs are read when it is computed."""
    if measurement.horse_id != pairing.horse_id:
        raise ValidationError({"measurement": "This measuring is of another horse."})
    evaluation = FitEvaluation(
        pairing=pairing,
        measurement=measurement,
        visit=visit,
        evaluated_on=evaluated_on or measurement.measured_on,
        created_by=created_by,
    )
    evaluation.full_clean(exclude={"inputs"})  # still empty: they are frozen when computed
    evaluation.save()
    return evaluation


@transaction.atomic
def request_evaluation(
    *,
    pairing: Pairing,
    measurement: BackMeasurement,
    visit: "Visit | None" = None,
    evaluated_on: date | None = None,
    created_by: "User | None" = None,
) -> Requested:
    """Start an evaluation and queue the job that computes it; the caller sends the job."""
    evaluation = start_evaluation(
        pairing=pairing,
        measurement=measurement,
        visit=visit,
        evaluated_on=evaluated_on,
        created_by=created_by,
    )
    job = queue_job(kind=KIND, arguments={"evaluation": evaluation.pk}, created_by=created_by)
    return Requested(evaluation, job)


def evaluate_now(
    *,
    evaluation: FitEvaluation,
    in_depth: bool = True,
    told: Callable[[str, float], None] = lambda *_: None,
) -> FitEvaluation:
    """Compute a waiting evaluation and freeze inputs, result and engine version with it.

    `in_depth` adds what builds on the fit itself: bands, room, a suggestion. `told` hears the name
    of each step and the share done. What the engine or the records refuse becomes a stored failure
    in plain words.
    """
    if evaluation.state == FitEvaluation.State.DONE:
        return evaluation
    row = evaluation_to_compute(evaluation.pk)
    if row.measurement is None:
        return _fail(evaluation, MEASURING_GONE, {"missing": []})
    try:
        gathered = gather_fit_inputs(row.pairing, row.measurement)
    except CannotEvaluate as error:
        missing = [vars(item) for item in error.missing]
        return _fail(evaluation, str(error), {"missing": missing})
    frozen = {"engine": to_dict(gathered.inputs), **gathered.account.as_data()}
    try:
        result = study_fit(gathered.inputs, steps=STEPS if in_depth else (), told=told)
    except EngineError as error:
        return _fail(evaluation, str(error), frozen)
    return _finish(
        evaluation, inputs=frozen, result=to_dict(result), measures=flat_measures(result)
    )


@transaction.atomic
def _finish(
    evaluation: FitEvaluation,
    *,
    inputs: dict[str, Any],
    result: dict[str, Any],
    measures: dict[str, float],
) -> FitEvaluation:
    evaluation.state = FitEvaluation.State.DONE
    evaluation.engine_version = ENGINE_VERSION
    evaluation.inputs, evaluation.result, evaluation.measures = inputs, result, measures
    evaluation.failure = ""
    evaluation.full_clean()
    evaluation.save()
    return evaluation


@transaction.atomic
def _fail(evaluation: FitEvaluation, why: str, inputs: dict[str, Any]) -> FitEvaluation:
    evaluation.state = FitEvaluation.State.FAILED
    evaluation.engine_version = ENGINE_VERSION
    evaluation.inputs = inputs
    longest = FitEvaluation._meta.get_field("failure").max_length or len(why)
    evaluation.failure = why if len(why) <= longest else why[: longest - 1] + "…"
    evaluation.full_clean()
    evaluation.save()
    return evaluation


def run_evaluation(*, job: Job) -> None:
    """Do an evaluation's job. Doing it twice changes nothing: a computed one is left alone."""
    evaluation = FitEvaluation.objects.get(pk=job.arguments["evaluation"])
    report_progress(job=job, percent=FIRST, step="Laying the tree on the back")

    def told(step: str, share: float) -> None:
        report_progress(job=job, percent=FIRST + int((100 - FIRST) * share), step=step)

    evaluate_now(evaluation=evaluation, told=told)
