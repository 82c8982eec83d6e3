"""Steps that belong to the horse: history, stance and body, soreness."""

from typing import Any

from django import forms
from django.http import QueryDict

from horses import units
from horses.forms.fields import QuantityField
from horses.forms.measurement import CONDITION_WORDS, BodyForm
from horses.forms.soreness import KEYS, NOT_TESTED, SorenessForm, part, soreness_initial
from horses.services.measurements import record_back_measurement
from horses.services.soreness import forget_site, record_soreness_check
from horses.weight import tape_mass_kg
from practice.forms.recording import HistoryForm
from practice.selectors.recording import (
    last_check_for,
    last_height_mm,
    last_measurement_for,
    measurement_of,
    soreness_of,
)
from practice.services.recording import take_history
from practice.views.recording.base import Step


def quantity_in(form: forms.Form, name: str) -> float | None:
    """Return what stands in a field now, stored or not, None when it cannot be read."""
    field, text = form.fields[name], str(form[name].value() or "").strip()
    if not isinstance(field, QuantityField) or not text:
        return None
    try:
        return field.read(text)
    except units.CannotRead:
        return None


class HistoryStep(Step):
    """What the people around the horse tell."""

    template = "practice/record/history.html"

    def make_form(self, data: Any = None) -> HistoryForm:
        return HistoryForm(
            data, record=self.visit_horse, imperial=self.imperial, visit_day=self.day
        )

    def store(self, form: HistoryForm) -> None:
        take_history(visit_horse=self.visit_horse, values=form.values())


class BodyStep(Step):
    """How the horse stands, and its body measures."""

    template = "practice/record/body.html"
    live_template = "practice/record/body_live.html"

    def make_form(self, data: Any = None) -> BodyForm:
        return BodyForm(
            data,
            record=measurement_of(self.visit_horse),
            imperial=self.imperial,
            horse=self.horse,
            measured_on=self.day,
            last_height_mm=last_height_mm(self.visit_horse),
        )

    def store(self, form: BodyForm) -> None:
        record_back_measurement(
            horse=self.horse,
            measured_on=self.day,
            examiner=self.request.user,  # type: ignore[arg-type]
            visit=self.visit,
            values=form.values(),
            typed=form.typed,
        )

    def live(self, form: BodyForm) -> dict[str, Any]:
        girth, length = quantity_in(form, "girth_mm"), quantity_in(form, "length_mm")
        both = girth and length and girth > 0 and length > 0
        return {
            "mass_kg": tape_mass_kg(girth_mm=girth, length_mm=length) if both else None,  # type: ignore[arg-type]
            "condition_words": CONDITION_WORDS,
            "last": self._last(form),
        }

    def _last(self, form: BodyForm) -> dict[str, str]:
        """Return last time's values as typed then, for holding beside today's."""
        last = last_measurement_for(self.visit_horse)
        if last is None:
            return {}
        texts = {}
        for name, field in form.fields.items():
            value = getattr(last, name, None)
            if value is None or isinstance(value, str | bool):
                continue
            show = field.show if isinstance(field, QuantityField) else str
            texts[name] = last.typed.get(name) or show(value)
        return texts


class SorenessStep(Step):
    """The feeling-over on the body map."""

    template = "practice/record/soreness.html"
    shows_reasons = True
    live_template = "practice/record/soreness_live.html"

    def make_form(self, data: Any = None) -> SorenessForm:
        check = soreness_of(self.visit_horse)
        before = last_check_for(self.visit_horse)
        initial = soreness_initial(check.scores.all()) if check else {}
        initial["painkillers"] = check.painkillers if check else self.visit_horse.medicines
        initial["notes"] = check.notes if check else ""
        return SorenessForm(
            _rest_not_tested(data),
            initial=initial,
            last={(row.site, row.side): row.score for row in before.scores.all()} if before else {},
        )

    def store(self, form: SorenessForm) -> None:
        check = record_soreness_check(
            horse=self.horse,
            checked_at=self.moment,
            examiner=self.request.user,  # type: ignore[arg-type]
            visit=self.visit,
            scores=form.scores(),
            notes=form.cleaned_data["notes"],
            painkillers=form.cleaned_data["painkillers"],
        )
        stored = {(row.site, row.side) for row in check.scores.all()}
        for site, side in stored.intersection(form.unsaid()):
            forget_site(check=check, site=site, side=side)

    def live(self, form: SorenessForm) -> dict[str, Any]:
        return {"scores": form.shown_scores(), "rows": form.rows()}


def _rest_not_tested(data: Any) -> Any:
    """Fill in 'not tested' where nothing was entered, when that button was pressed."""
    if not isinstance(data, QueryDict) or "rest" not in data:
        return data
    filled = data.copy()
    for site, side in KEYS:
        if not filled.get(part(site, side, "score")):
            filled[part(site, side, "score")] = NOT_TESTED
    return filled
