"""Writes down who and what there is before the first visit: people, places, tack."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from fitting.models import Pad, Saddle, TreeSpec
from fitting.services.tack import add_pad, add_saddle, add_tree
from practice.demo import people, tack
from practice.demo.calendar import ZONE, Calendar
from practice.demo.telling import inches, pounds
from practice.models import Client, Place, Practice, Rider, User
from practice.services.people import (
    add_client,
    add_member,
    add_place,
    add_rider,
    change_practice,
    record_consent,
)

CM = 10.0
FIRST_CONSENT = date(2022, 4, 16)


@dataclass(frozen=True)
class Stock:
    """Everything a case may point at, by its name in the story."""

    members: dict[str, User]
    clients: dict[str, Client]
    places: dict[str, Place]
    riders: dict[str, Rider]
    trees: dict[str, TreeSpec]
    saddles: dict[str, Saddle]
    pads: dict[str, Pad]


def stock_practice(calendar: Calendar) -> Stock:
    practice = Practice.objects.first() or Practice()
    change_practice(practice=practice, is_demo=True, time_zone=ZONE, **people.PRACTICE)
    clients = {key: add_client(**values) for key, values in people.CLIENTS.items()}
    _consents(clients, calendar)
    trees = _trees(calendar)
    return Stock(
        members={
            str(values["username"]): add_member(password=people.PASSWORD, **values)
            for values in people.MEMBERS
        },
        clients=clients,
        places={key: add_place(**values) for key, values in people.PLACES.items()},
        riders={key: _rider(values, clients) for key, values in people.RIDERS.items()},
        trees=trees,
        saddles={tag: _saddle(tag, values, trees, clients) for tag, values in tack.SADDLES.items()},
        pads={key: add_pad(**values) for key, values in tack.PADS.items()},
    )


def _consents(clients: dict[str, Client], calendar: Calendar) -> None:
    for key, answers in people.CONSENTS.items():
        for subject, is_given in answers.items():
            record_consent(
                client=clients[key],
                subject=subject,
                is_given=is_given,
                given_on=calendar.day(FIRST_CONSENT),
                how="asked at the first visit",
            )


def _rider(said: dict[str, Any], clients: dict[str, Client]) -> Rider:
    values = dict(said)
    weight = values.pop("pounds")
    client = clients[values.pop("client")]
    return add_rider(
        client=client, mass_kg=pounds(weight), typed={"mass_kg": f"{weight} lb"}, **values
    )


def _trees(calendar: Calendar) -> dict[str, TreeSpec]:
    made = {tag: _two_bar(tag, said, calendar) for tag, said in tack.TWO_BAR_TREES.items()}
    panelled = {tag: _panelled(tag, said, calendar) for tag, said in tack.PANELLED_TREES.items()}
    return made | panelled


def _two_bar(tag: str, said: dict[str, Any], calendar: Calendar) -> TreeSpec:
    bar, bearing = said["bar"]
    front, centre, rear = said["widths"]
    in_inches = {
        "bar_length_mm": bar,
        "bearing_length_mm": bearing,
        "bar_width_front_mm": front,
        "bar_width_centre_mm": centre,
        "bar_width_rear_mm": rear,
        "spread_hand_hole_mm": said["spread"],
        "gullet_width_mm": said["gullet"][0],
        "gullet_height_mm": said["gullet"][1],
    }
    slopes = dict(
        zip(("front_left", "front_right", "rear_left", "rear_right"), said["slopes"], strict=True)
    )
    return add_tree(
        tag=tag,
        kind="two_bar",
        state=said["state"],
        measured_on=calendar.day(said["measured_on"]),
        rock_mm=said["rock_mm"],
        flare_front_mm=said["flares_mm"][0],
        flare_rear_mm=said["flares_mm"][1],
        crown_mm=said["crown_mm"],
        relief=said["relief"],
        methods=tack.TWO_BAR_METHODS,
        notes=said["notes"],
        typed={name: f"{value:g} in" for name, value in in_inches.items()},
        **{name: inches(value) for name, value in in_inches.items()},
        **{f"slope_{place}_deg": degrees for place, degrees in slopes.items()},
    )


def _panelled(tag: str, said: dict[str, Any], calendar: Calendar) -> TreeSpec:
    places = ("front", "middle", "rear")
    depths = dict(zip(places, said["depths_cm"], strict=True))
    channels = dict(zip(places, said["channel_cm"], strict=True))
    return add_tree(
        tag=tag,
        kind="panelled",
        measured_on=calendar.day(said["measured_on"]),
        head_angle_deg=said["head_deg"],
        head_width_mm=said["head_cm"] * CM,
        panel_length_mm=said["panel_cm"] * CM,
        gusset_rear_mm=said["gusset_cm"] * CM,
        panel_rock_mm=said["rock_mm"],
        notes=said["notes"],
        **{f"panel_width_{place}_mm": said["width_cm"] * CM for place in places},
        **{f"panel_depth_{place}_mm": depth * CM for place, depth in depths.items()},
        **{f"channel_{place}_mm": width * CM for place, width in channels.items()},
    )


def _saddle(
    tag: str, said: dict[str, Any], trees: dict[str, TreeSpec], clients: dict[str, Client]
) -> Saddle:
    behind_tip, ahead = said["stirrup"]
    in_inches = {
        "seat_size_mm": said["seat"],
        "stirrup_behind_tip_mm": behind_tip,
        "stirrup_ahead_of_seat_mm": ahead,
        "skirt_length_mm": said["skirt"],
    }
    if said["rigging"]:
        in_inches["fork_to_cantle_mm"] = tack.FORK_TO_CANTLE_IN
        in_inches["fork_behind_tip_mm"] = tack.FORK_BEHIND_TIP_IN
    known = {name: value for name, value in in_inches.items() if value is not None}
    typed = {name: f"{value:g} in" for name, value in known.items()}
    return add_saddle(
        tag=tag,
        kind=said["kind"],
        tree=trees[said["tree"]],
        owner=clients.get(said["owner"]),
        mass_kg=pounds(said["pounds"]),
        rigging=said["rigging"],
        panel_fill=said.get("panel_fill", ""),
        notes=said["notes"],
        typed={**typed, "mass_kg": f"{said['pounds']} lb"},
        **{name: inches(value) for name, value in known.items()},
    )
