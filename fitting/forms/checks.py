"""The safety check of a saddle, and the checks by hand and eye on the horse."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.forms import BoundField

from fitting.checks import SAFETY_ITEMS, SAFETY_STATES, HandCheckSpec, SafetyItem, hand_checks_of
from fitting.models import HandCheck, SafetyCheck
from horses.forms.fields import LengthField, TypedForm
from horses.forms.keys import keys, suggest_units
from horses.forms.records import DayInput

OUTCOMES = [*HandCheck.Outcome.choices, ("", "Not entered")]
MM_LIMITS: dict[str, tuple[tuple[float, float], tuple[float, float] | None]] = {
    # code: (hard, usual) in mm; common practice or from memory, see the ranges of each field
    "position": ((-77, 153), (0, 77)),
    "withers_clearance": ((0, 150), (30, 75)),
    "mounted_clearance": ((0, 150), (20, 60)),
    "gap": ((-20, 60), (-3, 5)),
    "length": ((-204, 305), (0, 77)),
    "slip": ((-100, 100), (-10, 10)),
    "rear_lift": ((0, 150), None),
    "girth_line": ((-305, 305), None),
    "rope_pull": ((0, 150), None),
}


@dataclass(frozen=True)
class SafetyRow:
    """One item with its field."""

    item: SafetyItem
    field: BoundField


class SafetyForm(forms.Form):
    """Items tested off the horse, and what follows. A fail is never 'safe'."""

    result = keys(SafetyCheck.Result.choices, label="Result")
    repair_by = forms.DateField(label="Repair by", required=False, widget=DayInput)
    notes = forms.CharField(
        label="Notes", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, checked_on: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.checked_on = checked_on
        for item in SAFETY_ITEMS:
            self.fields[item.code] = forms.ChoiceField(
                label=item.title,
                choices=[*SAFETY_STATES.items(), ("", "Not tested")],
                required=False,
                initial="",
                widget=forms.RadioSelect,
            )

    def rows(self) -> list[SafetyRow]:
        return [SafetyRow(item, self[item.code]) for item in SAFETY_ITEMS]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        result, repair_by = cleaned.get("result"), cleaned.get("repair_by")
        states = {cleaned.get(item.code) for item in SAFETY_ITEMS}
        if "fail" in states and result == SafetyCheck.Result.SAFE:
            self.add_error("result", "An item fails, so this saddle is not simply safe.")
        if result == SafetyCheck.Result.REPAIR and not repair_by and "repair_by" not in self.errors:
            self.add_error("repair_by", "By which date must it be repaired?")
        if repair_by and repair_by < self.checked_on:
            self.add_error("repair_by", "This date is before the check.")
        return cleaned

    def items(self) -> dict[str, str]:
        """Return the tested items; an untested one is left out."""
        cleaned = self.cleaned_data
        return {item.code: cleaned[item.code] for item in SAFETY_ITEMS if cleaned.get(item.code)}


def safety_initial(check: SafetyCheck | None) -> dict[str, Any]:
    if check is None:
        return {}
    return {
        **check.items,
        "result": check.result,
        "repair_by": check.repair_by,
        "notes": check.notes,
    }


@dataclass(frozen=True)
class HandCheckRow:
    """One check with its fields."""

    number: int
    spec: HandCheckSpec
    outcome: BoundField
    millimetres: list[BoundField]
    note: BoundField
    last: str


class HandCheckForm(TypedForm):
    """All checks of one phase. An untouched check stays unsaid; 'not tested' is its own answer."""

    def __init__(
        self,
        *args: Any,
        phase: str,
        last: dict[str, str] | None = None,
        imperial: bool = True,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.specs = hand_checks_of(phase)
        self.last = last or {}
        for spec in self.specs:
            self._add_check(spec, imperial)

    def _add_check(self, spec: HandCheckSpec, imperial: bool) -> None:
        self.fields[f"{spec.code}_outcome"] = forms.ChoiceField(
            label=spec.title, choices=OUTCOMES, required=False, widget=forms.RadioSelect, initial=""
        )
        if spec.takes_mm:
            hard, usual = MM_LIMITS[spec.code]
            unit = spec.unit if imperial or spec.unit == "mm" else "cm"
            for side in _sides(spec):
                label = spec.mm_of if spec.one_value else f"{side.capitalize()}: {spec.mm_of}"
                self.fields[f"{spec.code}_{side}"] = LengthField(
                    label=label[:1].upper() + label[1:], default_unit=unit, hard=hard, usual=usual
                )
        self.fields[f"{spec.code}_note"] = forms.CharField(
            label="Note", max_length=200, required=False
        )

    def rows(self) -> list[HandCheckRow]:
        return [
            HandCheckRow(
                number=number,
                spec=spec,
                outcome=self[f"{spec.code}_outcome"],
                millimetres=[self[f"{spec.code}_{side}"] for side in _sides(spec)],
                note=self[f"{spec.code}_note"],
                last=self.last.get(spec.code, ""),
            )
            for number, spec in enumerate(self.specs, start=1)
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        suggest_units(self)
        for spec in self.specs:
            values = self.values_of(spec.code)
            said = values["note"] or values["left_mm"] is not None or values["right_mm"] is not None
            if said and not values["outcome"]:
                self.add_error(
                    f"{spec.code}_outcome", f"{spec.title}: choose how it was, or “Not tested”."
                )
        return cleaned

    def values_of(self, code: str) -> dict[str, Any]:
        """Return what one check stores; an empty outcome means that it was not entered."""
        cleaned = self.cleaned_data
        texts = {side: self.typed.get(f"{code}_{side}", "") for side in ("left", "right")}
        return {
            "outcome": cleaned.get(f"{code}_outcome", ""),
            "left_mm": cleaned.get(f"{code}_left"),
            "right_mm": cleaned.get(f"{code}_right"),
            "note": cleaned.get(f"{code}_note", ""),
            "typed": {side: text for side, text in texts.items() if text},
        }


def _sides(spec: HandCheckSpec) -> tuple[str, ...]:
    if not spec.takes_mm:
        return ()
    return ("left",) if spec.one_value else ("left", "right")


def hand_initial(checks: Iterable[HandCheck]) -> dict[str, Any]:
    """Return the form's values for stored checks, lengths as typed where known."""
    initial: dict[str, Any] = {}
    for check in checks:
        initial[f"{check.code}_outcome"] = check.outcome
        initial[f"{check.code}_note"] = check.note
        for side in ("left", "right"):
            value = getattr(check, f"{side}_mm")
            if value is not None:
                initial[f"{check.code}_{side}"] = check.typed.get(side) or f"{value:.10g} mm"
    return initial
