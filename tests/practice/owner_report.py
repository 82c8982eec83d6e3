"""A horse's visit with all that a report is made from, for the tests of report and sharing."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from fitting.models import FitEvaluation, HandCheck, Pairing, Verdict
from horses.models import BackMeasurement, Ride, SorenessCheck
from practice.models import User, VisitHorse
from practice.report.content import build_content, default_recipient
from practice.selectors.reports import records_for_report
from practice.services.shares import share_report
from tests.factories import (
    make_client,
    make_horse,
    make_measurement,
    make_pad,
    make_pairing,
    make_place,
    make_practice,
    make_rider,
    make_saddle,
    make_soreness_check,
    make_visit,
)

DAY = date(2026, 5, 14)
NOON = datetime(2026, 5, 14, 12, 0, tzinfo=UTC)
RIDER_KG = 81.65  # 180 lb
PLACE, PLACE_ADDRESS = "Tinbrook Flats", "2 Creek Road"
CLIENT_ADDRESS, PHONE, EMAIL = "77 Sage Loop", "555-0177", "garrick@example.test"
PRIVATE = (PLACE, PLACE_ADDRESS, CLIENT_ADDRESS, PHONE, EMAIL, "180 lb", "81.6", "82 kg")
OTHER_HORSE = "Bramble Ox"
MEASURES = {
    "shape.load_ratio": 0.2232,
    "shape.ahead_of_last_rib.left": 0.0127,
    "shape.ahead_of_last_rib.right": 0.0100,
    "standing.load": 1251.3,
    "standing.bearing_length.left": 0.40,
    "standing.bearing_length.right": 0.41,
    "saddle_only.largest_gap.left": 0.0090,
    "saddle_only.largest_gap.right": 0.0070,
    **{f"standing.share.{zone}": 1 / 3 for zone in ("cranial", "middle", "caudal")},
    **{f"standing.peak_pressure.{zone}": 2e4 for zone in ("cranial", "middle", "caudal")},
}


def make_evaluation(
    pairing: Pairing, measurement: BackMeasurement | None = None, **values: Any
) -> FitEvaluation:
    """Make a computed fit with a small result: eight rows, a gap of 9 mm in the middle."""
    steps = range(8)
    gap = [None, 0.0, 0.0, 0.009, 0.009, 0.0, 0.0, None]
    result = {
        "x": [0.05 * i for i in steps],
        "y": [0.05, 0.10, 0.15],
        "z": [[[-0.01 * i, -0.05 - 0.01 * i, -0.12] for i in steps] for _ in "LR"],
        "cases": [{"name": "saddle_only", "row_gap": [gap, gap]}],
    }
    standard = {
        "evaluated_on": measurement.measured_on if measurement else DAY,
        "state": "done",
        "measures": MEASURES,
        "inputs": {"engine": {"back": {"last_rib": 0.30}}},
        "result": result,
    }
    return FitEvaluation.objects.create(
        pairing=pairing, measurement=measurement, **{**standard, **values}
    )


def make_verdict(pairing: Pairing, visit: Any, user: User, **values: Any) -> Verdict:
    day = visit.starts_at.date()
    standard = {
        "word": "not_this_saddle",
        "also_rest_first": True,
        "confidence": "measured",
        "reason": "The bars are too flat for this back.",
        "changes": "Loan saddle fitted.",
        "advice": "No riding for four weeks.\nTurn out.",
        "expires_on": day + timedelta(days=182),
        "next_check_on": day + timedelta(days=28),
        "signed_by": user,
        "signed_at": visit.starts_at,
    }
    return Verdict.objects.create(pairing=pairing, visit=visit, **{**standard, **values})


def make_reported_visit(user: User, **verdict: Any) -> VisitHorse:
    """Make a sore horse on its first visit, with everything a report can show."""
    make_practice(time_zone="UTC", address="9 Bench Lane", phone="555-0142")
    client = make_client(address=CLIENT_ADDRESS, phone=PHONE, email=EMAIL)
    place = make_place(name=PLACE, address=PLACE_ADDRESS)
    horse = make_horse(client, place=place, birth_date=date(2013, 4, 15), use="ranch work")
    make_horse(client, barn_name=OTHER_HORSE)
    rider = make_rider(client=client, mass_kg=RIDER_KG)
    pairing = make_pairing(
        horse, saddle=make_saddle(tag="SD-01"), pad=make_pad(), rider=rider, from_date=DAY
    )
    visit = make_visit([horse], client=client, place=place, fitter=user, starts_at=NOON)
    make_soreness_check(
        horse,
        {("BS", "L"): 1, ("LO", "L"): 0},
        moment="before",
        checked_at=NOON - timedelta(days=60),
    )
    make_soreness_check(
        horse,
        {("BS", "L"): 3, ("BS", "R"): 2, ("CR", "L"): None},
        visit=visit,
        checked_at=NOON,
    )
    make_measurement(horse, measured_on=DAY - timedelta(days=365))
    measurement = make_measurement(horse, visit=visit, measured_on=DAY)
    make_evaluation(pairing, measurement, visit=visit)
    HandCheck.objects.create(
        pairing=pairing, visit=visit, phase="bare", code="rear_lift", outcome="bad",
        left_mm=0, right_mm=0,
    )  # fmt: skip
    make_verdict(pairing, visit, user, **verdict)
    return visit.visit_horses.get()


def content_of(visit_horse: VisitHorse, **values: Any) -> dict[str, Any]:
    return build_content(records_for_report(visit_horse), **values).to_dict()


def share(visit_horse: VisitHorse, user: User, **values: Any) -> Any:
    records = records_for_report(visit_horse)
    content = build_content(records, recipient=default_recipient(records)).to_dict()
    return share_report(visit_horse=visit_horse, content=content, created_by=user, **values)


def make_ride_test(horse: Any, ended_at: datetime, *scores: tuple[int, int]) -> Ride:
    """Make a long ride with its four checks: scores behind the blade and at the loin."""
    ride = Ride.objects.create(horse=horse, ended_at=ended_at, hours=12)
    moments = zip(("before", "after", "next_day", "second_day"), (-13, 0.4, 24, 48), strict=True)
    for (moment, hours), (blade, loin) in zip(moments, scores, strict=True):
        check = SorenessCheck.objects.create(
            horse=horse, ride=ride, moment=moment, checked_at=ended_at + timedelta(hours=hours)
        )
        for site, score in (("BS", blade), ("LO", loin)):
            for side in "LR":
                check.scores.create(site=site, side=side, score=score)
    return ride
