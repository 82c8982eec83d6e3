"""Bars, loads and comparisons shared by the reference checks.

The base sizes and stiffness are illustrative, no source: they only put numbers into the formulas.
"prod" is the production grid; "fine" shows that refinement goes to the closed form.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitting.engine.contact import ContactBatch, ContactSolution, solve_contact
from fitting.engine.support import LayerLaw, linear_layer
from tests.reference.ledger_of_checks import note

Array = NDArray[np.float64]

LENGTH, WIDTH = 0.53, 0.10  # [m]
MODULUS = 1.2e6  # [Pa/m]
LINE_MODULUS = MODULUS * WIDTH  # [Pa]
LINEAR = linear_layer(modulus_per_area=MODULUS)

PROD, FINE, FINE_STRIP = (80, 16), (640, 128), (1280, 2)


@dataclass(frozen=True)
class Bar:
    """A flat bar's cells: places from its middle, rows (heave, pitch, roll), areas, spread rows."""

    x: Array
    y: Array
    rows: Array
    area: Array
    steps: tuple[float, float]

    @classmethod
    def of(cls, grid: tuple[int, int], length: float = LENGTH, width: float = WIDTH) -> Bar:
        """Lay out ``grid`` cells along and across."""
        along, across = grid
        x = ((np.arange(along) + 0.5) / along - 0.5) * length
        y = ((np.arange(across) + 0.5) / across - 0.5) * width
        x, y = (a.ravel() for a in np.meshgrid(x, y, indexing="ij"))
        rows = np.column_stack([np.ones_like(x), x, y])
        area = np.full(x.shape, length * width / len(x))
        return cls(x, y, rows, area, (length / along, width / across))

    def under(
        self,
        load: float,
        ex: float = 0.0,
        ey: float = 0.0,
        *,
        overlap: Array | None = None,
        slopes: tuple[Array, Array] | None = None,
        law: LayerLaw = LINEAR,
        edges: bool = False,
    ) -> ContactSolution:
        """Press the bar with a load at (ex, ey).

        With ``edges`` the edge of contact may run through cells; ``slopes`` are the overlap's along
        and across the bar at zero pose.
        """
        return solve_contact(
            ContactBatch(
                overlap=np.zeros((1, len(self.x))) if overlap is None else overlap[None],
                rows=self.rows,
                area=self.area,
                law=law,
                load=load * np.array([[1.0, ex, ey]]),
                **(self.ranges(slopes) if edges else {}),
            ),
            tolerance=1e-12,
        )

    def ranges(self, slopes: tuple[Array, Array] | None) -> dict[str, Array]:
        """Return the change of overlap across each cell, at zero pose and with the pose."""
        out = {}
        for axis, name in ((0, ""), (1, "cross_")):
            rows = np.zeros_like(self.rows)
            rows[:, 1 + axis] = self.steps[axis]
            out[f"{name}spread_rows"] = rows
            if slopes is not None:
                out[f"{name}spread"] = slopes[axis] * self.steps[axis]
        return out


def compare(
    measured: Mapping[str, float],
    expected: Mapping[str, float],
    *,
    tolerance: float | Mapping[str, float],
) -> None:
    """Fail unless every expected quantity is met within its relative tolerance; note it."""
    for name, value in expected.items():
        allowed = tolerance if isinstance(tolerance, float) else tolerance[name]
        apart = _apart(measured[name], value)
        assert apart <= allowed, f"{name}: {measured[name]!r} is not {value!r} ({apart:.1e} apart)"
        note(name, measured[name], value, allowed)


def small(name: str, value: float, tolerance: float) -> None:
    """Fail unless a difference that should be nothing is below its tolerance; note it."""
    assert value < tolerance, f"{name}: {value!r} is not below {tolerance!r}"
    note(name, value, 0.0, tolerance, is_absolute=True)


def _apart(measured: float, expected: float) -> float:
    return abs(measured - expected) / abs(expected)


def all_differ(
    measured: Mapping[str, float],
    expected: Mapping[str, float],
    *,
    tolerance: float | Mapping[str, float],
) -> bool:
    """Say whether each quantity, taken alone, fails the comparison: what a twin must see."""
    return all(
        not _apart(measured[name], value)
        <= (tolerance if isinstance(tolerance, float) else tolerance[name])
        for name, value in expected.items()
    )
