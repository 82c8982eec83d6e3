"""Photos of tracings: taking one in, marking on it, and keeping what it says."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.forms import Form
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from horses.adapters.tracings import Reading, read_tracing
from horses.forms.profiles import SIDE_WORDS, height_name, width_name
from horses.forms.tracing import TracingAddForm, TracingMarksForm
from horses.models import SectionProfile, TracingPhoto
from horses.services.tracings import (
    accept_tracing,
    keep_paper,
    keep_tracing,
    mark_tracing,
    remove_tracing,
)
from practice.models import Visit, VisitHorse
from practice.selectors.recording import tracings_of, visit_horses
from practice.selectors.steps import HORSE_STEPS
from practice.services.recording import begin_recording
from practice.views.recording.back_steps import BackStep, LinesStep, SectionStep
from practice.views.recording.base import as_data, overview_url, step_url
from practice.views.recording.drawing import draw_section
from practice.views.recording.repeats import WidthRow


def _step_of(request: HttpRequest, visit_horse: VisitHorse, slug: str) -> BackStep:
    kind = LinesStep if slug == "lines" else SectionStep
    return kind(request, visit_horse, slug, HORSE_STEPS[slug])


def _refused_on_cancelled(
    request: HttpRequest, visit_horse: VisitHorse
) -> HttpResponseRedirect | None:
    if visit_horse.visit.state != Visit.State.CANCELLED:
        return None
    messages.error(request, "This visit was cancelled, so nothing was recorded.")
    return redirect(overview_url(visit_horse))


# --- Taking one in ------------------------------------------------------------------------------


@require_http_methods(["GET", "HEAD", "POST"])
def tracing_add(request: HttpRequest, visit_pk: int, horse_pk: int, step: str) -> HttpResponse:
    visit_horse = get_object_or_404(visit_horses(visit_pk, horse_pk))
    at = _step_of(request, visit_horse, step)
    station = at.station if isinstance(at, SectionStep) else ""
    if request.method != "POST":
        form = TracingAddForm(station=station, initial={"trace": _next_trace(at)})
    else:
        refused = _refused_on_cancelled(request, visit_horse)
        if refused:
            return refused
        form = TracingAddForm(request.POST, request.FILES, station=station)
        if form.is_valid():
            return redirect(tracing_url(visit_horse, _kept(at, form)))
    context = {"step": at, "form": form, "visit": at.visit, "horse": at.horse}
    return render(request, "practice/record/tracing_add.html", context)


@transaction.atomic
def _kept(at: BackStep, form: TracingAddForm) -> TracingPhoto:
    begin_recording(visit=at.visit)
    return keep_tracing(
        measurement=at.needed_measurement(),
        shows=form.shows_value,
        trace=form.trace_value,
        photo=form.cleaned_data["photo"],
        taken_by=at.request.user,  # type: ignore[arg-type]
    )


def _next_trace(at: BackStep) -> int:
    is_taken = isinstance(at, SectionStep) and any(row.trace == 1 for row in at.stored)
    return 2 if is_taken else 1


def tracing_url(visit_horse: VisitHorse, tracing: TracingPhoto) -> str:
    places = [visit_horse.visit_id, visit_horse.horse_id, tracing.pk]
    return reverse("tracing_read", args=places)


# --- Marking and keeping ------------------------------------------------------------------------


@require_http_methods(["GET", "HEAD", "POST"])
def tracing_read(request: HttpRequest, visit_pk: int, horse_pk: int, pk: int) -> HttpResponse:
    visit_horse = get_object_or_404(visit_horses(visit_pk, horse_pk))
    tracing = get_object_or_404(tracings_of(visit_horse), pk=pk)
    slug = tracing.shows.lower() if tracing.is_section else "lines"
    at = _step_of(request, visit_horse, slug)
    if request.method != "POST":
        form = TracingMarksForm(tracing=tracing, imperial=at.imperial)
        return _page(at, tracing, form, read_tracing(tracing))
    refused = _refused_on_cancelled(request, visit_horse)
    if refused:
        return refused
    form = TracingMarksForm(request.POST, tracing=tracing, imperial=at.imperial)
    reading = _marked(tracing, form)
    if request.htmx or "keep" not in request.POST:  # type: ignore[attr-defined]
        return _page(at, tracing, form, reading)
    return _keep(at, tracing, form, reading)


@transaction.atomic
def _marked(tracing: TracingPhoto, form: TracingMarksForm) -> Reading:
    """Store scale and marks as far as they are right, and read the photo with them."""
    form.is_valid()
    mark_tracing(tracing=tracing, values=form.values(), typed=form.typed)
    reading = read_tracing(tracing)
    if reading.paper:
        keep_paper(tracing=tracing, reading=reading)
    return reading


@dataclass(frozen=True)
class Doubts:
    """What speaks against keeping a reading: what cannot be, and what is asked."""

    errors: list[str]
    questions: list[str]


def _keep(
    at: BackStep, tracing: TracingPhoto, form: TracingMarksForm, reading: Reading
) -> HttpResponse:
    doubts = _doubts(at, tracing, reading)
    is_sure = "confirm" in at.request.POST
    if form.errors or not reading.is_whole or doubts.errors or (doubts.questions and not is_sure):
        return _page(at, tracing, form, reading, is_asked=True)
    distance = at.distance_mm if isinstance(at, SectionStep) else None
    try:
        accept_tracing(tracing=tracing, reading=reading, behind_blade_mm=distance)
    except ValidationError as problem:
        form.add_error(None, problem.messages)
        return _page(at, tracing, form, reading, is_asked=True)
    messages.success(at.request, f"Kept from the photo: {tracing.get_shows_display()}.")
    return redirect(f"{step_url(at.visit_horse, at.slug, None)}?saved=1")


def _doubts(at: BackStep, tracing: TracingPhoto, reading: Reading) -> Doubts:
    """Ask of the numbers what is asked when they are typed."""
    if not reading.is_whole:
        return Doubts([], [])
    data = as_data(at.make_form())
    for name, value in _as_typed(tracing, reading).items():
        data[name] = value
    data["sure"] = ""
    typed = at.make_form(data)
    typed.is_valid()
    asked: dict[bool, list[str]] = {True: [], False: []}
    for name, problems in typed.errors.as_data().items():
        for problem in problems:
            if _is_of(name, tracing):
                asked[problem.code == "unusual"] += [
                    _said(typed, name, words) for words in problem.messages
                ]
    return Doubts(asked[False], [*_own_questions(at, tracing, reading), *asked[True]])


def _said(form: Form, name: str, words: str) -> str:
    """Return a problem with the name of its number, unless it names the side itself."""
    if name not in form.fields or words.startswith(tuple(SIDE_WORDS.values())):
        return words
    return f"{form.fields[name].label}: {words}"


def _as_typed(tracing: TracingPhoto, reading: Reading) -> dict[str, str]:
    if reading.section is None:
        return {
            height_name(tracing.shows, place): f"{height:g}" for place, height in reading.heights
        }
    halves = (("L", reading.section.left), ("R", reading.section.right))
    return {
        width_name(side, tracing.trace, int(depth)): f"{width:g}"
        for side, points in halves
        for depth, width in points
    }


def _is_of(name: str, tracing: TracingPhoto) -> bool:
    """Tell whether a field's problem has to do with this tracing and not with another."""
    if not tracing.is_section:
        return name.startswith(tracing.shows)
    return name[1:2] == str(tracing.trace) or name[:2] in {"L2", "R2"} or "_" not in name[:3]


