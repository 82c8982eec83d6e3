"""How every step works: show, save as you go, keep what cannot be saved yet.

A step is stored whole or not at all. What cannot be stored is kept as a draft with its errors, and
comes back when the page is opened again.
"""

from collections.abc import Mapping
from enum import Enum
from typing import Any, ClassVar

from django import forms
from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from fitting.models import Pairing
from horses.forms.fields import TypedForm
from practice.models import Practice, Visit, VisitHorse
from practice.selectors.recording import Recorded, day_of, draft_of, recorded_for
from practice.selectors.steps import StepState, all_steps, pairing_draft
from practice.selectors.warnings import warnings_for
from practice.services.recording import begin_recording, drop_draft, keep_draft


class Outcome(Enum):
    """What became of what was typed."""

    SAVED = "saved"
    KEPT = "kept"
    REFUSED = "refused"


class Step:
    """One step of recording; subclasses say which form, how to store it and what to show live."""

    template: ClassVar[str]
    live_template: ClassVar[str] = ""
    # A step that stores only when it is signed; until then what is typed is kept as a draft.
    needs_signing: ClassVar[bool] = False
    # Whether the reasons of a warning stand open, or one tap away so that the fields stay near.
    shows_reasons: ClassVar[bool] = False

    def __init__(
        self,
        request: HttpRequest,
        visit_horse: VisitHorse,
        slug: str,
        title: str,
        pairing: Pairing | None = None,
    ) -> None:
        self.request, self.visit_horse, self.pairing = request, visit_horse, pairing
        self.visit, self.horse = visit_horse.visit, visit_horse.horse
        self.slug, self.title = slug, title
        self.day = day_of(visit_horse)
        practice = request.practice  # type: ignore[attr-defined]
        self.imperial = practice.units == Practice.Units.IMPERIAL

    # What subclasses give
    def make_form(self, data: Any = None) -> forms.Form:
        raise NotImplementedError

    def store(self, form: Any) -> None:
        raise NotImplementedError

    def live(self, form: Any) -> dict[str, Any]:
        """Return what the page shows besides the fields and changes with them."""
        return {}

    # Where it is
    @property
    def draft_key(self) -> str:
        return pairing_draft(self.pairing.pk, self.slug) if self.pairing else self.slug

    @property
    def url(self) -> str:
        return step_url(self.visit_horse, self.slug, self.pairing.pk if self.pairing else None)

    @property
    def moment(self) -> Any:
        """Now on the day of the visit; the visit's start when it is written up later."""
        now = timezone.now()
        zone = self.visit.starts_local.tzinfo
        return now if now.astimezone(zone).date() == self.day else self.visit.starts_at


def step_url(visit_horse: VisitHorse, slug: str, pairing_pk: int | None) -> str:
    places = [visit_horse.visit_id, visit_horse.horse_id]
    if pairing_pk is None:
        return reverse("record_step", args=[*places, slug])
    return reverse("record_pairing_step", args=[*places, pairing_pk, slug])


def run(step: Step) -> HttpResponse:
    """Answer a request for a step."""
    if step.request.method == "POST":
        return _post(step)
    draft = draft_of(step.visit_horse, step.draft_key)
    if draft is None:
        return _page(step, _stored_form(step), None)
    data = _as_query(draft.data)
    if step.needs_signing:
        return _page(step, _unchecked_form(step, data), Outcome.KEPT)
    return _page(step, step.make_form(data), Outcome.REFUSED)


def _stored_form(step: Step) -> forms.Form:
    """Return the form of stored values; whatever is stored has been confirmed before."""
    probe = step.make_form(as_data(step.make_form()))
    form = step.make_form()
    if isinstance(probe, TypedForm) and not probe.is_valid():
        lines = [f"{name}={probe.typed.get(name, '')}" for name in probe.questions]
        form.initial["sure"] = "\n".join(lines)
    return form


def _unchecked_form(step: Step, data: Mapping[str, Any]) -> forms.Form:
    """Return the form with what was typed in it and no errors: nothing has been asked of it yet."""
    form = step.make_form()
    form.initial = {name: data.get(name) for name in form.fields}
    return form


def as_data(form: forms.Form) -> QueryDict:
    """Return the form's values as a browser would send them."""
    data = QueryDict(mutable=True)
    for name in form.fields:
        value = form[name].value()
        if value is None or value is False:
            continue
        data.setlist(name, [str(v) for v in value] if isinstance(value, list) else [str(value)])
    return data


def _as_query(stored: dict[str, list[str]]) -> QueryDict:
    data = QueryDict(mutable=True)
    for name, values in stored.items():
        data.setlist(name, values)
    return data


