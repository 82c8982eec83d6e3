"""Following a problem to where a limit is first passed, on functions whose root is known."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from fitting.engine.continuation import Crossing, Point, Span, first_crossings

Function = Callable[[float], float]


class Followed:
    """Functions of one parameter as problems, with a count of the solves."""

    def __init__(self, *functions: Function, end: float = 10.0, first: float = 0.5) -> None:
        self.functions = functions
        self.span = Span(end, first, 1e-6 * end)
        self.solves = 0
        self.nears: list[float] = []

    def point(self, which: int, at: float) -> Point:
        return Point(at, np.array([self.functions[which](at)]), np.array([2.0 * at, 0.0, 0.0]))

    def advance(self, which, at, near) -> list[Point | None]:
        self.solves += len(which)
        self.nears += [abs(n[0] - 2.0 * t) for n, t in zip(near, at, strict=True)]
        return [self.point(int(i), float(t)) for i, t in zip(which, at, strict=True)]

    def crossings(self) -> tuple[Crossing | None, ...]:
        starts = [self.point(i, 0.0) for i in range(len(self.functions))]
        return first_crossings(self.advance, [self.span] * len(starts), starts)


@given(
    root=st.floats(0.05, 9.95),
    power=st.floats(0.5, 4.0),
    kink=st.floats(0.0, 10.0),
    steep=st.floats(0.0, 5.0),
)
def test_crossing_is_the_root_of_any_rising_function(root, power, kink, steep):
    def rising(t: float) -> float:
        return (t / root) ** power - 1 + steep * (max(t - kink, 0.0) - max(root - kink, 0.0))

    found = Followed(rising)
    (crossing,) = found.crossings()
    assert crossing is not None
    assert crossing.is_reached
    # As close as Brent's method (scipy) on the same function, up to what counts as on the limit.
    expected = brentq(rising, 0.0, 10.0, xtol=1e-12)
    step = 1e-6 * expected
    slope = min(abs(rising(expected + d) - rising(expected)) / step for d in (-step, step))
    assert crossing.at == pytest.approx(expected, abs=3e-3 / max(slope, 1e-9) + 1e-4)
    assert found.solves < 26


def test_few_solves_reach_a_smooth_crossing():
    found = Followed(lambda t: np.expm1(t - 7.3))
    (crossing,) = found.crossings()
    assert crossing.at == pytest.approx(7.3, abs=1e-4)
    assert crossing.at != pytest.approx(7.301, abs=1e-4)
    assert found.solves <= 12


def test_every_solve_starts_where_its_neighbours_point_to():
    found = Followed(lambda t: t - 7.3)
    found.crossings()
    assert found.nears[0] == pytest.approx(1.0)  # the first one knows only the start
    assert max(found.nears[1:]) < 1e-9  # the pose is a straight line, which two points give


def test_span_that_ends_inside_its_limits_is_not_reached():
    (crossing,) = Followed(lambda t: t - 11.0).crossings()
    assert crossing is not None
    assert (crossing.at, crossing.is_reached) == (10.0, False)


def test_limit_passed_from_the_start_leaves_nothing():
    (crossing,) = Followed(lambda t: t + 0.1).crossings()
    assert crossing is not None
    assert (crossing.at, crossing.is_reached) == (0.0, True)


def test_tree_that_is_lost_at_once_is_closed_in_by_halves():
    """Past a load outside the support there is no number, only that it is past."""
    (crossing,) = Followed(lambda t: -1.0 if t < 4.321 else np.inf).crossings()
    assert crossing is not None
    assert crossing.at == pytest.approx(4.321, abs=1e-4)
    assert np.isfinite(crossing.pose).all()


def test_first_of_two_limits_is_named():
    def advance(which, at, near) -> list[Point | None]:
        return [Point(t, np.array([t / 8 - 1, t / 5 - 1]), np.zeros(3)) for t in at]

    start = Point(0.0, np.array([-1.0, -1.0]), np.zeros(3))
    (crossing,) = first_crossings(advance, [Span(10.0, 1.0, 1e-6)], [start])
    assert crossing.at == pytest.approx(5.0)
    assert crossing.limit == 1


def test_problems_solved_together_do_not_disturb_each_other():
    functions = [lambda t: t - 2.0, lambda t: t**2 - 50.0, lambda t: t - 20.0]
    together = Followed(*functions).crossings()
    apart = [Followed(function).crossings()[0] for function in functions]
    for one, other in zip(together, apart, strict=True):
        assert one is not None
        assert other is not None
        assert (one.at, one.is_reached) == (other.at, other.is_reached)


@pytest.mark.parametrize("refused", [1, 2])
def test_solve_without_an_answer_is_tried_again_nearer(refused):
    found, asked = Followed(lambda t: t - 7.3), []

    def advance(which, at, near) -> list[Point | None]:
        asked.append(float(at[0]))
        return [None] if len(asked) <= refused else found.advance(which, at, near)

    (crossing,) = first_crossings(advance, [found.span], [found.point(0, 0.0)])
    assert crossing.at == pytest.approx(7.3, abs=1e-4)
    assert asked[1] < asked[0]


def test_problem_that_never_answers_is_given_up():
    found = Followed(lambda t: t - 7.3)
    assert first_crossings(lambda *_: [None], [found.span], [found.point(0, 0.0)]) == (None,)
