"""The form for a pairing: what is on the horse, for what work, with which shims."""

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

from fitting.models import Pairing
from horses import units
from horses.forms.fields import LengthField, MassField, NumberField
from horses.forms.records import DayInput, RecordForm
from horses.models import Horse

INCH = units.MM_PER_INCH
POUND = units.KG_PER_POUND
CORNERS = ("front_left", "front_right", "rear_left", "rear_right")
MOST_SHIM_MM = 13.0  # half an inch in all; common practice, no source
YOUNGEST_YEARS, USUAL_FROM_YEARS = 1.5, 3.0  # in ridden work; from memory, not verified
WARN_SHARE, REASON_SHARE, MOST_SHARE = 0.20, 0.30, 0.40
USES = (
    "ranch and cow work",
    "roping",
    "cutting or reining",
    "trail",
    "endurance",
    "packing",
    "dressage",
    "jumping",
    "eventing",
    "hunting",
    "working equitation",
    "campdrafting",
    "school horse",
    "starting colts",
    "rehabilitation",
)


def shim_field(label: str) -> LengthField:
    return LengthField(label=label, default_unit="mm", hard=(0, 19), usual=(0, 10))


class PairingForm(RecordForm):
    """Saddle, pad, rider and use of one horse from a date.

    `horse_mass_kg` is what the horse weighs, None when it was never measured.
    """

    model = Pairing
    plain = (
        "saddle",
        "pad",
        "rider",
        "use",
        "ropes",
        "mounts_from_ground",
        "shims_until",
        "from_date",
        "notes",
    )
    by_practice: ClassVar[dict[str, tuple[str, str]]] = {"gear_mass_kg": ("lb", "kg")}
    hours_per_day = NumberField(label="Usual hours a day", hard=(0, 16), usual=(0.5, 6))
    gear_mass_kg = MassField(
        label="Gear carried",
        hard=(0, 250 * POUND),
        usual=(0, 40 * POUND),
        help_text="Saddle bags, rope, slicker; not the saddle.",
    )
    tip_behind_blade_mm = LengthField(
        label="Front tip behind the blade",
        hard=(-3 * INCH, 6 * INCH),
        usual=(0, 3 * INCH),
        help_text="Where the saddle sits. Minus when the tip lies on the blade.",
    )
    shim_front_left_mm = shim_field("Front left")
    shim_front_right_mm = shim_field("Front right")
    shim_rear_left_mm = shim_field("Rear left")
    shim_rear_right_mm = shim_field("Rear right")

    def __init__(
        self, *args: Any, horse: Horse, horse_mass_kg: float | None = None, **kwargs: Any
    ) -> None:
        self.horse, self.horse_mass_kg = horse, horse_mass_kg
        super().__init__(*args, **kwargs)
        self._narrow_choices()
        self.fields["use"].widget.attrs["list"] = "uses"
        for corner in CORNERS:
            if not getattr(self.record, f"shim_{corner}_mm", 0):
                self.initial[f"shim_{corner}_mm"] = ""

    def _narrow_choices(self) -> None:
        """Leave out retired tack, except what this pairing already uses."""
        for name in ("saddle", "pad"):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            assert field.queryset is not None
            field.queryset = field.queryset.filter(is_retired=False) | field.queryset.filter(
                pk=getattr(self.record, f"{name}_id", None)
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for corner in CORNERS:
            name = f"shim_{corner}_mm"
            if cleaned.get(name) is None and name not in self.errors:
                cleaned[name] = 0.0
        if self.shims_mm and not cleaned.get("shims_until") and "shims_until" not in self.errors:
            words = "Shims are for a time: say when to look again, 4 to 6 weeks from now."
            self.add_error("shims_until", words)
        self._check_share(cleaned)
        self._check_age(cleaned)
        return cleaned

    def _check_age(self, cleaned: dict[str, Any]) -> None:
        age = self._age_years(cleaned)
        if age is not None and age < YOUNGEST_YEARS:
            words = f"{self.horse} is {max(age, 0):.1f} years old then: too young to be ridden."
            self.add_error("from_date", words)

    def _age_years(self, cleaned: dict[str, Any]) -> float | None:
        begin = cleaned.get("from_date")
        return self.horse.age_years_on(begin) if begin else None

    @property
    def shims_mm(self) -> float:
        """Return the shims of all corners together."""
        return sum(self.cleaned_data.get(f"shim_{corner}_mm") or 0 for corner in CORNERS)

    @property
    def load_share(self) -> float | None:
        """Return rider, saddle and gear as a share of the horse's weight, when all are known."""
        saddle, rider = self.cleaned_data.get("saddle"), self.cleaned_data.get("rider")
        if not (self.horse_mass_kg and saddle and rider and saddle.mass_kg and rider.mass_kg):
            return None
        gear = self.cleaned_data.get("gear_mass_kg") or 0
        return float(saddle.mass_kg + rider.mass_kg + gear) / self.horse_mass_kg

    def _check_share(self, cleaned: dict[str, Any]) -> None:
        share = self.load_share
        if share is None or share <= REASON_SHARE:
            return
        said = f"The load is {share:.0%} of the horse's weight"
        if share > MOST_SHARE:
            self.add_error("rider", ValidationError(f"{said}. Check the weights."))
        elif not cleaned.get("notes"):
            self.add_error("notes", f"{said}, over 30 %. Write here why this is accepted.")

    def questions_about(self, cleaned: dict[str, Any]) -> dict[str, str]:
        questions = super().questions_about(cleaned)
        age = self._age_years(cleaned)
        if age is not None and YOUNGEST_YEARS <= age < USUAL_FROM_YEARS:
            questions["from_date"] = f"{self.horse} is only {age:.1f} years old. Is this right?"
        total = self.shims_mm
        if total > MOST_SHIM_MM:
            name = max(CORNERS, key=lambda corner: cleaned.get(f"shim_{corner}_mm") or 0)
            questions[f"shim_{name}_mm"] = (
                f"{total:g} mm of shims in all. Over 13 mm the tree itself is usually wrong. "
                "Is this right?"
            )
        return questions


class EndForm(forms.Form):
    """The last day of a pairing."""

    to_date = forms.DateField(label="Last day in use", widget=DayInput())
