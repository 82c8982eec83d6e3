"""Bringing a scan in, marking it, and saying how the horse stood while it was taken."""

import re
from typing import Any, ClassVar

import numpy as np
from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from horses import units
from horses.adapters.scans import TAPE_FIELDS, tapes_of
from horses.forms.fields import LengthField
from horses.forms.keys import as_keys
from horses.forms.records import RecordForm
from horses.models import BackMeasurement, BackScan
from horses.scanning import precheck
from horses.scanning.landmarks import (
    MARKS,
    METRES,
    NEEDED,
    ScaleCheck,
    scale_by_tape,
    scale_checks,
    snapped,
    tapes_disagree,
    unit_by_tape,
)
from horses.scanning.surface import Array, CannotUseScan, Surface

FAR_OFF = 0.05  # of the scan's size: a place farther from the surface is a slip of the pen
NOT_A_PLACE = "Write three numbers, as the scan counts them: 0.12, 0.85, -1.4"
NO_SCALE = "Say the unit, or type both tape distances: nothing else tells how large the scan is."
NO_UNIT_FITS = (
    "In no unit does the scan agree with both tapes. Check the marks and the tapes; if they are "
    "right, take the scale from the two tapes."
)


def _tape(label: str, hard: tuple[float, float], usual: tuple[float, float]) -> LengthField:
    return LengthField(
        label=label, hard=hard, usual=usual, help_text="Tape pulled straight between the marks."
    )


class ScaleForm(RecordForm):
    """The unit of the file, and two tape distances that say whether it is right.

    Ranges from memory; blade to rib is at most the support length.
    """

    model = BackScan
    plain: ClassVar[tuple[str, ...]] = ("unit",)
    by_practice = dict.fromkeys(TAPE_FIELDS.values(), ("in", "cm"))

    tape_withers_croup_mm = _tape("Withers W to croup C", (350, 1700), (700, 1200))
    tape_blade_rib_mm = _tape("Left blade A to left last rib R", (254, 712), (400, 560))

    def _dress(self, name: str, field: forms.Field) -> None:
        super()._dress(name, field)
        if name == "unit" and isinstance(field, forms.ChoiceField):
            field.choices = [("", "Not known"), *BackScan.Unit.choices]
            field.help_text = "GLB files count in metres. The others do not say."


class ScanForm(ScaleForm):
    """A file from a phone, with what is known of its scale."""

    file = forms.FileField(
        label="The scan",
        widget=forms.FileInput(attrs={"accept": ",".join(f".{e}" for e in precheck.EXTENSIONS)}),
        help_text=f"PLY, OBJ, STL or GLB, up to {precheck.MAX_BYTES // 2**20} MB.",
        error_messages={"required": "Choose the file of the scan."},
    )
    field_order = ("file", "unit", *TAPE_FIELDS.values())

    def clean_file(self) -> "UploadedFile[Any]":
        file: UploadedFile[Any] = self.cleaned_data["file"]
        try:
            # Counted here, opened elsewhere: what its header promises must be in it.
            precheck.check(file.file, precheck.extension_of(file.name or ""))  # type: ignore[arg-type]
        except CannotUseScan as problem:
            raise ValidationError(str(problem)) from problem
        return file

    def values(self) -> dict[str, Any]:
        values = super().values()
        values.pop("file")
        return values


