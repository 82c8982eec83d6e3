"""The feeling-over: twelve sites in the same order every time, left and right apart."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms import BoundField

from horses.forms.fields import LengthField, TypedForm
from horses.models import SCORE_WORDS, Site, SiteScore, sides_of

NOT_TESTED = "not_tested"
SCORES = (
    *((str(score), str(score)) for score in SCORE_WORDS),
    (NOT_TESTED, "Not tested"),
    ("", "Not entered"),
)
NO_TOUCH = 4
SIDE_WORDS = {"L": "Left (near side)", "R": "Right (off side)", "M": "Midline"}
HOW: dict[str, str] = {
    "PO": "Behind the poll and at the base of the neck.",
    "WM": "On top: the arch pressing down.",
    "WS": "The upper muscle beside the withers: too narrow, or dropped.",
    "BS": "One to four inches behind the blade: where front bar tips press.",
    "UB": "Where the stirrup leather pulls.",
    "MB": "Over the middle ribs. Under a bridging tree this is often not sore.",
    "RB": "Over the last ribs: rear of the bars, the rider's seat.",
    "LO": "Behind the last rib: too long, too flat.",
    "SP": "Along the spine tips with two fingers.",
    "CR": "Top of the hips.",
    "GI": "Breastbone and behind the elbow.",
    "ST": "Between and in front of the forelegs.",
}

Key = tuple[str, str]
KEYS: tuple[Key, ...] = tuple((site, side) for site in Site.values for side in sides_of(site))


def part(site: str, side: str, what: str) -> str:
    return f"{site}_{side}_{what}"


@dataclass(frozen=True)
class SideRow:
    """The fields of one site on one side."""

    side: str
    words: str
    key: str
    score: BoundField
    tone: BoundField
    is_warm: BoundField
    swelling_mm: BoundField
    is_repeatable: BoundField
    is_ticklish: BoundField
    note: BoundField
    last: str
    is_open: bool

    @property
    def details(self) -> list[BoundField]:
        return [self.swelling_mm, self.note]

    @property
    def ticks(self) -> list[BoundField]:
        return [self.is_warm, self.is_repeatable, self.is_ticklish]


@dataclass(frozen=True)
class SiteRow:
    """One site with its sides."""

    code: str
    name: str
    how: str
    sides: list[SideRow]


class SorenessForm(TypedForm):
    """Scores 0 to 4 or 'not tested' per site and side. An untouched site stays unsaid."""

    painkillers = forms.CharField(
        label="Painkillers: which, and the last dose",
        max_length=120,
        required=False,
        help_text="They hide soreness. Write “none” if you asked.",
    )
    notes = forms.CharField(
        label="Notes", required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=2000
    )

    def __init__(
        self, *args: Any, last: Mapping[Key, int | None] | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.last = last or {}
        for site, side in KEYS:
            self._add_site(site, side)

    def _add_site(self, site: str, side: str) -> None:
        where = f"{Site(site).label}, {SIDE_WORDS[side]}"
        self.fields[part(site, side, "score")] = forms.ChoiceField(
            label=where, choices=SCORES, required=False, widget=forms.RadioSelect, initial=""
        )
        self.fields[part(site, side, "tone")] = forms.ChoiceField(
            label="Muscle tone",
            choices=[("", "Not noted"), *SiteScore.Tone.choices],
            required=False,
        )
        for name, label in (
            ("is_warm", "Warm"),
            ("is_repeatable", "Same when repeated"),
            ("is_ticklish", "Only ticklish: fades under a flat hand"),
        ):
            self.fields[part(site, side, name)] = forms.BooleanField(label=label, required=False)
        self.fields[part(site, side, "swelling_mm")] = LengthField(
            label="Swelling", default_unit="mm", hard=(0, 200), usual=(0, 60)
        )
        self.fields[part(site, side, "note")] = forms.CharField(
            label="Note", max_length=200, required=False
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for site, side in KEYS:
            self._check_site(cleaned, site, side)
        return cleaned

    def _check_site(self, cleaned: dict[str, Any], site: str, side: str) -> None:
        score = cleaned.get(part(site, side, "score"))
        where = f"{site} {side}"
        if score == str(NO_TOUCH) and not cleaned.get(part(site, side, "note")):
            self.add_error(
                part(site, side, "note"), f"{where}: a 4 needs a note. What did the horse do?"
            )
        if not score and self._has_details(cleaned, site, side):
            self.add_error(part(site, side, "score"), f"{where}: choose a score, or “Not tested”.")

    def _has_details(self, cleaned: dict[str, Any], site: str, side: str) -> bool:
        names = ("tone", "is_warm", "is_repeatable", "is_ticklish", "note")
        has_swelling = cleaned.get(part(site, side, "swelling_mm")) is not None
        return has_swelling or any(cleaned.get(part(site, side, name)) for name in names)

    def scores(self) -> dict[Key, dict[str, Any]]:
        """Return what a soreness check stores, for the sites that were entered."""
        return {
            (site, side): self._values_of(site, side)
            for site, side in KEYS
            if self.cleaned_data.get(part(site, side, "score"))
        }

    def unsaid(self) -> list[Key]:
        return [key for key in KEYS if not self.cleaned_data.get(part(*key, "score"))]

    def _values_of(self, site: str, side: str) -> dict[str, Any]:
        score = self.cleaned_data[part(site, side, "score")]
        names = ("tone", "is_warm", "swelling_mm", "is_ticklish", "note")
        values = {name: self.cleaned_data[part(site, side, name)] for name in names}
        return {
            **values,
            "score": None if score == NOT_TESTED else int(score),
            "is_repeatable": self.cleaned_data[part(site, side, "is_repeatable")] or None,
        }

    def shown_scores(self) -> dict[Key, int | None]:
        """Return the scores as they stand on the page, stored or not, for the body map."""
        shown: dict[Key, int | None] = {}
        for site, side in KEYS:
            text = self[part(site, side, "score")].value()
            if text == NOT_TESTED:
                shown[site, side] = None
            elif text in {str(score) for score in SCORE_WORDS}:
                shown[site, side] = int(text)
        return shown

    def rows(self) -> list[SiteRow]:
        return [
            SiteRow(
                code=site,
                name=str(Site(site).label),
                how=HOW[site],
                sides=[self._side_row(site, side) for side in sides_of(site)],
            )
            for site in Site.values
        ]

    def _side_row(self, site: str, side: str) -> SideRow:
        fields = {
            name: self[part(site, side, name)]
            for name in (
                "score",
                "tone",
                "is_warm",
                "swelling_mm",
                "is_repeatable",
                "is_ticklish",
                "note",
            )
        }
        details = [bound for name, bound in fields.items() if name != "score"]
        return SideRow(
            side=side,
            words=SIDE_WORDS[side],
            key=f"{site}-{side}",
            last=self._last_words(site, side),
            is_open=any(bound.value() or bound.errors for bound in details),
            **fields,
        )

    def _last_words(self, site: str, side: str) -> str:
        if (site, side) not in self.last:
            return ""
        score = self.last[site, side]
        return "not tested" if score is None else str(score)


def soreness_initial(scores: Any) -> dict[str, Any]:
    """Return the form's values for stored site scores."""
    initial: dict[str, Any] = {}
    for row in scores:
        values = {
            "score": NOT_TESTED if row.score is None else str(row.score),
            "tone": row.tone,
            "is_warm": row.is_warm,
            "is_repeatable": bool(row.is_repeatable),
            "is_ticklish": row.is_ticklish,
            "swelling_mm": "" if row.swelling_mm is None else f"{row.swelling_mm:g}",
            "note": row.note,
        }
        initial |= {part(row.site, row.side, name): value for name, value in values.items()}
    return initial
