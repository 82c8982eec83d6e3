"""A curved bar that rocks on the back or bridges it (checks C6 to C11).

Sources: K. L. Johnson, Contact Mechanics (Cambridge 1985), sec. 4.3, elastic foundation, line
contact [book confirmed, equations from memory] for the central load; the others are derived in the
docstrings of `fitting.engine.reference`. Shapes are parabolas x2/2R.
"""

from __future__ import annotations

import numpy as np
import pytest

from fitting.engine import reference

from .cases import (
    FINE_STRIP,
    LENGTH,
    LINE_MODULUS,
    LINEAR,
    MODULUS,
    PROD,
    WIDTH,
    Bar,
    all_differ,
    compare,
)

ROCK_GRIDS = [(PROD, 1e-3), (FINE_STRIP, 1e-5)]
BRIDGE_GRIDS = [(PROD, 2e-3), (FINE_STRIP, 2e-5)]


def press(bar, *, load, curvature, eccentricity, edges):
    """Press a bar of relative curvature 1/R, negative when it rocks.

    With edges inside cells the overlap is the mean over a cell, without them that at its middle.
    """
    within = bar.steps[0] ** 2 / 12 if edges else 0.0
    return bar.under(
        load,
        eccentricity,
        overlap=0.5 * curvature * (bar.x**2 + within),
        slopes=(curvature * bar.x, np.zeros_like(bar.x)),
        edges=edges,
    )


def rock(grid, *, load, radius, eccentricity, edges=False):
    """Contact ends, angle and peak pressure of a rocking strip, from the solved pose."""
    bar = Bar.of(grid)
    solution = press(bar, load=load, curvature=-1 / radius, eccentricity=eccentricity, edges=edges)
    heave, angle, _ = solution.pose[0]
    centre = radius * angle
    half = np.sqrt(2 * radius * heave + centre**2)
    first, last = max(centre - half, -LENGTH / 2), min(centre + half, LENGTH / 2)
    place = np.clip(centre, -LENGTH / 2, LENGTH / 2)
    peak = heave + angle * place - place**2 / (2 * radius)
    pressed = solution.pressure[0] * bar.area
    return {
        "heave": heave,
        "angle": angle,
        "first": first,
        "last": last,
        "length": last - first,
        "half": half,
        "pressure": MODULUS * peak,
        "mean": pressed.sum() / (WIDTH * (last - first)),
    }


@pytest.mark.parametrize("edges", [False, True], ids=["middles", "edges"])
@pytest.mark.parametrize(("grid", "tolerance"), ROCK_GRIDS)
def test_c6_rocking_strip_loaded_in_the_middle(grid, tolerance, edges):
    found = rock(grid, load=400, radius=1.5, eccentricity=0.0, edges=edges)
    closed = reference.rocking_strip(
        load=400, line_modulus=LINE_MODULUS, radius=1.5, eccentricity=0.0
    )
    worked = {"half": 0.1957434, "pressure": 15_326.19, "mean": 2 / 3 * 15_326.19}
    compare(found, worked, tolerance=tolerance)
    compare(
        {"half": closed.last, "pressure": MODULUS * closed.peak},
        {
            "half": worked["half"],
            "pressure": worked["pressure"],
        },
        tolerance=1e-6,
    )
    assert all_differ(
        rock(grid, load=410, radius=1.5, eccentricity=0.0), worked, tolerance=tolerance
    )


@pytest.mark.parametrize(("grid", "tolerance"), ROCK_GRIDS)
def test_c6_full_contact_begins_at_the_closing_load(grid, tolerance):
    closing = reference.closing_load(
        line_modulus=LINE_MODULUS, radius=1.5, length=LENGTH, bridges=False
    )
    compare({"load": closing}, {"load": 992.5133}, tolerance=1e-6)
    found = rock(grid, load=closing, radius=1.5, eccentricity=0.0)
    compare(found, {"half": LENGTH / 2}, tolerance=tolerance)
    below = rock(grid, load=0.98 * closing, radius=1.5, eccentricity=0.0)
    assert all_differ(below, {"half": LENGTH / 2}, tolerance=tolerance)


