"""The page of one evaluation, the list, the comparison, and asking for a new one."""

from contextlib import suppress
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_POST

from fitting.adapters.comparison import comparison_of, title_of
from fitting.adapters.errors import CannotShow
from fitting.adapters.evaluation_page import loads_of_evaluation, page_of_evaluation, summary_of
from fitting.adapters.felt import felt_of
from fitting.adapters.suggestion import above_of, stored_of, suggestion_of
from fitting.models import FitEvaluation
from fitting.selectors.evaluations import (
    evaluation_for_page,
    evaluations_of_horse,
    horse_or_404,
    job_of,
    last_soreness_check,
    measurement_for,
    others_to_compare,
    pairing_or_404,
    unsafe_saddle,
)
from fitting.services.evaluations import request_evaluation
from horses.charts.theme import CENTIMETRES, INCHES, LengthUnit
from horses.tasks import send_job

NO_MEASUREMENT = (
    "There is no measured back to lay the tree on. Record the back first: sections and bar lines."
)

LOADS_ID = "loads"  # of the element that htmx fills anew

OLD_FORM = "One of the two was stored by an older engine. Compute it again to compare them."


def _unit(request: HttpRequest) -> LengthUnit:
    practice = getattr(request, "practice", None)
    return CENTIMETRES if practice is not None and practice.units == "metric" else INCHES


def _number(text: str | None) -> int | None:
    return int(text) if text and text.isdigit() else None


def _missing(evaluation: FitEvaluation) -> list[dict[str, str]]:
    """Return what is still to be measured, each with the page where it is entered."""
    return [
        {"what": item["what"], "url": _where(item, evaluation)}
        for item in evaluation.inputs.get("missing", [])
    ]


def _where(item: dict[str, Any], evaluation: FitEvaluation) -> str:
    if item["record"] == "measurement" and evaluation.measurement is not None:
        visit_pk = evaluation.measurement.visit_id
        if visit_pk is None:
            return reverse("horse_detail", args=[evaluation.pairing.horse_id])
        return reverse("record_horse", args=[visit_pk, evaluation.pairing.horse_id])
    return reverse(f"{item['record']}_edit", args=[item["pk"]])


def evaluation_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a computed fit; `?case=` names the load case shown large.

    A page that already shows it fetches only the section of the load, another case chosen.
    """
    evaluation = evaluation_for_page(pk)
    chosen = request.GET.get("case", "")
    is_done = evaluation.state == FitEvaluation.State.DONE
    if is_done and request.headers.get("HX-Target") == LOADS_ID:
        response = _loads_only(request, evaluation, chosen)
    else:
        response = _whole_page(request, evaluation, chosen)
    patch_vary_headers(response, ["HX-Target"])  # one address, two answers
    return response


def _loads_only(request: HttpRequest, evaluation: FitEvaluation, chosen: str) -> HttpResponse:
    try:
        loads = loads_of_evaluation(evaluation, chosen, _unit(request))
    except CannotShow:
        return HttpResponse(headers={"HX-Refresh": "true"})  # the page says what to do
    context = {"evaluation": evaluation, "loads": loads}
    return render(request, "fitting/evaluation_loads.html", context)


def _whole_page(request: HttpRequest, evaluation: FitEvaluation, chosen: str) -> HttpResponse:
    horse = evaluation.pairing.horse
    check = last_soreness_check(horse, evaluation.evaluated_on)
    felt = felt_of(check)
    context: dict[str, Any] = {
        "evaluation": evaluation,
        "pairing": evaluation.pairing,
        "horse": horse,
        "check": check,
        "felt": felt,
    }
    if evaluation.state == FitEvaluation.State.DONE:
        with suppress(CannotShow):  # the page then offers to compute it again
            context["page"] = page_of_evaluation(evaluation, felt, _unit(request), chosen)
            above = above_of(felt, unsafe=unsafe_saddle(evaluation))
            context["suggestion"] = suggestion_of(stored_of(evaluation), above, _unit(request))
            context["others"] = others_to_compare(evaluation)
    else:
        context["job"] = job_of(evaluation)
        context["missing"] = _missing(evaluation)
    return render(request, "fitting/evaluation_detail.html", context)


def evaluation_status(request: HttpRequest, pk: int) -> HttpResponse:
    """Answer how far it is; once it is over, tell the page to load itself again."""
    evaluation = evaluation_for_page(pk)
    context = {"evaluation": evaluation, "job": job_of(evaluation)}
    response = render(request, "fitting/evaluation_status.html", context)
    if evaluation.state != FitEvaluation.State.WAITING:
        response["HX-Refresh"] = "true"
    return response


def evaluation_list(request: HttpRequest, horse_pk: int) -> HttpResponse:
    horse = horse_or_404(horse_pk)
    pairing = _number(request.GET.get("pairing"))
    rows = evaluations_of_horse(horse, pairing_id=pairing)[:200]
    unit = _unit(request)
    context = {"horse": horse, "rows": [(row, summary_of(row.measures, unit)) for row in rows]}
    return render(request, "fitting/evaluation_list.html", context)


def _felt_column(evaluation: FitEvaluation) -> dict[str, Any]:
    check = last_soreness_check(evaluation.pairing.horse, evaluation.evaluated_on)
    return {"title": title_of(evaluation), "check": check, "felt": felt_of(check)}


def evaluation_compare(request: HttpRequest, pk: int, other_pk: int) -> HttpResponse:
    first, second = evaluation_for_page(pk), evaluation_for_page(other_pk)
    if first.pairing.horse_id != second.pairing.horse_id:
        raise Http404
    for row in (first, second):
        if row.state != FitEvaluation.State.DONE:
            return redirect("evaluation_detail", pk=row.pk)
    try:
        comparison = comparison_of(first, second, _unit(request))
    except CannotShow:
        messages.error(request, OLD_FORM)
        return redirect("evaluation_detail", pk=first.pk)
    context = {
        "first": first,
        "second": second,
        "horse": first.pairing.horse,
        "felt_columns": [_felt_column(first), _felt_column(second)],
        "comparison": comparison,
    }
    return render(request, "fitting/evaluation_compare.html", context)


@require_POST
def evaluation_request(request: HttpRequest, pairing_pk: int) -> HttpResponse:
    """Ask for the fit of a pairing on the visit's measured back, or on the latest one."""
    pairing = pairing_or_404(pairing_pk)
    visit_pk = _number(request.POST.get("visit"))
    measurement = measurement_for(
        pairing,
        measurement_pk=_number(request.POST.get("measurement")),
        visit_pk=visit_pk,
    )
    if measurement is None:
        messages.error(request, NO_MEASUREMENT)
        return redirect("horse_detail", pk=pairing.horse_id)
    visit = measurement.visit if visit_pk is not None else None
    requested = request_evaluation(
        pairing=pairing,
        measurement=measurement,
        visit=visit,
        created_by=request.user,  # type: ignore[arg-type]
    )
    send_job(requested.job)
    return redirect("evaluation_detail", pk=requested.evaluation.pk)


@require_POST
def evaluation_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Compute again from what is recorded now; the old evaluation stays as it is."""
    old = evaluation_for_page(pk)
    if old.measurement is None:
        messages.error(request, NO_MEASUREMENT)
        return redirect("evaluation_detail", pk=old.pk)
    requested = request_evaluation(
        pairing=old.pairing,
        measurement=old.measurement,
        visit=old.visit,
        evaluated_on=old.evaluated_on,
        created_by=request.user,  # type: ignore[arg-type]
    )
    send_job(requested.job)
    return redirect("evaluation_detail", pk=requested.evaluation.pk)
