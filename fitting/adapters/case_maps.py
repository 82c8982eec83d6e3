"""All load cases side by side, small and on one scale, and one of them large."""

from dataclasses import dataclass

from fitting.adapters.measures import shown
from fitting.adapters.pictures import (
    SIDES,
    ZONES,
    both_sides,
    cases_in_order,
    load_map_of,
    map_data,
    space_chart,
    top_kpa,
)
from fitting.charts.small_map import Picture, colour_key, small_map
from fitting.engine import LOAD_CASES, CaseResult, FitResult
from horses.charts.theme import Chart, LengthUnit

SHORT_TITLES = {case.name: case.short for case in LOAD_CASES}  # for results kept without their own
TABLE_HEAD = (
    "Load case",
    *(f"{words}, peak left / right" for words in ZONES.values()),
    "Load, left / right",
)


@dataclass(frozen=True)
class CaseCell:
    """One load case among the others: a small map, and its highest pressures in words."""

    name: str
    title: str
    short: str
    picture: Picture
    peaks: str
    is_chosen: bool


@dataclass(frozen=True)
class LoadSection:
    """The cases side by side, the chosen one large and in space, and the numbers of all."""

    cells: tuple[CaseCell, ...]
    key: Picture
    top_kpa: float
    title: str
    map: Chart
    space: Chart
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def load_section(
    result: FitResult, chosen: str, unit: LengthUnit, *, last_rib: float | None, pad: float
) -> LoadSection:
    """Return the section with one case chosen by name, the first where there is no such case."""
    cases, top = cases_in_order(result), top_kpa(result)
    large = next((case for case in cases if case.name == chosen), cases[0])
    data = {case.name: map_data(result, case, top=top, last_rib=last_rib) for case in cases}
    return LoadSection(
        cells=tuple(
            CaseCell(
                case.name,
                case.title,
                short_title(case),
                small_map(data[case.name]),
                peaks_of(case),
                is_chosen=case is large,
            )
            for case in cases
        ),
        key=colour_key(),
        top_kpa=top,
        title=large.title,
        map=load_map_of(
            large, data[large.name], id=f"map-{large.name}", title=large.title, unit=unit
        ),
        space=space_chart(result, large, data[large.name], pad=pad),
        head=TABLE_HEAD,
        rows=tuple(_row(case) for case in cases),
    )


def short_title(case: CaseResult) -> str:
    return case.short or SHORT_TITLES.get(case.name, case.title)


def peaks_of(case: CaseResult) -> str:
    """Return the highest pressure on each side, left / right."""
    peaks = (max(case.value("peak_pressure", zone, side) for zone in ZONES) for side in SIDES)
    return " / ".join(f"{peak / 1e3:.0f}" for peak in peaks) + " kPa"


def _row(case: CaseResult) -> tuple[str, ...]:
    peaks = (both_sides(case, "peak_pressure", zone) for zone in ZONES)
    shares = (shown(sum(case.value("share", z, side) for z in ZONES), "1") for side in SIDES)
    return (case.title, *peaks, " / ".join(shares))
