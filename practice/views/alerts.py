"""Putting off an alert of a horse."""

from typing import cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from practice.alerts import TITLES
from practice.forms.alerts import PutOffForm
from practice.models import User
from practice.selectors.alerts import alerts_of
from practice.selectors.horse_page import horse_for_page
from practice.services.alerts import put_off


def alert_put_off(request: HttpRequest, pk: int, code: str) -> HttpResponse:
    horse, day = horse_for_page(pk), timezone.localdate()
    if code not in TITLES:
        raise Http404
    form = PutOffForm(request.POST or None, day=day)
    if request.method == "POST" and form.is_valid():
        put_off(horse=horse, code=code, created_by=cast(User, request.user), **form.cleaned_data)
        messages.success(request, f"“{TITLES[code]}” is put off. It stays on the horse's page.")
        return redirect("horse_detail", pk=horse.pk)
    rows = alerts_of([horse], day)
    shown = [alert for row in rows for alert in row.alerts if alert.code == code]
    context = {"horse": horse, "title": TITLES[code], "alerts": shown, "form": form}
    return render(request, "practice/alert_put_off.html", context)
