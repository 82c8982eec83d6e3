"""Change of a back: a map of gain and loss seen from above, and sections then and now."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from horses.charts.theme import (
    INK,
    SIDE_LINES,
    SOFT,
    Chart,
    LengthUnit,
    chart,
    figure_of,
    named,
    words_above,
)

Array = NDArray[np.float64]
Rows = NDArray[np.intp]
LEAST_TOP_MM = 6.0  # of the colour scale, so that a millimetre stays pale
# Dark blue loss, white none, dark orange gain: told apart without red and green, and the sign is
# written on the map too.
GAIN_LOSS = [
    [0.0, "#08306b"],
    [0.25, "#6a9bd0"],
    [0.5, "#fffdf8"],
    [0.75, "#e0a050"],
    [1.0, "#7f3b08"],
]
WITHIN_COLOUR = "#cfc9bd"
HEADS = (
    words_above(0.0, "<b>LEFT</b> near", align="left"),
    words_above(0.5, "▲ head", align="center"),
    words_above(1.0, "off <b>RIGHT</b>", align="right"),
)
BAND_HEAD = (
    "Behind the blade, cm",
    "Left, near spine",
    "Left, outer",
    "Right, near spine",
    "Right, outer",
)
COLOUR_BAR = {
    "orientation": "h",
    "thickness": 10,
    "y": 0,
    "yanchor": "top",
    "ypad": 6,
    "outlinewidth": 0,
    "ticksuffix": " mm",
    "showticksuffix": "last",
    "nticks": 5,
}
BANDS = 6  # rows of the table, from front to rear


@dataclass(frozen=True, eq=False)
class ChangeMap:
    """Change across the surface [mm], now less then; (2, n, m), left then right.

    `within_error` is true where the change is smaller than what measuring gives anyway; not a
    number where one of the days was not traced.
    """

    x_mm: Array
    y_mm: Array
    change_mm: Array
    within_error: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class SectionPair:
    """One section on two days: halves left then right, rows of half-width and depth [mm]."""

    words: str
    then: tuple[Array, Array]
    now: tuple[Array, Array]


def change_map(data: ChangeMap, unit: LengthUnit) -> Chart:
    """Return the map, areas within the error in grey, with a table by thirds of its length."""
    reach = unit(float(data.y_mm[-1]))
    ends = [unit(float(np.max(data.x_mm))), unit(float(np.min(data.x_mm)))]
    figure = figure_of(
        _layers(data, unit),
        height=520,
        margin={"l": 12, "r": 12, "t": 24, "b": 40},
        annotations=[*HEADS, *_signs(data, unit)],
        xaxis={"range": [-reach, reach], "visible": False, "constrain": "domain"},
        yaxis={
            "range": ends,
            "scaleanchor": "x",
            "constrain": "domain",
            "visible": False,
        },
        meta={"aspect": (ends[0] - ends[1]) / (2 * reach)},
    )
    return chart(
        figure,
        id="change-map",
        title="Where the back rose or fell, mm across the surface",
        head=BAND_HEAD,
        rows=_bands(data),
        note="Grey: within the error of measuring. Plus: higher than then; minus: lower.",
    )


def _layers(data: ChangeMap, unit: LengthUnit) -> list[dict[str, Any]]:
    """Return what changed in colour, and under it in grey what measuring alone may give."""
    across, change, within = _plan(data)
    top = max(float(np.nanmax(np.abs(change), initial=0.0)), LEAST_TOP_MM)
    shared = {
        "type": "heatmap",
        "x": unit(across),
        "y": unit(data.x_mm),
        "hoverongaps": False,
    }
    coloured = {
        "z": np.where(within, np.nan, change),
        "zmin": -top,
        "zmax": top,
        "colorscale": GAIN_LOSS,
        "colorbar": COLOUR_BAR,
        "hovertemplate": "%{z:+.1f} mm<extra></extra>",
        "name": "Change",
    }
    grey = {
        "z": np.where(within & np.isfinite(change), 1.0, np.nan),
        "colorscale": [[0, WITHIN_COLOUR], [1, WITHIN_COLOUR]],
        "showscale": False,
        "customdata": change,
        "hovertemplate": "%{customdata:+.1f} mm, within error<extra></extra>",
        "name": "Within error",
    }
    return [shared | coloured, shared | grey]


def _plan(data: ChangeMap) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Lay both halves side by side, head up, with an empty strip along the spine."""
    gap = np.full((len(data.x_mm), 1), np.nan)
    left, right = data.change_mm
    within_left, within_right = data.within_error
    across = np.concatenate([-data.y_mm[::-1], [0.0], data.y_mm])
    change = np.hstack([left[:, ::-1], gap, right])
    within = np.hstack([within_left[:, ::-1], np.zeros_like(gap, bool), within_right])
    return across, change, within


