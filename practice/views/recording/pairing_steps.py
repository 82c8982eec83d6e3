"""Steps that belong to a pairing: saddle check, checks on the horse, computed fit, verdict."""

from dataclasses import replace
from functools import cached_property
from typing import Any

from django import forms
from django.contrib import messages

from fitting.adapters.errors import CannotEvaluate
from fitting.adapters.felt import felt_of
from fitting.adapters.fit_inputs import fit_inputs_of
from fitting.adapters.suggestion import SuggestionWords, above_of, suggestion_of
from fitting.checks import BARE, PAD, RIDDEN, SAFETY_ITEMS
from fitting.forms.checks import HandCheckForm, SafetyForm, hand_initial, safety_initial
from fitting.forms.verdict import VerdictForm, verdict_initial
from fitting.models import Pairing, SafetyCheck, Verdict
from fitting.selectors.evaluations import stored_findings
from fitting.services.checks import forget_hand_check, record_hand_check, record_safety_check
from fitting.services.pairings import change_pairing
from fitting.services.verdicts import default_expiry, default_next_check, sign_verdict
from horses.charts.theme import CENTIMETRES, INCHES
from practice.selectors.recording import (
    Recorded,
    last_hand_checks,
    measurement_of,
    recorded_for,
)
from practice.selectors.warnings import Warnings, warnings_for
from practice.views.recording.base import Step

PHASE_WORDS = {
    BARE: "The first look is always without a pad: girth loose, then fastened.",
    PAD: "The same saddle with the pad it is worked in. A pad makes a tight fit tighter.",
    RIDDEN: "With the usual rider. Stop if the horse shows pain or the saddle is not safe.",
}


class PairingStep(Step):
    """A step of one pairing."""

    pairing: Pairing


class SafetyStep(PairingStep):
    """The saddle itself, before it goes on a horse."""

    template = "practice/record/safety.html"
    live_template = "practice/record/safety_live.html"

    @property
    def stored(self) -> SafetyCheck | None:
        return next(iter(self.pairing.saddle.safety_checks.all()), None)

    def make_form(self, data: Any = None) -> SafetyForm:
        return SafetyForm(data, initial=safety_initial(self.stored), checked_on=self.day)

    def store(self, form: SafetyForm) -> None:
        record_safety_check(
            saddle=self.pairing.saddle,
            checked_on=self.day,
            items=form.items(),
            result=form.cleaned_data["result"],
            examiner=self.request.user,  # type: ignore[arg-type]
            visit=self.visit,
            repair_by=form.cleaned_data["repair_by"],
            notes=form.cleaned_data["notes"],
        )

    def live(self, form: SafetyForm) -> dict[str, Any]:
        return {
            "rows": form.rows(),
            "fails": [i.title for i in SAFETY_ITEMS if form[i.code].value() == "fail"],
            "is_unsafe": form["result"].value() == SafetyCheck.Result.UNSAFE,
        }


class HandCheckStep(PairingStep):
    """The checks of one phase."""

    template = "practice/record/hand_checks.html"

    def make_form(self, data: Any = None) -> HandCheckForm:
        stored = [check for check in self.pairing.hand_checks.all() if check.phase == self.slug]
        return HandCheckForm(
            data,
            initial=hand_initial(stored),
            phase=self.slug,
            last=last_hand_checks(self.pairing, self.visit_horse, self.slug),
            imperial=self.imperial,
        )

    def store(self, form: HandCheckForm) -> None:
        place: dict[str, Any] = {"pairing": self.pairing, "visit": self.visit, "phase": self.slug}
        entered = {
            check.code for check in self.pairing.hand_checks.all() if check.phase == self.slug
        }
        for spec in form.specs:
            values = form.values_of(spec.code)
            if values["outcome"]:
                record_hand_check(**place, code=spec.code, **values)
            elif spec.code in entered:
                forget_hand_check(**place, code=spec.code)
        if self.slug == BARE:
            self._place_tree(form.values_of("position"))

    def _place_tree(self, position: dict[str, Any]) -> None:
        """Take the measured place of the tree for the computed fit, unless one is known.

        The back's origin is the more rearward blade; to it the tip is nearer, so the smaller one.
        """
        measured = [mm for mm in (position["left_mm"], position["right_mm"]) if mm is not None]
        if self.pairing.tip_behind_blade_mm is None and len(measured) == 2:
            change_pairing(pairing=self.pairing, tip_behind_blade_mm=min(measured))

    def live(self, form: HandCheckForm) -> dict[str, Any]:
        return {"rows": form.rows(), "phase_words": PHASE_WORDS[self.slug]}


