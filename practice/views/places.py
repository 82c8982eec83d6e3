"""Barns, yards and ranches."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from horses.views.paging import page_of
from horses.views.saving import saved
from practice.forms.people import PlaceForm
from practice.models import Place
from practice.selectors.people import places_listed
from practice.services.people import add_place, change_place
from practice.views.drafts import back_to_booking, is_for_booking


def place_list(request: HttpRequest) -> HttpResponse:
    return render(request, "practice/place_list.html", {"page": page_of(request, places_listed())})


def place_add(request: HttpRequest) -> HttpResponse:
    form = PlaceForm(request.POST or None)
    place = saved(request, form, lambda: add_place(**form.values()))
    if place is None:
        return render(request, "practice/place_form.html", {"form": form})
    messages.success(request, f"{place} is added.")
    if is_for_booking(request):
        return back_to_booking(request, "place", place.pk)
    return redirect("place_list")


def place_edit(request: HttpRequest, pk: int) -> HttpResponse:
    place = get_object_or_404(Place, pk=pk)
    form = PlaceForm(request.POST or None, record=place)
    if saved(request, form, lambda: change_place(place=place, **form.values())) is None:
        return render(request, "practice/place_form.html", {"form": form, "place": place})
    messages.success(request, f"{place} is saved.")
    return redirect("place_list")
