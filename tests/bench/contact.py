"""Speed of the contact solver beside a general minimiser, on one thread.

Run ``python -m tests.bench.contact`` from the repository's root. Ratios within one run are what
counts; milliseconds depend on the machine.
"""

from __future__ import annotations

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # per thread: must be set before numpy loads

import argparse
import platform
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import scipy
from scipy.optimize import minimize

from fitting.engine.cells import lay_out
from fitting.engine.contact import (
    ContactBatch,
    ContactSolution,
    contact_chunks,
    solve_contact,
)

from .problems import LINEAR, STIFFENING, Array, bending_batch, seeded_batch, with_edges

TOLERANCE = 1e-9  # of the load, for everyone


def settle_memory() -> None:
    """Bring the allocator to the state of a process that has been at work for a while.

    The C library gives a large array's pages back to the system until it has once freed a larger
    one (32 MB at most), and fetching them anew in each step costs more than the arithmetic. Every
    method here gains from it. The same is had for a worker by MALLOC_TRIM_THRESHOLD_ and
    MALLOC_MMAP_THRESHOLD_ in its environment.
    """
    block = np.ones(3_900_000)
    del block


def best_of(repeats: int, work: Callable[[], object]) -> float:
    """Return the least processor time of several runs [s], after one to warm up."""
    work()
    times = []
    for _ in range(repeats):
        begun = time.thread_time()
        work()
        times.append(time.thread_time() - begun)
    return min(times)


def single(batch: ContactBatch, problem: int) -> ContactBatch:
    """Return one problem of a batch."""
    pick = slice(problem, problem + 1)
    return replace(batch, overlap=batch.overlap[pick], load=batch.load[pick])


def one_by_one(batch: ContactBatch) -> None:
    """Solve each problem in its own call."""
    for problem in range(len(batch.load)):
        solve_contact(single(batch, problem), tolerance=TOLERANCE)


def in_chunks(batch: ContactBatch) -> float:
    """Solve chunk by chunk and keep one number of each, as a run over many draws does."""
    chunks = contact_chunks(batch, tolerance=TOLERANCE)
    return sum(float(part.pressure.max()) for part in chunks)


def general_minimiser(batch: ContactBatch) -> tuple[Array, Array]:
    """Solve with scipy's trust-exact, given gradient and Hessian; return poses and residuals.

    The pose is scaled so that the Hessian is near the identity, and each function computes only
    what it must: the fairest use of a general routine that we found.
    """
    products = (batch.rows[:, :, None] * batch.rows[:, None, :]).reshape(len(batch.rows), -1)
    weighted_rows = batch.area[:, None] * batch.rows
    weighted_products = batch.area[:, None] * products
    unit = np.sqrt(np.sum(weighted_products, axis=0)[:: batch.rows.shape[1] + 1])
    law, rows, poses, residuals = batch.law, batch.rows, [], []
    stiffness = float(law.tangent(np.array(5e-3)))
    factor = 1.0 / (unit * np.sqrt(stiffness))
    for start, load in zip(batch.overlap, batch.load, strict=True):

        def energy(z: Array, start: Array = start, load: Array = load) -> float:
            q = factor * z
            return float(batch.area @ law.energy(start + rows @ q) - load @ q)

        def gradient(z: Array, start: Array = start, load: Array = load) -> Array:
            pressure = law.pressure(start + rows @ (factor * z))
            return factor * (pressure @ weighted_rows - load)

        def hessian(z: Array, start: Array = start) -> Array:
            tangent = law.tangent(start + rows @ (factor * z))
            flat = (tangent @ weighted_products).reshape(rows.shape[1], -1)
            return factor[:, None] * flat * factor

        first = np.zeros(rows.shape[1])
        first[0] = (0.01 - np.mean(start)) / factor[0]
        size = np.linalg.norm(factor * load)
        found = minimize(
            energy,
            first,
            jac=gradient,
            hess=hessian,
            method="trust-exact",
            options={"gtol": TOLERANCE * size, "initial_trust_radius": 10.0, "maxiter": 200},
        )
        poses.append(factor * found.x)
        residuals.append(np.linalg.norm(found.jac) / size)
    return np.array(poses), np.array(residuals)