def _post(step: Step) -> HttpResponse:
    if step.visit.state == Visit.State.CANCELLED:
        messages.error(step.request, "This visit was cancelled, so nothing was recorded.")
        return redirect(overview_url(step.visit_horse))
    form = step.make_form(step.request.POST)
    outcome = _save(step, form)
    if outcome is Outcome.KEPT:
        form = _unchecked_form(step, form.data)
    if step.request.htmx:  # type: ignore[attr-defined]
        return _fragment(step, form, outcome)
    return _page(step, form, outcome) if outcome is Outcome.REFUSED else _after(step)


@transaction.atomic
def _save(step: Step, form: forms.Form) -> Outcome:
    begin_recording(visit=step.visit)
    is_unsigned = step.needs_signing and "sign" not in step.request.POST
    is_valid = form.is_valid()  # also takes in what was just confirmed
    if is_valid and not is_unsigned and _stored(step, form):
        drop_draft(visit_horse=step.visit_horse, step=step.draft_key)
        return Outcome.SAVED
    typed = _typed(form)
    if typed:  # an empty form leaves nothing to keep
        keep_draft(visit_horse=step.visit_horse, step=step.draft_key, data=typed)
    return Outcome.KEPT if is_unsigned else Outcome.REFUSED


def _stored(step: Step, form: forms.Form) -> bool:
    try:
        with transaction.atomic():
            step.store(form)
    except ValidationError as problem:
        refuse(form, problem)
        return False
    return True


def refuse(form: forms.Form, problem: ValidationError) -> None:
    """Show what a service would not store, at the field where there is one."""
    has_fields = hasattr(problem, "error_dict")
    by_field = problem.error_dict if has_fields else {NON_FIELD_ERRORS: problem.error_list}
    for name, errors in by_field.items():
        form.add_error(name if name in form.fields else None, errors)


def _typed(form: forms.Form) -> dict[str, list[str]]:
    data = form.data
    return {
        name: data.getlist(name) if hasattr(data, "getlist") else [data[name]]
        for name in data
        if name in form.fields
    }


def _page(step: Step, form: forms.Form, outcome: Outcome | None) -> HttpResponse:
    recorded = recorded_for(step.visit_horse)
    if outcome is None and "saved" in step.request.GET:
        outcome = Outcome.SAVED
    context = _context(step, form, recorded, outcome)
    steps = all_steps(recorded)
    context["before"], context["after"] = _neighbours(step, steps)
    context["steps"] = steps
    return render(step.request, step.template, context)


def _fragment(step: Step, form: forms.Form, outcome: Outcome) -> HttpResponse:
    """Answer a save-as-you-go: the state of the page, its errors and what changes with it."""
    recorded = recorded_for(step.visit_horse)
    context = _context(step, form, recorded, outcome)
    context["out_of_band"] = True
    return render(step.request, "practice/record/saved.html", context)


def _context(
    step: Step, form: forms.Form, recorded: Recorded, outcome: Outcome | None
) -> dict[str, Any]:
    now = timezone.now().astimezone(step.visit.starts_local.tzinfo)
    return {
        "step": step,
        "form": form,
        "visit": step.visit,
        "visit_horse": step.visit_horse,
        "horse": step.horse,
        "pairing": step.pairing,
        "warnings": warnings_for(recorded, step.pairing),
        "warnings_open": step.shows_reasons,
        "first_problem": next(iter(form.errors), "") if outcome is Outcome.REFUSED else "",
        "outcome": outcome.value if outcome else "",
        "saved_at": f"{now:%H:%M}",
        **step.live(form),
    }


def _neighbours(step: Step, steps: list[StepState]) -> tuple[StepState | None, StepState | None]:
    pairing_pk = step.pairing.pk if step.pairing else None
    here = next(
        (n for n, s in enumerate(steps) if (s.slug, s.pairing_pk) == (step.slug, pairing_pk)), None
    )
    if here is None:
        return None, None
    before = steps[here - 1] if here else None
    return before, steps[here + 1] if here + 1 < len(steps) else None


def overview_url(visit_horse: VisitHorse) -> str:
    return reverse("record_horse", args=[visit_horse.visit_id, visit_horse.horse_id])


def _after(step: Step) -> HttpResponseRedirect:
    """Go on to where the pressed button leads, after a save without JavaScript."""
    if step.request.POST.get("go") != "next":
        return redirect(f"{step.url}?saved=1")
    _, after = _neighbours(step, all_steps(recorded_for(step.visit_horse)))
    if after is None:
        return redirect(overview_url(step.visit_horse))
    return redirect(step_url(step.visit_horse, after.slug, after.pairing_pk))
