"""The suggested verdict in words: what the numbers alone would say, and what stands above them.

The fitter decides and signs; nothing here is filled in for them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from fitting.adapters.felt import SADDLE_SITES, SORE_FROM, Felt, Spot
from fitting.adapters.finding_words import EVIDENCE_WORDS, TITLES, finding_row
from fitting.engine import Above, EngineError, Finding, Suggestion, from_dict, suggest
from fitting.models import FitEvaluation, Verdict
from fitting.selectors.evaluations import StoredFindings
from horses.charts.theme import LengthUnit

OVERRULED = {
    "safety": "A saddle that failed its check comes before any fit.",
    "red_flag": "What was found asks for the veterinarian before any fit.",
    "soreness": "The back overrules the numbers.",
    "missing": "Something is missing.",
}
CSS = {
    Verdict.Word.CARRY_ON: "plain",
    Verdict.Word.SMALL_CHANGES: "watch",
    Verdict.Word.COULD_NOT_JUDGE: "unknown",
}


@dataclass(frozen=True)
class SuggestionWords:
    """A suggestion as a page shows it.

    `numbers` is empty where there are none, and `overruled` where nothing stands above them;
    otherwise `word` is what does, with its `reasons`, and `numbers` what it overrules.
    """

    word: str
    key: str
    css: str
    reasons: tuple[str, ...]
    overruled: str
    numbers: str
    evidence: str


def suggestion_of(stored: StoredFindings | None, above: Above, unit: LengthUnit) -> SuggestionWords:
    """Return the suggestion for a pairing, from a stored evaluation and what stands above it."""
    findings = _findings(stored)
    is_bar_tree = stored is None or stored.tree != "PanelTree"
    if stored is not None and stored.missing:
        above = replace(above, missing=tuple(stored.missing))
    found = suggest(findings, is_bar_tree=is_bar_tree, above=above)
    return SuggestionWords(
        word=str(Verdict.Word(found.word).label),
        key=found.word,
        css=CSS.get(Verdict.Word(found.word), "beyond"),
        reasons=tuple(_reason(reason, findings, unit) for reason in found.reasons),
        overruled=OVERRULED.get(found.overruled_by, ""),
        numbers=_numbers(found),
        evidence=EVIDENCE_WORDS.get(found.evidence, ""),
    )


def stored_of(evaluation: FitEvaluation) -> StoredFindings:
    """Return what a suggestion reads of an evaluation that is loaded whole."""
    inputs, result = evaluation.inputs, evaluation.result
    missing = tuple(item["what"] for item in inputs.get("missing", []))
    tree = inputs.get("engine", {}).get("tree", {}).get("type", "")
    return StoredFindings(tuple(result.get("findings", [])), tree, missing)


def above_of(
    felt: Felt,
    *,
    unsafe: Iterable[str] = (),
    red_flags: Iterable[str] = (),
    rest: Iterable[str] = (),
) -> Above:
    """Return what stands above the numbers, from the back as felt and the reasons given.

    A warm or swollen place makes the back sore whatever its score.
    """
    under = [spot for spot in felt.spots if spot.site in SADDLE_SITES]
    worst = max((spot.score or 0 for spot in under), default=0)
    is_hot = felt.level == "sore" and worst < SORE_FROM
    sorest = under if is_hot else [spot for spot in under if (spot.score or 0) == worst]
    given = tuple(rest)
    return Above(
        unsafe=tuple(unsafe),
        red_flags=tuple(red_flags),
        rest=given or (_lines(sorest) if felt.rest_first else ()),
        score=None if felt.level == "unknown" else max(worst, SORE_FROM if is_hot else 0),
        sore=_lines(sorest),
    )


def _lines(spots: Sequence[Spot]) -> tuple[str, ...]:
    return Felt("sore", tuple(spots)).lines


def _findings(stored: StoredFindings | None) -> tuple[Finding, ...]:
    """The findings as the engine stored them; none where an older engine wrote another form."""
    try:
        return tuple(from_dict(one) for one in (stored.findings if stored else ()))
    except EngineError:
        return ()


def _reason(reason: str, findings: Sequence[Finding], unit: LengthUnit) -> str:
    """Name the finding with its number and limit; anything else is in words already."""
    own = [finding for finding in findings if finding.code == reason]
    if own:
        row = finding_row(own, unit)
        return f"{row.title}: {row.value} ({row.limit})"
    return TITLES.get(reason, reason)


def _numbers(found: Suggestion) -> str:
    if not found.numbers or not found.overruled_by:
        return ""
    return str(Verdict.Word(found.numbers).label)
