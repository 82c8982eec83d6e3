"""The list of visits, booking, changing and cancelling one, and its page."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from horses.views.paging import page_of
from practice.forms.booking import (
    BookingForm,
    CancelForm,
    VisitFilter,
    booking_of,
    booking_start,
)
from practice.models import Visit
from practice.selectors.people import place_of_client, suggested_place
from practice.selectors.visits import (
    Clash,
    clashes_of,
    next_visit_after,
    visits_listed,
    visits_with_horses,
)
from practice.services.visits import TYPICAL_MINUTES, book_visit, cancel_visit, change_visit
from practice.views.drafts import (
    ADDS,
    add_for_booking,
    drop_booking,
    keep_booking,
    kept_booking,
)

PRECONDITIONS = (
    "Clean and dry, with mud brushed off the back and girth line.",
    "Not ridden or lunged that day before the visit.",
    "The usual rider there, in riding clothes.",
    "All saddles, pads and girths in use brought along.",
    "Level, firm ground to stand on, under a roof if there is one.",
    "Someone to hold the horse; dogs tied up.",
    "Recent notes of the vet and farrier to hand.",
)


def visit_list(request: HttpRequest) -> HttpResponse:
    chosen = VisitFilter({"when": "coming"} | request.GET.dict())
    page = page_of(request, visits_listed(**chosen.chosen()))
    context = {"page": page, "filter": chosen, "any_visit": Visit.objects.exists()}
    return render(request, "practice/visit_list.html", context)


def visit_detail(request: HttpRequest, pk: int) -> HttpResponse:
    visit = get_object_or_404(visits_with_horses(), pk=pk)
    rows = visit.rows  # type: ignore[attr-defined]
    clashes = (
        []
        if visit.state == Visit.State.CANCELLED
        else clashes_of(visit, [row.horse_id for row in rows])
    )
    context = {"visit": visit, "rows": rows, "clashes": clashes, "preconditions": PRECONDITIONS}
    return render(request, "practice/visit_detail.html", context)


def visit_book(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        return _booking_sent(request, None)
    start = booking_start(request.practice, request.user) | _asked_for(request)  # type: ignore[attr-defined,arg-type]
    form = BookingForm(initial=start | kept_booking(request, None))
    return _booking_page(request, form)


def visit_edit(request: HttpRequest, pk: int) -> HttpResponse:
    visit = get_object_or_404(visits_with_horses().exclude(state=Visit.State.CANCELLED), pk=pk)
    if request.method == "POST":
        return _booking_sent(request, visit)
    form = BookingForm(initial=booking_of(visit) | kept_booking(request, pk), visit=visit)
    return _booking_page(request, form)


def _asked_for(request: HttpRequest) -> dict[str, Any]:
    """Return what the link that led here chose: a client, a horse, a day, a visit."""
    client, horse = request.GET.get("client", ""), request.GET.get("horse", "")
    after = request.GET.get("after", "")
    asked: dict[str, Any] = next_visit_after(int(after)) if after.isdigit() else {}
    if client.isdigit():
        asked |= {"client": client} | place_of_client(int(client))
    if horse.isdigit():
        asked |= {"horses": [horse]} | suggested_place(int(horse))
    if request.GET.get("day"):
        asked["day"] = request.GET["day"]
    return asked


def _booking_sent(request: HttpRequest, visit: Visit | None) -> HttpResponse:
    add = request.POST.get("add", "")
    if add in ADDS:
        keep_booking(request, visit.pk if visit else None)
        return add_for_booking(request, add)
    if add == "refresh":
        typed = {
            n: request.POST.getlist(n) if n == "horses" else v for n, v in request.POST.items()
        }
        return _booking_page(request, BookingForm(initial=typed, visit=visit))
    form = BookingForm(request.POST, visit=visit)
    if not form.is_valid():
        return _booking_page(request, form)
    clashes = clashes_of(form.proposed(), [horse.pk for horse in form.cleaned_data["horses"]])
    seen = " / ".join(clash.words for clash in clashes)
    if clashes and request.POST.get("seen") != seen:
        return _booking_page(request, form, clashes=clashes, seen=seen)
    return _store_booking(request, form, visit)


def _store_booking(request: HttpRequest, form: BookingForm, visit: Visit | None) -> HttpResponse:
    try:
        if visit is None:
            visit = book_visit(**form.values())
            words = "The visit is booked."
        else:
            visit = change_visit(visit=visit, **form.values())
            words = "The visit is changed."
    except ValidationError as problem:
        form.refuse(problem)
        return _booking_page(request, form)
    drop_booking(request)
    messages.success(request, words)
    return redirect("visit_detail", pk=visit.pk)


def _booking_page(
    request: HttpRequest, form: BookingForm, clashes: list[Clash] | None = None, seen: str = ""
) -> HttpResponse:
    context = {
        "form": form,
        "visit": form.visit,
        "clashes": clashes or [],
        "seen": seen,
        "minutes_of": TYPICAL_MINUTES,
        "groups": form.horse_groups(),
    }
    return render(request, "practice/visit_form.html", context)


def visit_horse_choices(request: HttpRequest) -> HttpResponse:
    """Show the horses to tick for the client just chosen (asked for by the page)."""
    picked = {"client": request.GET.get("client", ""), "horses": request.GET.getlist("horses")}
    form = BookingForm(initial=picked)
    context = {"form": form, "groups": form.horse_groups()}
    return render(request, "practice/_horse_choices.html", context)


def visit_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    visit = get_object_or_404(visits_with_horses(), pk=pk)
    form = CancelForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            cancel_visit(visit=visit, reason=form.cleaned_data["reason"])
        except ValidationError as problem:
            form.add_error(None, problem)
        else:
            messages.success(request, "The visit is cancelled.")
            return redirect("visit_detail", pk=visit.pk)
    return render(request, "practice/visit_cancel.html", {"form": form, "visit": visit})
