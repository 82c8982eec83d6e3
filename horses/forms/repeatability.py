"""One horse of a repeatability study: each length measured five times, remounting every time."""

from datetime import date
from typing import Any

from django import forms
from django.forms import BoundField

from horses.forms.fields import LengthField, TypedForm
from horses.forms.records import DayInput
from horses.models import Horse, RepeatedValue

REMOUNTS = 5
Quantity = RepeatedValue.Quantity


class StudyForm(forms.Form):
    """The day of the study."""

    measured_on = forms.DateField(label="Measured on", widget=DayInput())
    note = forms.CharField(
        label="Note", max_length=200, required=False, help_text="Which curve, how you marked."
    )

    def __init__(self, *args: Any, day: date, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"measured_on": day})
        super().__init__(*args, **kwargs)
        self.day = day

    def clean_measured_on(self) -> date:
        measured_on: date = self.cleaned_data["measured_on"]
        if measured_on > self.day:
            raise forms.ValidationError("This is in the future.")
        return measured_on


def _name(quantity: str, remount: int) -> str:
    return f"{quantity}_{remount}"


class RepeatsForm(TypedForm):
    """Choose the horse, then type what each remount gave; a length left out is not studied."""

    horse = forms.ModelChoiceField(queryset=Horse.objects.none(), label="Horse")

    def __init__(self, *args: Any, horses: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["horse"].queryset = horses  # type: ignore[attr-defined]
        for quantity in Quantity:
            for remount in range(1, REMOUNTS + 1):
                self.fields[_name(quantity, remount)] = LengthField(
                    label=f"{quantity.label}, time {remount}",
                    default_unit="mm",
                    hard=(0, 400),
                    usual=(0, 300),
                    required=False,
                )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not self.errors and all(value is None for value in self.values().values()):
            raise forms.ValidationError("Nothing is entered yet.")
        return cleaned

    def values(self) -> dict[tuple[str, int], float | None]:
        return {
            (quantity.value, remount): self.cleaned_data.get(_name(quantity, remount))
            for quantity in Quantity
            for remount in range(1, REMOUNTS + 1)
        }

    def rows(self) -> list[tuple[str, list[BoundField]]]:
        return [
            (
                str(quantity.label),
                [self[_name(quantity, remount)] for remount in range(1, REMOUNTS + 1)],
            )
            for quantity in Quantity
        ]


def repeats_initial(values: Any) -> dict[str, Any]:
    """Return the form's texts for stored values of one horse."""
    return {_name(row.quantity, row.remount): f"{row.value_mm:g}" for row in values}
