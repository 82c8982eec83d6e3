"""Contact of a body with the back through a layer that pushes and never pulls.

Conventions: the pose ``q`` is small (heave, pitch, roll for a tree; the solver takes any number of
components, the first of which presses every cell). A cell's overlap is ``u = u0 + B q`` [m], along
its own normal; a row of B is the normal's work per unit of pose, so that a pressure p on area A puts
the generalised force ``A p B`` on the body. In balance that sum equals the load ``f - G q``.

A cell may be given a *spread* r, the range of overlap across it. It then pushes with the mean of the
law over that range, so that the edge of contact may run through a cell. Where it does, 'pressure
times gap is zero' holds point by point inside the cell: the part with overlap below zero carries
nothing, and a cell carries nothing at all once its deepest point ``u + r/2`` is open.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from .errors import EngineError, InvalidShape, LoadOutsideSupport, NotConverged, StabilityLost
from .cells import lay_out
from .newton import Problems, iterate, respond
from .support import Array, LayerLaw

CONVERGED, OUTSIDE, UNSTABLE, UNFINISHED = 0, 1, 2, 3
SMALLEST_SPREAD = 1e-5  # of the mean compression; below it the mean over a cell is rounding noise
SPREAD_ROUNDS = 3  # solves with the spread of the last pose; the third changes it by rounding only


@dataclass(frozen=True)
class ContactBatch:
    """P contact problems of N cells and M pose components.

    Attributes
    ----------
    overlap : (P, N) array
        Approach u0 at zero pose, positive where the tree would be inside the back [m].
    rows : (N, M) or (P, N, M) array
        B, so that the overlap is u0 + B q.
    area : (N,) or (P, N) array
        Of each cell [m2]; zero for a cell that isn't there.
    law : LayerLaw
        Pressure of the layer between the two.
    load : (P, M) array
        Generalised force f: force [N], then moments [N m] that work with the rows.
    pose_stiffness : (M, M) or (P, M, M) array, optional
        G in the energy 1/2 q.G q: springs on the pose; a load P at height H above the axis adds
        -P H on pitch and roll.
    spread : (N,) or (P, N) array, optional
        Range of overlap across a cell at zero pose [m].
    spread_rows : (N, M) or (P, N, M) array, optional
        Change of that (signed) range with the pose; taken up between solves.
    pressure_scale : (P,) array, optional
        Factor on the law's pressure for each problem, default 1.
    """

    overlap: Array
    rows: Array
    area: Array
    law: LayerLaw
    load: Array
    pose_stiffness: Array | None = None
    spread: Array | None = None
    spread_rows: Array | None = None
    pressure_scale: Array | None = None


@dataclass(frozen=True)
class ContactSolution:
    """Balanced poses and what the cells carry.

    Attributes
    ----------
    pose : (P, M) array
        q.
    overlap : (P, N) array
        u0 + B q at the middle of each cell; negative is a gap [m].
    pressure : (P, N) array
        Mean over the cell, along its normal [Pa].
    contact : (P, N) array
        Share of the cell in contact, 0 to 1.
    residual : (P,) array
        Largest force out of balance over the load, moments by the rows' root mean square.
    iterations : (P,) array
        Newton steps.
    stiffness : (P, M, M) array
        Tangent of contact and pose stiffness together at the solution.
    margin : (P,) array
        Least of x.(K + G)x / x.K x, with K the contact's tangent: 1 without G, 0 when stability is
        lost. Also 0 when K resists some direction with nothing at all.
    status : (P,) array
        0 balanced, 1 load outside the support, 2 stability lost, 3 not converged.
    spread : (P, N) array or None
        Range of overlap across the cells in the final pose [m].
    """

    pose: Array
    overlap: Array
    pressure: Array
    contact: Array
    residual: Array
    iterations: NDArray[np.int64]
    stiffness: Array
    margin: Array
    status: NDArray[np.int64]
    spread: Array | None = None


def solve_contact(
    batch: ContactBatch,
    *,
    tolerance: float = 1e-10,
    max_iterations: int = 60,
    start: Array | None = None,
    chunk: int = 64,
    strict: bool = True,
) -> ContactSolution:
    """Find the poses in which pressures and loads balance.

    Parameters
    ----------
    batch : ContactBatch
        The problems.
    tolerance : float
        Force out of balance, relative to the load.
    max_iterations : int
        Newton steps allowed.
    start : (P, M) array, optional
        Poses to start from; by default those of a layer that also pulls.
    chunk : int
        Problems solved together; bounds the memory.
    strict : bool
        Raise at the first problem that has no answer; if False, mark it in ``status``.

    Returns
    -------
    ContactSolution

    Raises
    ------
    InvalidShape
        If shapes disagree or a number isn't finite.
    LoadOutsideSupport, StabilityLost, NotConverged
        If ``strict`` and a problem has no balanced pose, or none was found.
    """
    batch = _checked(batch, start)
    parts = []
    for first in range(0, len(batch.overlap), chunk):
        pick = slice(first, first + chunk)
        given = None if start is None else np.asarray(start, float)[pick]
        part = _solve_chunk(_pick(batch, pick), given, tolerance, max_iterations)
        if strict:
            _raise_first_failure(batch, part, first)
        parts.append(part)
    return _joined(parts)


def feasible_load(batch: ContactBatch) -> Array:
    """Return how far inside the support each load acts, (P,).

    Returns
    -------
    (P,) array
        1 when the load is the resultant of an even pressure on all cells, 0 when it acts on the
        edge of the support (the convex hull of what the cells can offer), negative outside; minus
        infinity for a load that pulls.

    Notes
    -----
    With f_c the load of equal size at the centre and cone(B) all resultants of pushing pressures,
    the largest s with f_c + s (f - f_c) in cone(B) follows from a linear programme; the margin is
    1 - 1/s. It holds for any layer, as it only asks which way the cells can push, and for the load
    at zero pose.
    """
    batch = _checked(batch, None)
    margins = np.zeros(len(batch.load))
    for problem in range(len(batch.load)):
        part = _pick(batch, slice(problem, problem + 1))
        margins[problem] = _support_margin(_own_rows(part), part.load[0])
    return margins


def _own_rows(single: ContactBatch) -> Array:
    """Rows of the cells that are there, (n, M), of a batch of one."""
    rows = single.rows if single.rows.ndim == 2 else single.rows[0]
    area = single.area if single.area.ndim == 1 else single.area[0]
    return np.asarray(rows[area > 0.0], float)


def _support_margin(rows: Array, load: Array) -> float:
    if load[0] <= 0.0:
        return -np.inf
    size = np.max(np.abs(rows), axis=0)
    unit = np.where(size > 1e-12 * np.max(size), size, np.max(size))
    scaled, target = rows / unit, load / unit / (load[0] / unit[0])
    centre = np.mean(scaled, axis=0) / np.mean(scaled[:, 0])
    away = target - centre
    if np.max(np.abs(away)) < 1e-12:
        return 1.0
    equations = np.column_stack([scaled.T, -away])
    cost = np.append(np.zeros(len(scaled)), -1.0)
    answer = linprog(cost, A_eq=equations, b_eq=centre, bounds=(0.0, None), method="highs")
    if answer.status != 0 or answer.x[-1] <= 0.0:
        return -np.inf
    return float(1.0 - 1.0 / answer.x[-1])


def _checked(batch: ContactBatch, start: Array | None) -> ContactBatch:
    """Return the batch as float arrays with P, N, M agreeing, or say what doesn't."""
    overlap = _finite("overlap", batch.overlap, ndim=(2,))
    rows = _finite("rows", batch.rows, ndim=(2, 3))
    p, n = overlap.shape
    m = rows.shape[-1]
    wanted = {
        "rows": ((n, m), (p, n, m)),
        "area": ((n,), (p, n)),
        "load": ((p, m),),
        "pose_stiffness": ((m, m), (p, m, m)),
        "spread": ((n,), (p, n)),
        "spread_rows": ((n, m), (p, n, m)),
        "pressure_scale": ((p,),),
    }
    fields = {}
    for name, shapes in wanted.items():
        value = getattr(batch, name)
        if value is not None:
            fields[name] = _finite(name, value, shapes=shapes)
    for name in ("area", "spread", "pressure_scale"):
        if name in fields and np.any(fields[name] < 0.0):
            raise InvalidShape(f"must not be negative, got {fields[name].min():g}", path=name)
    if np.any(np.sum(fields["area"], axis=-1) <= 0.0):
        raise InvalidShape("at least one cell must have an area", path="area")
    if start is not None:
        _finite("start", start, shapes=((p, m),))
    return replace(batch, overlap=overlap, **fields)


