"""The alerts of many horses at once, in a number of queries that does not grow with them."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Exists, F, OuterRef, Prefetch, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from fitting.models import FitEvaluation, HandCheck, Pairing, Verdict
from horses.adapters.profiles import back_point, soreness_point
from horses.models import BackMeasurement, Horse, Ride, SectionProfile, SorenessCheck
from horses.recovery import REFER_WITHIN, recovery_result
from horses.selectors.repeatability import measuring_error
from horses.selectors.seasons import AT_REST
from practice import alerts
from practice.alerts import Alert
from practice.models import AlertDeferral
from practice.selectors.flags import SITE_WORDS, STATION_WORDS
from practice.selectors.horse_page import SLIP_CODE
from practice.selectors.today import shims_past_date

LEVELS = ("beyond", "watch")
RECENT_BACKS = timedelta(days=400)  # an older pair of measurings tells nothing new


@dataclass
class HorseAlerts:
    """What is pointed out about one horse, worst first, and what was put off."""

    horse: Horse
    alerts: list[Alert] = field(default_factory=list)
    put_off: list[tuple[Alert, AlertDeferral]] = field(default_factory=list)

    @property
    def level(self) -> str:
        return self.alerts[0].level


Found = dict[int, list[Alert]]


def alerts_of(horses: Sequence[Horse], day: date) -> list[HorseAlerts]:
    """Return the horses with an alert, standing or put off; the worst first."""
    ids = [horse.pk for horse in horses]
    found: Found = defaultdict(list)
    for source in (_sore, _recovery, _backs, _slips, _expired, _shims):
        for horse_id, more in source(ids, day):
            found[horse_id] += more
    quiet = {
        (row.horse_id, row.code): row
        for row in AlertDeferral.objects.filter(horse__in=ids, until__gte=day)
    }
    rows = [_parted(horse, found[horse.pk], quiet) for horse in horses if found[horse.pk]]
    return sorted(rows, key=lambda row: LEVELS.index(row.level) if row.alerts else len(LEVELS))


def _parted(
    horse: Horse, found: Sequence[Alert], quiet: dict[tuple[int, str], AlertDeferral]
) -> HorseAlerts:
    row = HorseAlerts(horse)
    for alert in sorted(found, key=lambda a: LEVELS.index(a.level)):
        deferral = quiet.get((horse.pk, alert.code))
        if deferral is None:
            row.alerts.append(alert)
        else:
            row.put_off.append((alert, deferral))
    return row


def horses_in_care() -> list[Horse]:
    return list(Horse.objects.filter(state=Horse.State.ACTIVE))


Source = Iterable[tuple[int, list[Alert]]]


def _latest(rows: QuerySet[SorenessCheck], count: int) -> QuerySet[SorenessCheck]:
    place = Window(RowNumber(), F("horse"), order_by=(F("checked_at").desc(), F("pk").desc()))
    return rows.annotate(place=place).filter(place__lte=count).order_by("checked_at", "pk")


def _sore(ids: Sequence[int], day: date) -> Source:
    checks = SorenessCheck.objects.filter(horse__in=ids, moment__in=AT_REST)
    by_horse = _grouped(_latest(checks, 2).prefetch_related("scores"))
    for horse_id, rows in by_horse.items():
        yield horse_id, alerts.sore_twice([soreness_point(c) for c in rows], SITE_WORDS)


def _recovery(ids: Sequence[int], day: date) -> Source:
    checks = SorenessCheck.objects.order_by("checked_at").prefetch_related("scores")
    rides = Ride.objects.filter(
        horse__in=ids, ended_at__date__gte=day - REFER_WITHIN
    ).prefetch_related(Prefetch("soreness_checks", checks))
    for horse_id, rows in _grouped(rides).items():
        yield (
            horse_id,
            alerts.recovery([(ride.ended_at, recovery_result(ride)) for ride in rows], day),
        )


def _backs(ids: Sequence[int], day: date) -> Source:
    """New unevenness between the last two measurings, and drift since the back last fitted."""
    fitted = dict(
        FitEvaluation.objects.filter(
            pairing__horse__in=ids, pairing__to_date=None, state=FitEvaluation.State.DONE
        )
        .order_by("evaluated_on", "pk")
        .values_list("pairing__horse", "measurement")
    )
    error_mm = measuring_error().half_width_mm
    for horse_id, rows in _grouped(_last_two_measured(ids, fitted.values(), day)).items():
        points = {row.pk: back_point(row) for row in rows}
        good = [row.pk for row in rows if not points[row.pk].is_poor]
        latest = [points[pk] for pk in good[-2:]]
        fit = points.get(fitted.get(horse_id) or 0)
        now = latest[-1] if latest else None
        yield (
            horse_id,
            [
                *alerts.uneven(latest, STATION_WORDS),
                *alerts.drift(fit, now, STATION_WORDS, error_mm),
            ],
        )


def _last_two_measured(
    ids: Sequence[int], fitted: Iterable[int | None], day: date
) -> QuerySet[BackMeasurement]:
    place = Window(RowNumber(), F("horse"), order_by=(F("measured_on").desc(), F("pk").desc()))
    traced = SectionProfile.objects.filter(measurement=OuterRef("pk"))
    recent = (
        BackMeasurement.objects.filter(
            Exists(traced), horse__in=ids, measured_on__gte=day - RECENT_BACKS
        )
        .exclude(Q(stood_square=False) | Q(rested_hind_foot=True) | Q(restless=True))
        .exclude(work=BackMeasurement.Work.AFTER)
        .annotate(place=place)
        .filter(place__lte=2)
    )
    wanted = {*recent.values_list("pk", flat=True), *(pk for pk in fitted if pk is not None)}
    return (
        BackMeasurement.objects.filter(pk__in=wanted)
        .prefetch_related("sections", "lines")
        .order_by("measured_on", "pk")
    )


def _slips(ids: Sequence[int], day: date) -> Source:
    """Saddles in use whose last ridden check of slip was not good."""
    place = Window(
        RowNumber(), F("pairing"), order_by=(F("visit__starts_at").desc(), F("pk").desc())
    )
    last = (
        HandCheck.objects.filter(pairing__horse__in=ids, pairing__to_date=None, code=SLIP_CODE)
        .exclude(outcome=HandCheck.Outcome.NOT_TESTED)
        .annotate(place=place)
        .filter(place=1)
        .select_related("pairing__saddle", "visit")
    )
    for check in last:
        if check.outcome == HandCheck.Outcome.BAD:
            seen = (check.pairing.saddle.tag, check.visit.starts_local.date())
            yield check.pairing.horse_id, alerts.slip([seen])


def _expired(ids: Sequence[int], day: date) -> Source:
    place = Window(RowNumber(), F("pairing"), order_by=(F("signed_at").desc(), F("pk").desc()))
    last = (
        Verdict.objects.filter(pairing__horse__in=ids, pairing__to_date=None)
        .annotate(place=place)
        .filter(place=1)
        .select_related("pairing__saddle")
    )
    for verdict in last:
        if verdict.expires_on < day:
            over = (verdict.pairing.saddle.tag, verdict.get_word_display(), verdict.expires_on)
            yield verdict.pairing.horse_id, alerts.expired([over])


def _shims(ids: Sequence[int], day: date) -> Source:
    late: QuerySet[Pairing] = shims_past_date(day).filter(horse__in=ids)
    for pairing in late:
        if pairing.shims_until is not None:
            yield pairing.horse_id, alerts.shims([(pairing.saddle.tag, pairing.shims_until)])


def _grouped(rows: Iterable[object]) -> dict[int, list]:  # type: ignore[type-arg]
    by_horse: dict[int, list] = defaultdict(list)  # type: ignore[type-arg]
    for row in rows:
        by_horse[row.horse_id].append(row)  # type: ignore[attr-defined]
    return by_horse
