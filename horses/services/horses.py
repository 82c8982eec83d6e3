"""Adding and changing horses."""

from typing import Any

from horses.models import Horse
from horses.services.records import store


def add_horse(**values: Any) -> Horse:
    return store(Horse(), **values)


def change_horse(*, horse: Horse, **values: Any) -> Horse:
    return store(horse, **values)
