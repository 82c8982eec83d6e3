"""How the findings of one evaluation hang on what was assumed."""

from contextlib import suppress
from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from fitting.adapters.errors import CannotShow
from fitting.adapters.felt import felt_of
from fitting.adapters.sensitivity_page import sensitivity_page_of
from fitting.models import FitEvaluation
from fitting.selectors.evaluations import evaluation_for_page, last_soreness_check, sweep_job_of
from fitting.services.sensitivity import request_sensitivity
from horses.charts.theme import CENTIMETRES, INCHES
from horses.models import Job
from horses.tasks import send_job


def evaluation_sensitivity(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the stored sweeps, how far they are, or the offer to work them out."""
    evaluation = evaluation_for_page(pk)
    if evaluation.state != FitEvaluation.State.DONE:
        return redirect("evaluation_detail", pk=pk)
    horse = evaluation.pairing.horse
    check = last_soreness_check(horse, evaluation.evaluated_on)
    context: dict[str, Any] = {
        "evaluation": evaluation,
        "pairing": evaluation.pairing,
        "horse": horse,
        "check": check,
        "felt": felt_of(check),
    }
    if evaluation.sensitivity:
        practice = getattr(request, "practice", None)
        metric = practice is not None and practice.units == "metric"
        with suppress(CannotShow):
            context["page"] = sensitivity_page_of(evaluation, CENTIMETRES if metric else INCHES)
    else:
        job = sweep_job_of(evaluation)
        context["job"] = job
        context["is_under_way"] = job is not None and job.state in (
            Job.State.QUEUED,
            Job.State.RUNNING,
        )
    return render(request, "fitting/sensitivity.html", context)


def evaluation_sensitivity_status(request: HttpRequest, pk: int) -> HttpResponse:
    """Answer how far the sweeps are; once they are over, tell the page to load itself again."""
    evaluation = evaluation_for_page(pk)
    job = sweep_job_of(evaluation)
    under_way = job is not None and job.state in (Job.State.QUEUED, Job.State.RUNNING)
    context = {"evaluation": evaluation, "job": job, "is_under_way": under_way}
    response = render(request, "fitting/sensitivity_status.html", context)
    if not under_way:
        response["HX-Refresh"] = "true"
    return response


@require_POST
def evaluation_sweep(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask for the sweeps of a computed evaluation."""
    evaluation = evaluation_for_page(pk)
    with suppress(ValidationError):  # the page says why there is nothing to work out
        job = request_sensitivity(evaluation=evaluation, created_by=request.user)  # type: ignore[arg-type]
        send_job(job)
    return redirect("evaluation_sensitivity", pk=pk)
