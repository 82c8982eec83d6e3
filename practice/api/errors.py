"""Every failure of the API in one JSON shape: {code, message, fields}."""

from collections.abc import Iterator
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS
from django.core.exceptions import PermissionDenied as DjangoPermissionDenied
from django.core.exceptions import ValidationError as DjangoValidationError
from django.http import Http404, HttpRequest, JsonResponse
from rest_framework.exceptions import APIException, NotFound, PermissionDenied, ValidationError
from rest_framework.response import Response
from rest_framework.views import exception_handler

Fields = dict[str, list[str]]
WHOLE = "whole"  # for errors that belong to no single field


def body(code: str, message: str, fields: Fields | None = None) -> dict[str, Any]:
    return {"code": code, "message": message, "fields": fields or {}}


def _flat(detail: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Yield (path, message) from nested errors; a list index becomes part of the path."""
    if isinstance(detail, dict):
        for name, inner in detail.items():
            step = "" if name in {NON_FIELD_ERRORS, "non_field_errors"} else str(name)
            yield from _flat(inner, f"{path}.{step}".strip("."))
    elif isinstance(detail, list) and any(isinstance(inner, dict) for inner in detail):
        for index, inner in enumerate(detail):
            yield from _flat(inner, f"{path}.{index}".strip("."))
    elif isinstance(detail, list):
        for inner in detail:
            yield from _flat(inner, path)
    else:
        yield path or WHOLE, str(detail)


def fields_of(detail: Any) -> Fields:
    fields: Fields = {}
    for path, message in _flat(detail):
        fields.setdefault(path, []).append(message)
    return fields


def _as_api_exception(error: Exception) -> Exception:
    """Turn what services and Django raise into what the API knows."""
    if isinstance(error, DjangoValidationError):
        named = hasattr(error, "error_dict")
        return ValidationError(error.message_dict if named else {WHOLE: error.messages})
    if isinstance(error, Http404):
        return NotFound()
    if isinstance(error, DjangoPermissionDenied):
        return PermissionDenied(str(error) or None)
    return error


def handle(error: Exception, context: dict[str, Any]) -> Response | None:
    """Answer an error in our shape; unknown errors are left to the server's error page."""
    error = _as_api_exception(error)
    response = exception_handler(error, context)
    if response is None or not isinstance(error, APIException):
        return response
    if isinstance(error, ValidationError):
        response.data = body("invalid", "Some values cannot be taken.", fields_of(error.detail))
    else:
        response.data = body(str(error.get_codes()), str(error.detail))
    return response


def no_such_address(request: HttpRequest, rest: str = "") -> JsonResponse:
    """Answer addresses below /api/v1/ that do not exist."""
    return JsonResponse(
        body("not_found", "There is nothing at this address. Each one ends with a slash."),
        status=404,
    )
