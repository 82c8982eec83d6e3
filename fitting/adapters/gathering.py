"""Reads values off records one by one, and keeps account: what went in, what had to be assumed,
and what is missing. Nothing is ever guessed without a line here that says so.
"""

from dataclasses import asdict, dataclass, field
from typing import Any

from django.db.models import Model

from fitting.adapters.errors import CannotEvaluate, Missing

GROUPS = {
    "tree": "Tree",
    "saddle": "Saddle",
    "pad": "Pad",
    "pairing": "Pairing",
    "rider": "Rider",
    "measurement": "Back",
}
UNITS = ("mm", "kg", "deg")
# Lengths of a few millimetres, which no one reads in eighths of an inch.
SMALL = (
    *("rock", "flare", "crown", "shim", "thickness", "depth", "hollow", "gusset"),
    *("flex_left", "flex_right", "set", "body_thickness"),
)


@dataclass(frozen=True)
class WentIn:
    """One value that went into the computation, with the words as they were typed."""

    group: str
    label: str
    value: float | str
    unit: str
    typed: str = ""
    is_private: bool = False


@dataclass(frozen=True)
class Assumption:
    """One value nobody measured: what was taken instead, and why that.

    `value` and `unit` are given where the page shows the value in the practice's own units.
    """

    what: str
    taken: str
    why: str
    value: float | None = None
    unit: str = ""


def unit_of(name: str) -> str:
    """Return the unit a field carries in its name; small lengths are shown in mm as they are."""
    unit = name.rsplit("_", 1)[-1]
    if unit not in UNITS:
        return ""
    return "small" if unit == "mm" and name.startswith(SMALL) else unit


@dataclass
class Gathering:
    """The account of one evaluation while its inputs are put together."""

    went_in: list[WentIn] = field(default_factory=list)
    assumptions: list[Assumption] = field(default_factory=list)
    missing: list[Missing] = field(default_factory=list)

    def note(self, record: Model, name: str, *, is_private: bool = False) -> float | None:
        """Read a field and enter it in the account when it holds a value."""
        value: float | None = getattr(record, name)
        if value is None:
            return None
        kind = _kind(record)
        label = str(record._meta.get_field(name).verbose_name)  # type: ignore[union-attr]
        typed = str(getattr(record, "typed", {}).get(name, ""))
        row = WentIn(GROUPS[kind], _sentence(label), value, unit_of(name), typed, is_private)
        self.went_in.append(row)
        return value

    def need(self, record: Model, name: str, *, is_private: bool = False) -> float:
        """Read a field without which nothing can be computed; NaN (and an entry) if empty."""
        value = self.note(record, name, is_private=is_private)
        if value is None:
            label = str(record._meta.get_field(name).verbose_name)  # type: ignore[union-attr]
            self.lacks(f"{_sentence(label)} ({GROUPS[_kind(record)].lower()} {record})", record)
            return float("nan")
        return value

    def assume(self, record: Model, name: str, default: float, *, taken: str, why: str) -> float:
        """Read a field, or take `default` and say so."""
        value = self.note(record, name)
        if value is None:
            label = str(record._meta.get_field(name).verbose_name)  # type: ignore[union-attr]
            unit = unit_of(name) if default else ""
            self.supposed(_sentence(label), taken, why, value=default if unit else None, unit=unit)
            return default
        return value

    def lacks(self, what: str, record: Model | None, kind: str = "") -> None:
        self.missing.append(
            Missing(what, kind or _kind(record), record.pk if record is not None else None)
        )

    def supposed(
        self, what: str, taken: str, why: str, *, value: float | None = None, unit: str = ""
    ) -> None:
        self.assumptions.append(Assumption(what, taken, why, value, unit))

    def entered(self, group: str, label: str, value: Any, unit: str = "", typed: str = "") -> None:
        self.went_in.append(WentIn(group, label, value, unit, typed))

    def check_complete(self) -> None:
        if self.missing:
            raise CannotEvaluate(self.missing)

    def as_data(self) -> dict[str, Any]:
        """Return the account as JSON data, to be frozen beside the inputs."""
        return {
            "went_in": [asdict(row) for row in self.went_in],
            "assumptions": [asdict(row) for row in self.assumptions],
        }


def _kind(record: Model | None) -> str:
    names = {"treespec": "tree", "backmeasurement": "measurement"}
    name = str(record._meta.model_name) if record is not None else ""
    return names.get(name, name)


def _sentence(label: str) -> str:
    return label[:1].upper() + label[1:]
