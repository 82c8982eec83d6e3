"""The gap between tree and back along each bar line."""

from dataclasses import dataclass

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from horses.charts.theme import SIDE_LINES, SIDE_WORDS, LengthUnit, mark_at, new_figure

Array = NDArray[np.float64]
WATCH_MM = 5.0  # below it a gap without load counts as even (our rule)
BRIDGE_MM = 8.0  # above it, over 4 in, a bar counts as bridging (our rule)


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
    figure = new_figure(x_title=f"behind the blade, {unit.name}", y_title="gap, mm", height=300)
    for side, gap in zip("LR", data.gap_mm, strict=True):
        figure.add_trace(
            go.Scatter(
                x=unit(data.x_mm),
                y=np.round(gap, 1),
                mode="lines",
                line=SIDE_LINES[side],
                name=SIDE_WORDS[side],
                connectgaps=False,
                hovertemplate="%{y:.0f} mm<extra></extra>",
            )
        )
    top = max(12.0, float(np.nanmax(data.gap_mm)) * 1.1)
    _limits(figure)
    if data.last_rib_mm is not None:
        mark_at(figure, unit(data.last_rib_mm), "last rib")
    mark_at(figure, 0, "blade")
    figure.update_yaxes(range=[-0.5, min(top, 60.0)], zeroline=True)
    return figure


def _limits(figure: go.Figure) -> None:
    figure.add_hrect(y0=0, y1=WATCH_MM, fillcolor="#e3efe6", line_width=0, layer="below")
    figure.add_hline(y=BRIDGE_MM, line={"color": "#7a5200", "dash": "dash", "width": 1.5})
    figure.add_annotation(
        x=0.02,
        xref="paper",
        xanchor="left",
        y=BRIDGE_MM,
        yanchor="bottom",
        text="8 mm: bridging",
        showarrow=False,
        font={"size": 12, "color": "#7a5200"},
    )
