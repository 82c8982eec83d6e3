"""Saving a record only when something in it changed, so that the audit history stays readable."""

from typing import Any, TypeVar

from django.db.models import Model

Kept = TypeVar("Kept", bound=Model)


def save_changed(record: Kept, values: dict[str, Any]) -> Kept:
    """Set `values` on a record and, if it is new or differs, check it and save it.

    Raises django's ValidationError when the record breaks a rule; nothing is saved then.
    """
    is_new = record.pk is None
    changed = is_new
    for name, value in values.items():
        # A new record's required links cannot be read before they are set.
        if is_new or getattr(record, name) != value:
            setattr(record, name, value)
            changed = True
    if changed:
        record.full_clean()
        record.save()
    return record


def merged_typed(
    stored: dict[str, str], values: dict[str, Any], typed: dict[str, str] | None
) -> dict[str, str]:
    """Return the texts as typed after `values` were written: their old texts no longer hold."""
    kept = {name: text for name, text in stored.items() if name not in values}
    return kept | (typed or {})
