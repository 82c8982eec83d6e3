"""Load along a bar, ours and in closed form, as pictures for docs/verification.md.

Closed forms along the bar: rigid strips from the poses of `fitting.engine.reference`; beams as the
sum of cosh cos, sinh sin, cosh sin and sinh cos whose four constants the ends and the load fix (M.
Hetenyi, Beams on Elastic Foundation, 1946, general solution [memory]). They are worked out here and
share nothing with the engine's elements.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from html import escape

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from fitting.engine import reference
from tests.reference.cases import LENGTH, LINE_MODULUS, PROD, WIDTH, Bar
from tests.reference.ledger_of_checks import DOCS
from tests.reference.test_beams import HALF, STIFF, SUPPLE
from tests.reference.test_beams import press as press_beam
from tests.reference.test_strip import press as press_strip

Array = NDArray[np.float64]
FOLDER = DOCS / "verification"


@dataclass(frozen=True)
class Picture:
    """Line load [N/m] at places along the bar [m]: ours, and in closed form."""

    name: str
    title: str
    x: Array
    ours: Array
    closed: Array

    @property
    def apart(self) -> float:
        """Largest difference over the highest load."""
        return float(np.max(np.abs(self.ours - self.closed)) / np.max(self.closed))


# -- Rigid strips


def _strip(
    name: str, title: str, *, load: float, radius: float, place: float, rocks: bool
) -> Picture:
    bar = Bar.of(PROD)
    curvature = (-1 if rocks else 1) / radius
    solution = press_strip(bar, load=load, curvature=curvature, eccentricity=place, edges=False)
    ours = (solution.pressure[0] * bar.area).reshape(PROD).sum(axis=1) / bar.steps[0]
    x = bar.x.reshape(PROD)[:, 0]
    heave, angle = _strip_pose(load=load, radius=radius, place=place, rocks=rocks)
    closed = LINE_MODULUS * np.maximum(heave + angle * x + curvature * x**2 / 2, 0.0)
    return Picture(name, title, x, ours, closed)


def _strip_pose(*, load: float, radius: float, place: float, rocks: bool) -> tuple[float, float]:
    """Heave and angle in closed form: the case whose contact fits the bar."""
    given = {"load": load, "line_modulus": LINE_MODULUS, "radius": radius}
    if not rocks:
        return _bridge_pose(load, radius, place)
    free = reference.rocking_strip(**given, eccentricity=place)
    if max(abs(free.first), abs(free.last)) <= LENGTH / 2:
        return free.heave, free.angle
    full = reference.closed_rocking_strip(**given, eccentricity=place, length=LENGTH)
    if full.heave - abs(full.angle) * LENGTH / 2 - LENGTH**2 / (8 * radius) >= 0:
        return full.heave, full.angle
    clipped = reference.clipped_rocking_strip(**given, eccentricity=place, length=LENGTH)
    return clipped.heave, clipped.angle


def _bridge_pose(load: float, radius: float, place: float) -> tuple[float, float]:
    if place == 0.0:
        held = reference.bridging_strip(
            load=load, line_modulus=LINE_MODULUS, radius=radius, length=LENGTH
        )
        return held.heave, 0.0
    half, centre = (
        0.15,
        -0.03,
    )  # the inverse form of C11: the gap first, then the load that holds it
    return (centre**2 - half**2) / (2 * radius), -centre / radius


def _c11() -> Picture:
    held = reference.tilted_bridge(
        gap_half=0.15, gap_centre=-0.03, line_modulus=LINE_MODULUS, radius=2.0, length=LENGTH
    )
    return _strip(
        "c11",
        "bridging bar, load off the middle",
        load=held.load,
        radius=2.0,
        place=held.eccentricity,
        rocks=False,
    )


# -- Beams


def waves(s: float, order: int = 0) -> Array:
    """Return cosh cos, sinh sin, cosh sin, sinh cos at s, or their derivatives of an order."""
    out = np.array(
        [
            np.cosh(s) * np.cos(s),
            np.sinh(s) * np.sin(s),
            np.cosh(s) * np.sin(s),
            np.sinh(s) * np.cos(s),
        ]
    )
    turn = np.array([[0, 0, -1, 1], [0, 0, 1, 1], [1, 1, 0, 0], [1, -1, 0, 0]], float)
    for _ in range(order):
        out = turn @ out
    return out


def constants(conditions: list[tuple[float, int, float]]) -> Array:
    """Return the four constants under which derivatives at places have the values given."""
    rows = np.array([waves(s, order) for s, order, _ in conditions])
    return np.asarray(np.linalg.solve(rows, [value for *_, value in conditions]), float)


def central(reach: float, shear: float) -> Array:
    """Constants from the middle, s = 0, to where moment and shear have gone, s = reach."""
    return constants([(0.0, 1, 0.0), (0.0, 3, shear), (reach, 2, 0.0), (reach, 3, 0.0)])


def from_end(reach: float, shear: float) -> Array:
    """Constants from a loaded end to where the bar leaves the layer."""
    return constants([(0.0, 2, 0.0), (0.0, 3, shear), (reach, 0, 0.0), (reach, 3, 0.0)])


def _beam(name: str, title: str, *, bending: float, load: float, at_ends: bool) -> Picture:
    beam = replace(STIFF if bending == 50.0 else SUPPLE, elements=40)
    loads = [(-HALF, load / 2), (HALF, load / 2)] if at_ends else [(0.0, load)]
    solution = press_beam(beam, loads)
    x, _ = beam.felt_at()
    x, ours = np.asarray(x), WIDTH * solution.pressure[0]
    kept = slice(None, None, max(len(x) // 80, 1))
    ratio = (LINE_MODULUS / (4 * bending)) ** 0.25
    shear = load / 2 / (bending * ratio**3)
    if at_ends:
        reach = ratio * HALF if ratio * LENGTH < np.pi else _lifting_reach(ratio)
        shape = (
            constants([(0.0, 2, 0.0), (0.0, 3, shear), (reach, 1, 0.0), (reach, 3, 0.0)])
            if ratio * LENGTH < np.pi
            else from_end(reach, shear)
        )
        s = ratio * (HALF - np.abs(x))
    else:
        reach = min(ratio * HALF, np.pi / 2)
        shape = central(reach, shear)
        s = ratio * np.abs(x)
    sunk = np.array([waves(v) @ shape if v <= reach else 0.0 for v in s])
    closed = LINE_MODULUS * np.maximum(sunk, 0.0)
    return Picture(name, title, x[kept], ours[kept], closed[kept])


def _lifting_reach(ratio: float) -> float:
    def kink(reach: float) -> float:
        shape = from_end(reach, 1.0)
        return float((waves(reach, 1) + waves(reach, 2) * (ratio * HALF - reach)) @ shape)

    return float(brentq(kink, 0.3, np.pi / 2))


PICTURES: tuple[Callable[[], Picture], ...] = (
    lambda: _strip(
        "c6", "rocking bar, load in the middle", load=400, radius=1.5, place=0.0, rocks=True
    ),
    lambda: _strip(
        "c7", "rocking bar, load off the middle", load=200, radius=1.5, place=0.06, rocks=True
    ),
    lambda: _strip(
        "c8", "rocking bar, clipped at one end", load=800, radius=2.0, place=0.05, rocks=True
    ),
    lambda: _strip(
        "c9", "rocking bar, in contact all along", load=2000, radius=4.0, place=0.02, rocks=True
    ),
    lambda: _strip(
        "c10", "bridging bar, load in the middle", load=300, radius=2.0, place=0.0, rocks=False
    ),
    _c11,
    lambda: _beam(
        "c16", "bar that bends, load in the middle", bending=50.0, load=800, at_ends=False
    ),
    lambda: _beam(
        "c17", "bar that bends, loads at both ends", bending=50.0, load=800, at_ends=True
    ),
    lambda: _beam("c18", "bar that bends, ends lift", bending=2.0, load=100, at_ends=False),
    lambda: _beam("c19", "bar that bends, middle lifts", bending=2.0, load=100, at_ends=True),
)


# -- Drawing

WIDE, HIGH, LEFT, TOP, RIGHT, BOTTOM = 640, 260, 64, 34, 16, 44
INK, SOFT, MARK = "#1f2a30", "#55606a", "#8a3b12"


def svg(picture: Picture) -> str:
    """Return the picture: a line for the closed form, open circles for the engine."""
    top = 1.1 * float(np.max(picture.closed))
    across = LEFT + (picture.x / LENGTH + 0.5) * (WIDE - LEFT - RIGHT)

    def up(values: Array) -> Array:
        return HIGH - BOTTOM - values / top * (HIGH - TOP - BOTTOM)

    line = "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(across, up(picture.closed), strict=True))
    dots = "".join(
        f'<circle cx="{a:.1f}" cy="{b:.1f}" r="2.6"/>'
        for a, b in zip(across, up(picture.ours), strict=True)
    )
    words = f"{picture.name.upper()}: {picture.title}. Load along the bar, engine and closed form."
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {HIGH}" role="img" '
        f'aria-label="{escape(words)}" font-family="sans-serif" font-size="12" fill="{INK}">'
        f'<rect width="{WIDE}" height="{HIGH}" fill="#fff"/>'
        f"{_axes(top)}"
        f'<path d="M{line}" fill="none" stroke="{INK}" stroke-width="1.5"/>'
        f'<g fill="none" stroke="{MARK}" stroke-width="1.2">{dots}</g>'
        f'<text x="{LEFT}" y="20">{escape(picture.title)}: line closed form, circles engine</text>'
        "</svg>\n"
    )


def _axes(top: float) -> str:
    floor = HIGH - BOTTOM
    marks = [
        f'<path d="M{LEFT} {TOP}V{floor}H{WIDE - RIGHT}" fill="none" stroke="{SOFT}"/>',
        f'<text x="{LEFT - 6}" y="{floor + 4}" text-anchor="end">0</text>',
        f'<text x="{LEFT - 6}" y="{TOP + 14}" text-anchor="end">{top / 1.1:.0f} N/m</text>',
    ]
    for place in (-0.2, -0.1, 0.0, 0.1, 0.2):
        x = LEFT + (place / LENGTH + 0.5) * (WIDE - LEFT - RIGHT)
        marks.append(f'<path d="M{x:.1f} {floor}v5" stroke="{SOFT}"/>')
        marks.append(f'<text x="{x:.1f}" y="{floor + 18}" text-anchor="middle">{place:g}</text>')
    middle = (LEFT + WIDE - RIGHT) / 2
    marks.append(f'<text x="{middle}" y="{HIGH - 8}" text-anchor="middle">along the bar [m]</text>')
    return "".join(marks)


def write() -> None:
    """Draw all of them."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for make in PICTURES:
        picture = make()
        (FOLDER / f"{picture.name}.svg").write_text(svg(picture), encoding="utf-8")
