"""Who may use the API: members read, fitters write, strangers find nothing."""

import pytest
from rest_framework.authtoken.models import Token
from rest_framework.test import APIClient

from practice.models import User
from practice.services.people import change_member
from tests.factories import PASSWORD, make_horse, make_rider, make_user

pytestmark = pytest.mark.django_db
RESOURCES = [
    "horses",
    "measurements",
    "soreness-checks",
    "trees",
    "saddles",
    "pads",
    "pairings",
    "evaluations",
    "visits",
    "clients",
    "places",
    "riders",
]


@pytest.mark.parametrize("resource", RESOURCES)
def test_each_resource_needs_a_member(
    resource: str, reader_api: APIClient, stranger_api: APIClient
) -> None:
    url = f"/api/v1/{resource}/"
    nobody = APIClient().get(url)
    assert nobody.status_code == 401
    assert nobody.json()["code"] == "not_authenticated"
    assert "WWW-Authenticate" in nobody
    assert stranger_api.get(url).status_code == 404
    assert stranger_api.post(url, {}, format="json").status_code == 404
    assert reader_api.get(url).status_code == 200
    assert reader_api.post(url, {}, format="json").status_code in {403, 405}


def test_stranger_cannot_tell_a_horse_from_no_horse(stranger_api: APIClient) -> None:
    horse = make_horse()
    there = stranger_api.get(f"/api/v1/horses/{horse.pk}/")
    nowhere = stranger_api.get(f"/api/v1/horses/{horse.pk + 1}/")
    assert there.status_code == nowhere.status_code == 404
    assert there.json() == nowhere.json()


def test_reader_may_not_write_and_is_told_why(reader_api: APIClient) -> None:
    answer = reader_api.post("/api/v1/horses/", {"barn_name": "Quill"}, format="json")
    assert answer.status_code == 403
    assert "read but not change" in answer.json()["message"]


def test_deactivated_member_is_shut_out_at_once(fitter: User) -> None:
    token = APIClient().post(
        "/api/v1/token/", {"username": fitter.username, "password": PASSWORD}, format="json"
    )
    client = APIClient(headers={"Authorization": f"Token {token.json()['token']}"})
    assert client.get("/api/v1/horses/").status_code == 200
    User.objects.filter(pk=fitter.pk).update(is_active=False)
    assert client.get("/api/v1/horses/").status_code == 401


@pytest.mark.parametrize(
    "address", ["/api/v1/", "/api/v1/unicorns/", "/api/v1/horses", "/api/v1/horses/1%0A/"]
)
def test_unknown_address_answers_in_json(api: APIClient, address: str) -> None:
    answer = api.get(address)
    assert answer.status_code == 404
    assert answer.json() == {
        "code": "not_found",
        "message": "There is nothing at this address. Each one ends with a slash.",
        "fields": {},
    }


def test_rider_weight_shows_only_to_a_lead_who_asks(api: APIClient, helper_api: APIClient) -> None:
    make_rider(mass_kg=81.6)
    url = "/api/v1/riders/"
    assert "mass_kg" not in api.get(url).json()["results"][0]
    assert "mass_kg" not in helper_api.get(url, {"include": "mass"}).json()["results"][0]
    assert api.get(url, {"include": "mass"}).json()["results"][0]["mass_kg"] == 81.6


def test_addresses_of_places_and_clients_stay_out(api: APIClient) -> None:
    for resource in ("places", "clients"):
        page = api.get(f"/api/v1/{resource}/").json()
        assert all("address" not in row for row in page["results"])


def test_token_is_given_for_the_right_password_and_taken_back(fitter: User) -> None:
    client = APIClient()
    sent = {"username": fitter.username, "password": PASSWORD}
    token = client.post("/api/v1/token/", sent, format="json").json()["token"]
    client = APIClient(headers={"Authorization": f"Token {token}"})
    assert client.get("/api/v1/horses/").status_code == 200
    assert client.delete("/api/v1/token/").status_code == 204
    assert client.get("/api/v1/horses/").status_code == 401


@pytest.mark.parametrize("password", ["wrong", ""])
def test_wrong_password_gives_no_token(fitter: User, password: str) -> None:
    sent = {"username": fitter.username, "password": password}
    answer = APIClient().post("/api/v1/token/", sent, format="json")
    assert answer.status_code == 400
    assert "token" not in answer.json()


def test_account_without_a_role_gets_no_token() -> None:
    stranger = make_user("")
    sent = {"username": stranger.username, "password": PASSWORD}
    assert APIClient().post("/api/v1/token/", sent, format="json").status_code == 400


def test_wrong_passwords_pause_the_account(fitter: User) -> None:
    wrong = {"username": fitter.username, "password": "wrong"}
    right = {"username": fitter.username, "password": PASSWORD}
    statuses = [
        APIClient().post("/api/v1/token/", wrong, format="json").status_code for _ in range(6)
    ]
    assert statuses[:5] == [400] * 5
    locked = APIClient().post("/api/v1/token/", right, format="json")
    assert locked.status_code == 429
    assert "token" not in locked.json()


def test_token_tries_are_throttled_even_for_different_names(db: None) -> None:
    """Nor does naming another address each time, in a header anyone can write, begin anew."""
    statuses = [
        APIClient(headers={"X-Forwarded-For": f"192.0.2.{number}"})
        .post("/api/v1/token/", {"username": f"n{number}", "password": "x"}, format="json")
        .status_code
        for number in range(11)
    ]
    assert statuses[:10] == [400] * 10
    assert statuses[10] == 429


def test_change_through_a_token_is_in_the_history_with_its_account(helper: User) -> None:
    horse = make_horse()
    token = Token.objects.create(user=helper)
    client = APIClient(headers={"Authorization": f"Token {token.key}"})
    sent = {"barn_name": "Whistle"}
    assert client.patch(f"/api/v1/horses/{horse.pk}/", sent, format="json").status_code == 200
    assert horse.history.latest().history_user == helper


def test_new_password_ends_the_old_token(fitter: User) -> None:
    token = Token.objects.create(user=fitter)
    client = APIClient(headers={"Authorization": f"Token {token.key}"})
    change_member(member=fitter, first_name="Odd")
    assert client.get("/api/v1/horses/").status_code == 200
    change_member(member=fitter, password="another-long-password")
    assert client.get("/api/v1/horses/").status_code == 401


def test_session_writes_need_the_csrf_token(fitter: User) -> None:
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(fitter, "django.contrib.auth.backends.ModelBackend")
    answer = client.post("/api/v1/horses/", {"barn_name": "Quill"}, format="json")
    assert answer.status_code == 403
    assert client.get("/api/v1/horses/").status_code == 200
