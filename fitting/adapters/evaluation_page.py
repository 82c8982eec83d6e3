"""Everything the page of one computed evaluation shows, put together once, without queries."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from fitting.adapters.allowance_words import (
    AllowanceRow,
    PlaceRow,
    allowance_rows,
    placement_rows,
    settled_words,
)
from fitting.adapters.case_maps import LoadSection, load_section
from fitting.adapters.doubts import with_doubts
from fitting.adapters.errors import CannotShow
from fitting.adapters.felt import Disagreement, Felt, disagreement
from fitting.adapters.finding_words import FindingGroup, grouped
from fitting.adapters.measures import shown
from fitting.adapters.pictures import (
    SIDE_HEADS,
    ZONE_HEAD,
    bearing_rows,
    cases_in_order,
    gap_chart,
    last_rib_of,
    section_of,
    thirds_chart,
    zone_rows,
)
from fitting.engine import CaseResult, EngineError, FitResult, from_dict
from fitting.models import FitEvaluation
from horses.charts.theme import Chart, LengthUnit

GAP_CASES = ("saddle_only", "standing")  # the hand finds the first one at a visit


@dataclass(frozen=True)
class Table:
    """A plain table: its heading, column heads and rows of text."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class EvaluationPage:
    """The parts of the page below the soreness, in their order."""

    disagreement: Disagreement | None
    groups: tuple[FindingGroup, ...]
    draws: int
    loads: LoadSection
    sections: tuple[Chart, ...]
    gaps: tuple[Chart, ...]
    bearing: Table
    thirds: Chart
    zones: Table
    load_ratio: str
    room: tuple[AllowanceRow, ...]
    places: tuple[PlaceRow, ...]
    settled: str
    went_in: tuple[tuple[str, tuple[Mapping[str, Any], ...]], ...]
    assumptions: tuple[Mapping[str, str], ...]
    warnings: tuple[str, ...]
    convergence: Table


def _zones_table(case: CaseResult) -> Table:
    return Table(f"Pressure by zone: {case.title.lower()}", ZONE_HEAD, zone_rows(case))


def _convergence(result: FitResult) -> Table:
    rows = tuple(
        (case.title, f"{case.residual:.1e}", str(case.iterations), _attitude(case))
        for case in cases_in_order(result)
    )
    head = ("Load case", "Force out of balance / load", "Steps", "Attitude")
    return Table(f"Settled in {result.passes} passes", head, rows)


def _attitude(case: CaseResult) -> str:
    """Say how the tree came to lie, in words for pitch and roll."""
    _, pitch, roll = case.pose
    rear = "down" if pitch > 0 else "up"
    side = "left" if roll > 0 else "right"
    return f"rear {rear} {shown(abs(pitch), 'rad')}, {side} down {shown(abs(roll), 'rad')}"


def _grouped_rows(
    rows: list[dict[str, Any]],
) -> tuple[tuple[str, tuple[Mapping[str, Any], ...]], ...]:
    order = {"Tree": 0, "Saddle": 1, "Pad": 2, "Pairing": 3, "Rider": 4, "Back": 5}
    ranked = sorted(rows, key=lambda row: order.get(row["group"], 9))
    return tuple(
        (group, tuple(members)) for group, members in groupby(ranked, key=lambda r: r["group"])
    )


def result_of(evaluation: FitEvaluation) -> FitResult:
    """Return the stored result of a computed evaluation.

    Raises CannotShow when an engine of another version wrote it in another form.
    """
    try:
        result = from_dict(evaluation.result)
    except EngineError as error:
        raise CannotShow(str(error)) from error
    assert isinstance(result, FitResult)
    return result


def loads_of_evaluation(evaluation: FitEvaluation, chosen: str, unit: LengthUnit) -> LoadSection:
    """Return only the part of the page that changes with the load case chosen."""
    return _loads(evaluation, result_of(evaluation), chosen, unit)


def _loads(
    evaluation: FitEvaluation, result: FitResult, chosen: str, unit: LengthUnit
) -> LoadSection:
    engine = evaluation.inputs["engine"]
    return load_section(
        result, chosen, unit, last_rib=last_rib_of(engine), pad=_pad_thickness(engine)
    )


def _pad_thickness(engine: Mapping[str, Any]) -> float:
    return float(engine["layers"]["pad_thickness"])


def page_of_evaluation(
    evaluation: FitEvaluation, felt: Felt, unit: LengthUnit, chosen: str = ""
) -> EvaluationPage:
    """Return the page of a computed evaluation; charts in the practice's unit of length.

    `chosen` names the load case shown large; an unknown one is answered with the first.
    """
    result, inputs = result_of(evaluation), evaluation.inputs
    last_rib, pad = last_rib_of(inputs["engine"]), _pad_thickness(inputs["engine"])
    cases = {case.name: case for case in cases_in_order(result)}
    standing = cases.get("standing") or result.cases[0]
    return EvaluationPage(
        disagreement=disagreement(felt, (finding.level for finding in result.findings)),
        groups=with_doubts(grouped(result.findings, felt, unit), result, unit),
        draws=result.draws,
        loads=_loads(evaluation, result, chosen, unit),
        sections=tuple(
            section_of(section, id=f"section-{section.name}", unit=unit, pad=pad)
            for section in result.sections
        ),
        gaps=tuple(
            gap_chart(result, cases[name], id=f"gap-{name}", unit=unit, last_rib=last_rib)
            for name in GAP_CASES
            if name in cases
        ),
        bearing=Table(
            "Where it bears", ("", *SIDE_HEADS), tuple(bearing_rows(result, standing, unit))
        ),
        thirds=thirds_chart(standing, id="thirds"),
        zones=_zones_table(standing),
        load_ratio=shown(result.value("load_ratio"), "1"),
        room=allowance_rows(result.allowances, unit),
        places=placement_rows(result.placement_sweep),
        settled=settled_words(result.placement_sweep),
        went_in=_grouped_rows(inputs.get("went_in", [])),
        assumptions=tuple(inputs.get("assumptions", [])),
        warnings=result.warnings,
        convergence=_convergence(result),
    )


@dataclass(frozen=True)
class Summary:
    """The key numbers of an evaluation in a list."""

    gap: str
    middle_share: str
    ahead_of_last_rib: str
    load_ratio: str


def _pair(
    measures: Mapping[str, float], key: str, unit: str, long: LengthUnit | None = None
) -> str:
    left, right = (measures.get(f"{key}.{side}") for side in ("left", "right"))
    if left is None and right is None:
        return "–"
    return f"{shown(left, unit, long)} / {shown(right, unit, long)}"


def summary_of(measures: Mapping[str, float], unit: LengthUnit) -> Summary:
    """Return the key numbers, left / right where there are two."""
    return Summary(
        gap=_pair(measures, "saddle_only.bridge_gap", "m"),
        middle_share=shown(measures.get("standing.share.middle"), "1"),
        ahead_of_last_rib=_pair(measures, "shape.ahead_of_last_rib", "m", unit),
        load_ratio=shown(measures.get("shape.load_ratio"), "1"),
    )
