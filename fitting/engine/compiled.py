"""The contact iteration compiled to machine code, for those who install the extra ``compiled``.

The same steps on the same numbers as `newton.iterate`, cell by cell in one pass instead of array by
array: agreement is to the tolerance asked. Only plain Newton steps are taken here; a problem whose
step is poor goes back to the safeguards of `newton`. Without numba all this is absent and nothing
else changes; it is used only where it was asked for.
"""

from __future__ import annotations

import importlib
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from types import ModuleType
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from . import newton
from .cells import OwnCells, SharedCells
from .errors import EngineError
from .laws import Array, LayerLaw, LinearLaw, StiffeningLaw, TableLaw
from .newton import Iterate, Iteration, Problems

Done = TypeVar("Done")


class CompilerMissing(EngineError):
    """The compiled iteration was asked for, and numba is not installed."""


@dataclass
class Preference:
    """What this process does where a caller doesn't say."""

    compiled: bool = False


PREFERENCE = Preference()


def prefer(compiled: bool) -> None:
    """Choose for this process whether contacts are iterated in compiled code.

    Raises
    ------
    CompilerMissing
        If it is asked for and numba is not installed.
    """
    if compiled:
        _kernels()
    PREFERENCE.compiled = compiled


def iteration(compiled: bool | None) -> Iteration:
    """Return the iteration asked for, or the one this process prefers."""
    compiled = PREFERENCE.compiled if compiled is None else compiled
    if not compiled:
        return newton.iterate
    _kernels()
    return iterate


def _kernels() -> ModuleType:
    """Return the compiled code; only now is numba needed, which costs 150 MB and 0.2 s."""
    try:
        return importlib.import_module(".kernels", __package__)
    except ImportError as error:
        raise CompilerMissing(
            "the compiled solver needs numba: pip install '.[compiled]'"
        ) from error


def _law(law: LayerLaw) -> tuple[int, Array, Array] | None:
    """Return a law as numbers, or None if it has no compiled form."""
    kernels, none = _kernels(), np.zeros((1, 4))
    if isinstance(law, LinearLaw) and law.modulus_per_area == 1.0:
        return kernels.LINEAR, np.ones(1), none
    if isinstance(law, TableLaw):
        return kernels.TABLE, np.array([1.0 / law.step]), law._intervals
    if isinstance(law, StiffeningLaw):
        return kernels.STIFFENING, np.array([law.pressure_scale, law.compression_scale]), none
    return None


def _rows_and_area(problems: Problems) -> tuple[Array, Array] | None:
    """Return rows (1 or P, M, N) and areas (1 or P, N), or None if they have no compiled form."""
    cells = problems.cells
    if problems.mean.groups == 1 and isinstance(cells, SharedCells):
        return _plain(cells.rows[None]), _plain(np.atleast_2d(cells.area))
    if problems.mean.groups == 1 and isinstance(cells, OwnCells):
        return _plain(cells.rows[:, :, 0]), _plain(cells.area[:, 0])
    return None


def _plain(array: Array) -> Array:
    """Return an array as the compiled code takes it: one layout, hence one compilation."""
    return np.require(array, float, ["C", "W"])


def iterate(
    problems: Problems, strain: Array, pose: Array, *, tolerance: float, max_iterations: int
) -> tuple[Iterate, NDArray[np.int64]]:
    """Do what `newton.iterate` does, compiled where laws and cells have such a form."""
    law, shapes = _law(problems.mean.law), _rows_and_area(problems)
    if law is None or shapes is None:
        return newton.iterate(
            problems, strain, pose, tolerance=tolerance, max_iterations=max_iterations
        )
    count, size = pose.shape
    scale = getattr(problems.cells, "scale", None)
    geometric = np.zeros((1, size, size)) if problems.geometric is None else problems.geometric
    now = Iterate(
        pose=pose.copy(),
        strain=np.zeros(strain.shape),
        stress=np.zeros(strain.shape),
        gradient=np.zeros(pose.shape),
        stiffness=np.zeros((count, size, size)),
        residual=np.zeros(count),
    )
    steps, ended = np.zeros(count, np.int64), np.zeros(count, np.int64)
    kernels = _kernels()
    kernels.balance_all(
        law,
        *shapes,
        _plain(problems.load),
        _plain(geometric),
        (
            np.ones(count) if scale is None else _plain(scale),
            _plain(problems.size),
            _plain(problems.reference),
            tolerance,
        ),
        max_iterations,
        (_plain(strain), now.pose, now.strain, now.stress, now.gradient, now.stiffness),
        (now.residual, steps, ended),
    )
    poor = np.flatnonzero(ended == kernels.POOR)
    if len(poor):
        rest, more = newton.iterate(
            problems.take(poor),
            strain[poor],
            now.pose[poor],
            tolerance=tolerance,
            max_iterations=max_iterations - int(steps[poor].min()),
        )
        now.put(poor, rest)
        steps[poor] += more
    return now, steps


def processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):  # not everywhere, and a container may be given fewer
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def in_threads(work: Callable[[slice], Done], parts: list[slice]) -> Iterator[Done]:
    """Yield the work on each part in order, done on as many at once as there are processors.

    No further ahead than that, so that the results of many parts need not be held together. Plain
    threads serve, as compiled code and large arrays let go of the interpreter.
    """
    workers = min(processors(), len(parts))
    if workers == 1:
        yield from map(work, parts)
        return
    with ThreadPoolExecutor(workers) as pool:
        for first in range(0, len(parts), workers):
            yield from pool.map(work, parts[first : first + workers])
