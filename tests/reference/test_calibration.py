"""The calibration: published numbers are compared with what the model really says of them.

Sources: the experiments' own citations in `fitting/calibration/data/experiments.toml`; values
marked V-A were read in the papers' abstracts. The committed result must be what the committed data
and this engine give.
"""

from __future__ import annotations

import functools
import math
from dataclasses import replace

import numpy as np
import pytest

from fitting.calibration import report, subjects
from fitting.calibration import stored as committed
from fitting.calibration.experiments import MODELS, World, experiments
from fitting.calibration.fit import PARAMETERS, off_by, open_range
from fitting.calibration.subjects import GENERIC, Guess
from fitting.engine import evaluate_fit, layers

ROLES = {"fitted", "checked", "direction"}
SAME = 0.03  # relative: the result is computed again after changes of the engine that matter


@functools.cache
def stored() -> committed.Json:
    return committed.stored()


def row(identity: str) -> committed.Json:
    return next(r for r in stored()["experiments"] if r["id"] == identity)


@functools.cache
def fitted() -> Guess:
    return Guess(**{p["name"]: p["fitted"] for p in stored()["parameters"]})


@functools.cache
def world() -> World:
    return World(fitted())


def believed(guess: Guess) -> np.ndarray:
    """Spreads from what was believed."""
    z = []
    for p in PARAMETERS:
        value = getattr(guess, p.name)
        off = math.log(value / p.value) if p.is_log else value - p.value
        z.append(off / p.spread)
    return np.array(z)


# -- The data


def test_every_experiment_is_cited_and_has_a_model():
    rows = experiments()
    assert len({e.id for e in rows}) == len(rows) >= 15
    for e in rows:
        assert e.role in ROLES
        assert e.model in MODELS
        assert len(e.citation) > 20
        assert e.status.startswith(("V-A", "V-S", "D"))
        assert e.sense in ("above", "below") if e.role == "direction" else e.spread > 0


def test_ratios_follow_from_the_papers_own_numbers():
    """6.3/5.0 and 10.8/8.6 kPa (Meschan et al. 2007); spread by linear propagation of both SEs."""
    by_id = {e.id: e for e in experiments()}
    assert by_id["E11-narrow-walk"].value == pytest.approx(6.3 / 5.0, abs=0.005)
    assert by_id["E11-narrow-trot"].value == pytest.approx(10.8 / 8.6, abs=0.005)
    walk = 1.26 * math.hypot(0.9 / 5.0, 1.0 / 6.3) / math.sqrt(19)
    assert by_id["E11-narrow-walk"].spread == pytest.approx(walk, abs=0.005)
    gaits = [14.2 / 11.0, 10.9 / 9.1, 18.0 / 16.2, 17.8 / 14.3]
    assert by_id["E13-wide"].value == pytest.approx(np.mean(gaits), abs=0.005)
    assert by_id["E13-wide"].spread == pytest.approx(np.std(gaits, ddof=1), abs=0.005)
    assert by_id["E11-narrow-walk"].value != pytest.approx(10.0 / 8.6, abs=0.05)  # the twin


def test_result_belongs_to_the_data():
    published = [(e.id, e.value, e.role) for e in experiments()]
    assert [(r["id"], r["value"], r["role"]) for r in stored()["experiments"]] == published
    assert [p["name"] for p in stored()["parameters"]] == [p.name for p in PARAMETERS]


# -- The result is what the engine says


@pytest.mark.parametrize("experiment", experiments(), ids=lambda e: e.id)
def test_stored_number_is_what_the_engine_says(experiment):
    ours = world().model(experiment.model)
    assert ours == pytest.approx(row(experiment.id)["ours"], rel=SAME, abs=0.02)


def test_a_wrong_tissue_is_seen_in_the_numbers():
    soft = World(replace(fitted(), tissue_modulus=fitted().tissue_modulus / 2.5))
    apart = [
        abs(soft.model(e.model) / row(e.id)["ours"] - 1)
        for e in experiments()
        if e.role == "fitted"
    ]
    assert max(apart) > 2 * SAME


def misfit(z: np.ndarray) -> float:
    return float(np.sum(off_by(z) ** 2) + np.sum(z**2))


@pytest.mark.parametrize("index", range(len(PARAMETERS)), ids=[p.name for p in PARAMETERS])
def test_no_assumption_alone_would_bring_it_nearer(index):
    """The fit is a minimum: a spread and a half either way is worse."""
    z = believed(fitted())
    for step in (-1.5, 1.5):
        moved = z + step * np.eye(len(z))[index]
        assert misfit(moved) > misfit(z)


def test_believing_alone_is_no_fit():
    """The twin: a start far off is not taken for the minimum."""
    assert misfit(np.full(len(PARAMETERS), 1.5)) > misfit(believed(fitted())) + 1


