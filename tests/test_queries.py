"""No page asks the database more often because there are more rows.

Every page is opened with n and with 2n of everything around it. The number of queries must be the
same, and is recorded in query_counts.json, so that a change shows in review:
RECORD_QUERY_COUNTS=1 pytest tests/test_queries.py writes the file anew.
"""

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fitting.models import Pairing
from practice.selectors.steps import HORSE_STEPS, PAIRING_STEPS
from tests.test_access import BACKEND, TABLE, address
from tests.world import World, make_world

COUNTS = Path(__file__).with_name("query_counts.json")
RECORD = os.environ.get("RECORD_QUERY_COUNTS") == "1"
N = 3
# Answers without rows of their own: no growth to look for.
PLAIN = {"healthz", "sign_in", "sign_out", "api_nowhere", "api_schema", "api_token"}


def pages(world: World) -> dict[str, str]:
    """Return every address that can be opened, by name; each step of recording by its own."""
    names = [n for n, methods in TABLE.items() if "GET" in methods and n not in PLAIN]
    only_post = {n for n in names if TABLE[n]["GET"][4] == 405}
    found = {name: address(name, world) for name in names if name not in only_post}
    place = {"visit_pk": world.visit.pk, "horse_pk": world.horse.pk}
    for step in HORSE_STEPS:
        found[f"record_step {step}"] = reverse("record_step", kwargs={**place, "step": step})
    for step in PAIRING_STEPS:
        found[f"record_pairing_step {step}"] = reverse(
            "record_pairing_step", kwargs={**place, "pairing_pk": world.pairing.pk, "step": step}
        )
    return found


def queries_of(client: Client, url: str) -> list[str]:
    cache.clear()
    client.get(url)  # what is only asked once after sign-in does not count
    with CaptureQueriesContext(
        connection,
    ) as caught:
        answer = client.get(url)
    assert answer.status_code == 200, (url, answer.status_code)
    return [query["sql"] for query in caught.captured_queries]


@pytest.fixture(scope="module")
def counted(django_db_setup: None, django_db_blocker: Any) -> Iterator[dict[str, list[list[str]]]]:
    """Return for each page the queries with n and with 2n rows."""
    with django_db_blocker.unblock(), transaction.atomic():
        world = make_world()
        client = Client()
        client.force_login(world.lead, BACKEND)
        urls = pages(world)
        found: dict[str, list[list[str]]] = {name: [] for name in urls}
        for _ in range(2):
            world.grow(N)
            for name, url in urls.items():
                found[name].append(queries_of(client, url))
        yield found
        transaction.set_rollback(True)


def _added(few: list[str], many: list[str]) -> str:
    kinds = [sql[:160] for sql in many]
    counts = {kind: kinds.count(kind) for kind in kinds}
    return "\n".join(f"{count} x {kind}" for kind, count in counts.items() if count > 1)


def test_no_page_asks_more_when_there_is_more(counted: dict[str, list[list[str]]]) -> None:
    grown = {
        name: f"{len(few)} became {len(many)}:\n{_added(few, many)}"
        for name, (few, many) in counted.items()
        if len(few) != len(many)
    }
    assert not grown, "\n\n".join(f"{name}: {words}" for name, words in grown.items())


def test_counts_are_those_on_record(counted: dict[str, list[list[str]]]) -> None:
    counts = {name: len(few) for name, (few, _) in sorted(counted.items())}
    if RECORD:
        COUNTS.write_text(json.dumps(counts, indent=2) + "\n", encoding="utf-8")
    assert json.loads(COUNTS.read_text(encoding="utf-8")) == counts


@pytest.mark.django_db
def test_a_page_that_asks_once_per_row_would_be_seen() -> None:
    """The twin: the way of counting notices a query for each row."""
    world = make_world()
    with CaptureQueriesContext(connection) as few:
        [pairing.saddle.tag for pairing in Pairing.objects.all()]
    world.grow(N)
    with CaptureQueriesContext(connection) as many:
        [pairing.saddle.tag for pairing in Pairing.objects.all()]
    assert len(many) > len(few)
