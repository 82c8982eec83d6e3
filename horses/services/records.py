"""How every record is stored: set, check, save; the object comes back."""

from typing import Any, TypeVar

from django.db import models, transaction

Row = TypeVar("Row", bound=models.Model)


@transaction.atomic
def store(record: Row, **values: Any) -> Row:
    """Set `values` on `record`, check it with its constraints, save it.

    Raises ValidationError, with the messages by field, and then stores nothing.
    """
    for name, value in values.items():
        setattr(record, name, value)
    record.full_clean()
    record.save()
    return record
