"""Photos of the front section's first tracing, one for each horse's story, and what they say.

The curve on the paper is the back of the story; the paper is drawn and photographed by
`horses.digitising.rendering`, and read as a fitter's photo would be.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from horses.adapters.tracings import read_tracing
from horses.digitising.photos import clean_photo
from horses.digitising.rectify import Array
from horses.digitising.rendering import Camera, Photo, Sheet, photograph, section_sheet
from horses.models import BackMeasurement, Side, Station, TracingPhoto
from horses.services.tracings import accept_tracing, keep_paper, keep_tracing, mark_tracing
from practice.demo import curves
from practice.models import User

DEEPEST_MM, POINTS = 158.0, 120
FINGER_MM = 0.4  # how well marks are set in the story
A3_MM = (420.0, 297.0)


@dataclass(frozen=True)
class Taken:
    """How one photo was taken and what gives its scale."""

    camera: Camera
    scale: dict[str, Any]
    square_mm: float | None = None


PHOTOS: dict[str, Taken] = {
    "Corporal Thistle": Taken(
        Camera(1400, 1050, tilt=11, pan=-6, roll=2, light=0.3, texture=0.012, noise=4, seed=7),
        {"scale": "corners", "sheet": "a3"},
    ),
    "Pennywhistle Fern": Taken(
        Camera(1400, 1050, tilt=-8, pan=5, roll=-3, light=0.2, texture=0.01, noise=4, seed=8),
        {"scale": "squares", "square_mm": 10.0},
        square_mm=10.0,
    ),
    "Ledger": Taken(
        Camera(1400, 1050, tilt=9, pan=8, roll=1, shadow=0.35, texture=0.012, noise=5, seed=9),
        {"scale": "squares", "square_mm": 10.0},
        square_mm=10.0,
    ),
}


def photograph_front(
    *, measurement: BackMeasurement, section: curves.Section, examiner: User
) -> TracingPhoto:
    """Take in a photo of the first tracing at S1, mark it, and put its numbers in place."""
    said = PHOTOS[measurement.horse.barn_name]
    stored = measurement.sections.filter(station=Station.S1, trace=1)
    halves = {half.side: half for half in stored}
    left, right = (_half(section.side(side), halves[side].points[-1][1]) for side in "LR")
    sheet, middle = section_sheet(left, right, size_mm=A3_MM, square_mm=said.square_mm)
    photo = photograph(sheet, said.camera)
    tracing = keep_tracing(
        measurement=measurement,
        shows=Station.S1,
        trace=1,
        photo=clean_photo(*photo.as_file()),
        taken_by=examiner,
    )
    marks = _marks(photo, sheet, middle, np.random.default_rng(said.camera.seed))
    typed = {"square_mm": "10"} if said.square_mm else {}
    mark_tracing(tracing=tracing, values={**said.scale, "marks": marks}, typed=typed)
    reading = read_tracing(tracing)
    if not reading.is_whole:
        raise RuntimeError(f"The demo's photo for {measurement}: {reading.problem}")
    keep_paper(tracing=tracing, reading=reading)
    distance = halves[Side.LEFT].behind_blade_mm
    return accept_tracing(tracing=tracing, reading=reading, behind_blade_mm=distance)


def _half(widths: curves.Widths, traced_mm: float) -> Array:
    """Return the half as it was traced: [depth, half-width] through the stored width 15 cm down."""
    factor = traced_mm / curves.half_width_mm(widths, 150.0)
    depths = DEEPEST_MM * np.linspace(0.0, 1.0, POINTS) ** 2
    across = [factor * curves.half_width_mm(widths, float(depth)) for depth in depths]
    return np.column_stack([depths, across])


def _marks(
    photo: Photo, sheet: Sheet, middle: Array, finger: np.random.Generator
) -> dict[str, list[list[float]]]:
    line, (wide, high) = sheet.pen[0], A3_MM
    places = {
        "corners": [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)],
        "line": [line[0], middle, line[-1]],
        "zero": [middle],
    }
    return {
        kind: np.round(photo.at(mm + finger.normal(0, FINGER_MM, np.shape(mm))), 1).tolist()
        for kind, mm in ((name, np.array(points)) for name, points in places.items())
    }
