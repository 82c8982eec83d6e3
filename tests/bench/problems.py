"""The fixed, seeded set of contact problems that the benchmark and the cross-checks share.

Two inclined bars of 80 x 16 cells on a compliant back; a third of the problems each rock (the bar
is rounder than the back), bridge (straighter) and twist. Sizes and stiffness are illustrative, no
source: they only exercise the solver over the range of contact a fitter meets, 32 to 73 %.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fitting.engine.beams import Beam, beam_contact, deflection_rows, line_load
from fitting.engine.contact import ContactBatch, solve_contact
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


def with_edges(batch: ContactBatch, along: int = 80, across: int = 16) -> ContactBatch:
    """Return the same problems with the edge of contact let through the cells."""
    grid = batch.overlap.reshape(len(batch.overlap), 2, along, across)
    spread, cross = np.gradient(grid, axis=(2, 3))
    normal = batch.rows[:, 0]
    steps = np.zeros_like(batch.rows)
    steps[:, 1] = normal * LENGTH / along
    cross_steps = np.zeros_like(batch.rows)
    cross_steps[:, 2] = np.sign(batch.rows[:, 2]) * WIDTH / across
    return replace(
        batch,
        spread=spread.reshape(batch.overlap.shape),
        cross_spread=cross.reshape(batch.overlap.shape),
        spread_rows=steps,
        cross_spread_rows=cross_steps,
    )


def bending_batch(count: int, *, seed: int = 30) -> ContactBatch:
    """Return single bars of 20 beam elements, curved to and fro, under a load and their weight."""
    rng = np.random.default_rng(seed)
    beam = Beam(LENGTH, WIDTH, bending_stiffness=20.0)
    x, _ = beam.felt_at()
    overlap = rng.uniform(-1.0, 1.0, (count, 1)) * x**2
    load = rng.uniform(200.0, 500.0, (count, 1)) * deflection_rows(
        beam, rng.uniform(-0.1, 0.1, count)
    )
    return beam_contact(beam, law=LINEAR, load=load + line_load(beam, 30.0), overlap=overlap)


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


def drawn_batch(count: int, law: LayerLaw, *, seed: int = 40) -> tuple[ContactBatch, Array]:
    """Return draws about one rocking tree on 2 x 40 x 8 cells, and poses near their balance.

    The gaps differ by smooth errors of 2 mm and the loads by a twentieth, as a survey of what a
    measurement's errors do to one pairing has them.
    """
    rng = np.random.default_rng(seed)
    x, t, rows, area = two_bars(40, 8)
    shapes = np.stack([np.ones_like(x), x / LENGTH, t / WIDTH, (x / LENGTH) ** 2, x * t])
    gap = 1.25 * x**2 + 2e-3 * rng.standard_normal((count, len(shapes))) @ shapes
    force = 700.0 * rng.normal(1.0, 0.05, count)
    load = force[:, None] * np.array([1.0, 0.02, 0.005])
    batch = ContactBatch(overlap=-gap, rows=rows, area=area, law=law, load=load)
    middle = replace(batch, overlap=-gap.mean(axis=0)[None], load=load.mean(axis=0)[None])
    return batch, np.repeat(solve_contact(middle).pose, count, axis=0)
