"""The measures of many draws of one load case at once, on coarse cells.

Defined as in `measures`, with every count of rows or cells smoothed over the coarse step, so that
a small error makes a small change: a row or cell that just crosses a threshold counts in part.
Only differences between draws are used; the level of a measure comes from the fine cells.

Left out, because they count single cells or rows on the fine cells and have no meaning between
them: the length that touches at all, shares of the bars' halves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .measures import BEARING_ROW, GAP_RUN, LOADED_ROW, NOTED_PRESSURE, ZONES
from .profiles import SIDES, Array
from .response import Response

Key = tuple[str, str, str]  # code, zone, side
Drawn = dict[Key, Array]  # of each measure (P,)


@dataclass(frozen=True, eq=False)
class DrawnCase:
    """P draws of a case on (2, n, m) cells.

    `pressure` [Pa], `overlap` [m] and `cover` are (P, 2, n, m); `turn` (P, 3) is the change of the
    pose from the settled one; `load` (P, 3) and `stiffness` (P, 3, 3) act and resist about the axis
    in the drawn pose; `margin` (P,); `tip` (P,), `bearing` (P, 2, 2) and `reach` (P, 2) are the
    tree's [m]; `clearance` (P,) is the room over the withers at the settled pose.
    """

    pressure: Array
    overlap: Array
    cover: Array
    turn: Array
    load: Array
    stiffness: Array
    margin: Array
    tip: Array
    bearing: Array
    reach: Array
    clearance: Array


class CoarseCells:
    """The coarse cells of a response, and what stays the same in all its draws."""

    def __init__(self, response: Response, inward: Array, last_rib: float | None) -> None:
        patch = response.placed.patch
        self.response, self.last_rib, self.shape = response, last_rib, patch.shape
        self.area = patch.area.reshape(patch.shape)
        self.upward = patch.normals[:, 2].reshape(patch.shape)
        self.x = patch.points[:, 0].reshape(patch.shape)[0, :, 0]
        self.y = patch.points[:, 1].reshape(patch.shape)[:, 0]
        self.halves = np.stack([inward, 1.0 - inward], axis=-1).reshape(*patch.shape, 2)
        self.step = patch.step_x
        self.there = (response.cover > 0).reshape(patch.shape)

    def measured(self, case: DrawnCase) -> Drawn:
        """Return every measure of the draws, in the units of `measures`."""
        force = case.pressure * case.cover * self.area
        down = force * self.upward
        touched = case.cover * self.area * part_above(case.overlap, 0.0, axes=(2, 3))
        out = {
            ("load", "", ""): down.sum(axis=(1, 2, 3)),
            ("contact_area", "", ""): touched.sum(axis=(1, 2, 3)),
            ("noted_area", "", ""): self._noted(case, touched),
        }
        out |= self._by_part(case, down, force, touched)
        out |= self._supports(case, down.sum(axis=3))
        out |= self._gaps(case)
        out |= self._balance(case, down)
        out["left_share", "", ""] = out["share", "", "left"]
        return out

    def _noted(self, case: DrawnCase, touched: Array) -> Array:
        noted = part_above(case.pressure, NOTED_PRESSURE, axes=(2, 3))
        return np.asarray(np.minimum(touched, noted * self.area).sum(axis=(1, 2, 3)))

    def _thirds(self, case: DrawnCase) -> Array:
        """Share of each row in the front, middle and rear third, (P, 2, n, 3)."""
        start, end = case.bearing[..., :1], case.bearing[..., 1:]
        along = (self.x - case.tip[:, None, None] - start) / (end - start)
        reach = self.step / (end - start)
        past = [np.clip((along - at) / reach + 0.5, 0.0, 1.0) for at in (1 / 3, 2 / 3)]
        return np.stack([1 - past[0], past[0] - past[1], past[1]], axis=-1)

    def _by_part(self, case: DrawnCase, down: Array, force: Array, touched: Array) -> Drawn:
        thirds = self._thirds(case)
        loads = (down, force, touched)
        by_third = [np.einsum("psn,psnz->psz", part.sum(axis=3), thirds) for part in loads]
        by_half = [np.einsum("psnm,snmh->psh", part, self.halves) for part in loads]
        # A cell whose middle lies beyond the tree is pressed there as the tree never presses.
        pressed = case.pressure * np.minimum(2.0 * case.cover, 1.0)
        row_peak = pressed.max(axis=3)
        peak_third = (row_peak[..., None] * (thirds >= 0.5)).max(axis=2)
        peak_half = np.stack(
            [(pressed * (self.halves[..., h] >= 0.5)).max(axis=(2, 3)) for h in range(2)], -1
        )
        total = down.sum(axis=(1, 2, 3))
        third, half = np.stack([*by_third, peak_third]), np.stack([*by_half, peak_half])
        out = _of_part(third, total)
        for i, zone in enumerate(ZONES):
            out |= _of_part(third[..., i : i + 1], total, zone)
        for j, side in enumerate(SIDES):
            own = third[:, :, j : j + 1]
            out |= _of_part(own, total, "", side)
            for i, zone in enumerate(ZONES):
                out |= _of_part(own[..., i : i + 1], total, zone, side)
            for i, zone in enumerate(("inner", "outer")):
                parts = _of_part(half[:, :, j : j + 1, i : i + 1], total, zone, side)
                out |= {key: values for key, values in parts.items() if key[0] != "share"}
        return out | self._over_face(case, thirds, out)

    def _over_face(self, case: DrawnCase, thirds: Array, shares: Drawn) -> Drawn:
        """Share of the load on each third over its share of the face."""
        face = np.einsum("psn,psnz->pz", (case.cover * self.area).sum(axis=3), thirds)
        part = face / face.sum(axis=1, keepdims=True)
        return {
            ("share_over_face", zone, ""): shares["share", zone, ""] / np.maximum(part[:, i], 1e-9)
            for i, zone in enumerate(ZONES)
        }

    def _supports(self, case: DrawnCase, rows: Array) -> Drawn:
        """Lengths, start and end of support, load behind the last rib; rows (P, 2, n) [N]."""
        loaded = np.maximum((rows > 0).sum(axis=2), 1)
        low = (LOADED_ROW * rows.sum(axis=2) / loaded)[..., None]
        meant = self._meant(case)
        even = (rows.sum(axis=2) / np.maximum(meant, 1.0))[..., None]
        bears = part_above(rows, BEARING_ROW * even, axes=(2,)).sum(axis=2) * self.step
        span = case.bearing[..., 1] - case.bearing[..., 0]
        out: Drawn = {}
        for j, side in enumerate(SIDES):
            out["bearing_length", "", side] = bears[:, j]
            out["bearing_share", "", side] = bears[:, j] / span[:, j]
            start = first_above(self.x, rows[:, j], low[:, j])
            end = -first_above(-self.x[::-1], rows[:, j, ::-1], low[:, j])
            out["support_start", "", side] = np.maximum(start, case.tip)
            out["support_end", "", side] = np.minimum(end, case.tip + case.reach[:, j])
            if self.last_rib is not None:
                behind = np.clip((self.x - self.last_rib) / self.step + 0.5, 0.0, 1.0)
                whole = np.maximum(rows[:, j].sum(axis=1), 1e-9)
                out["share_behind_last_rib", "", side] = rows[:, j] @ behind / whole
        return out

    def _meant(self, case: DrawnCase) -> Array:
        """Rows (in part) of the bearing part of each side, (P, 2)."""
        return np.asarray((case.bearing[..., 1] - case.bearing[..., 0]) / self.step)

    def _gaps(self, case: DrawnCase) -> Drawn:
        gap = np.where(self.there, -case.overlap, np.inf).min(axis=3)
        run = max(1, round(GAP_RUN / self.step))
        out: Drawn = {}
        for j, side in enumerate(SIDES):
            own = gap[:, j]
            kept = np.flatnonzero(np.isfinite(own[0]))
            if not len(kept):
                continue
            own = own[:, kept]
            inner = np.where(_between_ends(own), own, -1.0)
            out["bridge_gap", "", side] = _held(inner, run)
            out["largest_gap", "", side] = np.maximum(inner.max(axis=1), 0.0)
            out["gap_length", "", side] = (inner > 0).sum(axis=1) * self.step
        return out

    def _balance(self, case: DrawnCase, down: Array) -> Drawn:
        total = np.maximum(down.sum(axis=(1, 2, 3)), 1e-9)
        axis = self.response.placed.axis
        heave, pitch, roll = (self.response.pose + case.turn).T
        forward = self.response.placed.tip + float(self.response.bearing[:, 0].mean()) - axis[0]
        room = case.clearance - case.turn[:, 0] - forward * case.turn[:, 1]
        return {
            ("heave", "", ""): heave,
            ("pitch", "", ""): pitch,
            ("roll", "", ""): roll,
            ("centre_of_pressure_x", "", ""): down.sum(axis=(1, 3)) @ self.x / total,
            ("centre_of_pressure_y", "", ""): np.einsum("psnm,sm->p", down, self.y) / total,
            ("resultant_x", "", ""): axis[0] + case.load[:, 1] / case.load[:, 0],
            ("resultant_y", "", ""): -case.load[:, 2] / case.load[:, 0],
            ("axis_x", "", ""): case.tip + (axis[0] - self.response.tip),
            ("axis_z", "", ""): axis[2] - heave,
            ("pitch_stiffness", "", ""): case.stiffness[:, 1, 1],
            ("roll_stiffness", "", ""): case.stiffness[:, 2, 2],
            ("stability_margin", "", ""): case.margin,
            ("withers_clearance", "", ""): room,
        }


def _of_part(parts: Array, total: Array, zone: str = "", side: str = "") -> Drawn:
    """Share, mean and peak of parts (4, P, sides, zones): down, force, touched area, peak."""
    down, force, touched = parts[:3].sum(axis=(2, 3))
    return {
        ("share", zone, side): down / np.maximum(total, 1e-9),
        ("mean_pressure", zone, side): force / np.maximum(touched, 1e-9),
        ("peak_pressure", zone, side): parts[3].max(axis=(1, 2)),
    }


def part_above(values: Array, limit: Array | float, *, axes: tuple[int, ...]) -> Array:
    """Return how much of each cell (0 to 1) lies above a limit, by the range to its neighbours."""
    slopes = np.gradient(values, axis=axes)
    slopes = slopes if isinstance(slopes, list | tuple) else [slopes]
    spread = np.sqrt(sum(s * s for s in slopes))
    return np.asarray(np.clip((values - limit) / np.maximum(spread, 1e-12) + 0.5, 0.0, 1.0), float)


def first_above(x: Array, values: Array, limit: Array) -> Array:
    """Return where values (P, n) first pass a limit (P, 1), between the places x (n,)."""
    above = values > limit
    at = above.argmax(axis=1)
    draws = np.arange(len(values))
    before = np.maximum(at - 1, 0)
    low, high = values[draws, before], values[draws, at]
    share = np.clip((limit[:, 0] - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
    crossed = x[before] + share * (x[at] - x[before])
    found = np.where(at == 0, x[0] - (x[1] - x[0]) / 2, crossed)
    return np.asarray(np.where(above.any(axis=1), found, np.nan), float)


def _between_ends(gap: Array) -> Array:
    """True (P, n) from the first row that touches to the last."""
    touching = gap < 0
    ahead = np.maximum.accumulate(touching, axis=1)
    behind = np.maximum.accumulate(touching[:, ::-1], axis=1)[:, ::-1]
    return np.asarray(ahead & behind)


def _held(gap: Array, run: int) -> Array:
    """Largest gap (P,) that holds over a run of rows [m]."""
    if gap.shape[1] < run:
        return np.zeros(len(gap))
    windows = np.lib.stride_tricks.sliding_window_view(gap, run, axis=1)
    return np.asarray(np.maximum(windows.min(axis=2).max(axis=1), 0.0))
