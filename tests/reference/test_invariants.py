"""What must hold for any shape: symmetry, balance, scaling, reciprocity (checks C22, C22r).

Sources: symmetry and statics; reciprocity by Maxwell and Betti, for a linear layer while everything
stays in contact.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitting.engine.contact import solve_contact
from fitting.engine.support import linear_layer
from tests.bench.problems import LINEAR, STIFFENING, seeded_batch, two_bars

from .cases import PROD, Bar, compare, small

TOLERANCE = 1e-8
LAWS = pytest.mark.parametrize("law", [LINEAR, STIFFENING], ids=["linear", "stiffening"])


def apart(found, expected):
    return np.max(np.abs(found - expected)) / np.max(np.abs(expected))


@LAWS
def test_c22_pressures_balance_the_load(law):
    batch = seeded_batch(12, law)
    solution = solve_contact(batch)
    resultant = (solution.pressure * batch.area) @ batch.rows
    small("force and moments out of balance", apart(resultant, batch.load), TOLERANCE)
    assert solution.contact.min(axis=1).max() < 1.0  # every one of them lifts somewhere
    halved = 0.5 * solution.pressure * batch.area
    assert not apart(halved @ batch.rows, batch.load) < TOLERANCE


@LAWS
def test_c22_mirrored_shapes_give_mirrored_answers(law):
    batch = seeded_batch(12, law)
    _, _, rows, _ = two_bars()
    half = len(rows) // 2
    swap = np.concatenate([np.arange(half, 2 * half), np.arange(half)])
    flip = np.array([1.0, 1.0, -1.0])
    solution = solve_contact(batch)
    mirrored = solve_contact(replace(batch, overlap=batch.overlap[:, swap], load=batch.load * flip))
    small("mirrored pose", apart(mirrored.pose * flip, solution.pose), TOLERANCE)
    small("mirrored pressure", apart(mirrored.pressure[:, swap], solution.pressure), TOLERANCE)
    assert not apart(mirrored.pose, solution.pose) < TOLERANCE


def test_c22_doubling_load_and_modulus_changes_no_pose():
    batch = seeded_batch(12, LINEAR)
    doubled = replace(
        batch,
        law=linear_layer(modulus_per_area=2 * LINEAR.modulus_per_area),
        load=2 * batch.load,
    )
    pose = solve_contact(batch).pose
    small("pose", apart(solve_contact(doubled).pose, pose), TOLERANCE)
    assert not apart(solve_contact(replace(batch, load=2 * batch.load)).pose, pose) < TOLERANCE


@LAWS
def test_c22_the_order_of_cells_does_not_matter(law):
    batch = seeded_batch(12, law)
    order = np.random.default_rng(22).permutation(len(batch.area))
    shuffled = replace(
        batch,
        overlap=batch.overlap[:, order],
        rows=batch.rows[order],
        area=batch.area[order],
    )
    solution = solve_contact(batch)
    small("pose", apart(solve_contact(shuffled).pose, solution.pose), TOLERANCE)
    torn = replace(batch, overlap=batch.overlap[:, order])  # shape and rows no longer together
    assert not apart(solve_contact(torn).pose, solution.pose) < TOLERANCE


def deflections(first, second, preload):
    """Sinking at each of two points under an extra 100 N at the other."""
    bar = Bar.of(PROD)
    points = [np.array([1.0, *first]), np.array([1.0, *second])]
    before = bar.under(preload).pose[0] if preload else np.zeros(3)
    moved = []
    for load in points:
        total = preload * np.array([1.0, 0.0, 0.0]) + 100.0 * load
        solution = bar.under(total[0], total[1] / total[0], total[2] / total[0])
        moved.append(solution.pose[0] - before)
    return float(points[0] @ moved[1]), float(points[1] @ moved[0])


def test_c22r_reciprocity_in_full_contact():
    one, other = deflections((0.03, 0.005), (-0.03, -0.004), preload=0.0)
    compare({"sinking": one}, {"sinking": other}, tolerance=1e-10)
    lifted, opposite = deflections((0.03, 0.005), (0.05, 0.01), preload=0.0)
    assert not abs(lifted - opposite) / abs(lifted) < 1e-10  # a corner lifts: no longer linear
