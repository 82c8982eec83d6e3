"""A set of contact problems, and its checks at the door."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .errors import InvalidShape
from .laws import Array, LayerLaw


@dataclass(frozen=True)
class ContactBatch:
    """P contact problems of N cells and M pose components.

    Attributes
    ----------
    overlap : (P, N) array
        Approach u0 at zero pose, positive where the tree would be inside the back [m]: at the
        middle of each cell, or better, when ranges are given, its mean over the cell.
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
        Range of overlap along a cell at zero pose: its value at the far end less that at the near
        one [m].
    spread_rows : (N, M) or (P, N, M) array, optional
        Change of that range with the pose: the rows at the far end less those at the near one.
    cross_spread, cross_spread_rows : optional
        The same across the cell.
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
    cross_spread: Array | None = None
    cross_spread_rows: Array | None = None
    pressure_scale: Array | None = None

    @property
    def groups(self) -> int:
        """1 for cells judged at their middle, 2 with their range along, 3 and across."""
        if self.cross_spread is not None or self.cross_spread_rows is not None:
            return 3
        return 1 if self.spread is None and self.spread_rows is None else 2

    def strain(self) -> Array:
        """Return overlap and ranges at zero pose side by side, (P, G N)."""
        if self.groups == 1:
            return self.overlap
        given = (self.overlap, self.spread, self.cross_spread)[: self.groups]
        shape = self.overlap.shape
        return np.hstack([np.broadcast_to(0.0 if g is None else g, shape) for g in given])

    def all_rows(self) -> Array:
        """Return the rows of overlap and ranges, (G, N, M) or (P, G, N, M)."""
        if self.groups == 1:
            return self.rows[..., None, :, :]
        given = (self.rows, self.spread_rows, self.cross_spread_rows)[: self.groups]
        filled = [np.zeros_like(self.rows) if g is None else g for g in given]
        return np.stack(np.broadcast_arrays(*filled), axis=-3)

    def total_area(self) -> Array:
        """Return the area of each problem (P,), weighted by the factor on its pressure [m2]."""
        total = np.broadcast_to(np.sum(self.area, axis=-1), (len(self.load),))
        return total if self.pressure_scale is None else total * self.pressure_scale

    def pick(self, part: slice) -> ContactBatch:
        """Return some of the problems; whatever they share stays shared."""
        own = {
            "rows": 3,
            "area": 2,
            "pose_stiffness": 3,
            "spread": 2,
            "spread_rows": 3,
            "cross_spread": 2,
            "cross_spread_rows": 3,
            "pressure_scale": 1,
        }
        fields = {name: getattr(self, name) for name in own}
        picked = {
            name: value[part]
            for name, value in fields.items()
            if value is not None and value.ndim == own[name]
        }
        return replace(self, overlap=self.overlap[part], load=self.load[part], **picked)


def checked_batch(batch: ContactBatch, start: Array | None = None) -> ContactBatch:
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
        "cross_spread": ((n,), (p, n)),
        "cross_spread_rows": ((n, m), (p, n, m)),
        "pressure_scale": ((p,),),
    }
    fields: dict[str, Any] = {}
    for name, shapes in wanted.items():
        value = getattr(batch, name)
        if value is not None:
            fields[name] = _finite(name, value, shapes=shapes)
    for name in ("area", "pressure_scale"):
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
