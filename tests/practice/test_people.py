"""Clients, riders and their private weight, roles, consents, places, members, settings."""

from collections.abc import Callable
from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from practice.models import Client as Customer
from practice.models import Consent, HorseRole, Place, Practice, Rider, User
from practice.services.people import change_member, set_horse_role
from tests.factories import (
    make_client,
    make_horse,
    make_place,
    make_practice,
    make_rider,
    make_saddle,
    make_visit,
)

SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    make_practice()
    return signed_in(fitter)


# Clients ----------------------------------------------------------------------------------------


def test_a_client_is_added_found_and_changed(page: Client) -> None:
    page.post(reverse("client_add"), {"name": "Kettlebar Outfit", "phone": "555 0111"})
    client = Customer.objects.get()
    assert list(page.get(reverse("client_list"), {"q": "kettle"}).context["page"]) == [client]
    assert not page.get(reverse("client_list"), {"q": "nobody"}).context["page"].object_list
    page.post(reverse("client_edit", args=[client.pk]), {"name": "Kettlebar Ranch"})
    client.refresh_from_db()
    assert (client.name, client.phone) == ("Kettlebar Ranch", "")


def test_a_client_without_a_name_keeps_what_was_typed(page: Client) -> None:
    response = page.post(reverse("client_add"), {"name": " ", "phone": "555 0111"})
    assert response.context["form"].errors["name"]
    assert b'value="555 0111"' in response.content


def test_a_clients_page_asks_the_database_the_same_however_much_they_have(page: Client) -> None:
    client = make_client()
    counts = set()
    for _ in range(2):
        for _ in range(3):
            horse = make_horse(owner=client)
            make_visit([horse], client=client, place=make_place())
            make_saddle(owner=client)
            make_rider(client=client)
            Consent.objects.create(
                client=client, subject="photos", is_given=True, given_on=date(2026, 5, 14)
            )
        with CaptureQueriesContext(connection) as asked:
            page.get(reverse("client_detail", args=[client.pk]))
        counts.add(len(asked))
    assert len(counts) == 1


def test_the_client_list_asks_the_database_the_same_however_long(page: Client) -> None:
    counts = set()
    for _ in range(2):
        for _ in range(4):
            make_horse(owner=make_client())
        with CaptureQueriesContext(connection) as asked:
            page.get(reverse("client_list"))
        counts.add(len(asked))
    assert len(counts) == 1


def test_consents_are_kept_one_by_one_and_not_for_days_to_come(page: Client) -> None:
    client = make_client()
    url = reverse("consent_add", args=[client.pk])
    answer = {"subject": "photos", "is_given": "no", "given_on": "2026-05-14", "how": "said"}
    assert page.post(url, answer | {"given_on": "2999-01-01"}).context["form"].errors["given_on"]
    assert page.post(url, answer).status_code == 302
    assert Consent.objects.get().is_given is False


# Riders -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "kg"), [("172", 78.018), ("172 lb", 78.018), ("78 kg", 78), ("12 st 4 lb", 78.018)]
)
def test_a_riders_weight_may_be_typed_in_any_unit(page: Client, typed: str, kg: float) -> None:
    url = reverse("rider_add", args=[make_client().pk])
    assert page.post(url, {"name": "Hobb Yarrowe", "mass_kg": typed}).status_code == 302
    assert Rider.objects.get().mass_kg == pytest.approx(kg, abs=0.001)


def test_pounds_typed_as_kilograms_are_asked_about(page: Client) -> None:
    Practice.objects.update(units="metric")
    url = reverse("rider_add", args=[make_client().pk])
    sent = {"name": "Hobb Yarrowe", "mass_kg": "180"}
    error = page.post(url, sent).context["form"].errors["mass_kg"][0]
    assert error == "180 kg is 397 lb. Were these pounds? Is this right?"
    assert page.post(url, sent | {"sure": "mass_kg=180"}).status_code == 302
    assert Rider.objects.get().mass_kg == 180