class EvaluationStep(PairingStep):
    """The computed fit: what is missing, the button to compute, and earlier results."""

    template = "practice/record/evaluation.html"

    def make_form(self, data: Any = None) -> forms.Form:
        return forms.Form(data)

    def store(self, form: forms.Form) -> None:
        """Nothing is typed here: computing is asked for at its own address."""

    def live(self, form: forms.Form) -> dict[str, Any]:
        return {"missing": self._missing(), "evaluations": self.pairing.evaluations.all()}

    def _missing(self) -> list[str]:
        measurement = measurement_of(self.visit_horse)
        if measurement is None:
            return ["the back: body, sections and lines of this visit"]
        try:
            fit_inputs_of(self.pairing, measurement)
        except CannotEvaluate as problem:
            return [item.what for item in problem.missing]
        return []


class VerdictStep(PairingStep):
    """The decision. Typing is kept as a draft; only the signing button signs."""

    template = "practice/record/verdict.html"
    live_template = "practice/record/verdict_live.html"
    needs_signing = True
    shows_reasons = True

    @property
    def stored(self) -> Verdict | None:
        return next(iter(self.pairing.verdicts.all()), None)

    @cached_property
    def recorded(self) -> Recorded:
        return recorded_for(self.visit_horse)

    def make_form(self, data: Any = None) -> VerdictForm:
        initial = verdict_initial(self.stored)
        proposed = self.request.GET.get("word")
        if not initial and proposed in Verdict.Word.values:
            initial["word"] = proposed
        warnings = warnings_for(self.recorded, self.pairing)
        asked_for = proposals(replace(warnings, unsafe=[]))
        return VerdictForm(
            data,
            initial=initial,
            visit_day=self.day,
            is_unsafe=bool(warnings.unsafe),
            asked_for=next(iter(asked_for), ""),
            usual_expiry=default_expiry(self.pairing, self.day),
        )

    def store(self, form: VerdictForm) -> None:
        cleaned, values = form.cleaned_data, form.values()
        if values["next_check_on"] is None:
            values["next_check_on"] = default_next_check(self.pairing, self.day, cleaned["word"])
        sign_verdict(
            pairing=self.pairing,
            visit=self.visit,
            word=cleaned["word"],
            confidence=cleaned["confidence"],
            signed_by=self.request.user,  # type: ignore[arg-type]
            signed_at=self.moment,
            expires_on=cleaned["expires_on"] or default_expiry(self.pairing, self.day),
            **values,
        )
        messages.success(self.request, f"Signed: {Verdict.Word(cleaned['word']).label}.")

    @cached_property
    def suggestion(self) -> SuggestionWords:
        """What the visit's computed fit suggests, under what was found by hand."""
        warnings = warnings_for(self.recorded, self.pairing)
        evaluation = next(iter(self.pairing.evaluations.all()), None)
        above = above_of(
            felt_of(self.recorded.check),
            unsafe=[f"{saddle} is not to be ridden" for saddle in warnings.unsafe],
            red_flags=warnings.vet,
            rest=warnings.rest,
        )
        stored = stored_findings(evaluation.pk) if evaluation else None
        return suggestion_of(stored, above, INCHES if self.imperial else CENTIMETRES)

    def live(self, form: VerdictForm) -> dict[str, Any]:
        recorded = self.recorded
        word = str(form["word"].value() or "")
        is_word = word in Verdict.Word.values
        return {
            "check": recorded.check,
            "scores": _scores_of(recorded.check),
            "safety": next(iter(self.pairing.saddle.safety_checks.all()), None),
            "evaluation": next(iter(self.pairing.evaluations.all()), None),
            "signed": self.stored,
            "next_default": default_next_check(self.pairing, self.day, word) if is_word else None,
            "expiry_default": default_expiry(self.pairing, self.day),
        }


def _scores_of(check: Any) -> dict[tuple[str, str], int | None]:
    return {(row.site, row.side): row.score for row in check.scores.all()} if check else {}


def proposals(warnings: Warnings) -> list[str]:
    """Return the verdict words that what was found asks for, the strongest first."""
    asked = (
        (warnings.unsafe, Verdict.Word.UNSAFE),
        (warnings.vet, Verdict.Word.VET_FIRST),
        (warnings.rest, Verdict.Word.REST_FIRST),
    )
    return [str(word.label) for reasons, word in asked if reasons]
