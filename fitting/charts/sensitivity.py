"""Levels of findings over the range of one assumption: a row a finding, a mark a value.

The level is told by the mark's shape as well as its colour, so that a black-and-white print shows
it too.
"""

from dataclasses import dataclass
from textwrap import wrap
from typing import Any

import plotly.graph_objects as go

from horses.charts.theme import LEVEL_COLOURS, SOFT, figure_of, mark_at, named

MARKS = {"plain": "circle-open", "watch": "diamond", "beyond": "square"}
WORDS = {"plain": "within", "watch": "watch", "beyond": "beyond the limit"}
ROW, AROUND = 56, 190  # CSS pixels a row, and for axis and key
LINE = 22  # characters of a finding's name on one line


@dataclass(frozen=True)
class Strip:
    """One assumption: its values in words, which was taken, and the levels of each finding."""

    values: tuple[str, ...]
    assumed: str
    findings: tuple[str, ...]
    levels: tuple[tuple[str, ...], ...]
    axis: str


def strip(data: Strip) -> go.Figure:
    """Return the marks of one sweep; values are evenly spread, whatever their distance."""
    names = ["<br>".join(wrap(name, LINE)) for name in data.findings]
    line, _ = mark_at(data.assumed, "")
    return figure_of(
        [_marks(level, data, names) for level in MARKS],
        height=AROUND + ROW * len(names),
        shapes=[line],
        xaxis=named(data.axis, type="category", categoryarray=list(data.values), tickangle=-40),
        yaxis={
            "type": "category",
            "categoryarray": names[::-1],
            "range": [-0.6, len(names) - 0.4],
        },
        margin={"l": 8, "r": 8, "t": 12, "b": 44},
    )


def _marks(level: str, data: Strip, names: list[str]) -> dict[str, Any]:
    at = [
        (value, name)
        for name, levels in zip(names, data.levels, strict=True)
        for value, found in zip(data.values, levels, strict=True)
        if found == level
    ]
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [value for value, _ in at],
        "y": [name for _, name in at],
        "name": WORDS[level],
        "showlegend": True,
        "hoverinfo": "skip",
        "marker": {
            "symbol": MARKS[level],
            "color": LEVEL_COLOURS.get(level, SOFT),
            "size": 13,
            "line": {"width": 2, "color": LEVEL_COLOURS.get(level, SOFT)},
        },
    }
