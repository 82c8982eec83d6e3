"""Starting, changing and ending a pairing of horse, saddle, pad, rider and use."""

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.formats import date_format

from fitting.models import Pairing, Saddle
from horses.models import Horse
from horses.services.records import store


def start_pairing(*, horse: Horse, saddle: Saddle, from_date: date, **values: Any) -> Pairing:
    """Begin using a saddle on a horse from a date."""
    return store(Pairing(), horse=horse, saddle=saddle, from_date=from_date, **values)


def change_pairing(*, pairing: Pairing, **values: Any) -> Pairing:
    return store(pairing, **values)


def end_pairing(*, pairing: Pairing, to_date: date) -> Pairing:
    """Stop using it after a date; the pairing and all that was found on it stay on record."""
    if to_date < pairing.from_date:
        raise ValidationError(
            {"to_date": f"It began on {date_format(pairing.from_date, 'j M Y')}."}
        )
    return store(pairing, to_date=to_date)