def _finite(
    name: str,
    value: Array,
    *,
    ndim: tuple[int, ...] = (),
    shapes: tuple[tuple[int, ...], ...] = (),
) -> Array:
    array = np.asarray(value, float)
    if ndim and array.ndim not in ndim:
        raise InvalidShape(f"needs {ndim} dimensions, got shape {array.shape}", path=name)
    if shapes and array.shape not in shapes:
        wanted = " or ".join(str(shape) for shape in shapes)
        raise InvalidShape(f"needs shape {wanted}, got {array.shape}", path=name)
    if not np.all(np.isfinite(array)):
        raise InvalidShape("holds a number that isn't finite", path=name)
    return array


def _pick(batch: ContactBatch, part: slice) -> ContactBatch:
    """Some problems of a batch; whatever they share stays shared."""
    own = {"rows": 3, "area": 2, "pose_stiffness": 3, "spread": 2, "spread_rows": 3}
    fields = {name: getattr(batch, name) for name in own}
    picked = {
        name: value[part]
        for name, value in fields.items()
        if value is not None and value.ndim == own[name]
    }
    scale = None if batch.pressure_scale is None else batch.pressure_scale[part]
    return replace(
        batch,
        overlap=batch.overlap[part],
        load=batch.load[part],
        pressure_scale=scale,
        **picked,
    )


