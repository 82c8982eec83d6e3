"""The cells' part of the contact iteration, for numba to compile; imported only where asked for.

One problem after the other, cell by cell, in the arithmetic of `laws`, `cells` and `newton`. Times
are for 2,560 cells and three components on the machine of ``tests/bench/contact.py``.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from typing import Any

import numpy as np

from .laws import STRAIGHT_FROM
from .newton import CURVATURE_FLOOR

numba: Any = importlib.import_module("numba")  # untyped, and absent where types are checked

BLOCK = 256  # cells weighed at once: their few arrays stay in the nearest cache
LINEAR, TABLE, STIFFENING = 0, 1, 2
BALANCED, POOR, UNFINISHED = 0, 1, 2
PAIRS = ((0, 0), (1, 0), (1, 1), (2, 0), (2, 1), (2, 2))


def compiled(function: Callable[..., Any]) -> Any:
    """Compile a function, keeping the result on disk where there is room for it.

    Sums may be taken in any order ('reassoc'), or no loop over cells would use the wide registers.
    """
    options = {"nogil": True, "fastmath": {"reassoc", "contract", "nsz"}}
    try:
        return numba.njit(cache=True, **options)(function)
    except RuntimeError:  # neither the package's nor the user's directory can be written to
        return numba.njit(**options)(function)


@compiled
def _respond_linear(strain, area, stress, weight):  # type: ignore[no-untyped-def]
    for i in range(len(strain)):
        stress[i] = max(strain[i], 0.0)
        weight[i] = area[i] if strain[i] > 0.0 else 0.0


@compiled
def _respond_table(numbers, intervals, strain, area, stress, weight):  # type: ignore[no-untyped-def]
    scale, last = numbers[0], len(intervals) - 1
    for i in range(len(strain)):
        stress[i] = weight[i] = 0.0
        if strain[i] > 0.0:
            t = strain[i] * scale
            k = int(min(t, last))
            t -= k
            c0, c1, c2, c3 = intervals[k, 0], intervals[k, 1], intervals[k, 2], intervals[k, 3]
            stress[i] = ((c3 * t + c2) * t + c1) * t + c0
            weight[i] = area[i] * scale * ((3.0 * c3 * t + 2.0 * c2) * t + c1)


@compiled
def _respond_stiffening(numbers, strain, area, stress, weight):  # type: ignore[no-untyped-def]
    pressure_scale, compression_scale = numbers[0], numbers[1]
    for i in range(len(strain)):
        stress[i] = weight[i] = 0.0
        if strain[i] > 0.0:
            x = strain[i] / compression_scale
            curved = min(x, STRAIGHT_FROM)
            growth = np.exp(curved)
            stress[i] = pressure_scale * (np.expm1(curved) + growth * (x - curved))
            weight[i] = area[i] * growth * (pressure_scale / compression_scale)


@compiled
def _strain_three(overlap, rows, first, pose, strain):  # type: ignore[no-untyped-def]
    end = first + len(strain)
    one, two, three = rows[0, first:end], rows[1, first:end], rows[2, first:end]
    for i in range(len(strain)):
        strain[i] = overlap[i] + pose[0] * one[i] + pose[1] * two[i] + pose[2] * three[i]


@compiled
def _strain(overlap, rows, first, pose, strain):  # type: ignore[no-untyped-def]
    for i in range(len(strain)):
        strain[i] = overlap[i]
    for m in range(len(pose)):
        row, turn = rows[m, first : first + len(strain)], pose[m]
        for i in range(len(strain)):
            strain[i] += turn * row[i]


@compiled
def _gather_three(rows, first, area, stress, weight, force, stiffness):  # type: ignore[no-untyped-def]
    """Add the forces of some cells for three components: one loop, twice as fast as one each."""
    end = first + len(stress)
    one, two, three = rows[0, first:end], rows[1, first:end], rows[2, first:end]
    f0 = f1 = f2 = k00 = k10 = k11 = k20 = k21 = k22 = 0.0
    for i in range(len(stress)):
        p, k = area[i] * stress[i], weight[i]
        f0 += one[i] * p
        f1 += two[i] * p
        f2 += three[i] * p
        a, b, c = one[i] * k, two[i] * k, three[i] * k
        k00 += a * one[i]
        k10 += a * two[i]
        k11 += b * two[i]
        k20 += a * three[i]
        k21 += b * three[i]
        k22 += c * three[i]
    for m, value in enumerate((f0, f1, f2)):
        force[m] += value
    for pair, value in enumerate((k00, k10, k11, k20, k21, k22)):
        m, n = PAIRS[pair]
        stiffness[m, n] += value
        stiffness[n, m] = stiffness[m, n]


@compiled
def _gather(rows, first, area, stress, weight, force, stiffness):  # type: ignore[no-untyped-def]
    """Add the forces of some cells: resultant and both halves of the stiffness."""
    for m in range(len(force)):
        row, total = rows[m, first : first + len(stress)], 0.0
        for i in range(len(stress)):
            total += row[i] * area[i] * stress[i]
        force[m] += total
        for n in range(m + 1):
            other, total = rows[n, first : first + len(stress)], 0.0
            for i in range(len(stress)):
                total += row[i] * weight[i] * other[i]
            stiffness[m, n] += total
            stiffness[n, m] = stiffness[m, n]


@compiled
def _stand(law, overlap, rows, area, pose, strain, stress, force, stiffness):  # type: ignore[no-untyped-def]
    """Strain and stress of one problem's cells at a pose, and what they add up to."""
    kind, numbers, intervals = law
    weights = np.zeros(BLOCK)
    force[:] = 0.0
    stiffness[:] = 0.0
    for first in range(0, len(overlap), BLOCK):
        end = min(first + BLOCK, len(overlap))
        u, p, a = strain[first:end], stress[first:end], area[first:end]
        weight = weights[: end - first]
        if len(pose) == 3:
            _strain_three(overlap[first:end], rows, first, pose, u)
        else:
            _strain(overlap[first:end], rows, first, pose, u)
        if kind == LINEAR:
            _respond_linear(u, a, p, weight)
        elif kind == TABLE:
            _respond_table(numbers, intervals, u, a, p, weight)
        else:
            _respond_stiffening(numbers, u, a, p, weight)
        if len(pose) == 3:
            _gather_three(rows, first, a, p, weight, force, stiffness)
        else:
            _gather(rows, first, a, p, weight, force, stiffness)


