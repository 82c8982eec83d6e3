"""Bars that bend, held against a general finite element library, iterated where the bar lifts.

scikit-fem (T. Gustafsson and G. D. McBain, J. Open Source Softw. 5(52):2369, 2020, doi
10.21105/joss.02369) brings its own Hermite element, quadrature and sparse solver; only the numbers
put in are shared with the engine. The layer is taken away wherever the bar lifts and the solve
repeated until nothing changes. Sizes and stiffness are illustrative, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from skfem import Basis, BilinearForm, ElementLineHermite, LinearForm, MeshLine, solve
from skfem.helpers import dd, ddot

from fitting.engine.beams import Beam, beam_contact, deflection_rows, line_load, point_loads
from fitting.engine.contact import solve_contact

from .cases import LENGTH, LINE_MODULUS, LINEAR, WIDTH, all_differ, compare

HALF = LENGTH / 2
STIFF = Beam(LENGTH, WIDTH, bending_stiffness=50.0)
SUPPLE = Beam(LENGTH, WIDTH, bending_stiffness=2.0, points=12)
CELLS = 160  # of the library's mesh: its own error is then below 1e-7


@BilinearForm
def bending(u, v, w):
    return ddot(dd(u), dd(v))


@BilinearForm
def foundation(u, v, w):
    return w.touching * u * v


@LinearForm
def spread(v, w):
    return w.force * v


def by_library(beam, loads, *, weight=0.0, shape=None, is_bonded=False):
    """Deflections at the middle and one end, and the length in contact, from scikit-fem."""
    mesh = MeshLine(np.linspace(-beam.length / 2, beam.length / 2, CELLS + 1))
    basis = Basis(mesh, ElementLineHermite(), intorder=8)
    x = np.asarray(basis.global_coordinates())[0]
    start = np.zeros_like(x) if shape is None else shape(x)
    stiffness = beam.bending_stiffness * bending.assemble(basis)
    dead = weight * spread.assemble(basis, force=np.ones_like(x))
    for place, size in loads:
        node = int(np.argmin(np.abs(mesh.p[0] - place)))
        assert mesh.p[0][node] == pytest.approx(place, abs=1e-12)
        dead[basis.nodal_dofs[0, node]] += size
    touching = np.ones_like(x)
    for _ in range(60):
        layer = LINE_MODULUS * foundation.assemble(basis, touching=touching)
        pushed = LINE_MODULUS * spread.assemble(basis, force=touching * start)
        deflection = solve(stiffness + layer, dead - pushed)
        now = (np.asarray(basis.interpolate(deflection)) + start > 0.0).astype(float)
        if is_bonded or np.array_equal(now, touching):
            break
        touching = now
    else:
        raise AssertionError("the library's contact did not settle")
    middle, end = (deflection[basis.nodal_dofs[0, node]] for node in (CELLS // 2, 0))
    return {"middle": middle, "end": end, "contact": touching.mean() * beam.length}


def by_engine(beam, loads, *, weight=0.0, shape=None):
    """The same from the engine."""
    x, force = (np.array(values) for values in zip(*loads, strict=True))
    load = point_loads(beam, x, force) + line_load(beam, weight)
    at, area = beam.felt_at()
    overlap = None if shape is None else shape(at)
    solution = solve_contact(beam_contact(beam, law=LINEAR, load=load, overlap=overlap))
    places = np.array([0.0, -beam.length / 2])
    middle, end = deflection_rows(beam, places) @ solution.pose[0]
    contact = solution.contact[0] @ area / beam.width
    return {"middle": middle, "end": end, "contact": contact}


def deflections(found):
    return {name: value for name, value in found.items() if name != "contact"}


AT_MIDDLE, AT_ENDS = [(0.0, 800.0)], [(-HALF, 400.0), (HALF, 400.0)]
LIGHT_MIDDLE, LIGHT_ENDS = [(0.0, 100.0)], [(-HALF, 50.0), (HALF, 50.0)]
ALL = {"middle": 1e-4, "end": 1e-4, "contact": 1e-9}
LIFTED = {"middle": 1e-3, "end": 1e-3, "contact": 1e-2}  # contact counted in points, 240 a bar


@pytest.mark.parametrize(
    ("beam", "loads", "tolerance"),
    [
        pytest.param(STIFF, AT_MIDDLE, ALL, id="C16"),
        pytest.param(STIFF, AT_ENDS, ALL, id="C17"),
        pytest.param(SUPPLE, LIGHT_MIDDLE, LIFTED, id="C18"),
        pytest.param(SUPPLE, LIGHT_ENDS, LIFTED, id="C19"),
    ],
)
def test_bar_bends_as_in_the_library(beam, loads, tolerance):
    library = by_library(beam, loads)
    compare(by_engine(beam, loads), library, tolerance=tolerance)
    wrong = by_engine(replace(beam, bending_stiffness=1.1 * beam.bending_stiffness), loads)
    assert all_differ(wrong, deflections(library), tolerance=tolerance)


@pytest.mark.parametrize("loads", [LIGHT_MIDDLE, LIGHT_ENDS])
def test_a_layer_that_also_pulls_is_told_apart(loads):
    bonded = by_library(SUPPLE, loads, is_bonded=True)
    assert all_differ(by_engine(SUPPLE, loads), bonded, tolerance=LIFTED)


@pytest.mark.parametrize(("share", "is_lifted"), [(0.98, False), (1.02, True)])
def test_c19w_the_library_too_lifts_a_heavy_bar_at_its_load(share, is_lifted):
    # The load that first lifts it, 2 q e^pi / lambda, is held to its closed form in test_beams.
    beam = Beam(4.0, WIDTH, bending_stiffness=2.0, elements=100)
    loads = [(0.0, share * 125.4599)]
    for contact in (by_library(beam, loads, weight=30.0), by_engine(beam, loads, weight=30.0)):
        assert (contact["contact"] < beam.length * (1 - 1e-9)) == is_lifted


@pytest.mark.parametrize("curvature", [-2.0, 2.0])
def test_curved_back_off_centre_load_and_own_weight_together(curvature):
    def shape(x):
        return 0.5 * curvature * x**2

    loads = [(-HALF / 4, 350.0)]
    library = by_library(SUPPLE, loads, weight=30.0, shape=shape)
    compare(
        by_engine(SUPPLE, loads, weight=30.0, shape=shape),
        library,
        tolerance={"middle": 1e-3, "end": 1e-3, "contact": 2e-2},
    )
    flat = by_engine(SUPPLE, loads, weight=30.0)
    assert all_differ(flat, deflections(library), tolerance=1e-2)
