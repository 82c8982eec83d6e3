"""Speed of bars that bend: many at once beside one by one, on one thread, in one run.

Run ``python -m tests.bench.beams`` from the repository's root. Processor time; ratios are what
counts, milliseconds depend on the machine. One by one means the same solver called once for each
problem, which then takes whatever path is quickest for one. Single bars have 20 elements, 42
components and 120 points; trees are the demo's, both bars bending, on their whole back.
"""

from __future__ import annotations

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # per thread: must be set before numpy loads

import argparse
import platform
from dataclasses import fields, replace

import numpy as np
import scipy

from fitting.engine import Bar, FitInputs, FlexibleBar, FlexibleTree, TwoBarTree
from fitting.engine.contact import ContactBatch, ContactSolution, solve_contact
from fitting.engine.evaluate import place
from fitting.engine.geometry import build_surface
from fitting.engine.loads import cases_for, forces_of
from fitting.engine.pose import settle
from fitting.engine.underside import underside
from tests.engine.pairs import TR_02, thistle_pair

from .contact import TOLERANCE, best_of, one_by_one, settle_memory
from .problems import bending_batch


def report_bars(count: int) -> None:
    """Print the time of single bars, together and one by one."""
    batch = bending_batch(count)
    solution = solve_contact(batch, tolerance=TOLERANCE)
    contact = solution.contact.mean(axis=1)
    alone = best_of(2, lambda: one_by_one(batch)) / count
    print(
        f"\n{count} single bars: contact {100 * contact.min():.0f}-{100 * contact.max():.0f} %, "
        f"{solution.iterations.mean():.1f} steps, residual below {solution.residual.max():.0e}"
    )
    for chunk in (64, count):
        together = best_of(5, lambda chunk=chunk: _solve(batch, chunk)) / count
        print(
            f"  {chunk} at once {1e3 * together:.3f} ms, one by one {1e3 * alone:.3f} ms each: "
            f"{alone / together:.1f} times"
        )


def _solve(batch: ContactBatch, chunk: int) -> ContactSolution:
    return solve_contact(batch, tolerance=TOLERANCE, chunk=chunk)


def bending(tree: TwoBarTree, stiffness: float) -> FlexibleTree:
    """Return the tree with bars that bend."""
    shape = {part.name: getattr(tree, part.name) for part in fields(TwoBarTree)}
    for side in ("left", "right"):
        bar = {part.name: getattr(getattr(tree, side), part.name) for part in fields(Bar)}
        shape[side] = FlexibleBar(**bar, bending_stiffness=stiffness)
    return FlexibleTree(**shape, cantle_from_tip=0.44)


def report_trees(inputs: FitInputs, name: str) -> None:
    """Print the time of settling a tree under load cases on one shape of back."""
    surface = build_surface(inputs.back, grid=inputs.settings.grid)
    placed = place(inputs, surface, underside(inputs.tree))
    cases = [case for case in cases_for() if case.back == cases_for()[0].back]
    forces = tuple(forces_of(inputs.loads, inputs.tree, case) for case in cases)
    law = inputs.layers.law()

    def together() -> None:
        settle(placed, forces, (0.0, 0.0), law)

    def each() -> None:
        for force in forces:
            settle(placed, (force,), (0.0, 0.0), law)

    whole, alone = best_of(5, together), best_of(3, each)
    print(
        f"{name}: {len(cases)} load cases together {1e3 * whole:.1f} ms, one by one "
        f"{1e3 * alone:.1f} ms: {alone / whole:.1f} times"
    )


def main() -> None:
    """Run the benchmark and print its table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--problems", type=int, default=256)
    chosen = parser.parse_args()
    settle_memory()
    print(f"python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}")
    report_bars(64)
    report_bars(chosen.problems)
    print()
    inputs = thistle_pair(TR_02)
    report_trees(inputs, "stiff tree")
    for stiffness in (300.0, 40.0):
        bent = replace(inputs, tree=bending(TR_02, stiffness))
        report_trees(bent, f"tree with bars of {stiffness:g} N m2")


if __name__ == "__main__":
    main()