@compiled
def _step(matrix, gradient, step):  # type: ignore[no-untyped-def]
    """Solve matrix step = -gradient by Cholesky, in place; False where it isn't positive."""
    size = len(gradient)
    for m in range(size):
        for n in range(m + 1):
            value = matrix[m, n]
            for k in range(n):
                value -= matrix[m, k] * matrix[n, k]
            if m != n:
                matrix[m, n] = value / matrix[n, n]
            elif value > 0.0:
                matrix[m, m] = np.sqrt(value)
            else:
                return False
    for m in range(size):
        value = -gradient[m]
        for k in range(m):
            value -= matrix[m, k] * step[k]
        step[m] = value / matrix[m, m]
    for m in range(size - 1, -1, -1):
        value = step[m]
        for k in range(m + 1, size):
            value -= matrix[k, m] * step[k]
        step[m] = value / matrix[m, m]
    return True


@compiled
def _balance(law, rows, area, load, geometric, limits, state):  # type: ignore[no-untyped-def]
    """Take plain Newton steps until one problem is balanced or a step is poor."""
    scale, size, reference, tolerance, most = limits
    overlap, pose, strain, stress, gradient, stiffness = state
    count = len(pose)
    step, before, damped = np.zeros(count), pose.copy(), np.zeros((count, count))
    best, steps = np.inf, 0
    while True:
        _stand(law, overlap, rows, area, pose, strain, stress, gradient, stiffness)
        residual, trace = 0.0, 0.0
        for m in range(count):
            gradient[m] = scale * gradient[m] - load[m]
            for n in range(count):
                stiffness[m, n] *= scale
                gradient[m] += geometric[m, n] * pose[n]
            residual = max(residual, abs(gradient[m]) / size)
            trace += stiffness[m, m]
        if residual <= tolerance:
            return residual, steps, BALANCED
        if steps > 0 and not residual <= 0.5 * best:
            pose[:] = before
            return best, steps - 1, POOR
        best = residual
        if steps >= most:
            return residual, steps, UNFINISHED
        damping = (CURVATURE_FLOOR * min(residual, 1.0) + 1e-15) * (trace / count + reference)
        damped[:] = stiffness + geometric
        for m in range(count):
            damped[m, m] += damping
        if not _step(damped, gradient, step):
            return residual, steps, POOR
        before[:] = pose
        pose += step
        steps += 1


@compiled
def balance_all(law, rows, area, load, geometric, limits, most, state, out):  # type: ignore[no-untyped-def]
    """Balance every problem, each into its own place of the arrays."""
    overlap, pose, strain, stress, gradient, stiffness = state
    scale, size, reference, tolerance = limits
    residual, steps, ended = out
    for p in range(len(pose)):
        residual[p], steps[p], ended[p] = _balance(
            law,
            rows[p if len(rows) > 1 else 0],
            area[p if len(area) > 1 else 0],
            load[p],
            geometric[p if len(geometric) > 1 else 0],
            (scale[p], size[p], reference[p], tolerance, most),
            (overlap[p], pose[p], strain[p], stress[p], gradient[p], stiffness[p]),
        )
