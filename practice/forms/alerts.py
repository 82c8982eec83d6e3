"""The form that puts an alert off."""

from datetime import date, timedelta

from django import forms

from horses.forms.records import DayInput

LONGEST = timedelta(weeks=26)
USUAL = timedelta(weeks=4)


class PutOffForm(forms.Form):
    """Until when, and why: both are kept with the horse."""

    until = forms.DateField(
        label="Quiet until",
        widget=DayInput(),
        help_text="Half a year at most.",
        error_messages={"required": "Say until when."},
    )
    reason = forms.CharField(
        label="Why it can wait",
        max_length=200,
        help_text="The vet has seen it; out at grass until spring; wrong foot rested.",
        error_messages={"required": "Say why: whoever looks next will ask."},
    )

    def __init__(self, *args: object, day: date, **kwargs: object) -> None:
        kwargs.setdefault("initial", {"until": day + USUAL})
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.day = day

    def clean_until(self) -> date:
        until: date = self.cleaned_data["until"]
        if until <= self.day:
            raise forms.ValidationError("This must be after today.")
        if until > self.day + LONGEST:
            raise forms.ValidationError("This is more than half a year ahead.")
        return until
