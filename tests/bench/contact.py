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
from importlib.util import find_spec

import numpy as np
import osqp
import scipy
from scipy import sparse
from scipy.optimize import minimize

from fitting.engine.cells import lay_out
from fitting.engine.compiled import processors
from fitting.engine.contact import (
    ContactBatch,
    ContactSolution,
    contact_chunks,
    solve_contact,
)
from fitting.engine.support import LinearLaw

from .problems import (
    LINEAR,
    STIFFENING,
    Array,
    drawn_batch,
    seeded_batch,
    with_edges,
)

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


def quadratic_programme(batch: ContactBatch) -> tuple[Array, Array]:
    """Solve a linear layer's problems with OSQP; return poses and the time of each [s].

    min 1/2 sum k dA v^2 - f.q over q and v >= u0 + B q, v >= 0; lengths in mm and loads in the
    first one's size, for a fair scaling. Matrices are ready before the clock starts: what is timed
    is OSQP's own set-up and solve, once per problem, as another gap needs no more than new bounds.
    """
    cells, size = batch.rows.shape
    weight = 1e-3 * batch.law.pressure(1.0) * batch.area
    quadratic = sparse.diags(np.concatenate([np.zeros(size), weight]), format="csc")
    identity = sparse.eye(cells)
    over = sparse.hstack([sparse.csc_matrix(batch.rows), -identity])
    positive = sparse.hstack([sparse.csc_matrix((cells, size)), -identity])
    matrix = sparse.vstack([over, positive], format="csc")
    poses, times = [], []
    for start, load in zip(batch.overlap, batch.load, strict=True):
        linear = np.concatenate([-load, np.zeros(cells)])
        bounds = np.concatenate([-1e3 * start, np.zeros(cells)])
        begun = time.thread_time()
        solver = osqp.OSQP()
        solver.setup(
            quadratic,
            linear,
            matrix,
            np.full(len(bounds), -np.inf),
            bounds,
            eps_abs=1e-8,
            eps_rel=1e-8,
            max_iter=100_000,
            polishing=True,
            verbose=False,
        )
        poses.append(1e-3 * solver.solve(raise_error=True).x[:size])
        times.append(time.thread_time() - begun)
    return np.array(poses), np.array(times)


def one_pass(batch: ContactBatch) -> float:
    """Return the time per problem [s] to read overlap, rows and weights once.

    One strain and one sum of forces: what a step would cost if all else were free.
    """
    cells = lay_out(batch.rows[None], batch.area, None, 64)
    pose = np.zeros((64, batch.rows.shape[1]))
    parts = [batch.overlap[i : i + 64] for i in range(0, len(batch.overlap), 64)]

    def passed() -> None:
        for part in parts:
            cells.resultant(part + cells.strain(pose[: len(part)]))

    return best_of(5, passed) / len(batch.overlap)


def describe(solution: ContactSolution) -> str:
    """Return contact range, steps and residual of a solved set in words."""
    share = 100 * solution.contact.mean(axis=1)
    return (
        f"contact {share.min():.0f}-{share.max():.0f} %, steps {solution.iterations.min()}"
        f"-{solution.iterations.max()} (mean {solution.iterations.mean():.1f}), "
        f"residual below {solution.residual.max():.0e}"
    )


def plain_steps(batch: ContactBatch) -> float:
    """Return the mean number of Newton steps from bonded cells, without a nearer start."""
    alone = [solve_contact(single(batch, i), tolerance=TOLERANCE) for i in range(len(batch.load))]
    return float(np.mean([one.iterations[0] for one in alone]))


def raced(ways: dict[str, tuple[int, Callable[[], object]]], rounds: int) -> dict[str, float]:
    """Return the least processor time per problem [s] of each way, taken in turns.

    In turns, as a shared machine's speed drifts: each way meets the same hours.
    """
    times: dict[str, list[float]] = {name: [] for name in ways}
    for _, work in ways.values():
        work()
    for _ in range(rounds):
        for name, (count, work) in ways.items():
            begun = time.thread_time()
            work()
            times[name].append((time.thread_time() - begun) / count)
    return {name: min(taken) for name, taken in times.items()}


def report(name: str, batch: ContactBatch, compared: int, *, compiled: bool) -> None:
    """Print the rows of one layer law."""
    count = len(batch.load)
    solution = solve_contact(batch, tolerance=TOLERANCE)
    few = replace(batch, overlap=batch.overlap[:compared], load=batch.load[:compared])
    ways: dict[str, tuple[int, Callable[[], object]]] = {
        "trust-exact": (compared, lambda: general_minimiser(few)),
        "one by one": (compared, lambda: one_by_one(few)),
        "batched": (count, lambda: solve_contact(batch, tolerance=TOLERANCE)),
        "batched, chunk by chunk": (count, lambda: in_chunks(batch)),
    }
    if compiled:
        ways["compiled, one thread"] = (count, lambda: in_one_thread(batch))
    took = raced(ways, 7)
    poses, residuals = general_minimiser(few)
    apart = np.max(np.abs(poses - solution.pose[:compared]))
    print(f"\n{name} layer, {count} problems: {describe(solution)}")
    print(f"  trust-exact: residual below {residuals.max():.0e}, poses differ by {apart:.0e}")
    print(f"  {'':28}{'ms per solve':>14}{'times faster':>14}")
    for label, each in took.items():
        print(f"  {label:28}{1e3 * each:14.3f}{took['trust-exact'] / each:14.1f}")
    if compiled:
        report_compiled(batch, few, solution)
    if isinstance(batch.law, LinearLaw):
        report_programme(few, took["batched, chunk by chunk"])
    steps = plain_steps(few)
    limit = steps * one_pass(batch)
    print(f"  limit, one pass x {steps:.1f} Newton steps: {1e3 * limit:.3f} ms;", end=" ")
    labels = ("batched, chunk by chunk", "compiled, one thread")[: 1 + compiled]
    print("; ".join(f"{label} {took[label] / limit:.1f} x that" for label in labels))