def test_a_weight_beyond_belief_is_blocked(page: Client) -> None:
    url = reverse("rider_add", args=[make_client().pk])
    sent = {"name": "Hobb Yarrowe", "mass_kg": "450 lb", "sure": "mass_kg=450 lb"}
    assert "cannot be right" in page.post(url, sent).context["form"].errors["mass_kg"][0]


def test_no_page_shows_a_weight_until_it_is_asked_for(page: Client) -> None:
    rider = make_rider(client=make_client(), mass_kg=81.6466, typed={"mass_kg": "180.0"})
    for url in (
        reverse("client_detail", args=[rider.client_id]),
        reverse("rider_edit", args=[rider.pk]),
    ):
        text = page.get(url).content.decode()
        assert "180" not in text
        assert "81.6" not in text
    shown = page.post(reverse("rider_weight", args=[rider.pk]))
    assert "180 lb" in shown.content.decode()
    assert "no-store" in shown["Cache-Control"]
    assert page.get(reverse("rider_weight", args=[rider.pk])).status_code == 405


def test_changing_a_rider_keeps_the_hidden_weight(page: Client) -> None:
    rider = make_rider(client=make_client(), mass_kg=81.6466, typed={"mass_kg": "180"})
    url = reverse("rider_edit", args=[rider.pk])
    page.post(url, {"name": "G. Nettleworth", "mass_kg": ""})
    rider.refresh_from_db()
    assert (rider.name, rider.mass_kg, rider.typed) == (
        "G. Nettleworth",
        81.6466,
        {"mass_kg": "180"},
    )
    page.post(url, {"name": "G. Nettleworth", "mass_kg": "", "forget_mass": "on"})
    rider.refresh_from_db()
    assert (rider.mass_kg, rider.typed) == (None, {})
    assert rider.history.count() > 1  # names said before are kept, the weight is not
    assert not rider.history.exclude(mass_kg=None).exists()
    assert all("mass_kg" not in row.typed for row in rider.history.all())


def test_saving_a_client_unchanged_leaves_no_line_in_the_history(
    page: Client, fitter: User
) -> None:
    client = make_client()
    url = reverse("client_edit", args=[client.pk])
    lines = client.history.count()
    page.post(url, {"name": client.name})
    assert client.history.count() == lines
    page.post(url, {"name": "Kettlebar Ranch"})
    assert client.history.count() == lines + 1
    assert client.history.latest().history_user == fitter


def test_a_child_needs_a_guardian(page: Client) -> None:
    url = reverse("rider_add", args=[make_client().pk])
    sent = {"name": "Tess Marrowby", "is_minor": "on"}
    assert page.post(url, sent).context["form"].errors["guardian"]
    assert page.post(url, sent | {"guardian": "Isolde Marrowby"}).status_code == 302


def test_a_reader_may_not_ask_for_a_weight(reader: User, signed_in: SignIn) -> None:
    rider = make_rider(client=make_client())
    assert signed_in(reader).post(reverse("rider_weight", args=[rider.pk])).status_code == 403


# Roles and places -------------------------------------------------------------------------------


def test_a_sale_ends_one_role_and_begins_another(page: Client) -> None:
    horse = make_horse(owner=make_client())
    role = horse.roles.get()
    same = {"horse": horse.pk, "client": role.client_id, "role": "owner"}
    sent = same | {"from_date": "2024-01-01", "to_date": "2023-01-01"}
    url = reverse("role_edit", args=[role.pk])
    assert "before it began" in page.post(url, sent).context["form"].errors["to_date"][0]
    assert page.post(url, sent | {"to_date": "2026-01-01"}).status_code == 302
    buyer = make_client(name="Isolde Marrowby")
    new = {"horse": horse.pk, "client": buyer.pk, "role": "owner", "from_date": "2026-01-02"}
    page.post(reverse("role_add"), new)
    assert HorseRole.objects.filter(horse=horse, role="owner").count() == 2
    assert horse.roles.get(to_date=None).client == buyer


