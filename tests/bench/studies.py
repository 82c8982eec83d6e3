"""Cost of what builds on an evaluation, each step over the evaluation itself.

Run ``python -m tests.bench.studies`` from the repository's root. Processor time in one thread,
median of some runs; milliseconds depend on the machine, the ratios much less. The last rows say
what following from rest to rest saves over starting every solve from a first guess.
"""

from __future__ import annotations

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # per thread: must be set before numpy loads

import argparse
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from statistics import median
from typing import Any
from unittest.mock import patch

from fitting.engine import FitInputs, FitResult, build_surface, cases_for, evaluate_fit
from fitting.engine import allowances as allowances_module
from fitting.engine import stance as stance_module
from fitting.engine.allowances import with_allowances
from fitting.engine.study import STEPS
from tests.engine.pairs import TR_02, thistle_pair

Settle = Callable[..., Any]


def spent(function: Callable[[], object], runs: int) -> float:
    """Median processor time of a call [s]."""
    times = []
    for _ in range(runs):
        begun = time.thread_time()
        function()
        times.append(time.thread_time() - begun)
    return median(times)


@contextmanager
def settling(change: Callable[[Settle], Settle]) -> Iterator[None]:
    """Let the steps settle trees in another way for a while."""
    changed = change(stance_module.settle)  # type: ignore[attr-defined]
    with (
        patch.object(stance_module, "settle", changed),
        patch.object(allowances_module, "settle", changed),
    ):
        yield


def from_first_guess(settle: Settle) -> Settle:
    """Settle without the pose of a neighbour."""
    return lambda *args, **named: settle(*args, **named | {"start": None})


def counted(count: list[int]) -> Callable[[Settle], Settle]:
    """Count the problems settled."""

    def change(settle: Settle) -> Settle:
        def counting(placed: Any, cases: Any, *args: Any, **named: Any) -> Any:
            count.append(len(cases))
            return settle(placed, cases, *args, **named)

        return counting

    return change


def report(inputs: FitInputs, result: FitResult, runs: int) -> None:
    surface = build_surface(inputs.back)
    whole = spent(partial(evaluate_fit, inputs, surface=surface), runs)
    print(f"{'evaluation':32} {1e3 * whole:8.0f} ms {1.0:6.2f}")
    for name, step in STEPS:
        taken = spent(partial(step, inputs, result, surface), runs)
        print(f"{name:32} {1e3 * taken:8.0f} ms {taken / whole:6.2f}")
    room = partial(with_allowances, inputs, result, surface=surface)
    count: list[int] = []
    with settling(counted(count)):
        room()
    warm = spent(room, runs)
    with settling(from_first_guess):
        cold = spent(room, runs)
    print(f"room left: {sum(count)} problems in {len(count)} solves")
    print(f"room left from first guesses over from neighbours: {cold / warm:.2f}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    asked = parser.parse_args()
    pair = replace(thistle_pair(TR_02), cases=cases_for("rope"))
    report(pair, evaluate_fit(pair), asked.runs)