@pytest.mark.parametrize("edges", [False, True], ids=["middles", "edges"])
@pytest.mark.parametrize(("grid", "tolerance"), ROCK_GRIDS)
def test_c7_rock_angle_is_eccentricity_over_radius(grid, tolerance, edges):
    found = rock(grid, load=200, radius=1.5, eccentricity=0.06, edges=edges)
    closed = reference.rocking_strip(
        load=200, line_modulus=LINE_MODULUS, radius=1.5, eccentricity=0.06
    )
    worked = {"angle": 0.04, "first": -0.0953616, "last": 0.2153616, "pressure": 9_654.894}
    compare(found, worked, tolerance=tolerance)
    compare({**vars(closed), "pressure": MODULUS * closed.peak}, worked, tolerance=1e-6)
    wrong = rock(grid, load=200, radius=1.53, eccentricity=0.06)
    assert all_differ(wrong, worked, tolerance=tolerance)


@pytest.mark.parametrize(("grid", "tolerance"), ROCK_GRIDS)
def test_c7_peak_pressure_does_not_depend_on_where_the_load_is(grid, tolerance):
    middle = rock(grid, load=200, radius=1.5, eccentricity=0.0)
    aside = rock(grid, load=200, radius=1.5, eccentricity=0.06)
    compare(aside, {"pressure": middle["pressure"]}, tolerance=tolerance)
    end = rock(grid, load=200, radius=1.5, eccentricity=0.20)  # the patch runs off the end
    assert all_differ(end, {"pressure": middle["pressure"]}, tolerance=tolerance)


@pytest.mark.parametrize("edges", [False, True], ids=["middles", "edges"])
@pytest.mark.parametrize(("grid", "tolerance"), ROCK_GRIDS)
def test_c8_rocking_strip_clipped_at_one_end(grid, tolerance, edges):
    found = rock(grid, load=800, radius=2.0, eccentricity=0.05, edges=edges)
    worked = {
        "angle": 0.03058474,
        "first": -0.2146270,
        "length": 0.4796270,
        "pressure": 22_819.11,
    }
    compare(found, worked, tolerance=tolerance)
    closed = reference.clipped_rocking_strip(
        load=800, line_modulus=LINE_MODULUS, radius=2.0, eccentricity=0.05, length=LENGTH
    )
    compare(
        {
            "angle": closed.angle,
            "first": closed.first,
            "length": closed.last - closed.first,
            "pressure": MODULUS * closed.peak,
        },
        worked,
        tolerance=1e-6,
    )
    unclipped = reference.rocking_strip(
        load=800, line_modulus=LINE_MODULUS, radius=2.0, eccentricity=0.05
    )
    wrong = {
        "angle": unclipped.angle,
        "first": unclipped.first,
        "length": unclipped.last - unclipped.first,
        "pressure": MODULUS * unclipped.peak,
    }
    assert all_differ(wrong, worked, tolerance=tolerance)


@pytest.mark.parametrize("edges", [False, True], ids=["middles", "edges"])
@pytest.mark.parametrize(("grid", "tolerance"), ROCK_GRIDS)
def test_c9_rocking_strip_in_contact_all_along(grid, tolerance, edges):
    found = rock(grid, load=2000, radius=4.0, eccentricity=0.02, edges=edges)
    worked = {"angle": 0.02686782, "pressure": 42_979.61}
    compare(found, worked, tolerance=tolerance)
    closed = reference.closed_rocking_strip(
        load=2000, line_modulus=LINE_MODULUS, radius=4.0, eccentricity=0.02, length=LENGTH
    )
    compare({"angle": closed.angle, "pressure": MODULUS * closed.peak}, worked, tolerance=1e-6)
    compare(found, {"heave": closed.heave}, tolerance=tolerance)
    open_ = reference.rocking_strip(
        load=2000, line_modulus=LINE_MODULUS, radius=4.0, eccentricity=0.02
    )
    wrong = {"angle": open_.angle, "pressure": MODULUS * open_.peak}
    assert all_differ(wrong, worked, tolerance=tolerance)


