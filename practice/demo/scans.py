"""Scans of three horses of the story, made from their traced backs, as a phone would bring them.

The back is the traced one, drawn out ahead to the withers and behind to the croup; the points
scatter, the horse stood askew in the phone's axes, and one scan has a hole.
"""

import math
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.core.files.uploadedfile import SimpleUploadedFile
from numpy.typing import NDArray

from horses.adapters.profiles import sagitta_mm
from horses.forms.scans import place_text
from horses.models import BackMeasurement, BackScan
from horses.selectors.scans import job_of
from horses.services.scans import add_scan, mark_scan, use_scan
from horses.tasks import run_job
from practice.demo.curves import ROCK_CHORD_MM
from practice.models import User

Array = NDArray[np.float64]
STEP_MM, SCATTER_MM, SEED = 12.0, 1.0, 29
WITHERS_MM, CROUP_MM = -100.0, 860.0
HALF_SPAN_MM = 300.0
TAPE_OFF_MM = 4.0  # how far the tape and the scan are apart in the story
STANCE = ("stood_square", "rested_hind_foot", "restless", "head", "ground", "work", "coat")


@dataclass(frozen=True)
class Said:
    """How one scan came: the file's unit [mm], how it lay (turns in degrees), and its hole."""

    horse: str
    unit: str
    unit_mm: float
    turns: tuple[float, float, float]
    hole: tuple[float, float, float] | None = None  # x, y, radius [mm]


SCANS = (
    Said("Corporal Thistle", "m", 1000.0, (-90.0, 8.0, 35.0), (150.0, 95.0, 26.0)),
    Said("Pennywhistle Fern", "cm", 10.0, (4.0, -3.0, -20.0)),
    Said("Ledger", "m", 1000.0, (-90.0, -5.0, 200.0)),
)


def take_scans(examiner: User) -> list[BackScan]:
    """Bring in, mark, measure and take over one scan for each, on its last measuring."""
    return [_take(said, examiner) for said in SCANS]


def _take(said: Said, examiner: User) -> BackScan:
    measurement = (
        BackMeasurement.objects.filter(horse__barn_name=said.horse, visit__isnull=False)
        .prefetch_related("sections", "lines")
        .select_related("horse")
    )[0]
    made = _made(measurement, said)
    tapes = {
        "tape_withers_croup_mm": round(made.apart_mm("W", "C") + TAPE_OFF_MM),
        "tape_blade_rib_mm": round(made.apart_mm("AL", "RL") - TAPE_OFF_MM),
    }
    typed = {name: f"{value / 10:g} cm" for name, value in tapes.items()}
    file = SimpleUploadedFile("back.ply", made.as_ply())
    scan = add_scan(
        measurement=measurement,
        file=file,
        values={"unit": said.unit, **tapes, "typed": typed},
        created_by=examiner,
    )
    _work(scan)
    marks = {code: [float(v) for v in place] for code, place in made.marks.items()}
    texts = {code: place_text(place) for code, place in marks.items()}
    mark_scan(scan=scan, values={"marks": marks}, typed=texts, created_by=examiner)
    _work(scan)
    conditions = {name: getattr(measurement, name) for name in STANCE}
    use_scan(scan=scan, conditions=conditions, examiner=examiner)
    return scan


def _work(scan: BackScan) -> None:
    job = job_of(scan)
    assert job is not None
    run_job(job.pk)
    scan.refresh_from_db()
    if scan.failure or scan.is_working:
        raise RuntimeError(f"The demo's scan of {scan.measurement}: {scan.failure or job.error}")


@dataclass(frozen=True, eq=False)
class Made:
    """Points and triangles in the file's axes and unit, with the marks."""

    points: Array
    faces: NDArray[np.int32]
    marks: Mapping[str, Array]
    unit_mm: float

    def apart_mm(self, one: str, other: str) -> float:
        return float(np.linalg.norm(self.marks[one] - self.marks[other])) * self.unit_mm

    def as_ply(self) -> bytes:
        head = (
            "ply\nformat binary_little_endian 1.0\n"
            f"element vertex {len(self.points)}\n"
            "property float x\nproperty float y\nproperty float z\n"
            f"element face {len(self.faces)}\nproperty list uchar int vertex_indices\nend_header\n"
        )
        row = struct.pack("<B", 3)
        faces = b"".join(row + face.tobytes() for face in self.faces.astype("<i4"))
        return head.encode() + self.points.astype("<f4").tobytes() + faces