def in_one_thread(batch: ContactBatch) -> None:
    """Solve compiled, chunk by chunk, without further threads."""
    for first in range(0, len(batch.load), 64):
        pick = slice(first, first + 64)
        part = replace(batch, overlap=batch.overlap[pick], load=batch.load[pick])
        solve_contact(part, tolerance=TOLERANCE, compiled=True)


def report_compiled(batch: ContactBatch, few: ContactBatch, solution: ContactSolution) -> None:
    """Print the compiled solver on all processors, by the clock, beside trust-exact by the clock.

    By the clock a busy machine shows less than it could; the processor time says how much.
    """
    walls: dict[str, list[float]] = {"general": [], "compiled": [], "spent": []}
    for _ in range(7):
        begun = time.perf_counter()
        general_minimiser(few)
        walls["general"].append((time.perf_counter() - begun) / len(few.load))
        begun, spent = time.perf_counter(), time.process_time()
        for _ in contact_chunks(batch, tolerance=TOLERANCE, compiled=True):
            pass
        walls["compiled"].append((time.perf_counter() - begun) / len(batch.load))
        walls["spent"].append((time.process_time() - spent) / len(batch.load))
    general, clock, spent = (min(taken) for taken in walls.values())
    label = f"compiled, {processors()} processors, by the clock"
    print(f"  {label:42}{1e3 * clock:.3f}{general / clock:14.1f}")
    print(f"  {'  processor time of all threads':42}{1e3 * spent:.3f}")
    found = solve_contact(batch, tolerance=TOLERANCE, compiled=True)
    apart = np.max(np.abs(found.pose - solution.pose))
    print(f"  compiled: residual below {found.residual.max():.0e}, poses differ by {apart:.0e}")


def report_programme(few: ContactBatch, batched: float) -> None:
    """Print OSQP's time beside the batched one's."""
    some = replace(few, overlap=few.overlap[:9], load=few.load[:9])
    poses, times = quadratic_programme(some)
    _, again = quadratic_programme(some)
    took = float(np.minimum(times, again).mean())
    pressure = some.law.pressure(some.overlap + poses @ some.rows.T)
    apart = (pressure * some.area) @ some.rows - some.load
    residual = np.max(np.abs(apart).max(axis=1) / some.load[:, 0])
    print(f"  {'OSQP, set-up and solve':28}{1e3 * took:14.1f}; batched is", end=" ")
    print(f"{took / batched:.0f} x faster; residual below {residual:.0e}")


def report_evaluation(name: str, batch: ContactBatch) -> None:
    """Print the time of one evaluation's contact solves: three load cases on one back."""
    case = replace(batch, overlap=np.repeat(batch.overlap[:1], 3, axis=0), load=batch.load[:3])
    shapes = replace(case, rows=np.repeat(case.rows[None], 3, axis=0))
    kinds = {"shared rows": case, "rows per case": shapes, "edges inside cells": with_edges(case)}
    for label, problem in kinds.items():
        took = best_of(20, lambda problem=problem: solve_contact(problem))
        print(f"three load cases, 2 x 80 x 16 cells, {name}, {label}: {1e3 * took:.2f} ms")


def report_draws(*, compiled: bool) -> None:
    """Print the time of draws about one pairing, warm: 64 problems of 2 x 40 x 8 cells."""
    batch, start = drawn_batch(64, STIFFENING)
    kinds = {
        "shared areas": batch,
        "areas per draw": replace(batch, area=np.repeat(batch.area[None], 64, axis=0)),
        "rows per draw": replace(batch, rows=np.repeat(batch.rows[None], 64, axis=0)),
    }
    print("\n64 draws, 2 x 40 x 8 cells, stiffening, from a pose nearby, us per solve:")
    for label, problem in kinds.items():
        ways = {
            name: (64, lambda p=problem, c=choice: solve_contact(p, start=start, compiled=c))
            for name, choice in (("numpy", False), ("compiled", True))[: 1 + compiled]
        }
        took = raced(ways, 20)
        print(f"  {label:28}" + "".join(f"{n} {1e6 * each:.0f}  " for n, each in took.items()))


def main() -> None:
    """Run the benchmark and print its table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--problems", type=int, default=320)
    parser.add_argument("--compared", type=int, default=30, help="solved by the slow ways too")
    chosen = parser.parse_args()
    settle_memory()
    compiled = find_spec("numba") is not None
    print(f"python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}")
    print(f"{platform.machine()}, one thread, 2 x 80 x 16 cells, tolerance {TOLERANCE:g} of load")
    if not compiled:
        print("numba is not installed: THE COMPILED SOLVER IS LEFT OUT (pip install '.[compiled]')")
    for name, law in (("linear", LINEAR), ("stiffening", STIFFENING)):
        batch = seeded_batch(chosen.problems, law)
        report(name, batch, min(chosen.compared, chosen.problems), compiled=compiled)
    print()
    for name, law in (("linear", LINEAR), ("stiffening", STIFFENING)):
        report_evaluation(name, seeded_batch(3, law))
    report_draws(compiled=compiled)


if __name__ == "__main__":
    main()