def one_pass(batch: ContactBatch) -> float:
    """Return the time per problem [s] to read overlap once and weigh it with the rows."""
    cells = lay_out(batch.rows[None], batch.area, None, 64)
    parts = [batch.overlap[i : i + 64] for i in range(0, len(batch.overlap), 64)]
    passed = best_of(5, lambda: [cells.resultant(part) for part in parts])
    return passed / len(batch.overlap)


def describe(solution: ContactSolution) -> str:
    """Return contact range, steps and residual of a solved set in words."""
    share = 100 * solution.contact.mean(axis=1)
    return (
        f"contact {share.min():.0f}-{share.max():.0f} %, steps {solution.iterations.min()}"
        f"-{solution.iterations.max()} (mean {solution.iterations.mean():.1f}), "
        f"residual below {solution.residual.max():.0e}"
    )


def report(name: str, batch: ContactBatch, compared: int) -> None:
    """Print the rows of one layer law."""
    count = len(batch.load)
    solution = solve_contact(batch, tolerance=TOLERANCE)
    few = replace(batch, overlap=batch.overlap[:compared], load=batch.load[:compared])
    batched = best_of(5, lambda: solve_contact(batch, tolerance=TOLERANCE)) / count
    chunked = best_of(5, lambda: in_chunks(batch)) / count
    alone = best_of(3, lambda: one_by_one(few)) / compared
    general = best_of(2, lambda: general_minimiser(few)) / compared
    poses, residuals = general_minimiser(few)
    apart = np.max(np.abs(poses - solution.pose[:compared]))
    print(f"\n{name} layer, {count} problems: {describe(solution)}")
    print(f"  trust-exact: residual below {residuals.max():.0e}, poses differ by {apart:.0e}")
    print(f"  {'':28}{'ms per solve':>14}{'times faster':>14}")
    rows = {
        "trust-exact": general,
        "one by one": alone,
        "batched": batched,
        "batched, chunk by chunk": chunked,
    }
    for label, took in rows.items():
        print(f"  {label:28}{1e3 * took:14.3f}{general / took:14.1f}")
    passes = solution.iterations.mean() * one_pass(batch)
    print(
        f"  one pass over the arrays x steps: {1e3 * passes:.3f} ms, {chunked / passes:.1f} x off"
    )


def report_evaluation(name: str, batch: ContactBatch) -> None:
    """Print the time of one evaluation's contact solves: three load cases on one back."""
    case = replace(batch, overlap=np.repeat(batch.overlap[:1], 3, axis=0), load=batch.load[:3])
    shapes = replace(case, rows=np.repeat(case.rows[None], 3, axis=0))
    kinds = {"shared rows": case, "rows per case": shapes, "edges inside cells": with_edges(case)}
    for label, problem in kinds.items():
        took = best_of(20, lambda problem=problem: solve_contact(problem))
        print(f"three load cases, 2 x 80 x 16 cells, {name}, {label}: {1e3 * took:.2f} ms")


def report_bending(count: int) -> None:
    """Print the time of bars that bend, together and one by one."""
    batch = bending_batch(count)
    together = best_of(3, lambda: solve_contact(batch, tolerance=TOLERANCE)) / count
    alone = best_of(2, lambda: one_by_one(batch)) / count
    print(f"\nbending bars, 20 elements, {count} problems: {describe(solve_contact(batch))}")
    print(f"  batched {1e3 * together:.2f} ms, one by one {1e3 * alone:.2f} ms per solve")


def main() -> None:
    """Run the benchmark and print its table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--problems", type=int, default=300)
    parser.add_argument("--compared", type=int, default=60, help="solved by the slow ways too")
    chosen = parser.parse_args()
    settle_memory()
    print(f"python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}")
    print(f"{platform.machine()}, one thread, 2 x 80 x 16 cells, tolerance {TOLERANCE:g} of load")
    for name, law in (("linear", LINEAR), ("stiffening", STIFFENING)):
        report(name, seeded_batch(chosen.problems, law), min(chosen.compared, chosen.problems))
    print()
    for name, law in (("linear", LINEAR), ("stiffening", STIFFENING)):
        report_evaluation(name, seeded_batch(3, law))
    report_bending(64)


if __name__ == "__main__":
    main()
