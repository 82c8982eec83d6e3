"""What an owner's report says, and what it must never say."""

import json
from datetime import date, timedelta

import pytest
from django.template.loader import render_to_string

from fitting.models import HandCheck, Verdict
from practice.models import User, VisitHorse
from practice.report.content import first_long_ride
from practice.report.page import page_of
from practice.report.privacy import private_words
from practice.report.words import CAUTION, LEVELS, MEANINGS, STRICTEST_FIRST
from practice.selectors.reports import records_for_report
from tests.factories import make_measurement, make_pairing, make_saddle
from tests.practice.owner_report import (
    DAY,
    NOON,
    OTHER_HORSE,
    PRIVATE,
    content_of,
    make_evaluation,
    make_reported_visit,
    make_ride_test,
    make_verdict,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def visit_horse(fitter: User) -> VisitHorse:
    return make_reported_visit(fitter)


def page(visit_horse: VisitHorse) -> str:
    return render_to_string("report/shared.html", page_of(content_of(visit_horse)))


def test_content_is_plain_json(visit_horse: VisitHorse) -> None:
    content = content_of(visit_horse)
    assert json.loads(json.dumps(content)) == content


def test_no_private_word_is_in_the_content_or_the_page(visit_horse: VisitHorse) -> None:
    everything = json.dumps(content_of(visit_horse)) + page(visit_horse)
    for words in (*PRIVATE, OTHER_HORSE, "9 Bench Lane"):
        assert words not in everything


def test_no_load_from_which_the_riders_weight_could_be_worked_out(
    visit_horse: VisitHorse,
) -> None:
    everything = json.dumps(content_of(visit_horse)) + page(visit_horse)
    for words in ("1251.3", "22.3", "0.2232", "22 %", "load_ratio"):
        assert words not in everything


def test_parts_stand_in_the_agreed_order(visit_horse: VisitHorse) -> None:
    html = page(visit_horse)
    headings = (
        "The answer",
        "What the back said",
        "in pictures",
        "What we did",
        "What you do",
        "When we come back",
        "Through the seasons",
        "The measurements",
        "Please read",
        "Who has a copy",
    )
    places = [html.index(heading) for heading in headings]
    assert places == sorted(places)


def test_verdict_is_in_words_with_its_date(visit_horse: VisitHorse) -> None:
    (verdict,) = content_of(visit_horse)["verdicts"]
    assert verdict["word"] == "Not this saddle on this horse"
    assert verdict["rest_first"] is True
    assert verdict["holds_until"] == ""  # nothing holds that must not be ridden in
    assert "Please do not ride in it." in verdict["meaning"]


def test_every_verdict_has_a_meaning_and_a_rank() -> None:
    assert set(MEANINGS) == set(Verdict.Word) == set(STRICTEST_FIRST)
    assert set(LEVELS) <= set(Verdict.Word)


def test_strictest_verdict_comes_first(visit_horse: VisitHorse, fitter: User) -> None:
    other = make_pairing(visit_horse.horse, saddle=make_saddle(tag="SD-02"))
    make_verdict(other, visit_horse.visit, fitter, word="vet_first", also_rest_first=False)
    words = [verdict["word"] for verdict in content_of(visit_horse)["verdicts"]]
    assert words == ["Vet before anything else", "Not this saddle on this horse"]


def test_body_map_keeps_left_right_and_not_tested(visit_horse: VisitHorse) -> None:
    back = content_of(visit_horse)["back"]
    assert back["map"]["BS.L"] == 3
    assert back["map"]["BS.R"] == 2
    assert back["map"]["CR.L"] is None
    assert back["map"]["CR.R"] == 0
    assert back["untested"] == ["Croup, left"]
    assert back["left_out"] is False


def test_a_verdict_to_ride_says_until_when(fitter: User) -> None:
    visit_horse = make_reported_visit(fitter, word="carry_on", also_rest_first=False)
    assert content_of(visit_horse)["verdicts"][0]["holds_until"] == "12 November 2026"


def test_every_spot_says_better_worse_or_same(visit_horse: VisitHorse) -> None:
    spots = content_of(visit_horse)["back"]["spots"]
    assert [(s["where"], s["now"], s["before"], s["change"]) for s in spots] == [
        ("Behind the shoulder blade, left", "3", "1", "worse"),
        ("Behind the shoulder blade, right", "2", "0", "worse"),
    ]


def test_a_score_of_3_that_repeats_is_for_the_veterinarian(visit_horse: VisitHorse) -> None:
    assert content_of(visit_horse)["vet"] == []
    earlier = visit_horse.horse.soreness_checks.get(moment="before")
    earlier.scores.filter(site="BS", side="L").update(score=3)
    assert content_of(visit_horse)["vet"] == [
        "A score of 3 that repeats: behind the shoulder blade, left."
    ]


def test_gap_measured_by_hand_wins_over_the_computed_one(visit_horse: VisitHorse) -> None:
    (drawn,) = content_of(visit_horse)["drawings"]
    assert "9 mm left, 7 mm right (computed" in drawn["side_words"][0]
    assert "too much" in drawn["side_words"][1]
    check = HandCheck.objects.get(code="rear_lift")
    check.pk, check.code, check.left_mm, check.right_mm = None, "gap", 2, 3
    check.save()
    (drawn,) = content_of(visit_horse)["drawings"]
    assert "2 mm left, 3 mm right (measured with feelers)" in drawn["side_words"][0]
    assert "That is good" in drawn["side_words"][1]
    assert "the back counts for more than any picture" in drawn["side_words"][2]


def test_rear_end_felt_by_hand_is_judged_and_a_computed_one_is_not(
    visit_horse: VisitHorse,
) -> None:
    (drawn,) = content_of(visit_horse)["drawings"]
    assert "3/8 in ahead of the last rib" in drawn["rear_words"][0]
    assert "not felt for by hand" in drawn["rear_words"][0]
    assert "too little" in drawn["rear_words"][1]
    check = HandCheck.objects.get(code="rear_lift")
    check.pk, check.code, check.left_mm, check.right_mm = None, "length", -50.8, -50.8
    check.save()
    (drawn,) = content_of(visit_horse)["drawings"]
    assert "2 in past the last rib. That is too long" in drawn["rear_words"][0]


def test_two_states_of_one_saddle_are_told_apart(visit_horse: VisitHorse) -> None:
    now = visit_horse.horse.pairings.get()
    measurement = visit_horse.horse.measurements.get(measured_on=DAY)
    came = make_pairing(
        visit_horse.horse, saddle=now.saddle, from_date=DAY - timedelta(days=90), to_date=DAY
    )
    make_evaluation(came, measurement, visit=visit_horse.visit)
    names = {drawn["saddle"] for drawn in content_of(visit_horse)["drawings"]}
    assert names == {"SD-01 as it came", "SD-01 as it is now"}


def test_three_drawings_are_made_on_the_server_and_need_no_script(
    visit_horse: VisitHorse,
) -> None:
    html = page(visit_horse)
    for words in ("saddle on the back", "seen from behind, now and then", "Rear end of the saddle"):
        assert words in html
    assert ">gap</text>" in html
    assert "<script" not in html


def test_then_is_the_same_season_of_an_earlier_year(visit_horse: VisitHorse) -> None:
    make_measurement(visit_horse.horse, measured_on=DAY - timedelta(days=100))
    assert content_of(visit_horse)["compared_with"] == "14 May 2025"


def test_a_poor_measuring_is_not_compared_with(visit_horse: VisitHorse) -> None:
    visit_horse.horse.measurements.filter(measured_on__lt=DAY).update(stood_square=False)
    content = content_of(visit_horse)
    assert content["compared_with"] == ""
    rows = [row for group in content["appendix"] for row in group["rows"]]
    assert {row["change"] for row in rows} == {"first time"}


def test_nothing_later_than_the_visit_is_told(visit_horse: VisitHorse) -> None:
    before = content_of(visit_horse)
    make_measurement(visit_horse.horse, measured_on=DAY + timedelta(days=1), girth_mm=1900)
    make_ride_test(visit_horse.horse, NOON + timedelta(days=3), (0, 0), (0, 0), (0, 0), (0, 0))
    assert content_of(visit_horse) == before


def test_numbers_are_in_the_clients_own_units(visit_horse: VisitHorse) -> None:
    client = visit_horse.visit.client
    client.units = "metric"
    client.save()
    body = content_of(visit_horse)["appendix"][0]["rows"]
    assert [row["now"] for row in body if row["what"] == "Girth"] == ["185.4 cm"]
    client.units = "imperial"
    client.save()
    fresh = VisitHorse.objects.get(pk=visit_horse.pk)
    body = content_of(fresh)["appendix"][0]["rows"]
    assert [row["now"] for row in body if row["what"] == "Girth"] == ["73 in"]


def test_a_horse_that_must_rest_gets_no_recovery_sheet(visit_horse: VisitHorse) -> None:
    content = content_of(visit_horse)
    assert content["recovery"] is None
    assert "Do not ride until the back has been felt again and is calm." in content["to_do"]


@pytest.mark.parametrize(
    ("word", "limit"),
    [
        ("vet_first", "Do not ride until the veterinarian has seen the horse, or allows it."),
        ("rest_first", "Do not ride until the back has been felt again and is calm."),
        ("short_rides", "No long rides until the next check has been passed."),
        ("carry_on", ""),
    ],
)
def test_what_the_owner_does_agrees_with_the_verdict(fitter: User, word: str, limit: str) -> None:
    todo = content_of(make_reported_visit(fitter, word=word, also_rest_first=False))["to_do"]
    assert [line for line in todo if "ride until" in line or "rides until" in line] == [
        line for line in (limit,) if line
    ]


def test_recovery_sheet_has_the_dates_of_the_ride(fitter: User) -> None:
    visit_horse = make_reported_visit(fitter, word="carry_on", also_rest_first=False)
    sheet = content_of(visit_horse, ride_on=date(2026, 7, 4))["recovery"]
    assert sheet["moments"] == [
        ["Before", "Sat 4 Jul"],
        ["After", "Sat 4 Jul"],
        ["Next day", "Sun 5 Jul"],
        ["2nd day", "Mon 6 Jul"],
    ]


def test_first_long_ride_proposed_is_a_saturday_two_weeks_on() -> None:
    for offset in range(7):
        day = DAY + timedelta(days=offset)
        ride = first_long_ride(day)
        assert ride.weekday() == 5
        assert 14 <= (ride - day).days < 21


def test_long_rides_of_the_last_year_are_told_with_their_result(visit_horse: VisitHorse) -> None:
    fail = ((1, 1), (3, 3), (3, 3), (3, 2))
    make_ride_test(visit_horse.horse, NOON - timedelta(days=9), *fail)
    content = content_of(visit_horse)
    assert content["rides"][0].startswith("5 May 2026, 12 hours: failed (")
    make_ride_test(visit_horse.horse, NOON - timedelta(days=30), *fail)
    assert "Two failed recovery tests within a year." in content_of(visit_horse)["vet"]


def test_caution_is_word_for_word(visit_horse: VisitHorse) -> None:
    assert content_of(visit_horse)["caution"] == CAUTION
    assert CAUTION.startswith("This is a saddle-fit record, not a veterinary examination")
    assert CAUTION.endswith("they do not measure pain or guarantee comfort.")


def test_private_words_in_free_text_are_found(visit_horse: VisitHorse, fitter: User) -> None:
    records = records_for_report(visit_horse)
    assert private_words(content_of(visit_horse), records) == []
    Verdict.objects.update(advice="Come to TINBROOK  flats. Rider is 180 lb. Ring 555-0177.")
    found = private_words(content_of(visit_horse), records_for_report(visit_horse))
    assert found == [
        "the place: “Tinbrook Flats”",
        "the client's telephone number: “555-0177”",
        "the rider's weight: “180 lb”",
    ]


def test_drawn_text_is_escaped(fitter: User) -> None:
    visit_horse = make_reported_visit(fitter, reason="<b>flat</b>")
    visit_horse.horse.pairings.get().saddle.__class__.objects.update(tag="<i>S</i>")
    html = page(visit_horse)
    assert "<b>flat</b>" not in html
    assert "<i>S</i>" not in html
