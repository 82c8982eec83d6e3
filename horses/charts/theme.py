"""The look every chart shares, and the small record that carries a chart to a page.

Left and right differ by line style and marker as well as by colour, so that a black-and-white
print still tells them apart. Colours are those of the stylesheet.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

INK = "#1f2a30"
SOFT = "#55606a"
SHEET = "#fffdf8"
LINE = "#d8cfbd"
LINE_STRONG = "#a99d86"
ACCENT = "#8a4b12"
LEVEL_COLOURS = {"beyond": "#8c1d18", "watch": "#7a5200", "plain": "#24563f", "unknown": SOFT}
FONT = '"Source Sans 3", "Segoe UI", "Noto Sans", system-ui, sans-serif'
LOAD_SCALE = "Cividis"  # perceptually even, and readable with any colour vision

LEFT_COLOUR = "#1d4e89"
RIGHT_COLOUR = "#b0541e"
Side = Literal["L", "R", "M"]
SIDE_WORDS: dict[str, str] = {"L": "Left (near)", "R": "Right (off)", "M": "Midline"}
SIDE_LINES: dict[str, dict[str, Any]] = {
    "L": {"color": LEFT_COLOUR, "width": 2.5, "dash": "solid"},
    "R": {"color": RIGHT_COLOUR, "width": 2.5, "dash": "dash"},
    "M": {"color": INK, "width": 2.5, "dash": "dot"},
}
SIDE_MARKERS: dict[str, dict[str, Any]] = {
    "L": {"color": LEFT_COLOUR, "size": 8, "symbol": "circle"},
    "R": {"color": RIGHT_COLOUR, "size": 9, "symbol": "diamond-open", "line": {"width": 2}},
    "M": {"color": INK, "size": 8, "symbol": "square"},
}
SIDE_PATTERNS: dict[str, str] = {"L": "", "R": "/", "M": "."}

_AXIS = {
    "gridcolor": LINE,
    "linecolor": LINE_STRONG,
    "zerolinecolor": LINE_STRONG,
    "ticks": "outside",
    "tickcolor": LINE_STRONG,
    "title": {"standoff": 8},
    "automargin": True,
    "fixedrange": True,  # a chart must not catch the finger that scrolls the page
}
TEMPLATE = go.layout.Template(
    layout={
        "font": {"family": FONT, "size": 14, "color": INK},
        "paper_bgcolor": SHEET,
        "plot_bgcolor": SHEET,
        "colorway": [LEFT_COLOUR, RIGHT_COLOUR, INK, ACCENT, "#24563f", SOFT],
        "margin": {"l": 48, "r": 12, "t": 12, "b": 44},
        "xaxis": _AXIS,
        "yaxis": _AXIS,
        "hoverlabel": {"font": {"family": FONT, "size": 14}},
        "legend": {"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom"},
        "dragmode": False,
    }
)


@dataclass(frozen=True)
class LengthUnit:
    """The unit of long lengths on axes: a practice thinks in inches or in centimetres."""

    name: str
    mm: float

    def __call__(self, length_mm: Any) -> Any:
        """Return a length in mm, or an array of them, in this unit."""
        return length_mm / self.mm


INCHES = LengthUnit("in", 25.4)
CENTIMETRES = LengthUnit("cm", 10.0)


@dataclass(frozen=True)
class Chart:
    """A chart ready for a page: the figure as JSON data and the same numbers as a table.

    `figure_json` is what the drawing script reads, `table_head` and `table_rows` are text.
    """

    id: str
    title: str
    figure_json: dict[str, Any]
    table_head: tuple[str, ...]
    table_rows: tuple[tuple[str, ...], ...]
    note: str = ""

    @property
    def figure_id(self) -> str:
        """Name of the script element that holds the figure's data."""
        return f"{self.id}-figure"

    @property
    def height(self) -> int:
        """Height in CSS pixels, kept free on the page before the figure is drawn."""
        return int(self.figure_json["layout"].get("height", 320))


def figure_of(traces: Sequence[dict[str, Any]], **layout: Any) -> go.Figure:
    """Return a figure in our look.

    Traces and layout are plain data and handed over at once: adding piece by piece makes plotly
    check the whole figure again for every piece.
    """
    return go.Figure(data=list(traces), layout={"template": TEMPLATE, **layout})


def slim(values: NDArray[Any]) -> NDArray[np.float32]:
    """Return values as a screen needs them, in half the bytes."""
    return np.asarray(values, np.float32)


def named(title: str, **axis: Any) -> dict[str, Any]:
    """Return an axis with its name; units belong in the name."""
    return {"title": {"text": title}, **axis}


def words_above(x: float, words: str, *, align: str) -> dict[str, Any]:
    """Return the annotation for words above the picture, at a share `x` of its width."""
    return {
        "x": x,
        "y": 1.0,
        "xref": "paper",
        "yref": "paper",
        "xanchor": align,
        "yanchor": "bottom",
        "text": words,
        "showarrow": False,
        "font": {"size": 12, "color": INK},
    }


def mark_at(x: Any, words: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the line (a shape) and the upright words (an annotation) that mark a place on x."""
    line = {
        "type": "line",
        "x0": x,
        "x1": x,
        "y0": 0,
        "y1": 1,
        "yref": "paper",
        "line": {"color": SOFT, "width": 1.5, "dash": "dot"},
    }
    text = {
        "x": x,
        "y": 1,
        "yref": "paper",
        "text": words,
        "textangle": -90,
        "xanchor": "right",
        "yanchor": "top",
        "showarrow": False,
        "font": {"size": 12, "color": SOFT},
    }
    return line, text


def chart(
    figure: go.Figure,
    *,
    id: str,
    title: str,
    head: Sequence[str],
    rows: Sequence[Sequence[object]],
    note: str = "",
) -> Chart:
    """Return a figure with its table, ready for `partials/chart.html`."""
    return Chart(
        id=id,
        title=title,
        figure_json=json.loads(figure.to_json()),
        table_head=tuple(head),
        table_rows=tuple(tuple(str(cell) for cell in row) for row in rows),
        note=note,
    )
