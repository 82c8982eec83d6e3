"""Every step: what is typed is stored as typed, what is wrong says so and is not lost."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from fitting.models import HandCheck, SafetyCheck, Verdict
from horses.models import BackMeasurement, LineProfile, SectionProfile, SorenessCheck
from practice.models import StepDraft, User, Visit
from practice.views.recording import horse_steps
from tests.factories import make_measurement, make_soreness_check
from tests.practice.recording_site import STEPS, Site, make_site, typed_section

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(signed_in: Callable[[User], Client], fitter: User) -> Site:
    return make_site(signed_in(fitter), birth_date=date(2013, 4, 1))


def _measured() -> BackMeasurement:
    return BackMeasurement.objects.get()


def _scores() -> dict[tuple[str, str], int | None]:
    check = SorenessCheck.objects.get()
    return {(row.site, row.side): row.score for row in check.scores.all()}


# --- Saving as you go ----------------------------------------------------------------------------

VALID: dict[str, dict[str, Any]] = {
    "history": {"what_changed": "Bucks since May", "behaviour": ["tail", "slower"]},
    "body": {"girth_mm": "73", "method": "curve"},
    "soreness": {"BS_L_score": "2", "BS_R_score": "not_tested"},
    "s1": typed_section(),
    "lines": {"midline_0": "0", "midline_381": "-5", "midline_1397": "-9"},
    "@safety": {"tree": "ok", "result": "safe"},
    "@bare": {"contact_outcome": "bad", "contact_note": "gap in the middle"},
    "@pad": {"channel_outcome": "good"},
    "@ridden": {"slip_outcome": "watch", "slip_left": "2", "slip_right": "0"},
}
WRONG: dict[str, tuple[dict[str, Any], str, str]] = {
    "history": ({"last_long_ride_on": "2031-01-01"}, "last_long_ride_on", "after the visit"),
    "body": ({"method": "curve", "height_mm": "15.4"}, "height_mm", "A hand is 4 in"),
    "soreness": ({"BS_L_score": "4"}, "BS_L_note", "a 4 needs a note"),
    "s1": ({**typed_section(), "L1_50": "60"}, "L1_50", "is not more than"),
    "lines": ({"left_bar_0": "0"}, "left_bar_0", "three heights"),
    "@safety": ({"tree": "fail", "result": "safe"}, "result", "not simply safe"),
    "@bare": ({"gap_outcome": "bad", "gap_left": "a lot"}, "gap_left", "not a number"),
    "@pad": ({"channel_note": "tight"}, "channel_outcome", "choose how it was"),
    "@ridden": ({"slip_outcome": "bad", "slip_left": "400"}, "slip_left", "cannot be right"),
}


@pytest.mark.parametrize("step", VALID)
def test_a_step_saves_as_you_go_and_says_when(site: Site, step: str) -> None:
    answer = site.htmx(step, VALID[step]).content.decode()
    assert re.search(r"Saved \d\d:\d\d", answer)
    assert "<html" not in answer
    assert not StepDraft.objects.exists()
    assert Visit.objects.get().state == "underway"


@pytest.mark.parametrize("step", VALID)
def test_a_step_saves_without_javascript_too(site: Site, step: str) -> None:
    response = site.client.post(site.address(step), VALID[step], follow=True)
    assert re.search(r"Saved \d\d:\d\d", response.content.decode())
    assert not StepDraft.objects.exists()


@pytest.mark.parametrize("step", VALID)
def test_a_saved_step_shown_again_and_sent_back_unchanged_changes_nothing(
    site: Site, step: str
) -> None:
    site.post(step, VALID[step])
    shown = site.get(step).context["form"]
    back: dict[str, Any] = {}
    for name in shown.fields:
        value = shown[name].value()
        if value not in (None, False, ""):
            back[name] = value
    before = _history_lines()
    assert "Saved" in site.htmx(step, back).content.decode()
    assert _history_lines() == before


def _history_lines() -> int:
    models = (BackMeasurement, SectionProfile, LineProfile, SorenessCheck, HandCheck, SafetyCheck)
    return sum(model.history.count() for model in models)


@pytest.mark.parametrize("step", WRONG)
def test_bad_input_is_told_at_the_field_and_kept(site: Site, step: str) -> None:
    data, field, words = WRONG[step]
    answer = site.htmx(step, data).content.decode()
    place = re.search(rf'id="errors-{field}"[^>]*>(.*?)</div>', answer, re.DOTALL)
    assert place is not None
    assert words in place[1]
    assert "Not saved" in answer
    assert (
        StepDraft.objects.get().data.items()
        >= {
            name: value if isinstance(value, list) else [value] for name, value in data.items()
        }.items()
    )


@pytest.mark.parametrize("step", WRONG)
def test_coming_back_shows_what_was_typed_with_its_error(site: Site, step: str) -> None:
    data, field, words = WRONG[step]
    site.htmx(step, data)
    page = site.get(step)
    form = page.context["form"]
    assert words in page.content.decode()
    assert field in form.errors
    for name, value in data.items():
        assert form[name].value() == value


@pytest.mark.parametrize("step", WRONG)
def test_once_put_right_the_draft_is_gone(site: Site, step: str) -> None:
    site.htmx(step, WRONG[step][0])
    site.htmx(step, VALID[step])
    assert not StepDraft.objects.exists()
    assert not site.get(step).context["form"].errors


def test_a_draft_keeps_only_what_the_step_asks(site: Site) -> None:
    site.htmx("body", {"girth_mm": "nonsense", "anything": "x" * 500, "go": "next"})
    assert set(StepDraft.objects.get().data) == {"girth_mm"}


@pytest.mark.parametrize(
    ("problem", "place"),
    [
        (ValidationError({"girth_mm": ["Refused."]}), "girth_mm"),
        (ValidationError({"unseen": ["Refused."]}), "form"),
        (ValidationError("Refused."), "form"),
    ],
)
def test_what_a_service_refuses_is_told_and_kept(
    site: Site, monkeypatch: pytest.MonkeyPatch, problem: ValidationError, place: str
) -> None:
    def refusing(**_: Any) -> None:
        raise problem

    monkeypatch.setattr(horse_steps, "record_back_measurement", refusing)
    answer = site.htmx("body", {"method": "curve", "girth_mm": "73"}).content.decode()
    told = re.search(rf'id="errors-{place}"[^>]*>(.*?)</div>', answer, re.DOTALL)
    assert told is not None
    assert "Refused." in told[1]
    assert StepDraft.objects.get().data["girth_mm"] == ["73"]


def test_save_and_next_goes_to_the_next_step(site: Site) -> None:
    response = site.post("history", {"go": "next"})
    assert response["Location"] == site.address("body")
    response = site.post("lines", {"go": "next"})
    assert response["Location"] == site.address("@safety")


def test_sections_lead_to_the_first_station_not_done(site: Site) -> None:
    site.post("s1", typed_section())
    assert site.get("sections")["Location"] == site.address("s2")


# --- History and body ----------------------------------------------------------------------------


def test_the_history_is_taken(site: Site) -> None:
    site.post("history", {**VALID["history"], "medicines": "none"})
    row = site.visit_horse
    assert (row.history_taken, row.behaviour, row.medicines) == (True, ["tail", "slower"], "none")


def test_many_signs_ask_for_the_veterinarian(site: Site) -> None:
    signs = ["tail", "slower", "hollow", "grooming", "head", "loading", "sinks", "refuses"]
    assert "veterinarian first" in site.htmx("history", {"behaviour": signs}).content.decode()
    assert (
        "veterinarian first" not in site.htmx("history", {"behaviour": signs[:7]}).content.decode()
    )


def test_units_are_kept_as_typed_and_stored_in_mm(site: Site) -> None:
    site.post(
        "body",
        {
            "method": "curve",
            "girth_mm": "73 1/2",
            "length_mm": "168 cm",
            "height_mm": "15.2",
            "temperature_c": "64 F",
            "hollow_left_mm": "9",
            "hollow_right_mm": "8",
        },
    )
    stored = _measured()
    assert stored.girth_mm == pytest.approx(73.5 * 25.4)
    assert stored.length_mm == pytest.approx(1680)
    assert stored.height_mm == pytest.approx(62 * 25.4)
    assert stored.temperature_c == pytest.approx(17.78, abs=0.01)
    assert (stored.hollow_left_mm, stored.hollow_right_mm) == (9, 8)
    assert stored.typed["girth_mm"] == "73 1/2"
    form = site.get("body").context["form"]
    assert [form[n].value() for n in ("girth_mm", "length_mm", "height_mm")] == [
        "73 1/2",
        "168 cm",
        "15.2",
    ]


def test_the_weight_is_shown_while_measuring(site: Site) -> None:
    """76 in and 65 in give 1137.7 lb: girth squared times length over 330 (extension texts)."""
    answer = site.htmx("body", {"method": "curve", "girth_mm": "76", "length_mm": "65"})
    assert "1138 lb" in answer.content.decode()


def test_centimetres_typed_as_inches_are_noticed(site: Site) -> None:
    answer = site.htmx("body", {"method": "curve", "girth_mm": "185"}).content.decode()
    assert "If you mean 185 cm" in answer
    assert not BackMeasurement.objects.exists()


def test_an_unusual_value_asks_once(site: Site) -> None:
    data = {"method": "curve", "girth_mm": "57"}
    assert "Yes, it is right" in site.htmx("body", data).content.decode()
    assert not BackMeasurement.objects.exists()
    assert "Saved" in site.htmx("body", {**data, "sure": "girth_mm=57"}).content.decode()
    sure = site.get("body").context["form"]["sure"].value()
    assert sure == "girth_mm=57"
    assert (
        "Yes, it is right"
        in site.htmx("body", {**data, "girth_mm": "56", "sure": sure}).content.decode()
    )


def test_the_yes_button_works_without_javascript(site: Site) -> None:
    site.post("body", {"method": "curve", "girth_mm": "57", "confirm": "girth_mm"})
    assert _measured().girth_mm == pytest.approx(57 * 25.4)


def test_a_horse_that_shrank_is_asked_about(site: Site) -> None:
    make_measurement(site.horse, measured_on=date(2025, 5, 1), height_mm=1600)
    answer = site.htmx("body", {"method": "curve", "height_mm": "15.1"}).content.decode()
    assert "Lower by 2.0 in than last time" in answer


def test_a_high_croup_is_asked_about_in_a_grown_horse_only(site: Site) -> None:
    data = {"method": "curve", "croup_over_withers_mm": "3 1/2"}
    assert "is rare" in site.htmx("body", data).content.decode()
    site.horse.birth_date = date(2023, 4, 1)
    site.horse.save()
    assert "is rare" not in site.htmx("body", data).content.decode()


def test_a_scale_that_disagrees_with_the_tape_is_asked_about(site: Site) -> None:
    data = {"method": "curve", "girth_mm": "73", "length_mm": "66", "scale_mass_kg": "1300"}
    assert "Are tape and scale both right?" in site.htmx("body", data).content.decode()
    assert "Saved" in site.htmx("body", {**data, "scale_mass_kg": "1050"}).content.decode()


def test_standing_badly_marks_the_measuring_as_poor(site: Site) -> None:
    site.post("body", {"method": "curve", "stood_square": "False", "head": "high"})
    assert _measured().quality_problems == ["not standing square", "head not at normal height"]


# --- Soreness ------------------------------------------------------------------------------------


def test_not_tested_is_stored_as_such_and_untouched_sites_say_nothing(site: Site) -> None:
    site.post("soreness", {"BS_L_score": "0", "BS_R_score": "not_tested"})
    assert _scores() == {("BS", "L"): 0, ("BS", "R"): None}


def test_what_is_left_can_be_marked_not_tested_at_once(site: Site) -> None:
    site.post("soreness", {"BS_L_score": "3", "rest": "not_tested"})
    scores = _scores()
    assert len(scores) == 22
    assert scores["BS", "L"] == 3
    assert set(scores.values()) == {3, None}


def test_a_score_can_be_taken_back(site: Site) -> None:
    site.post("soreness", {"BS_L_score": "3", "BS_R_score": "1"})
    site.post("soreness", {"BS_R_score": "1"})
    assert _scores() == {("BS", "R"): 1}


def test_heat_with_swelling_sends_to_the_veterinarian_and_stops_the_judging(site: Site) -> None:
    answer = site.htmx(
        "soreness", {"LO_L_score": "1", "LO_L_is_warm": "on", "LO_L_swelling_mm": "20"}
    ).content.decode()
    assert "veterinarian first" in answer
    assert "No fit is judged on a swollen or sore back" in answer


def test_the_map_follows_the_hand(site: Site) -> None:
    answer = site.htmx("soreness", {"BS_L_score": "3", "PO_R_score": "not_tested"}).content.decode()
    assert "Behind the shoulder blade, left: 3" in answer
    assert "Behind the shoulder blade, right: not entered" in answer
    assert "Poll and neck base, right: not tested" in answer


def test_details_without_a_score_ask_for_one(site: Site) -> None:
    answer = site.htmx("soreness", {"BS_L_note": "twitchy"}).content.decode()
    assert "choose a score" in answer


def test_a_check_begun_before_the_booked_hour_is_not_its_own_last_time(site: Site) -> None:
    early = site.visit.starts_at - timedelta(minutes=20)
    make_soreness_check(site.horse, {("BS", "L"): 3}, visit=site.visit, checked_at=early)
    page = site.get("soreness").content.decode()
    assert "last time" not in page
    assert "veterinarian first" not in page


def test_last_time_stands_beside_each_site(site: Site) -> None:
    earlier = site.visit.starts_at.replace(year=2025)
    make_soreness_check(site.horse, {("BS", "L"): 2}, checked_at=earlier)
    assert "last time: 2" in site.get("soreness").content.decode()


# --- Sections and lines --------------------------------------------------------------------------


def test_a_station_stores_both_sides_and_both_times(site: Site) -> None:
    site.post("s1", typed_section((70, 174), (62, 166)))
    halves = {(s.side, s.trace): s.points[-1][1] for s in SectionProfile.objects.all()}
    assert halves == {("L", 1): 174.0, ("R", 1): 166.0, ("L", 2): 175.0, ("R", 2): 167.0}
    assert SectionProfile.objects.first().typed["150"] == "174.0"  # type: ignore[union-attr]


def test_a_poor_repeat_is_asked_about_and_can_be_accepted(site: Site) -> None:
    data = typed_section(again=6)
    answer = site.htmx("s1", data).content.decode()
    assert "differ by 6 mm" in answer
    assert "Left differs: 6 mm at 150 mm" in answer
    assert not SectionProfile.objects.exists()
    sure = f"L2_150={data['L2_150']}\r\nR2_150={data['R2_150']}"
    assert "Saved" in site.htmx("s1", {**data, "sure": sure}).content.decode()
    assert SectionProfile.objects.count() == 4


def test_a_good_repeat_is_said_to_be_good(site: Site) -> None:
    assert "Left agrees: 1 mm" in site.htmx("s1", typed_section()).content.decode()


def test_uneven_sides_are_asked_about_and_impossible_ones_refused(site: Site) -> None:
    answer = site.htmx("s1", typed_section((70, 174), (62, 158))).content.decode()
    assert "Left and right differ by 16 mm" in answer
    answer = site.htmx("s1", typed_section((70, 180), (50, 110))).content.decode()
    assert "More than 60 mm cannot be right" in answer


def test_a_back_that_narrows_toward_the_rear_is_asked_about(site: Site) -> None:
    site.post("s1", typed_section((78, 188), (78, 188)))
    answer = site.htmx("s3", typed_section((90, 185), (90, 185))).content.decode()
    assert "Backs usually widen toward the rear" in answer


def test_half_widths_in_centimetres_by_habit_are_refused(site: Site) -> None:
    answer = site.htmx("s1", {"L1_30": "7.0"}).content.decode()
    assert "cannot be right" in answer


def test_s5_asks_for_the_support_length(site: Site) -> None:
    wide = typed_section((108, 229), (107, 228))
    assert "Needed here" in site.htmx("s5", wide).content.decode()
    site.post("body", {"method": "curve", "support_length_mm": "18.5"})
    assert "Saved" in site.htmx("s5", wide).content.decode()
    assert SectionProfile.objects.first().behind_blade_mm == pytest.approx(18 * 25.4)  # type: ignore[union-attr]


def test_a_station_rubbed_out_is_gone(site: Site) -> None:
    site.post("s1", typed_section())
    site.post("s1", {})
    assert not SectionProfile.objects.exists()


def test_the_drawing_keeps_left_on_the_left(site: Site) -> None:
    answer = site.htmx("s1", {"L1_150": "174", "R1_150": "160"}).content.decode()
    assert 'points="-174.0,150.0"' in answer
    assert 'points="160.0,150.0"' in answer


def test_lines_are_stored_at_the_chalk_marks(site: Site) -> None:
    site.post(
        "lines",
        {
            "off_midline_mm": "3 1/2",
            "left_bar_0": "10",
            "left_bar_381": "4",
            "left_bar_1397": "-2",
            "right_bar_0": "0",
            "right_bar_381": "-6",
            "right_bar_1397": "-13",
        },
    )
    left, right = LineProfile.objects.order_by("line")
    assert left.points == [[0.0, 0.0], [38.1, -6.0], [139.7, -12.0]]
    assert right.points[-1] == [139.7, -13.0]
    assert left.off_midline_mm == pytest.approx(3.5 * 25.4)
    assert site.get("lines").context["form"]["left_bar_0"].value() == "10"


def test_lines_stored_at_other_places_are_shown_there(site: Site) -> None:
    make_measurement(site.horse, visit=site.visit)
    form = site.get("lines").context["form"]
    assert "left_bar_2300" in form.fields
    assert float(form["left_bar_2300"].value()) < -10


# --- Saddle and checks on the horse --------------------------------------------------------------


def test_an_unsafe_saddle_leads_to_its_verdict(site: Site) -> None:
    answer = site.htmx("@safety", {"tree": "fail", "result": "unsafe"}).content.decode()
    assert "Saddle unsafe" in answer
    assert f"{site.address('@verdict')}?word=unsafe" in answer
    page = site.client.get(f"{site.address('@verdict')}?word=unsafe")
    assert page.context["form"]["word"].value() == "unsafe"
    suggested = page.content.decode().split('id="suggestion-title"')[1]
    assert "Saddle unsafe" in suggested.split("</section>")[0]


def test_an_item_not_tested_is_not_stored_as_good(site: Site) -> None:
    site.post("@safety", {"tree": "ok"})
    assert SafetyCheck.objects.get().items == {"tree": "ok"}


def test_gaps_are_kept_left_and_right_with_their_units(site: Site) -> None:
    data = {"gap_outcome": "bad", "gap_left": "15", "gap_right": "1/2 in"}
    sure = "gap_left=15\ngap_right=1/2 in"
    site.post("@bare", {**data, "sure": sure})
    check = HandCheck.objects.get()
    assert (check.left_mm, check.right_mm) == (15, pytest.approx(12.7))
    assert site.get("@bare").context["form"]["gap_right"].value() == "1/2 in"


def test_a_hand_check_can_be_taken_back(site: Site) -> None:
    site.post("@bare", {"channel_outcome": "good"})
    site.post("@bare", {})
    assert not HandCheck.objects.exists()


def test_not_tested_is_an_answer_of_its_own(site: Site) -> None:
    site.post("@bare", {"channel_outcome": "not_tested"})
    assert HandCheck.objects.get().outcome == "not_tested"


def test_the_measured_place_of_the_tree_goes_to_the_pairing_when_unknown(site: Site) -> None:
    site.pairing.tip_behind_blade_mm = None
    site.pairing.save()
    site.post("@bare", {"position_outcome": "watch", "position_left": "1", "position_right": "1/2"})
    site.pairing.refresh_from_db()
    assert site.pairing.tip_behind_blade_mm == pytest.approx(12.7)


def test_a_saddle_slipping_to_one_side_goes_to_the_veterinarian_before_any_shim(
    site: Site,
) -> None:
    data = {"slip_outcome": "bad", "slip_left": "0", "slip_right": "35", "sure": "slip_right=35"}
    assert "slips to one side" in site.htmx("@ridden", data).content.decode()


# --- Computed fit and verdict --------------------------------------------------------------------


def test_what_is_missing_for_computing_is_listed(site: Site) -> None:
    page = site.get("@evaluation").content.decode()
    assert "Still needed" in page
    assert "Compute the fit" not in page


def test_with_everything_measured_the_fit_can_be_computed(site: Site) -> None:
    make_measurement(site.horse, visit=site.visit)
    page = site.get("@evaluation").content.decode()
    assert "Compute the fit" in page
    assert f"/pairings/{site.pairing.pk}/evaluate/" in page


DECISION = {"word": "carry_on", "confidence": "measured"}


def test_typing_a_verdict_signs_nothing_and_loses_nothing(site: Site) -> None:
    answer = site.htmx("@verdict", {**DECISION, "advice": "Watch the loin"}).content.decode()
    assert "not signed" in answer
    assert not Verdict.objects.exists()
    page = site.get("@verdict")
    assert page.context["form"]["advice"].value() == "Watch the loin"
    assert not page.context["form"].errors


def test_the_signed_in_fitter_signs(site: Site, fitter: User) -> None:
    site.post("@verdict", {**DECISION, "sign": "yes"})
    verdict = Verdict.objects.get()
    assert verdict.signed_by == fitter
    assert verdict.expires_on == date(2026, 11, 12)
    assert verdict.next_check_on == date(2026, 6, 11)
    assert "Signed" in site.get("@verdict").content.decode()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"word": "not_this_saddle", "confidence": "felt"}, "which dimension"),
        ({"word": "could_not_judge", "confidence": "felt"}, "what is missing"),
        ({"word": "short_rides", "confidence": "felt"}, "limit in hours"),
        ({"confidence": "felt"}, "Choose a verdict"),
        ({"word": "carry_on"}, "what it rests on"),
        ({**DECISION, "expires_on": "2026-05-14"}, "after the visit"),
        ({**DECISION, "next_check_on": "2029-01-01"}, "60 weeks"),
    ],
)
def test_a_verdict_lacking_something_is_not_signed(
    site: Site, data: dict[str, str], words: str
) -> None:
    response = site.post("@verdict", {**data, "sign": "yes"})
    assert words in response.content.decode()
    assert not Verdict.objects.exists()


def test_a_sore_back_is_asked_about_before_riding_on_is_signed(site: Site) -> None:
    make_soreness_check(site.horse, {("BS", "L"): 3}, visit=site.visit)
    page = site.post("@verdict", {**DECISION, "sign": "yes"}).content.decode()
    assert "What was found asks for “Rest the back first”" in page
    assert not Verdict.objects.exists()
    site.post("@verdict", {**DECISION, "confirm": "word"})
    sure = site.get("@verdict").context["form"]["sure"].value()
    assert not Verdict.objects.exists()
    site.post("@verdict", {**DECISION, "sure": sure, "sign": "yes"})
    assert Verdict.objects.get().word == "carry_on"


def test_resting_a_sore_back_is_signed_without_a_question(site: Site) -> None:
    make_soreness_check(site.horse, {("BS", "L"): 3}, visit=site.visit)
    site.post("@verdict", {"word": "rest_first", "confidence": "felt", "sign": "yes"})
    assert Verdict.objects.get().next_check_on == date(2026, 5, 28)


@pytest.mark.parametrize(("count", "is_flagged"), [("7", False), ("8", True)])
def test_the_published_ethogram_count_sends_to_the_veterinarian(
    site: Site, count: str, is_flagged: bool
) -> None:
    site.post("history", {"pain_ethogram_count": count})
    page = site.get("@verdict").content.decode()
    assert ("of 24 behaviours" in page) == is_flagged


def test_half_a_behaviour_is_not_counted(site: Site) -> None:
    text = site.htmx("history", {"pain_ethogram_count": "7.5"}).content.decode()
    assert "whole numbers" in text


def test_a_verdict_that_runs_out_before_its_next_check_is_asked_about(site: Site) -> None:
    late = {**DECISION, "next_check_on": "2026-12-01", "sign": "yes"}
    assert "runs out on 12 Nov 2026" in site.post("@verdict", late).content.decode()
    assert not Verdict.objects.exists()
    site.post("@verdict", {**late, "expires_on": "2026-12-02"})
    assert Verdict.objects.exists()


def test_nobody_rides_on_in_an_unsafe_saddle(site: Site) -> None:
    site.post("@safety", {"tree": "fail", "result": "unsafe"})
    data = {**DECISION, "sign": "yes", "sure": "word=carry_on"}
    assert "nobody rides in it" in site.post("@verdict", data).content.decode()
    assert not Verdict.objects.exists()
    site.post("@verdict", {**data, "word": "unsafe"})
    assert Verdict.objects.get().word == "unsafe"


def test_every_step_has_one_heading_and_labels(site: Site) -> None:
    for step in STEPS:
        page = site.get(step).content.decode()
        assert page.count("<h1") == 1
        for field in re.findall(r'<input type="text"[^>]*>', page):
            name = re.search(r'id="([^"]+)"', field)
            assert name is not None
            assert "aria-label" in field or f'for="{name[1]}"' in page
