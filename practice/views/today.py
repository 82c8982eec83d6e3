"""Today: the day's round, the next days, and what is due, unfinished or worrying."""

from datetime import date, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from practice.models import Client, Visit
from practice.selectors import today as selectors
from practice.selectors.alerts import alerts_of, horses_in_care
from practice.selectors.visits import visits_between

NEXT_DAYS = 6
SHOWN = 8


def today(request: HttpRequest) -> HttpResponse:
    now_day = timezone.localdate()
    day = _asked_day(request, now_day)
    visits = visits_between(day, day + timedelta(days=NEXT_DAYS))
    zone = request.practice.time_zone  # type: ignore[attr-defined]
    context = {
        "day": day,
        "now_day": now_day,
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "stops": selectors.stops_of([v for v in visits if v.starts_local.date() == day], zone),
        "next_days": _by_day([v for v in visits if v.starts_local.date() > day]),
        "is_new": not Visit.objects.exists(),
        "any_client": Client.objects.exists(),
        **_worries(now_day, None if "all" in request.GET else SHOWN),
    }
    return render(request, "practice/today.html", context)


def _asked_day(request: HttpRequest, now_day: date) -> date:
    try:
        day = date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return now_day
    # Keeps room for the days before and after.
    return day if 1900 < day.year < 9000 else now_day


def _by_day(visits: list[Visit]) -> dict[date, list[Visit]]:
    days: dict[date, list[Visit]] = {}
    for visit in visits:
        days.setdefault(visit.starts_local.date(), []).append(visit)
    return days


def _worries(now_day: date, shown: int | None) -> dict[str, object]:
    """Return each list, cut to `shown` rows unless that is None, with how many there are."""
    due = selectors.due_horses(now_day)
    rows = alerts_of(horses_in_care(), now_day)
    alerts = [row for row in rows if row.alerts]
    unfinished = selectors.unfinished_visits(now_day)
    sore = selectors.sore_checks()
    return {
        "due": due[:shown],
        "due_count": len(due),
        "alerts": alerts[:shown],
        "alerts_count": len(alerts),
        "put_off_count": sum(len(row.put_off) for row in rows),
        "unfinished": unfinished[:shown],
        "unfinished_count": unfinished.count(),
        "sore": sore[:shown],
        "sore_count": sore.count(),
        "shown": shown,
    }
