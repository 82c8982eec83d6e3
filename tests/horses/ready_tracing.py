"""Photos of tracings of known curves, and the marks a finger would set on them."""

import io
from dataclasses import dataclass
from functools import cache
from math import log
from typing import Any

import numpy as np
import numpy.typing as npt
from django.core.files.base import ContentFile

from horses.digitising.rectify import Array
from horses.digitising.rendering import Camera, Photo, Sheet, photograph, section_sheet
from horses.models import DEPTHS_MM, BackMeasurement, TracingPhoto

# Half-widths [mm] 30 and 150 mm down, left then right: an uneven back, so that sides cannot swap.
LEFT, RIGHT = (72.0, 178.0), (62.0, 162.0)
# A finger with a magnifier marks to about this (one standard deviation).
FINGER_MM = 0.5
PLAIN = Camera()
HARD = Camera(
    tilt=14, pan=-9, roll=4, light=0.4, shadow=0.45, texture=0.02, noise=6, blur=0.9, seed=3
)


def half_width(widths: tuple[float, float], depth: float) -> float:
    """Return the half-width [mm] of depth = 30 (y / y30)^p, p = ln 5 / ln(y150 / y30)."""
    return widths[0] * (depth / 30) ** (log(widths[1] / widths[0]) / log(5))


def half(widths: tuple[float, float], deepest: float = 170.0) -> npt.NDArray[np.float64]:
    depths = deepest * np.linspace(0, 1, 160) ** 2
    return np.column_stack([depths, [half_width(widths, d) for d in depths]])


def true_widths(widths: tuple[float, float]) -> dict[float, float]:
    return {float(d): half_width(widths, d) if d else 0.0 for d in DEPTHS_MM}


@dataclass(frozen=True)
class Scene:
    """A photo with the truth about it, and a finger that marks it."""

    photo: Photo
    sheet: Sheet
    midline_mm: Array
    seed: int

    def marked(self, mm: npt.ArrayLike) -> list[list[float]]:
        given = np.atleast_2d(np.asarray(mm, dtype=float))
        off = np.random.default_rng(self.seed + len(given)).normal(0, FINGER_MM, given.shape)
        return [[float(x), float(y)] for x, y in self.photo.at(given + off)]

    @property
    def corners_mm(self) -> list[tuple[float, float]]:
        wide, high = self.sheet.width_mm, self.sheet.height_mm
        return [(0, 0), (wide, 0), (wide, high), (0, high)]

    def section_marks(self) -> dict[str, list[list[float]]]:
        line = self.sheet.pen[0]
        return {
            "corners": self.marked(self.corners_mm),
            "line": self.marked([line[0], self.midline_mm, line[-1]]),
            "zero": self.marked([self.midline_mm]),
        }

    @property
    def grey(self) -> Array:
        return np.asarray(self.photo.image.convert("L"), dtype=float)


def section_scene(
    camera: Camera = PLAIN,
    left: tuple[float, float] = LEFT,
    right: tuple[float, float] = RIGHT,
    **sheet: Any,
) -> Scene:
    drawn, middle = section_sheet(half(left), half(right), **sheet)
    return Scene(photograph(drawn, camera), drawn, middle, camera.seed)


def as_file(image: Any, kind: str = "JPEG", **more: Any) -> io.BytesIO:
    file = io.BytesIO()
    image.save(file, kind, **more)
    file.seek(0)
    file.name = f"tracing.{kind.lower()}"
    return file


@cache
def _plain_jpeg() -> tuple[bytes, int, int]:
    scene = section_scene(Camera(width_px=800, height_px=600))
    return as_file(scene.photo.image).getvalue(), 800, 600


def make_tracing(measurement: BackMeasurement, **values: Any) -> TracingPhoto:
    """Make a stored photo of S1, nothing marked on it yet."""
    data, wide, high = _plain_jpeg()
    standard = {"shows": "S1", "trace": 1, "width_px": wide, "height_px": high}
    tracing = TracingPhoto(measurement=measurement, **{**standard, **values})
    tracing.image.save("tracing.jpg", ContentFile(data), save=False)
    tracing.save()
    return tracing
