"""How the load divides over front, middle and rear, and over the two sides."""

from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go

from horses.charts.theme import (
    LEFT_COLOUR,
    RIGHT_COLOUR,
    SHEET,
    SIDE_PATTERNS,
    SIDE_WORDS,
    SOFT,
    figure_of,
    named,
)

THIRDS = ("Front", "Middle", "Rear")
EVEN = 100 / 6  # per cent, three thirds on two sides
EVEN_LINE = {
    "type": "line",
    "x0": 0,
    "x1": 1,
    "xref": "paper",
    "y0": EVEN,
    "y1": EVEN,
    "line": {"color": SOFT, "dash": "dot", "width": 1.5},
}
COLOURS = {"L": LEFT_COLOUR, "R": RIGHT_COLOUR}


@dataclass(frozen=True)
class Thirds:
    """Shares of the load (0 to 1) per third, front to rear, on each side."""

    left: tuple[float, float, float]
    right: tuple[float, float, float]


def thirds(data: Thirds) -> go.Figure:
    """Return paired bars in per cent of the load, with the even share as a line."""
    top = 100 * max(*data.left, *data.right)
    return figure_of(
        [_bars("L", data.left), _bars("R", data.right)],
        height=280,
        shapes=[EVEN_LINE],
        barmode="group",
        bargap=0.3,
        bargroupgap=0.08,
        yaxis=named("share of the load, %", range=[0, max(25.0, top * 1.18)]),
    )


def _bars(side: str, shares: tuple[float, float, float]) -> dict[str, Any]:
    pattern = {
        "shape": SIDE_PATTERNS[side],
        "fillmode": "overlay",
        "fgcolor": SHEET,
        "size": 7,
        "solidity": 0.25,
    }
    return {
        "type": "bar",
        "x": THIRDS,
        "y": [100 * share for share in shares],
        "text": [f"{100 * share:.0f} %" for share in shares],
        "textposition": "outside",
        "cliponaxis": False,
        "marker": {"color": COLOURS[side], "pattern": pattern},
        "name": SIDE_WORDS[side],
        "hoverinfo": "skip",
    }
