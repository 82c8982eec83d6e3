"""Corporal Thistle: a flat tree that bridges, and the tree that replaced it."""

from datetime import date
from typing import Any

from practice.demo.backs import Back, even, uneven
from practice.demo.curves import Section

HORSE: dict[str, Any] = {
    "barn_name": "Corporal Thistle",
    "sex": "gelding",
    "birth_date": date(2013, 4, 1),
    "birth_precision": "month",
    "breed": "stock type",
    "colour": "bay",
    "use": "ranch work and roping, days up to 12 h",
    "temperament": "kind; watch the hind feet when the girth is done up",
}
HEIGHT = "15.1"
SUPPORT_IN = 20.5  # bars of 17 and 20.5 in then end half an inch before and 2 in past the rib


def _back(
    girth: int,
    condition: int,
    muscle: int,
    hollow: tuple[float, float],
    rock: float,
    s1: Section,
    s3: Section,
    s5: Section,
) -> Back:
    return Back(
        girth_in=girth,
        length_in=66,
        condition=condition,
        muscle=muscle,
        hollow_mm=hollow,
        rock_mm=(rock, rock),
        s1=s1,
        s3=s3,
        s5=s5,
        support_in=SUPPORT_IN,
        height=HEIGHT,
        croup_in=0.5,
        groove_in=3.0,
    )


