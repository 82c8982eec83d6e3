"""A half-typed booking, kept in the session while a client, place or horse is added for it."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

KEY = "booking_draft"
ADDS = {"client": "client_add", "place": "place_add", "horse": "horse_add"}
MANY = "horses"


def keep_booking(request: HttpRequest, visit_pk: int | None) -> None:
    """Keep everything typed in the booking form."""
    typed: dict[str, Any] = {
        name: request.POST.getlist(name) if name == MANY else request.POST[name]
        for name in request.POST
        if name not in {"csrfmiddlewaretoken", "add"}
    }
    request.session[KEY] = {"typed": typed, "visit": visit_pk}


def add_for_booking(request: HttpRequest, what: str) -> HttpResponse:
    """Go and add something, then come back."""
    url = reverse(ADDS[what]) + "?for=booking"
    client = request.POST.get("client", "")
    return redirect(f"{url}&client={client}" if client.isdigit() else url)


def is_for_booking(request: HttpRequest) -> bool:
    return request.GET.get("for") == "booking" and KEY in request.session


def back_to_booking(request: HttpRequest, name: str, pk: int) -> HttpResponse:
    """Return to the booking with what was just added chosen in it."""
    draft = request.session[KEY]
    if name == MANY:
        draft["typed"][MANY] = [*draft["typed"].get(MANY, []), str(pk)]
    else:
        draft["typed"][name] = str(pk)
    request.session[KEY] = draft
    visit_pk = draft["visit"]
    page = reverse("visit_edit", args=[visit_pk]) if visit_pk else reverse("visit_book")
    return redirect(f"{page}?draft=1")


def kept_booking(request: HttpRequest, visit_pk: int | None) -> dict[str, Any]:
    """Return what was typed, when the page was opened to go on with it."""
    draft = request.session.get(KEY)
    if request.GET.get("draft") and draft and draft["visit"] == visit_pk:
        typed: dict[str, Any] = draft["typed"]
        return typed
    return {}


def drop_booking(request: HttpRequest) -> None:
    request.session.pop(KEY, None)
