"""The marks picked on a scan, and the scale that two tape distances between them tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial import cKDTree

from horses.scanning.surface import Array, CannotUseScan, Surface

MARKS = {
    "AL": "A left: rear edge of the left shoulder blade",
    "AR": "A right: rear edge of the right shoulder blade",
    "W": "W: highest point of the withers",
    "D": "D: lowest point of the back",
    "RL": "R left: top of the last rib, left",
    "RR": "R right: top of the last rib, right",
    "C": "C: top of the croup",
}
OPTIONAL = frozenset({"D"})  # the lowest point can be found on the scan itself
NEEDED = tuple(code for code in MARKS if code not in OPTIONAL)

# Between which marks the two tapes are pulled, straight.
TAPES = (("W", "C"), ("AL", "RL"))
METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "ft": 0.3048}

# How far apart scan and tape may be: our own reckoning (assumption). A chalk mark is picked to
# about 7 mm, so a distance between two to 10 mm; a tape over hair reads to about 1 %. Twice that.
MARK_ERROR, TAPE_ERROR, SPREADS = 0.010, 0.01, 2.0

Marks = Mapping[str, Array]


@dataclass(frozen=True)
class ScaleCheck:
    """One distance on the scan beside the same on the tape [m]."""

    pair: tuple[str, str]
    scan: float
    tape: float

    @property
    def tolerance(self) -> float:
        """How far apart the two may be [m]."""
        return SPREADS * float(np.hypot(MARK_ERROR, TAPE_ERROR * self.tape))

    @property
    def agrees(self) -> bool:
        return abs(self.scan - self.tape) <= self.tolerance

    @property
    def off(self) -> float:
        """By what share of the tape's length the scan is longer."""
        return self.scan / self.tape - 1.0


def snapped(surface: Surface, place: ArrayLike) -> tuple[Array, float]:
    """Return a place laid on the surface, and how far it was from the nearest corner.

    It is moved onto the plane that touches the surface at that corner, not into the corner itself:
    corners lie a centimetre apart.
    """
    asked = np.asarray(place, float)
    away, index = cKDTree(surface.vertices).query(asked)
    outward = surface.normals[index]
    above = float((asked - surface.vertices[index]) @ outward)
    return np.asarray(asked - above * outward), float(away)


def distance(marks: Marks, pair: tuple[str, str]) -> float:
    return float(np.linalg.norm(np.asarray(marks[pair[0]]) - np.asarray(marks[pair[1]])))


def scale_checks(
    marks: Marks, tapes: Mapping[tuple[str, str], float], *, metres_per_unit: float
) -> tuple[ScaleCheck, ...]:
    """Return each tape distance [m] beside the scan's; marks are in the file's unit."""
    return tuple(
        ScaleCheck(pair, distance(marks, pair) * metres_per_unit, tape)
        for pair, tape in tapes.items()
    )


def unit_by_tape(marks: Marks, tapes: Mapping[tuple[str, str], float]) -> str | None:
    """Return the unit in which every distance agrees with the tape; None when none does."""
    for unit, metres in METRES.items():
        checks = scale_checks(marks, tapes, metres_per_unit=metres)
        if checks and all(check.agrees for check in checks):
            return unit
    return None


def scale_by_tape(marks: Marks, tapes: Mapping[tuple[str, str], float]) -> float:
    """Return the metres per unit that bring the scan nearest to all tapes (least squares)."""
    scan = np.array([distance(marks, pair) for pair in tapes])
    tape = np.array(list(tapes.values()))
    if not scan.any():
        raise CannotUseScan("Marks that a tape runs between lie in one place.")
    return float(scan @ tape / (scan @ scan))


def tapes_disagree(marks: Marks, tapes: Mapping[tuple[str, str], float]) -> bool:
    """Say whether no single scale suits both tapes: then a mark or a tape is wrong."""
    scale = scale_by_tape(marks, tapes)
    return not all(c.agrees for c in scale_checks(marks, tapes, metres_per_unit=scale))
