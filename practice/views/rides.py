"""A long ride and the four checks of its recovery test."""

from typing import Any, cast

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from fitting.models import Pairing
from horses.forms.quick_check import ROUND_KEYS, QuickCheckForm, quick_initial
from horses.forms.rides import RideForm
from horses.models import Ride, SorenessCheck
from horses.recovery import AFTER, BEFORE, NEXT_DAY, SECOND_DAY, recovery_result
from horses.selectors.rides import ride_with_checks
from horses.services.soreness import change_ride, record_ride, record_soreness_check
from horses.views.saving import imperial, saved
from practice.models import RecoveryLink, User
from practice.selectors.horse_page import horse_for_page
from practice.services.recovery import ask_owner

MOMENTS = {
    BEFORE: ("Before the ride", "At rest, before saddling."),
    AFTER: ("After the ride", "Saddle off, 10 to 30 minutes later, once cooled."),
    NEXT_DAY: ("The next day", "20 to 28 hours after the ride."),
    SECOND_DAY: ("The second day", "44 to 52 hours after the ride."),
}
ASKED = (NEXT_DAY, SECOND_DAY)


def ride_add(request: HttpRequest, pk: int) -> HttpResponse:
    horse = horse_for_page(pk)
    form = _form(request, horse.pk, initial={"ended_at": timezone.localtime()})
    ride = saved(request, form, lambda: record_ride(horse=horse, **form.values()))
    if ride is None:
        return render(request, "practice/ride_form.html", {"form": form, "horse": horse})
    messages.success(request, "The ride is written down.")
    return redirect("ride_detail", pk=ride.pk)


def ride_edit(request: HttpRequest, pk: int) -> HttpResponse:
    ride = get_object_or_404(ride_with_checks(pk))
    form = _form(request, ride.horse_id, record=ride)
    if saved(request, form, lambda: change_ride(ride=ride, **form.values())) is None:
        context = {"form": form, "horse": ride.horse, "ride": ride}
        return render(request, "practice/ride_form.html", context)
    messages.success(request, "The ride is saved.")
    return redirect("ride_detail", pk=ride.pk)


def _form(request: HttpRequest, horse_id: int, **given: Any) -> RideForm:
    pairings = Pairing.objects.filter(horse=horse_id).select_related("horse", "saddle")
    return RideForm(request.POST or None, pairings=pairings, imperial=imperial(request), **given)


def ride_detail(request: HttpRequest, pk: int) -> HttpResponse:
    ride = get_object_or_404(ride_with_checks(pk))
    checks = {check.moment: check for check in ride.soreness_checks.all()}
    links = {link.moment: link for link in ride.recovery_links.all()}
    context = {
        "ride": ride,
        "result": recovery_result(ride),
        "moments": [
            _moment(ride, moment, checks.get(moment), links.get(moment)) for moment in MOMENTS
        ],
    }
    return render(request, "practice/ride_detail.html", context)


def _moment(
    ride: Ride, moment: str, check: SorenessCheck | None, link: RecoveryLink | None
) -> dict[str, Any]:
    title, when = MOMENTS[moment]
    scores = {(row.site, row.side): row.score for row in check.scores.all()} if check else {}
    return {
        "code": moment,
        "title": title,
        "when": when,
        "check": check,
        "scores": scores,
        "hours": (check.checked_at - ride.ended_at).total_seconds() / 3600 if check else None,
        "may_ask": moment in ASKED and check is None,
        "link": link,
        "address": _address(link) if link else "",
        "is_over": bool(link and link.expires_at <= timezone.now()),
    }


def _address(link: RecoveryLink) -> str:
    return settings.SITE_URL + reverse("recovery_answer", args=[link.token])


def ride_check(request: HttpRequest, pk: int, moment: str) -> HttpResponse:
    """Feel the back over for one moment of the test, at the places felt before the ride."""
    ride = get_object_or_404(ride_with_checks(pk))
    if moment not in MOMENTS:
        raise Http404
    checks = {check.moment: check for check in ride.soreness_checks.all()}
    made, before = checks.get(moment), checks.get(BEFORE)
    form = QuickCheckForm(
        request.POST or None,
        keys=keys_of(ride),
        last={(r.site, r.side): r.score for r in before.scores.all()} if before else {},
        has_algometer=True,
        initial=quick_initial(made.scores.all()) if made else {},
    )
    if request.method == "POST" and form.is_valid():
        record_soreness_check(
            horse=ride.horse,
            ride=ride,
            moment=moment,
            checked_at=timezone.now(),
            examiner=cast(User, request.user),
            scores=form.scores(),
        )
        messages.success(request, f"{MOMENTS[moment][0]}: written down.")
        return redirect("ride_detail", pk=ride.pk)
    context = {"ride": ride, "form": form, "made": made, "title": MOMENTS[moment][0]}
    return render(request, "practice/ride_check.html", context | {"when": MOMENTS[moment][1]})


def keys_of(ride: Ride) -> tuple[tuple[str, str], ...]:
    """Return the places to feel: those of the check before the ride, which a pass must cover."""
    for check in ride.soreness_checks.all():
        if check.moment == BEFORE:
            felt = tuple((r.site, r.side) for r in check.scores.all() if r.score is not None)
            return felt or ROUND_KEYS
    return ROUND_KEYS


@require_POST
def ride_ask(request: HttpRequest, pk: int, moment: str) -> HttpResponse:
    """Make the link by which the owner answers one check."""
    ride = get_object_or_404(ride_with_checks(pk))
    try:
        ask_owner(ride=ride, moment=moment, created_by=cast(User, request.user))
    except ValidationError as problem:
        messages.error(request, " ".join(problem.messages))
    else:
        messages.success(request, "The link is ready. Copy it below and send it.")
    return redirect("ride_detail", pk=ride.pk)
