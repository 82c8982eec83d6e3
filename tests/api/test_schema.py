"""The API describes itself: without warnings, on our own origin, true to what it does."""

from typing import Any

import pytest
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema
from rest_framework.test import APIClient

from practice.models import User
from tests.factories import make_practice

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    GENERATOR_STATS.reset()
    return SchemaGenerator().get_schema(request=None, public=True)


def test_schema_is_valid_openapi_and_made_without_warnings(schema: dict[str, Any]) -> None:
    validate_schema(schema)
    assert not list(GENERATOR_STATS._warn_cache)
    assert not list(GENERATOR_STATS._error_cache)


def test_schema_states_the_hard_limits(schema: dict[str, Any]) -> None:
    height = schema["components"]["schemas"]["HorseRequest"]["properties"]["height_mm"]
    assert (height["minimum"], height["maximum"]) == (610, 2134)


def test_schema_says_that_a_name_cannot_be_empty(schema: dict[str, Any]) -> None:
    name = schema["components"]["schemas"]["HorseRequest"]["properties"]["barn_name"]
    assert name["minLength"] == 1


def test_every_operation_says_how_it_fails(schema: dict[str, Any]) -> None:
    for path, operations in schema["paths"].items():
        for method, operation in operations.items():
            statuses = set(operation["responses"])
            assert {"401", "404", "429"} <= statuses, (method, path)
            if method in {"post", "patch"}:
                assert {"400", "403"} <= statuses, (method, path)


def test_docs_page_uses_files_of_our_own_origin_and_no_inline_script(
    fitter: User, signed_in: Any
) -> None:
    make_practice()
    page = signed_in(fitter).get("/api/v1/docs/")
    assert page.status_code == 200
    html = page.content.decode()
    assert "http://" not in html.replace("http://testserver", "")
    assert "https://" not in html
    assert all('src="/static/' in part for part in html.split("<script")[1:])


def test_docs_page_and_schema_are_for_members(stranger: User, signed_in: Any) -> None:
    assert signed_in(stranger).get("/api/v1/docs/").status_code == 404
    assert signed_in(stranger).get("/api/v1/schema/").status_code == 404
    assert APIClient().get("/api/v1/docs/").status_code == 302
    assert APIClient().get("/api/v1/schema/").status_code == 401
