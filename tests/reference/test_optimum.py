"""The whole two-bar problem against independent quadratic programming (check C24).

min 1/2 sum k dA s2 - f.q with s >= u0 + B q and s >= 0, solved by Clarabel (interior point) and
OSQP (operator splitting, polished), general libraries that know nothing of contact.
"""

from __future__ import annotations

import clarabel
import numpy as np
import osqp
import pytest
from scipy import sparse

from fitting.engine.contact import solve_contact
from tests.bench.problems import LINEAR, seeded_batch

from .cases import small

COUNT = 20
TOLERANCE = 1e-9  # [m]
BATCH = seeded_batch(COUNT, LINEAR, seed=24)
LEVERS = np.max(np.abs(BATCH.rows), axis=0)


def programme(problem, *, pulls=False):
    """Return P, q, A, b of min 1/2 z.P z + q.z with A z <= b, for z = (pose, compression).

    The compression is in millimetres and the load in parts of itself, so that the libraries'
    tolerances mean something.
    """
    cells = len(BATCH.area)
    size = BATCH.load[problem, 0]
    weight = LINEAR.modulus_per_area * BATCH.area * 1e-6 / size
    quadratic = sparse.block_diag([sparse.csc_matrix((3, 3)), sparse.diags(weight)], format="csc")
    linear = np.concatenate([-1e-3 * BATCH.load[problem] / size, np.zeros(cells)])
    eye = sparse.eye(cells)
    over = sparse.hstack([sparse.csc_matrix(BATCH.rows), -eye])
    above = sparse.hstack([sparse.csc_matrix((cells, 3)), -eye])
    start = 1e3 * BATCH.overlap[problem]
    if pulls:
        return (
            quadratic,
            linear,
            sparse.vstack([over, -over], format="csc"),
            np.append(-start, start),
        )
    bounds = np.concatenate([-start, np.zeros(cells)])
    return quadratic, linear, sparse.vstack([over, above], format="csc"), bounds


def by_clarabel(problem, **kwargs):
    quadratic, linear, matrix, bounds = programme(problem, **kwargs)
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = 1e-13
    cones = [clarabel.NonnegativeConeT(len(bounds))]
    solver = clarabel.DefaultSolver(quadratic, linear, matrix, bounds, cones, settings)
    return 1e-3 * np.array(solver.solve().x[:3])


def by_osqp(problem):
    quadratic, linear, matrix, bounds = programme(problem)
    solver = osqp.OSQP()
    solver.setup(
        quadratic,
        linear,
        matrix,
        np.full(len(bounds), -np.inf),
        bounds,
        eps_abs=1e-10,
        eps_rel=1e-10,
        max_iter=200_000,
        polishing=True,
        polish_refine_iter=20,
        verbose=False,
    )
    return 1e-3 * solver.solve(raise_error=True).x[:3]


def distance(pose, other):
    """Largest movement of any cell between two poses [m]."""
    return np.max(np.abs(pose - other) * LEVERS)


@pytest.fixture(scope="module")
def solved():
    solution = solve_contact(BATCH)
    share = solution.contact.mean(axis=1)
    assert 0.30 < share.min() < share.max() < 0.90
    return solution.pose


@pytest.mark.parametrize("problem", range(COUNT))
def test_c24_clarabel_finds_the_same_pose(solved, problem):
    apart = distance(by_clarabel(problem), solved[problem])
    small("largest movement of a cell, Clarabel [m]", apart, TOLERANCE)


@pytest.mark.parametrize("problem", range(COUNT))
def test_c24_osqp_finds_the_same_pose(solved, problem):
    apart = distance(by_osqp(problem), solved[problem])
    small("largest movement of a cell, OSQP [m]", apart, TOLERANCE)


def test_c24_twin_a_layer_that_pulls_has_another_pose(solved):
    assert not distance(by_clarabel(0, pulls=True), solved[0]) < TOLERANCE
