"""A scan to be marked, and the back read from it, both to be turned with a finger."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from horses.charts.theme import (
    ACCENT,
    INK,
    LEFT_COLOUR,
    RIGHT_COLOUR,
    SHEET,
    Chart,
    chart,
    figure_of,
)

SKIN = "#b9a27c"
LIGHT = {"ambient": 0.6, "diffuse": 0.6, "specular": 0.05, "roughness": 0.9}
CLOSED = 0.05  # of a surface's area: facing less than this on the whole, it is closed
NAME_LIFT = 30.0  # mm above the midline, where a section's name stands
LIFT = 2.0  # mm above the surface, so that a curve is not half hidden in it
NO_AXIS = {"visible": False, "showspikes": False}
Numbers = NDArray[Any]
Place = Sequence[float]


def marking_figure(vertices: Numbers, faces: Numbers, marks: Mapping[str, Place]) -> dict[str, Any]:
    """Return the figure of a scan in its own axes, with the marks set so far."""
    whole = np.uint16 if len(vertices) < 2**16 else np.uint32
    mesh = {
        "type": "mesh3d",
        **dict(zip("xyz", vertices.astype(np.float32).T, strict=True)),
        **dict(zip("ijk", faces.astype(whole).T, strict=True)),
        "color": SKIN,
        "lighting": LIGHT,
        "hoverinfo": "none",
    }
    places = np.array(list(marks.values()), float).reshape(-1, 3)
    dots = {
        "type": "scatter3d",
        "mode": "markers+text",
        **dict(zip("xyz", places.T.tolist(), strict=True)),
        "text": list(marks),
        "textfont": {"size": 15, "color": INK},
        "textposition": "top center",
        "marker": {"size": 5, "color": ACCENT, "line": {"color": "#fff", "width": 1}},
        "hoverinfo": "none",
    }
    beside, above = _first_looks(vertices, faces)
    scene = {
        "aspectmode": "data",
        "dragmode": "orbit",
        "camera": beside,
        **{f"{axis}axis": NO_AXIS for axis in "xyz"},
    }
    figure = figure_of(
        [mesh, dots],
        scene=scene,
        showlegend=False,
        margin={"l": 0, "r": 0, "t": 0, "b": 0},
        meta={"upright": above},
    )
    found: dict[str, Any] = json.loads(figure.to_json())
    return found


def _first_looks(vertices: Numbers, faces: Numbers) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return two looks at the back, whatever axes the file has: from beside, and from above.

    A scan of a back is open below, so its triangles face up on the whole; in one that is closed
    they face nowhere, and the file's y is taken as up, as in GLB files.
    """
    corners = vertices[faces]
    areas = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    faced, whole = areas.sum(axis=0), np.linalg.norm(areas, axis=1).sum()
    is_open = np.linalg.norm(faced) > CLOSED * whole
    up = faced / np.linalg.norm(faced) if is_open else np.array([0.0, 1.0, 0.0])
    flat = vertices - vertices.mean(axis=0)
    flat = flat - np.outer(flat @ up, up)
    along = np.linalg.svd(flat.T @ flat)[0][:, 0]
    beside, above = 1.1 * up + 0.8 * np.cross(up, along), 2.0 * up
    return _camera(beside, up), _camera(above, along)


def _camera(eye: Numbers, up: Numbers) -> dict[str, Any]:
    return {
        part: dict(zip("xyz", map(float, at), strict=True))
        for part, at in (("eye", eye), ("up", up))
    }


@dataclass(frozen=True, eq=False)
class ScanPicture:
    """What the picture of a scanned back shows, in mm; `heights` (2, n, m) has nan in holes.

    `sections` are (name, side, distance behind the blade, points of depth and half-width).
    """

    x: Numbers
    y: Numbers
    heights: Numbers
    sections: Sequence[tuple[str, str, float, Sequence[Place]]]
    head: tuple[str, ...]
    rows: Sequence[Sequence[str]]


def back_chart(picture: ScanPicture) -> Chart:
    """Return the heights of a back with the sections read from it; holes stay open."""
    left, right = picture.heights
    z = np.concatenate([left[:, :0:-1], right], axis=1)
    y = np.concatenate([-picture.y[:0:-1], picture.y])
    surface = {
        "type": "surface",
        "x": picture.x.astype(np.float32),
        "y": y.astype(np.float32),
        "z": z.T.astype(np.float32),
        "colorscale": [[0, SKIN], [1, SKIN]],
        "showscale": False,
        "lighting": LIGHT,
        "hoverinfo": "none",
        "contours": {axis: {"highlight": False} for axis in "xyz"},
    }
    curves = [_curve(picture, *section) for section in picture.sections]
    figure = figure_of(
        [surface, *curves, _names(picture)],
        scene=_scene(),
        showlegend=False,
        height=380,
        margin={"l": 0, "r": 0, "t": 0, "b": 0},
    )
    return chart(
        figure,
        id="scan-back",
        title="The back as read from the scan, turned with a finger",
        head=picture.head,
        rows=picture.rows,
        note=(
            "Solid blue: left (near). Dashed orange: right (off). The tail is toward you. Where "
            "the scan has a hole the surface is open, and nothing is read across it."
        ),
    )


def _curve(
    picture: ScanPicture, name: str, side: str, at: float, points: Sequence[Place]
) -> dict[str, Any]:
    depths, widths = np.array(points, float).reshape(-1, 2).T
    sign = -1.0 if side == "L" else 1.0
    top = _midline(picture, at)
    return {
        "type": "scatter3d",
        "mode": "lines",
        "x": [at] * len(depths),
        "y": (sign * widths).tolist(),
        "z": (top - depths + LIFT).tolist(),
        "name": f"{name} {side}",
        "line": {
            "color": LEFT_COLOUR if side == "L" else RIGHT_COLOUR,
            "width": 6,
            "dash": "solid" if side == "L" else "dash",
        },
        "hoverinfo": "none",
    }


def _names(picture: ScanPicture) -> dict[str, Any]:
    places = {name: at for name, _, at, _ in picture.sections}
    return {
        "type": "scatter3d",
        "mode": "text",
        "x": list(places.values()),
        "y": [0.0] * len(places),
        "z": [_midline(picture, at) + NAME_LIFT for at in places.values()],
        "text": list(places),
        "textfont": {"size": 14, "color": INK},
        "hoverinfo": "none",
    }


def _midline(picture: ScanPicture, at: float) -> float:
    heights = picture.heights[:, :, 0].mean(axis=0)
    known = np.isfinite(heights)
    return float(np.interp(at, picture.x[known], heights[known])) if known.any() else 0.0


def _scene() -> dict[str, Any]:
    camera = {"eye": {"x": 1.3, "y": 0.0, "z": 1.0}, "up": {"x": 0, "y": 0, "z": 1}}
    return {
        "aspectmode": "data",
        "dragmode": "turntable",
        "camera": camera,
        "bgcolor": SHEET,
        **{f"{axis}axis": NO_AXIS for axis in "xyz"},
    }
