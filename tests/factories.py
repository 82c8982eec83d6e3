"""Plain functions that make the rows a test needs. All names and numbers are invented.

Every function takes what matters to the test as keywords and fills in the rest.
"""

from datetime import UTC, date, datetime
from functools import cache
from itertools import count
from math import log
from typing import Any

from django.contrib.auth.hashers import make_password

from fitting.models import Pad, Pairing, Saddle, TreeSpec
from horses.models import (
    DEPTHS_MM,
    S5_AHEAD_OF_LAST_RIB_MM,
    STATION_DISTANCE_MM,
    BackMeasurement,
    Horse,
    LineProfile,
    SectionProfile,
    Side,
    Site,
    SiteScore,
    SorenessCheck,
    sides_of,
)
from practice.models import Client, HorseRole, Place, Practice, Rider, User, Visit, VisitHorse

PASSWORD = "felt-and-fleece-7"
DAY = date(2026, 5, 14)
_number = count(1)

# Half-widths in mm at 30 mm and 150 mm depth, left then right, per station; S2 and S4 lie halfway.
BACK = {
    "S1": ((70.0, 174.0), (69.0, 173.0)),
    "S2": ((80.5, 193.0), (80.0, 192.5)),
    "S3": ((91.0, 212.0), (91.0, 212.0)),
    "S4": ((99.5, 220.5), (99.0, 220.0)),
    "S5": ((108.0, 229.0), (107.0, 228.0)),
}
SUPPORT_LENGTH_MM = 469.9
ROCK_CHORD_MM = 431.8  # 17 in


def make_practice(**values: Any) -> Practice:
    return Practice.objects.create(**{"name": "Windrow Bench Saddle Fitting", **values})


def make_user(role: str = "lead", **values: Any) -> User:
    """Make an account; role "" is the stranger who sees nothing."""
    username = values.pop("username", f"member{next(_number)}")
    return User.objects.create(username=username, password=_hashed(), role=role, **values)


@cache
def _hashed() -> str:
    """Hash the password once: doing it slowly is the point of the hasher, not of the tests."""
    return make_password(PASSWORD)


def make_client(**values: Any) -> Client:
    return Client.objects.create(**{"name": "Garrick Nettleworth", **values})


def make_place(**values: Any) -> Place:
    return Place.objects.create(**{"name": "Tinbrook Flats", "address": "2 Creek Road", **values})


def make_rider(**values: Any) -> Rider:
    return Rider.objects.create(**{"name": "Garrick Nettleworth", "mass_kg": 81.6, **values})


def make_horse(owner: Client | None = None, **values: Any) -> Horse:
    """Make a horse, and its owner's role when an owner is given."""
    standard = {"barn_name": "Corporal Thistle", "sex": "gelding", "height_mm": 1549.4}
    horse = Horse.objects.create(**{**standard, **values})
    if owner is not None:
        HorseRole.objects.create(horse=horse, client=owner, role="owner", from_date=DAY)
    return horse


def make_visit(horses: list[Horse] | None = None, **values: Any) -> Visit:
    standard: dict[str, Any] = {
        "kind": "first_fit",
        "starts_at": datetime(2026, 5, 14, 9, 0, tzinfo=UTC),
        "time_zone": "UTC",
        "minutes": 90,
    }
    values.setdefault("client", None)
    values["client"] = values["client"] or Client.objects.first() or make_client()
    visit = Visit.objects.create(**{**standard, **values})
    for horse in horses or []:
        VisitHorse.objects.create(visit=visit, horse=horse)
    return visit


def make_tree(**values: Any) -> TreeSpec:
    """Make a two-bar tree with the delivered dimensions of the demo's good one."""
    inch = 25.4
    standard = {
        "tag": f"TR-{next(_number):03d}",
        "kind": "two_bar",
        "bar_length_mm": 21 * inch,
        "bearing_length_mm": 17 * inch,
        "bar_width_front_mm": 6.25 * inch,
        "bar_width_centre_mm": 3.5 * inch,
        "bar_width_rear_mm": 6 * inch,
        "spread_hand_hole_mm": 4.1 * inch,
        "gullet_width_mm": 6.75 * inch,
        "gullet_height_mm": 7.25 * inch,
        "slope_front_left_deg": 43.5,
        "slope_front_right_deg": 44.0,
        "slope_rear_left_deg": 29.25,
        "slope_rear_right_deg": 29.25,
        "rock_mm": 16.0,
        "flare_front_mm": 15.0,
        "flare_rear_mm": 13.0,
        "crown_mm": 6.0,
    }
    return TreeSpec.objects.create(**{**standard, **values})