def test_the_fit_is_a_minimum_whose_gradient_is_small():
    z = believed(fitted())
    slopes = [(misfit(z + step) - misfit(z - step)) / 0.8 for step in 0.4 * np.eye(len(z))]
    assert np.abs(slopes).max() < 2.0


# -- What fits, what does not


def test_levels_under_fitting_saddles_are_met():
    """7.8 and 11.0 kPa in front (two studies), 5.0 kPa behind, 7.3 kPa in the middle, at walk."""
    assert 7.8e3 < row("E1-walk")["ours"] < 11.0e3 * 1.05
    for identity in ("E13-correct", "E11-best", "E11-wide-middle"):
        assert row(identity)["verdict"] == "fits"


def test_directions_hold():
    directions = [r for r in stored()["experiments"] if r["role"] == "direction"]
    assert len(directions) >= 6
    assert [r["id"] for r in directions if r["verdict"] != "holds"] == []


def test_a_direction_the_wrong_way_round_does_not_hold():
    one = next(e for e in experiments() if e.id == "E14-narrow")
    assert one.off(0.8) == 0.0
    assert one.off(1.2) == float("inf")


def test_gaps_are_stated_and_not_tuned_away():
    """The rear under a narrow tree: 1.26 published, 1.13 here: named on the page."""
    narrow = row("E11-narrow-walk")
    assert 1.05 < narrow["ours"] < 1.26 - narrow["spread"]
    assert narrow["verdict"] != "fits"
    text = report.PAGE.read_text(encoding="utf-8").split("## Gaps")[1].split("##")[0]
    off = [r["id"] for r in stored()["experiments"] if r["verdict"] in ("near", "does not fit")]
    assert "E11-narrow-walk" in off
    assert [i for i in off if f"**{i}**" not in text] == []
    assert "**E11-best**" not in text


def test_counting_saddle_and_girth_misses_the_published_levels():
    squares = stored()["squares"]
    assert squares["counted"] > 3 * squares["zeroed"]


# -- What it is used for


def test_engine_defaults_are_those_of_the_fit():
    found = fitted()
    assert layers.TISSUE.modulus_per_area == pytest.approx(found.tissue_modulus, rel=0.05)
    assert layers.TISSUE.pressure_scale == pytest.approx(found.tissue_scale, rel=0.05)
    flock = layers.wool_flock(thickness=subjects.FLOCK_DEPTH)
    assert flock.modulus_per_area == pytest.approx(found.flock_modulus, rel=0.05)
    assert flock.pressure_scale == subjects.FLOCK_SCALE
    assert layers.felt(thickness=0.030).modulus_per_area != pytest.approx(
        found.flock_modulus, rel=0.05
    )


def test_defaults_lie_in_the_range_left_open():
    for p in stored()["parameters"]:
        assert p["low"] < p["fitted"] < p["high"]
        assert p["low"] < p["value"] < p["high"]  # nothing believed was overthrown


def test_page_is_the_stored_result():
    assert report.PAGE.read_text(encoding="utf-8") == report.page(stored())


# -- Its parts against plain geometry and a parabola


def test_closed_head_stands_lower_at_the_bar_line_by_the_lever():
    """Plane through the top of the head: z = -y tan(s); closing by a turn lowers it at y."""
    tree = subjects.panelled(GENERIC, place=0.44, rock=subjects.ROCK)
    narrow = subjects.opened(tree, -1.0, 0.25)
    slope, turn = tree.left.slope_front, subjects.WIDTH_STEP
    waist = (tree.left.slope_front + tree.left.slope_rear) / 2
    line = subjects.CHANNEL / 2 + tree.left.width_middle / 2 * math.cos(waist)
    lowered = line * (math.tan(slope + turn / 2) - math.tan(slope - turn / 2))
    shift = narrow.seat_low - tree.seat_low
    assert shift == pytest.approx(0.25 * lowered / subjects.PANEL_LENGTH, rel=0.02)
    assert shift != pytest.approx(0.25 * turn, rel=0.2)  # the lever forgotten


def test_fitting_saddle_fits():
    inputs = subjects.ridden(
        subjects.panelled(GENERIC, place=0.44, rock=subjects.ROCK),
        fitted().layers(),
        0.25,
        GENERIC,
    )
    assert abs(evaluate_fit(inputs).value("rock_mismatch", side="left")) < 5e-4


def test_range_of_a_parabola_is_one_spread_either_way():
    parabola = [(z, (z - 0.2) ** 2 / 0.25) for z in (-2.0, -1.0, 0.2, 1.0, 2.0)]
    low, high = open_range(parabola)
    assert (low, high) == pytest.approx((-0.3, 0.7), abs=1e-9)
    flat = [(z, 0.1 * z * z) for z in (-2.0, -1.0, 0.0, 1.0, 2.0)]
    assert open_range(flat) == (-2.0, 2.0)