def _own_questions(at: BackStep, tracing: TracingPhoto, reading: Reading) -> list[str]:
    questions = []
    if reading.section and reading.section.is_seen_from_front:
        questions.append(
            "As marked, the horse's left is on the right of the withers: the back is seen from the "
            "front. Is that how this was traced? If not, mark the left end first."
        )
    if _stands_there(at, tracing):
        questions.append("Other numbers stand there already. Put these in their place?")
    return questions


def _stands_there(at: BackStep, tracing: TracingPhoto) -> bool:
    measurement = tracing.measurement
    rows: Any = (
        measurement.sections.filter(station=tracing.shows)
        if tracing.is_section
        else measurement.lines.filter(line=tracing.shows)
    )
    others = rows.filter(trace=tracing.trace).exclude(tracing=tracing)
    return any(row.points for row in others)


# --- What the page shows ------------------------------------------------------------------------


def _page(
    at: BackStep,
    tracing: TracingPhoto,
    form: TracingMarksForm,
    reading: Reading,
    *,
    is_asked: bool = False,
) -> HttpResponse:
    is_live = bool(at.request.htmx)  # type: ignore[attr-defined]
    doubts = _doubts(at, tracing, reading)
    context = {
        "step": at,
        "visit": at.visit,
        "visit_horse": at.visit_horse,
        "horse": at.horse,
        "tracing": tracing,
        "form": form,
        "reading": reading,
        "doubts": doubts,
        "is_asked": is_asked,
        "rows": _width_rows(reading),
        "scale_percent": _percent(reading.scale_error),
        "reach_error_mm": _reach_error_mm(reading),
        "drawing": _drawing(at, tracing, reading),
        "out_of_band": is_live,
        "outcome": "saved" if at.request.method == "POST" else "",
        "saved_at": f"{timezone.now().astimezone(at.visit.starts_local.tzinfo):%H:%M}",
    }
    name = "tracing_marked" if is_live else "tracing"
    return render(at.request, f"practice/record/{name}.html", context)


