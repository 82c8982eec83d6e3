"""Two evaluations of one horse side by side: what got better, worse, or stayed."""

from dataclasses import dataclass

from django.utils.formats import date_format

from fitting.adapters.evaluation_page import result_of
from fitting.adapters.finding_words import RULE_OF, FindingRow, finding_row
from fitting.adapters.measures import SIDE_WORDS
from fitting.adapters.pictures import (
    gap_chart,
    last_rib_of,
    load_map_of,
    map_data,
    thirds_chart,
    top_kpa,
)
from fitting.engine import CaseResult, Finding, FitResult, Rule
from fitting.models import FitEvaluation
from horses.charts.theme import Chart, LengthUnit

# Changes smaller than this are within what the hand measures: no better and no worse.
SMALLEST = {"m": 0.001, "Pa": 500.0, "rad": 0.0087, "1": 0.01}
SIGNS = {"better": "plain", "worse": "beyond"}
COLUMNS = ("a", "b")


@dataclass(frozen=True)
class Change:
    """One finding in both evaluations, with the word for how it changed."""

    before: FindingRow
    after: FindingRow
    word: str
    side: str = ""

    @property
    def css(self) -> str:
        return SIGNS.get(self.word, "unknown")


@dataclass(frozen=True)
class Comparison:
    """Charts of each evaluation on one scale, and the findings that both have."""

    maps: tuple[Chart, ...]
    gaps: tuple[Chart, ...]
    thirds: tuple[Chart, ...]
    changes: tuple[Change, ...]


def excess(rule: Rule, value: float) -> float:
    """Return how far a value lies past the plain range of its rule, 0 inside it."""
    low, high = rule.plain
    return max(low - value, value - high, 0.0)


def change_word(rule: Rule, before: float, after: float) -> str:
    """Return "better", "worse" or "same", by how far each value is past the plain range.

    Under the middle third it is "more" or "less" as long as both stay within the limit: what the
    middle takes over relieves the ends, so more there is not worse.
    """
    nearer = excess(rule, before) - excess(rule, after)
    if abs(nearer) < SMALLEST.get(rule.unit, 0.0):
        return "same"
    if rule.is_pressure and rule.zone == "middle" and max(before, after) <= rule.beyond[1]:
        return "less" if nearer > 0 else "more"
    return "better" if nearer > 0 else "worse"


def _by_place(findings: tuple[Finding, ...]) -> dict[tuple[str, str], Finding]:
    """Return findings by rule, and by side where the rule reports the sides apart."""
    return {(f.code, f.side if RULE_OF[f.code].is_per_side else ""): f for f in findings}


def changes_between(first: FitResult, second: FitResult, unit: LengthUnit) -> tuple[Change, ...]:
    """Return every finding both results have, those that changed first."""
    before, after = _by_place(first.findings), _by_place(second.findings)
    changes = [
        Change(
            finding_row([before[place]], unit),
            finding_row([after[place]], unit),
            change_word(RULE_OF[place[0]], before[place].value, after[place].value),
            SIDE_WORDS.get(place[1], ""),
        )
        for place in before
        if place in after
    ]
    order = ("worse", "better", "more", "less", "same")
    return tuple(sorted(changes, key=lambda change: order.index(change.word)))


def _case(result: FitResult, name: str) -> CaseResult:
    found = {case.name: case for case in result.cases}
    return found.get(name) or result.cases[0]


def _map(
    column: str, result: FitResult, title: str, unit: LengthUnit, top: float, rib: float | None
) -> Chart:
    case = _case(result, "standing")
    data = map_data(result, case, top=top, last_rib=rib, is_small=True)
    return load_map_of(case, data, id=f"map-{column}", title=title, unit=unit)


def title_of(evaluation: FitEvaluation) -> str:
    """Return saddle and day, which tell two evaluations of a horse apart."""
    return f"{evaluation.pairing.saddle.tag}, {date_format(evaluation.evaluated_on, 'j F Y')}"


def comparison_of(first: FitEvaluation, second: FitEvaluation, unit: LengthUnit) -> Comparison:
    """Return the comparison of two computed evaluations of the same horse."""
    pair = [(COLUMNS[i], row, result_of(row)) for i, row in enumerate((first, second))]
    top = top_kpa(*(result for _, _, result in pair))
    ribs = {column: last_rib_of(row.inputs["engine"]) for column, row, _ in pair}
    titles = {column: title_of(row) for column, row, _ in pair}
    return Comparison(
        maps=tuple(
            _map(column, result, titles[column], unit, top, ribs[column])
            for column, _, result in pair
        ),
        gaps=tuple(
            gap_chart(
                result,
                _case(result, "saddle_only"),
                id=f"gap-{column}",
                unit=unit,
                last_rib=ribs[column],
            )
            for column, _, result in pair
        ),
        thirds=tuple(
            thirds_chart(_case(result, "standing"), id=f"thirds-{column}")
            for column, _, result in pair
        ),
        changes=changes_between(pair[0][2], pair[1][2], unit),
    )
