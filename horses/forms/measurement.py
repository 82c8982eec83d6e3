"""How the horse stood, and its body measures."""

from datetime import date
from typing import Any

from django import forms

from horses.forms.fields import HeightField, LengthField, MassField, TemperatureField
from horses.forms.keys import as_keys, number_keys, suggest_units
from horses.forms.records import RecordForm
from horses.models import BackMeasurement, Horse
from horses.units import KG_PER_POUND, MM_PER_INCH
from horses.weight import tape_mass_kg

IN = MM_PER_INCH
ADULT_YEARS = 6.0
CROUP_HIGH_MM = 3 * IN
HEIGHT_FALL_MM = 1 * IN
MASS_DIFFERENCE = 0.12  # formula against scale; from memory, not verified

# Words for the nine steps, after Henneke and colleagues, Equine Vet J 15 (1983) 371-372.
CONDITION_WORDS = {
    1: "poor, no fat can be felt",
    2: "very thin",
    3: "thin, ribs easily seen",
    4: "a slight ridge along the back",
    5: "back level, ribs felt but not seen",
    6: "a slight crease may show along the back",
    7: "a crease along the back, ribs can be felt",
    8: "a clear crease, ribs hard to feel",
    9: "obvious crease, patches of fat",
}


def _length(
    label: str, low: float, high: float, usual: tuple[float, float], **more: Any
) -> LengthField:
    return LengthField(label=label, hard=(low, high), usual=usual, **more)


class BodyForm(RecordForm):
    """Stance, quality and body of one horse on one day. Ranges from memory unless cited."""

    model = BackMeasurement
    plain = (
        "method",
        "stood_square",
        "rested_hind_foot",
        "restless",
        "head",
        "ground",
        "coat",
        "work",
        "notes",
    )
    by_practice = {
        "girth_mm": ("in", "cm"),
        "length_mm": ("in", "cm"),
        "croup_over_withers_mm": ("in", "cm"),
        "girth_groove_mm": ("in", "cm"),
        "support_length_mm": ("in", "cm"),
        "scale_mass_kg": ("lb", "kg"),
    }

    girth_mm = _length("Heart girth", 30 * IN, 110 * IN, (60 * IN, 84 * IN))
    length_mm = _length(
        "Body length, point of shoulder to point of buttock", 25 * IN, 95 * IN, (56 * IN, 78 * IN)
    )
    height_mm = HeightField(label="Height at the withers")
    croup_over_withers_mm = _length(
        "Croup above withers", -5 * IN, 6 * IN, (-1.5 * IN, 2 * IN), help_text="Minus when lower."
    )
    scale_mass_kg = MassField(
        label="Weight on a scale",
        hard=(45, 1320),
        usual=(318, 680),
        help_text="Only when there is a scale.",
    )
    condition_score = number_keys(1, 9, label="Body condition, 1 to 9")
    muscle_score = number_keys(1, 5, label="Muscle, 1 to 5")
    hollow_left_mm = _length("Left", 0, 50, (0, 12), default_unit="mm")
    hollow_right_mm = _length("Right", 0, 50, (0, 12), default_unit="mm")
    girth_groove_mm = _length("Girth groove behind the blade", 0, 12 * IN, (2 * IN, 6 * IN))
    support_length_mm = _length(
        "Support length, blade to last rib", 10 * IN, 28 * IN, (17 * IN, 21 * IN)
    )
    temperature_c = TemperatureField(label="Air temperature", hard=(-35, 50), usual=(-5, 35))

    def __init__(
        self,
        *args: Any,
        horse: Horse,
        measured_on: date,
        last_height_mm: float | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.age_years = horse.age_years_on(measured_on)
        self.last_height_mm = last_height_mm
        for name in self.plain:
            if name != "notes":
                self.fields[name] = as_keys(self.fields[name])
        notes = self.fields["notes"]
        assert isinstance(notes, forms.CharField)
        notes.widget = forms.Textarea(attrs={"rows": 2})

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        suggest_units(self)
        return cleaned

    def questions_about(self, cleaned: dict[str, Any]) -> dict[str, str]:
        questions = super().questions_about(cleaned)
        for name, question in (
            ("croup_over_withers_mm", self._about_croup(cleaned)),
            ("height_mm", self._about_height(cleaned)),
            ("scale_mass_kg", self._about_mass(cleaned)),
        ):
            if question:
                questions[name] = " ".join(filter(None, (questions.get(name), question)))
        return questions

    def _is_adult(self) -> bool:
        return self.age_years is None or self.age_years > ADULT_YEARS

    def _about_croup(self, cleaned: dict[str, Any]) -> str | None:
        croup = cleaned.get("croup_over_withers_mm")
        if croup is None or croup < CROUP_HIGH_MM or not self._is_adult():
            return None
        return "A grown horse with the croup 3 in or more above the withers is rare. Is this right?"

    def _about_height(self, cleaned: dict[str, Any]) -> str | None:
        height, last = cleaned.get("height_mm"), self.last_height_mm
        if height is None or last is None or not self._is_adult():
            return None
        if last - height <= HEIGHT_FALL_MM:
            return None
        return f"Lower by {(last - height) / IN:.1f} in than last time. Is this right?"

    def _about_mass(self, cleaned: dict[str, Any]) -> str | None:
        girth, length, scale = (
            cleaned.get(name) for name in ("girth_mm", "length_mm", "scale_mass_kg")
        )
        if not (girth and length and scale):
            return None
        tape = tape_mass_kg(girth_mm=girth, length_mm=length)
        if abs(tape - scale) / scale <= MASS_DIFFERENCE:
            return None
        return (
            f"Girth and length give {tape:.0f} kg ({tape / KG_PER_POUND:.0f} lb). "
            "Are tape and scale both right?"
        )

    def values(self) -> dict[str, Any]:
        """Return only the measures; the texts as typed go beside them."""
        return {
            name: value
            for name, value in self.cleaned_data.items()
            if name != "sure" and name in self.fields
        }
