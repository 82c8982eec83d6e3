"""Rope, girth and measuring error on a flat tree (checks C20, C21, C21g).

Sources: statics; JCGM 101:2008, Supplement 1 to the Guide to the expression of uncertainty in
measurement, propagation of distributions by simulation [from memory], against linear propagation.
"""

from __future__ import annotations

import numpy as np
import pytest

from fitting.engine import reference, reference_loads
from fitting.engine.contact import ContactBatch, solve_contact

from .cases import LENGTH, LINEAR, MODULUS, PROD, WIDTH, Bar, all_differ, compare
from .test_footing import ends

ROPE = reference_loads.rope_resultant(
    weight=900,
    weight_place=-0.02,
    pull=500,
    pull_angle=np.radians(20),
    horn_place=0.20,
    horn_height=0.18,
)


def test_c21_rope_on_the_horn_moves_the_centre_of_pressure():
    worked = {"force": 1_071.010, "place": 0.09409281, "friction": 0.4386946}
    compare(vars(ROPE), worked, tolerance=1e-6)
    bar = Bar.of(PROD)
    solution = bar.under(ROPE.force, ROPE.place)
    pressed = solution.pressure[0] * bar.area
    found = {"force": pressed.sum(), "place": pressed @ bar.x / pressed.sum()}
    compare(found, {"force": ROPE.force, "place": ROPE.place}, tolerance=1e-9)
    level = reference_loads.rope_resultant(
        weight=900,
        weight_place=-0.02,
        pull=500,
        pull_angle=np.radians(20),
        horn_place=0.20,
        horn_height=0.0,  # forgetting that the horn stands above the bars
    )
    wrong = bar.under(level.force, level.place)
    pressed = wrong.pressure[0] * bar.area
    centre = {"place": pressed @ bar.x / pressed.sum()}
    assert all_differ(centre, {"place": ROPE.place}, tolerance=1e-9)


def test_c21_pressure_under_the_roped_load():
    bar = Bar.of(PROD)
    worked = {"highest": 41_777.45, "contact": 0.5127216}
    compare(ends(bar, bar.under(ROPE.force, ROPE.place)), worked, tolerance=5e-4)
    closed = reference.eccentric_strip(
        load=ROPE.force, length=LENGTH, width=WIDTH, eccentricity=ROPE.place
    )
    compare(vars(closed), worked, tolerance=1e-6)
    wrong = ends(bar, bar.under(900, ROPE.place * 1.01))
    assert all_differ(wrong, worked, tolerance=5e-4)


def test_c21g_girth_straps_pull_down_and_their_side_parts_cancel():
    found = {"force": reference_loads.girth_force(tension=120, angle=np.radians(15))}
    compare(found, {"force": 2 * 120 * np.cos(np.pi / 12)}, tolerance=1e-9)
    compare(found, {"force": 231.8222}, tolerance=1e-6)
    assert all_differ({"force": 240.0}, {"force": 231.8222}, tolerance=1e-9)


DRAWS = 4000
SIGMA = 2e-3  # [m]


def flat_tree():
    """Two level bars of 40 x 8 cells, 0.12 m off the midline."""
    bar = Bar.of((40, 8))
    x, y = np.tile(bar.x, 2), np.concatenate([bar.y - 0.12, bar.y + 0.12])
    return x, y, np.column_stack([np.ones_like(x), x, y]), np.tile(bar.area, 2)


def spread_of_draws(sigma):
    """Standard deviations of the pose and rms noise of pressure over seeded draws."""
    x, _, rows, area = flat_tree()
    error = np.random.default_rng(101).normal(0.0, sigma, (DRAWS, len(x)))
    load = np.tile([4000.0, 0.0, 0.0], (DRAWS, 1))  # deep enough for contact everywhere
    solution = solve_contact(ContactBatch(error, rows, area, LINEAR, load))
    assert solution.contact.min() == 1.0
    noise = solution.pressure - 4000.0 / area.sum()
    heave, pitch, roll = solution.pose.std(axis=0)
    return {
        "heave": heave,
        "pitch": pitch,
        "roll": roll,
        "pressure": np.sqrt(np.mean(noise**2)),
    }


def test_c20_simulated_errors_spread_as_linear_propagation_says():
    x, y, _, _ = flat_tree()
    closed = vars(
        reference_loads.propagated_shape_error(deviation=SIGMA, modulus_per_area=MODULUS, x=x, y=y)
    )
    worked = {
        "heave": 7.905694e-5,
        "pitch": 5.168809e-4,
        "roll": 6.408084e-4,
        "pressure": 2_394.368,
    }
    compare(closed, worked, tolerance=1e-6)
    tolerance = 4 / np.sqrt(2 * (DRAWS - 1))  # four standard errors of a standard deviation
    compare(spread_of_draws(SIGMA), worked, tolerance=tolerance)
    assert all_differ(spread_of_draws(1.1 * SIGMA), worked, tolerance=tolerance)


@pytest.mark.parametrize("name", ["pitch", "roll"])
def test_c20_twin_a_lever_from_the_rim_is_caught(name):
    x, y, _, _ = flat_tree()
    rim = {"pitch": np.max(np.abs(x)), "roll": np.max(np.abs(y))}[name]
    wrong = {name: SIGMA / (np.sqrt(len(x)) * rim)}
    worked = {"pitch": 5.168809e-4, "roll": 6.408084e-4}
    assert all_differ(wrong, {name: worked[name]}, tolerance=4 / np.sqrt(2 * (DRAWS - 1)))
