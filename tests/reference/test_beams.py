"""Bars that bend, on a layer that pushes and never pulls (checks C16 to C19w).

Sources: M. Hetenyi, Beams on Elastic Foundation (1946), sec. 19, beams with free ends [section
seen; eqs 37a-37c seen, the central load from memory]; tensionless: Weitsman 1970 and Tsai &
Westmann 1967 [from memory]; Lovcov, Engineering Journal of Don 2025 no. 10 [abstract seen]. A
bending stiffness of 50 or 2 N m2 is illustrative, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitting.engine import reference, reference_beams
from fitting.engine.beams import (
    Beam,
    beam_contact,
    bending_moment,
    deflection_rows,
    line_load,
    point_loads,
    touching_lengths,
)
from fitting.engine.contact import solve_contact

from .cases import LENGTH, LINE_MODULUS, LINEAR, MODULUS, WIDTH, all_differ, compare

HALF = LENGTH / 2
STIFF = Beam(LENGTH, WIDTH, bending_stiffness=50.0)
SUPPLE = Beam(LENGTH, WIDTH, bending_stiffness=2.0)
PROD = 20
W_AND_M, CONTACT = 1e-3, 2e-3


def press(beam, loads, *, weight=0.0, overlap=None):
    """Solve one bar under point loads [(place, force)] and a weight per length."""
    x, force = (np.array(values) for values in zip(*loads, strict=True))
    load = point_loads(beam, x, force) + line_load(beam, weight)
    return solve_contact(beam_contact(beam, law=LINEAR, load=load, overlap=overlap))


def bent(beam, loads, **kwargs):
    """Deflections, middle moment and contact of a solved bar."""
    solution = press(beam, loads, **kwargs)
    middle, end = deflection_rows(beam, np.array([0.0, -beam.length / 2])) @ solution.pose[0]
    return {
        "middle": middle,
        "end": end,
        "moment": bending_moment(beam, solution.pressure, 0.0, loads)[0],
        "contact": touching_lengths(beam, solution.pose)[0],
    }


def closed(formula, load, beam):
    return vars(
        formula(
            load=load,
            length=beam.length,
            line_modulus=LINE_MODULUS,
            bending_stiffness=beam.bending_stiffness,
        )
    )


@pytest.mark.parametrize(("elements", "tolerance"), [(PROD, 1e-4), (40, 1e-6)])
def test_c16_load_in_the_middle_of_a_free_beam(elements, tolerance):
    beam = replace(STIFF, elements=elements)
    worked = {"middle": 18.087902e-3, "end": 4.5826984e-3, "moment": 42.860547}
    compare(bent(beam, [(0.0, 800.0)]), worked, tolerance=tolerance)
    formula = closed(reference_beams.centrally_loaded_beam, 800.0, beam)
    compare(formula, worked, tolerance=1e-7)
    wrong = bent(replace(beam, bending_stiffness=52.0), [(0.0, 800.0)])
    assert all_differ(wrong, worked, tolerance=tolerance)


@pytest.mark.parametrize(("elements", "tolerance"), [(PROD, 1e-4), (40, 1e-6)])
def test_c17_equal_loads_at_both_ends(elements, tolerance):
    beam = replace(STIFF, elements=elements)
    loads = [(-HALF, 400.0), (HALF, 400.0)]
    worked = {"end": 27.195682e-3, "middle": 4.5826984e-3, "moment": -36.596675}
    compare(bent(beam, loads), worked, tolerance=tolerance)
    formula = closed(reference_beams.end_loaded_beam, 400.0, beam)
    compare(formula, worked, tolerance=1e-7)
    wrong = bent(replace(beam, bending_stiffness=52.0), loads)
    assert all_differ(wrong, worked, tolerance=tolerance)


def test_c16_c17_the_two_loadings_are_reciprocal():
    middle_by_ends = bent(STIFF, [(-HALF, 400.0), (HALF, 400.0)])["middle"]
    end_by_middle = bent(STIFF, [(0.0, 800.0)])["end"]
    compare({"w": middle_by_ends}, {"w": end_by_middle}, tolerance=1e-9)
    assert not all_differ({"w": middle_by_ends}, {"w": end_by_middle}, tolerance=1e-9)
    assert all_differ({"w": middle_by_ends}, {"w": 1.0001 * end_by_middle}, tolerance=1e-9)


def test_c17i_endless_beam():
    # 4 m is 20 / lambda; an even weight keeps it in contact and is taken off again.
    beam = Beam(4.0, WIDTH, bending_stiffness=50.0, elements=100)
    weight = 400.0
    under = press(beam, [(0.0, 800.0)], weight=weight)
    assert under.contact.min() == 1.0
    middle = (deflection_rows(beam, np.array([0.0])) @ under.pose[0])[0]
    moment = bending_moment(beam, under.pressure, 0.0, [(0.0, 800.0)])[0] - weight * 4.0**2 / 8
    found = {"middle": middle - weight / LINE_MODULUS, "moment": moment}
    worked = {"middle": 16.497440e-3, "moment": 40.410310}
    compare(found, worked, tolerance=1e-4)
    w, m = reference_beams.endless_beam(
        load=800.0, line_modulus=LINE_MODULUS, bending_stiffness=50.0
    )
    compare({"middle": w, "moment": m}, worked, tolerance=1e-7)
    short = closed(reference_beams.centrally_loaded_beam, 800.0, STIFF)  # its ends are felt
    assert all_differ(short, worked, tolerance=1e-4)


TENSIONLESS = {"middle": W_AND_M, "end": W_AND_M, "moment": W_AND_M, "contact": CONTACT}
FINE = dict.fromkeys(TENSIONLESS, 1e-4)


@pytest.mark.parametrize(
    ("elements", "points", "tolerance"), [(PROD, 12, TENSIONLESS), (80, 12, FINE)]
)
def test_c18_load_in_the_middle_lifts_the_ends(elements, points, tolerance):
    beam = replace(SUPPLE, elements=elements, points=points)
    worked = {
        "middle": 5.0277086e-3,
        "end": -5.457795e-3,
        "moment": 2.4630641,
        "contact": 0.2838749,
    }
    compare(bent(beam, [(0.0, 100.0)]), worked, tolerance=tolerance)
    formula = closed(reference_beams.lifting_centrally_loaded_beam, 100.0, beam)
    compare(formula, worked, tolerance=3e-7)
    bonded = closed(reference_beams.centrally_loaded_beam, 100.0, beam)
    assert all_differ(bonded, worked, tolerance=tolerance)


def test_c18_with_the_points_used_by_default():
    worked = {"middle": 5.0277086e-3, "moment": 2.4630641, "contact": 0.2838749}
    compare(bent(SUPPLE, [(0.0, 100.0)]), worked, tolerance=TENSIONLESS)
    wrong = bent(replace(SUPPLE, bending_stiffness=2.1), [(0.0, 100.0)])
    assert all_differ(wrong, worked, tolerance=TENSIONLESS)


def test_c18_contact_does_not_depend_on_the_load():
    lengths = [bent(SUPPLE, [(0.0, load)])["contact"] for load in (1.0, 100.0, 10_000.0)]
    assert lengths == pytest.approx([lengths[0]] * 3, rel=1e-8)
    weighed = bent(SUPPLE, [(0.0, 100.0)], weight=20.0)["contact"]
    assert weighed != pytest.approx(lengths[0], rel=1e-2)  # weight makes it depend


@pytest.mark.parametrize(
    ("elements", "points", "tolerance"), [(PROD, 6, TENSIONLESS), (80, 12, FINE)]
)
def test_c19_loads_at_the_ends_lift_the_middle(elements, points, tolerance):
    beam = replace(SUPPLE, elements=elements, points=points)
    loads = [(-HALF, 50.0), (HALF, 50.0)]
    worked = {
        "contact": 0.07865950,
        "end": 11.123396e-3,
        "moment": -1.2748127,
        "middle": -11.06626e-3,
    }
    found = bent(beam, loads)
    compare(found | {"contact": found["contact"] / 2}, worked, tolerance=tolerance)
    formula = closed(reference_beams.lifting_end_loaded_beam, 50.0, beam)
    compare(formula, worked, tolerance=3e-7)
    bonded = closed(reference_beams.end_loaded_beam, 50.0, beam)
    assert all_differ(bonded, worked, tolerance=tolerance)


def test_c18_c19_lift_off_begins_at_lambda_length_pi():
    for formula in (reference_beams.centrally_loaded_beam, reference_beams.end_loaded_beam):
        stiffness = LINE_MODULUS / 4 * (LENGTH / reference_beams.LIFT_OFF) ** 4
        beam = replace(SUPPLE, bending_stiffness=stiffness)
        lifted = {"end": "middle"}.get("end" if formula.__name__.startswith("end") else "", "end")
        at_threshold = closed(formula, 100.0, beam)[lifted]
        assert at_threshold == pytest.approx(0.0, abs=1e-12)
    limp, firm = (replace(SUPPLE, bending_stiffness=f * stiffness) for f in (0.95, 1.05))
    assert bent(limp, [(0.0, 100.0)])["end"] < 0 < bent(firm, [(0.0, 100.0)])["end"]


def test_c19w_first_lift_off_of_a_heavy_endless_beam():
    load, place = reference_beams.lifting_load(
        weight_per_length=30.0, line_modulus=LINE_MODULUS, bending_stiffness=2.0
    )
    compare({"P": load, "x": place}, {"P": 125.4599, "x": 0.2838749}, tolerance=1e-6)
    beam = Beam(4.0, WIDTH, bending_stiffness=2.0, elements=100)
    x, _ = beam.felt_at()
    below = press(beam, [(0.0, 0.98 * load)], weight=30.0)
    above = press(beam, [(0.0, 1.02 * load)], weight=30.0)
    assert below.contact.min() == 1.0
    open_ = x[above.contact[0] == 0.0]
    assert open_[open_ > 0].min() < place < open_[open_ > 0].max()
    assert press(beam, [(0.0, 0.49 * load)], weight=15.0).contact.min() == 1.0
    assert press(beam, [(0.0, 0.98 * load)], weight=29.0).contact.min() == 0.0  # a lighter beam


def test_an_unbending_bar_is_the_rigid_one():
    radius, load, place = 2.0, 800.0, 0.05
    beam = replace(STIFF, bending_stiffness=1e7, points=12)
    x, _ = beam.felt_at()
    shape = -(x**2) / (2 * radius)
    rigid = reference.clipped_rocking_strip(
        load=load, line_modulus=LINE_MODULUS, radius=radius, eccentricity=place, length=LENGTH
    )
    expected = {"heave": rigid.heave, "angle": rigid.angle, "contact": rigid.last - rigid.first}

    def found(bar):
        solution = press(bar, [(place, load)], overlap=shape)
        middle = np.array([0.0])
        return {
            "heave": (deflection_rows(bar, middle) @ solution.pose[0])[0],
            "angle": (deflection_rows(bar, middle, derivative=1) @ solution.pose[0])[0],
            "contact": touching_lengths(bar, solution.pose, shape)[0],
        }

    compare(found(beam), expected, tolerance=1e-3)
    assert all_differ(found(replace(beam, bending_stiffness=50.0)), expected, tolerance=1e-3)


def test_a_limp_bar_passes_its_load_straight_down():
    beam = replace(STIFF, bending_stiffness=1e-9)
    x, _ = beam.felt_at()
    seat = 2000.0 * (1.5 - (x / HALF) ** 2 + 0.4 * x / HALF)  # [N/m], over the whole bar
    solution = solve_contact(beam_contact(beam, law=LINEAR, load=line_load(beam, seat)))
    assert solution.pressure[0] == pytest.approx(seat / WIDTH, rel=1e-6)
    stiff = solve_contact(beam_contact(STIFF, law=LINEAR, load=line_load(STIFF, seat)))
    assert stiff.pressure[0] != pytest.approx(seat / WIDTH, rel=1e-2)


def test_a_set_taken_by_the_bar_is_felt_as_its_shape():
    # A bar that has taken the back's own curve as its set presses like a flat bar on a flat back.
    x, _ = STIFF.felt_at()
    back, taken = -(x**2) / 3.0, x**2 / 3.0
    flat = press(STIFF, [(0.0, 800.0)])
    fitted = press(STIFF, [(0.0, 800.0)], overlap=back + taken)
    assert fitted.pressure == pytest.approx(flat.pressure)
    half_taken = press(STIFF, [(0.0, 800.0)], overlap=back + 0.5 * taken)
    assert half_taken.pressure != pytest.approx(flat.pressure, rel=1e-2)


def test_many_bars_at_once_are_the_same_as_one_by_one():
    rng = np.random.default_rng(16)
    x, _ = SUPPLE.felt_at()
    count = 12
    overlap = rng.uniform(-1.0, 1.0, (count, 1)) * x**2
    load = np.array(
        [
            point_loads(SUPPLE, np.array([p]), np.array([150.0]))
            for p in rng.uniform(-0.2, 0.2, count)
        ]
    ) + line_load(SUPPLE, 30.0)
    batch = beam_contact(SUPPLE, law=LINEAR, load=load, overlap=overlap)
    together = solve_contact(batch)
    assert together.residual.max() < 1e-10
    for problem in range(count):
        alone = solve_contact(batch.pick(slice(problem, problem + 1)))
        assert alone.pressure[0] == pytest.approx(together.pressure[problem], rel=1e-6, abs=1e-3)
    force = together.pressure @ batch.area
    assert force == pytest.approx(load[:, 0], rel=1e-9)


def test_the_layer_here_is_the_linear_one():
    assert LINEAR.modulus_per_area * WIDTH == pytest.approx(LINE_MODULUS)
    assert pytest.approx(LINE_MODULUS / WIDTH) == MODULUS
