"""How the contact solver answers, refuses and reports."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest

from fitting.engine import feasibility
from fitting.engine.contact import (
    CONVERGED,
    OUTSIDE,
    UNFINISHED,
    UNSTABLE,
    ContactBatch,
    feasible_load,
    solve_contact,
)
from fitting.engine.errors import (
    EngineError,
    InvalidShape,
    LoadOutsideSupport,
    NotConverged,
    StabilityLost,
)
from fitting.engine.stability import stability_margin
from fitting.engine.support import linear_layer
from tests.bench.problems import LINEAR, STIFFENING, seeded_batch
from tests.reference.cases import LENGTH, MODULUS, PROD, WIDTH, Bar

BAR = Bar.of((40, 8))


def flat(load=1000.0, ex=0.0, ey=0.0, **fields):
    """One flat bar under a load at (ex, ey)."""
    return ContactBatch(
        overlap=np.zeros((1, len(BAR.x))),
        rows=BAR.rows,
        area=BAR.area,
        law=linear_layer(modulus_per_area=MODULUS),
        load=load * np.array([[1.0, ex, ey]]),
        **fields,
    )


def test_one_pose_component_is_a_plain_spring():
    batch = ContactBatch(
        overlap=np.array([[0.0, -1e-3]]),
        rows=np.ones((2, 1)),
        area=np.array([1e-3, 1e-3]),
        law=linear_layer(modulus_per_area=1e6),
        load=np.array([[5.0]]),
    )
    solution = solve_contact(batch)
    assert solution.pose[0, 0] == pytest.approx(3e-3)  # (5 N / 1e3 N/m + 1 mm) / 2
    assert solution.pressure[0] == pytest.approx([3e3, 2e3])
    assert feasible_load(batch)[0] == 1.0


def test_cells_without_area_carry_nothing_and_support_nothing():
    area = np.where(BAR.x > 0, 0.0, BAR.area)
    batch = replace(flat(ex=-0.1), area=area)
    solution = solve_contact(batch)
    assert (solution.pressure[0] * area).sum() == pytest.approx(1000)
    assert feasible_load(replace(batch, load=np.array([[1000.0, 0.0, 0.0]])))[0] < 0
    assert feasible_load(flat())[0] == 1.0


@pytest.mark.parametrize(("ex", "ey"), [(0.30, 0.0), (-0.28, 0.0), (0.0, 0.06), (0.2, 0.052)])
def test_a_load_outside_the_support_is_named_with_both_places(ex, ey):
    with pytest.raises(LoadOutsideSupport, match="outside the support") as caught:
        solve_contact(flat(ex=ex, ey=ey))
    error = caught.value
    assert error.lever_arms == pytest.approx((ex, ey))
    assert error.support_high == pytest.approx((BAR.x.max(), BAR.y.max()))
    assert error.support_low == pytest.approx((BAR.x.min(), BAR.y.min()))
    assert error.margin < 0
    assert isinstance(error, EngineError)


def test_edges_reach_to_the_rim_of_the_outermost_cells():
    place = 0.5 * (BAR.x.max() + LENGTH / 2)  # between the last cell's middle and its rim
    assert feasible_load(flat(ex=place))[0] < 0
    inside = flat(ex=place, **BAR.ranges(None))
    assert feasible_load(inside)[0] > 0
    assert solve_contact(inside).residual[0] < 1e-10


@pytest.mark.parametrize("share", [0.0, 0.5, 0.99, 1.01, 2.0])
def test_margin_of_support_runs_from_the_centre_to_the_edge(share):
    assert feasible_load(flat(ex=share * BAR.x.max()))[0] == pytest.approx(1 - share, abs=1e-9)


def test_hull_of_the_cells_says_what_the_linear_programme_says(monkeypatch):
    """Qhull against HiGHS, inside and outside the support."""
    batch = seeded_batch(20, LINEAR)
    aside = np.random.default_rng(3).uniform(-8, 8, (20, 2))
    batch = replace(batch, load=batch.load * np.column_stack([np.ones(20), aside]))
    by_hull = feasible_load(batch)
    assert by_hull.min() < 0 < by_hull.max()
    monkeypatch.setattr(feasibility, "_hull_reach", lambda *given: None)
    assert by_hull == pytest.approx(feasible_load(batch), abs=1e-9)
    assert feasible_load(replace(batch, load=batch.load * [1.0, 1.01, 1.0])) != pytest.approx(
        by_hull, abs=1e-9
    )


def test_a_load_that_pulls_is_refused():
    batch = flat(load=-10.0)
    with pytest.raises(LoadOutsideSupport, match="pulls"):
        solve_contact(batch)
    assert feasible_load(batch)[0] == -np.inf


def test_not_strict_marks_failures_and_solves_the_rest():
    load = np.array([[1000.0, 0, 0], [1000.0, 300.0, 0], [-5.0, 0, 0], [500.0, 20.0, 0]])
    batch = replace(flat(), overlap=np.zeros((4, len(BAR.x))), load=load)
    solution = solve_contact(batch, strict=False)
    assert solution.status.tolist() == [CONVERGED, OUTSIDE, OUTSIDE, CONVERGED]
    good = solve_contact(replace(batch, overlap=batch.overlap[::3], load=load[::3]))
    assert solution.pose[::3] == pytest.approx(good.pose)
    with pytest.raises(LoadOutsideSupport) as caught:
        solve_contact(batch, chunk=1)
    assert caught.value.problem == 1


def test_running_out_of_steps_says_how_far_it_got():
    batch = seeded_batch(3, STIFFENING)
    with pytest.raises(NotConverged, match="after 1 steps") as caught:
        solve_contact(batch, max_iterations=1)
    assert caught.value.residual > 1e-9
    assert caught.value.iterations == 1
    marked = solve_contact(batch, max_iterations=1, strict=False)
    assert marked.status.tolist() == [UNFINISHED] * 3


def overturning(height, ex=0.0):
    """A load that follows the bar's lean, ``height`` above it."""
    lean = -1000.0 * height * np.diag([0.0, 1.0, 1.0])
    return flat(ex=ex, pose_stiffness=lean)


