"""The overview of a horse's visit, and finishing the visit."""

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from horses.selectors.scans import scans_of
from practice.models import Visit, VisitHorse
from practice.selectors.recorded_visit import recorded_on
from practice.selectors.recording import (
    previous_for,
    recorded_for,
    visit_horses,
    visit_horses_of_visit,
)
from practice.selectors.steps import (
    DONE,
    StepState,
    all_steps,
    horse_steps,
    pairing_steps,
)
from practice.selectors.warnings import warnings_for
from practice.services.recording import finish_recording


@require_safe
def record_horse(request: HttpRequest, visit_pk: int, horse_pk: int) -> HttpResponse:
    visit_horse = get_object_or_404(visit_horses(visit_pk, horse_pk))
    recorded = recorded_for(visit_horse)
    context = {
        "visit": visit_horse.visit,
        "horse": visit_horse.horse,
        "visit_horse": visit_horse,
        "others": visit_horses_of_visit(visit_pk).exclude(pk=visit_horse.pk),
        "warnings": warnings_for(recorded),
        "warnings_open": True,
        "steps": horse_steps(recorded),
        "pairings": [pairing_steps(recorded, pairing) for pairing in recorded.pairings],
        "previous": previous_for(visit_horse),
        "measurement": recorded.measurement,
        "scans": scans_of(recorded.measurement) if recorded.measurement else [],
    }
    return render(request, "practice/record/overview.html", context)


@dataclass(frozen=True)
class Open:
    """A horse with the steps that are not done."""

    visit_horse: VisitHorse
    steps: list[StepState]


@require_http_methods(["GET", "HEAD", "POST"])
def visit_finish(request: HttpRequest, visit_pk: int) -> HttpResponse:
    visit = get_object_or_404(
        Visit.objects.select_related("client", "place").exclude(state=Visit.State.CANCELLED),
        pk=visit_pk,
    )
    if request.method == "POST":
        finish_recording(visit=visit)
        messages.success(request, "Recorded. Anything still empty can be filled in later.")
        return redirect(reverse("visit_detail", args=[visit.pk]))
    horses = [
        Open(recorded.visit_horse, [s for s in all_steps(recorded) if s.state != DONE])
        for recorded in recorded_on(visit)
    ]
    return render(request, "practice/record/finish.html", {"visit": visit, "horses": horses})
