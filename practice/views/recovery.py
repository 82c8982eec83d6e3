"""The page behind a recovery link: an owner feels the back over once, and that is all it does."""

from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from horses.forms.quick_check import QuickCheckForm
from horses.forms.soreness import NOT_TESTED
from horses.models import Ride
from horses.selectors.rides import ride_with_checks
from practice.access import public
from practice.models import Practice, RecoveryLink
from practice.services.recovery import answer_check
from practice.views.rides import keys_of
from practice.views.unlisted import unlisted

# What an owner sees the horse do, for each score.
OWNER_WORDS = {
    "0": "Stays calm",
    "1": "Muscle tightens or skin twitches",
    "2": "Dips away, or moves ear or eye",
    "3": "Sinks, steps off or threatens",
    "4": "Will not be touched",
    NOT_TESTED: "Did not check",
}
SORE = 3


# The token in the address is the only right this page gives; there is no session to protect.
@csrf_exempt
@public
@require_http_methods(["GET", "HEAD", "POST"])
def recovery_answer(request: HttpRequest, token: str) -> HttpResponse:
    """Show and take one check. What does not open looks the same, whatever the reason."""
    link = RecoveryLink.objects.filter(token=token, expires_at__gt=timezone.now()).first()
    if link is None:
        return unlisted(render(request, "practice/recovery/gone.html", status=404))
    ride = ride_with_checks(link.ride_id).get()
    if link.answered_at is not None or any(
        check.moment == link.moment for check in ride.soreness_checks.all()
    ):
        return unlisted(render(request, "practice/recovery/thanks.html", {"is_late": True}))
    context = _context(link, ride)
    if timezone.now() < link.opens_at:
        return unlisted(render(request, "practice/recovery/early.html", context))
    form = QuickCheckForm(request.POST or None, keys=keys_of(ride), words=OWNER_WORDS)
    if request.method == "POST" and form.is_valid():
        return _take(request, link, form)
    status = 422 if form.is_bound else 200
    page = render(request, "practice/recovery/answer.html", context | {"form": form}, status=status)
    return unlisted(page)


def _context(link: RecoveryLink, ride: Ride) -> dict[str, Any]:
    return {
        "link": link,
        "horse": ride.horse.barn_name,
        "practice_name": (Practice.objects.first() or Practice()).name,
        "where": dict.fromkeys(keys_of(ride)),
    }


def _take(request: HttpRequest, link: RecoveryLink, form: QuickCheckForm) -> HttpResponse:
    scores = form.scores()
    try:
        answer_check(link=link, answered_at=timezone.now(), scores=scores)
    except ValidationError:  # made from another phone meanwhile
        return unlisted(render(request, "practice/recovery/thanks.html", {"is_late": True}))
    needs_vet = any((row["score"] or 0) >= SORE or row["is_warm"] for row in scores.values())
    return unlisted(render(request, "practice/recovery/thanks.html", {"needs_vet": needs_vet}))
