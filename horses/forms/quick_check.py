"""A short feeling-over: five places in the same order each time, left and right apart."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms import BoundField

from horses.forms.fields import NumberField, TypedForm
from horses.forms.soreness import NO_TOUCH, NOT_TESTED, SIDE_WORDS, Key, part
from horses.models import SCORE_WORDS, Site, sides_of

# The places of a quick round, front to rear and then below.
ROUND_SITES = ("WS", "BS", "RB", "LO", "GI")
ROUND_KEYS: tuple[Key, ...] = tuple((site, side) for site in ROUND_SITES for side in sides_of(site))


@dataclass(frozen=True)
class QuickRow:
    """The fields of one place on one side."""

    side: str
    words: str
    last: str
    score: BoundField
    is_warm: BoundField
    note: BoundField
    algometer: BoundField | None


@dataclass(frozen=True)
class QuickSite:
    code: str
    name: str
    rows: list[QuickRow]


class QuickCheckForm(TypedForm):
    """Every place needs an answer, be it 'not tested': what is skipped is never taken for calm."""

    def __init__(
        self,
        *args: Any,
        keys: Sequence[Key] = ROUND_KEYS,
        last: Mapping[Key, int | None] | None = None,
        has_algometer: bool = False,
        words: Mapping[str, str] | None = None,
        **kwargs: Any,
    ) -> None:
        """`words` says the scores and 'not tested' in other words, for owners."""
        super().__init__(*args, **kwargs)
        self.keys, self.last, self.has_algometer = tuple(keys), last or {}, has_algometer
        choices = [(str(score), str(score)) for score in SCORE_WORDS] + [(NOT_TESTED, "Not tested")]
        choices = [(value, (words or {}).get(value, text)) for value, text in choices]
        for site, side in self.keys:
            self._add(site, side, choices)

    def _add(self, site: str, side: str, choices: list[tuple[str, str]]) -> None:
        where = f"{Site(site).label}, {SIDE_WORDS[side]}"
        self.fields[part(site, side, "score")] = forms.ChoiceField(
            label=where,
            choices=choices,
            widget=forms.RadioSelect,
            error_messages={"required": f"{where}: choose one, or “Not tested”."},
        )
        self.fields[part(site, side, "is_warm")] = forms.BooleanField(
            label="Warm or swollen", required=False
        )
        self.fields[part(site, side, "note")] = forms.CharField(
            label="What the horse did", max_length=200, required=False
        )
        if self.has_algometer:
            self.fields[part(site, side, "algometer")] = NumberField(
                label="Algometer, kg/cm²", hard=(0.2, 30), usual=(1, 20)
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for site, side in self.keys:
            is_refused = cleaned.get(part(site, side, "score")) == str(NO_TOUCH)
            if is_refused and not cleaned.get(part(site, side, "note")):
                where = f"{Site(site).label}, {SIDE_WORDS[side]}"
                self.add_error(part(site, side, "note"), f"{where}: say what the horse did.")
        return cleaned

    def scores(self) -> dict[Key, dict[str, Any]]:
        """Return what `record_soreness_check` takes."""
        return {(site, side): self._values(site, side) for site, side in self.keys}

    def _values(self, site: str, side: str) -> dict[str, Any]:
        cleaned = self.cleaned_data
        score = cleaned[part(site, side, "score")]
        values = {
            "score": None if score == NOT_TESTED else int(score),
            "is_warm": cleaned[part(site, side, "is_warm")],
            "note": cleaned[part(site, side, "note")],
        }
        if self.has_algometer:
            values["algometer_kg_per_cm2"] = cleaned[part(site, side, "algometer")]
        return values

    def rows(self) -> list[QuickSite]:
        by_site: dict[str, list[QuickRow]] = {}
        for key in self.keys:
            by_site.setdefault(key[0], []).append(self._row(key))
        return [QuickSite(site, str(Site(site).label), rows) for site, rows in by_site.items()]

    def _row(self, key: Key) -> QuickRow:
        site, side = key
        last = self.last.get(key)
        return QuickRow(
            side=side,
            words=SIDE_WORDS[side],
            last="" if last is None else str(last),
            score=self[part(site, side, "score")],
            is_warm=self[part(site, side, "is_warm")],
            note=self[part(site, side, "note")],
            algometer=self[part(site, side, "algometer")] if self.has_algometer else None,
        )


def quick_initial(scores: Any) -> dict[str, Any]:
    """Return the form's values for stored site scores."""
    initial: dict[str, Any] = {}
    for row in scores:
        key = (row.site, row.side)
        initial[part(*key, "score")] = NOT_TESTED if row.score is None else str(row.score)
        initial[part(*key, "is_warm")] = row.is_warm
        initial[part(*key, "note")] = row.note
        if row.algometer_kg_per_cm2 is not None:
            initial[part(*key, "algometer")] = f"{row.algometer_kg_per_cm2:g}"
    return initial
