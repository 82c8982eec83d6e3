"""A long ride, whose effect on the back is followed for two days."""

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from horses.forms.fields import NumberField
from horses.forms.records import RecordForm
from horses.models import Ride

KM_PER_MILE = 1.609344


class MomentInput(forms.DateTimeInput):
    """A day and time with the browser's own calendar and clock."""

    input_type = "datetime-local"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%dT%H:%M")


class DistanceField(NumberField):
    """A distance, stored in km; a bare number is in the practice's unit."""

    def __init__(self, *, imperial: bool = True, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.factor = KM_PER_MILE if imperial else 1.0

    def read(self, text: str) -> float:
        for unit, factor in (("km", 1.0), ("miles", KM_PER_MILE), ("mi", KM_PER_MILE)):
            if text.strip().lower().endswith(unit):
                return super().read(text.strip()[: -len(unit)]) * factor
        return super().read(text) * self.factor


class RideForm(RecordForm):
    """When it ended, how long it was, and in which saddle."""

    model = Ride
    plain = ("pairing", "terrain", "weather", "reported_by", "notes")
    ended_at = forms.DateTimeField(
        label="Ended at",
        widget=MomentInput(),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S"],
        help_text="Saddle off. The checks of the next two days count from here.",
    )
    hours = NumberField(label="Hours in the saddle", hard=(0.1, 24), usual=(0.5, 14), required=True)

    def __init__(self, *args: Any, pairings: Any, imperial: bool = True, **kwargs: Any) -> None:
        self.is_imperial = imperial
        super().__init__(*args, imperial=imperial, **kwargs)
        self.fields["pairing"].queryset = pairings  # type: ignore[attr-defined]
        self.fields["pairing"].label = "Saddle ridden in"

    def more_fields(self) -> dict[str, forms.Field]:
        unit = "mi" if self.is_imperial else "km"
        distance = DistanceField(
            label=f"Distance, {unit}",
            imperial=self.is_imperial,
            hard=(0, 300),
            usual=(1, 180),
            show=lambda km: f"{km:g} km",
            required=False,
        )
        return {"distance_km": distance}

    def clean_ended_at(self) -> datetime:
        ended: datetime = self.cleaned_data["ended_at"]
        if ended > timezone.now() + timedelta(hours=24):
            raise forms.ValidationError("This is more than a day ahead.")
        return ended
