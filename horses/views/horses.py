"""The list of horses, and changing one. (Adding one also names its owner: see the practice.)"""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from horses.forms.horses import HorseFilter, HorseForm
from horses.models import Horse
from horses.selectors.horses import horses_listed
from horses.services.horses import change_horse
from horses.views.paging import page_of
from horses.views.saving import saved


def horse_list(request: HttpRequest) -> HttpResponse:
    chosen = HorseFilter(request.GET)
    page = page_of(request, horses_listed(**chosen.chosen()))
    context = {"page": page, "filter": chosen, "any_horse": Horse.objects.exists()}
    return render(request, "horses/horse_list.html", context)


def horse_edit(request: HttpRequest, pk: int) -> HttpResponse:
    horse = get_object_or_404(Horse, pk=pk)
    form = HorseForm(request.POST or None, record=horse)
    if saved(request, form, lambda: change_horse(horse=horse, **form.values())) is None:
        return render(request, "horses/horse_form.html", {"form": form, "horse": horse})
    messages.success(request, f"{horse} is saved.")
    return redirect("horse_detail", pk=horse.pk)