def test_setting_a_role_twice_changes_it_and_adds_none() -> None:
    horse, client = make_horse(), make_client()
    start, end = date(2026, 1, 1), date(2026, 3, 1)
    set_horse_role(horse=horse, client=client, role="vet", from_date=start)
    set_horse_role(horse=horse, client=client, role="vet", from_date=start, to_date=end)
    assert horse.roles.get().to_date == end


def test_a_place_knows_yes_no_and_not_known(page: Client) -> None:
    page.post(reverse("place_add"), {"name": "Lantern Hill", "is_covered": "false"})
    place = Place.objects.get()
    assert (place.is_covered, place.has_level_ground) == (False, None)
    page.post(reverse("place_edit", args=[place.pk]), {"name": "Lantern Hill"})
    place.refresh_from_db()
    assert place.is_covered is None


# Members and settings ---------------------------------------------------------------------------


def member(**values: str) -> dict[str, str]:
    standard = {"username": "perrin", "role": "helper", "is_active": "on"}
    return standard | {"password": "girth-and-cinch-4"} | values


def test_the_lead_opens_an_account_that_can_sign_in(page: Client, client: Client) -> None:
    assert page.post(reverse("member_add"), member()).status_code == 302
    sent = {"username": "perrin", "password": "girth-and-cinch-4"}
    assert client.post(reverse("sign_in"), sent).status_code == 302


@pytest.mark.parametrize("weak", ["", "short", "password", "12345678"])
def test_a_weak_password_is_refused_at_the_field(page: Client, weak: str) -> None:
    response = page.post(reverse("member_add"), member(password=weak))
    assert response.context["form"].errors["password"]
    assert not User.objects.filter(username="perrin").exists()


def test_an_account_needs_a_role_and_an_unused_name(page: Client, fitter: User) -> None:
    response = page.post(reverse("member_add"), member(role="", username=fitter.username))
    errors = response.context["form"].errors
    assert errors["role"]
    assert (
        page.post(reverse("member_add"), member(username=fitter.username))
        .context["form"]
        .errors["username"]
    )


def test_the_last_lead_stays_lead(page: Client, fitter: User) -> None:
    url = reverse("member_edit", args=[fitter.pk])
    sent = {"username": fitter.username, "role": "helper", "is_active": "on", "password": ""}
    assert "must stay lead" in page.post(url, sent).context["form"].errors["role"][0]
    fitter.refresh_from_db()
    assert fitter.is_lead
    with pytest.raises(ValidationError):
        change_member(member=fitter, is_active=False)


def test_changing_ones_own_password_keeps_one_signed_in(page: Client, fitter: User) -> None:
    sent = member(username=fitter.username, role="lead")
    assert page.post(reverse("member_edit", args=[fitter.pk]), sent).status_code == 302
    assert page.get(reverse("today")).status_code == 200
    fitter.refresh_from_db()
    assert fitter.check_password("girth-and-cinch-4")


def test_members_do_not_exist_for_helpers(helper: User, signed_in: SignIn) -> None:
    page = signed_in(helper)
    assert page.get(reverse("member_list")).status_code == 404
    assert page.post(reverse("member_add"), member()).status_code == 404


def test_the_lead_changes_the_settings_and_a_helper_only_looks(
    page: Client, helper: User, signed_in: SignIn
) -> None:
    sent = {"name": "Windrow Bench", "units": "metric", "currency": "cr"}
    url = reverse("practice_settings")
    assert page.post(url, sent | {"time_zone": "Atlantis"}).context["form"].errors["time_zone"]
    assert page.post(url, sent | {"time_zone": "Europe/Paris"}).status_code == 302
    practice = Practice.objects.get()
    assert (practice.units, practice.time_zone) == ("metric", "Europe/Paris")
    other = signed_in(helper)
    assert other.get(url).status_code == 200
    assert other.post(url, sent).status_code == 403


@pytest.mark.parametrize("name", ["client_list", "place_list", "practice_settings", "role_add"])
def test_a_stranger_finds_no_people(stranger: User, signed_in: SignIn, name: str) -> None:
    assert signed_in(stranger).get(reverse(name)).status_code == 404
