"""The practice's own repeatability study: how well its hand measures the same back again."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from horses.forms.repeatability import REMOUNTS, RepeatsForm, StudyForm, repeats_initial
from horses.measuring_error import DIP, HALF_WIDTH, HOLLOW
from horses.models import Horse, RepeatabilityStudy
from horses.selectors.repeatability import (
    measuring_error,
    results_of,
    studies,
    study_with_values,
)
from horses.services.repeatability import record_repeats, start_study

WORDS = {
    HALF_WIDTH: "Half-width 15 cm down",
    DIP: "Dip under the straight edge",
    HOLLOW: "Hollow behind the blade",
}
WANTED_HORSES = 3


def study_list(request: HttpRequest) -> HttpResponse:
    """Show the error in use and the studies, and start a new one."""
    form = StudyForm(request.POST or None, day=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        study = start_study(examiner=request.user, **form.cleaned_data)  # type: ignore[arg-type]
        return redirect("study_detail", pk=study.pk)
    context = {"error": measuring_error(), "studies": studies(), "form": form}
    return render(request, "horses/study_list.html", context)


def study_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what the study gives so far and take the next horse."""
    study = get_object_or_404(study_with_values(pk))
    horses = Horse.objects.exclude(state__in=(Horse.State.SOLD, Horse.State.DIED))
    form = RepeatsForm(request.POST or None, horses=horses, initial=_initial(request, study))
    if request.method == "POST" and form.is_valid():
        horse = form.cleaned_data["horse"]
        record_repeats(study=study, horse=horse, values=form.values())
        messages.success(request, f"{horse}: written down.")
        return redirect("study_detail", pk=study.pk)
    done = list(dict.fromkeys(row.horse for row in study.values.all()))
    results = results_of(study.values.all())
    context = {
        "study": study,
        "form": form,
        "remounts": range(1, REMOUNTS + 1),
        "done": done,
        "left": max(WANTED_HORSES - len(done), 0),
        "results": [(WORDS[kind], found) for kind, found in results.items() if found],
        "error": measuring_error(),
    }
    return render(request, "horses/study_detail.html", context)


def _initial(request: HttpRequest, study: RepeatabilityStudy) -> dict[str, Any]:
    """Return the stored values of the horse asked for, so that it can be corrected."""
    asked = request.GET.get("horse", "")
    if not asked.isdecimal():
        return {}
    mine = [row for row in study.values.all() if row.horse_id == int(asked)]
    return {"horse": int(asked), **repeats_initial(mine)} if mine else {}
