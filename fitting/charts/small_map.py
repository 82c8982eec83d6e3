"""The load of one case as a picture small enough that many stand side by side on a phone.

The same plan, colours and lines as the large map, as an indexed PNG of a few hundred bytes.
"""

import base64
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageColor
from plotly.colors import sample_colorscale, unlabel_rgb

from fitting.charts.load_map import CONTOUR, NOTE_KPA, LoadMap, plan
from horses.charts.theme import ACCENT, LOAD_SCALE, SHEET

Pixels = NDArray[np.uint8]
FINER = 3  # pixels along each edge of a cell, so that lines are thinner than cells
PAPER, MARK, EDGE = 255, 254, 253  # of the palette; the load takes those below
STEPS = 253
KEY_HEIGHT = 8


@dataclass(frozen=True)
class Picture:
    """A picture for an `img`: its source as a data URI, and the proportion it is shown in."""

    source: str
    width: int
    height: int


def small_map(data: LoadMap, *, width: int = 100) -> Picture:
    """Return the map of a load case, `width` CSS pixels across; the head is at the top."""
    across, along, pressure = plan(data)
    shown = _finer(_indices(pressure, data.top_kpa))
    loud = _finer(np.nan_to_num(pressure) > NOTE_KPA)
    shown[_edge_of(loud)] = EDGE
    for at in (0.0, data.last_rib_mm):
        if at is not None:
            shown[_row_of(along, at), ::2] = MARK
    proportion = float(np.ptp(along) / np.ptp(across))
    return Picture(_png(shown), width, round(width * proportion))


def colour_key(width: int = 200) -> Picture:
    """Return the strip of colours from no load to the end of the scale."""
    strip = np.linspace(0, STEPS - 1, width).astype(np.uint8)
    return Picture(_png(np.tile(strip, (KEY_HEIGHT, 1))), width, KEY_HEIGHT)


def _indices(pressure: NDArray[np.float64], top_kpa: float) -> Pixels:
    share = np.clip(np.nan_to_num(pressure) / top_kpa, 0.0, 1.0)
    found = np.round(share * (STEPS - 1)).astype(np.uint8)
    found[np.isnan(pressure)] = PAPER
    return found


def _finer(cells: NDArray[np.generic]) -> NDArray[np.generic]:
    return cells.repeat(FINER, axis=0).repeat(FINER, axis=1)


def _edge_of(inside: NDArray[np.generic]) -> NDArray[np.bool_]:
    """Return the pixels inside an area that have a neighbour outside it."""
    whole = inside.astype(bool)
    wide = np.pad(whole, 1)
    kept = wide[:-2, 1:-1] & wide[2:, 1:-1] & wide[1:-1, :-2] & wide[1:-1, 2:]
    return np.asarray(whole & ~kept)


def _row_of(along: NDArray[np.float64], at: float) -> int:
    return int(np.argmin(np.abs(along - at))) * FINER + FINER // 2


def _palette() -> list[int]:
    load = sample_colorscale(LOAD_SCALE, np.linspace(0, 1, STEPS).tolist())
    colours = [unlabel_rgb(words) for words in load]
    lines = [ImageColor.getrgb(words) for words in (CONTOUR, ACCENT, SHEET)]
    return [round(part) for colour in (*colours, *lines) for part in colour[:3]]


PALETTE = _palette()


def _png(indices: NDArray[np.generic]) -> str:
    image = Image.fromarray(indices.astype(np.uint8))
    image.putpalette(PALETTE)
    file = BytesIO()
    image.save(file, "PNG", optimize=True)
    return f"data:image/png;base64,{base64.b64encode(file.getvalue()).decode()}"
