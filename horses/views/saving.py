"""The one way a form page stores: try the service, show what it refuses at the fields."""

from collections.abc import Callable
from typing import TypeVar

from django.core.exceptions import ValidationError
from django.db import models
from django.http import HttpRequest

from horses.forms.records import RecordForm

Row = TypeVar("Row", bound=models.Model)


def saved(request: HttpRequest, form: RecordForm, store: Callable[[], Row]) -> Row | None:
    """Return what was stored, or None when the page has to be shown (again)."""
    if request.method != "POST" or not form.is_valid():
        return None
    try:
        return store()
    except ValidationError as problem:
        form.refuse(problem)
        return None


def imperial(request: HttpRequest) -> bool:
    units: str = request.practice.units  # type: ignore[attr-defined]
    return units == "imperial"
