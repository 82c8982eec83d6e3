"""Whether this install works, for whatever watches over it. No sign-in, no personal data."""

from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from practice.access import public
from practice.selectors.health import health


@public
@never_cache
@require_safe
def healthz(request: HttpRequest) -> JsonResponse:
    parts = health()
    is_well = set(parts.values()) == {"ok"}
    return JsonResponse(
        {"status": "ok" if is_well else "failing", **parts}, status=200 if is_well else 503
    )
