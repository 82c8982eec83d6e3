"""Cost of one whole evaluation, and of each of its parts.

Run ``python -m tests.bench.evaluation`` from the repository's root. Processor time, median of many
runs in one thread; milliseconds depend on the machine, the last row of each table does not. The
parts are timed inside whole runs; those of 'settle' are indented below it.
"""

from __future__ import annotations

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # per thread: must be set before numpy loads

import argparse
import platform
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from importlib.util import find_spec
from statistics import median
from types import ModuleType
from typing import Any
from unittest.mock import patch

import numpy as np
import scipy

from fitting.engine import LOAD_CASES, FitInputs, FitResult, evaluate_fit, prefer
from fitting.engine import evaluate as evaluate_module
from fitting.engine import pose as pose_module
from tests.engine.pairs import fern_pair, flat_pair, panel_tree

from .contact import best_of, settle_memory

THREE = ("standing", "rider_left", "saddle_only")
FULL = "whole evaluation"
PARTS: dict[str, tuple[ModuleType, str]] = {
    "back": (evaluate_module, "build_surface"),
    "shapes of back": (evaluate_module, "moved"),
    "tree on back": (evaluate_module, "place"),
    "settle": (evaluate_module, "settle"),
    "  distances": (pose_module, "distance"),
    "  contact": (pose_module, "solve_contact"),
    "measures": (evaluate_module, "case_results"),
    "shapes": (evaluate_module, "shape_measures"),
    "sections": (evaluate_module, "sections_of"),
    "findings": (evaluate_module, "findings_of"),
}
Spent = dict[str, float]


def timed(spent: Spent, name: str, function: Callable[..., Any], *args: Any, **named: Any) -> Any:
    """Call a function and add its processor time [s] to what its part has spent."""
    begun = time.thread_time()
    try:
        return function(*args, **named)
    finally:
        spent[name] += time.thread_time() - begun


@contextmanager
def parts_timed(spent: Spent) -> Iterator[None]:
    """Time the parts of the evaluations made inside."""
    patches = [
        patch.object(module, attribute, partial(timed, spent, name, getattr(module, attribute)))
        for name, (module, attribute) in PARTS.items()
    ]
    for one in patches:
        one.start()
    try:
        yield
    finally:
        for one in patches:
            one.stop()


def one_run(inputs: FitInputs) -> tuple[Spent, FitResult]:
    """Return the processor time of each part of one evaluation [s], and the evaluation."""
    spent: Spent = defaultdict(float)
    with parts_timed(spent):
        result: FitResult = timed(spent, FULL, evaluate_fit, inputs)
    return spent, result


def one_pass(result: FitResult) -> float:
    """Return the time [s] to read the fields of all cases once and weigh them with three rows."""
    fields = np.array([case.pressure.reshape(-1) for case in result.cases])
    rows = np.ones((fields.shape[1], 3))
    return best_of(200, lambda: fields @ rows)


def report(name: str, inputs: FitInputs, repeats: int) -> None:
    """Print the parts of one evaluation."""
    first, result = one_run(inputs)
    runs = [one_run(inputs)[0] for _ in range(repeats)]
    middle = {name: median(run[name] for run in runs) for name in (FULL, *PARTS)}
    shape = " x ".join(str(n) for n in result.z.shape)
    steps = sum(case.iterations for case in result.cases)
    print(f"\n{name}: {len(inputs.cases)} load cases, {shape} cells,", end=" ")
    print(f"{result.passes} passes, {steps} steps")
    parts = sum(took for name, took in middle.items() if name in PARTS and name[0] != " ")
    middle["law of the layers, the rest"] = middle[FULL] - parts
    for name, took in middle.items():
        print(f"  {name:28}{1e3 * took:9.2f} ms")
    print(f"  {'the first run':28}{1e3 * first[FULL]:9.2f} ms")
    ratio = middle["  contact"] / steps / (one_pass(result) / len(result.cases))
    print(f"  one Newton step of one case over one pass through its arrays: {ratio:.0f}")


def main() -> None:
    """Run the benchmark and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=40)
    chosen = parser.parse_args()
    settle_memory()
    print(f"python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}")
    three = tuple(case for case in LOAD_CASES if case.name in THREE)
    pairs = {
        "two bars": flat_pair(),
        "panels, head of 48 degrees": fern_pair(panel_tree(head_deg=48)),
        "panels, head of 56 degrees": fern_pair(panel_tree(head_deg=56)),
    }
    for name, inputs in pairs.items():
        report(name, replace(inputs, cases=three), chosen.repeats)
    report("two bars", flat_pair(), max(chosen.repeats // 4, 3))
    if find_spec("numba") is None:
        print(
            "\nnumba is not installed: THE COMPILED SOLVER IS LEFT OUT (pip install '.[compiled]')"
        )
        return
    prefer(True)
    print("\nWith the compiled solver")
    for name, inputs in pairs.items():
        report(name, replace(inputs, cases=three), chosen.repeats)


if __name__ == "__main__":
    main()