def _width_rows(reading: Reading) -> list[WidthRow]:
    if reading.section is None:
        return []
    left, right = (
        {depth: width for depth, width in points}  # noqa: C416  (typed as lists, not pairs)
        for points in (reading.section.left, reading.section.right)
    )
    return [WidthRow(d, left.get(d), right.get(d)) for d in sorted({*left, *right})]


def _percent(share: float | None) -> str:
    return "" if share is None else f"{100 * share:.1f}"


def _reach_error_mm(reading: Reading) -> float | None:
    """Return what the scale's error makes of the widest half-width, or of a line's length."""
    if reading.scale_error is None:
        return None
    if reading.section:
        ends = [points[-1][1] for points in (reading.section.left, reading.section.right) if points]
        return reading.scale_error * max(ends, default=0.0)
    return reading.scale_error * reading.heights[-1][0] if reading.heights else None


def _drawing(at: BackStep, tracing: TracingPhoto, reading: Reading) -> object:
    """Return the section as read, with the other time beside it and last visit's behind it."""
    if reading.section is None or not isinstance(at, SectionStep):
        return None
    stored: list[SectionProfile] = at.stored
    traces = {(row.side, row.trace): row.points for row in stored if row.trace != tracing.trace}
    traces |= {
        ("L", tracing.trace): reading.section.left,
        ("R", tracing.trace): reading.section.right,
    }
    return draw_section(traces, at.last_points())


# --- The photo itself ---------------------------------------------------------------------------


@require_safe
def tracing_photo(request: HttpRequest, visit_pk: int, horse_pk: int, pk: int) -> HttpResponse:
    visit_horse = get_object_or_404(visit_horses(visit_pk, horse_pk))
    tracing = get_object_or_404(tracings_of(visit_horse), pk=pk)
    with tracing.image.open("rb") as file:
        return HttpResponse(file.read(), content_type="image/jpeg")


@require_POST
def tracing_remove(request: HttpRequest, visit_pk: int, horse_pk: int, pk: int) -> HttpResponse:
    visit_horse = get_object_or_404(visit_horses(visit_pk, horse_pk))
    tracing = get_object_or_404(tracings_of(visit_horse), pk=pk)
    slug = tracing.shows.lower() if tracing.is_section else "lines"
    remove_tracing(tracing=tracing)
    messages.success(request, "The photo is deleted. Numbers kept from it stay.")
    return redirect(step_url(visit_horse, slug, None))
