"""One JSON line per event, with ids and never a name, a weight, an address or a share link.

What a person typed can hide in an address, in the words of an exception and in the local
variables of a traceback, so none of these are written.
"""

import time
from collections.abc import Callable, MutableMapping
from typing import Any

import structlog
from django.http import HttpRequest, HttpResponse
from structlog.tracebacks import ExceptionDictTransformer

GetResponse = Callable[[HttpRequest], HttpResponse]
Event = MutableMapping[str, Any]
log = structlog.get_logger("backledger.requests")


def route_of(request: HttpRequest) -> str:
    """Return the pattern of the address (`horses/<int:pk>/`), or a blank when there is none."""
    return request.resolver_match.route if request.resolver_match else ""


class RequestLogMiddleware:
    """Log every request by the pattern of its address, so that no link or search is written."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        started = time.perf_counter()
        response = self.get_response(request)
        log.info(
            "request",
            method=request.method,
            route=route_of(request),
            status=response.status_code,
            user=getattr(getattr(request, "user", None), "pk", None),
            ms=round((time.perf_counter() - started) * 1000),
        )
        return response


def address_as_route(logger: Any, name: str, event: Event) -> Event:
    """Replace Django's own words about a request ("Not Found: /r/secret/") by its route."""
    request = getattr(event.get("_record"), "request", None)
    if isinstance(request, HttpRequest):
        event["event"] = "request_failed"
        event["route"] = route_of(request)
    return event


_as_dicts = ExceptionDictTransformer(show_locals=False)
# These speak about the machine ("database is locked"), not about a row or a form.
SAFE_TO_QUOTE = frozenset({"ImproperlyConfigured", "OperationalError"})


def exception_without_words(exc_info: Any) -> list[dict[str, Any]]:
    """Return the kind and place of an exception; its words may quote a row or a form."""
    return _without_words(_as_dicts(exc_info))


def _without_words(stacks: list[dict[str, Any]]) -> list[dict[str, Any]]:
    for stack in stacks:
        if stack["exc_type"] not in SAFE_TO_QUOTE:
            stack["exc_value"] = ""
            stack["exc_notes"] = []
        stack["exceptions"] = [_without_words(inner) for inner in stack["exceptions"]]
    return stacks


def formatter() -> dict[str, Any]:
    """Return the formatter for Django's LOGGING."""
    return {
        "()": structlog.stdlib.ProcessorFormatter,
        "processors": [
            address_as_route,
            structlog.stdlib.ProcessorFormatter.remove_processors_meta,
            structlog.processors.ExceptionRenderer(exception_without_words),
            structlog.processors.JSONRenderer(),
        ],
        "foreign_pre_chain": [
            structlog.stdlib.add_log_level,
            structlog.stdlib.add_logger_name,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
        ],
    }
