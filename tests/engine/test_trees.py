"""Undersides from a fitter's sheet: each dimension, measured on the model, is the one put in."""

from dataclasses import replace

import numpy as np
import pytest

from fitting.engine import InvalidShape, PanelTree, UndersideGrid
from fitting.engine.profiles import STRAIGHT_EDGE
from fitting.engine.underside import bar_line, underside
from tests.engine.pairs import INCH, TR_01, TR_02, panel_tree, with_bars


def heights(tree, x, y, side=0):
    face = underside(tree)
    x, y = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    return face.height(np.full(x.shape, side, np.intp), x, y)[0]


def test_bar_line_is_half_the_spread_and_half_the_waist():
    """Geometry must close: 4.1 in of spread and a waist of 3.5 in put it 88 mm off the midline."""
    line = bar_line(TR_02.left, TR_02.spread_hand_hole)
    assert line == pytest.approx(0.0521 + 0.04445 * np.cos(np.radians(36.5)), abs=1e-4)
    assert line == pytest.approx(0.088, abs=0.001)
    assert bar_line(TR_02.left, 6.5 * INCH) > 0.11  # a fork opening is no hand-hole spread


@pytest.mark.parametrize("rock", [0.003, 0.016, -0.004])
def test_straight_edge_of_17_in_reads_the_rock(rock):
    tree = with_bars(TR_02, rock=rock - TR_02.left.rock)
    face = underside(tree)
    middle = face.bearing[0].mean()
    x = middle + np.array([-STRAIGHT_EDGE / 2, 0, STRAIGHT_EDGE / 2])
    z = heights(tree, x, face.line[0])
    crown = heights(tree, x, face.line[0]) - heights(with_bars(tree, crown=-0.006), x, face.line[0])
    z = z - crown  # off the middle of a wide pad the crown adds a little of its own
    assert (z[0] + z[2]) / 2 - z[1] == pytest.approx(rock, abs=2e-5)


def test_slopes_at_the_ends_of_the_bearing_part_are_those_measured():
    face = underside(TR_01)
    for x, slope in zip(face.bearing[0], (49, 34), strict=True):
        inner, outer = face.edges(0, np.array([x]))
        z = heights(TR_01, x, np.array([inner[0], outer[0]]))
        assert np.degrees(np.arctan((z[0] - z[1]) / (outer - inner)[0])) == pytest.approx(
            slope, abs=0.05
        )


def test_widths_across_the_face_are_those_measured():
    face = underside(TR_02)
    span = TR_02.left.bearing_length
    x = TR_02.left.bearing_front + span * np.array([1 / 6, 1 / 2, 5 / 6])
    inner, outer = face.edges(0, x)
    z = [heights(TR_02, x, edge) for edge in (inner, outer)]
    assert np.hypot(outer - inner, z[0] - z[1]) / INCH == pytest.approx([6.25, 3.5, 6.0], abs=0.02)


def test_tips_turn_away_by_the_flare():
    plain = with_bars(TR_02, flare_front=-0.015, flare_rear=-0.014)
    tips = np.array([0.0, TR_02.left.length])
    lift = heights(TR_02, tips, 0.1) - heights(plain, tips, 0.1)
    assert lift == pytest.approx([0.015, 0.014], abs=1e-6)
    inside = np.linspace(*underside(TR_02).bearing[0], 9)
    assert np.allclose(heights(TR_02, inside, 0.1), heights(plain, inside, 0.1), atol=1e-4)


def test_straight_edge_across_reads_the_crown():
    face = underside(TR_02)
    x = face.bearing[0].mean()
    inner, outer = (float(edge[0]) for edge in face.edges(0, np.array([x])))
    z = heights(TR_02, x, np.array([inner, (inner + outer) / 2, outer]))
    gap = ((z[0] + z[2]) / 2 - z[1]) * np.cos(np.radians(36.5))
    assert gap == pytest.approx(0.006, abs=1e-4)


def test_relieved_edge_falls_away():
    eased = with_bars(TR_02, edge_relief=0.01)
    _, outer = underside(TR_02).edges(0, np.array([0.3]))
    lift = heights(eased, 0.3, outer - np.array([0.0, 0.005, 0.02])) - heights(
        TR_02, 0.3, outer - np.array([0.0, 0.005, 0.02])
    )
    assert lift[0] == pytest.approx(0.005, abs=1e-4)
    assert lift[2] == 0.0
    assert 0 < lift[1] < lift[0]


def test_cells_cover_the_plan_of_the_bar():
    face = underside(TR_02)
    x, y = np.meshgrid(np.arange(-0.02, 0.6, 0.008), np.arange(0.01, 0.2, 0.011), indexing="ij")
    cover = face.near(np.zeros(x.shape, np.intp), x).cover(x, y, 0.008, 0.011)
    fine = np.linspace(0, TR_02.left.length, 2001)
    inner, outer = face.edges(0, fine)
    assert cover.sum() * 0.008 * 0.011 == pytest.approx(np.trapezoid(outer - inner, fine), rel=0.01)


def test_bars_may_differ():
    tree = replace(TR_02, right=TR_01.right)
    assert heights(tree, 0.3, 0.1, side=0) != pytest.approx(heights(tree, 0.3, 0.1, side=1))


def test_panel_is_read_along_its_whole_length():
    tree = panel_tree(head_deg=80)
    face = underside(tree)
    z = heights(tree, [0.0, 0.23, 0.46], face.line[0])
    crown = heights(tree, [0.0, 0.23, 0.46], face.line[0]) - heights(
        PanelTree(
            replace(tree.left, crown=0.0),
            replace(tree.right, crown=0.0),
            *(0.075, 0.075, 0.070, 0.25, 0.15),
        ),
        [0.0, 0.23, 0.46],
        face.line[0],
    )
    z = z - crown
    assert (z[0] + z[2]) / 2 - z[1] == pytest.approx(0.009, abs=1e-4)


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"width_front": -1.0}, "tree.bars.left.width_front"),
        ({"slope_rear": 2.0}, "tree.bars.left.slope_rear"),
        ({"bearing_length": 0.2}, "tree.bars.left.bearing_length"),
    ],
)
def test_impossible_dimension_is_named(change, path):
    with pytest.raises(InvalidShape) as caught:
        underside(with_bars(TR_02, **change))
    assert caught.value.path == path


def test_explicit_grid_is_read_between_its_points():
    x, y = np.linspace(0, 0.5, 6), np.linspace(0.05, 0.15, 5)
    z = np.stack([0.1 * x[:, None] - 0.2 * y, 0.3 * x[:, None] + 0 * y])
    grid = UndersideGrid(x, y, z, np.ones((2, 6, 5), bool))
    assert heights(grid, 0.23, 0.11) == pytest.approx(0.1 * 0.23 - 0.2 * 0.11, abs=1e-12)
    assert heights(grid, 0.23, 0.11, side=1) == pytest.approx(0.3 * 0.23, abs=1e-12)


def test_explicit_grid_without_a_cell_is_refused():
    x, y = np.linspace(0, 0.5, 6), np.linspace(0.05, 0.15, 5)
    grid = UndersideGrid(x, y, np.zeros((2, 6, 5)), np.zeros((2, 6, 5), bool))
    with pytest.raises(InvalidShape, match="mask"):
        underside(grid)
