"""Bands, likelihoods and what to measure again, in words; and where the errors come from."""

import math

import pytest

from fitting.adapters.band_words import (
    LIKELIHOODS,
    band_of,
    band_words,
    likelihood,
    likelihood_words,
    narrowing_of,
    narrowing_sentence,
    repeat_words,
)
from fitting.adapters.evaluation_page import result_of
from fitting.adapters.fit_inputs import gather_fit_inputs
from fitting.engine import Narrowing
from horses.charts.theme import CENTIMETRES, INCHES
from horses.measuring_error import REPEATABILITY_FACTOR
from horses.models import SectionProfile
from tests.factories import make_measurement, make_pairing
from tests.fitting.evaluated import evaluated, flat_saddle

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (1.0, "virtually certain (over 99 %)"),
        (0.95, "very likely (95 %)"),
        (0.66, "likely (66 %)"),
        (0.5, "about as likely as not (50 %)"),
        (0.2, "unlikely (20 %)"),
        (0.0, "exceptionally unlikely (under 1 %)"),
    ],
)
def test_likelihood_words_follow_the_published_scale_and_keep_the_number(share, said):
    """IPCC AR5 guidance note (Mastrandrea et al. 2010) [from memory]."""
    assert likelihood(share) == said
    assert [least for least, _ in LIKELIHOODS] == sorted((n for n, _ in LIKELIHOODS), reverse=True)


def test_findings_of_a_stored_evaluation_carry_bands_and_what_narrows_them():
    result = result_of(evaluated(saddle=flat_saddle()))
    assert result.draws == 200
    assert result.seed is not None
    told = 0
    for finding in result.findings:
        assert likelihood_words(finding)
        band = band_of(result, finding)
        if band is None:
            continue
        told += 1
        for unit in (INCHES, CENTIMETRES):
            assert "90 %" in band_words(band, finding, unit)
        shares = [part.share for part in narrowing_of(result, finding)]
        assert shares == sorted(shares, reverse=True)
        assert not shares or narrowing_sentence(result, finding).endswith(".")
    assert told > 15


def test_computing_again_from_the_same_records_gives_the_same_bands():
    measurement = make_measurement()
    first = evaluated(measurement)
    again = evaluated(measurement, saddle=first.pairing.saddle, pad=first.pairing.pad,
                      rider=first.pairing.rider)  # fmt: skip
    if first.inputs["engine"] == again.inputs["engine"]:
        assert result_of(first).bands == result_of(again).bands
        assert result_of(first).seed == result_of(again).seed
    else:
        pytest.fail("the second pairing has other inputs, so the test says nothing")


@pytest.mark.parametrize(
    ("group", "item", "said"),
    [
        ("sections", "S5 left", "Trace the section at S5 (about T18) again on the left"),
        ("lines", "right_line", "Trace the right bar line again"),
        (
            "tree",
            "slope_front right",
            "Measure the slope at the front of the bar again on the right",
        ),
        ("tree", "rock", "Measure the rock again"),
        ("load", "rider", "Weigh the rider"),
    ],
)
def test_what_to_repeat_is_an_instruction(group, item, said):
    assert repeat_words(Narrowing("share", "", "left", "standing", group, 0.5, item)) == said


def traced_twice(apart_mm: float):
    """A measuring with every section traced twice, the second half-widths further out."""
    measurement = make_measurement()
    measurement.sections.filter(trace=2).delete()
    for section in list(measurement.sections.all()):
        points = [[d, w + apart_mm if d else w] for d, w in section.points]
        SectionProfile.objects.create(
            measurement=measurement,
            station=section.station,
            side=section.side,
            trace=2,
            behind_blade_mm=section.behind_blade_mm,
            points=points,
        )
    return measurement


@pytest.mark.parametrize("apart_mm", [2.0, 6.0])
def test_two_traces_of_each_section_give_its_error(apart_mm):
    """Two values d apart have the standard deviation d / sqrt 2, their mean d / 2."""
    measurement = traced_twice(apart_mm)
    gathered = gather_fit_inputs(make_pairing(measurement.horse), measurement)
    errors = gathered.inputs.errors
    assert errors.half_width == pytest.approx(apart_mm * 1e-3 / math.sqrt(2))
    assert errors.half_width_at[0] == pytest.approx((apart_mm * 5e-4, apart_mm * 5e-4))
    said = [a for a in gathered.account.assumptions if a.what.startswith("How far off a traced")]
    assert "traced twice" in said[0].why


def test_without_repeats_the_stated_default_is_taken_and_said():
    measurement = make_measurement()
    measurement.sections.filter(trace=2).delete()
    gathered = gather_fit_inputs(make_pairing(measurement.horse), measurement)
    assert gathered.inputs.errors.half_width == pytest.approx(4e-3 / REPEATABILITY_FACTOR)
    said = [a for a in gathered.account.assumptions if a.what.startswith("How far off a traced")]
    assert "assumption" in said[0].why
