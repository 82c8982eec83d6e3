"""Asking for a fit evaluation, computing it, and what is stored."""

import json

import pytest
from django.core.exceptions import ValidationError

from fitting.adapters.evaluation_page import result_of
from fitting.engine import ENGINE_VERSION, evaluate_fit, from_dict
from fitting.models import FitEvaluation
from fitting.services.evaluations import evaluate_now, request_evaluation, start_evaluation
from horses.models import Job
from horses.tasks import run_job
from tests.factories import make_horse, make_measurement, make_pairing
from tests.fitting.evaluated import evaluated, flat_saddle

pytestmark = pytest.mark.django_db


def test_a_computed_fit_is_stored_with_inputs_version_and_measures() -> None:
    row = FitEvaluation.objects.get(pk=evaluated().pk)
    assert row.state == FitEvaluation.State.DONE
    assert row.engine_version == ENGINE_VERSION
    assert row.inputs["went_in"]
    assert row.inputs["assumptions"]
    assert row.measures["shape.load_ratio"] == pytest.approx(0.223, abs=0.002)
    assert {"standing", "rider_left", "rider_right", "saddle_only"} <= {
        key.split(".")[0] for key in row.measures
    }


def test_the_frozen_inputs_give_the_same_result_again() -> None:
    row = FitEvaluation.objects.get(pk=evaluated().pk)
    again = evaluate_fit(from_dict(row.inputs["engine"]))
    stored = result_of(row)
    for case in stored.cases:
        assert again.case(case.name).value("share", "middle") == pytest.approx(
            case.value("share", "middle"), abs=1e-9
        )


def test_the_load_balances_the_weight_that_went_in() -> None:
    """Equilibrium: upward force = weight of rider, saddle, gear and the pull of both girth straps.

    Standard gravity 9.80665 m/s2 (CGPM 1901).
    """
    row = evaluated()
    loads = from_dict(row.inputs["engine"]).loads
    girth = 2 * loads.girth_tension * 0.9659258  # cosine of the stated 15 degrees
    weight = 9.80665 * (81.6 + 17.2 + 9.1)
    assert row.measures["standing.load"] == pytest.approx(weight + girth, rel=1e-6)
    assert row.measures["standing.load"] != pytest.approx(weight, rel=0.01)


def test_stored_json_holds_no_not_a_number() -> None:
    row = evaluated()
    for part in (row.inputs, row.result, row.measures):
        json.dumps(part, allow_nan=False)


def test_the_flat_tree_bridges_on_this_back_and_the_rocked_one_does_not() -> None:
    measurement = make_measurement()
    flat = evaluated(measurement, flat_saddle()).measures
    rocked = evaluated(measurement).measures
    for side in ("left", "right"):
        assert flat[f"saddle_only.bridge_gap.{side}"] > 0.005
        assert rocked[f"saddle_only.bridge_gap.{side}"] == 0.0
    assert flat["standing.share.middle"] < 0.10 < rocked["standing.share.middle"]


def test_a_rider_off_to_the_right_loads_the_right() -> None:
    measures = evaluated().measures
    assert measures["rider_right.left_share"] < 0.5 < measures["rider_left.left_share"]


def test_what_is_missing_becomes_a_stored_failure() -> None:
    row = evaluated(tip_behind_blade_mm=None)
    assert row.state == FitEvaluation.State.FAILED
    assert "Front tip behind the blade" in row.failure
    assert row.inputs["missing"][0]["record"] == "pairing"
    assert row.result == {}


def test_a_load_outside_the_bars_becomes_a_stored_failure() -> None:
    row = evaluated(saddle=flat_saddle(stirrup_behind_tip_mm=700.0))
    assert row.state == FitEvaluation.State.FAILED
    assert "outside the support" in row.failure
    assert row.inputs["engine"]["tree"]["stirrup"] == pytest.approx(0.7)


def test_a_long_failure_is_cut_to_fit_its_field() -> None:
    measurement = make_measurement()
    measurement.sections.all().delete()
    measurement.lines.all().delete()
    saddle = flat_saddle()
    for name in ("rock_mm", "bar_length_mm", "bearing_length_mm", "spread_hand_hole_mm"):
        setattr(saddle.tree, name, None)
    saddle.tree.save()
    row = evaluated(measurement, saddle)
    assert len(row.failure) == 300
    assert row.failure.endswith("…")
    assert len(row.inputs["missing"]) == 9


def test_a_computed_fit_is_never_computed_over() -> None:
    row = evaluated()
    before = row.changed_at
    row.pairing.saddle.tree.rock_mm = 0
    row.pairing.saddle.tree.save()
    assert evaluate_now(evaluation=row).changed_at == before


def test_asking_writes_a_row_and_a_job_and_running_it_computes() -> None:
    measurement = make_measurement()
    pairing = make_pairing(measurement.horse)
    asked = request_evaluation(pairing=pairing, measurement=measurement)
    assert asked.evaluation.state == FitEvaluation.State.WAITING
    assert asked.evaluation.evaluated_on == measurement.measured_on
    assert asked.job.arguments == {"evaluation": asked.evaluation.pk}
    run_job(asked.job.pk)
    asked.evaluation.refresh_from_db()
    asked.job.refresh_from_db()
    assert asked.evaluation.state == FitEvaluation.State.DONE
    assert (asked.job.state, asked.job.progress) == (Job.State.DONE, 100)


def test_a_back_of_another_horse_is_refused() -> None:
    with pytest.raises(ValidationError, match="another horse"):
        start_evaluation(
            pairing=make_pairing(), measurement=make_measurement(make_horse(barn_name="Needle"))
        )
    assert not FitEvaluation.objects.exists()


def test_computing_again_makes_a_new_row() -> None:
    row = evaluated()
    second = evaluate_now(
        evaluation=start_evaluation(pairing=row.pairing, measurement=row.measurement)
    )
    assert second.pk != row.pk
    assert FitEvaluation.objects.count() == 2
