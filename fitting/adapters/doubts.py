"""How sure each finding is, put into its row: the band, the likely word, what to measure again."""

from collections.abc import Sequence
from dataclasses import replace

from fitting.adapters.band_words import band_of, band_words, likelihood_words, narrowing_sentence
from fitting.adapters.finding_words import ORDER, FindingGroup, FindingRow
from fitting.adapters.measures import SIDE_WORDS
from fitting.engine import Finding, FitResult
from horses.charts.theme import LengthUnit


def with_doubts(
    groups: Sequence[FindingGroup], result: FitResult, unit: LengthUnit
) -> tuple[FindingGroup, ...]:
    """Return the groups with the doubt of each finding; unchanged where nothing was drawn."""
    return tuple(
        replace(group, rows=tuple(_with_doubt(row, result, unit) for row in group.rows))
        for group in groups
    )


def _with_doubt(row: FindingRow, result: FitResult, unit: LengthUnit) -> FindingRow:
    found = sorted((f for f in result.findings if f.code == row.code), key=lambda f: f.side)
    worst = min(found, key=lambda f: ORDER[f.level])
    return replace(
        row,
        likelihood=likelihood_words(worst),
        bands=tuple(words for f in found if (words := _band(result, f, unit))),
        narrowing=narrowing_sentence(result, worst),
    )


def _band(result: FitResult, finding: Finding, unit: LengthUnit) -> str:
    band = band_of(result, finding)
    if band is None:
        return ""
    side = SIDE_WORDS.get(finding.side, "")
    words = band_words(band, finding, unit)
    return f"{side}: {words}" if side else words
