"""Booking a visit: who, where, when on the clock of the place, and what gets in the way."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fitting.models import Verdict
from horses.models import Horse
from practice.forms.booking import local_moment
from practice.models import User, Visit
from practice.services.visits import TYPICAL_MINUTES, change_visit
from tests.factories import (
    make_client,
    make_horse,
    make_measurement,
    make_pairing,
    make_place,
    make_practice,
    make_visit,
)

SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 14, 9, 0, tzinfo=UTC)


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    make_practice(time_zone="UTC")
    return signed_in(fitter)


def booking(horse: Horse, **changes: object) -> dict[str, object]:
    role = horse.roles.get()
    return {
        "kind": "recheck",
        "client": role.client_id,
        "horses": [horse.pk],
        "day": "2026-05-14",
        "clock": "09:00",
        "time_zone": "America/Denver",
        **changes,
    }


# Times ------------------------------------------------------------------------------------------
# Summer time in the US from 8 March 2026, 02:00 local: Energy Policy Act of 2005, sec. 110 (second
# Sunday in March); in the EU from 29 March 2026, 01:00 UTC: Directive 2000/84/EC (last Sunday).


def test_the_time_is_on_the_clock_of_the_place() -> None:
    moment = local_moment(date(2026, 5, 14), time(9), "America/Denver")
    assert moment.astimezone(UTC) == datetime(2026, 5, 14, 15, 0, tzinfo=UTC)


def test_the_same_clock_is_another_moment_in_winter() -> None:
    moment = local_moment(date(2026, 1, 14), time(9), "America/Denver")
    assert moment.astimezone(UTC) == datetime(2026, 1, 14, 16, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("day", "zone"), [(date(2026, 3, 8), "America/Denver"), (date(2026, 3, 29), "Europe/Berlin")]
)
def test_a_time_the_clocks_skip_is_refused(day: date, zone: str) -> None:
    with pytest.raises(ValidationError, match="clocks skip 02:30"):
        local_moment(day, time(2, 30), zone)


def test_the_same_time_a_day_earlier_exists() -> None:
    assert local_moment(date(2026, 3, 7), time(2, 30), "America/Denver").hour == 2


# Booking ----------------------------------------------------------------------------------------


def test_a_visit_is_booked_with_the_usual_length_of_its_kind(page: Client) -> None:
    horse = make_horse(owner=make_client())
    response = page.post(reverse("visit_book"), booking(horse, kind="first_fit"))
    visit = Visit.objects.get()
    assert response.url == reverse("visit_detail", args=[visit.pk])  # type: ignore[attr-defined]
    assert visit.starts_at == datetime(2026, 5, 14, 15, 0, tzinfo=UTC)
    assert visit.minutes == TYPICAL_MINUTES[Visit.Kind.FIRST_FIT]
    assert list(visit.horses.all()) == [horse]


def test_every_kind_of_visit_has_a_usual_length() -> None:
    assert set(TYPICAL_MINUTES) == set(Visit.Kind)
    assert all(10 <= minutes <= 600 for minutes in TYPICAL_MINUTES.values())


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"horses": []}, "horses"),
        ({"client": ""}, "client"),
        ({"day": "soon"}, "day"),
        ({"day": "1066-10-14"}, "day"),
        ({"clock": "9 o'clock"}, "clock"),
        ({"time_zone": "Atlantis"}, "time_zone"),
        ({"minutes": "5"}, "minutes"),
        ({"minutes": "601"}, "minutes"),
        ({"day": "2026-03-08", "clock": "02:30"}, "clock"),
    ],
)
def test_a_bad_booking_is_explained_and_keeps_what_was_typed(
    page: Client, changes: dict[str, object], field: str
) -> None:
    horse = make_horse(owner=make_client())
    response = page.post(reverse("visit_book"), booking(horse, reason="dips", **changes))
    assert response.status_code == 200
    assert list(response.context["form"].errors) == [field]
    assert b'value="dips"' in response.content
    assert not Visit.objects.exists()


@pytest.mark.parametrize("state", ["sold", "died"])
def test_a_horse_that_is_gone_cannot_be_booked(page: Client, state: str) -> None:
    horse = make_horse(owner=make_client(), state=state)
    assert "horses" in page.post(reverse("visit_book"), booking(horse)).context["form"].errors
    assert page.get(reverse("visit_book")).context["groups"] == {"theirs": [], "others": []}


def test_horses_of_the_client_come_first(page: Client) -> None:
    client = make_client()
    mine = make_horse(owner=client, barn_name="Anvil")
    other = make_horse(owner=make_client(name="Kettlebar Outfit"), barn_name="Aardvark")
    response = page.get(reverse("visit_horse_choices"), {"client": client.pk})
    groups = response.context["groups"]
    assert groups == {"theirs": [(mine, False)], "others": [(other, False)]}


def test_without_javascript_the_clients_horses_are_shown_by_a_button(page: Client) -> None:
    horse = make_horse(owner=make_client())
    sent = booking(horse, horses=[], reason="dips", add="refresh")
    response = page.post(reverse("visit_book"), sent)
    assert response.context["groups"]["theirs"] == [(horse, False)]
    assert response.context["form"]["reason"].value() == "dips"
    assert not response.context["form"].errors


def test_a_booking_for_a_client_starts_at_the_one_place_of_their_horses(page: Client) -> None:
    client, flats = make_client(), make_place()
    make_horse(owner=client, place=flats)
    make_horse(owner=client)
    url = f"{reverse('visit_book')}?client={client.pk}"
    assert page.get(url).context["form"]["place"].value() == flats.pk
    make_horse(owner=client, place=make_place(name="Lantern Hill"))
    assert page.get(url).context["form"]["place"].value() is None


def test_a_horse_ticked_stays_ticked_when_the_client_changes(page: Client) -> None:
    horse = make_horse(owner=make_client())
    other = make_client(name="Kettlebar Outfit")
    asked = {"client": other.pk, "horses": [horse.pk]}
    groups = page.get(reverse("visit_horse_choices"), asked).context["groups"]
    assert groups["theirs"] == [(horse, True)]


def test_adding_a_client_on_the_way_loses_nothing(page: Client) -> None:
    horse = make_horse(owner=make_client())
    sent = booking(horse, client="", reason="dips at the loin", add="client")
    away = page.post(reverse("visit_book"), sent)
    assert away.url.startswith(reverse("client_add"))  # type: ignore[attr-defined]
    back = page.post(away.url, {"name": "Isolde Marrowby"}, follow=True)  # type: ignore[attr-defined]
    form = back.context["form"]
    assert form["client"].value() == str(
        form.fields["client"].queryset.get(name__startswith="Is").pk
    )
    assert form["reason"].value() == "dips at the loin"
    assert form["clock"].value() == "09:00"
    assert form["horses"].value() == [str(horse.pk)]


def test_adding_a_horse_on_the_way_ticks_it(page: Client) -> None:
    client = make_client()
    horse = make_horse(owner=client)
    away = page.post(reverse("visit_book"), booking(horse, add="horse"))
    sent = {"barn_name": "Needle", "state": "active", "owner": client.pk}
    back = page.post(away.url, sent, follow=True)  # type: ignore[attr-defined]
    added = Horse.objects.get(barn_name="Needle")
    assert back.context["groups"]["theirs"] == [(horse, True), (added, True)]


def test_a_kept_booking_is_dropped_once_booked(page: Client) -> None:
    horse = make_horse(owner=make_client())
    page.post(reverse("visit_book"), booking(horse, reason="old words", add="place"))
    page.post(reverse("visit_book"), booking(horse))
    form = page.get(reverse("visit_book") + "?draft=1").context["form"]
    assert form["reason"].value() is None


def test_the_next_visit_starts_from_the_last_with_its_check_date(
    page: Client, fitter: User
) -> None:
    horse, sold = make_horse(), make_horse(state="sold")
    visit = make_visit([horse, sold], starts_at=NINE, time_zone="Asia/Tokyo", state="recorded")
    Verdict.objects.create(
        pairing=make_pairing(horse),
        visit=visit,
        word="carry_on",
        confidence="measured",
        signed_by=fitter,
        signed_at=NINE,
        next_check_on=date(2026, 9, 1),
        expires_on=date(2026, 11, 14),
    )
    form = page.get(reverse("visit_book"), {"after": visit.pk}).context["form"]
    shown = {name: form[name].value() for name in ("client", "horses", "day", "clock", "time_zone")}
    assert shown == {
        "client": visit.client_id,
        "horses": [horse.pk],
        "day": date(2026, 9, 1),
        "clock": time(18, 0),
        "time_zone": "Asia/Tokyo",
    }


# Clashes ----------------------------------------------------------------------------------------


def test_a_clash_is_shown_first_and_allowed_when_seen(page: Client, fitter: User) -> None:
    horse = make_horse(owner=make_client())
    make_visit([make_horse()], fitter=fitter, starts_at=NINE, place=make_place())
    sent = booking(horse, time_zone="UTC", clock="09:30", fitter=fitter.pk)
    first = page.post(reverse("visit_book"), sent)
    assert "is already at Tinbrook Flats 09:00–10:30" in first.content.decode()
    assert Visit.objects.count() == 1
    second = page.post(reverse("visit_book"), sent | {"seen": first.context["seen"]})
    assert second.status_code == 302
    shown = page.get(second.url)  # type: ignore[attr-defined]
    assert "is already at Tinbrook Flats" in shown.content.decode()


def test_another_clash_than_the_one_seen_is_shown_again(page: Client, fitter: User) -> None:
    horse = make_horse(owner=make_client())
    make_visit([horse], fitter=fitter, starts_at=NINE)
    sent = booking(horse, time_zone="UTC", fitter=fitter.pk, seen="something else")
    assert page.post(reverse("visit_book"), sent).status_code == 200


def test_a_horse_cannot_be_in_two_visits_unnoticed(page: Client) -> None:
    horse = make_horse(owner=make_client())
    make_visit([horse], starts_at=NINE)
    response = page.post(reverse("visit_book"), booking(horse, time_zone="UTC"))
    words = "Corporal Thistle is already booked at Garrick Nettleworth 09:00–10:30."
    assert [clash.words for clash in response.context["clashes"]] == [words]


def test_visits_that_only_touch_do_not_clash(page: Client) -> None:
    horse = make_horse(owner=make_client())
    make_visit([horse], starts_at=NINE)
    sent = booking(horse, time_zone="UTC", clock="10:30")
    assert page.post(reverse("visit_book"), sent).status_code == 302


def test_too_little_time_to_drive_is_said(page: Client, fitter: User) -> None:
    horse = make_horse(owner=make_client())
    make_visit([make_horse()], fitter=fitter, starts_at=NINE, place=make_place())
    hill = make_place(name="Lantern Hill")
    sent = booking(horse, time_zone="UTC", clock="10:40", fitter=fitter.pk, place=hill.pk)
    clashes = page.post(reverse("visit_book"), sent).context["clashes"]
    assert [clash.words for clash in clashes] == [
        "Only 10 min to get from Tinbrook Flats to Lantern Hill."
    ]


@pytest.mark.parametrize("state", ["cancelled", "recorded"])
def test_what_no_longer_stands_does_not_clash(page: Client, state: str) -> None:
    horse = make_horse(owner=make_client())
    make_visit([horse], starts_at=NINE, state=state)
    sent = booking(horse, time_zone="UTC")
    assert page.post(reverse("visit_book"), sent).status_code == 302


def test_a_visit_does_not_clash_with_itself(page: Client, fitter: User) -> None:
    horse = make_horse(owner=make_client())
    visit = make_visit([horse], starts_at=NINE, fitter=fitter)
    sent = booking(horse, time_zone="UTC", fitter=fitter.pk, minutes=100)
    assert page.post(reverse("visit_edit", args=[visit.pk]), sent).status_code == 302
    visit.refresh_from_db()
    assert visit.minutes == 100


# Changing and cancelling ------------------------------------------------------------------------


def test_an_opened_booking_shows_the_time_of_its_place(page: Client) -> None:
    visit = make_visit([make_horse()], starts_at=NINE, time_zone="Asia/Tokyo")
    assert "18:00" in page.get(reverse("visit_detail", args=[visit.pk])).content.decode()
    form = page.get(reverse("visit_edit", args=[visit.pk])).context["form"]
    assert form["clock"].value() == time(18, 0)


def test_a_horse_already_recorded_stays_on_the_visit() -> None:
    horse, other = make_horse(), make_horse(barn_name="Anvil")
    visit = make_visit([horse, other])
    make_measurement(horse, visit=visit)
    with pytest.raises(ValidationError, match="has records on this visit"):
        change_visit(visit=visit, horses=[other])
    change_visit(visit=visit, horses=[horse])
    assert list(visit.horses.all()) == [horse]


def test_cancelling_needs_a_reason_and_keeps_it(page: Client) -> None:
    visit = make_visit([make_horse()])
    url = reverse("visit_cancel", args=[visit.pk])
    assert "reason" in page.post(url, {"reason": ""}).context["form"].errors
    assert page.post(url, {"reason": "rain"}).status_code == 302
    visit.refresh_from_db()
    assert visit.state == Visit.State.CANCELLED
    assert "Cancelled: rain" in visit.notes
    assert page.get(reverse("visit_edit", args=[visit.pk])).status_code == 404


def test_a_recorded_visit_is_not_cancelled(page: Client) -> None:
    visit = make_visit([make_horse()], state="recorded")
    response = page.post(reverse("visit_cancel", args=[visit.pk]), {"reason": "rain"})
    assert "recorded already" in response.content.decode()


def test_the_words_to_send_name_the_day_and_the_vet(page: Client) -> None:
    visit = make_visit([make_horse()], starts_at=NINE, time_zone="America/Denver")
    text = page.get(reverse("visit_detail", args=[visit.pk])).content.decode()
    assert "Visit on Thursday 14 May 2026 at 03:00 (America/Denver)" in text
    assert "call your veterinarian first" in text
    assert "Not ridden or lunged that day" in text


# Lists and access -------------------------------------------------------------------------------


def test_the_list_asks_the_database_the_same_however_long(page: Client) -> None:
    counts = set()
    for _ in range(2):
        for _ in range(4):
            make_visit([make_horse(), make_horse()], place=make_place())
        with CaptureQueriesContext(connection) as asked:
            page.get(reverse("visit_list"), {"when": "all"})
        counts.add(len(asked))
    assert len(counts) == 1


def test_the_list_is_searched_by_horse_client_and_place(page: Client) -> None:
    visit = make_visit([make_horse(barn_name="Needle")], place=make_place(name="Lantern Hill"))
    make_visit([make_horse(barn_name="Anvil")])
    for words in ("needle", "lantern", "needle lantern"):
        response = page.get(reverse("visit_list"), {"when": "all", "q": words})
        assert list(response.context["page"]) == [visit]


def test_a_reader_sees_visits_but_books_none(reader: User, signed_in: SignIn) -> None:
    page = signed_in(reader)
    visit = make_visit([make_horse()])
    assert page.get(reverse("visit_detail", args=[visit.pk])).status_code == 200
    assert page.post(reverse("visit_book"), {}).status_code == 403


def test_a_stranger_finds_no_visit(stranger: User, signed_in: SignIn) -> None:
    visit = make_visit([make_horse()])
    page = signed_in(stranger)
    assert page.get(reverse("visit_detail", args=[visit.pk])).status_code == 404
    assert page.post(reverse("visit_cancel", args=[visit.pk]), {"reason": "x"}).status_code == 404