def _made(measurement: BackMeasurement, said: Said) -> Made:
    chance = np.random.default_rng(SEED)
    shape = _Shape(measurement)
    x = np.arange(WITHERS_MM - 40, CROUP_MM + 40, STEP_MM)
    y = np.linspace(-HALF_SPAN_MM, HALF_SPAN_MM, 71)
    at_x, at_y = np.meshgrid(x, y, indexing="ij")
    at_x = at_x + chance.uniform(-3, 3, at_x.shape)
    at_y = at_y + chance.uniform(-2, 2, at_y.shape)
    points = np.stack([at_x, at_y, shape.height(at_x, at_y)], axis=-1).reshape(-1, 3)
    faces = _faces(len(x), len(y))
    if said.hole is not None:
        faces = faces[_outside(points[faces].mean(axis=1), said.hole)]
    points = points + chance.normal(0, SCATTER_MM, points.shape)
    turn = _turn(said.turns)
    marks = {code: turn @ place / said.unit_mm for code, place in shape.marks().items()}
    return Made(points @ turn.T / said.unit_mm, faces, marks, said.unit_mm)


def _faces(rows: int, columns: int) -> NDArray[np.int32]:
    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    one = np.stack([corner, corner + columns, corner + columns + 1], axis=1)
    other = np.stack([corner, corner + columns + 1, corner + 1], axis=1)
    return np.concatenate([one, other]).astype(np.int32)


def _outside(middles: Array, hole: tuple[float, float, float]) -> NDArray[np.bool_]:
    x, y, radius = hole
    return np.asarray(np.hypot(middles[:, 0] - x, middles[:, 1] - y) > radius)


def _turn(degrees: tuple[float, float, float]) -> Array:
    turned = np.eye(3)
    for axis, angle in enumerate(map(math.radians, degrees)):
        one, other = (axis + 1) % 3, (axis + 2) % 3
        step = np.eye(3)
        step[one, one] = step[other, other] = math.cos(angle)
        step[one, other], step[other, one] = -math.sin(angle), math.sin(angle)
        turned = step @ turned
    return turned


class _Shape:
    """A traced back as heights everywhere, between withers and croup [mm]."""

    def __init__(self, measurement: BackMeasurement) -> None:
        self.support: float = measurement.support_length_mm or 480.0
        self.croup: float = measurement.croup_over_withers_mm or 0.0
        self.widths = {side: _widths(measurement, side) for side in "LR"}
        rocks = [sagitta_mm(line.points) for line in measurement.lines.all() if line.off_midline_mm]
        known = [rock for rock in rocks if rock is not None]
        self.rock = sum(known) / len(known) if known else 15.0

    def height(self, x: Array, y: Array) -> Array:
        left, right = self._depth("L", x, -y), self._depth("R", x, y)
        return self._midline(x) - np.where(y < 0, left, right)

    def _depth(self, side: str, x: Array, out: Array) -> Array:
        at, y3, y15 = self.widths[side]
        three, fifteen = np.interp(x, at, y3), np.interp(x, at, y15)
        power = math.log(5) / np.log(fifteen / three)
        return np.asarray(30 * (np.maximum(out, 0) / three) ** power)

    def _midline(self, x: Array) -> Array:
        """A dip under the saddle, then up to a croup as high as the story says."""
        low = self.support / 2
        dip = 4 * self.rock * ((x - low) / ROCK_CHORD_MM) ** 2
        edge = 4 * self.rock * ((self.support - low) / ROCK_CHORD_MM) ** 2
        slope = 8 * self.rock * (self.support - low) / ROCK_CHORD_MM**2
        withers = 4 * self.rock * ((WITHERS_MM - low) / ROCK_CHORD_MM) ** 2
        reach = CROUP_MM - self.support
        bend = (withers + self.croup - edge - slope * reach) / reach**2
        beyond = np.maximum(x - self.support, 0)
        rear = edge + slope * beyond + bend * beyond**2
        return np.where(x < self.support, dip, rear)

    def marks(self) -> dict[str, Array]:
        places = {
            "AL": (-6.0, -90.0),
            "AR": (0.0, 90.0),
            "W": (WITHERS_MM, 0.0),
            "D": (self.support / 2, 0.0),
            "RL": (self.support + 4, -100.0),
            "RR": (self.support, 100.0),
            "C": (CROUP_MM, 0.0),
        }
        return {code: self._on_skin(x, y) for code, (x, y) in places.items()}

    def _on_skin(self, x: float, y: float) -> Array:
        return np.array([x, y, float(self.height(np.array([x]), np.array([y]))[0])])


def _widths(measurement: BackMeasurement, side: str) -> tuple[list[float], ...]:
    """Return stations and half-widths 3 and 15 cm down, of the mean of both traces [mm]."""
    found: dict[float, list[Any]] = {}
    for section in measurement.sections.all():
        if section.side == side:
            depths, widths = zip(*section.points, strict=True)
            pair = np.interp([30.0, 150.0], depths, widths)
            found.setdefault(section.behind_blade_mm, []).append(pair)
    rows = [(at, *np.mean(pairs, axis=0)) for at, pairs in sorted(found.items())]
    at, three, fifteen = (list(map(float, column)) for column in zip(*rows, strict=True))
    return at, three, fifteen
