"""The addresses of the steps."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods

from fitting.checks import BARE, PAD, RIDDEN
from practice.models import VisitHorse
from practice.selectors.recording import pairings_of, recorded_for, visit_horses
from practice.selectors.steps import DONE, HORSE_STEPS, PAIRING_STEPS, horse_steps
from practice.views.recording.back_steps import STATION_LINKS, LinesStep, SectionStep
from practice.views.recording.base import Step, run, step_url
from practice.views.recording.horse_steps import BodyStep, HistoryStep, SorenessStep
from practice.views.recording.pairing_steps import (
    EvaluationStep,
    HandCheckStep,
    SafetyStep,
    VerdictStep,
)

STEPS: dict[str, type[Step]] = {
    "history": HistoryStep,
    "body": BodyStep,
    "soreness": SorenessStep,
    **{link.slug: SectionStep for link in STATION_LINKS},
    "lines": LinesStep,
}
STEPS_OF_PAIRING: dict[str, type[Step]] = {
    "safety": SafetyStep,
    BARE: HandCheckStep,
    PAD: HandCheckStep,
    RIDDEN: HandCheckStep,
    "evaluation": EvaluationStep,
    "verdict": VerdictStep,
}


@require_http_methods(["GET", "HEAD", "POST"])
def record_step(request: HttpRequest, visit_pk: int, horse_pk: int, step: str) -> HttpResponse:
    visit_horse = get_object_or_404(visit_horses(visit_pk, horse_pk))
    if step == "sections":
        return redirect(step_url(visit_horse, _first_open_section(visit_horse), None))
    return run(STEPS[step](request, visit_horse, step, HORSE_STEPS[step]))


@require_http_methods(["GET", "HEAD", "POST"])
def record_pairing_step(
    request: HttpRequest, visit_pk: int, horse_pk: int, pairing_pk: int, step: str
) -> HttpResponse:
    visit_horse = get_object_or_404(visit_horses(visit_pk, horse_pk))
    pairing = get_object_or_404(pairings_of(visit_horse), pk=pairing_pk)
    kind = STEPS_OF_PAIRING[step]
    return run(kind(request, visit_horse, step, PAIRING_STEPS[step], pairing))


def _first_open_section(visit_horse: VisitHorse) -> str:
    slugs = [link.slug for link in STATION_LINKS]
    for state in horse_steps(recorded_for(visit_horse)):
        if state.slug in slugs and state.state != DONE:
            return state.slug
    return slugs[0]
