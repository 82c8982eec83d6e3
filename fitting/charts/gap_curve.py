"""The gap between tree and back along each bar line."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from horses.charts.theme import SIDE_LINES, SIDE_WORDS, LengthUnit, figure_of, mark_at, named

Array = NDArray[np.float64]
WATCH_MM = 5.0  # below it a gap without load counts as even (our rule)
BRIDGE_MM = 8.0  # above it, over 4 in, a bar counts as bridging (our rule)

EVEN_COLOUR, BRIDGE_COLOUR = "#e3efe6", "#7a5200"
EVEN_BAND = {
    "type": "rect",
    "x0": 0,
    "x1": 1,
    "xref": "paper",
    "y0": 0,
    "y1": WATCH_MM,
    "fillcolor": EVEN_COLOUR,
    "line": {"width": 0},
    "layer": "below",
}
BRIDGE_LINE = {
    "type": "line",
    "x0": 0,
    "x1": 1,
    "xref": "paper",
    "y0": BRIDGE_MM,
    "y1": BRIDGE_MM,
    "line": {"color": BRIDGE_COLOUR, "dash": "dash", "width": 1.5},
}
BRIDGE_WORDS = {
    "x": 0.02,
    "xref": "paper",
    "xanchor": "left",
    "y": BRIDGE_MM,
    "yanchor": "bottom",
    "text": "8 mm: bridging",
    "showarrow": False,
    "font": {"size": 12, "color": BRIDGE_COLOUR},
}


@dataclass(frozen=True, eq=False)
class GapCurves:
    """Gaps in mm along the bar line, left then right (2, n), at `x_mm` (n,) behind the blade.

    Zero is touching; a gap is above it; not a number where no bar lies.
    """

    x_mm: Array
    gap_mm: Array
    last_rib_mm: float | None


def gap_curve(data: GapCurves, unit: LengthUnit) -> go.Figure:
    """Return the gap of each side, front on the left, touching at the bottom line."""
    marks = [mark_at(0, "blade")]
    if data.last_rib_mm is not None:
        marks.append(mark_at(unit(data.last_rib_mm), "last rib"))
    top = max(12.0, float(np.nanmax(data.gap_mm)) * 1.1)
    return figure_of(
        [_side(side, unit(data.x_mm), gap) for side, gap in zip("LR", data.gap_mm, strict=True)],
        height=300,
        shapes=[EVEN_BAND, BRIDGE_LINE, *(line for line, _ in marks)],
        annotations=[BRIDGE_WORDS, *(words for _, words in marks)],
        xaxis=named(f"behind the blade, {unit.name}"),
        yaxis=named("gap, mm", range=[-0.5, min(top, 60.0)], zeroline=True),
    )


def _side(side: str, x: Array, gap: Array) -> dict[str, Any]:
    return {
        "type": "scatter",
        "x": x,
        "y": np.round(gap, 1),
        "mode": "lines",
        "line": SIDE_LINES[side],
        "name": SIDE_WORDS[side],
        "connectgaps": False,
        "hovertemplate": "%{y:.0f} mm<extra></extra>",
    }
