"""How every record is stored: set, check, save; the object comes back."""

from typing import Any, TypeVar

from django.db import models, transaction

Row = TypeVar("Row", bound=models.Model)


@transaction.atomic
def store(record: Row, /, **values: Any) -> Row:
    """Set `values` on `record` and, if it is new or differs, check and save it.

    A row that stays the same is not saved, so that its history shows changes only. Raises
    ValidationError, with the messages by field, and then stores nothing.
    """
    is_new = record.pk is None
    # A new record's required links cannot be read before they are set.
    changed = {k: v for k, v in values.items() if is_new or getattr(record, k) != v}
    for name, value in changed.items():
        setattr(record, name, value)
    if is_new or changed:
        record.full_clean()
        record.save()
    return record


def merged_typed(
    stored: dict[str, str], values: dict[str, Any], typed: dict[str, str] | None
) -> dict[str, str]:
    """Return the texts as typed after `values` were written: their old texts no longer hold."""
    kept = {name: text for name, text in stored.items() if name not in values}
    return kept | (typed or {})
