"""What every template may use."""

from django.conf import settings
from django.http import HttpRequest

from practice.access import may_write
from practice.models import Practice


def practice_settings(request: HttpRequest) -> dict[str, object]:
    practice = getattr(request, "practice", None)
    return {
        "practice": practice,
        "imperial": practice is None or practice.units == Practice.Units.IMPERIAL,
        "is_demo": settings.IS_DEMO,
        "may_write": may_write(request.user) if hasattr(request, "user") else False,
    }
