"""Error pages in our own look. None of them shows a stack trace or a person's data."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from practice.access import public


def _page(request: HttpRequest, status: int, title: str, words: str) -> HttpResponse:
    return render(
        request, "error.html", {"title": title, "words": words, "status": status}, status=status
    )


@public
def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(request, 400, "That request made no sense", "Go back and try once more.")


@public
def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    words = str(exception) or "This account may not do that."
    return _page(request, 403, "Not with this account", words)


@public
def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(request, 404, "Not here", "There is no such page, or it is not yours to see.")


@public
def server_error(request: HttpRequest) -> HttpResponse:
    words = "Something broke on our side. What you had saved is safe. The error has been logged."
    return _page(request, 500, "Sorry", words)


@public
def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    words = (
        "The form could not be checked. If this keeps happening behind a proxy, its address must "
        "match SITE_URL and it must pass the Origin header on unchanged."
    )
    return _page(request, 403, "Please send that again", words)
