"""The form that shares a report."""

from datetime import date
from typing import Any

from django import forms
from django.conf import settings

from horses.forms.records import DayInput

DAYS = (14, 30, 90, 180, 365)


class ShareForm(forms.Form):
    """For whom, for how long, and from which ride the recovery sheet is dated."""

    recipient = forms.CharField(
        label="Who gets the link",
        max_length=120,
        help_text="Named at the end of the report under “Who has a copy”.",
    )
    days = forms.TypedChoiceField(label="The link works for", coerce=int)
    ride_on = forms.DateField(
        label="Next long ride",
        required=False,
        widget=DayInput(),
        help_text="Fills in the dates of the recovery sheet.",
    )

    def __init__(
        self, *args: Any, visit_day: date, recipient: str, first_ride: date, **kwargs: Any
    ) -> None:
        kwargs["initial"] = {
            "recipient": recipient,
            "days": settings.SHARE_LINK_DAYS,
            "ride_on": first_ride,
        }
        super().__init__(*args, **kwargs)
        self.visit_day = visit_day
        choices = sorted({*DAYS, settings.SHARE_LINK_DAYS})
        days = self.fields["days"]
        days.choices = [(n, f"{n} days") for n in choices]  # type: ignore[attr-defined]

    def clean_ride_on(self) -> date | None:
        ride_on: date | None = self.cleaned_data["ride_on"]
        if ride_on is not None and ride_on < self.visit_day:
            raise forms.ValidationError("The ride comes after the visit. Choose a later day.")
        return ride_on