class PlaceField(forms.CharField):
    """A place on the scan: three numbers in the file's own axes and unit."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, max_length=120, strip=True, **kwargs)
        self.widget.attrs.update(
            {
                "class": "figure",
                "inputmode": "text",
                "autocomplete": "off",
                "placeholder": "x, y, z",
            }
        )

    def clean(self, value: Any) -> list[float] | None:
        text = super().clean(value)
        if not text:
            return None
        parts = [part for part in re.split(r"[\s,;]+", text) if part]
        try:
            place = [float(part) for part in parts]
        except ValueError as problem:
            raise ValidationError(NOT_A_PLACE) from problem
        if len(place) != 3 or not np.isfinite(place).all():
            raise ValidationError(NOT_A_PLACE)
        return place


def place_text(place: list[float]) -> str:
    return ", ".join(f"{value:.6g}" for value in place)


class MarksForm(ScaleForm):
    """Where the marks are on the scan, and whether its scale agrees with the tapes."""

    plain = ("unit", "scaled_by", "midline")

    def __init__(self, *args: Any, surface: Surface, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.surface = surface
        self.checks: tuple[ScaleCheck, ...] = ()

    def more_fields(self) -> dict[str, forms.Field]:
        return {code: PlaceField(label=words) for code, words in MARKS.items()}

    def _dress(self, name: str, field: forms.Field) -> None:
        super()._dress(name, field)
        if name in {"scaled_by", "midline"}:
            as_keys(field)

    def _initial_of(self, name: str, field: forms.Field) -> Any:
        if name in MARKS and isinstance(self.record, BackScan):
            place = self.record.marks.get(name)
            return place_text(place) if place else ""
        return super()._initial_of(name, field)

    def mark_fields(self) -> list[forms.BoundField]:
        return [self[code] for code in MARKS]

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        self.places = {code: p for code in MARKS if (p := self._snapped(cleaned, code)) is not None}
        if not self.missing and not self.errors:
            self._settle_unit(cleaned)
        return super().clean()

    @property
    def missing(self) -> list[str]:
        return [code for code in NEEDED if code not in self.places]

    def _snapped(self, cleaned: dict[str, Any], code: str) -> Array | None:
        place = cleaned.get(code)
        if place is None:
            return None
        corner, away = snapped(self.surface, place)
        if away > FAR_OFF * float(self.surface.size.max()):
            self.add_error(code, "This place is not on the scan. Check the three numbers.")
            return None
        return corner

    def _settle_unit(self, cleaned: dict[str, Any]) -> None:
        tapes = tapes_of(cleaned)
        if len(tapes) < len(TAPE_FIELDS):
            for pair, name in TAPE_FIELDS.items():
                if pair not in tapes:
                    self.add_error(name, NO_SCALE if not cleaned["unit"] else self._untold(pair))
            return
        if cleaned["scaled_by"] == BackScan.Scale.TAPES:
            scale = scale_by_tape(self.places, tapes)
        else:
            cleaned["unit"] = cleaned["unit"] or unit_by_tape(self.places, tapes) or ""
            if not cleaned["unit"]:
                self.add_error("unit", NO_UNIT_FITS)
                return
            scale = METRES[cleaned["unit"]]
        self.checks = scale_checks(self.places, tapes, metres_per_unit=scale)

    def _untold(self, pair: tuple[str, str]) -> str:
        return f"Needed, to check the unit: a tape pulled straight from {_named(pair)}."

    def questions_about(self, cleaned: dict[str, Any]) -> dict[str, str]:
        questions = super().questions_about(cleaned)
        for check in self.checks:
            if not check.agrees:
                name = TAPE_FIELDS[check.pair]
                questions[name] = " ".join(filter(None, (questions.get(name), self._about(check))))
        return questions

    def _about(self, check: ScaleCheck) -> str:
        scan, tape, room = (
            units.show_length(1000 * value, imperial=self._imperial())
            for value in (check.scan, check.tape, check.tolerance)
        )
        both = "The two tapes do not suit one scale, so a mark or a tape is wrong. "
        return (
            f"On the scan {_named(check.pair)} is {scan}, your tape says {tape}: "
            f"{abs(check.off) * 100:.0f} % apart, and marks and tape explain {room}. "
            + (both if tapes_disagree(self.places, tapes_of(self.cleaned_data)) else "")
            + "Check unit, marks and tape. Is this right?"
        )

    def _imperial(self) -> bool:
        field = self.fields["tape_blade_rib_mm"]
        return isinstance(field, LengthField) and field.default_unit == "in"

    def values(self) -> dict[str, Any]:
        """Return the scan's own fields; `typed` is given apart."""
        values = super().values()
        values.pop("typed")
        places = {code: [float(v) for v in place] for code, place in self.places.items()}
        return {**values, "marks": places}


def _named(pair: tuple[str, str]) -> str:
    words = {"AL": "A left", "RL": "R left"}
    return " to ".join(words.get(code, code) for code in pair)


class StanceForm(RecordForm):
    """How the horse stood while it was scanned: asked as for any other measuring.

    Stance changes what a scan shows: one hind foot rested changed the volume of the loin by a fifth
    (A. Borer-Matsui, C. Donnelly and S. Valberg, Comp Exerc Physiol 19 (2023) 19-26).
    """

    model = BackMeasurement
    plain = ("stood_square", "rested_hind_foot", "restless", "head", "ground", "work", "coat")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.plain:
            self.fields[name] = as_keys(self.fields[name])

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.plain}