def make_saddle(**values: Any) -> Saddle:
    standard: dict[str, Any] = {
        "tag": f"SD-{next(_number):03d}",
        "kind": "ranch",
        "mass_kg": 17.2,
        "seat_size_mm": 393.7,
        "rigging": "0.875",
        "fork_to_cantle_mm": 406.4,
        "stirrup_behind_tip_mm": 203.2,
        "stirrup_ahead_of_seat_mm": 88.9,
        "skirt_length_mm": 660.4,
    }
    values.setdefault("tree", None)
    values["tree"] = values["tree"] or make_tree()
    return Saddle.objects.create(**{**standard, **values})


def make_pad(**values: Any) -> Pad:
    standard = {"name": "Felt", "material": "felt", "thickness_new_mm": 25, "thickness_mm": 19}
    return Pad.objects.create(**{**standard, **values})


def make_pairing(horse: Horse | None = None, **values: Any) -> Pairing:
    for name, make in (("saddle", make_saddle), ("pad", make_pad), ("rider", make_rider)):
        if name not in values:
            values[name] = make()
    standard = {
        "horse": horse or make_horse(),
        "from_date": DAY,
        "use": "ranch work",
        "hours_per_day": 6,
        "gear_mass_kg": 9.1,
        "tip_behind_blade_mm": 25.4,
    }
    return Pairing.objects.create(**{**standard, **values})


def section_points(width_at_30_mm: float, width_at_150_mm: float) -> list[list[float]]:
    """Return [depth, half-width] on the curve depth = 30 (y / y30)^p through both widths."""
    power = log(5) / log(width_at_150_mm / width_at_30_mm)
    return [
        [float(depth), width_at_30_mm * (depth / 30) ** (1 / power) if depth else 0.0]
        for depth in DEPTHS_MM
    ]


def dipped_line(dip_mm: float, length_mm: float = 460.0, steps: int = 10) -> list[list[float]]:
    """Return [distance, height] of a parabola that dips `dip_mm` over a 17 in chord."""
    sag = dip_mm * (length_mm / ROCK_CHORD_MM) ** 2
    along = [length_mm * step / steps for step in range(steps + 1)]
    return [[x, -4 * sag * (x / length_mm) * (1 - x / length_mm)] for x in along]


def _behind_blade_mm(station: str) -> float:
    return STATION_DISTANCE_MM.get(station, SUPPORT_LENGTH_MM - S5_AHEAD_OF_LAST_RIB_MM)


def make_measurement(horse: Horse | None = None, **values: Any) -> BackMeasurement:
    """Make a full measuring: five sections on both sides, traced twice, and three lines."""
    standard = {
        "horse": horse or make_horse(),
        "measured_on": DAY,
        "stood_square": True,
        "head": "normal",
        "ground": "concrete",
        "work": "before",
        "girth_mm": 1854.2,
        "length_mm": 1676.4,
        "height_mm": 1549.4,
        "condition_score": 5,
        "muscle_score": 3,
        "support_length_mm": SUPPORT_LENGTH_MM,
    }
    measurement = BackMeasurement.objects.create(**{**standard, **values})
    SectionProfile.objects.bulk_create(
        SectionProfile(
            measurement=measurement,
            station=station,
            side=side,
            trace=trace,
            behind_blade_mm=_behind_blade_mm(station),
            points=section_points(widths[0] + trace - 1, widths[1] + trace - 1),
        )
        for station, sides in BACK.items()
        for side, widths in zip((Side.LEFT, Side.RIGHT), sides, strict=True)
        for trace in (1, 2)
    )
    LineProfile.objects.bulk_create(
        LineProfile(measurement=measurement, line=line, off_midline_mm=off, points=dipped_line(dip))
        for line, off, dip in (("midline", 0, 14), ("left_bar", 88, 18), ("right_bar", 88, 18))
    )
    return measurement


def make_soreness_check(
    horse: Horse | None = None,
    scores: dict[tuple[str, str], int | None] | None = None,
    **values: Any,
) -> SorenessCheck:
    """Make a check of every site: 0 where `scores` says nothing, None for 'not tested'."""
    standard = {
        "horse": horse or make_horse(),
        "checked_at": datetime(2026, 5, 14, 9, 30, tzinfo=UTC),
    }
    check = SorenessCheck.objects.create(**{**standard, **values})
    given = {(site, side): 0 for site in Site.values for side in sides_of(site)} | (scores or {})
    SiteScore.objects.bulk_create(
        SiteScore(
            check_done=check, site=site, side=side, score=score, note="hot" if score == 4 else ""
        )
        for (site, side), score in given.items()
    )
    return check
