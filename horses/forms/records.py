"""The base of every form that adds or changes one record."""

from collections.abc import Iterable
from typing import Any, ClassVar, cast

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model

from horses import units
from horses.forms.fields import (
    HeightField,
    LengthField,
    MassField,
    QuantityField,
    TemperatureField,
    TypedForm,
)


class DayInput(forms.DateInput):
    """A date with the browser's own calendar."""

    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


CANONICAL_UNIT: dict[type[QuantityField], str] = {
    LengthField: "mm",
    HeightField: "mm",
    MassField: "kg",
    TemperatureField: "C",
}


def _says(field: QuantityField, text: str, value: float) -> bool:
    try:
        return abs(field.read(text) - value) < 1e-6 * max(1.0, abs(value))
    except units.CannotRead:
        return False


def _shown_again(field: QuantityField, value: float, typed: str) -> str:
    """Return the text as typed, or rounded to the usual fraction, or else the exact value.

    A text that would be read back as another value would change the record when it is saved.
    """
    for text in (typed, field.show(value), _decimal(field, value)):
        if text and _says(field, text, value):
            return text
    return f"{value:.10g} {CANONICAL_UNIT.get(type(field), '')}".strip()


def _decimal(field: QuantityField, value: float) -> str:
    """Return the value as a decimal in the field's own unit: 4.1 in."""
    if isinstance(field, LengthField):
        return f"{value / units.LENGTH_MM[field.default_unit]:.6g} {field.default_unit}"
    if isinstance(field, MassField):
        return f"{value / units.MASS_KG[field.default_unit]:.6g} {field.default_unit}"
    return ""


def _name_the_empty_choice(field: forms.Field) -> None:
    if isinstance(field, forms.ModelChoiceField):
        if field.empty_label == "---------":
            field.empty_label = "Choose" if field.required else "None"
    elif isinstance(field, forms.ChoiceField) and not field.required:
        choices = cast(Iterable[tuple[Any, Any]], field.choices)
        field.choices = [(v, "Not noted" if v in {"", None} else w) for v, w in choices]


class RecordForm(TypedForm):
    """Fields of `model` named in `plain` come from the model; measured ones are declared.

    `record` is the row being changed, None for a new one. Lengths and masses declared with
    `by_practice` take their bare unit from the practice's own units.
    """

    model: ClassVar[type[Model]]
    plain: ClassVar[tuple[str, ...]] = ()
    needed: ClassVar[tuple[str, ...]] = ()
    by_practice: ClassVar[dict[str, tuple[str, str]]] = {}

    def __init__(
        self,
        *args: Any,
        record: Model | None = None,
        imperial: bool = True,
        **kwargs: Any,
    ) -> None:
        self.record = record
        given = kwargs.pop("initial", None) or {}
        super().__init__(*args, **kwargs)
        self.fields.update(forms.fields_for_model(self.model, fields=self.plain))
        self.fields.update(self.more_fields())
        for name, units_of in self.by_practice.items():
            self._use_unit(name, units_of[0] if imperial else units_of[1])
        for name, field in self.fields.items():
            self._dress(name, field)
        self.initial = {**self._initial_of_record(), **given}

    def more_fields(self) -> dict[str, forms.Field]:
        """Return fields that depend on more than the model."""
        return {}

    def _use_unit(self, name: str, unit: str) -> None:
        field = self.fields[name]
        assert isinstance(field, LengthField | MassField)
        field.use_unit(unit)

    def _dress(self, name: str, field: forms.Field) -> None:
        if isinstance(field, forms.DateField):
            field.widget = DayInput()
        if isinstance(field.widget, forms.Textarea):
            field.widget.attrs["rows"] = 3
        if name in self.needed:
            field.required = True
        _name_the_empty_choice(field)

    def _initial_of_record(self) -> dict[str, Any]:
        if self.record is None:
            return {}
        return {name: self._initial_of(name, field) for name, field in self.fields.items()}

    def _initial_of(self, name: str, field: forms.Field) -> Any:
        value = getattr(self.record, name, None)
        if value is None:
            return None
        if isinstance(field, QuantityField):
            return _shown_again(field, value, getattr(self.record, "typed", {}).get(name, ""))
        return value.pk if isinstance(value, Model) else value

    def values(self) -> dict[str, Any]:
        """Return the cleaned values by model field, with `typed` where the model keeps it."""
        names = {f.name for f in self.model._meta.get_fields()}
        values = {name: value for name, value in self.cleaned_data.items() if name in names}
        return values | ({"typed": self.typed} if "typed" in names else {})

    def refuse(self, problem: ValidationError) -> None:
        """Show what a service would not store, at the field where there is one."""
        if not hasattr(problem, "error_dict"):
            self.add_error(None, problem)
            return
        for name, errors in problem.error_dict.items():
            self.add_error(name if name in self.fields else None, errors)
