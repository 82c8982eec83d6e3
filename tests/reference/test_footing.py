"""A flat bar pressed off its middle: the footing of foundation engineering (checks C1 to C4).

Sources: Roark's Formulas for Stress and Strain, short prisms loaded eccentrically, stress reversal
impossible [from memory]; Irles & Irles, J. Geotech. Eng. 1994 [abstract seen]; Bellos & Bakas, Int.
J. Geomech. 2017, doi 10.1061/(ASCE)GM.1943-5622.0000874 [abstract seen]; Ozmen, Teknik Dergi 22(4),
2011, 5659-5674 [abstract seen].
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from fitting.engine import reference

from .cases import FINE, FINE_STRIP, LENGTH, MODULUS, PROD, WIDTH, Bar, all_differ, compare

DATA = Path(__file__).parent / "data"


def read_table(name):
    lines = (DATA / name).read_text().splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def ends(bar, solution):
    """Pressures at the two ends, and the length in contact, all from the pose."""
    heave, pitch, _ = solution.pose[0]
    high, low = heave + pitch * LENGTH / 2, heave - pitch * LENGTH / 2
    length = LENGTH if low >= 0 else high / pitch
    return {"highest": MODULUS * high, "lowest": MODULUS * low, "contact": length}


C1 = {"highest": 29_547.88, "lowest": 8_187.968, "contact": 0.53}
C2 = {"highest": 57_971.01, "contact": 0.3450}


@pytest.mark.parametrize(("grid", "tolerance"), [(PROD, 5e-4), (FINE_STRIP, 1e-5)])
def test_c1_load_inside_the_kern_presses_the_whole_bar(grid, tolerance):
    bar = Bar.of(grid)
    found = ends(bar, bar.under(1000, 0.05))
    closed = vars(
        reference.eccentric_strip(load=1000, length=LENGTH, width=WIDTH, eccentricity=0.05)
    )
    compare(found, closed, tolerance=tolerance)
    compare(closed, C1, tolerance=1e-6)
    wrong = ends(bar, bar.under(1000, 0.051))
    pressures = {name: C1[name] for name in ("highest", "lowest")}
    assert all_differ(wrong, pressures, tolerance=tolerance)


@pytest.mark.parametrize(("grid", "tolerance"), [(PROD, 1e-3), (FINE_STRIP, 1e-5)])
def test_c2_load_outside_the_kern_lifts_one_end(grid, tolerance):
    bar = Bar.of(grid)
    found = ends(bar, bar.under(1000, 0.15))
    closed = reference.eccentric_strip(load=1000, length=LENGTH, width=WIDTH, eccentricity=0.15)
    compare(found, {"highest": closed.highest, "contact": closed.contact}, tolerance=tolerance)
    compare(vars(closed), C2, tolerance=1e-6)
    compare(found, C2, tolerance=tolerance)


@pytest.mark.parametrize("tolerance", [1e-3, 1e-5])
def test_c2_twin_a_layer_that_pulls_is_caught(tolerance):
    # A layer that pulls keeps the whole bar in contact: Navier's q = P/(LW)(1 + 6e/L).
    pulls = 1000 / (LENGTH * WIDTH) * (1 + 6 * 0.15 / LENGTH)
    assert all_differ({"highest": pulls, "contact": LENGTH}, C2, tolerance=tolerance)


@pytest.mark.parametrize(("grid", "tolerance"), [(PROD, 1e-3), (FINE_STRIP, 1e-5)])
def test_c2_length_in_contact_is_finer_than_a_cell(grid, tolerance):
    bar = Bar.of(grid)
    with_edges = bar.under(1000, 0.15, edges=True)
    length = with_edges.contact[0] @ bar.area / WIDTH
    compare({"contact": length}, {"contact": C2["contact"]}, tolerance=tolerance)
    counted = bar.under(1000, 0.15).contact[0] @ bar.area / WIDTH
    assert all_differ({"contact": counted}, {"contact": C2["contact"]}, tolerance=tolerance)


def corner(solution, length=LENGTH, width=WIDTH, modulus=MODULUS):
    """Pressure at the loaded corner, from the pose."""
    heave, pitch, roll = solution.pose[0]
    return modulus * (heave + abs(pitch) * length / 2 + abs(roll) * width / 2)


def peak_factor(bar, kx, ky, *, edges=True):
    """Peak over mean pressure under a load at (kx, ky) of the sides."""
    solution = bar.under(1000, kx * LENGTH, ky * WIDTH, edges=edges)
    return corner(solution) * LENGTH * WIDTH / 1000


@pytest.mark.parametrize("edges", [False, True], ids=["middles", "edges"])
@pytest.mark.parametrize(("grid", "tolerance"), [(PROD, 5e-3), (FINE, 1e-4)])
def test_c3_two_way_load_leaves_a_pentagon(grid, tolerance, edges):
    bar = Bar.of(grid)
    solution = bar.under(1000, 0.15 * LENGTH, 0.15 * WIDTH, edges=edges)
    found = {"factor": corner(solution) * LENGTH * WIDTH / 1000}
    compare(found, {"factor": 2.971095}, tolerance=tolerance)
    compare({"peak": corner(solution)}, {"peak": 56_058.40}, tolerance=tolerance)
    factor, share = reference.two_way_footing(0.15, 0.15)
    compare({"f": factor, "s": share}, {"f": 2.971095, "s": 0.859504}, tolerance=1e-6)
    one_way = {"factor": 1 + 6 * 0.15 + 6 * 0.15}  # both axes as if nothing lifted
    assert all_differ(one_way, {"factor": 2.971095}, tolerance=tolerance)


@pytest.mark.parametrize(("grid", "tolerance"), [(PROD, 5e-3), (FINE, 1e-4)])
def test_c3_share_in_contact(grid, tolerance):
    bar = Bar.of(grid)
    solution = bar.under(1000, 0.15 * LENGTH, 0.15 * WIDTH, edges=True)
    found = {"share": solution.contact[0].mean()}
    compare(found, {"share": 0.859504}, tolerance=tolerance)
    other = bar.under(1000, 0.16 * LENGTH, 0.16 * WIDTH, edges=True)
    assert all_differ({"share": other.contact[0].mean()}, {"share": 0.859504}, tolerance=tolerance)


@pytest.mark.parametrize(("grid", "tolerance"), [(PROD, 5e-3), (FINE, 1e-4)])
@pytest.mark.parametrize(("kx", "ky", "factor"), [(0.10, 0.30, 4.492055), (0.05, 0.35, 5.154266)])
def test_c3b_trapezoid(kx, ky, factor, grid, tolerance):
    bar = Bar.of(grid)
    found = {"factor": peak_factor(bar, kx, ky)}
    compare(found, {"factor": reference.trapezoid_factor(kx, ky)}, tolerance=tolerance)
    compare({"f": reference.trapezoid_factor(kx, ky)}, {"f": factor}, tolerance=1e-6)
    wrong = {"factor": peak_factor(bar, 1.2 * kx, ky)}
    assert all_differ(wrong, {"factor": factor}, tolerance=tolerance)


@pytest.mark.parametrize(("grid", "tolerance"), [(PROD, 5e-3), (FINE, 1e-4)])
@pytest.mark.parametrize("row", read_table("footing_examples.csv"))
def test_c3c_published_worked_examples(row, grid, tolerance):
    given = {name: float(value) for name, value in row.items()}
    length, width, force = given["length"], given["width"], given["force"]
    bar = Bar.of(grid, length, width)
    ex, ey = given["moment_along"] / force, given["moment_across"] / force
    solution = bar.under(force, ex, ey, edges=True)
    heave, pitch, roll = solution.pose[0]
    edge = heave + roll * width / 2
    found = {
        "corner_high": MODULUS * (edge + pitch * length / 2),
        "corner_low": MODULUS * (edge - pitch * length / 2),
    }
    printed = {name: given[name] for name in found}
    compare(found, printed, tolerance=tolerance)
    mean = force / (length * width)
    closed = {
        "corner_high": mean * reference.trapezoid_factor(ex / length, ey / width),
        "corner_low": mean * reference.trapezoid_factor(-ex / length, ey / width),
    }
    compare(closed, printed, tolerance=2e-6)  # all printed digits
    area = (length - 2 * ex) * (width - 2 * ey)  # even pressure with its middle under the load
    assert all_differ(dict.fromkeys(found, force / area), printed, tolerance=tolerance)


@pytest.mark.parametrize(("grid", "tolerance"), [(PROD, 1e-2), (FINE, 2e-4)])
def test_c4_corner_triangle(grid, tolerance):
    bar = Bar.of(grid)
    solution = bar.under(1000, 0.30 * LENGTH, 0.30 * WIDTH, edges=True)
    heave, pitch, roll = solution.pose[0]
    peak = heave + pitch * LENGTH / 2 + roll * WIDTH / 2
    found = {
        "peak": corner(solution),
        "from_pose": 0.5 * peak**2 / (pitch * roll),
        "in_cells": solution.contact[0] @ bar.area,
    }
    expected = {"peak": 176_886.8, "from_pose": 0.016960, "in_cells": 0.016960}
    compare(found, expected, tolerance=tolerance)
    closed = reference.corner_peak(load=1000, to_edge_x=0.2 * LENGTH, to_edge_y=0.2 * WIDTH)
    compare({"peak": closed}, {"peak": 176_886.8}, tolerance=1e-6)
    strip = reference.eccentric_strip(
        load=1000, length=LENGTH, width=WIDTH, eccentricity=0.3 * LENGTH
    )
    assert all_differ({"peak": strip.highest}, {"peak": 176_886.8}, tolerance=tolerance)


def test_edges_inside_cells_make_flat_bars_exact_on_a_coarse_grid():
    # Strips with two Gauss points integrate a plane's positive part exactly, up to the cells in
    # which the edge of contact changes sides: a grid of 20 x 8 already gives six digits.
    bar = Bar.of((20, 8))
    for kx, ky in ((0.0, 0.35), (0.1, 0.3), (0.15, 0.15), (0.3, 0.3)):
        exact = {"factor": reference.two_way_footing(kx, ky)[0]}
        compare({"factor": peak_factor(bar, kx, ky)}, exact, tolerance=1e-6)
        assert all_differ({"factor": peak_factor(bar, kx, ky, edges=False)}, exact, tolerance=1e-3)


TABLE = read_table("two_way_factors.csv")
ENTRIES = [
    (float(row["ratio"]), float(name), float(value))
    for row in TABLE
    for name, value in row.items()
    if name != "ratio"
]


def test_two_way_table_every_entry_is_the_exact_polygons():
    for ky, kx, printed in ENTRIES:
        assert reference.two_way_footing(kx, ky)[0] == pytest.approx(printed, abs=5.1e-5)
        if min(kx, ky) >= 0.25:
            triangle = 3 / (8 * (0.5 - kx) * (0.5 - ky))
            assert triangle == pytest.approx(printed, abs=5.1e-5)


@pytest.mark.parametrize(("ky", "kx", "printed"), ENTRIES)
def test_two_way_table_engine_on_the_production_grid(ky, kx, printed):
    tolerance = 5e-3  # as C3; C4 allows the corner triangle twice that
    bar = Bar.of(PROD)
    found = {"factor": peak_factor(bar, kx, ky)}
    compare(found, {"factor": printed}, tolerance=tolerance)
    wrong = {"factor": peak_factor(bar, kx + 0.02, ky)}
    assert all_differ(wrong, {"factor": printed}, tolerance=tolerance)


SHARES = {
    (0.0, 0.0): 1.0,
    (0.10, 0.10): 0.9853,
    (0.10, 0.20): 0.8374,
    (0.20, 0.20): 0.6885,
    (0.20, 0.30): 0.4692,
    (0.30, 0.30): 0.3200,
}


@pytest.mark.parametrize(("place", "share"), SHARES.items())
def test_two_way_shares_in_contact(place, share):
    assert reference.two_way_footing(*place)[1] == pytest.approx(share, abs=5.1e-5)
    bar = Bar.of(PROD)
    solution = bar.under(1000, place[0] * LENGTH, place[1] * WIDTH, edges=True)
    compare({"s": solution.contact[0].mean()}, {"s": share}, tolerance=5e-3)
    further = bar.under(1000, (place[0] + 0.03) * LENGTH, place[1] * WIDTH, edges=True)
    if share < 1.0:
        wrong = {"s": further.contact[0].mean()}
        assert all_differ(wrong, {"s": share}, tolerance=5e-3)