ROLL_STIFFNESS = MODULUS * BAR.area @ BAR.y**2  # of the cells at their middles
FALL_HEIGHT = ROLL_STIFFNESS / 1000.0


def test_a_high_load_takes_stability_away_in_proportion():
    for share in (0.0, 0.3, 0.9):
        solution = solve_contact(overturning(share * FALL_HEIGHT))
        assert solution.margin[0] == pytest.approx(1 - share, abs=1e-9)
        assert solution.status[0] == CONVERGED


@pytest.mark.parametrize("edges", [False, True])
def test_lean_is_amplified_by_the_stiffness_left(edges):
    ey = 0.002
    batch = replace(flat(ey=ey), pose_stiffness=overturning(0.5 * FALL_HEIGHT).pose_stiffness)
    if edges:
        batch = replace(batch, **BAR.ranges(None))
    full = MODULUS * LENGTH * WIDTH**3 / 12 if edges else ROLL_STIFFNESS
    expected = 1000 * ey / (full - 500 * FALL_HEIGHT)
    assert solve_contact(batch).pose[0, 2] == pytest.approx(expected, rel=1e-9)


def test_a_body_that_touches_nothing_has_no_stability_under_a_high_load():
    """Statics: nothing resists P H. A stiffness of 1e-300 N/m is none."""
    leaning = np.diag([0.0, -100.0, -100.0])[None]
    for left in (0.0, 1e-300):
        assert stability_margin(left * np.eye(3)[None], leaning)[0] < 0
    held = np.diag([1e6, 400.0, 1000.0])[None]
    assert stability_margin(held, leaning)[0] == pytest.approx(1 - 100 / 400)


def test_a_load_too_high_is_refused_with_the_margin():
    with pytest.raises(StabilityLost) as caught:
        solve_contact(overturning(1.2 * FALL_HEIGHT))
    assert caught.value.margin == pytest.approx(-0.2, abs=1e-9)
    assert solve_contact(overturning(1.2 * FALL_HEIGHT), strict=False).status[0] == UNSTABLE


def test_a_high_load_off_centre_that_falls_is_not_reported_as_balanced():
    batch = replace(flat(ey=0.004), pose_stiffness=overturning(1.2 * FALL_HEIGHT).pose_stiffness)
    status = solve_contact(batch, strict=False).status[0]
    assert status in (UNSTABLE, OUTSIDE, UNFINISHED)
    assert status != CONVERGED


def test_scaled_pressure_is_a_stiffer_layer():
    batch = seeded_batch(6, LINEAR)
    factor = np.linspace(0.5, 2.0, 6)
    solution = solve_contact(replace(batch, pressure_scale=factor))
    for problem, scale in enumerate(factor):
        law = linear_layer(modulus_per_area=scale * LINEAR.modulus_per_area)
        alone = solve_contact(replace(batch.pick(slice(problem, problem + 1)), law=law))
        assert solution.pose[problem] == pytest.approx(alone.pose[0], rel=1e-8)
        assert solution.pressure[problem] == pytest.approx(alone.pressure[0], rel=1e-8, abs=1e-6)
        assert solution.stiffness[problem] == pytest.approx(alone.stiffness[0], rel=1e-8)


def test_chunks_change_nothing_but_memory():
    batch = seeded_batch(10, STIFFENING)
    whole = solve_contact(batch)
    for chunk in (1, 3, 64):
        assert solve_contact(batch, chunk=chunk).pose == pytest.approx(whole.pose, rel=1e-8)


