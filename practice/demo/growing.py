"""A large invented practice for trying out size: many rows, written in bulk, seeded."""

import random
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from fitting.models import HandCheck, Pad, Pairing, Saddle, TreeSpec, Verdict
from fitting.services.evaluations import evaluate_now, start_evaluation
from horses.models import (
    STATION_DISTANCE_MM,
    BackMeasurement,
    Horse,
    LineProfile,
    SectionProfile,
    SiteScore,
    SorenessCheck,
)
from practice.demo import curves, words
from practice.demo.calendar import ZONE
from practice.demo.people import PASSWORD, PRACTICE
from practice.models import Client, HorseRole, Place, Practice, Rider, User, Visit, VisitHorse
from practice.services.people import add_member, change_practice

HORSES_PER_CLIENT = 4
SADDLES_PER_HORSE = 0.5
TREES = 12
YEARS = 3
SITES = ("BS", "RB", "LO")
WORDS = ("carry_on", "carry_on", "small_changes", "short_rides")
END_MM = 457.2
BATCH = 500


@dataclass
class Grown:
    """The rows of the practice, as far as others point at them."""

    chance: random.Random
    today: date
    lead: User
    clients: list[Client] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)
    horses: list[Horse] = field(default_factory=list)
    pairings: dict[int, Pairing] = field(default_factory=dict)
    visits: list[Visit] = field(default_factory=list)


