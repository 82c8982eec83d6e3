"""How an evaluation's findings hang on what was assumed: worked out in the background, stored.

It takes some thirty whole evaluations, a few seconds, so it is done when someone asks for it.
"""

from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError
from django.db import transaction

from fitting.engine import EngineError, FitInputs, FitResult, from_dict, sensitivity_of, to_dict
from fitting.models import FitEvaluation
from fitting.selectors.evaluations import sweep_job_of
from horses.models import Job
from horses.services.jobs import queue_job, report_progress

if TYPE_CHECKING:
    from practice.models import User

KIND = "sweep_fit"
NOT_DONE = "This evaluation has no result to start from."
OLD_FORM = "An older engine stored this evaluation in another form. Compute it again first."


@transaction.atomic
def request_sensitivity(*, evaluation: FitEvaluation, created_by: "User | None" = None) -> Job:
    """Queue the sweeps of a computed evaluation; one already under way is returned instead."""
    if evaluation.state != FitEvaluation.State.DONE:
        raise ValidationError(NOT_DONE)
    job = sweep_job_of(evaluation)
    if job is not None and job.state in (Job.State.QUEUED, Job.State.RUNNING):
        return job
    return queue_job(kind=KIND, arguments={"evaluation": evaluation.pk}, created_by=created_by)


def sweep_now(*, evaluation: FitEvaluation) -> FitEvaluation:
    """Sweep what was assumed from the frozen inputs, and store what came out beside them."""
    if evaluation.sensitivity:
        return evaluation
    inputs, result = _frozen(evaluation)
    evaluation.sensitivity = to_dict(sensitivity_of(inputs, result))
    evaluation.full_clean()
    evaluation.save(update_fields=["sensitivity", "changed_at"])
    return evaluation


def _frozen(evaluation: FitEvaluation) -> tuple[FitInputs, FitResult]:
    try:
        inputs = from_dict(evaluation.inputs.get("engine"))
        result = from_dict(evaluation.result)
    except EngineError as error:
        raise ValidationError(OLD_FORM) from error
    if not (isinstance(inputs, FitInputs) and isinstance(result, FitResult)):
        raise ValidationError(NOT_DONE)
    return inputs, result


def run_sensitivity(*, job: Job) -> None:
    """Do the job of an evaluation's sweeps. Doing it twice changes nothing."""
    evaluation = FitEvaluation.objects.get(pk=job.arguments["evaluation"])
    report_progress(job=job, percent=10, step="Trying every assumption over its range")
    sweep_now(evaluation=evaluation)
