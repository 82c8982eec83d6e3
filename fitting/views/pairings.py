"""Starting, changing and ending a pairing."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from fitting.forms.pairings import USES, WARN_SHARE, EndForm, PairingForm
from fitting.models import Pairing
from fitting.selectors.pairings import last_mass_kg, pairings_with_all
from fitting.services.pairings import change_pairing, end_pairing, start_pairing
from horses.models import Horse
from horses.views.saving import imperial, saved


def pairing_add(request: HttpRequest, pk: int) -> HttpResponse:
    horse = get_object_or_404(Horse, pk=pk)
    start: dict[str, Any] = {"from_date": request.GET.get("from") or timezone.localdate()}
    if request.GET.get("saddle", "").isdigit():
        start["saddle"] = request.GET["saddle"]
    form = _form(request, horse, initial=start)
    pairing = saved(request, form, lambda: start_pairing(horse=horse, **form.values()))
    if pairing is None:
        return _page(request, form, horse)
    return _done(request, form, pairing, f"{pairing.saddle} is on {horse} from now on.")


def pairing_edit(request: HttpRequest, pk: int) -> HttpResponse:
    pairing = get_object_or_404(pairings_with_all(), pk=pk)
    form = _form(request, pairing.horse, record=pairing)
    if saved(request, form, lambda: change_pairing(pairing=pairing, **form.values())) is None:
        return _page(request, form, pairing.horse, pairing)
    return _done(request, form, pairing, "The pairing is saved.")


def _form(request: HttpRequest, horse: Horse, **kwargs: Any) -> PairingForm:
    return PairingForm(
        request.POST or None,
        horse=horse,
        horse_mass_kg=last_mass_kg(horse),
        imperial=imperial(request),
        **kwargs,
    )


def _page(
    request: HttpRequest, form: PairingForm, horse: Horse, pairing: Pairing | None = None
) -> HttpResponse:
    back = _back(request) or reverse("horse_detail", args=[horse.pk])
    context = {"form": form, "horse": horse, "pairing": pairing, "uses": USES, "back": back}
    return render(request, "fitting/pairing_form.html", context)


def _done(request: HttpRequest, form: PairingForm, pairing: Pairing, words: str) -> HttpResponse:
    messages.success(request, words)
    share = form.load_share
    if share is not None and share > WARN_SHARE:
        messages.warning(
            request,
            f"Rider, saddle and gear are {share * 100:.0f} % of the horse's weight. There is no "
            "agreed limit; studies conflict between 15 and 30 %.",
        )
    return redirect(_back(request) or reverse("horse_detail", args=[pairing.horse_id]))


def _back(request: HttpRequest) -> str | None:
    """Return the page of ours that sent the person here, for example a visit being recorded."""
    page = request.GET.get("next", "")
    is_ours = url_has_allowed_host_and_scheme(page, allowed_hosts=None)
    return page if page and is_ours else None


def pairing_end(request: HttpRequest, pk: int) -> HttpResponse:
    pairing = get_object_or_404(pairings_with_all(), pk=pk)
    form = EndForm(request.POST or None, initial={"to_date": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        try:
            end_pairing(pairing=pairing, **form.cleaned_data)
        except ValidationError as problem:
            form.add_error("to_date", problem.messages)
        else:
            messages.success(request, f"{pairing.saddle} is no longer on {pairing.horse}.")
            return redirect("horse_detail", pk=pairing.horse_id)
    return render(request, "fitting/pairing_end.html", {"form": form, "pairing": pairing})