def _row_units(rows: Array, count: int) -> Array:
    """Root mean square of each component of the rows, (P, M); 1 for one that does nothing."""
    size = np.sqrt(np.mean(rows * rows, axis=-2))
    size = np.where(size > 1e-12 * np.max(size, axis=-1, keepdims=True), size, 1.0)
    return np.broadcast_to(size, (count, rows.shape[-1])).copy()


def _problems(batch: ContactBatch) -> Problems:
    count, m = batch.load.shape
    unit = _row_units(batch.rows, count)
    geometric = batch.pose_stiffness
    if geometric is not None:
        geometric = np.broadcast_to(geometric, (count, m, m))
    total = _total_area(batch)
    mean = batch.load[:, 0] / unit[:, 0] / total
    return Problems(
        cells=lay_out(batch.rows, batch.area, batch.pressure_scale, count),
        law=batch.law,
        spread=None,
        load=batch.load,
        geometric=geometric,
        unit=unit,
        reference=total * mean / batch.law.compression(mean),
    )


def _total_area(batch: ContactBatch) -> Array:
    """Area of each problem (P,), weighted by the factor on its pressure [m2]."""
    total = np.broadcast_to(np.sum(batch.area, axis=-1), (len(batch.load),))
    return total if batch.pressure_scale is None else total * batch.pressure_scale


