"""How the load divides over front, middle and rear, and over the two sides."""

from dataclasses import dataclass

import plotly.graph_objects as go

from horses.charts.theme import (
    LEFT_COLOUR,
    RIGHT_COLOUR,
    SHEET,
    SIDE_PATTERNS,
    SIDE_WORDS,
    SOFT,
    new_figure,
)

THIRDS = ("Front", "Middle", "Rear")
COLOURS = {"L": LEFT_COLOUR, "R": RIGHT_COLOUR}


@dataclass(frozen=True)
class Thirds:
    """Shares of the load (0 to 1) per third, front to rear, on each side."""

    left: tuple[float, float, float]
    right: tuple[float, float, float]


def thirds(data: Thirds) -> go.Figure:
    """Return paired bars in per cent of the load, with the even share as a line."""
    figure = new_figure(y_title="share of the load, %", height=280)
    for side, shares in (("L", data.left), ("R", data.right)):
        figure.add_trace(
            go.Bar(
                x=THIRDS,
                y=[100 * share for share in shares],
                text=[f"{100 * share:.0f} %" for share in shares],
                textposition="outside",
                cliponaxis=False,
                marker={
                    "color": COLOURS[side],
                    "pattern": {
                        "shape": SIDE_PATTERNS[side],
                        "fillmode": "overlay",
                        "fgcolor": SHEET,
                        "size": 7,
                        "solidity": 0.25,
                    },
                },
                name=SIDE_WORDS[side],
                hoverinfo="skip",
            )
        )
    figure.add_hline(y=100 / 6, line={"color": SOFT, "dash": "dot", "width": 1.5})
    figure.update_layout(barmode="group", bargap=0.3, bargroupgap=0.08)
    top = 100 * max(*data.left, *data.right)
    figure.update_yaxes(range=[0, max(25.0, top * 1.18)], rangemode="tozero")
    return figure
