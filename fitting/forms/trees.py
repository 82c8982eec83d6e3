"""The form for a tree: only the dimensions of its own kind, with how each was measured."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from fitting.forms.dimensions import DIMENSIONS, SLOPES, Dimension, grouped
from fitting.models import TreeSpec
from horses.forms.fields import AngleField, LengthField, MassField, QuantityField
from horses.forms.records import RecordForm

USUAL_TWIST_DEG = (8.0, 24.0)
SAME_ANGLE_DEG = 1.0
INCLUDED_LIMITS = {"front": ((60, 130), (84, 98)), "rear": ((90, 165), (105, 140))}
FROM_INCLUDED = "from the included angle; sides not measured apart"


def dimension_field(dimension: Dimension) -> QuantityField:
    kind = {"hard": dimension.hard, "usual": dimension.usual, "label": dimension.label}
    if dimension.unit == "°":
        return AngleField(help_text=dimension.how, **kind)
    if dimension.unit == "kg":
        return MassField(default_unit="kg", help_text=dimension.how, **kind)
    return LengthField(default_unit=dimension.unit, help_text=dimension.how, **kind)


def included_field(end: str) -> AngleField:
    hard, usual = INCLUDED_LIMITS[end]
    return AngleField(
        label=f"or {end} angle, included",
        hard=hard,
        usual=usual,
        help_text="180° less both slopes. With one slope, the other follows from it.",
    )


class TreeForm(RecordForm):
    """The horse's side of a saddle, as measured."""

    model = TreeSpec
    plain = ("tag", "state", "measured_on", "relief", "notes")

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        self.kind = kind
        self.dimensions = DIMENSIONS[kind]
        super().__init__(*args, **kwargs)
        if not self.has_slopes:
            del self.fields["relief"]

    @property
    def kind_words(self) -> str:
        return TreeSpec.Kind(self.kind).label

    @property
    def has_slopes(self) -> bool:
        return self.kind in {TreeSpec.Kind.TWO_BAR, TreeSpec.Kind.FLEXIBLE}

    def more_fields(self) -> dict[str, forms.Field]:
        fields: dict[str, forms.Field] = {d.name: dimension_field(d) for d in self.dimensions}
        if self.has_slopes:
            fields |= {f"included_{end}_deg": included_field(end) for end in INCLUDED_LIMITS}
        methods = getattr(self.record, "methods", {})
        for dimension in self.dimensions:
            fields[f"method_{dimension.name}"] = forms.CharField(
                label=dimension.label,
                required=False,
                max_length=120,
                initial=methods.get(dimension.name, ""),
            )
        return fields

    def _initial_of(self, name: str, field: forms.Field) -> Any:
        if name.startswith("method_"):
            return field.initial
        return super()._initial_of(name, field)

    def clean(self) -> dict[str, Any]:
        if self.has_slopes:
            for end in INCLUDED_LIMITS:
                self._fill_slopes(end)
        cleaned = super().clean()
        self._check_lengths(cleaned)
        return cleaned

    def _fill_slopes(self, end: str) -> None:
        """Work out what the included angle leaves open; say so when the three disagree."""
        cleaned = self.cleaned_data
        names = (f"slope_{end}_left_deg", f"slope_{end}_right_deg")
        included = cleaned.get(f"included_{end}_deg")
        if included is None:
            return
        known = [cleaned[name] for name in names if cleaned.get(name) is not None]
        rest = 180 - included - sum(known)
        if len(known) == 2:
            if abs(rest) > SAME_ANGLE_DEG:
                words = f"Left and right give {180 - sum(known):g}°, not {included:g}°."
                self.add_error(f"included_{end}_deg", words)
            return
        for name in names:
            if cleaned.get(name) is None and name not in self.errors:
                cleaned[name] = rest / (2 - len(known))
                self._check_derived(name, end)

    def _check_derived(self, name: str, end: str) -> None:
        low, high = next(d.hard for d in self.dimensions if d.name == name) or (0, 90)
        if not low <= self.cleaned_data[name] <= high:
            words = f"This leaves {self.cleaned_data[name]:g}° for one side, which cannot be."
            self.add_error(f"included_{end}_deg", words)

    def _check_lengths(self, cleaned: dict[str, Any]) -> None:
        whole, bearing = cleaned.get("bar_length_mm"), cleaned.get("bearing_length_mm")
        if whole and bearing and bearing > whole + 1e-6:
            self.add_error(
                "bearing_length_mm",
                ValidationError("Longer than the bar itself. Check both lengths."),
            )

    def questions_about(self, cleaned: dict[str, Any]) -> dict[str, str]:
        questions = super().questions_about(cleaned)
        asks = self._slope_questions(cleaned) if self.has_slopes else _panel_questions(cleaned)
        return asks | questions

    def _slope_questions(self, cleaned: dict[str, Any]) -> dict[str, str]:
        for side in ("left", "right"):
            front = cleaned.get(f"slope_front_{side}_deg")
            rear = cleaned.get(f"slope_rear_{side}_deg")
            if front is None or rear is None:
                continue
            twist, low, high = front - rear, *USUAL_TWIST_DEG
            # Ask where something was typed, so that the answer is tied to it.
            name = f"slope_rear_{side}_deg"
            name = name if self._text_of(name) else "included_rear_deg"
            if twist <= 0:
                return {name: "Rear steeper than front; on most it is flatter. Is this right?"}
            if not low <= twist <= high:
                return {
                    name: f"The twist is {twist:g}°; most are {low:g} to {high:g}°. Is this right?"
                }
        return {}

    def values(self) -> dict[str, Any]:
        methods = {
            d.name: text
            for d in self.dimensions
            if (text := self.cleaned_data.get(f"method_{d.name}", ""))
        }
        values = super().values() | {"kind": self.kind}
        if self.has_slopes:
            for d in self.dimensions:
                if d.group == SLOPES and not self._text_of(d.name) and values[d.name] is not None:
                    methods.setdefault(d.name, FROM_INCLUDED)
        return values | {"methods": methods}

    def groups(self) -> list[tuple[str, list[BoundField], list[BoundField]]]:
        """Return, for the page, each group with its value fields and its method fields."""
        found = []
        for group, dimensions in grouped(self.dimensions).items():
            values = [self[d.name] for d in dimensions]
            if group == SLOPES:
                values += [self[f"included_{end}_deg"] for end in INCLUDED_LIMITS]
            found.append((group, values, [self[f"method_{d.name}"] for d in dimensions]))
        return found


def _panel_questions(cleaned: dict[str, Any]) -> dict[str, str]:
    head, rear = cleaned.get("head_angle_deg"), cleaned.get("rear_angle_deg")
    if head is None or rear is None or rear > head:
        return {}
    return {"rear_angle_deg": "Narrower than the head; the rear is wider on most. Is this right?"}