def _bonded_pose(batch: ContactBatch, problems: Problems) -> Array:
    """Pose if every cell were a spring that also pulls, at the secant of the mean pressure."""
    cells, unit = problems.cells, problems.unit
    even = (problems.reference / _total_area(batch))[:, None]
    stiffness = cells.stiffness(np.broadcast_to(even, batch.overlap.shape))
    force = batch.load - cells.resultant(even * batch.overlap)
    scaled = stiffness / (unit[:, :, None] * unit[:, None, :])
    inverse = np.linalg.pinv(scaled, rcond=1e-9, hermitian=True)
    return np.asarray(np.matmul(inverse, (force / unit)[:, :, None])[:, :, 0] / unit, float)


def _spread_at(batch: ContactBatch, problems: Problems, pose: Array) -> Array | None:
    if batch.spread is None and batch.spread_rows is None:
        return None
    spread = np.zeros_like(batch.overlap) if batch.spread is None else batch.spread
    if batch.spread_rows is not None:
        change = lay_out(batch.spread_rows, batch.area, None, len(pose)).approach(pose)
        spread = np.abs(spread + change)
    floor = SMALLEST_SPREAD * batch.load[:, 0] / problems.unit[:, 0] / problems.reference
    return np.maximum(np.broadcast_to(spread, batch.overlap.shape), floor[:, None])


def _solve_chunk(
    batch: ContactBatch, start: Array | None, tolerance: float, max_iterations: int
) -> ContactSolution:
    pulling = batch.load[:, 0] <= 0.0
    if np.any(pulling):
        push = np.where(pulling[:, None], np.eye(1, batch.load.shape[1]), batch.load)
        solution = _solve_chunk(replace(batch, load=push), start, tolerance, max_iterations)
        return _voided(solution, pulling)
    problems = _problems(batch)
    pose = _bonded_pose(batch, problems) if start is None else start
    steps = np.zeros(len(pose), dtype=np.int64)
    for _ in range(1 if batch.spread_rows is None else SPREAD_ROUNDS):
        problems = replace(problems, spread=_spread_at(batch, problems, pose))
        pose, more = iterate(
            problems, batch.overlap, pose, tolerance=tolerance, max_iterations=max_iterations
        )
        steps += more
    return _judged(batch, _described(batch, problems, pose, steps), tolerance)


def _described(
    batch: ContactBatch, problems: Problems, pose: Array, steps: NDArray[np.int64]
) -> ContactSolution:
    overlap = batch.overlap + problems.cells.approach(pose)
    pressure, tangent = respond(problems.law, overlap, problems.spread)
    gradient = problems.cells.resultant(pressure) - problems.external(pose)
    stiffness = problems.cells.stiffness(tangent)
    if batch.pressure_scale is not None:
        pressure = pressure * batch.pressure_scale[:, None]
    return ContactSolution(
        pose=pose,
        overlap=overlap,
        pressure=pressure,
        contact=_share_in_contact(overlap, problems.spread),
        residual=problems.relative(gradient),
        iterations=steps,
        stiffness=stiffness if problems.geometric is None else stiffness + problems.geometric,
        margin=_stability_margin(stiffness, problems.geometric, problems.unit),
        status=np.zeros(len(pose), dtype=np.int64),
        spread=problems.spread,
    )


def _share_in_contact(overlap: Array, spread: Array | None) -> Array:
    if spread is None:
        return (overlap > 0.0).astype(float)
    return np.clip(overlap / spread + 0.5, 0.0, 1.0)


def _stability_margin(contact: Array, geometric: Array | None, unit: Array) -> Array:
    """Least eigenvalue of (K + G) x = lambda K x; zero if K itself is singular."""
    square = unit[:, :, None] * unit[:, None, :]
    values, vectors = np.linalg.eigh(contact / square)
    floor = 1e-12 * np.maximum(values[:, -1:], np.finfo(float).tiny)
    sound = values[:, 0] > floor[:, 0]
    if geometric is None:
        return sound.astype(float)
    root = vectors / np.sqrt(np.maximum(values, floor))[:, None, :]
    inside = np.matmul(root.transpose(0, 2, 1), np.matmul(geometric / square, root))
    least = 1.0 + np.linalg.eigvalsh(inside)[:, 0]
    return np.where(sound, least, np.minimum(least, 0.0))


