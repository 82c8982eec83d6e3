"""What the findings hang on: the page, the job that works it out, and what is stored."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from fitting.adapters.sensitivity_page import sensitivity_page_of
from fitting.charts.sensitivity import MARKS, Strip, strip
from fitting.engine import Sensitivity, Sweep, SweepFinding, SweepPoint, to_dict
from fitting.models import FitEvaluation
from fitting.services.evaluations import start_evaluation
from fitting.services.sensitivity import request_sensitivity, run_sensitivity, sweep_now
from horses.charts.theme import CENTIMETRES, INCHES
from horses.models import Job
from horses.services.jobs import claim
from tests.factories import make_measurement, make_pairing
from tests.fitting.evaluated import evaluated, flat_saddle

pytestmark = pytest.mark.django_db


def reading(level: str, value: float) -> SweepFinding:
    return SweepFinding("mean_pressure_cranial", "left", level, value, "Pa")


HOLDS = SweepFinding("ahead_of_last_rib", "left", "plain", 0.02, "m")
SWEEPS = Sensitivity(
    "2",
    (
        Sweep(
            "tissue",
            "x",
            1.0,
            "human muscle",
            (
                SweepPoint(0.5, (reading("plain", 9e3), HOLDS)),
                SweepPoint(1.0, (reading("watch", 12e3), HOLDS)),
                SweepPoint(2.0, ()),
            ),
        ),
        Sweep(
            "height",
            "m",
            0.25,
            "assumption",
            tuple(SweepPoint(v, (reading("watch", 12e3), HOLDS)) for v in (0.2, 0.25, 0.3)),
        ),
    ),
)


def stored(sensitivity: Sensitivity = SWEEPS) -> FitEvaluation:
    return FitEvaluation(state=FitEvaluation.State.DONE, sensitivity=to_dict(sensitivity))


def test_page_says_over_what_a_finding_changes_and_which_hold():
    page = sensitivity_page_of(stored(), INCHES)
    assert [row.title for row in page.hanging] == ["Mean pressure, front third"]
    (words,) = page.hanging[0].over
    assert words == "Give of the back: within at 0.5 times as stiff"
    assert [row.title for row in page.holding] == [
        "Support ends ahead of the last rib by, left (near)"
    ]
    tissue, height = page.parts
    assert "1 of 2 findings" in tissue.words
    assert "no rest" in tissue.words
    assert height.words.startswith("No finding changes")
    assert height.chart is None
    assert "25.0 cm" in sensitivity_page_of(stored(), CENTIMETRES).parts[1].taken


def test_chart_tells_levels_by_shape_and_has_its_table():
    tissue = sensitivity_page_of(stored(), INCHES).parts[0].chart
    assert tissue is not None
    assert tissue.table_head == ("Finding", "0.5 times as stiff", "as taken", "2 times as stiff")
    assert tissue.table_rows[0][1:] == ("9.0 kPa, within", "12.0 kPa, watch", "no rest found")
    assert len(set(MARKS.values())) == len(MARKS)
    figure = strip(Strip(("a", "b"), "a", ("One",), (("plain", "beyond"),), "axis"))
    drawn = {trace.name: list(trace.x or ()) for trace in figure.data}
    assert drawn == {"within": ["a"], "watch": [], "beyond the limit": ["b"]}


@pytest.fixture
def whole() -> FitEvaluation:
    return evaluated(saddle=flat_saddle())


def test_job_stores_the_sweeps_once_and_leaves_the_evaluation_as_it_was(whole):
    before = (whole.result, whole.measures, whole.inputs)
    job = request_sensitivity(evaluation=whole)
    assert request_sensitivity(evaluation=whole) == job
    run_sensitivity(job=claim(job_id=job.pk))
    whole.refresh_from_db()
    assert (whole.result, whole.measures, whole.inputs) == before
    kept = whole.sensitivity
    assert [sweep["code"] for sweep in kept["sweeps"]][:2] == ["tissue", "pad"]
    assert sweep_now(evaluation=whole).sensitivity == kept
    page = sensitivity_page_of(whole, INCHES)
    assert page.hanging


def test_an_evaluation_without_a_result_is_not_swept():
    measurement = make_measurement()
    waiting = start_evaluation(pairing=make_pairing(measurement.horse), measurement=measurement)
    with pytest.raises(ValidationError):
        request_sensitivity(evaluation=waiting)
    assert not Job.objects.filter(kind="sweep_fit").exists()


@pytest.fixture
def done() -> FitEvaluation:
    """An evaluation marked as computed; the page reads only its sweeps."""
    measurement = make_measurement()
    started = start_evaluation(pairing=make_pairing(measurement.horse), measurement=measurement)
    FitEvaluation.objects.filter(pk=started.pk).update(state=FitEvaluation.State.DONE)
    return started


def test_page_offers_to_work_it_out_and_then_shows_it(signed_in, fitter, done):
    client, url = signed_in(fitter), reverse("evaluation_sensitivity", args=[done.pk])
    page = client.get(url)
    assert "Work it out" in page.content.decode()
    FitEvaluation.objects.filter(pk=done.pk).update(sensitivity=to_dict(SWEEPS))
    text = client.get(url).content.decode()
    assert "Findings that change over a range" in text
    assert "Give of the back: within at 0.5 times as stiff" in text
    assert "Work it out" not in text


def test_sweeps_of_an_older_form_are_not_shown_as_a_stack_trace(signed_in, fitter, done):
    odd = {"type": "Sensitivity", "engine_version": "0", "sweeps": [], "more": 1}
    FitEvaluation.objects.filter(pk=done.pk).update(sensitivity=odd)
    answer = signed_in(fitter).get(reverse("evaluation_sensitivity", args=[done.pk]))
    assert answer.status_code == 200
    assert "older engine" in answer.content.decode()
