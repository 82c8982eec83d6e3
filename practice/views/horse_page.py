"""The horse's page: the back first, then what loads it, then how both went over the seasons."""

from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fitting.adapters.felt import felt_of
from fitting.adapters.history import fit_point
from fitting.charts.history import fit_history_charts
from fitting.models import FitEvaluation
from horses.adapters.profiles import back_point, body_point, soreness_point
from horses.charts.backs import LOWER, UPPER, angles_chart, evenness_chart, widths_chart
from horses.charts.seasons import body_chart
from horses.charts.soreness import soreness_chart
from horses.charts.theme import CENTIMETRES, INCHES, Chart
from horses.models import (
    BackMeasurement,
    SorenessCheck,
)
from horses.recovery import recovery_result
from horses.seasons import BackPoint, Change, SiteChange, site_changes
from horses.selectors.seasons import (
    AT_REST,
    measurements_through_time,
    rides_with_checks,
    skin_marks_of,
    soreness_checks_through_time,
)
from practice.models import Practice
from practice.selectors import horse_page as page
from practice.selectors.alerts import alerts_of
from practice.selectors.flags import SITE_WORDS, STATION_WORDS, back_flags, check_before, ride_flags


def horse_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one horse; `?all=1` takes poor and after-work measurings into the charts too."""
    horse = page.horse_for_page(pk)
    today = timezone.localdate()
    checks = [c for c in soreness_checks_through_time(horse) if _was_felt(c)]
    measurements = list(measurements_through_time(horse))
    pairings = page.pairings_through_time(horse)
    states = page.states_of(pairings, today)
    rides = [(ride, recovery_result(ride)) for ride in rides_with_checks(horse)]
    visits = list(page.visits_of_horse(horse))
    marks = list(skin_marks_of(horse))
    backs = [back_point(m) for m in measurements]
    flags = [
        *back_flags(checks, marks, backs, today),
        *ride_flags(rides),
        *page.fitting_flags(states, page.slips_of_horse(horse), visits),
    ]
    with_all = request.GET.get("all") == "1"
    changes = page.changes_in(pairings)
    context = {
        "horse": horse,
        "alerts": next(iter(alerts_of([horse], today)), None),
        "age": horse.age_years_on(today),
        "flags": flags,
        "current": [state for state in states if state.pairing.is_current],
        "past": [state for state in states if not state.pairing.is_current],
        "changes": changes,
        "rides": rides,
        "visits": visits,
        "marks": marks,
        "people": list(page.people_of_horse(horse)),
        "latest_measurement": measurements[-1] if measurements else None,
        "latest_body": body_point(measurements[-1]) if measurements else None,
        "poor": [b for b in backs if b.is_poor],
        "with_all": with_all,
        "charts": _charts(request, checks, measurements, backs, changes, with_all)
        + _fit_charts(request, page.evaluations_in(pairings), changes),
        **_back_now(checks),
    }
    return render(request, "practice/horse_detail.html", context)


def _was_felt(check: SorenessCheck) -> bool:
    return any(row.score is not None for row in check.scores.all())


def _back_now(checks: Sequence[SorenessCheck]) -> dict[str, object]:
    """Return the latest check in words and on the map, and what it was the time before at rest."""
    if not checks:
        return {"latest": None}
    latest = checks[-1]
    before = check_before(checks)
    now = soreness_point(latest)
    then = soreness_point(before) if before else None
    return {
        "latest": latest,
        "felt": felt_of(latest),
        "before": before,
        "map_scores": dict(now.scores),
        "site_changes": [_with_words(c) for c in site_changes(now, then, list(SITE_WORDS))],
    }


def _with_words(change: SiteChange) -> dict[str, object]:
    side = {"L": ", left", "R": ", right"}.get(change.side, "")
    return {"where": f"{SITE_WORDS[change.site]}{side}", "change": change}


def _is_imperial(request: HttpRequest) -> bool:
    practice: Practice | None = getattr(request, "practice", None)
    return practice is None or practice.units == Practice.Units.IMPERIAL


def _charts(
    request: HttpRequest,
    checks: Sequence[SorenessCheck],
    measurements: Sequence[BackMeasurement],
    backs: Sequence[BackPoint],
    changes: Sequence[Change],
    with_all: bool,
) -> list[Chart]:
    """Return the charts of what was felt and measured, those that have something to show."""
    at_rest = [soreness_point(c) for c in checks if c.moment in AT_REST]
    shown = [b for b in backs if (with_all or not b.is_poor) and b.sections]
    unit = INCHES if _is_imperial(request) else CENTIMETRES
    stations = list(STATION_WORDS)
    names = STATION_WORDS
    charts = [
        soreness_chart(at_rest, site_names=SITE_WORDS, changes=changes),
        *(
            widths_chart(
                shown,
                depth=depth,
                stations=stations,
                station_names=names,
                changes=changes,
                unit=unit,
            )
            for depth in (LOWER, UPPER)
        ),
        angles_chart(shown, stations=stations, station_names=names, changes=changes),
        evenness_chart(shown, stations=stations, station_names=names, changes=changes),
        body_chart(
            [body_point(m) for m in measurements],
            imperial=_is_imperial(request),
            changes=changes,
        ),
    ]
    return [chart for chart in charts if chart is not None]


def _fit_charts(
    request: HttpRequest, evaluations: Sequence[FitEvaluation], changes: Sequence[Change]
) -> list[Chart]:
    unit = INCHES if _is_imperial(request) else CENTIMETRES
    return fit_history_charts([fit_point(e) for e in evaluations], changes=changes, unit=unit)
