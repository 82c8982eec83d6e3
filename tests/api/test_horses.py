import pytest
from rest_framework.test import APIClient

from horses.models import Horse
from tests.factories import make_horse

pytestmark = pytest.mark.django_db
URL = "/api/v1/horses/"


def test_lead_adds_a_horse_and_reads_it_back(api: APIClient) -> None:
    sent = {"barn_name": "Quill", "sex": "mare", "height_mm": 1574.8, "birth_date": "2016-04-02"}
    answer = api.post(URL, sent, format="json")
    assert answer.status_code == 201
    read = api.get(f"{URL}{answer.json()['id']}/").json()
    assert {name: read[name] for name in sent} == sent
    assert read["state"] == "active"


def test_change_is_kept_in_the_audit_history(api: APIClient) -> None:
    horse = make_horse(barn_name="Quill")
    answer = api.patch(f"{URL}{horse.pk}/", {"state": "resting"}, format="json")
    assert answer.status_code == 200
    assert answer.json()["state"] == "resting"
    assert list(horse.history.values_list("state", flat=True)) == ["resting", "active"]


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"barn_name": ""}, "barn_name"),
        ({"barn_name": "Quill", "height_mm": 62}, "height_mm"),
        ({"barn_name": "Quill", "height_mm": "nan"}, "height_mm"),
        ({"barn_name": "Quill", "height_mm": "15.2 hh"}, "height_mm"),
        ({"barn_name": "Quill", "place": 987654}, "place"),
        ({"barn_name": "Quill", "life_number": "12"}, "life_number"),
        ({"barn_name": "Quill", "sex": "ox"}, "sex"),
    ],
)
def test_bad_value_is_named_at_its_field(
    api: APIClient, sent: dict[str, object], field: str
) -> None:
    answer = api.post(URL, sent, format="json")
    assert answer.status_code == 400
    body = answer.json()
    assert body["code"] == "invalid"
    assert list(body["fields"]) == [field]
    assert not Horse.objects.exists()


def test_limit_in_the_message_is_the_databases_own(api: APIClient) -> None:
    answer = api.post(URL, {"barn_name": "Quill", "height_mm": 609}, format="json")
    assert "610" in answer.json()["fields"]["height_mm"][0]
    assert api.post(URL, {"barn_name": "Quill", "height_mm": 610}, format="json").status_code == 201


def test_list_filters_orders_and_pages(api: APIClient) -> None:
    for name, state in (("Anvil", "active"), ("Bellows", "sold"), ("Anvil Two", "active")):
        make_horse(barn_name=name, state=state)
    page = api.get(URL, {"name": "anv", "state": "active", "ordering": "-barn_name"}).json()
    assert [row["barn_name"] for row in page["results"]] == ["Anvil Two", "Anvil"]
    page = api.get(URL, {"page_size": 2}).json()
    assert page["count"] == 3
    assert len(page["results"]) == 2
    assert "page=2" in page["next"]


def test_page_size_has_a_cap(api: APIClient) -> None:
    Horse.objects.bulk_create(Horse(barn_name=f"H{number}") for number in range(205))
    assert len(api.get(URL, {"page_size": 1000}).json()["results"]) == 200


@pytest.mark.parametrize("asked", ["0", "-1", "many", "", "1.5", "²"])
def test_page_size_that_is_no_size_is_refused(api: APIClient, asked: str) -> None:
    answer = api.get(URL, {"page_size": asked})
    assert answer.status_code == 400
    assert list(answer.json()["fields"]) == ["page_size"]


def test_unknown_filter_value_is_refused_in_the_same_shape(api: APIClient) -> None:
    answer = api.get(URL, {"state": "flying"})
    assert answer.status_code == 400
    assert list(answer.json()["fields"]) == ["state"]


def test_horses_are_never_deleted(api: APIClient) -> None:
    horse = make_horse()
    answer = api.delete(f"{URL}{horse.pk}/")
    assert answer.status_code == 405
    assert answer.json()["code"] == "method_not_allowed"
