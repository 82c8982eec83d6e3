"""Logs name routes and ids, never people, links or what somebody typed."""

import io
import json
import logging
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import structlog
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import ResolverMatch

from practice.logs import RequestLogMiddleware
from practice.models import User

PERSON = "Odalys Fernhatch"
Lines = Callable[[], list[dict[str, Any]]]


@pytest.fixture
def lines() -> Iterator[Lines]:
    """Catch what the console handler writes, at the most talkative level."""
    root = logging.getLogger()
    handler = next(h for h in root.handlers if isinstance(h, logging.StreamHandler))
    loggers = [root, logging.getLogger("backledger.requests")]
    before = [(logger, logger.level) for logger in loggers]
    written = io.StringIO()
    stream = handler.setStream(written)
    for logger in loggers:
        logger.setLevel(logging.DEBUG)
    yield lambda: [json.loads(line) for line in written.getvalue().splitlines()]
    handler.setStream(stream or handler.stream)
    for logger, level in before:
        logger.setLevel(level)


@pytest.mark.django_db
def test_a_request_line_holds_the_route_and_the_id_and_no_name(
    lines: Lines, fitter: User, signed_in: Callable[[User], Client]
) -> None:
    User.objects.filter(pk=fitter.pk).update(first_name=PERSON, username=PERSON)
    signed_in(fitter).get("/healthz", {"q": PERSON})
    requests = [line for line in lines() if line["event"] == "request"]
    assert [(r["route"], r["user"], r["status"]) for r in requests] == [("healthz", fitter.pk, 200)]
    assert PERSON not in json.dumps(lines())


def test_a_request_line_holds_the_pattern_and_not_the_share_link(lines: Lines) -> None:
    def shared_page(request: HttpRequest) -> HttpResponse:
        request.resolver_match = ResolverMatch(shared_page, (), {}, route="r/<str:token>/")
        return HttpResponse()

    RequestLogMiddleware(shared_page)(RequestFactory().get("/r/very-secret-token/"))
    assert [line["route"] for line in lines()] == ["r/<str:token>/"]
    assert "very-secret-token" not in json.dumps(lines())


@pytest.mark.django_db
def test_a_page_not_found_does_not_log_its_address(lines: Lines, client: Client) -> None:
    client.get("/r/almost-a-secret-token/nowhere/")
    assert any(line["event"] == "request_failed" for line in lines())
    assert "almost-a-secret-token" not in json.dumps(lines())


def test_a_traceback_holds_the_place_and_neither_words_nor_variables(lines: Lines) -> None:
    try:
        owner = PERSON
        raise ValueError(f"{owner} is not a number")
    except ValueError:
        structlog.get_logger("backledger.test").exception("broke")
    (line,) = lines()
    (stack,) = line["exception"]
    assert stack["exc_type"] == "ValueError"
    assert (
        stack["frames"][-1]["name"]
        == "test_a_traceback_holds_the_place_and_neither_words_nor_variables"
    )
    assert PERSON not in json.dumps(line)


@pytest.mark.django_db
def test_a_wrong_password_does_not_log_who_tried(lines: Lines, client: Client) -> None:
    client.post("/sign-in/", {"username": PERSON, "password": "not the password"})
    assert PERSON not in json.dumps(lines())
