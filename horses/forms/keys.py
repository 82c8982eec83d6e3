"""Choices as rows of big keys, for cold fingers; every choice can be taken back."""

from collections.abc import Iterable
from typing import Any, cast

from django import forms

from horses.forms.fields import LengthField, MassField, QuantityField, TypedForm

NOT_NOTED = ("", "Not noted")
YES_NO = (("True", "Yes"), ("False", "No"))
OTHER_UNIT = {"in": "cm", "cm": "in", "lb": "kg", "kg": "lb"}


def keys(choices: Iterable[tuple[str, Any]], **kwargs: Any) -> forms.ChoiceField:
    """Return a field of keys with a last one for 'not noted'."""
    kwargs.setdefault("required", False)
    return forms.ChoiceField(
        choices=[*choices, NOT_NOTED], widget=forms.RadioSelect, initial="", **kwargs
    )


def as_keys(field: forms.Field) -> forms.Field:
    """Turn the choice field of a model field into keys."""
    if isinstance(field, forms.NullBooleanField):
        field.widget = forms.RadioSelect(choices=[*YES_NO, NOT_NOTED])
    elif isinstance(field, forms.ChoiceField):
        pairs = cast(Iterable[tuple[str, Any]], field.choices)
        real = [(value, words) for value, words in pairs if value]
        field.widget = forms.RadioSelect()
        field.choices = real if field.required else [*real, NOT_NOTED]
    return field


def number_keys(low: int, high: int, **kwargs: Any) -> forms.TypedChoiceField:
    """Return keys for whole numbers, cleaned to int or None."""
    return forms.TypedChoiceField(
        choices=[*((str(n), str(n)) for n in range(low, high + 1)), NOT_NOTED],
        coerce=int,
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
        **kwargs,
    )


def suggest_units(form: TypedForm) -> None:
    """Where a bare number is out of range but right in the other unit, say so at the field."""
    for name in list(form.errors):
        field = form.fields.get(name)
        if isinstance(field, LengthField | MassField):
            _suggest_unit(form, name, field)


def _suggest_unit(form: TypedForm, name: str, field: LengthField | MassField) -> None:
    text = form.typed.get(name, "")
    other = OTHER_UNIT.get(field.default_unit)
    if other is None or any(letter.isalpha() for letter in text):
        return
    if field.usual and _lies_within(field, f"{text} {other}", field.usual):
        form.errors[name].append(f"If you mean {text} {other}, write “{text} {other}”.")


def _lies_within(field: QuantityField, text: str, limits: tuple[float, float]) -> bool:
    try:
        return limits[0] <= field.read(text) <= limits[1]
    except ValueError:
        return False