def bridge(grid, *, load, radius, eccentricity, edges=False):
    """Gap, end pressures and pose of a bridging strip, from the solved pose."""
    bar = Bar.of(grid)
    solution = press(bar, load=load, curvature=1 / radius, eccentricity=eccentricity, edges=edges)
    heave, angle, _ = solution.pose[0]
    centre = -radius * angle
    half = np.sqrt(max(centre**2 - 2 * radius * heave, 0.0))
    ahead, behind = LENGTH / 2 - centre, LENGTH / 2 + centre
    return {
        "heave": heave,
        "angle": angle,
        "half": half,
        "patches": LENGTH - 2 * half,
        "front": MODULUS * (ahead**2 - half**2) / (2 * radius),
        "rear": MODULUS * (behind**2 - half**2) / (2 * radius),
        "gap": half**2 / (2 * radius),
    }


@pytest.mark.parametrize("edges", [False, True], ids=["middles", "edges"])
@pytest.mark.parametrize(("grid", "tolerance"), BRIDGE_GRIDS)
def test_c10_bridging_strip_loaded_in_the_middle(grid, tolerance, edges):
    found = bridge(grid, load=300, radius=2.0, eccentricity=0.0, edges=edges)
    worked = {"half": 0.07478344, "patches": 0.3804331, "front": 19_389.73, "gap": 1.398141e-3}
    compare(found, worked, tolerance=tolerance)
    closed = reference.bridging_strip(
        load=300, line_modulus=LINE_MODULUS, radius=2.0, length=LENGTH
    )
    compare(
        {
            "half": closed.last,
            "patches": LENGTH - 2 * closed.last,
            "front": MODULUS * closed.peak,
            "gap": -closed.heave,
        },
        worked,
        tolerance=1e-6,
    )
    wrong = bridge(grid, load=310, radius=2.0, eccentricity=0.0)
    assert all_differ(wrong, worked, tolerance=tolerance)


def test_c10_the_gap_closes_at_the_closing_load():
    closing = reference.closing_load(
        line_modulus=LINE_MODULUS, radius=2.0, length=LENGTH, bridges=True
    )
    compare({"load": closing}, {"load": 372.1925}, tolerance=1e-6)
    bar = Bar.of((1280, 2))

    def lowest(load):
        return bar.under(load, overlap=bar.x**2 / 4.0).overlap[0].min()

    assert lowest(0.99 * closing) < 0 < lowest(1.01 * closing)
    assert not lowest(0.99 * closing / 2) > 0  # the rocking strip's KL3/12R is twice too much
    assert lowest(1.99 * closing) > 0


@pytest.mark.parametrize("edges", [False, True], ids=["middles", "edges"])
@pytest.mark.parametrize(("grid", "tolerance"), ROCK_GRIDS)
def test_c11_tilted_bridge_from_the_load_that_holds_it(grid, tolerance, edges):
    held = reference.tilted_bridge(
        gap_half=0.15, gap_centre=-0.03, line_modulus=LINE_MODULUS, radius=2.0, length=LENGTH
    )
    compare(
        vars(held), {"load": 163.7525, "eccentricity": 0.1116413, "angle": 0.015}, tolerance=1e-6
    )
    found = bridge(grid, load=held.load, radius=2.0, eccentricity=held.eccentricity, edges=edges)
    worked = {"angle": 0.015, "heave": -5.4e-3, "front": 19_357.50, "rear": 9_817.500}
    compare(found, worked, tolerance=tolerance)
    wrong = bridge(grid, load=held.load, radius=2.0, eccentricity=0.105)
    assert all_differ(wrong, worked, tolerance=tolerance)


def test_the_layer_of_these_checks_is_the_linear_one():
    assert LINEAR.pressure(1e-2) == pytest.approx(1e-2 * MODULUS)
