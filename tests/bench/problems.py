"""The fixed, seeded set of contact problems that the benchmark and the cross-checks share.

Two inclined bars of 80 x 16 cells on a compliant back; a third of the problems each rock (the bar
is rounder than the back), bridge (straighter) and twist. Sizes and stiffness are illustrative, no
source: they only exercise the solver over the range of contact a fitter meets, 32 to 73 %.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitting.engine.contact import ContactBatch
from fitting.engine.support import LayerLaw, linear_layer, series, stiffening_layer, tabulated

Array = NDArray[np.float64]

LENGTH, WIDTH, OFFSET, SLOPE = 0.53, 0.10, 0.12, np.radians(35.0)
LINEAR = linear_layer(modulus_per_area=1.2e6)
STIFFENING = tabulated(
    series(
        linear_layer(modulus_per_area=2.0e6),
        stiffening_layer(pressure_scale=6.0e3, compression_scale=4.0e-3),
    )
)


def two_bars(along: int = 80, across: int = 16) -> tuple[Array, Array, Array, Array]:
    """Return x and in-bar offset of each cell, rows (heave, pitch, roll) and area."""
    x = ((np.arange(along) + 0.5) / along - 0.5) * LENGTH
    t = ((np.arange(across) + 0.5) / across - 0.5) * WIDTH
    x, t = (a.ravel() for a in np.meshgrid(x, t, indexing="ij"))
    sides = []
    for side in (-1.0, 1.0):
        y = side * (OFFSET + t * np.cos(SLOPE))
        z = -t * np.sin(SLOPE)
        ny, nz = side * np.sin(SLOPE), np.cos(SLOPE)
        sides.append(np.column_stack([np.full_like(x, nz), x * nz, y * nz - z * ny]))
    area = np.full(2 * len(x), LENGTH * WIDTH / (along * across))
    return np.tile(x, 2), np.tile(t, 2), np.vstack(sides), area


def seeded_batch(count: int, law: LayerLaw, *, seed: int = 20) -> ContactBatch:
    """Return the set: one third rocking, one third bridging, one third twisted."""
    rng = np.random.default_rng(seed)
    x, t, rows, area = two_bars()
    kind = np.arange(count) % 3
    curvature = np.select(
        [kind == 0, kind == 1],
        [rng.uniform(1.2, 4.0, count), -rng.uniform(1.0, 1.9, count)],
        rng.uniform(-0.2, 0.2, count),
    )
    twist = np.where(kind == 2, rng.uniform(2.6, 3.8, count) * rng.choice([-1.0, 1.0], count), 0.1)
    side = np.sign(rows[:, 2])
    gap = (
        0.5 * curvature[:, None] * x**2
        + twist[:, None] * x * t
        + rng.uniform(-0.05, 0.05, (count, 1)) * t
        + rng.uniform(-0.002, 0.002, (count, 1)) * side
    )
    force = rng.uniform(550.0, 800.0, count)
    arms = np.column_stack([rng.uniform(-0.05, 0.05, count), rng.uniform(-0.02, 0.02, count)])
    load = np.column_stack([force, force[:, None] * arms])
    return ContactBatch(overlap=-gap, rows=rows, area=area, law=law, load=load)
