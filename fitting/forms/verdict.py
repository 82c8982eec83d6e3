"""The fitter's verdict."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.formats import date_format

from fitting.models import Verdict
from horses.forms.fields import NumberField, TypedForm
from horses.forms.keys import as_keys
from horses.forms.records import DayInput

LONGEST_AHEAD = timedelta(weeks=60)
LONG_TEXT = 2000
# Words under which the horse is ridden in this saddle.
RIDING_ON = (Verdict.Word.CARRY_ON, Verdict.Word.SMALL_CHANGES, Verdict.Word.SHORT_RIDES)


def _text(label: str, help_text: str = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=help_text,
        required=False,
        max_length=LONG_TEXT,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


def _day(label: str, help_text: str = "") -> forms.DateField:
    return forms.DateField(label=label, help_text=help_text, required=False, widget=DayInput)


class VerdictForm(TypedForm):
    """One of the eight words, with what goes with it. Signing is a separate act."""

    word = forms.ChoiceField(
        label="Verdict",
        choices=Verdict.Word.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose a verdict."},
    )
    also_rest_first = forms.BooleanField(label="And rest the back first", required=False)
    confidence = as_keys(
        forms.ChoiceField(
            label="How sure",
            choices=Verdict.Confidence.choices,
            error_messages={"required": "Say what it rests on."},
        )
    )
    reason = _text("Reason", "“Not this saddle” needs one: which dimension, and by how much.")
    changes = _text("What we changed")
    advice = _text("What the owner does")
    hours_limit = NumberField(label="Most hours a day", hard=(0, 16), usual=(0, 12))
    next_check_on = _day("Next check", "Left empty: by the usual interval for this verdict.")
    expires_on = _day(
        "Holds until", "Left empty: half a year, or three months for a young or shared horse."
    )

    def __init__(
        self,
        *args: Any,
        visit_day: date,
        is_unsafe: bool = False,
        asked_for: str = "",
        usual_expiry: date | None = None,
        **kwargs: Any,
    ) -> None:
        """`asked_for` names the verdict the back asks for; `usual_expiry` stands in for none."""
        super().__init__(*args, **kwargs)
        self.visit_day, self.usual_expiry = visit_day, usual_expiry
        self.is_unsafe, self.asked_for = is_unsafe, asked_for

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("word") == Verdict.Word.NOT_THIS_SADDLE and not cleaned.get("reason"):
            self.add_error("reason", "Say why: which dimension does not fit, and by how much?")
        if cleaned.get("word") == Verdict.Word.COULD_NOT_JUDGE and not cleaned.get("reason"):
            self.add_error("reason", "Say what is missing.")
        if cleaned.get("word") == Verdict.Word.SHORT_RIDES and cleaned.get("hours_limit") is None:
            self._ask_hours()
        for name in ("next_check_on", "expires_on"):
            self._check_day(name, cleaned.get(name))
        return cleaned

    def clean_word(self) -> str:
        word: str = self.cleaned_data["word"]
        if self.is_unsafe and word in RIDING_ON:
            raise forms.ValidationError("The saddle check says unsafe: nobody rides in it.")
        return word

    def questions_about(self, cleaned: dict[str, Any]) -> dict[str, str]:
        questions = super().questions_about(cleaned)
        if self.asked_for and cleaned.get("word") in RIDING_ON:
            questions["word"] = f"What was found asks for “{self.asked_for}”. Is this right?"
        ends, check = cleaned.get("expires_on") or self.usual_expiry, cleaned.get("next_check_on")
        if ends and check and ends < check <= self.visit_day + LONGEST_AHEAD:
            questions["next_check_on"] = (
                f"The verdict runs out on {date_format(ends, 'j M Y')}, before this. Is it right "
                "that nothing holds in between?"
            )
        return questions

    def _ask_hours(self) -> None:
        if "hours_limit" not in self.errors:
            self.add_error("hours_limit", "Short rides need a limit in hours.")

    def _check_day(self, name: str, day: date | None) -> None:
        if day is None:
            return
        if day <= self.visit_day:
            self.add_error(name, "This must be after the visit.")
        elif day > self.visit_day + LONGEST_AHEAD:
            self.add_error(name, "This is more than 60 weeks ahead.")

    def values(self) -> dict[str, Any]:
        """Return what `sign_verdict` takes besides word, confidence and expiry."""
        names = ("also_rest_first", "reason", "changes", "advice", "hours_limit", "next_check_on")
        return {name: self.cleaned_data[name] for name in names}


def verdict_initial(verdict: Verdict | None) -> dict[str, Any]:
    if verdict is None:
        return {}
    names = (*VerdictForm.base_fields,)
    initial = {name: getattr(verdict, name) for name in names if hasattr(verdict, name)}
    if verdict.hours_limit is not None:
        initial["hours_limit"] = f"{verdict.hours_limit:g}"
    return initial