def test_stiffness_is_the_derivative_of_the_load_with_the_pose():
    batch = seeded_batch(4, STIFFENING)
    solution = solve_contact(batch, tolerance=1e-13)
    for component in range(3):
        extra = np.zeros(3)
        extra[component] = 1e-7 * batch.load[0, 0]
        moved = solve_contact(replace(batch, load=batch.load + extra), tolerance=1e-13)
        regained = np.einsum("pij,pj->pi", solution.stiffness, moved.pose - solution.pose)
        assert regained == pytest.approx(np.tile(extra, (4, 1)), abs=5e-3 * extra.max())


def test_inputs_are_not_changed():
    batch = seeded_batch(4, LINEAR)
    copies = {name: getattr(batch, name).copy() for name in ("overlap", "rows", "area", "load")}
    solve_contact(batch)
    for name, copy in copies.items():
        assert np.array_equal(getattr(batch, name), copy)


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"overlap": np.zeros(320)}, "overlap"),
        ({"rows": np.zeros((319, 3))}, "rows"),
        ({"area": np.zeros(320)}, "area"),
        ({"area": np.full(320, -1.0)}, "area"),
        ({"load": np.array([[1.0, 0.0]])}, "load"),
        ({"load": np.array([[np.nan, 0.0, 0.0]])}, "load"),
        ({"pose_stiffness": np.eye(2)}, "pose_stiffness"),
        ({"spread": np.zeros(3)}, "spread"),
        ({"cross_spread_rows": np.zeros((320, 2))}, "cross_spread_rows"),
        ({"pressure_scale": np.ones(2)}, "pressure_scale"),
        ({"overlap": np.full((1, 320), np.inf)}, "overlap"),
    ],
)
def test_bad_input_names_the_field(change, path):
    with pytest.raises(InvalidShape) as caught:
        solve_contact(replace(flat(), **change))
    assert caught.value.path == path
    assert str(caught.value).startswith(path)


def test_errors_survive_pickling():
    error = LoadOutsideSupport("out", lever_arms=(0.3,), margin=-0.1, problem=2)
    again = pickle.loads(pickle.dumps(error))
    assert (again.lever_arms, again.margin, again.problem, str(again)) == ((0.3,), -0.1, 2, "out")
    shape = pickle.loads(pickle.dumps(InvalidShape("bad", path="area")))
    assert (shape.path, str(shape)) == ("area", "area: bad")


def length_error(grid, *, edges):
    bar = Bar.of(grid)
    solution = bar.under(1000, 0.1512, edges=edges)
    return abs(solution.contact[0] @ bar.area / WIDTH - 3 * (LENGTH / 2 - 0.1512))


def test_length_in_contact_converges_faster_than_a_cell():
    # A cell counted whole or not at all is wrong by up to half its length whatever the solver.
    assert length_error(PROD, edges=True) < 1e-9
    assert length_error(PROD, edges=False) > 1e-4


def test_nearer_start_of_many_problems_saves_steps_and_changes_no_answer():
    batch = seeded_batch(24, STIFFENING)
    together = solve_contact(batch)
    singles = [solve_contact(batch.pick(slice(i, i + 1))) for i in range(24)]
    alone = np.vstack([single.pressure for single in singles])
    assert together.residual.max() <= 1e-10
    np.testing.assert_allclose(together.pressure, alone, rtol=0, atol=1e-7 * alone.max())
    assert together.iterations.mean() < np.mean([single.iterations[0] for single in singles])


def test_start_on_few_cells_that_finds_no_balance_is_dropped():
    """Every eleventh cell is bare or out of reach: the others still carry the load."""
    batch = seeded_batch(24, STIFFENING)
    few = np.zeros(len(batch.area), bool)
    few[::11] = True
    alone = solve_contact(replace(batch, area=np.where(few, 0.0, batch.area)))
    away = np.where(few, -1.0, batch.overlap)
    solution = solve_contact(replace(batch, overlap=away))
    np.testing.assert_allclose(solution.pose, alone.pose, rtol=0, atol=1e-9)


@pytest.mark.parametrize("law", [LINEAR, STIFFENING])
@pytest.mark.parametrize("count", [3, 24])
def test_areas_of_each_problem_over_shared_rows_are_those_problems_alone(law, count):
    batch = seeded_batch(count, law)
    area = batch.area * np.linspace(0.5, 1.5, count)[:, None]
    factor = np.linspace(0.8, 1.2, count)
    together = solve_contact(replace(batch, area=area, pressure_scale=factor))
    for i in range(0, count, 7):
        one = slice(i, i + 1)
        alone = solve_contact(replace(batch.pick(one), area=area[i], pressure_scale=factor[one]))
        np.testing.assert_allclose(together.pose[i], alone.pose[0], rtol=0, atol=1e-9)
        np.testing.assert_allclose(together.stiffness[i], alone.stiffness[0], rtol=1e-6, atol=1e-3)
    assert np.abs(together.pose - solve_contact(batch).pose).max() > 1e-4  # the areas do matter
