"""One cross-section of the back with the tree upon it, seen from behind."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from horses.charts.theme import (
    INK,
    LINE,
    SIDE_LINES,
    LengthUnit,
    figure_of,
    named,
    slim,
    words_above,
)

Array = NDArray[np.float64]
HEIGHT = 240  # until the page knows how wide the section is
ROOM_ABOVE_MM = 20.0
HEADS = (
    words_above(0.0, "LEFT (near)", align="left"),
    words_above(1.0, "RIGHT (off)", align="right"),
)
PAD_COLOUR = "rgba(138, 75, 18, 0.28)"


@dataclass(frozen=True, eq=False)
class SectionOverlay:
    """Back and tree at one station, all in mm off the midline and above it.

    `back` and `underside` hold for each side, left then right, the distances off the midline
    (outward) and the heights. An underside may be empty where no bar reaches. `pad_mm` is drawn
    below the underside, uncompressed.
    """

    name: str
    back: tuple[tuple[Array, Array], tuple[Array, Array]]
    underside: tuple[tuple[Array, Array], tuple[Array, Array]]
    pad_mm: float = 0.0


def section_overlay(data: SectionOverlay, unit: LengthUnit) -> go.Figure:
    """Return the section on equal axes: the near side on the left, as seen from behind."""
    traces = [_back(data, unit)]
    for side, (y, z), sign in zip("LR", data.underside, (-1, 1), strict=True):
        if len(y):
            traces.append(_pad(sign, y, z, data.pad_mm, unit))
            traces.append(_underside(side, sign * unit(y), unit(z)))
    return figure_of(
        traces,
        height=HEIGHT,
        annotations=HEADS,
        showlegend=False,
        margin={"l": 46, "r": 10, "t": 24, "b": 44},
        **_axes(data, unit),
    )


def _lowest(data: SectionOverlay) -> float:
    return min(float(np.min(z)) for _, z in data.back)


def _back(data: SectionOverlay, unit: LengthUnit) -> dict[str, Any]:
    """Return the back as a filled body, closed along the bottom of the picture."""
    (left_y, left_z), (right_y, right_z) = data.back
    x = unit(np.concatenate([-left_y[::-1], right_y]))
    z = unit(np.concatenate([left_z[::-1], right_z]))
    low = unit(_lowest(data))
    return {
        "type": "scatter",
        "x": slim(np.concatenate([x, x[[-1, 0]]])),
        "y": slim(np.concatenate([z, [low, low]])),
        "mode": "lines",
        "line": {"color": INK, "width": 2.5},
        "fill": "toself",
        "fillcolor": LINE,
        "name": "Back",
        "hoverinfo": "skip",
    }


def _pad(sign: int, y: Array, z: Array, pad_mm: float, unit: LengthUnit) -> dict[str, Any]:
    """Return the pad as a band under the bar, as thick as it is without load."""
    rise = np.gradient(z, y)
    length = np.hypot(1.0, rise)
    under_y, under_z = y + pad_mm * rise / length, z - pad_mm / length
    return {
        "type": "scatter",
        "x": slim(sign * unit(np.concatenate([y, under_y[::-1]]))),
        "y": slim(unit(np.concatenate([z, under_z[::-1]]))),
        "mode": "lines",
        "line": {"width": 0},
        "fill": "toself",
        "fillcolor": PAD_COLOUR,
        "name": "Pad",
        "hoverinfo": "skip",
    }


def _underside(side: str, x: Array, z: Array) -> dict[str, Any]:
    return {
        "type": "scatter",
        "x": slim(x),
        "y": slim(z),
        "mode": "lines",
        "line": {**SIDE_LINES[side], "width": 4},
        "name": "Tree, left" if side == "L" else "Tree, right",
        "hoverinfo": "skip",
    }


def _axes(data: SectionOverlay, unit: LengthUnit) -> dict[str, Any]:
    """Return equal axes around back and tree, and the proportion the page draws them in."""
    tops = [float(np.max(z)) for _, z in data.underside if len(z)]
    low, high = unit(_lowest(data)), unit(max([0.0, *tops]) + ROOM_ABOVE_MM)
    reach = unit(max(float(np.max(y)) for y, _ in data.back))
    return {
        "xaxis": named(
            f"off the midline, {unit.name}",
            range=[-reach, reach],
            showgrid=False,
            constrain="domain",
        ),
        "yaxis": named(
            f"height, {unit.name}",
            range=[low, high],
            scaleanchor="x",
            constrain="domain",
            showgrid=False,
            zeroline=False,
            automargin=False,
        ),
        "meta": {"aspect": (high - low) / (2 * reach)},
    }
