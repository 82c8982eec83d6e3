"""Measures on fields made by hand, where the right number is plain."""

from dataclasses import replace

import numpy as np
import pytest

from fitting.engine.measures import (
    Field,
    gap_measures,
    load_measures,
    row_gap,
    support_measures,
)

ROWS, COLUMNS, STEP = 60, 8, 0.01


def field(pressure: np.ndarray | float = 10e3, gap: np.ndarray | float = -0.01) -> Field:
    """Two level bars 0.60 m long and 80 mm wide, cells of 1 cm2, bearing from end to end."""
    shape = (2, ROWS, COLUMNS)
    p = np.broadcast_to(np.asarray(pressure, float), shape).copy()
    x = np.broadcast_to(STEP * (np.arange(ROWS) + 0.5)[:, None], shape)
    y = np.broadcast_to(0.05 + STEP * (np.arange(COLUMNS) + 0.5), shape)
    return Field(
        pressure=p,
        gap=np.broadcast_to(np.asarray(gap, float), shape).copy(),
        force=p * STEP**2,
        normal_force=p * STEP**2,
        touched=(p > 0) * STEP**2,
        face=np.full(shape, STEP**2),
        x=x,
        y=y,
        along=x / (ROWS * STEP),
        inward=y < 0.09,
        step=STEP,
    )


def found(measures, code, zone="", side=""):
    return next(m.value for m in measures if (m.code, m.zone, m.side) == (code, zone, side))


def rows(values: np.ndarray) -> np.ndarray:
    return np.asarray(values, float)[None, :, None]


def test_even_pressure_is_shared_evenly():
    measures = load_measures(field())
    for zone in ("cranial", "middle", "caudal"):
        assert found(measures, "share", zone) == pytest.approx(1 / 3)
        assert found(measures, "mean_pressure", zone, "left") == pytest.approx(10e3)
    assert found(measures, "share", side="left") == pytest.approx(0.5)
    assert found(measures, "load") == pytest.approx(2 * 0.6 * 0.08 * 10e3)
    assert found(measures, "contact_area") == pytest.approx(2 * 0.6 * 0.08)


def test_share_over_the_face_is_even_whatever_the_waist():
    """Even pressure on a bar half as wide in the middle: 1 in every third, though shares differ."""
    there = np.broadcast_to(np.arange(COLUMNS) < COLUMNS // 2, (2, ROWS, COLUMNS)).copy()
    there[:, :20], there[:, 40:] = True, True
    even = field(10e3 * there)
    waisted = load_measures(replace(even, face=even.face * there))
    for zone in ("cranial", "middle", "caudal"):
        assert found(waisted, "share_over_face", zone) == pytest.approx(1.0)
    assert found(waisted, "share", "middle") == pytest.approx(0.2)
    full = load_measures(even)  # the same load on a face of full width: half of even
    assert found(full, "share_over_face", "middle") == pytest.approx(0.6)


def test_empty_middle_has_no_share_and_no_mean():
    pressure = rows(np.where(np.abs(np.arange(ROWS) - 29.5) < 10, 0.0, 15e3))
    measures = load_measures(field(pressure))
    assert found(measures, "share", "middle") == 0.0
    assert found(measures, "mean_pressure", "middle") == 0.0
    assert found(measures, "mean_pressure", "cranial") == pytest.approx(15e3)


def test_mean_is_over_the_cells_in_contact():
    half_empty = np.zeros((2, ROWS, COLUMNS))
    half_empty[:, :, :4] = 20e3
    measures = load_measures(field(half_empty))
    assert found(measures, "mean_pressure") == pytest.approx(20e3)
    assert found(measures, "share", "inner", "left") == pytest.approx(0.5)
    assert found(measures, "mean_pressure", "outer", "left") == 0.0


def test_area_over_eleven_kilopascals():
    pressure = rows(np.where(np.arange(ROWS) < 15, 11.1e3, 10.9e3))
    assert found(load_measures(field(pressure)), "noted_area") == pytest.approx(2 * 0.15 * 0.08)


def test_peak_is_the_highest_cell_of_its_zone():
    spot = np.full((2, ROWS, COLUMNS), 10e3)
    spot[1, 55, 3] = 40e3
    measures = load_measures(field(spot))
    assert found(measures, "peak_pressure", "caudal", "right") == 40e3
    assert found(measures, "peak_pressure", "caudal", "left") == 10e3


def test_load_behind_the_last_rib():
    share = found(support_measures(field(), 0.45), "share_behind_last_rib", side="left")
    assert share == pytest.approx(0.25)
    part = found(support_measures(field(), 0.453), "share_behind_last_rib", side="left")
    assert part == pytest.approx(0.147 / 0.6)  # the rib may lie inside a row


def test_support_begins_and_ends_where_the_load_does():
    pressure = rows(np.where((np.arange(ROWS) >= 5) & (np.arange(ROWS) < 50), 10e3, 0.0))
    measures = support_measures(field(pressure), None)
    assert found(measures, "support_start", side="left") == pytest.approx(0.05)
    assert found(measures, "support_end", side="left") == pytest.approx(0.50)
    assert found(measures, "bearing_length", side="left") == pytest.approx(0.45)


def test_a_row_that_only_touches_does_not_bear():
    """Two ends at 10 kPa and a middle that carries 1 kPa: the middle third touches, no more."""
    third = (np.arange(ROWS) >= ROWS // 3) & (np.arange(ROWS) < 2 * ROWS // 3)
    measures = support_measures(field(rows(np.where(third, 1e3, 10e3))), None)
    whole = found(measures, "contact_length", side="left")
    assert found(measures, "bearing_length", side="left") == pytest.approx(2 / 3 * whole)
    even = support_measures(field(rows(np.full(ROWS, 7e3))), None)
    assert found(even, "bearing_length", side="left") == pytest.approx(whole)


def gap_in_the_middle(width_rows: int, size: float) -> Field:
    inside = np.abs(np.arange(ROWS) - 29.5) < width_rows / 2
    return field(rows(np.where(inside, 0.0, 10e3)), rows(np.where(inside, size, -0.004)))


@pytest.mark.parametrize(("width_rows", "held"), [(14, 0.009), (10, 0.009), (8, 0.0)])
def test_bridge_is_a_gap_held_over_four_inches(width_rows, held):
    measures = gap_measures(gap_in_the_middle(width_rows, 0.009))
    assert found(measures, "bridge_gap", side="left") == pytest.approx(held)
    assert found(measures, "largest_gap", side="left") == pytest.approx(0.009)
    assert found(measures, "gap_length", side="left") == pytest.approx(width_rows * STEP)


def test_air_beyond_the_ends_is_no_bridge():
    gap = rows(np.where(np.arange(ROWS) < 20, 0.02, -0.004))
    measures = gap_measures(field(gap=gap))
    assert found(measures, "bridge_gap", side="left") == 0.0


def test_row_touching_anywhere_across_has_no_gap():
    gap = np.full((2, ROWS, COLUMNS), 0.01)
    gap[:, 30, 2] = -0.001
    assert row_gap(field(gap=gap), 0)[30] < 0
    assert row_gap(field(gap=gap), 0)[31] == pytest.approx(0.01)


def test_side_off_the_tree_is_left_out():
    one_sided = field()
    blank = np.stack([one_sided.gap[0], np.full((ROWS, COLUMNS), np.nan)])
    measures = gap_measures(replace(one_sided, gap=blank))
    assert {m.side for m in measures} == {"left"}
