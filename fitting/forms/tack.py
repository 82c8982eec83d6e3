"""Forms for saddles and pads. Limits: common practice or from memory, no published source."""

from typing import Any, ClassVar

from django import forms

from fitting.models import Pad, Saddle
from horses import units
from horses.forms.fields import LengthField, MassField
from horses.forms.records import RecordForm

RETIRED = "Retired: kept on record, not offered any more"
INCH = units.MM_PER_INCH
POUND = units.KG_PER_POUND
PANEL_KINDS = frozenset(
    {Saddle.Kind.GENERAL, Saddle.Kind.DRESSAGE, Saddle.Kind.JUMPING, Saddle.Kind.SIDE}
)
# (seat size in inches, weight in pounds) by what is under the saddle
USUAL = {"bars": ((13, 17), (25, 45)), "panels": ((15, 18.5), (10, 20))}


class SaddleForm(RecordForm):
    """A saddle under our own tag."""

    model = Saddle
    plain = (
        "tag",
        "kind",
        "tree",
        "owner",
        "maker_words",
        "rigging",
        "panel_fill",
        "is_retired",
        "notes",
    )
    by_practice: ClassVar[dict[str, tuple[str, str]]] = {"mass_kg": ("lb", "kg")}
    seat_size_mm = LengthField(label="Seat size", hard=(9 * INCH, 21 * INCH))
    mass_kg = MassField(label="Weight with girth and stirrups", hard=(5 * POUND, 75 * POUND))
    fork_to_cantle_mm = LengthField(
        label="Fork centre to cantle centre",
        hard=(8 * INCH, 26 * INCH),
        usual=(12 * INCH, 19 * INCH),
    )
    fork_behind_tip_mm = LengthField(
        label="Fork centre behind front tip", hard=(-2 * INCH, 10 * INCH)
    )
    stirrup_behind_tip_mm = LengthField(
        label="Stirrup behind front tip", hard=(0, 20 * INCH), usual=(4 * INCH, 13 * INCH)
    )
    stirrup_ahead_of_seat_mm = LengthField(
        label="Stirrup ahead of seat low point", hard=(-3 * INCH, 12 * INCH), usual=(0, 6 * INCH)
    )
    skirt_length_mm = LengthField(
        label="Skirt length", hard=(15 * INCH, 36 * INCH), usual=(24 * INCH, 30 * INCH)
    )

    def more_fields(self) -> dict[str, forms.Field]:
        return {"is_retired": forms.BooleanField(label=RETIRED, required=False)}

    def questions_about(self, cleaned: dict[str, Any]) -> dict[str, str]:
        questions = super().questions_about(cleaned)
        under = "panels" if cleaned.get("kind") in PANEL_KINDS else "bars"
        seat, weight = USUAL[under]
        checks = (("seat_size_mm", seat, INCH), ("mass_kg", weight, POUND))
        for name, (low, high), unit in checks:
            value = cleaned.get(name)
            if value is not None and not low * unit - 1e-6 <= value <= high * unit + 1e-6:
                show = self.fields[name].show  # type: ignore[attr-defined]
                usual = f"{show(low * unit)} to {show(high * unit)}"
                questions[name] = f"Unusual for this kind: most are {usual}. Is this right?"
        return questions


class PadForm(RecordForm):
    """A pad or blanket, with how thick it is now."""

    model = Pad
    plain = ("name", "material", "is_shaped", "is_retired", "notes")
    thickness_new_mm = LengthField(
        label="Thickness when new", default_unit="mm", hard=(0, 60), usual=(6, 25.4)
    )
    thickness_mm = LengthField(
        label="Thickness now",
        default_unit="mm",
        required=True,
        hard=(0, 60),
        usual=(6, 25.4),
        help_text="19 mm or 3/4 in, pressed lightly between two boards.",
    )

    def more_fields(self) -> dict[str, forms.Field]:
        return {"is_retired": forms.BooleanField(label=RETIRED, required=False)}

    def questions_about(self, cleaned: dict[str, Any]) -> dict[str, str]:
        questions = super().questions_about(cleaned)
        new, now = cleaned.get("thickness_new_mm"), cleaned.get("thickness_mm")
        if new is not None and now is not None and now > new + 1e-6:
            questions.setdefault("thickness_mm", "Thicker than when it was new. Is this right?")
        return questions