BACKS: dict[str, Back] = {
    "A1": _back(73, 5, 2, (9, 8), 18, uneven(7.0, 17.4, 6.9, 17.3), even(9.1, 21.2),
                uneven(10.8, 22.9, 10.7, 22.8)),
    "A2": _back(73, 5, 2, (8, 8), 18, uneven(7.0, 17.4, 7.0, 17.3), even(9.1, 21.2),
                even(10.8, 22.9)),
    "A3": _back(74, 5, 3, (6, 6), 18, uneven(7.1, 17.6, 7.1, 17.5), even(9.3, 21.4),
                even(10.9, 23.0)),
    "A4": _back(74, 6, 3, (5, 5), 17, uneven(7.2, 17.7, 7.1, 17.7), even(9.3, 21.4),
                uneven(11.0, 23.1, 10.9, 23.1)),
    "A5": _back(73, 5, 3, (5, 5), 18, even(7.1, 17.6), even(9.2, 21.3), even(10.9, 23.0)),
    "A6": _back(74, 5, 4, (3, 3), 17, uneven(7.3, 18.0, 7.3, 17.9), even(9.4, 21.6),
                uneven(11.1, 23.3, 11.1, 23.2)),
    "A7": _back(74, 5, 4, (3, 3), 17, uneven(7.3, 17.9, 7.2, 17.9), even(9.4, 21.5),
                even(11.0, 23.2)),
    "A8": _back(74, 6, 4, (2, 2), 17, uneven(7.4, 18.1, 7.4, 18.0), even(9.5, 21.7),
                even(11.2, 23.4)),
}  # fmt: skip
DAYS = {
    "A1": date(2022, 5, 14),
    "A2": date(2022, 6, 11),
    "A3": date(2022, 8, 20),
    "A4": date(2022, 11, 5),
    "A5": date(2023, 4, 22),
    "A6": date(2023, 10, 14),
    "A7": date(2024, 4, 20),
    "A8": date(2024, 10, 12),
}
VISITS: dict[str, tuple[str, int, str]] = {
    "A1": ("first_fit", 120, "Sore behind the shoulders after long days"),
    "A2": ("recheck", 60, "After four weeks of rest; try the loan saddle"),
    "A3": ("delivery", 75, "New saddle on the ordered tree"),
    "A4": ("recheck", 60, "End of the first season"),
    "A5": ("recheck", 60, "First rides after the lay-off"),
    "A6": ("recheck", 60, "Half-yearly re-check"),
    "A7": ("recheck", 60, "Half-yearly re-check"),
    "A8": ("recheck", 60, "Half-yearly re-check"),
}
# Scores left, right by site; what the table does not name was calm.
SORENESS: dict[str, dict[str, tuple[int, int]]] = {
    "A1": {"WS": (1, 1), "BS": (3, 3), "RB": (2, 2), "LO": (3, 2), "GI": (1, 1)},
    "A2": {"BS": (1, 1), "RB": (1, 1), "LO": (1, 1)},
    "A5": {"BS": (1, 0)},
}
HISTORIES: dict[str, dict[str, Any]] = {
    "A1": {
        "what_changed": "Sore since the long days began; short in front going downhill.",
        "work_last_weeks": "Five days a week, up to 12 h, roping",
        "behaviour": ["ears_saddling", "no_downhill", "short_front"],
        "earlier_sores": "Swollen behind the blades twice last summer",
        "medicines": "none",
        "falls": "none known",
    },
    "A2": {
        "what_changed": "Quieter when groomed. White hairs have come behind the blades.",
        "vet_note": "Seen four days after the last visit: no lameness, rest, then slow work",
        "work_last_weeks": "Four weeks without a saddle",
        "earlier_sores": "White hairs behind both blades",
    },
    "A3": {
        "what_changed": "Short rides in the loan saddle went well.",
        "work_last_weeks": "Walk and trot, 1 to 2 h",
    },
    "A5": {
        "what_changed": "Two weeks back at work after the lay-off.",
        "work_last_weeks": "2 h a day for two weeks",
    },
}
# Saddle, where its support ends against the last rib [in], gap in the middle [mm].
FITS: dict[str, tuple[str, float, float]] = {
    "A1": ("SD-01", -2.0, 15),
    "A2": ("SD-90", 0.5, 3),
    "A3": ("SD-02", 0.5, 2),
    "A4": ("SD-02", 0.5, 1),
    "A5": ("SD-02", 0.5, 2),
    "A6": ("SD-02", 0.5, 1),
    "A7": ("SD-02", 0.5, 1),
    "A8": ("SD-02", 0.5, 1),
}
# (phase, code, outcome, left mm, right mm, note)
Check = tuple[str, str, str, float | None, float | None, str]
CHECKS_OLD: list[Check] = [
    ("bare", "position", "watch", 12.7, 12.7, "1/2 in behind the blade on both sides"),
    ("bare", "withers_clearance", "watch", 70, None, "perched"),
    ("bare", "channel", "good", None, None, ""),
    ("bare", "angle_front", "bad", None, None, "8 degrees too small; tight at the bottom"),
    ("bare", "angle_rear", "bad", None, None, "10 degrees too small"),
    ("bare", "contact", "bad", None, None, "bridging"),
    ("bare", "gap", "bad", 15, 15, ""),
    ("bare", "rock_test", "watch", None, None, "no see-saw; the rear is heavy"),
    ("bare", "front_relief", "bad", None, None, "pinches when the leg comes forward"),
    ("bare", "rear_lift", "bad", 0, 0, ""),
    ("bare", "length", "bad", -50.8, -50.8, "2 in past the last rib"),
    ("bare", "level", "bad", None, None, "pommel high; low point 1 1/2 in behind the centre"),
    ("bare", "lateral", "good", None, None, ""),
    ("bare", "twist", "good", None, None, "horse 16, tree 15 degrees"),
    ("bare", "girth_line", "bad", 76.2, None, "drawn forward"),
    ("bare", "stability", "good", None, None, "rolls little"),
    ("ridden", "mounted_clearance", "good", 55, None, ""),
    ("ridden", "slip", "good", 0, 0, ""),
    ("ridden", "bends", "bad", None, None, "rear digs in both ways"),
    ("ridden", "rope_pull", "bad", 45, None, "rear comes up, front digs in"),
]
CHECKS_NEW: list[Check] = [
    ("bare", "position", "good", 25.4, 25.4, "1 in behind the blade on both sides"),
    ("bare", "withers_clearance", "good", 48, None, ""),
    ("bare", "channel", "good", None, None, ""),
    ("bare", "angle_front", "good", None, None, "1.5 degrees to the wide side"),
    ("bare", "angle_rear", "good", None, None, "2.5 degrees to the narrow side"),
    ("bare", "contact", "good", None, None, "even, fading at both ends"),
    ("bare", "gap", "good", 2, 2, ""),
    ("bare", "rock_test", "good", None, None, "small give"),
    ("bare", "front_relief", "good", None, None, ""),
    ("bare", "rear_lift", "good", 22, 22, ""),
    ("bare", "length", "good", 12.7, 12.7, "1/2 in ahead of the last rib"),
    ("bare", "level", "good", None, None, "centred"),
    ("bare", "lateral", "good", None, None, ""),
    ("bare", "twist", "good", None, None, "15 degrees on both"),
    ("bare", "girth_line", "good", 25.4, None, "1 in off"),
    ("bare", "stability", "good", None, None, "rolls little"),
    ("ridden", "mounted_clearance", "good", 34, None, ""),
    ("ridden", "slip", "good", 0, 0, ""),
    ("ridden", "bends", "good", None, None, ""),
    ("ridden", "rope_pull", "good", 15, None, ""),
]
NOTES: dict[str, str] = {
    "A1": "Belly lift reduced, tail pull left full and right reduced, bait stretch to the hip "
    "reduced both ways. Even in hand, back held stiff. Mounts from the ground, near side.",
    "A4": "Belly lift, tail pull and bait stretches full. Even in hand, the back swings.",
}
VERDICTS: dict[str, dict[str, Any]] = {
    "A1": {
        "word": "not_this_saddle",
        "also_rest_first": True,
        "reason": "Flat on a dipped back: 15 mm gap in the middle, 8 degrees too narrow in front, "
        "2 in past the last rib.",
        "advice": "Four weeks without a saddle. Ask the veterinarian to look before work starts.",
        "next_check_on": date(2022, 6, 11),
    },
    "A2": {
        "word": "short_rides",
        "hours_limit": 2,
        "changes": "Loan saddle SD-90. A tree is ordered: more rock, wider, shorter.",
        "advice": "Walk and trot, up to 2 h a day, until the new saddle is here.",
        "next_check_on": date(2022, 8, 20),
    },
    "A3": {
        "word": "carry_on",
        "hours_limit": 12,
        "changes": "New saddle SD-02, felt 19 mm, rear cinch snug.",
        "advice": "After the first long day feel the back the same evening and both days after.",
        "next_check_on": date(2022, 11, 5),
    },
    "A4": {"word": "carry_on", "hours_limit": 12, "next_check_on": date(2023, 4, 22)},
    "A5": {
        "word": "small_changes",
        "hours_limit": 6,
        "advice": "Build up over four weeks; half days until the back is calm on the left.",
        "next_check_on": date(2023, 6, 3),
    },
    "A6": {"word": "carry_on", "hours_limit": 12, "next_check_on": date(2024, 4, 13)},
    "A7": {"word": "carry_on", "hours_limit": 12, "next_check_on": date(2024, 10, 19)},
    "A8": {
        "word": "carry_on",
        "hours_limit": 13,
        "advice": "Keep the felt clean. Feel the back the evening after each long day.",
        "next_check_on": date(2025, 4, 12),
    },
}
SPANS: list[dict[str, Any]] = [
    {
        "saddle": "SD-01",
        "pad": "worn felt",
        "from": date(2019, 4, 1),
        "to": date(2022, 5, 14),
        "tip_in": 0.5,
        "hours": 12,
    },
    {
        "saddle": "SD-90",
        "pad": "felt",
        "from": date(2022, 6, 11),
        "to": date(2022, 8, 20),
        "tip_in": 1.0,
        "hours": 2,
    },
    {
        "saddle": "SD-02",
        "pad": "felt",
        "from": date(2022, 8, 20),
        "to": None,
        "tip_in": 1.0,
        "hours": 12,
    },
]
# Day, hours, saddle, by whom, then BS and LO before, after, next day, second day.
RIDES: list[tuple[date, float, str, str, tuple[tuple[int, int], ...]]] = [
    (date(2022, 5, 5), 12, "SD-01", "owner", ((1, 1), (3, 3), (3, 3), (3, 2))),
    (date(2022, 9, 10), 12, "SD-02", "", ((0, 0), (1, 0), (1, 0), (0, 0))),
    (date(2023, 7, 1), 12, "SD-02", "", ((0, 0), (1, 1), (0, 1), (0, 0))),
    (date(2024, 6, 15), 13, "SD-02", "", ((0, 0), (1, 0), (1, 0), (0, 0))),
]
MARKS: list[dict[str, Any]] = [
    {
        "kind": "dry_spot",
        "side": "L",
        "site": "BS",
        "size_mm": 45,
        "first_seen_on": date(2022, 5, 14),
        "note": "4 x 5 cm; contact felt there: pressure",
    },
    {
        "kind": "dry_spot",
        "side": "R",
        "site": "BS",
        "size_mm": 45,
        "first_seen_on": date(2022, 5, 14),
        "note": "4 x 5 cm; contact felt there: pressure",
    },
    {
        "kind": "dry_spot",
        "side": "L",
        "site": "MB",
        "size_mm": 180,
        "first_seen_on": date(2022, 5, 14),
        "note": "Strip along the middle, both sides; no contact felt: a gap",
    },
    {
        "kind": "white_hair",
        "side": "L",
        "site": "BS",
        "size_mm": 25,
        "first_seen_on": date(2022, 6, 11),
        "note": "Stable since; it stays whatever the saddle",
    },
    {
        "kind": "white_hair",
        "side": "R",
        "site": "BS",
        "size_mm": 20,
        "first_seen_on": date(2022, 6, 11),
        "note": "Stable since; it stays whatever the saddle",
    },
]
