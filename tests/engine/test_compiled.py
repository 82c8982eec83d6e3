"""The compiled iteration gives the numbers of the plain one, for every law and layout it takes."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from importlib.util import find_spec

import numpy as np
import pytest

from fitting.engine import compiled, contact, newton
from fitting.engine.compiled import CompilerMissing, iteration, prefer
from fitting.engine.contact import ContactSolution, solve_contact
from fitting.engine.support import linear_layer, series, stiffening_layer
from tests.bench.problems import LINEAR, STIFFENING, bending_batch, seeded_batch, with_edges

needs_numba = pytest.mark.skipif(
    find_spec("numba") is None,
    reason="numba is not installed: THE COMPILED SOLVER IS NOT TESTED (pip install '.[compiled]')",
)
EXPONENTIAL = stiffening_layer(pressure_scale=6.0e3, compression_scale=4.0e-3)
OMEGA = series(linear_layer(modulus_per_area=2.0e6), EXPONENTIAL)  # has no compiled form


def both(batch, **named) -> tuple[ContactSolution, ContactSolution]:
    return (
        solve_contact(batch, tolerance=1e-11, compiled=True, **named),
        solve_contact(batch, tolerance=1e-11, **named),
    )


def check_same(one: ContactSolution, other: ContactSolution) -> None:
    np.testing.assert_allclose(one.pose, other.pose, rtol=0, atol=1e-9)
    np.testing.assert_allclose(one.overlap, other.overlap, rtol=0, atol=1e-9)
    peak = other.pressure.max()
    np.testing.assert_allclose(one.pressure, other.pressure, rtol=0, atol=1e-7 * peak)
    np.testing.assert_allclose(
        one.stiffness, other.stiffness, rtol=0, atol=1e-6 * np.abs(other.stiffness).max()
    )
    np.testing.assert_allclose(one.margin, other.margin, rtol=0, atol=1e-6)
    assert one.status.tolist() == other.status.tolist()


@needs_numba
@pytest.mark.parametrize("law", [LINEAR, STIFFENING, EXPONENTIAL, OMEGA])
@pytest.mark.parametrize("count", [1, 3, 70, 130])
def test_same_numbers_for_every_law(law, count):
    batch = seeded_batch(count, law)
    one, other = both(batch)
    check_same(one, other)
    assert one.residual.max() <= 1e-11


@needs_numba
def test_another_stiffness_is_told_apart():
    batch = seeded_batch(3, LINEAR)
    softer = replace(batch, law=linear_layer(modulus_per_area=1.001 * LINEAR.modulus_per_area))
    with pytest.raises(AssertionError):
        check_same(solve_contact(softer, compiled=True), solve_contact(batch))


@needs_numba
@pytest.mark.parametrize("law", [LINEAR, STIFFENING])
def test_same_numbers_for_rows_and_areas_of_each_problem(law):
    batch = seeded_batch(6, law)
    turn = np.linspace(0.9, 1.1, 6)[:, None, None]
    own = replace(batch, rows=turn * batch.rows, area=batch.area * turn[:, 0])
    check_same(*both(own))
    check_same(*both(replace(batch, pressure_scale=turn[:, 0, 0])))
    check_same(*both(replace(batch, area=own.area)))


@needs_numba
@pytest.mark.parametrize("height", [0.05, -0.3])
def test_same_numbers_for_a_load_that_leans(height):
    batch = seeded_batch(6, STIFFENING)
    lean = -height * batch.load[:, 0, None, None] * np.diag([0.0, 1.0, 1.0])
    check_same(*both(replace(batch, pose_stiffness=lean)))
    check_same(*both(replace(batch, pose_stiffness=lean[0])))


@needs_numba
@pytest.mark.parametrize("batch", [with_edges(seeded_batch(3, LINEAR)), bending_batch(4)])
def test_what_has_no_compiled_form_is_iterated_as_ever(batch):
    one, other = both(batch)
    np.testing.assert_array_equal(one.pose, other.pose)


@needs_numba
def test_same_verdicts_where_there_is_no_balance():
    batch = seeded_batch(4, LINEAR)
    load = batch.load.copy()
    load[1, 1] = 0.5 * load[1, 0]
    load[2, 0] = -5.0
    one, other = both(replace(batch, load=load), strict=False)
    assert one.status.tolist() == other.status.tolist() == [0, 1, 1, 0]
    np.testing.assert_allclose(one.pose[::3], other.pose[::3], rtol=0, atol=1e-9)


@needs_numba
def test_poor_steps_go_back_to_the_safeguards(monkeypatch):
    taken = []
    plain = newton.iterate

    def watched(problems, strain, pose, **named):
        taken.append(len(pose))
        return plain(problems, strain, pose, **named)

    monkeypatch.setattr(newton, "iterate", watched)
    batch = seeded_batch(4, STIFFENING)
    far = np.array([[0.2, 0.5, -0.5], [-0.3, 0.0, 0.4], [0.1, -1.0, 0.0], [0.0, 0.0, 0.0]])
    one = solve_contact(batch, start=far, compiled=True)
    assert taken
    np.testing.assert_allclose(one.pose, solve_contact(batch).pose, rtol=0, atol=1e-9)


@needs_numba
def test_nothing_is_compiled_unless_asked_for():
    assert iteration(None) is newton.iterate
    assert iteration(True) is compiled.iterate
    prefer(True)
    try:
        assert iteration(None) is compiled.iterate
        assert iteration(False) is newton.iterate
    finally:
        prefer(False)


@needs_numba
def test_no_place_for_the_compiled_code_is_no_error(monkeypatch):
    kernels = compiled._kernels()
    compile_ = kernels.numba.njit

    def nowhere(*, cache=False, **options):
        if cache:
            raise RuntimeError("cannot cache function: no locator available")
        return compile_(**options)

    monkeypatch.setattr(kernels.numba, "njit", nowhere)
    doubled = kernels.compiled(lambda x: 2.0 * x)
    assert doubled(1.5) == 3.0


def test_without_numba_it_is_refused_with_what_to_install(monkeypatch):
    monkeypatch.delitem(sys.modules, "fitting.engine.kernels", raising=False)
    monkeypatch.setitem(sys.modules, "numba", None)
    with pytest.raises(CompilerMissing, match="numba"):
        prefer(True)
    with pytest.raises(CompilerMissing, match=r"\.\[compiled\]"):
        solve_contact(seeded_batch(1, LINEAR), compiled=True)
    prefer(False)
    assert solve_contact(seeded_batch(1, LINEAR)).status[0] == contact.CONVERGED


def test_engine_does_not_load_numba_unasked():
    program = (
        "import sys\n"
        "from tests.bench.problems import LINEAR, seeded_batch\n"
        "from fitting.engine.contact import solve_contact\n"
        "print(solve_contact(seeded_batch(1, LINEAR)).status[0], 'numba' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert (done.stdout.strip(), done.stderr) == ("0 False", "")
