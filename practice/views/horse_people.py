"""Adding a horse with its owner, and saying who is what to a horse."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from horses.views.saving import saved
from practice.forms.people import NewHorseForm, RoleForm
from practice.models import HorseRole
from practice.services.people import add_owned_horse, change_horse_role, set_horse_role
from practice.views.drafts import back_to_booking, is_for_booking


def horse_add(request: HttpRequest) -> HttpResponse:
    client = request.GET.get("client", "")
    start = {"owner": client} if client.isdigit() else {}
    form = NewHorseForm(request.POST or None, initial=start)
    horse = saved(request, form, lambda: add_owned_horse(**form.values()))
    if horse is None:
        return render(request, "horses/horse_form.html", {"form": form})
    messages.success(request, f"{horse} is added.")
    if is_for_booking(request):
        return back_to_booking(request, "horses", horse.pk)
    return redirect("horse_detail", pk=horse.pk)


def role_add(request: HttpRequest) -> HttpResponse:
    start: dict[str, Any] = {
        name: request.GET[name] for name in ("client", "horse") if name in request.GET
    }
    form = RoleForm(request.POST or None, initial=start)
    role = saved(request, form, lambda: set_horse_role(**form.values()))
    if role is None:
        return render(request, "practice/role_form.html", {"form": form})
    messages.success(request, f"{role}.")
    return redirect("client_detail", pk=role.client_id)


def role_edit(request: HttpRequest, pk: int) -> HttpResponse:
    role = get_object_or_404(HorseRole.objects.select_related("horse", "client"), pk=pk)
    form = RoleForm(request.POST or None, record=role)
    if saved(request, form, lambda: change_horse_role(horse_role=role, **form.values())) is None:
        return render(request, "practice/role_form.html", {"form": form, "role": role})
    messages.success(request, f"{role} is saved.")
    return redirect("client_detail", pk=role.client_id)
