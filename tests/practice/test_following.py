"""Between visits: long rides and their checks, the owner's link, the quick round, skin marks."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from horses.forms.quick_check import ROUND_KEYS, QuickCheckForm
from horses.forms.soreness import NOT_TESTED, part
from horses.models import Horse, Ride, SkinMark, SorenessCheck
from practice.models import RecoveryLink, User
from practice.services.recovery import answer_check, ask_owner
from tests.factories import (
    make_horse,
    make_pairing,
    make_place,
    make_practice,
    make_soreness_check,
)

SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db
ENDED = datetime(2026, 5, 14, 12, 0, tzinfo=UTC)


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    make_practice(time_zone="UTC")
    return signed_in(fitter)


@pytest.fixture
def ride() -> Ride:
    horse = make_horse(barn_name="Corporal Thistle")
    return Ride.objects.create(horse=horse, ended_at=ENDED, hours=12)


def answers(score: str = "0", keys: object = ROUND_KEYS, **changed: str) -> dict[str, str]:
    data = {part(site, side, "score"): score for site, side in keys}  # type: ignore[attr-defined]
    return data | changed


def at(hours: float) -> time_machine.travel:
    return time_machine.travel(ENDED + timedelta(hours=hours), tick=False)


# Rides ------------------------------------------------------------------------------------------


def test_a_ride_is_written_down_with_the_saddle_and_units(page: Client) -> None:
    horse = make_horse()
    pairing = make_pairing(horse)
    data = {
        "ended_at": "2026-05-14T16:30",
        "hours": "11 1/2",
        "distance_km": "31 mi",
        "pairing": str(pairing.pk),
    }
    with at(6):
        page.post(reverse("ride_add", args=(horse.pk,)), data)
    ride = Ride.objects.get()
    assert (ride.hours, ride.pairing, ride.horse) == (11.5, pairing, horse)
    assert ride.distance_km == pytest.approx(49.89, abs=0.01)
    assert ride.ended_at == datetime(2026, 5, 14, 16, 30, tzinfo=UTC)


def test_what_cannot_be_read_is_said_at_the_field_and_kept(page: Client) -> None:
    data = {"ended_at": "2026-05-14T16:30", "hours": "a lot", "terrain": "steep hills"}
    with at(6):
        text = page.post(reverse("ride_add", args=(make_horse().pk,)), data).content.decode()
    assert "a lot" in text
    assert "steep hills" in text
    assert not Ride.objects.exists()


def test_a_saddle_of_another_horse_is_refused(page: Client, ride: Ride) -> None:
    data = {"ended_at": "2026-05-14T16:30", "hours": "3", "pairing": str(make_pairing().pk)}
    with at(6):
        page.post(reverse("ride_add", args=(ride.horse_id,)), data)
    assert Ride.objects.count() == 1


def test_the_four_checks_give_the_outcome_with_their_real_times(page: Client, ride: Ride) -> None:
    for moment, hours in (("before", -13), ("after", 0.5), ("next_day", 24), ("second_day", 48)):
        with at(hours):
            page.post(reverse("ride_check", args=(ride.pk, moment)), answers())
    with at(49):
        text = page.get(reverse("ride_detail", args=(ride.pk,))).content.decode()
    assert "Passed" in text
    assert "48 h after the ride" in text
    assert "13 h before the end of the ride" in text
    checks = {c.moment: c.checked_at for c in ride.soreness_checks.all()}
    assert checks["second_day"] == ENDED + timedelta(hours=48)


def test_a_check_is_changed_and_not_made_twice(page: Client, ride: Ride) -> None:
    url = reverse("ride_check", args=(ride.pk, "before"))
    with at(-13):
        page.post(url, answers())
    with at(-12):
        page.post(url, answers(**{part("BS", "L", "score"): "1"}))
    check = ride.soreness_checks.get()
    assert check.checked_at == ENDED - timedelta(hours=13)
    assert check.scores.get(site="BS", side="L").score == 1


def test_the_places_felt_before_are_those_felt_after(page: Client, ride: Ride) -> None:
    make_soreness_check(ride.horse, ride=ride, moment="before", checked_at=ENDED)
    form = page.get(reverse("ride_check", args=(ride.pk, "next_day"))).context["form"]
    assert len(form.keys) == 22
    assert ("SP", "M") in form.keys


# The owner's link -------------------------------------------------------------------------------


@pytest.fixture
def link(ride: Ride, fitter: User) -> RecoveryLink:
    with at(1):
        return ask_owner(ride=ride, moment="next_day", created_by=fitter)


def url_of(link: RecoveryLink) -> str:
    return reverse("recovery_answer", args=(link.token,))


def test_the_owner_answers_once_without_signing_in(link: RecoveryLink) -> None:
    owner = Client()
    with at(24):
        shown = owner.get(url_of(link))
        sent = owner.post(url_of(link), answers(**{part("BS", "L", "score"): "1"}))
        again = owner.post(url_of(link), answers("0"))
    assert shown.status_code == 200
    assert "Corporal Thistle" in shown.content.decode()
    assert "Thank you" in sent.content.decode()
    assert "Answered already" in again.content.decode()
    check = SorenessCheck.objects.get()
    assert (check.moment, check.ride, check.examiner) == ("next_day", link.ride, None)
    assert check.checked_at == ENDED + timedelta(hours=24)
    assert check.scores.get(site="BS", side="L").score == 1


def test_a_link_never_changes_what_the_practice_has_felt_meanwhile(
    page: Client, link: RecoveryLink
) -> None:
    with at(23):
        page.post(reverse("ride_check", args=(link.ride_id, "next_day")), answers("2"))
    with at(24):
        text = Client().post(url_of(link), answers("0")).content.decode()
        with pytest.raises(ValidationError, match="made already"):
            answer_check(link=link, answered_at=ENDED, scores={})
    assert "cannot be changed here" in text
    check = SorenessCheck.objects.get()
    assert {row.score for row in check.scores.all()} == {2}


def test_the_page_gives_nothing_else_away(link: RecoveryLink) -> None:
    place = make_place(name="Low Meadow Ranch")
    Horse.objects.update(place=place)
    with at(24):
        page = Client().get(url_of(link))
    text = page.content.decode()
    assert "Low Meadow" not in text
    assert "csrftoken" not in page.cookies
    assert "sessionid" not in page.cookies
    assert page["X-Robots-Tag"].startswith("noindex")
    assert page["Referrer-Policy"] == "no-referrer"
    assert "no-store" in page["Cache-Control"]
    assert "veterinarian" in text


@pytest.mark.parametrize("hours", [1, 19.9])
def test_too_early_the_link_waits_and_is_not_spent(link: RecoveryLink, hours: float) -> None:
    with at(hours):
        text = Client().post(url_of(link), answers()).content.decode()
    assert "Not yet" in text
    assert not SorenessCheck.objects.exists()
    with at(24):
        assert "How is the back" in Client().get(url_of(link)).content.decode()


def test_run_out_and_wrong_links_look_the_same(link: RecoveryLink) -> None:
    with at(24):
        wrong = Client().get(reverse("recovery_answer", args=("no-such-token",)))
    with at(52.1):
        late = Client().get(url_of(link))
    assert (wrong.status_code, late.status_code) == (404, 404)
    assert wrong.content == late.content


def test_what_is_skipped_or_lacks_words_is_asked_for_and_kept(link: RecoveryLink) -> None:
    data = answers(**{part("BS", "L", "score"): "4", part("LO", "R", "note"): "flinched"})
    del data[part("WS", "L", "score")]
    with at(24):
        page = Client().post(url_of(link), data)
    text = page.content.decode()
    assert page.status_code == 422
    assert "say what the horse did" in text
    assert "choose one" in text
    assert "flinched" in text
    assert not SorenessCheck.objects.exists()


def test_heat_sends_the_owner_to_the_veterinarian(link: RecoveryLink) -> None:
    with at(24):
        data = answers(**{part("LO", "R", "is_warm"): "on"})
        text = Client().post(url_of(link), data).content.decode()
    assert "seen by your veterinarian" in text


def test_calm_answers_do_not(link: RecoveryLink) -> None:
    with at(24):
        assert "seen by your veterinarian" not in (
            Client().post(url_of(link), answers()).content.decode()
        )


def test_did_not_check_is_no_zero(link: RecoveryLink) -> None:
    with at(24):
        Client().post(url_of(link), answers(NOT_TESTED))
    assert set(SorenessCheck.objects.get().scores.values_list("score", flat=True)) == {None}


def test_a_link_is_for_one_check_that_still_can_be_made(ride: Ride, fitter: User) -> None:
    with at(1):
        first = ask_owner(ride=ride, moment="next_day", created_by=fitter)
        assert ask_owner(ride=ride, moment="next_day", created_by=fitter) == first
        with pytest.raises(ValidationError, match="next day and on the second day"):
            ask_owner(ride=ride, moment="before", created_by=fitter)
    with at(80), pytest.raises(ValidationError, match="has passed"):
        ask_owner(ride=ride, moment="second_day", created_by=fitter)
    make_soreness_check(ride.horse, ride=ride, moment="second_day")
    with at(1), pytest.raises(ValidationError, match="made already"):
        ask_owner(ride=ride, moment="second_day", created_by=fitter)


def test_the_fitter_finds_the_link_on_the_rides_page(page: Client, ride: Ride) -> None:
    with at(1):
        page.post(reverse("ride_ask", args=(ride.pk, "second_day")))
        text = page.get(reverse("ride_detail", args=(ride.pk,))).content.decode()
    assert f"/recovery/{RecoveryLink.objects.get().token}/" in text


# The quick round --------------------------------------------------------------------------------


def test_five_places_in_the_same_order() -> None:
    form = QuickCheckForm()
    assert [site.code for site in form.rows()] == ["WS", "BS", "RB", "LO", "GI"]


def test_one_horse_leads_to_the_next_until_all_are_felt(page: Client) -> None:
    place = make_place()
    first, second = (make_horse(barn_name=name, place=place) for name in ("Anvil", "Bobbin"))
    make_horse(barn_name="Sold", place=place, state="sold")
    make_horse(barn_name="Elsewhere")
    query = f"?place={place.pk}"
    urls = [reverse("round_check", args=(horse.pk,)) + query for horse in (first, second)]
    with at(0):
        to = page.post(urls[0], answers("1"))
        assert to["Location"] == urls[1]
        to = page.post(urls[1], answers(NOT_TESTED))
        assert to["Location"] == reverse("round_list") + query
        text = page.get(to["Location"]).content.decode()
    assert "All 2 horses are felt over today" in text
    assert "Nothing tested" in text
    assert SorenessCheck.objects.filter(moment="round").count() == 2


def test_feeling_a_horse_again_the_same_day_changes_its_check(page: Client) -> None:
    horse = make_horse()
    url = reverse("round_check", args=(horse.pk,))
    for score in "02":
        with at(0):
            page.post(url, answers(score))
    assert horse.soreness_checks.get().scores.first().score == 2
    with at(24):
        page.post(url, answers("1"))
    assert horse.soreness_checks.count() == 2


def test_algometer_readings_are_kept_beside_the_scores(page: Client) -> None:
    horse = make_horse()
    url, reading = reverse("round_check", args=(horse.pk,)), part("LO", "L", "algometer")
    with at(0):
        text = page.post(url, answers(**{reading: "900"})).content.decode()
        assert "900" in text
        assert not horse.soreness_checks.exists()
        page.post(url, answers(**{reading: "7.5"}))
    scores = horse.soreness_checks.get().scores
    assert scores.get(site="LO", side="L").algometer_kg_per_cm2 == 7.5
    assert scores.get(site="LO", side="R").algometer_kg_per_cm2 is None


# Skin marks -------------------------------------------------------------------------------------


def test_a_mark_is_added_and_its_course_followed(page: Client) -> None:
    horse = make_horse()
    data = {"kind": "white_hair", "side": "L", "site": "BS", "first_seen_on": "2026-03-01"}
    with at(0):
        page.post(reverse("mark_add", args=(horse.pk,)), data | {"size_mm": "1 in"})
        mark = SkinMark.objects.get()
        assert mark.size_mm == pytest.approx(25.4)
        more = {"last_seen_on": "2026-05-14", "course": "growing", "size_mm": "30"}
        page.post(reverse("mark_edit", args=(mark.pk,)), data | more)
        text = page.get(f"/horses/{horse.pk}/").content.decode()
    mark.refresh_from_db()
    assert (mark.course, mark.size_mm) == ("growing", 30)
    assert [row.course for row in mark.history.all()] == ["growing", ""]
    assert "growing on 14 May 2026" in text


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"first_seen_on": "2027-01-01"}, "in the future"),
        ({"last_seen_on": "2026-02-01"}, "before it was first seen"),
        ({"size_mm": "huge"}, "huge"),
    ],
)
def test_a_mark_that_cannot_be_is_asked_about(
    page: Client, changed: dict[str, str], words: str
) -> None:
    data = {"kind": "gall", "side": "R", "first_seen_on": "2026-03-01", "note": "by the girth"}
    with at(0):
        text = page.post(
            reverse("mark_add", args=(make_horse().pk,)), data | changed
        ).content.decode()
    assert words in text
    assert "by the girth" in text
    assert not SkinMark.objects.exists()
