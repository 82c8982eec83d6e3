"""Saddles and pads: list, add, change, and the page of a saddle."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fitting.forms.tack import PadForm, SaddleForm
from fitting.models import Pad, Saddle
from fitting.selectors.tack import (
    pads_listed,
    saddle_with_all,
    saddles_listed,
    same_to_the_horse,
)
from fitting.services.tack import add_pad, add_saddle, change_pad, change_saddle
from horses.views.paging import page_of
from horses.views.saving import imperial, saved


def saddle_list(request: HttpRequest) -> HttpResponse:
    words, retired = request.GET.get("q", "")[:80], "retired" in request.GET
    context = {
        "page": page_of(request, saddles_listed(words=words, retired=retired)),
        "words": words,
        "retired": retired,
        "any_saddle": Saddle.objects.exists(),
    }
    return render(request, "fitting/saddle_list.html", context)


def saddle_detail(request: HttpRequest, pk: int) -> HttpResponse:
    saddle = get_object_or_404(saddle_with_all(pk))
    context = {"saddle": saddle, "same": same_to_the_horse(saddle)}
    return render(request, "fitting/saddle_detail.html", context)


def saddle_add(request: HttpRequest) -> HttpResponse:
    start = {name: request.GET[name] for name in ("tree", "owner") if name in request.GET}
    form = SaddleForm(request.POST or None, initial=start, imperial=imperial(request))
    saddle = saved(request, form, lambda: add_saddle(**form.values()))
    if saddle is None:
        return render(request, "fitting/saddle_form.html", {"form": form})
    messages.success(request, f"Saddle {saddle} is added.")
    horse = request.GET.get("horse", "")
    if horse.isdigit():  # it was added to be put on this horse
        asked = request.GET.copy()
        del asked["horse"]
        asked["saddle"] = str(saddle.pk)
        return redirect(f"{reverse('pairing_add', args=[horse])}?{asked.urlencode()}")
    return redirect("saddle_detail", pk=saddle.pk)


def saddle_edit(request: HttpRequest, pk: int) -> HttpResponse:
    saddle = get_object_or_404(Saddle, pk=pk)
    form = SaddleForm(request.POST or None, record=saddle, imperial=imperial(request))
    if saved(request, form, lambda: change_saddle(saddle=saddle, **form.values())) is None:
        return render(request, "fitting/saddle_form.html", {"form": form, "saddle": saddle})
    messages.success(request, f"Saddle {saddle} is saved.")
    return redirect("saddle_detail", pk=saddle.pk)


def pad_list(request: HttpRequest) -> HttpResponse:
    return render(request, "fitting/pad_list.html", {"page": page_of(request, pads_listed())})


def pad_add(request: HttpRequest) -> HttpResponse:
    form = PadForm(request.POST or None)
    pad = saved(request, form, lambda: add_pad(**form.values()))
    if pad is None:
        return render(request, "fitting/pad_form.html", {"form": form})
    messages.success(request, f"{pad} is added.")
    return redirect("pad_list")


def pad_edit(request: HttpRequest, pk: int) -> HttpResponse:
    pad = get_object_or_404(Pad, pk=pk)
    form = PadForm(request.POST or None, record=pad)
    if saved(request, form, lambda: change_pad(pad=pad, **form.values())) is None:
        return render(request, "fitting/pad_form.html", {"form": form, "pad": pad})
    messages.success(request, f"{pad} is saved.")
    return redirect("pad_list")
