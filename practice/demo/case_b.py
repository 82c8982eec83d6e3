"""Pennywhistle Fern: a young horse that outgrows every setting of its saddle."""

from datetime import date
from typing import Any

from practice.demo.backs import Back, uneven
from practice.demo.curves import Section

HORSE: dict[str, Any] = {
    "barn_name": "Pennywhistle Fern",
    "sex": "filly",
    "birth_date": date(2019, 5, 2),
    "birth_precision": "day",
    "breed": "warmblood-pony cross",
    "colour": "chestnut",
    "use": "all-round, growing",
    "temperament": "sensitive to the brush",
}
SADDLE = "SD-05"
RIDER_OF_AGE_ON = date(2023, 5, 1)


def _back(
    height: str,
    croup_in: float,
    girth: float,
    length: float,
    condition: int,
    s1: tuple[float, float, float, float],
    s3_deg: float,
    s5_deg: float,
    rock: float,
    support_in: float,
) -> Back:
    return Back(
        girth_in=girth,
        length_in=length,
        condition=condition,
        s1=uneven(*s1),
        s3=Section.with_angle("S3", s3_deg),
        s5=Section.with_angle("S5", s5_deg),
        rock_mm=(rock, rock),
        support_in=support_in,
        height=height,
        croup_in=croup_in,
    )


BACKS: dict[str, Back] = {
    "B1": _back("14.3 1/2", 1.25, 68, 61, 5, (5.9, 15.2, 5.9, 15.1), 101, 115, 10, 19.75),
    "B2": _back("15.0", 1.0, 69, 61.5, 5, (6.0, 15.4, 6.0, 15.3), 102, 116, 11, 19.75),
    "B3": _back("15.0", 0.75, 69.5, 62, 6, (6.1, 15.6, 6.0, 15.5), 103, 117, 11, 20),
    "B4": _back("15.0 1/4", 0.5, 70, 63, 5, (6.2, 15.8, 6.2, 15.8), 104, 118, 12, 20),
    "B5": _back("15.0 1/2", 0.5, 71.5, 63.5, 5, (6.5, 16.5, 6.5, 16.4), 108, 121, 12, 20.25),
    "B6": _back("15.0 3/4", 0.25, 72, 64, 6, (6.5, 16.5, 6.4, 16.4), 108, 121, 13, 20.25),
    "B7": _back("15.1", 0.25, 72.5, 64.5, 5, (6.7, 16.9, 6.7, 16.9), 110, 122, 13, 20.5),
    "B8": _back("15.1", 0.0, 73, 65, 5, (6.9, 17.3, 6.9, 17.2), 112, 124, 14, 20.5),
}
DAYS = {
    "B1": date(2022, 5, 21),
    "B2": date(2022, 8, 20),
    "B3": date(2022, 11, 19),
    "B4": date(2023, 3, 18),
    "B5": date(2023, 6, 17),
    "B6": date(2023, 10, 14),
    "B7": date(2024, 3, 23),
    "B8": date(2024, 9, 21),
}
SORENESS: dict[str, dict[str, tuple[int, int]]] = {
    "B1": {"WS": (1, 1)},
    "B4": {"BS": (1, 0)},
    "B5": {"BS": (2, 2)},
    "B7": {"WS": (1, 1)},
}
HISTORIES: dict[str, dict[str, Any]] = {
    "B1": {
        "what_changed": "Backed this spring.",
        "work_last_weeks": "Three short rides a week, walk and trot",
    },
    "B5": {
        "what_changed": "Ears back at girthing for six weeks; grown a good deal.",
        "work_last_weeks": "Four rides a week, some canter",
        "behaviour": ["ears_saddling", "grooming"],
    },
}
# Head as found and as left: degrees, cm between the points.
HEADS: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {
    "B1": ((80, 26.5), (80, 26.5)),
    "B2": ((80, 26.5), (80, 26.5)),
    "B3": ((80, 26.5), (80, 26.5)),
    "B4": ((80, 26.5), (82, 27.0)),
    "B5": ((82, 27.0), (86, 28.5)),
    "B6": ((86, 28.5), (86, 28.5)),
    "B7": ((86, 28.5), (88, 29.0)),
    "B8": ((88, 29.0), (90, 29.5)),
}
SHIMS_MM = {"B1": 6.0, "B2": 3.0, "B3": 0.0}  # both sides in front, as left
# Added wool in mm, as left.
FLOCK_MM: dict[str, dict[str, float]] = {"B3": {"rear": 3.0}, "B4": {"middle": 4.0}}
# Outcome of the front angle and the level seat, with what was said.
FINDINGS: dict[str, tuple[str, str, str, str]] = {
    "B1": ("watch", "head 3 degrees wide", "watch", "croup-high; tips forward"),
    "B2": ("watch", "head 2 degrees wide", "good", "nearly level"),
    "B3": ("good", "head 1 degree wide", "good", ""),
    "B4": ("watch", "head 1 degree tight", "good", ""),
    "B5": ("bad", "head 3 degrees tight after growth", "watch", "a little high in front"),
    "B6": ("good", "matches", "good", ""),
    "B7": ("watch", "head 1 degree tight", "good", ""),
    "B8": ("watch", "head 1 degree tight; growth is slowing", "good", ""),
}
VERDICTS: dict[str, dict[str, Any]] = {
    "B1": {
        "word": "short_rides",
        "hours_limit": 1 / 3,
        "changes": "Front shim 6 mm, both sides.",
        "advice": "Walk and trot only, 20 minutes.",
        "next_check_on": date(2022, 8, 20),
    },
    "B2": {
        "word": "small_changes",
        "changes": "Shim down to 3 mm.",
        "next_check_on": date(2022, 11, 12),
    },
    "B3": {
        "word": "carry_on",
        "changes": "Shim out; rear flock 3 mm more on both sides.",
        "next_check_on": date(2023, 2, 11),
    },
    "B4": {
        "word": "small_changes",
        "changes": "Head opened one step; middle flock 4 mm more.",
        "next_check_on": date(2023, 6, 10),
    },
    "B5": {
        "word": "short_rides",
        "hours_limit": 0.5,
        "changes": "Head opened two steps.",
        "advice": "Two weeks of light work, then a call: how is she at girthing?",
        "next_check_on": date(2023, 7, 1),
    },
    "B6": {"word": "carry_on", "next_check_on": date(2024, 3, 16)},
    "B7": {
        "word": "small_changes",
        "changes": "Head opened one step.",
        "next_check_on": date(2024, 9, 21),
    },
    "B8": {
        "word": "small_changes",
        "changes": "Head opened one step.",
        "advice": "A tree made to measure is still too early; ask again after her sixth birthday.",
        "next_check_on": date(2025, 1, 18),
    },
}
