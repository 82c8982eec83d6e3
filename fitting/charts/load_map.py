"""The load over the back, seen from above with the head at the top."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from horses.charts.theme import ACCENT, LOAD_SCALE, LengthUnit, figure_of, slim, words_above

Array = NDArray[np.float64]
NOTE_KPA = 11.0  # the mean pressure the published area measure counts from
CONTOUR = "#d8352a"
HEADS = (
    words_above(0.0, "<b>LEFT</b> near", align="left"),
    words_above(0.5, "▲ head", align="center"),
    words_above(1.0, "off <b>RIGHT</b>", align="right"),
)
SMALL_HEADS = (
    words_above(0.0, "<b>L</b>", align="left"),
    words_above(0.5, "▲", align="center"),
    words_above(1.0, "<b>R</b>", align="right"),
)
MARGIN = {"l": 30, "r": 54, "t": 24, "b": 40}
SMALL_MARGIN = {"l": 26, "r": 34, "t": 24, "b": 36}
COLOUR_BAR = {
    "orientation": "h",
    "thickness": 10,
    "len": 1.0,
    "x": 0.5,
    "y": 0,
    "yanchor": "top",
    "ypad": 6,
    "outlinewidth": 0,
    "tickfont": {"size": 12},
    "ticksuffix": " kPa",
    "showticksuffix": "last",
    "tickangle": 0,
    "nticks": 4,
}
HEIGHT = 520  # until the page knows how wide the map is


@dataclass(frozen=True, eq=False)
class LoadMap:
    """Pressures under the bars in one load case.

    `x_mm` (n,) runs behind the blade and `y_mm` (m,) outward from the midline; `pressure_kpa`
    (2, n, m) is left then right, not a number where no bar lies over the back. `top_kpa` is the
    end of the colour scale, shared by maps that are compared. A small map has room for letters
    only.
    """

    x_mm: Array
    y_mm: Array
    pressure_kpa: Array
    top_kpa: float
    last_rib_mm: float | None
    stations_mm: tuple[tuple[str, float], ...] = ()
    is_small: bool = False


def load_map(data: LoadMap, unit: LengthUnit) -> go.Figure:
    """Return the map: brighter is more load, a red line encloses more than 11 kPa."""
    across, along, pressure = plan(data)
    traces = [_heat(unit(across), unit(along), pressure, data.top_kpa)]
    if np.max(np.nan_to_num(pressure)) > NOTE_KPA:
        traces.append(_contour(unit(across), unit(along), pressure))
    marks = [(0.0, "blade")]
    if data.last_rib_mm is not None:
        marks.append((unit(data.last_rib_mm), "rib" if data.is_small else "last rib"))
    heads = SMALL_HEADS if data.is_small else HEADS
    return figure_of(
        traces,
        height=HEIGHT,
        shapes=[_line_across(at) for at, _ in marks],
        annotations=[*heads, *(_words_beside(at, words) for at, words in marks)],
        margin=SMALL_MARGIN if data.is_small else MARGIN,
        **_axes(data, unit),
    )


def plan(data: LoadMap) -> tuple[Array, Array, Array]:
    """Return places across and along [mm] and the pressure of both halves, the spine left free."""
    gap = np.full((len(data.x_mm), 1), np.nan)
    left, right = data.pressure_kpa
    across = np.concatenate([-data.y_mm[::-1], [0.0], data.y_mm])
    return across, data.x_mm, np.hstack([left[:, ::-1], gap, right])


def _heat(across: Array, along: Array, pressure: Array, top_kpa: float) -> dict[str, Any]:
    return {
        "type": "heatmap",
        "x": slim(across),
        "y": slim(along),
        "z": slim(pressure),
        "zmin": 0,
        "zmax": top_kpa,
        "colorscale": LOAD_SCALE,
        "colorbar": COLOUR_BAR,
        "hovertemplate": "%{z:.1f} kPa<extra></extra>",
        "hoverongaps": False,
        "name": "Load",
    }


def _contour(across: Array, along: Array, pressure: Array) -> dict[str, Any]:
    return {
        "type": "contour",
        "x": slim(across),
        "y": slim(along),
        "z": slim(np.nan_to_num(pressure)),
        "contours": {"start": NOTE_KPA, "end": NOTE_KPA, "size": 1, "coloring": "none"},
        "line": {"color": CONTOUR, "width": 2.5},
        "showscale": False,
        "hoverinfo": "skip",
        "name": "11 kPa",
    }


def _line_across(at: float) -> dict[str, Any]:
    line = {"color": ACCENT, "width": 2, "dash": "dash"}
    return {"type": "line", "x0": 0, "x1": 1, "xref": "paper", "y0": at, "y1": at, "line": line}


def _words_beside(at: float, words: str) -> dict[str, Any]:
    return {
        "x": 1,
        "xref": "paper",
        "xanchor": "left",
        "y": at,
        "text": words,
        "showarrow": False,
        "font": {"size": 12, "color": ACCENT},
    }


def _axes(data: LoadMap, unit: LengthUnit) -> dict[str, Any]:
    """Return both axes on one scale, head up, and the proportion the page draws them in."""
    reach = unit(float(data.y_mm[-1]))
    front, rear = unit(float(np.min(data.x_mm))), unit(float(np.max(data.x_mm)))
    return {
        "xaxis": {"range": [-reach, reach], "visible": False, "constrain": "domain"},
        "yaxis": {
            "range": [rear, front],
            "scaleanchor": "x",
            "constrain": "domain",
            "tickvals": [unit(at) for _, at in data.stations_mm],
            "ticktext": [name for name, _ in data.stations_mm],
            "showgrid": False,
            "zeroline": False,
            "automargin": False,
        },
        "meta": {"aspect": (rear - front) / (2 * reach)},
    }
