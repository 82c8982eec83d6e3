"""Sign-in on every page that is not marked public, and the practice's clock."""

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.cache import patch_cache_control

from practice.access import SAFE, may_read, may_write
from practice.models import Practice

GetResponse = Callable[[HttpRequest], HttpResponse]
OWN_SIGN_IN = ("/api/",)  # the API answers 401 by itself instead of a sign-in page


class SignInEverywhereMiddleware:
    """Ask for sign-in; hide everything from accounts without a role; stop read-only writes.

    Putting the rule here instead of on each view means that a new page is closed by default.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.user.is_authenticated and "Cache-Control" not in response:
            # Records stay out of the browser's store, which others at the tack room may open.
            patch_cache_control(response, private=True, no_store=True)
        return response

    def process_view(
        self, request: HttpRequest, view: Callable[..., HttpResponse], args: object, kwargs: object
    ) -> HttpResponse | None:
        if getattr(view, "is_public", False) or request.path.startswith(OWN_SIGN_IN):
            return None
        if not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path())
        if not may_read(request.user):
            raise Http404
        if request.method not in SAFE and not may_write(request.user):
            raise PermissionDenied("This account may read but not change records.")
        return None


class PracticeTimeZoneMiddleware:
    """Show times on the practice's clock (a visit's own times use the clock of its place)."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.user.is_authenticated:
            practice = Practice.objects.first()
            request.practice = practice or Practice()  # type: ignore[attr-defined]
            with timezone.override(ZoneInfo(request.practice.time_zone)):  # type: ignore[attr-defined]
                return self.get_response(request)
        return self.get_response(request)
