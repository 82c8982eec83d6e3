"""The history taken before the horse is touched."""

from datetime import date
from typing import Any

from django import forms

from fitting.checks import BEHAVIOUR_SIGNS
from horses.forms.fields import NumberField
from horses.forms.records import RecordForm
from practice.models import VisitHorse


class HistoryForm(RecordForm):
    """What the people around the horse tell."""

    model = VisitHorse
    plain = (
        "what_changed",
        "last_long_ride_on",
        "work_last_weeks",
        "medicines",
        "vet_note",
        "earlier_sores",
        "falls",
    )
    behaviour = forms.MultipleChoiceField(
        label="Signs the owner has seen",
        choices=list(BEHAVIOUR_SIGNS.items()),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    pain_ethogram_count = NumberField(
        label="Ridden pain ethogram, behaviours counted of 24",
        hard=(0, 24),
        required=False,
        help_text=(
            "Only if somebody trained in it watched the ridden horse. Eight or more of 24 are "
            "likely to go with musculoskeletal pain (Dyson and Pollard 2020): advise a veterinary "
            "examination. It is no diagnosis."
        ),
    )

    def __init__(self, *args: Any, visit_day: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.visit_day = visit_day
        self.fields["medicines"].label = "Medicines now, and the last dose"
        self.fields["medicines"].help_text = "Painkillers hide soreness. Write “none” if you asked."

    def clean_last_long_ride_on(self) -> date | None:
        day: date | None = self.cleaned_data["last_long_ride_on"]
        if day and day > self.visit_day:
            raise forms.ValidationError("This is after the visit.")
        return day

    def clean_pain_ethogram_count(self) -> int | None:
        count: float | None = self.cleaned_data["pain_ethogram_count"]
        if count is not None and count != int(count):
            raise forms.ValidationError("Behaviours are counted in whole numbers.")
        return None if count is None else int(count)

    def values(self) -> dict[str, Any]:
        names = (*self.plain, "behaviour", "pain_ethogram_count")
        return {name: self.cleaned_data[name] for name in names}
