"""The Kettlebar string: six horses, two saddles, and one horse that is uneven."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from practice.demo.backs import uneven
from practice.demo.curves import Section

SPRINGS = {2022: date(2022, 4, 16), 2023: date(2023, 4, 15), 2024: date(2024, 4, 13)}
MIDS = {2022: date(2022, 6, 18), 2023: date(2023, 6, 10), 2024: date(2024, 6, 8)}
FALLS = {2022: date(2022, 9, 24), 2023: date(2023, 9, 23), 2024: date(2024, 9, 14)}
SOLD_ON = date(2024, 2, 10)
SADDLES = ("SD-11", "SD-12")


@dataclass(frozen=True)
class StringHorse:
    """One horse of the string as it was in the first spring."""

    name: str
    born: int
    height: str
    girth_in: float
    length_in: float
    s1_deg: float
    s1: Section
    s5_deg: float
    rock_mm: float
    support_in: float
    riders: tuple[str, str]  # under SD-11, under SD-12
    notes: str = ""
    sex: str = "gelding"

    @property
    def s3_deg(self) -> float:
        """The middle lies two thirds of the way from front to end, as on measured backs."""
        return self.s1_deg + 0.66 * (self.s5_deg - self.s1_deg)


HORSES: dict[str, StringHorse] = {
    "anvil": StringHorse(
        "Anvil", 2012, "15.1", 74, 67, 90, uneven(6.9, 17.4, 6.9, 17.3), 124, 13, 21.0,
        ("hobb", "hobb"),
    ),
    "bramble": StringHorse(
        "Bramble Ox", 2010, "15.2", 76, 68, 97, uneven(7.6, 18.6, 7.5, 18.5), 128, 9, 21.25,
        ("fenwick", "fenwick"), "Low, round withers.",
    ),
    "cinderpath": StringHorse(
        "Cinderpath", 2014, "15.0", 72, 65, 86, uneven(6.6, 16.8, 6.6, 16.7), 121, 17, 20.5,
        ("dilys", "dilys"), "Too much load under Hobb; Dilys rides.", "mare",
    ),
    "ledger": StringHorse(
        "Ledger", 2013, "15.0", 73, 66, 88, uneven(7.2, 17.8, 6.2, 16.2), 122, 14, 20.75,
        ("dilys", "dilys"), "Uneven: the right is smaller. The tree is set to the left side.",
    ),
    "needle": StringHorse(
        "Needle", 2015, "15.3", 70, 63, 73, uneven(5.6, 14.6, 5.6, 14.5), 115, 20, 20.0,
        ("fenwick", "fenwick"),
        "High withers. A third saddle is advised: narrower, about 76 degrees, rock 18 mm, a high "
        "gullet.",
    ),
    "barn_door": StringHorse(
        "Barn Door", 2011, "16.0", 79, 70, 104, uneven(8.4, 19.9, 8.4, 19.8), 132, 6, 22.0,
        ("hobb", "hobb"), "Draft cross.",
    ),
}  # fmt: skip
# Ledger fills out again once the lameness behind it has been treated.
LEDGER_S1: dict[int, Section] = {
    2022: uneven(7.2, 17.8, 6.2, 16.2),
    2023: uneven(7.2, 17.8, 6.4, 16.6),
    2024: uneven(7.2, 17.8, 6.9, 17.3),
}
LEDGER_SLIP_MM = {2022: 35.0, 2023: 8.0, 2024: 2.0}

CARRY, CHANGES, SHORT = "carry_on", "small_changes", "short_rides"
NOT_THIS, VET = "not_this_saddle", "vet_first"
Verdict = tuple[str, float | None, str]
# Per saddle and spring: verdict, hours a day, why or what was changed.
MATRIX: dict[str, dict[str, dict[int, Verdict]]] = {
    "anvil": {
        "SD-11": dict.fromkeys(SPRINGS, (CARRY, 10, "")),
        "SD-12": dict.fromkeys(SPRINGS, (CHANGES, 6, "Wide: shim 6 mm in front, both sides.")),
    },
    "bramble": {
        "SD-11": dict.fromkeys(SPRINGS, (NOT_THIS, None, "Front angle 7 degrees too small.")),
        "SD-12": dict.fromkeys(SPRINGS, (CARRY, 10, "")),
    },
    "cinderpath": {
        "SD-11": {
            2022: (CHANGES, 6, "Thicker pad."),
            2023: (CHANGES, 8, "Pad as it is."),
            2024: (CHANGES, 8, "Pad as it is."),
        },
        "SD-12": dict.fromkeys(SPRINGS, (NOT_THIS, None, "Wide; gap 7 mm in the middle.")),
    },
    "ledger": {
        "SD-11": {
            2022: (VET, None, "Slips right 35 mm in 10 min with both riders; right side smaller."),
            2023: (CHANGES, 4, "Shim 6 mm right front, to be looked at in six weeks."),
            2024: (CARRY, 8, "No shim any more."),
        },
        "SD-12": {
            2022: (VET, None, "Slips right with both riders; right side smaller."),
            2023: (NOT_THIS, None, "Too wide for the right side as it is now."),
            2024: (CHANGES, 4, "Watch the right front."),
        },
    },
    "needle": {
        name: dict.fromkeys(SPRINGS, (NOT_THIS, None, "Far too wide for these withers."))
        for name in SADDLES
    },
    "barn_door": {
        "SD-11": dict.fromkeys((2022, 2023), (NOT_THIS, None, "14 degrees too narrow.")),
        "SD-12": dict.fromkeys((2022, 2023), (SHORT, 1, "8 degrees too narrow; walk work.")),
    },
}
# BS, RB, LO in spring, middle and fall; None is "not ridden, not tested".
Scores = tuple[int | None, int | None, int | None]
QUIET: tuple[Scores, Scores, Scores] = ((0, 0, 0), (0, 0, 0), (0, 0, 0))
SORENESS: dict[str, dict[int, tuple[Scores, Scores, Scores]]] = {
    "anvil": {
        2022: ((0, 1, 0), (0, 0, 0), (0, 0, 0)),
        2023: ((0, 0, 0), (0, 1, 0), (0, 0, 0)),
        2024: QUIET,
    },
    "bramble": {
        2022: ((1, 1, 2), (0, 1, 1), (1, 1, 1)),
        2023: QUIET,
        2024: ((0, 0, 0), (0, 0, 1), (0, 0, 0)),
    },
    "cinderpath": {
        2022: ((1, 2, 1), (1, 1, 1), (0, 1, 1)),
        2023: ((0, 1, 0), (0, 0, 0), (0, 0, 0)),
        2024: QUIET,
    },
    "ledger": {
        2022: ((2, None, None), (2, None, None), (1, None, None)),
        2023: ((1, 0, 0), (0, 0, 0), (0, 0, 0)),
        2024: QUIET,
    },
    "needle": {
        2022: ((2, None, None), (1, None, None), (1, None, None)),
        2023: ((0, None, None), (None, None, None), (None, None, None)),
        2024: ((0, None, None), (None, None, None), (None, None, None)),
    },
    "barn_door": {
        2022: ((1, 1, 1), (0, 0, 0), (0, 0, 0)),
        2023: ((0, 1, 0), (0, 0, 0), (0, 0, 0)),
    },
}
VISIT_NOTES = {
    ("bramble", date(2022, 6, 18)): "Was put under SD-11 by mistake this month.",
    ("cinderpath", date(2023, 9, 23)): "Off three days after the long day; pad changed.",
}
HISTORIES: dict[tuple[str, int], dict[str, Any]] = {
    ("ledger", 2022): {"what_changed": "The saddle slips to the right with both riders."},
    ("ledger", 2023): {
        "what_changed": "Back in work after three months of rest.",
        "vet_note": "Right hind lameness found and treated; 3 months of rest",
    },
    ("needle", 2022): {"what_changed": "Pulls faces at saddling; not ridden since."},
}
# Hours a day as ridden in the second season's rotation (hours a week over five days).
USUAL_HOURS = {
    ("anvil", "SD-11"): 4.0,
    ("cinderpath", "SD-11"): 3.2,
    ("bramble", "SD-12"): 4.8,
    ("ledger", "SD-11"): 1.6,
    ("barn_door", "SD-12"): 0.4,
}
# Day, horse, saddle, hours, site, then its score before, after, next day, second day.
RIDES: list[tuple[date, str, str, float, str, tuple[int, int, int, int]]] = [
    (date(2023, 9, 2), "anvil", "SD-11", 12, "BS", (0, 1, 1, 0)),
    (date(2023, 9, 2), "bramble", "SD-12", 12, "BS", (0, 1, 0, 0)),
    (date(2023, 9, 2), "cinderpath", "SD-11", 12, "RB", (0, 2, 2, 1)),
    (date(2024, 9, 7), "cinderpath", "SD-11", 12, "RB", (0, 1, 1, 0)),
]
