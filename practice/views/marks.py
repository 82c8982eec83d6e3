"""Marks on the skin of a horse."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from horses.forms.marks import SkinMarkForm
from horses.models import SkinMark
from horses.services.soreness import add_skin_mark, change_skin_mark
from horses.views.saving import saved
from practice.selectors.horse_page import horse_for_page


def mark_add(request: HttpRequest, pk: int) -> HttpResponse:
    horse, day = horse_for_page(pk), timezone.localdate()
    form = SkinMarkForm(request.POST or None, day=day, initial={"first_seen_on": day})
    if saved(request, form, lambda: add_skin_mark(horse=horse, **form.values())) is None:
        return render(request, "practice/mark_form.html", {"form": form, "horse": horse})
    messages.success(request, "The mark is written down.")
    return redirect("horse_detail", pk=horse.pk)


def mark_edit(request: HttpRequest, pk: int) -> HttpResponse:
    mark = get_object_or_404(SkinMark.objects.select_related("horse"), pk=pk)
    form = SkinMarkForm(request.POST or None, record=mark, day=timezone.localdate())
    if saved(request, form, lambda: change_skin_mark(mark=mark, **form.values())) is None:
        context = {"form": form, "horse": mark.horse, "mark": mark}
        return render(request, "practice/mark_form.html", context)
    messages.success(request, "The mark is saved.")
    return redirect("horse_detail", pk=mark.horse_id)