def _judged(batch: ContactBatch, solution: ContactSolution, tolerance: float) -> ContactSolution:
    """Mark what isn't balanced with the reason."""
    status = solution.status.copy()
    # One more digit than asked is lost when the overlap is recomputed from the pose.
    balanced = solution.residual <= max(10.0 * tolerance, 1e-12)
    for problem in np.flatnonzero(~balanced):
        part = _pick(batch, slice(problem, problem + 1))
        inside = _support_margin(_own_rows(part), part.load[0])
        if inside <= 0.0:
            status[problem] = OUTSIDE
        elif batch.pose_stiffness is not None and not solution.margin[problem] > 0.0:
            status[problem] = UNSTABLE
        else:
            status[problem] = UNFINISHED
    if batch.pose_stiffness is not None:
        status[balanced & (solution.margin < 0.0)] = UNSTABLE
    return replace(solution, status=status)


def _voided(solution: ContactSolution, pulling: NDArray[np.bool_]) -> ContactSolution:
    """The answer of a batch in which some loads pull: nothing can balance those."""
    status = np.where(pulling, OUTSIDE, solution.status)
    residual = np.where(pulling, np.inf, solution.residual)
    pose = np.where(pulling[:, None], np.nan, solution.pose)
    pressure = np.where(pulling[:, None], np.nan, solution.pressure)
    return replace(solution, status=status, residual=residual, pose=pose, pressure=pressure)


def _raise_first_failure(batch: ContactBatch, part: ContactSolution, first: int) -> None:
    failed = np.flatnonzero(part.status)
    if len(failed):
        here = int(failed[0])
        raise _failure(batch, part, here, first + here)


def _failure(batch: ContactBatch, part: ContactSolution, here: int, problem: int) -> EngineError:
    margin, residual = float(part.margin[here]), float(part.residual[here])
    if part.status[here] == OUTSIDE:
        return _outside(_pick(batch, slice(problem, problem + 1)), problem)
    if part.status[here] == UNSTABLE:
        return StabilityLost(
            f"the load leans faster than the contact resists (margin {margin:.3g})",
            margin=margin,
            problem=problem,
        )
    return NotConverged(
        f"forces out of balance by {residual:.2g} of the load after {part.iterations[here]} steps",
        residual=residual,
        iterations=int(part.iterations[here]),
        problem=problem,
    )


def _outside(single: ContactBatch, problem: int) -> LoadOutsideSupport:
    rows, load = _own_rows(single), single.load[0]
    if load[0] <= 0.0:
        return LoadOutsideSupport(f"the load pulls ({load[0]:g})", problem=problem, margin=-np.inf)
    arms = rows[:, 1:] / rows[:, :1]
    acting = load[1:] / load[0]
    low, high = arms.min(axis=0), arms.max(axis=0)
    ranges = ", ".join(
        f"{a:.3f} m (support {lo:.3f} to {hi:.3f} m)"
        for a, lo, hi in zip(acting, low, high, strict=True)
    )
    return LoadOutsideSupport(
        f"the load acts outside the support: lever arms {ranges}",
        lever_arms=tuple(map(float, acting)),
        support_low=tuple(map(float, low)),
        support_high=tuple(map(float, high)),
        margin=_support_margin(rows, load),
        problem=problem,
    )


def _joined(parts: list[ContactSolution]) -> ContactSolution:
    def together(name: str) -> Array | None:
        values = [getattr(part, name) for part in parts]
        return None if values[0] is None else np.concatenate(values)

    names = ContactSolution.__dataclass_fields__
    return ContactSolution(**{name: together(name) for name in names})  # type: ignore[arg-type]