def _signs(data: ChangeMap, unit: LengthUnit) -> list[dict[str, Any]]:
    """Write the largest gain and loss beyond error of each half where they are."""
    notes = []
    for side, sign in ((0, -1), (1, 1)):
        beyond = np.where(data.within_error[side], np.nan, data.change_mm[side])
        for pick in (np.nanargmax, np.nanargmin):
            if not np.isfinite(beyond).any():
                continue
            i, j = np.unravel_index(int(pick(beyond)), beyond.shape)
            value = float(beyond[i, j])
            if (value > 0) == (pick is np.nanargmax):
                notes.append(
                    {
                        "x": unit(sign * float(data.y_mm[j])),
                        "y": unit(float(data.x_mm[i])),
                        "text": f"{value:+.0f}",
                        "showarrow": False,
                        "bgcolor": "#fffdf8",
                        "bordercolor": INK,
                        "font": {"size": 13},
                    }
                )
    return notes


def _bands(data: ChangeMap) -> list[tuple[str, ...]]:
    """Return mean changes over bands along the back, the inner and the outer half of each side."""
    rows = []
    middle = len(data.y_mm) // 2
    for part in np.array_split(np.arange(len(data.x_mm)), BANDS):
        cells = [
            _mean_words(data, (side, part, columns))
            for side in (0, 1)
            for columns in np.split(np.arange(len(data.y_mm)), [middle])
        ]
        rows.append((f"{data.x_mm[part[0]] / 10:.0f} to {data.x_mm[part[-1]] / 10:.0f}", *cells))
    return rows


def _mean_words(data: ChangeMap, where: tuple[int, Rows, Rows]) -> str:
    side, along, across = where
    part = np.ix_(along, across)
    change, within = data.change_mm[side][part], data.within_error[side][part]
    seen = np.isfinite(change)
    if not seen.any():
        return "not traced"
    mostly_within = np.mean(within[seen]) > 0.5
    return f"{np.mean(change[seen]):+.1f} mm{', within error' if mostly_within else ''}"


def section_pair(number: int, data: SectionPair, unit: LengthUnit) -> Chart:
    """Return one section, then (thin) and now (thick), seen from behind on equal axes."""
    traces = []
    for side, sign, then, now in zip("LR", (-1, 1), data.then, data.now, strict=True):
        traces.append(_curve(side, sign, then, unit, is_now=False))
        traces.append(_curve(side, sign, now, unit, is_now=True))
    figure = figure_of(
        traces,
        height=260,
        annotations=[
            words_above(0.0, "LEFT (near)", align="left"),
            words_above(1.0, "RIGHT (off)", align="right"),
        ],
        showlegend=False,
        margin={"l": 46, "r": 10, "t": 24, "b": 44},
        xaxis=named(f"Off the midline, {unit.name}", constrain="domain"),
        yaxis=named(f"Height, {unit.name}", scaleanchor="x", constrain="domain"),
    )
    return chart(
        figure,
        id=f"section-{number}",
        title=f"{data.words}: then thin and dotted, now thick",
        head=("Depth, mm", "Left then", "Left now", "Right then", "Right now"),
        rows=_depth_rows(data),
    )


def _curve(side: str, sign: int, half: Array, unit: LengthUnit, *, is_now: bool) -> dict[str, Any]:
    colour = SIDE_LINES[side]["color"] if is_now else SOFT
    look = {"width": 3.5} if is_now else {"width": 2, "dash": "dot"}
    return {
        "type": "scatter",
        "x": unit(sign * half[:, 0]),
        "y": unit(-half[:, 1]),
        "mode": "lines",
        "line": {"color": colour, **look},
        "name": f"{side} {'now' if is_now else 'then'}",
    }


def _depth_rows(data: SectionPair) -> Sequence[tuple[str, ...]]:
    halves = [half for pair in zip(data.then, data.now, strict=True) for half in pair]
    depths = sorted({float(d) for half in halves for d in half[:, 1]})
    return [
        (f"{depth:.0f}", *(_width_at(half, depth) for half in halves)) for depth in depths if depth
    ]


def _width_at(half: Array, depth: float) -> str:
    if depth > half[-1, 1] + 0.5:
        return "–"
    return f"{np.interp(depth, half[:, 1], half[:, 0]):.0f}"
