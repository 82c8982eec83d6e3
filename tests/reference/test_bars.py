"""Two flat bars sloped like a roof, and roll axes that resist with nothing (checks C15, C15s).

Source: statics and elementary stiffness sums, derived in `fitting.engine.reference`.
"""

from __future__ import annotations

import numpy as np
import pytest

from fitting.engine import reference
from fitting.engine.contact import OUTSIDE, ContactBatch, solve_contact
from fitting.engine.errors import LoadOutsideSupport

from .cases import LENGTH, LINEAR, MODULUS, PROD, WIDTH, Bar, all_differ, compare

OFFSET, SLOPE = 0.12, np.radians(35.0)
SINGULAR = -OFFSET / np.tan(SLOPE)


def roof(grid, axis_height, *, slope=SLOPE, edges=True):
    """Rows, areas and ranges of two bars; roll about an axis at a height above their middles."""
    bar = Bar.of(grid)
    rows, ranges = [], []
    for side in (-1.0, 1.0):
        y = side * (OFFSET + bar.y * np.cos(slope))
        z = -bar.y * np.sin(slope) - axis_height
        ny, nz = side * np.sin(slope), np.cos(slope)
        rows.append(np.column_stack([np.full_like(y, nz), bar.x * nz, y * nz - z * ny]))
        change = np.zeros((len(y), 3))
        change[:, 2] = bar.steps[1] * (side * np.cos(slope) * nz + np.sin(slope) * ny)
        ranges.append(change)
    found = {"rows": np.vstack(rows), "area": np.tile(bar.area, 2)}
    return found | ({"cross_spread_rows": np.vstack(ranges)} if edges else {})


def press(parts, *, load=1000.0, roll_moment=25.0, strict=True):
    cells = len(parts["area"])
    return solve_contact(
        ContactBatch(
            overlap=np.zeros((1, cells)),
            law=LINEAR,
            load=np.array([[load, 0.0, roll_moment]]),
            **parts,
        ),
        strict=strict,
    )


WORKED = {0.0: (1_335.076, 0.01872553), 0.10: (3_187.898, 0.007842159)}


def response(parts, roll_moment=25.0):
    solution = press(parts, roll_moment=roll_moment)
    return {
        "heave": solution.pose[0, 0],
        "pressure": solution.pressure[0].mean(),
        "roll_stiffness": solution.stiffness[0, 2, 2],
        "roll": solution.pose[0, 2],
    }


@pytest.mark.parametrize("edges", [False, True], ids=["middles", "edges"])
@pytest.mark.parametrize("axis_height", WORKED)
def test_c15_two_inclined_bars(axis_height, edges):
    closed = vars(
        reference.inclined_bars(
            modulus_per_area=MODULUS,
            length=LENGTH,
            width=WIDTH,
            offset=OFFSET,
            slope=SLOPE,
            axis_height=axis_height,
            load=1000,
            roll_moment=25,
        )
    )
    stiffness, roll = WORKED[axis_height]
    worked = {"heave": 11.71612e-3, "pressure": 11_516.74, "roll_stiffness": stiffness}
    compare(closed, worked | {"roll": roll}, tolerance=1e-6)
    tolerance = {"heave": 1e-9, "pressure": 1e-9, "roll_stiffness": 1e-3, "roll": 1e-3}
    compare(response(roof(PROD, axis_height, edges=edges)), closed, tolerance=tolerance)
    wrong = response(roof(PROD, axis_height, slope=np.radians(34.0), edges=edges))
    assert all_differ(wrong, closed, tolerance=tolerance)


def test_c15_refined():
    for axis_height in WORKED:
        stiffness, roll = WORKED[axis_height]
        found = response(roof((640, 128), axis_height, edges=False))
        compare(found, {"roll_stiffness": stiffness, "roll": roll}, tolerance=2e-5)
        assert all_differ(
            found,
            {"roll_stiffness": 1.0001 * stiffness, "roll": 1.0001 * roll},
            tolerance=2e-5,
        )


def test_c15s_roll_stiffness_falls_to_the_bars_own_width_about_the_normals_crossing():
    found = response(roof(PROD, SINGULAR), roll_moment=1.0)
    compare({"axis": SINGULAR}, {"axis": -0.1713778}, tolerance=1e-6)
    compare(found, {"roll_stiffness": 106.0000}, tolerance=2.4e-4)
    compare(found, {"roll_stiffness": 2 * MODULUS * LENGTH * WIDTH**3 / 12}, tolerance=2.4e-4)
    elsewhere = response(roof(PROD, 0.9 * SINGULAR), roll_moment=1.0)
    assert all_differ(elsewhere, {"roll_stiffness": 106.0000}, tolerance=2.4e-4)


def barrel(axis_height):
    """A tree that matches a round back of radius 0.28 m; axis above the barrel's centre."""
    bar = Bar.of(PROD)
    radius = 0.28
    rows = []
    for side in (-1.0, 1.0):
        around = side * (np.arcsin(OFFSET / radius) + bar.y / radius)
        y, z = radius * np.sin(around), radius * np.cos(around) - axis_height
        ny, nz = np.sin(around), np.cos(around)
        rows.append(np.column_stack([nz, bar.x * nz, y * nz - z * ny]))
    return {"rows": np.vstack(rows), "area": np.tile(bar.area, 2)}


def test_c15s_a_round_back_does_not_resist_roll_about_its_centre_and_this_is_reported():
    solution = press(barrel(0.0), roll_moment=0.0)
    assert solution.stiffness[0, 2, 2] < 1e-20
    assert solution.margin[0] == 0.0
    assert abs(solution.pose[0, 2]) < 1e-9  # nothing asks for roll, so none is made up
    above = press(barrel(0.14), roll_moment=0.0)
    lever = 0.14 * barrel(0.14)["rows"][:, 2]  # h sin, as normals pass the axis at h sin
    assert above.stiffness[0, 2, 2] == pytest.approx(
        MODULUS * (lever**2) @ barrel(0.14)["area"] / 0.14**2, rel=1e-12
    )
    assert above.margin[0] == 1.0


def test_c15s_a_roll_moment_about_the_centre_of_a_round_back_cannot_be_balanced():
    with pytest.raises(LoadOutsideSupport) as caught:
        press(barrel(0.0))
    assert caught.value.lever_arms[1] == pytest.approx(0.025)
    assert press(barrel(0.0), strict=False).status[0] == OUTSIDE
