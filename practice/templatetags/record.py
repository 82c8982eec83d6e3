"""Fields of the recording pages: big keys, and errors that can be replaced by themselves."""

from typing import Any

from django import template
from django.forms import BoundField

register = template.Library()


def _problems(bound: BoundField) -> list[dict[str, Any]]:
    return [
        {"message": message, "is_question": error.code == "unusual"}
        for error in bound.errors.as_data()
        for message in error.messages
    ]


@register.inclusion_tag("practice/record/errors.html")
def record_errors(bound: BoundField, out_of_band: bool = False) -> dict[str, Any]:
    """Show what is wrong at a field, or an empty place for it."""
    return {"name": bound.html_name, "problems": _problems(bound), "out_of_band": out_of_band}


@register.inclusion_tag("practice/record/field.html")
def record_field(bound: BoundField, last: str = "", label: str = "") -> dict[str, Any]:
    """Show a text, list or date field with its unit, hint, last value and errors."""
    return {"field": bound, "last": last, "label": label or bound.label}


@register.inclusion_tag("practice/record/keys.html")
def record_keys(
    bound: BoundField, last: str = "", label: str = "", apart: bool = False
) -> dict[str, Any]:
    """Show a choice as a row of keys; with `apart` the key that takes it back stands elsewhere."""
    return {"field": bound, "last": last, "label": label or bound.label, "apart": apart}


@register.inclusion_tag("practice/record/take_back.html")
def record_take_back(bound: BoundField) -> dict[str, Any]:
    """Show the key that takes a choice back, for a field shown with `apart`."""
    return {"radios": [radio for radio in bound if not radio.data["value"]], "field": bound}


@register.inclusion_tag("practice/record/cell.html")
def record_cell(bound: BoundField) -> dict[str, Any]:
    """Show a field of a compact table: the label is read out, not shown."""
    return {"field": bound}
