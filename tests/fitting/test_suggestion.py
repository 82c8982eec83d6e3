"""The suggested verdict in words: the numbers alone, and what stands above them."""

from __future__ import annotations

from typing import Any

import pytest

from fitting.adapters.felt import Felt, Spot, felt_of
from fitting.adapters.suggestion import above_of, stored_of, suggestion_of
from fitting.engine import Above
from fitting.models import FitEvaluation, SafetyCheck
from fitting.selectors.evaluations import StoredFindings, stored_findings, unsafe_saddle
from fitting.services.evaluations import start_evaluation
from horses.charts.theme import INCHES
from tests.factories import make_measurement, make_pairing, make_saddle, make_soreness_check
from tests.fitting.evaluated import evaluated, flat_saddle

FELT = Above(score=0)


def stored(code: str, level: str, **values: Any) -> dict[str, Any]:
    kept = {"type": "Finding", "code": code, "level": level, "unit": "m", "zone": "", "case": ""}
    kept |= {
        "value": 0.0094,
        "limit": 0.008,
        "side": "left",
        "text": "",
        "source": "",
        "share": None,
    }
    return kept | {"status": "D", "evidence": "practice"} | values


KEY = tuple(
    stored(code, "plain")
    for code in ("bridging", "ahead_of_last_rib", "behind_blade", "angle_cranial", "angle_caudal")
)
BRIDGES = StoredFindings((*KEY[1:], stored("bridging", "beyond")), "TwoBarTree")


def test_reason_names_the_finding_with_its_number_and_limit() -> None:
    found = suggestion_of(BRIDGES, FELT, INCHES)
    assert found.word == "Not this saddle on this horse"
    assert found.reasons == (
        "Gap under the middle of the bar: 9.4 mm (plain up to 5.0 mm, limit 8.0 mm)",
    )
    assert (found.overruled, found.numbers) == ("", "")
    assert "Common practice" in found.evidence


def test_same_gap_under_a_panel_can_be_flocked() -> None:
    panel = StoredFindings(BRIDGES.findings, "PanelTree")
    assert suggestion_of(panel, FELT, INCHES).word == "Short rides only until changed"


def test_sore_back_overrules_and_the_numbers_are_still_said() -> None:
    sore = Above(score=2, sore=("Behind the shoulder blade, left: 2 of 4",))
    found = suggestion_of(StoredFindings(KEY, "TwoBarTree"), sore, INCHES)
    assert found.word == "Short rides only until changed"
    assert found.overruled == "The back overrules the numbers."
    assert found.numbers == "Carry on"
    assert found.reasons == sore.sore


def test_result_of_an_older_form_cannot_be_judged_instead_of_failing() -> None:
    old = StoredFindings(({"type": "Finding", "colour": "red"},), "TwoBarTree")
    assert suggestion_of(old, FELT, INCHES).word == "Could not judge"


def test_without_an_evaluation_nothing_can_be_judged() -> None:
    found = suggestion_of(None, FELT, INCHES)
    assert (found.word, found.css) == ("Could not judge", "unknown")


def test_missing_key_finding_is_named_in_words() -> None:
    found = suggestion_of(StoredFindings(KEY[1:], "TwoBarTree"), FELT, INCHES)
    assert found.reasons == ("Gap under the middle of the bar",)


# -- The back as felt


def spot(site: str, score: int | None, words: str = "felt") -> Spot:
    return Spot(site, "L", score, words)


def test_back_that_nobody_felt_over_has_no_score() -> None:
    assert above_of(Felt("unknown")).score is None


def test_sorest_place_under_the_saddle_counts() -> None:
    felt = Felt("sore", (spot("BS", 2), spot("RB", 1)))
    above = above_of(felt)
    assert above.score == 2
    assert len(above.sore) == 1


def test_place_that_no_saddle_touches_does_not_count() -> None:
    assert above_of(Felt("quiet", (spot("PO", 3),))).score == 0


def test_warm_place_counts_as_sore_whatever_its_score() -> None:
    assert above_of(Felt("sore", (spot("BS", 1, "1 of 4; warm"),))).score == 2
    assert above_of(Felt("sore", (spot("BS", None, "warm"),))).score == 2


def test_reasons_to_rest_come_from_the_hand_where_no_others_are_given() -> None:
    felt = Felt("sore", (spot("BS", 3),), rest_first=True)
    assert above_of(felt).rest == felt.lines
    assert above_of(felt, rest=("swelling, left",)).rest == ("swelling, left",)


# -- From the records


@pytest.mark.django_db
def test_stored_evaluation_gives_its_findings_with_or_without_its_bulk() -> None:
    row = evaluated(saddle=flat_saddle())
    light = stored_findings(row.pk)
    assert light == stored_of(row)
    assert light is not None
    assert light.tree == "TwoBarTree"
    found = suggestion_of(light, FELT, INCHES)
    assert found.key == "not_this_saddle"
    assert any(reason.startswith("Rock of the bar") for reason in found.reasons)


@pytest.mark.django_db
def test_evaluation_that_lacked_something_says_what() -> None:
    pairing = make_pairing(saddle=make_saddle(), tip_behind_blade_mm=None)
    measurement = make_measurement(pairing.horse)
    row = start_evaluation(pairing=pairing, measurement=measurement)
    row.state, row.inputs = FitEvaluation.State.FAILED, {"missing": [{"what": "Rock of the bar"}]}
    row.save()
    found = suggestion_of(stored_findings(row.pk), FELT, INCHES)
    assert found.key == "could_not_judge"
    assert "Rock of the bar" in found.reasons


@pytest.mark.django_db
def test_waiting_evaluation_has_nothing_stored() -> None:
    pairing = make_pairing()
    row = start_evaluation(pairing=pairing, measurement=make_measurement(pairing.horse))
    assert stored_findings(row.pk) is None


@pytest.mark.django_db
@pytest.mark.parametrize(("result", "said"), [("unsafe", True), ("safe", False)])
def test_last_safety_check_of_the_saddle_counts(result: str, said: bool) -> None:
    row = evaluated()
    SafetyCheck.objects.create(
        saddle=row.pairing.saddle, checked_on=row.evaluated_on, result=result
    )
    assert bool(unsafe_saddle(row)) is said


@pytest.mark.django_db
def test_felt_check_of_the_records_overrules() -> None:
    measurement = make_measurement()
    check = make_soreness_check(measurement.horse, {("BS", "L"): 2, ("RB", "R"): 0})
    above = above_of(felt_of(check))
    assert above.score == 2
    found = suggestion_of(StoredFindings(KEY, "TwoBarTree"), above, INCHES)
    assert found.key == "short_rides"
    assert "left" in found.reasons[0]
