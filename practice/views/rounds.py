"""The quick round: five places a horse, one horse after the other."""

from datetime import date
from typing import cast
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from horses.forms.quick_check import QuickCheckForm, quick_initial
from horses.models import Horse, SorenessCheck
from horses.services.soreness import record_soreness_check
from practice.models import Place, User
from practice.selectors.horse_page import horse_for_page
from practice.selectors.rounds import last_scores, places_with_horses, round_check, round_of


def round_list(request: HttpRequest) -> HttpResponse:
    """Choose a place, then feel its horses over one by one."""
    place = _place(request)
    rows = round_of(place, timezone.localdate()) if place else []
    context = {
        "places": places_with_horses(),
        "place": place,
        "rows": rows,
        "left": sum(row.check is None for row in rows),
        "next": next((row.horse for row in rows if row.check is None), None),
    }
    return render(request, "practice/round_list.html", context)


def _place(request: HttpRequest) -> Place | None:
    asked = request.GET.get("place", "")
    return Place.objects.filter(pk=int(asked)).first() if asked.isdecimal() else None


def round_check_page(request: HttpRequest, pk: int) -> HttpResponse:
    horse, day = horse_for_page(pk), timezone.localdate()
    made = round_check(horse, day)
    form = QuickCheckForm(
        request.POST or None,
        last=last_scores(horse, made),
        has_algometer=True,
        initial=quick_initial(made.scores.all()) if made else {},
    )
    if request.method == "POST" and form.is_valid():
        return _stored(request, horse, day, form, made)
    context = {"horse": horse, "form": form, "place": _place(request), "made": made}
    return render(request, "practice/round_check.html", context)


def _stored(
    request: HttpRequest,
    horse: Horse,
    day: date,
    form: QuickCheckForm,
    made: SorenessCheck | None,
) -> HttpResponse:
    record_soreness_check(
        horse=horse,
        moment=SorenessCheck.Moment.ROUND,
        checked_at=timezone.now(),
        examiner=cast(User, request.user),
        scores=form.scores(),
        check=made,
    )
    messages.success(request, f"{horse}: written down.")
    place = _place(request)
    if place is None:
        return redirect("horse_detail", pk=horse.pk)
    left = [row.horse for row in round_of(place, day) if row.check is None]
    query = urlencode({"place": place.pk})
    to = reverse("round_check", args=(left[0].pk,)) if left else reverse("round_list")
    return redirect(f"{to}?{query}")