@transaction.atomic
def grow_practice(
    *, horses: int, visits: int, evaluations: int, random_seed: int, today: date
) -> Grown:
    """Write a practice of this size; the same seed writes the same practice."""
    practice = Practice.objects.first() or Practice()
    change_practice(practice=practice, is_demo=True, time_zone=ZONE, **PRACTICE)
    grown = Grown(random.Random(random_seed), today, _lead())
    _people(grown, max(1, horses // HORSES_PER_CLIENT))
    _horses(grown, horses)
    _tack(grown)
    _visits(grown, visits)
    _records(grown)
    for measurement in BackMeasurement.objects.order_by("pk")[:evaluations]:
        pairing = grown.pairings[measurement.horse_id]
        started = start_evaluation(
            pairing=pairing, measurement=measurement, visit=measurement.visit
        )
        evaluate_now(evaluation=started)
    return grown


def _lead() -> User:
    found = User.objects.filter(role=User.Role.LEAD).first()
    return found or add_member(username="lead", password=PASSWORD, role="lead")


def _people(grown: Grown, count: int) -> None:
    pick = grown.chance.choice
    grown.places = Place.objects.bulk_create(
        Place(name=f"{pick(words.COLOURS)} {pick(words.LANDS)}", has_level_ground=True)
        for _ in range(max(1, count // 2))
    )
    grown.clients = Client.objects.bulk_create(
        Client(name=f"{pick(words.GIVEN)} {pick(words.FAMILY)}") for _ in range(count)
    )
    Rider.objects.bulk_create(
        Rider(name=client.name, client=client, mass_kg=grown.chance.uniform(50, 95))
        for client in grown.clients
    )


def _horses(grown: Grown, count: int) -> None:
    pick = grown.chance.choice
    grown.horses = Horse.objects.bulk_create(
        Horse(
            barn_name=f"{pick(words.COLOURS)} {pick(words.THINGS)}",
            sex=pick(("mare", "gelding")),
            birth_date=grown.today - timedelta(days=grown.chance.randint(4 * 365, 20 * 365)),
            height_mm=grown.chance.uniform(1450, 1650),
            place=pick(grown.places),
        )
        for _ in range(count)
    )
    HorseRole.objects.bulk_create(
        HorseRole(horse=horse, client=_client_of(grown, number), role="owner")
        for number, horse in enumerate(grown.horses)
    )


def _client_of(grown: Grown, number: int) -> Client:
    return grown.clients[number // HORSES_PER_CLIENT % len(grown.clients)]


def _tree(number: int, chance: random.Random) -> TreeSpec:
    front, rear = chance.uniform(40, 48), chance.uniform(27, 33)
    return TreeSpec(
        tag=f"TR-{500 + number}",
        kind="two_bar",
        bar_length_mm=533,
        bearing_length_mm=432,
        bar_width_front_mm=155,
        bar_width_centre_mm=88,
        bar_width_rear_mm=152,
        spread_hand_hole_mm=chance.uniform(95, 112),
        gullet_width_mm=170,
        gullet_height_mm=184,
        slope_front_left_deg=front,
        slope_front_right_deg=front,
        slope_rear_left_deg=rear,
        slope_rear_right_deg=rear,
        rock_mm=chance.uniform(3, 20),
        flare_front_mm=14,
        flare_rear_mm=13,
        crown_mm=5,
    )


def _tack(grown: Grown) -> None:
    chance = grown.chance
    trees = TreeSpec.objects.bulk_create(_tree(number, chance) for number in range(TREES))
    pads = Pad.objects.bulk_create(
        Pad(name=f"Felt {number}", material="felt", thickness_mm=13 + 3 * number)
        for number in range(4)
    )
    saddles = Saddle.objects.bulk_create(
        Saddle(
            tag=f"SD-{500 + number}",
            kind="ranch",
            tree=chance.choice(trees),
            mass_kg=chance.uniform(14, 20),
            rigging="0.875",
            fork_to_cantle_mm=406,
            stirrup_behind_tip_mm=203,
            stirrup_ahead_of_seat_mm=89,
        )
        for number in range(max(1, round(len(grown.horses) * SADDLES_PER_HORSE)))
    )
    riders = list(Rider.objects.filter(client__in=grown.clients))
    pairings = Pairing.objects.bulk_create(
        Pairing(
            horse=horse,
            saddle=chance.choice(saddles),
            pad=chance.choice(pads),
            rider=chance.choice(riders),
            use="trail",
            gear_mass_kg=5,
            tip_behind_blade_mm=25,
            from_date=grown.today - timedelta(days=YEARS * 365),
        )
        for horse in grown.horses
    )
    grown.pairings = {pairing.horse_id: pairing for pairing in pairings}


def _visits(grown: Grown, count: int) -> None:
    """Spread visits over the last three years, the horses in turn."""
    step = YEARS * 365 / count
    grown.visits = Visit.objects.bulk_create(
        [
            Visit(
                kind="recheck",
                state="recorded",
                client=_client_of(grown, number % len(grown.horses)),
                place=grown.horses[number % len(grown.horses)].place,
                fitter=grown.lead,
                starts_at=_moment(grown.today - timedelta(days=1 + int(number * step)), number),
                time_zone=ZONE,
                minutes=60,
            )
            for number in range(count)
        ],
        batch_size=BATCH,
    )
    VisitHorse.objects.bulk_create(
        [
            VisitHorse(visit=visit, horse=grown.horses[number % len(grown.horses)])
            for number, visit in enumerate(grown.visits)
        ],
        batch_size=BATCH,
    )


def _moment(day: date, number: int) -> datetime:
    return datetime.combine(day, time(8 + number % 9), ZoneInfo(ZONE))


def _records(grown: Grown) -> None:
    horses = [grown.horses[number % len(grown.horses)] for number in range(len(grown.visits))]
    pairs = list(zip(grown.visits, horses, strict=True))
    checks = SorenessCheck.objects.bulk_create(
        [
            SorenessCheck(horse=horse, visit=visit, checked_at=visit.starts_at)
            for visit, horse in pairs
        ],
        batch_size=BATCH,
    )
    SiteScore.objects.bulk_create(
        [
            SiteScore(check_done=check, site=site, side=side, score=grown.chance.choice((0, 0, 1)))
            for check in checks
            for site in SITES
            for side in ("L", "R")
        ],
        batch_size=BATCH,
    )
    _measurements(grown, pairs)
    _verdicts(grown, pairs)


def _measurements(grown: Grown, pairs: list[tuple[Visit, Horse]]) -> None:
    chance = grown.chance
    measurements = BackMeasurement.objects.bulk_create(
        [
            BackMeasurement(
                horse=horse,
                visit=visit,
                measured_on=visit.starts_local.date(),
                stood_square=True,
                work="before",
                girth_mm=chance.uniform(1700, 1950),
                length_mm=chance.uniform(1550, 1750),
                condition_score=chance.choice((4, 5, 6)),
                support_length_mm=END_MM + 12.7,
            )
            for visit, horse in pairs
        ],
        batch_size=BATCH,
    )
    backs = [_back(chance) for _ in range(20)]
    sections, lines = [], []
    for number, measurement in enumerate(measurements):
        stations, rock = backs[number % len(backs)]
        sections += _sections(measurement, stations)
        lines += _lines(measurement, rock)
    SectionProfile.objects.bulk_create(sections, batch_size=BATCH)
    LineProfile.objects.bulk_create(lines, batch_size=BATCH)


Back = tuple[dict[str, tuple[float, curves.Section]], float]


def _back(chance: random.Random) -> Back:
    front, wide = chance.uniform(6.4, 7.6), chance.uniform(16.4, 18.4)
    stations = curves.five_sections(
        curves.Section.even(front, wide),
        curves.Section.with_angle("S3", chance.uniform(106, 116)),
        curves.Section.with_angle("S5", chance.uniform(118, 127)),
        end_mm=END_MM,
    )
    return stations, chance.uniform(8, 20)


def _sections(
    measurement: BackMeasurement, stations: dict[str, tuple[float, curves.Section]]
) -> list[SectionProfile]:
    return [
        SectionProfile(
            measurement=measurement,
            station=name,
            side=side,
            behind_blade_mm=STATION_DISTANCE_MM.get(name, distance),
            points=curves.two_traces(section.side(side), 0.0)[0],
        )
        for name, (distance, section) in stations.items()
        for side in ("L", "R")
    ]


def _lines(measurement: BackMeasurement, rock_mm: float) -> list[LineProfile]:
    points: list[Any] = curves.bar_line(rock_mm, END_MM)
    return [
        LineProfile(
            measurement=measurement, line=line, off_midline_mm=curves.BAR_LINE_MM, points=points
        )
        for line in ("left_bar", "right_bar")
    ]


def _verdicts(grown: Grown, pairs: list[tuple[Visit, Horse]]) -> None:
    HandCheck.objects.bulk_create(
        [
            HandCheck(
                pairing=grown.pairings[horse.pk],
                visit=visit,
                phase="bare",
                code="gap",
                outcome="good",
                left_mm=2,
                right_mm=2,
            )
            for visit, horse in pairs
        ],
        batch_size=BATCH,
    )
    Verdict.objects.bulk_create(
        [
            Verdict(
                pairing=grown.pairings[horse.pk],
                visit=visit,
                word=grown.chance.choice(WORDS),
                confidence="measured",
                next_check_on=visit.starts_local.date() + timedelta(days=90),
                expires_on=visit.starts_local.date() + timedelta(days=182),
                signed_by=grown.lead,
                signed_at=visit.ends_at,
            )
            for visit, horse in pairs
        ],
        batch_size=BATCH,
    )
