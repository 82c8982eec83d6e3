"""What an adapter says when the records do not hold enough to compute with."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Missing:
    """One thing to measure or enter, in plain words, and on which record it belongs."""

    what: str
    record: str
    pk: int | None


class CannotEvaluate(Exception):
    """The fit cannot be computed from what is recorded; `missing` says what to measure."""

    def __init__(self, missing: Iterable[Missing]) -> None:
        self.missing = tuple(missing)
        listed = "; ".join(item.what for item in self.missing)
        super().__init__(f"Cannot be computed yet. Still to be measured: {listed}.")


class CannotShow(Exception):
    """A stored result was written by an engine whose form this one does not read."""
