"""Clients, their riders and consents."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from horses.views.paging import page_of
from horses.views.saving import imperial, saved
from practice.forms.people import ClientForm, ConsentForm, RiderForm
from practice.models import Client, Rider
from practice.selectors.people import clients_listed, riders_of_client, roles_of_client
from practice.selectors.visits import visits_with_horses
from practice.services.people import (
    add_client,
    add_rider,
    change_client,
    change_rider,
    record_consent,
)
from practice.views.drafts import back_to_booking, is_for_booking

RECENT = 10


def client_list(request: HttpRequest) -> HttpResponse:
    words = request.GET.get("q", "")[:80]
    context = {
        "page": page_of(request, clients_listed(words)),
        "words": words,
        "any_client": Client.objects.exists(),
    }
    return render(request, "practice/client_list.html", context)


def client_detail(request: HttpRequest, pk: int) -> HttpResponse:
    client = get_object_or_404(Client, pk=pk)
    context = {
        "client": client,
        "roles": roles_of_client(client),
        "riders": riders_of_client(client),
        "saddles": client.saddles.select_related("tree"),
        "consents": client.consents.all(),
        "visits": visits_with_horses().filter(client=client)[:RECENT],
        "visit_count": client.visits.count(),
    }
    return render(request, "practice/client_detail.html", context)


def client_add(request: HttpRequest) -> HttpResponse:
    form = ClientForm(request.POST or None)
    client = saved(request, form, lambda: add_client(**form.values()))
    if client is None:
        return render(request, "practice/client_form.html", {"form": form})
    messages.success(request, f"{client} is added.")
    if is_for_booking(request):
        return back_to_booking(request, "client", client.pk)
    return redirect("client_detail", pk=client.pk)


def client_edit(request: HttpRequest, pk: int) -> HttpResponse:
    client = get_object_or_404(Client, pk=pk)
    form = ClientForm(request.POST or None, record=client)
    if saved(request, form, lambda: change_client(client=client, **form.values())) is None:
        return render(request, "practice/client_form.html", {"form": form, "client": client})
    messages.success(request, f"{client} is saved.")
    return redirect("client_detail", pk=client.pk)


def rider_add(request: HttpRequest, client_pk: int) -> HttpResponse:
    client = get_object_or_404(Client, pk=client_pk)
    form = RiderForm(request.POST or None, imperial=imperial(request))
    rider = saved(request, form, lambda: add_rider(client=client, **form.values()))
    if rider is None:
        return render(request, "practice/rider_form.html", {"form": form, "client": client})
    messages.success(request, f"{rider} is added.")
    return redirect("client_detail", pk=client.pk)


def rider_edit(request: HttpRequest, pk: int) -> HttpResponse:
    rider = get_object_or_404(Rider.objects.select_related("client"), pk=pk)
    form = RiderForm(request.POST or None, record=rider, imperial=imperial(request))
    if saved(request, form, lambda: change_rider(rider=rider, **form.values())) is None:
        context = {"form": form, "rider": rider, "client": rider.client}
        return render(request, "practice/rider_form.html", context)
    messages.success(request, f"{rider} is saved.")
    if rider.client_id:
        return redirect("client_detail", pk=rider.client_id)
    return redirect("client_list")


@never_cache
@require_POST
def rider_weight(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a rider's weight because someone asked for it; never as part of another page."""
    rider = get_object_or_404(Rider.objects.select_related("client"), pk=pk)
    part = request.htmx  # type: ignore[attr-defined]
    template = "practice/_rider_weight.html" if part else "practice/rider_weight.html"
    return render(request, template, {"rider": rider})


def consent_add(request: HttpRequest, client_pk: int) -> HttpResponse:
    client = get_object_or_404(Client, pk=client_pk)
    form = ConsentForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        record_consent(client=client, **form.cleaned_data)
        messages.success(request, "The answer is on record.")
        return redirect("client_detail", pk=client.pk)
    return render(request, "practice/consent_form.html", {"form": form, "client": client})
