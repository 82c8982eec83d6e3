"""Who gets which status at every address of the site: one table, complete or the test fails."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from practice.models import User
from tests.factories import make_user
from tests.world import World, make_world

BACKEND = "django.contrib.auth.backends.ModelBackend"
PEOPLE = ("nobody", "stranger", "reader", "helper", "lead")
IN = "let in"  # 200, a redirect elsewhere on the site, or a form with messages

# How each kind of address answers: statuses for nobody, stranger, reader, helper, lead.
Row = tuple[object, object, object, object, object]
PAGE: Row = (302, 404, IN, IN, IN)  # 302: to the sign-in
WRITE: Row = (302, 404, 403, IN, IN)
LEAD: Row = (302, 404, 404, 404, IN)
LEAD_WRITE: Row = (302, 404, 403, 404, IN)
SETTINGS_WRITE: Row = (302, 404, 403, 403, IN)
OPEN: Row = (IN, IN, IN, IN, IN)
SIGNED_OUT: Row = (302, 302, 302, 302, 302)
API: Row = (401, 404, IN, IN, IN)
API_WRITE: Row = (401, 404, 403, IN, IN)
NO_METHOD: Row = (302, 404, 405, 405, 405)
NO_METHOD_API: Row = (401, 405, 405, 405, 405)
NO_WRITE_API: Row = (401, 404, 403, 405, 405)

READ_ONLY = {"GET": PAGE}
FORM = {"GET": PAGE, "POST": WRITE}
ONLY_POST = {"GET": NO_METHOD, "POST": WRITE}
ONLY_LEAD = {"GET": LEAD, "POST": LEAD_WRITE}
API_READ_ONLY = {"GET": API, "POST": NO_WRITE_API}
API_ADD = {"GET": API, "POST": API_WRITE}
API_CHANGE = {"GET": API, "PATCH": API_WRITE, "DELETE": NO_WRITE_API}
API_FIXED = {"GET": API, "PATCH": NO_WRITE_API, "DELETE": NO_WRITE_API}

TABLE: dict[str, dict[str, Row]] = {
    "healthz": {"GET": OPEN},
    "sign_in": {"GET": OPEN},
    "sign_out": {"POST": SIGNED_OUT},
    "shared_report": {"GET": OPEN},
    "today": READ_ONLY,
    "visit_list": READ_ONLY,
    "visit_book": FORM,
    "visit_horse_choices": READ_ONLY,
    "visit_detail": READ_ONLY,
    "visit_edit": FORM,
    "visit_cancel": FORM,
    "visit_finish": FORM,
    "record_horse": READ_ONLY,
    "record_step": FORM,
    "record_pairing_step": FORM,
    "tracing_add": FORM,
    "tracing_read": FORM,
    "tracing_photo": READ_ONLY,
    "tracing_remove": ONLY_POST,
    "client_list": READ_ONLY,
    "client_add": FORM,
    "client_detail": READ_ONLY,
    "client_edit": FORM,
    "rider_add": FORM,
    "rider_edit": FORM,
    "rider_weight": ONLY_POST,
    "consent_add": FORM,
    "place_list": READ_ONLY,
    "place_add": FORM,
    "place_edit": FORM,
    "role_add": FORM,
    "role_edit": FORM,
    "practice_settings": {"GET": PAGE, "POST": SETTINGS_WRITE},
    "member_list": ONLY_LEAD,
    "member_add": ONLY_LEAD,
    "member_edit": ONLY_LEAD,
    "horse_list": READ_ONLY,
    "horse_add": FORM,
    "horse_detail": READ_ONLY,
    "horse_edit": FORM,
    "scan_add": FORM,
    "scan_detail": READ_ONLY,
    "scan_status": READ_ONLY,
    "scan_marks": FORM,
    "scan_use": FORM,
    "scan_file": READ_ONLY,
    "scan_remove": ONLY_POST,
    "saddle_list": READ_ONLY,
    "saddle_add": FORM,
    "saddle_detail": READ_ONLY,
    "saddle_edit": FORM,
    "tree_list": READ_ONLY,
    "tree_add": FORM,
    "tree_detail": READ_ONLY,
    "tree_edit": FORM,
    "soreness_by_tree": READ_ONLY,
    "what_changed": READ_ONLY,
    "alert_put_off": FORM,
    "back_change": READ_ONLY,
    "through_time": READ_ONLY,
    "study_list": FORM,
    "study_detail": FORM,
    "ride_add": FORM,
    "ride_detail": READ_ONLY,
    "ride_edit": FORM,
    "ride_check": FORM,
    "ride_ask": ONLY_POST,
    "round_list": READ_ONLY,
    "round_check": FORM,
    "mark_add": FORM,
    "mark_edit": FORM,
    "recovery_answer": {"GET": OPEN, "POST": OPEN},
    "pad_list": READ_ONLY,
    "pad_add": FORM,
    "pad_edit": FORM,
    "pairing_add": FORM,
    "pairing_edit": FORM,
    "pairing_end": FORM,
    "calibration": READ_ONLY,
    "evaluation_list": READ_ONLY,
    "evaluation_detail": READ_ONLY,
    "evaluation_status": READ_ONLY,
    "evaluation_compare": READ_ONLY,
    "evaluation_again": ONLY_POST,
    "evaluation_sensitivity": READ_ONLY,
    "evaluation_sensitivity_status": READ_ONLY,
    "evaluation_sweep": ONLY_POST,
    "evaluation_request": ONLY_POST,
    "report_preview": READ_ONLY,
    "share_create": ONLY_POST,
    "share_revoke": ONLY_POST,
    "api_schema": {"GET": API},
    "api_docs": READ_ONLY,
    "api_token": {"GET": NO_METHOD_API, "POST": OPEN},
    "api_nowhere": {"GET": (404, 404, 404, 404, 404)},
    "api_horse-list": API_ADD,
    "api_horse-detail": API_CHANGE,
    "api_measurement-list": API_ADD,
    "api_measurement-detail": API_FIXED,
    "api_soreness_check-list": API_ADD,
    "api_soreness_check-detail": API_FIXED,
    "api_tree-list": API_ADD,
    "api_tree-detail": API_CHANGE,
    "api_saddle-list": API_ADD,
    "api_saddle-detail": API_CHANGE,
    "api_pad-list": API_ADD,
    "api_pad-detail": API_CHANGE,
    "api_pairing-list": API_ADD,
    "api_pairing-detail": API_CHANGE,
    "api_evaluation-list": API_ADD,
    "api_evaluation-detail": API_FIXED,
    "api_visit-list": API_ADD,
    "api_visit-detail": API_CHANGE,
    "api_client-list": API_READ_ONLY,
    "api_client-detail": API_FIXED,
    "api_place-list": API_READ_ONLY,
    "api_place-detail": API_FIXED,
    "api_rider-list": API_READ_ONLY,
    "api_rider-detail": API_FIXED,
}
CASES = [(name, method) for name, methods in TABLE.items() for method in methods]


def patterns(items: list[Any], prefix: str = "") -> Iterator[tuple[str, URLPattern]]:
    for item in items:
        address = prefix + str(item.pattern)
        if isinstance(item, URLResolver):
            yield from patterns(item.url_patterns, address)
        else:
            yield address, item


def test_table_names_every_address_of_the_site_and_no_other() -> None:
    found = {item.name for _, item in patterns(get_resolver().url_patterns)}
    assert found == set(TABLE)


def test_only_these_addresses_are_open_to_people_who_are_not_signed_in() -> None:
    marked = {
        item.name
        for _, item in patterns(get_resolver().url_patterns)
        if getattr(item.callback, "is_public", False)
    }
    assert marked == {"healthz", "sign_in", "sign_out", "shared_report", "recovery_answer"}


@dataclass
class Stage:
    world: World
    people: dict[str, User | None]

    def client(self, who: str) -> Client:
        client = Client()
        user = self.people[who]
        if user is not None:
            client.force_login(user, BACKEND)
        return client


@pytest.fixture(scope="module")
def stage(django_db_setup: None, django_db_blocker: Any) -> Iterator[Stage]:
    """Make the world once; what a test changes is rolled back, and all of it at the end."""
    with django_db_blocker.unblock(), transaction.atomic():
        world = make_world()
        people: dict[str, User | None] = {
            "nobody": None,
            "stranger": make_user(""),
            "reader": make_user("read_only"),
            "helper": make_user("helper"),
            "lead": world.lead,
        }
        yield Stage(world, people)
        transaction.set_rollback(True)


def address(name: str, world: World) -> str:
    return reverse(name, kwargs=arguments(name, world))


def arguments(name: str, world: World) -> dict[str, Any]:
    """Return what the address of this name needs, taken from the world."""
    for known, values in _arguments(world).items():
        if name in known:
            return values
    return {}


def _arguments(world: World) -> dict[tuple[str, ...], dict[str, Any]]:
    rows, saddle = world.rows, world.pairing.saddle
    on_visit = {"visit_pk": world.visit.pk, "horse_pk": world.horse.pk}
    return {
        ("visit_detail", "visit_edit", "api_visit-detail"): {"pk": world.visit.pk},
        ("visit_cancel",): {"pk": rows["booked"].pk},
        ("visit_finish",): {"visit_pk": world.visit.pk},
        ("record_horse", "report_preview", "share_create"): on_visit,
        ("record_step",): {**on_visit, "step": "body"},
        ("tracing_add",): {**on_visit, "step": "s1"},
        ("tracing_read", "tracing_photo", "tracing_remove"): {
            **on_visit,
            "pk": rows["tracing"].pk,
        },
        ("record_pairing_step",): {**on_visit, "pairing_pk": world.pairing.pk, "step": "bare"},
        ("share_revoke",): {**on_visit, "pk": rows["link"].pk},
        ("shared_report",): {"token": rows["link"].token},
        ("ride_detail", "ride_edit"): {"pk": rows["ride"].pk},
        ("ride_check", "ride_ask"): {"pk": rows["ride"].pk, "moment": "second_day"},
        ("study_detail",): {"pk": rows["study"].pk},
        ("mark_edit",): {"pk": rows["mark"].pk},
        ("recovery_answer",): {"token": rows["recovery_link"].token},
        ("alert_put_off",): {"pk": world.horse.pk, "code": "slip"},
        ("client_detail", "client_edit", "api_client-detail"): {"pk": world.owner.pk},
        ("rider_add", "consent_add"): {"client_pk": world.owner.pk},
        ("rider_edit", "rider_weight", "api_rider-detail"): {"pk": rows["rider"].pk},
        ("place_edit", "api_place-detail"): {"pk": world.place.pk},
        ("role_edit",): {"pk": rows["role"].pk},
        ("member_edit",): {"pk": rows["member"].pk},
        (
            "horse_detail",
            "horse_edit",
            "what_changed",
            "back_change",
            "through_time",
            "pairing_add",
            "ride_add",
            "round_check",
            "mark_add",
            "api_horse-detail",
        ): {"pk": world.horse.pk},
        ("scan_add",): {"measurement_pk": world.measurement.pk},
        (
            *("scan_detail", "scan_status", "scan_marks", "scan_use", "scan_file"),
            "scan_remove",
        ): {"pk": rows["scan"].pk},
        ("saddle_detail", "saddle_edit", "api_saddle-detail"): {"pk": saddle.pk},
        ("tree_detail", "tree_edit", "api_tree-detail"): {"pk": saddle.tree_id},
        ("pad_edit", "api_pad-detail"): {"pk": world.pairing.pad_id},
        ("pairing_edit", "pairing_end", "api_pairing-detail"): {"pk": world.pairing.pk},
        ("evaluation_list",): {"horse_pk": world.horse.pk},
        ("evaluation_request",): {"pairing_pk": world.pairing.pk},
        (
            "evaluation_detail",
            "evaluation_status",
            "evaluation_again",
            "evaluation_sensitivity",
            "evaluation_sensitivity_status",
            "evaluation_sweep",
            "api_evaluation-detail",
        ): {"pk": world.evaluation.pk},
        ("evaluation_compare",): {
            "pk": world.evaluation.pk,
            "other_pk": rows["other_evaluation"].pk,
        },
        ("api_measurement-detail",): {"pk": world.measurement.pk},
        ("api_soreness_check-detail",): {"pk": rows["soreness"].pk},
        ("api_nowhere",): {"rest": "unicorns/"},
    }


def outcome(answer: Any) -> object:
    """Return the status, or IN when the person was let in."""
    to_sign_in = answer.status_code == 302 and "/sign-in/" in answer["Location"]
    if answer.status_code in {401, 403, 404, 405} or to_sign_in:
        return answer.status_code
    assert answer.status_code < 500, answer.content[:2000]
    return IN


@pytest.mark.django_db
@pytest.mark.parametrize(("name", "method"), CASES)
def test_each_person_gets_the_status_of_the_table(stage: Stage, name: str, method: str) -> None:
    url = address(name, stage.world)
    wanted = dict(zip(PEOPLE, TABLE[name][method], strict=True))
    got: dict[str, object] = {}
    for who in PEOPLE:
        cache.clear()  # forget the API's counted requests
        kind = "application/json" if name.startswith("api_") else "multipart/form-data; boundary=x"
        with transaction.atomic():
            answer = stage.client(who).generic(method, url, b"", content_type=kind)
            got[who] = outcome(answer)
            transaction.set_rollback(True)
    assert got == wanted


@pytest.mark.django_db
def test_outcome_tells_a_refusal_from_an_answer(stage: Stage) -> None:
    """The twin of the table: were everyone let in, or no one, `outcome` would say so."""
    url = address("horse_detail", stage.world)
    assert outcome(stage.client("lead").get(url)) == IN
    assert outcome(stage.client("nobody").get(url)) == 302
    assert outcome(stage.client("lead").get("/horses/999999/")) == 404


@pytest.mark.django_db
def test_no_page_of_the_records_stays_in_the_browsers_store(stage: Stage) -> None:
    assert "no-store" in stage.client("lead").get("/")["Cache-Control"]
    assert "Cache-Control" not in stage.client("nobody").get("/")  # only sends to signing in
