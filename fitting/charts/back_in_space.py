"""The back with the bars of the tree and the load upon it, to be turned with a finger."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from horses.charts.theme import ACCENT, INK, LOAD_SCALE, SHEET, figure_of, slim

Array = NDArray[np.float64]
SKIN = "#b9a27c"
ABOVE_SKIN_MM = 2.0  # the load is drawn this far above the back, so that neither hides the other
NAME_ABOVE_MM = 40.0
LIGHT = {"ambient": 0.65, "diffuse": 0.55, "specular": 0.05, "roughness": 0.9}
NO_AXIS = {"visible": False, "showspikes": False}
HEIGHT = 380


@dataclass(frozen=True, eq=False)
class BackInSpace:
    """Back, bars and load on one grid.

    `x_mm` (n,) behind the blade, `y_mm` (m,) outward from the midline. `heights_mm`,
    `underside_mm` and `pressure_kpa` (2, n, m) are left then right; the last two are not a number
    where no bar lies over the back.
    """

    x_mm: Array
    y_mm: Array
    heights_mm: Array
    underside_mm: Array
    pressure_kpa: Array
    top_kpa: float


def back_in_space(data: BackInSpace) -> go.Figure:
    """Return the figure: near side on the left as seen from behind, the tail toward the reader."""
    across = np.concatenate([-data.y_mm[::-1], data.y_mm])
    back, load = _whole(data.heights_mm), _whole(data.pressure_kpa)
    place = {"x": data.x_mm.astype(np.float32), "y": across.astype(np.float32)}
    on_back = np.where(np.isfinite(load), back + ABOVE_SKIN_MM, np.nan)
    traces = [
        {**_surface(place, back, "Back"), **_one_colour(SKIN)},
        {**_surface(place, on_back, "Load"), **_coloured(load, data.top_kpa)},
        {**_surface(place, _whole(data.underside_mm), "Tree"), **_one_colour(INK), "opacity": 0.3},
        _names(data, float(np.nanmax(back))),
    ]
    camera = {"eye": {"x": 1.5, "y": 0.0, "z": 1.5}, "up": {"x": 0, "y": 0, "z": 1}}
    scene = {
        "aspectmode": "data",
        "dragmode": "turntable",
        "camera": camera,
        "bgcolor": SHEET,
        **{f"{axis}axis": NO_AXIS for axis in "xyz"},
    }
    return figure_of(
        traces,
        scene=scene,
        showlegend=False,
        height=HEIGHT,
        margin={"l": 0, "r": 0, "t": 0, "b": 0},
    )


def _whole(halves: Array) -> Array:
    """Lay left and right side by side, rows outward from left to right."""
    return np.concatenate([halves[0][:, ::-1], halves[1]], axis=1)


def _surface(place: dict[str, Any], z: Array, name: str) -> dict[str, Any]:
    return {
        "type": "surface",
        **place,
        "z": slim(z.T),
        "name": name,
        "lighting": LIGHT,
        "hoverinfo": "skip",
        "showscale": False,
        "contours": {axis: {"highlight": False} for axis in "xyz"},
    }


def _one_colour(colour: str) -> dict[str, Any]:
    return {"colorscale": [[0, colour], [1, colour]]}


def _coloured(load: Array, top_kpa: float) -> dict[str, Any]:
    return {"surfacecolor": slim(load.T), "cmin": 0, "cmax": top_kpa, "colorscale": LOAD_SCALE}


def _names(data: BackInSpace, top: float) -> dict[str, Any]:
    """Name the ends and sides, which a turned picture no longer shows by itself."""
    front, rear = float(data.x_mm[0]), float(data.x_mm[-1])
    middle, reach, height = (front + rear) / 2, float(data.y_mm[-1]), top + NAME_ABOVE_MM
    return {
        "type": "scatter3d",
        "mode": "text",
        "x": [front, rear, middle, middle],
        "y": [0.0, 0.0, -reach, reach],
        "z": [height] * 4,
        "text": ["head", "tail", "LEFT (near)", "RIGHT (off)"],
        "textfont": {"size": 14, "color": ACCENT},
        "hoverinfo": "skip",
    }
