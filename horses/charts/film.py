"""The shape of a back as a film: its sections on one date after another, moved by a slider."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import plotly.graph_objects as go

from horses.charts.panels import axis_name
from horses.charts.theme import (
    INK,
    SIDE_LINES,
    SIDE_WORDS,
    SOFT,
    TEMPLATE,
    Chart,
    LengthUnit,
    chart,
)

ROW_PX, GAP_PX, SLIDER_PX, HEAD_PX = 150, 26, 96, 34
Half = Sequence[tuple[float, float]]  # half-width and depth [mm], from the midline outward
SHOWN_DEPTHS = (30.0, 150.0)


@dataclass(frozen=True)
class Frame:
    """The sections of one day, by station and side; a half not traced that day is absent."""

    day: date
    halves: Mapping[tuple[str, str], Half]


def film_chart(
    frames: Sequence[Frame], stations: Mapping[str, str], unit: LengthUnit
) -> Chart | None:
    """Return the film, oldest first, with the first day left in as a thin line; None below two."""
    shown = [s for s in stations if any((s, side) in f.halves for f in frames for side in "LR")]
    if len(frames) < 2 or not shown:
        return None
    count = 2 * len(shown)
    start = [_trace(frames[0], s, side, i, unit, is_first=True) for i, s, side in _places(shown)]
    moving = [_trace(frames[0], s, side, i, unit) for i, s, side in _places(shown)]
    figure = go.Figure(
        data=[*start, *moving],
        frames=[
            {
                "name": f"{frame.day:%Y-%m-%d}",
                "data": [_points(frame, s, side, unit) for _, s, side in _places(shown)],
                "traces": list(range(count, 2 * count)),
            }
            for frame in frames
        ],
        layout=_layout(frames, shown, stations, unit),
    )
    return chart(
        figure,
        id="film",
        title="The back, section by section, through time",
        head=("Day", *_columns(shown)),
        rows=[_row(frame, shown, unit) for frame in reversed(frames)],
        note="Thin: the first day. Move the slider to see the others; half-widths in the table.",
    )


def _columns(stations: Sequence[str]) -> list[str]:
    depths = [f"{depth / 10:.0f} cm down" for depth in SHOWN_DEPTHS]
    return [f"{s} {side}, {depth}" for s in stations for side in "LR" for depth in depths]


def _places(stations: Sequence[str]) -> list[tuple[int, str, str]]:
    return [(i, station, side) for i, station in enumerate(stations) for side in "LR"]


def _points(frame: Frame, station: str, side: str, unit: LengthUnit) -> dict[str, Any]:
    sign = -1 if side == "L" else 1
    half = frame.halves.get((station, side), ())
    return {
        "x": [round(sign * unit(width), 2) for width, _ in half],
        "y": [round(-unit(depth), 2) for _, depth in half],
    }


def _trace(
    frame: Frame, station: str, side: str, index: int, unit: LengthUnit, *, is_first: bool = False
) -> dict[str, Any]:
    line = {"color": SOFT, "width": 1.5, "dash": "dot"} if is_first else SIDE_LINES[side]
    return {
        "type": "scatter",
        "mode": "lines",
        "line": line,
        "name": "First day" if is_first else SIDE_WORDS[side],
        "legendgroup": "first" if is_first else side,
        "showlegend": index == 0 and (not is_first or side == "L"),
        "xaxis": "x",
        "yaxis": axis_name(index),
        "hoverinfo": "skip",
        **_points(frame, station, side, unit),
    }


def _layout(
    frames: Sequence[Frame],
    shown: Sequence[str],
    stations: Mapping[str, str],
    unit: LengthUnit,
) -> dict[str, Any]:
    widest = max(width for f in frames for half in f.halves.values() for width, _ in half)
    deepest = max(depth for f in frames for half in f.halves.values() for _, depth in half)
    inner = len(shown) * (ROW_PX + GAP_PX)
    axes, titles = {}, []
    for index, station in enumerate(shown):
        top = 1 - (GAP_PX + index * (ROW_PX + GAP_PX)) / inner
        axes[axis_name(index, "yaxis")] = {
            "domain": [max(top - ROW_PX / inner, 0), top],
            "range": [-unit(deepest) * 1.05, unit(deepest) * 0.05],
            "anchor": "x",
        }
        titles.append(_title(stations[station], top))
    reach = unit(widest) * 1.05
    return {
        "template": TEMPLATE,
        "height": inner + SLIDER_PX + HEAD_PX,
        "margin": {"l": 44, "r": 14, "t": HEAD_PX, "b": SLIDER_PX},
        "legend": {"y": 1, "yanchor": "bottom"},
        "annotations": titles,
        "xaxis": {
            "range": [-reach, reach],
            "anchor": axis_name(len(shown) - 1),
            "title": {"text": f"Left — off the midline, {unit.name} — right"},
        },
        "sliders": [_slider(frames)],
        **axes,
    }


def _title(words: str, top: float) -> dict[str, Any]:
    place = {"x": 0, "xref": "paper", "xanchor": "left", "y": top, "yref": "paper"}
    return {"text": words, "yanchor": "bottom", "showarrow": False, "font": {"size": 14}, **place}


def _slider(frames: Sequence[Frame]) -> dict[str, Any]:
    at_once = {
        "mode": "immediate",
        "frame": {"duration": 0, "redraw": False},
        "transition": {"duration": 0},
    }
    return {
        "active": 0,
        "x": 0,
        "len": 1,
        "y": 0,
        "yanchor": "top",
        "pad": {"t": 44, "b": 4},
        "currentvalue": {"prefix": "", "font": {"size": 16, "color": INK}, "xanchor": "left"},
        "ticklen": 0,
        "minorticklen": 0,
        # Dates below the slider would lie over one another; the one chosen stands above it.
        "font": {"color": "rgba(0,0,0,0)"},
        "steps": [
            {
                "label": f"{frame.day.day} {frame.day:%b %Y}",
                "method": "animate",
                "args": [[f"{frame.day:%Y-%m-%d}"], at_once],
            }
            for frame in frames
        ],
    }


def _row(frame: Frame, shown: Sequence[str], unit: LengthUnit) -> tuple[str, ...]:
    cells = [
        _width(frame.halves.get((station, side)), depth, unit)
        for station in shown
        for side in "LR"
        for depth in SHOWN_DEPTHS
    ]
    return (f"{frame.day:%Y-%m-%d}", *cells)


def _width(half: Half | None, depth: float, unit: LengthUnit) -> str:
    """Return the half-width at a depth that was traced, else a dash."""
    found = [width for width, at in half or () if abs(at - depth) < 0.5]
    return f"{unit(found[0]):.1f}" if found else "–"
