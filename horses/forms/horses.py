"""The form for a horse, and the filter over the list."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.formats import date_format

from horses.forms.fields import HeightField
from horses.forms.records import RecordForm
from horses.models import Horse

OLDEST_YEARS = 45


class HorseForm(RecordForm):
    """A horse as it is known in the barn; the height is typed in hands, inches or cm."""

    model = Horse
    plain = (
        "barn_name",
        "registered_name",
        "sex",
        "birth_date",
        "birth_precision",
        "breed",
        "colour",
        "markings",
        "microchip",
        "life_number",
        "use",
        "temperament",
        "state",
        "place",
        "notes",
    )
    height_mm = HeightField(
        label="Height at the withers", help_text="15.2 is 15 hands 2 inches; 62 in or 157 cm too."
    )

    def clean_birth_date(self) -> date | None:
        born: date | None = self.cleaned_data["birth_date"]
        if born is None:
            return None
        today = timezone.localdate()
        if born > today:
            raise ValidationError("This day has not come yet.")
        if born.year < today.year - OLDEST_YEARS:
            raise ValidationError(f"That is more than {OLDEST_YEARS} years ago. Check the year.")
        self._check_born_before_measured(born)
        return born

    def _check_born_before_measured(self, born: date) -> None:
        if not isinstance(self.record, Horse):
            return
        first = self.record.measurements.order_by("measured_on").first()
        if first is not None and first.measured_on < born:
            measured = date_format(first.measured_on, "j M Y")
            raise ValidationError(f"It was measured on {measured}, before that.")

    def clean_microchip(self) -> str:
        chip: str = self.cleaned_data["microchip"].replace(" ", "").replace("-", "")
        if chip and not (chip.isdigit() and len(chip) in {9, 10, 15}):
            raise ValidationError("A microchip number has 15 digits (older ones 9 or 10).")
        return chip

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("birth_date") and not cleaned.get("birth_precision"):
            cleaned["birth_precision"] = Horse.BirthPrecision.DAY
        return cleaned


class HorseFilter(forms.Form):
    """Which horses to list."""

    q = forms.CharField(label="Name, breed or chip", required=False, max_length=80)
    state = forms.ChoiceField(required=False, choices=[("", "All in care"), *Horse.State.choices])

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = Horse._meta.get_field("place").formfield()
        assert isinstance(field, forms.ModelChoiceField)
        field.empty_label = "All places"
        self.fields["place"] = field

    def chosen(self) -> dict[str, Any]:
        """Return what to filter by; a value that makes no sense filters nothing."""
        self.is_valid()
        place = self.cleaned_data.get("place")
        return {
            "words": self.cleaned_data.get("q", ""),
            "state": self.cleaned_data.get("state", ""),
            "place_id": place.pk if place else None,
        }
