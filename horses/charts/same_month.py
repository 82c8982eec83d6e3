"""The same month of each year beside the others: one small panel a section and side."""

from collections.abc import Mapping, Sequence
from typing import Any

from plotly.colors import sample_colorscale

from horses.charts.panels import axis_name
from horses.charts.theme import Chart, LengthUnit, chart, figure_of
from horses.seasons import BackPoint

QUARTERS = (1, 4, 7, 10)
MONTH_WORDS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
ROW_PX, GAP_PX, HEAD_PX, FOOT_PX = 120, 48, 40, 30
SYMBOLS = ("circle", "diamond", "square", "triangle-up", "x", "star")
DASHES = ("solid", "dash", "dot", "dashdot")
LEAST_SPREAD_MM = 20.0


def same_month_chart(
    points: Sequence[BackPoint], stations: Mapping[str, str], unit: LengthUnit
) -> Chart | None:
    """Return half-widths 15 cm down by month, a line a year; None with less than two years."""
    years = sorted({point.day.year for point in points})
    shown = [s for s in stations if any(_width(p, s, side) for p in points for side in "LR")]
    if len(years) < 2 or not shown:
        return None
    rows = len(shown)
    inner = HEAD_PX + rows * (ROW_PX + GAP_PX)
    traces: list[dict[str, Any]] = []
    axes: dict[str, Any] = {}
    titles = []
    for index, station in enumerate(shown):
        for column, side in enumerate("LR"):
            number = 2 * index + column
            top = 1 - (HEAD_PX + GAP_PX + index * (ROW_PX + GAP_PX)) / inner
            domain = [max(top - ROW_PX / inner, 0), top]
            axes |= _axes(points, station, number, column, domain, unit)
            titles.append(_title(f"{station} {'left' if side == 'L' else 'right'}", column, top))
            traces += [_line(points, station, side, number, years, year, unit) for year in years]
    figure = figure_of(
        traces,
        height=inner + FOOT_PX,
        margin={"l": 40, "r": 10, "t": 10, "b": FOOT_PX},
        legend={"y": 1, "yanchor": "top"},
        annotations=titles,
        **axes,
    )
    return chart(
        figure,
        id="same-month",
        title=f"Half-width 15 cm down, the same month of each year, {unit.name}",
        head=("Month", *(f"{s} {side} {y}" for s in shown for side in "LR" for y in years)),
        rows=[_row(points, shown, years, month, unit) for month in range(1, 13)],
        note="Spring beside spring, autumn beside autumn. A line is a year; later ones are darker.",
    )


def _width(point: BackPoint, station: str, side: str) -> float | None:
    numbers = point.sections.get((station, side))
    return None if numbers is None else numbers.w15_mm


def _line(
    points: Sequence[BackPoint],
    station: str,
    side: str,
    number: int,
    years: Sequence[int],
    year: int,
    unit: LengthUnit,
) -> dict[str, Any]:
    mine = [p for p in points if p.day.year == year and _width(p, station, side) is not None]
    place = years.index(year)
    colour = sample_colorscale("Cividis", [0.85 * (1 - place / max(len(years) - 1, 1))])[0]
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "x": [p.day.month + (p.day.day - 1) / 31 for p in mine],
        "y": [round(unit(_width(p, station, side)), 2) for p in mine],
        "name": str(year),
        "legendgroup": str(year),
        "showlegend": number == 0,
        "line": {"color": colour, "width": 2, "dash": DASHES[place % len(DASHES)]},
        "marker": {"color": colour, "size": 7, "symbol": SYMBOLS[place % len(SYMBOLS)]},
        "xaxis": axis_name(number, "x"),
        "yaxis": axis_name(number),
        "hovertemplate": f"%{{y}} {unit.name}",
    }


def _axes(
    points: Sequence[BackPoint],
    station: str,
    number: int,
    column: int,
    domain: list[float],
    unit: LengthUnit,
) -> dict[str, Any]:
    """Return the axes of one panel; both sides of a section share the range of their values."""
    values = [w for p in points for side in "LR" if (w := _width(p, station, side)) is not None]
    middle = (max(values) + min(values)) / 2
    half = max(max(values) - min(values), LEAST_SPREAD_MM) * 0.6
    across = [0.0, 0.47] if column == 0 else [0.53, 1.0]
    months = {
        "tickvals": list(QUARTERS),
        "ticktext": [MONTH_WORDS[month - 1] for month in QUARTERS],
        "tickangle": 0,
        "range": [0.7, 13.2],
        "title": {"text": ""},
    }
    return {
        axis_name(number, "xaxis"): {"domain": across, "anchor": axis_name(number), **months},
        axis_name(number, "yaxis"): {
            "domain": domain,
            "anchor": axis_name(number, "x"),
            "range": [unit(middle - half), unit(middle + half)],
            "showticklabels": column == 0,
        },
    }


def _title(words: str, column: int, top: float) -> dict[str, Any]:
    place = {"x": 0.53 * column, "xref": "paper", "xanchor": "left", "y": top, "yref": "paper"}
    return {"text": words, "yanchor": "bottom", "showarrow": False, "font": {"size": 14}, **place}


def _row(
    points: Sequence[BackPoint],
    shown: Sequence[str],
    years: Sequence[int],
    month: int,
    unit: LengthUnit,
) -> tuple[str, ...]:
    cells = []
    for station in shown:
        for side in "LR":
            for year in years:
                found = [
                    w
                    for p in points
                    if (p.day.year, p.day.month) == (year, month)
                    and (w := _width(p, station, side)) is not None
                ]
                cells.append(f"{unit(found[-1]):.1f}" if found else "–")
    return (MONTH_WORDS[month - 1], *cells)
