"""Requests nobody thought of, drawn from the schema: none breaks the server or its own promises."""

import json
from typing import Any

import pytest
import schemathesis
from django.core.cache import cache
from django.db import transaction
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, given, settings
from rest_framework.test import APIClient
from schemathesis.generation import GenerationMode

EXAMPLES = 3  # for each operation and mode
MODES = (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)
SIGN_IN = "/api/v1/token/"
REPEATABLE = settings(
    max_examples=EXAMPLES,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
    deadline=None,
    database=None,
)


@pytest.fixture(scope="module")
def operations() -> list[Any]:
    schema = schemathesis.openapi.from_dict(SchemaGenerator().get_schema(public=True))
    found = [item.ok() for item in schema.get_all_operations()]
    return [operation for operation in found if operation.path != SIGN_IN]


def _send(api: APIClient, case: Any) -> Any:
    has_body = isinstance(case.body, dict | list)
    return api.generic(
        case.method,
        case.formatted_path,
        json.dumps(case.body).encode() if has_body else b"",
        content_type="application/json",
        query_params={name: str(value) for name, value in (case.query or {}).items()},
    )


def _check(api: APIClient, case: Any) -> None:
    operation = case.operation
    cache.clear()  # forget counted requests
    with transaction.atomic():
        answer = _send(api, case)
        transaction.set_rollback(True)
    told = (operation.label, answer.status_code, answer.content[:500])
    assert answer.status_code < 500, told
    assert str(answer.status_code) in {*operation.definition.raw["responses"], "405"}, told
    if answer.status_code >= 400:
        assert set(answer.json()) == {"code", "message", "fields"}, told


@pytest.mark.django_db
@pytest.mark.parametrize("mode", MODES)
def test_no_request_breaks_the_server(
    api: APIClient, operations: list[Any], mode: GenerationMode
) -> None:
    for operation in operations:
        drawn = given(case=operation.as_strategy(generation_mode=mode))
        REPEATABLE(drawn(lambda case: _check(api, case)))()


@pytest.mark.django_db
def test_an_undocumented_answer_would_be_noticed(api: APIClient, operations: list[Any]) -> None:
    """The twin: with its failures struck from the schema, the first refusal is noticed."""
    operation = next(found for found in operations if found.label == "POST /api/v1/horses/")
    for status in ("400", "404"):
        operation.definition.raw["responses"].pop(status, None)
    drawn = given(case=operation.as_strategy(generation_mode=GenerationMode.NEGATIVE))
    with pytest.raises(AssertionError):
        REPEATABLE(drawn(lambda case: _check(api, case)))()
