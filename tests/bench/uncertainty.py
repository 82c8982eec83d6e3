"""Cost of the bands of one evaluation: in whole evaluations, by parts, and in memory.

Run ``python -m tests.bench.uncertainty`` from the repository's root. Processor time, best of
several runs in one thread; seconds depend on the machine, the ratios do not.
"""

from __future__ import annotations

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # per thread: must be set before numpy loads

import argparse
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from fitting.engine import FitInputs, FitResult, evaluate_fit, sensitivity_of, with_uncertainty
from fitting.engine.draws import drawn_amounts, drawn_inputs, sources_of
from tests.engine.pairs import flat_pair

DRAWS = 200
NINE = (
    "standing",
    "ridden_trot",
    "rider_left",
    "rider_right",
    "bend_left",
    "bend_right",
    "rounded",
    "hollowed",
    "saddle_only",
)


def seconds(function: Callable[[], Any], repeats: int) -> float:
    """Return the least processor time [s] of some runs after a first one."""
    function()
    times = []
    for _ in range(repeats):
        begun = time.thread_time()
        function()
        times.append(time.thread_time() - begun)
    return min(times)


def peak(inputs: FitInputs, result: FitResult, draws: int) -> int:
    """Return the most memory held at once while drawing [bytes]."""
    tracemalloc.start()
    with_uncertainty(inputs, result, draws=draws)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return most


def whole_draw(inputs: FitInputs) -> Callable[[], FitResult]:
    """Return a function that evaluates one draw whole, as if nothing were linearised."""
    sources = sources_of(inputs)
    drawn = drawn_inputs(inputs, sources, drawn_amounts(1, 1, len(sources))[0])
    return lambda: evaluate_fit(drawn)


def report(inputs: FitInputs, repeats: int) -> None:
    """Print what the bands of some load cases cost."""
    result = evaluate_fit(inputs)
    fit = seconds(lambda: evaluate_fit(inputs), repeats)
    bands = seconds(lambda: with_uncertainty(inputs, result, draws=DRAWS), repeats)
    few = seconds(lambda: with_uncertainty(inputs, result, draws=DRAWS // 4), repeats)
    whole = seconds(whole_draw(inputs), repeats)
    a_draw = (bands - few) / (DRAWS - DRAWS // 4)
    print(f"\n{len(result.cases)} load cases, {len(sources_of(inputs))} sources, {DRAWS} draws")
    print(f"  evaluation {fit:6.3f} s, its bands {bands:6.3f} s: {bands / fit:5.1f} evaluations")
    print(f"  a draw over a whole evaluation of it: 1 / {whole / a_draw:.0f}")
    print(f"  bands over {DRAWS} whole evaluations: 1 / {DRAWS * whole / bands:.0f}")
    small, large = peak(inputs, result, DRAWS), peak(inputs, result, 5 * DRAWS)
    print(f"  memory with {5 * DRAWS} draws over that with {DRAWS}: {large / small:.2f}")


def main() -> None:
    """Run the benchmark and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=5)
    repeats = parser.parse_args().repeats
    inputs = flat_pair()
    report(replace(inputs, cases=tuple(c for c in inputs.cases if c.name in NINE)), repeats)
    report(inputs, repeats)
    result = evaluate_fit(inputs)
    fit = seconds(lambda: evaluate_fit(inputs), repeats)
    swept = seconds(lambda: sensitivity_of(inputs, result), 1)
    print(f"\nall sweeps: {swept / fit:.0f} evaluations")


if __name__ == "__main__":
    main()
