"""The limits a fit is held against, as data: what is measured, where, when, and who says so.

A value inside `plain` needs no word; outside `beyond` it is past the limit; between the two it is
to be watched. There is no total. Ends are held stricter than the middle: a bar's ends answer for
every load case at rest, also with the back bent, rounded or hollow and under a rope, and are
watched from the highest peak read on sound horses; its middle answers for standing and for the
stride, and is watched from its published limit. More load in the middle is not worse: a bar with
some rock carries more there and less at its ends, so there is no upper limit to the middle's share.

Status of a source: V-A read in the paper's abstract, V-S at second hand, V-M read in an old manual,
C common practice without a source, D derived or set here.

Published pressures were read off mats; computed ones count saddle and girth, as the back does. A
mat zeroed under the girthed saddle shows less: in the calibration the same saddle gives 10.2 kPa so
and 15.6 with all counted (docs/calibration.md), half as much again; the papers' abstracts do not
say which. Their readings scatter by a quarter besides (2.6 on 10.8 kPa, Meschan et al. 2007). So a
computed pressure is watched from the published limit's plain side and counts as past it only half
as far again: then it is surely on the far side. That holds for means and peaks alike.

Peaks were read at trot and are compared with the highest moment of a trot. At walk and at
canter peaks set sound horses apart from the others, but not dry spots from sores (von Peinen et al.
2010): a computed one is watched there and never counts as past a limit.
"""

from __future__ import annotations

from math import inf, radians

from .flex_rules import FLEX_RULES
from .rule import SHAPE, Rule

__all__ = ["RULES", "Rule"]

STANDING = ("standing",)  # at rest, the rider in balance: what means are held against
RIDDEN = ("ridden",)  # at rest, the rider anywhere
ENDS = ("ends",)  # every load case at rest: the ends of the bars answer for all of them
UNRIDDEN = ("unridden",)
BAND = 1.5  # on a limit read off a mat, see above

NYIKOS = "Nyikos et al. 2005, Pferdeheilkunde 21:187-198: 26 horses with back problems, trot"
MEANS = (
    ("cranial", 11.0e3, 13.2e3, "von Peinen et al. 2010, Equine Vet J Suppl 38:650-653; " + NYIKOS),
    ("middle", 10.0e3, 11.4e3, NYIKOS),
    ("caudal", 8.6e3, 10.0e3, "Meschan et al. 2007, Vet J 173:578-584; " + NYIKOS),
)
PEINEN = "von Peinen et al. 2010, Equine Vet J Suppl 38:650-653"
SOUND_PEAK = 25.0e3  # [Pa] 24.7 at the withers of sound horses at canter, PEINEN
PEAKS = (
    ("cranial", SOUND_PEAK, 34.5e3, ("trot", "ends")),
    ("middle", 30.3e3, 30.3e3, ("trot", "ridden")),
    ("caudal", SOUND_PEAK, 31.0e3, ("trot", "ends")),
)
DRY_SPOTS = (("walk", 30.6e3), ("canter", 48.9e3))  # [Pa] highest at the withers, mean of 16 horses
THIRD = {"cranial": "front", "middle": "middle", "caudal": "rear"}


def _mean_rules() -> tuple[Rule, ...]:
    return tuple(
        Rule(
            code=f"mean_pressure_{zone}",
            measure="mean_pressure",
            zone=zone,
            reads=STANDING,
            plain=(0.0, plain),
            beyond=(0.0, limit * BAND),
            unit="Pa",
            source=source,
            status="V-A; band D",
            texts=(
                f"The {THIRD[zone]} third presses about as hard as was read on sore backs.",
                f"The {THIRD[zone]} third presses harder than was read on sore backs.",
            ),
            is_pressure=True,
        )
        for zone, plain, limit, source in MEANS
    )


def _peak_rules() -> tuple[Rule, ...]:
    return tuple(
        Rule(
            code=f"peak_pressure_{zone}",
            measure="peak_pressure",
            zone=zone,
            reads=reads,
            plain=(0.0, plain),
            beyond=(0.0, limit * BAND),
            unit="Pa",
            source=NYIKOS + "; applied to other load cases here. Ends watched from the peak of "
            "sound horses at canter, " + PEINEN,
            status="V-A; band D",
            texts=(
                f"There is a hard spot under the {THIRD[zone]} third.",
                f"A spot under the {THIRD[zone]} third is harder than the peak published for it on "
                "sore backs at trot.",
            ),
            is_pressure=True,
        )
        for zone, plain, limit, reads in PEAKS
    )


def _stride_rules() -> tuple[Rule, ...]:
    return tuple(
        Rule(
            code=f"peak_pressure_{gait}",
            measure="peak_pressure",
            zone="cranial",
            reads=(gait,),
            plain=(0.0, peak),
            beyond=(0.0, inf),
            unit="Pa",
            source=f"Horses with dry spots at the withers, {gait}: {PEINEN}; peaks at {gait} did "
            "not tell those from sores",
            status="V-A",
            texts=(
                f"At {gait} the front third peaks as was read on horses with dry spots.",
                f"At {gait} the front third peaks as was read on horses with dry spots.",
            ),
            is_pressure=True,
        )
        for gait, peak in DRY_SPOTS
    )


RULES: tuple[Rule, ...] = (
    *_mean_rules(),
    *_peak_rules(),
    *_stride_rules(),
    Rule(
        code="bridging",
        measure="bridge_gap",
        zone="",
        reads=UNRIDDEN,
        plain=(0.0, 0.005),
        beyond=(0.0, 0.008),
        unit="m",
        source="Gap that holds over 4 in; limits set here. Bridging among the worst faults: "
        + NYIKOS,
        status="D; V-A",
        texts=(
            "Girthed without a rider there is some air under the middle of the bar.",
            "Girthed without a rider the middle of the bar stands off the back: it bridges.",
        ),
        is_per_side=True,
    ),
    Rule(
        code="middle_share",
        measure="share_over_face",
        zone="middle",
        reads=STANDING,
        plain=(0.6, inf),
        beyond=(0.3, inf),
        unit="1",
        source="Share of the load over share of the bar's face: even is 100 %, whatever the waist. "
        "Too little means the ends carry it; more is no fault. Limits set here",
        status="D",
        texts=(
            "The middle third carries little for the face it has there.",
            "The middle third is nearly empty beside the ends.",
        ),
    ),
    Rule(
        code="ahead_of_last_rib",
        measure="ahead_of_last_rib",
        zone="",
        reads=SHAPE,
        plain=(0.0, inf),
        beyond=(-0.0127, inf),
        unit="m",
        source="Support ends at or before the last rib: US Army saddling text; review literature",
        status="V-M; C; half an inch of reading error D",
        texts=(
            "The bearing part ends a little past the last rib.",
            "The bearing part runs past the last rib onto the loin.",
        ),
        is_per_side=True,
    ),
    Rule(
        code="share_behind_last_rib",
        measure="share_behind_last_rib",
        zone="",
        reads=ENDS,
        plain=(0.0, 0.05),
        beyond=(0.0, 0.10),
        unit="1",
        source="The loin tolerates much less than the withers: " + NYIKOS + "; limits set here",
        status="V-A; limits D",
        texts=(
            "Some of the load falls behind the last rib.",
            "Much of the load falls behind the last rib, on the loin.",
        ),
        is_per_side=True,
    ),
    Rule(
        code="behind_blade",
        measure="support_start",
        zone="",
        reads=ENDS,
        plain=(0.0, inf),
        beyond=(-0.0127, inf),
        unit="m",
        source="Bars behind the shoulder blade, blades free to move: US Army saddling text",
        status="V-M; half an inch of reading error D",
        texts=(
            "The support begins at the edge of the shoulder blade.",
            "The support begins on the shoulder blade.",
        ),
        is_per_side=True,
    ),
    *(
        Rule(
            code=f"angle_{zone}",
            measure="angle_mismatch",
            zone=zone,
            reads=SHAPE,
            plain=(-radians(2.5), radians(2.5)),
            beyond=(-radians(5.0), radians(5.0)),
            unit="rad",
            source="One width step in research, 10 degrees included, is 5 per side "
            "(MacKechnie-Guire et al. 2019, Animals 9:842); half a step is watched",
            status="V-A; half D",
            texts=(
                f"The {THIRD[zone]} of the bar is steeper (+) or flatter (-) than the back by up "
                "to a width step.",
                f"The {THIRD[zone]} of the bar is steeper (+) or flatter (-) than the back by more "
                "than a width step.",
            ),
            is_per_side=True,
        )
        for zone in ("cranial", "caudal")
    ),
    Rule(
        code="twist",
        measure="twist_mismatch",
        zone="",
        reads=SHAPE,
        plain=(-radians(4.0), radians(4.0)),
        beyond=(-radians(8.0), radians(8.0)),
        unit="rad",
        source="Within 4 degrees; limit set here",
        status="D",
        texts=(
            "The bar twists more (+) or less (-) than the back.",
            "The bar twists much more (+) or less (-) than the back: it bears on opposite edges "
            "front and rear.",
        ),
        is_per_side=True,
    ),
    Rule(
        code="rock",
        measure="rock_mismatch",
        zone="",
        reads=SHAPE,
        plain=(-0.003, 0.005),
        beyond=(-0.008, 0.008),
        unit="m",
        source="Range of the gap in the middle without load; limits set here",
        status="D",
        texts=(
            "The bar is a little flatter (+) or more curved (-) than the back.",
            "The bar is much flatter (+, bridges) or more curved (-, see-saws) than the back.",
        ),
        is_per_side=True,
    ),
    Rule(
        code="load_ratio",
        measure="load_ratio",
        zone="",
        reads=SHAPE,
        plain=(0.0, 0.15),
        beyond=(0.0, 0.25),
        unit="1",
        source="15-20 % little difference, 25 % more signs, 30 % sore muscles: Powell et al. 2008, "
        "J Equine Vet Sci 28:28-33; studies conflict, never a verdict alone",
        status="V-S",
        texts=(
            "Rider, saddle and gear are a noticeable share of the horse's weight.",
            "Rider, saddle and gear are a large share of the horse's weight.",
        ),
    ),
    Rule(
        code="channel_width",
        measure="channel_width",
        zone="",
        reads=SHAPE,
        plain=(0.060, inf),
        beyond=(0.050, inf),
        unit="m",
        source="Spine free for 6-8 cm over the full length",
        status="C",
        texts=(
            "The channel over the spine is narrow.",
            "The channel over the spine is so narrow that the bars may bear on it.",
        ),
    ),
    Rule(
        code="withers_clearance",
        measure="withers_clearance",
        zone="",
        reads=STANDING,
        plain=(0.020, 0.080),
        beyond=(0.005, 0.120),
        unit="m",
        source="1-3 fingers with the rider up; more than four suggests a perched tree",
        status="C; estimate D",
        texts=(
            "The arch is close to the withers, or stands high above them.",
            "The arch comes down on the withers, or stands far above them.",
        ),
    ),
    Rule(
        code="bearing_share",
        measure="bearing_share",
        zone="",
        reads=STANDING,
        plain=(0.90, inf),
        beyond=(0.70, inf),
        unit="1",
        source="The bearing part of the bar should bear; limits set here",
        status="D",
        texts=(
            "Part of what should bear along the bar does not.",
            "Much of what should bear along the bar does not.",
        ),
        is_per_side=True,
    ),
    Rule(
        code="left_right",
        measure="left_share",
        zone="",
        reads=STANDING,
        plain=(0.45, 0.55),
        beyond=(0.40, 0.60),
        unit="1",
        source="An even-sided load; limits set here",
        status="D",
        texts=(
            "One side carries more than the other.",
            "One side carries much more than the other.",
        ),
    ),
    Rule(
        code="stability",
        measure="stability_margin",
        zone="",
        reads=(*RIDDEN, "moved"),
        plain=(0.50, inf),
        beyond=(0.20, inf),
        unit="1",
        source="Share of the contact's stiffness left after the rider's height; limits set here",
        status="D",
        texts=(
            "The tree gives way easily when the rider leans.",
            "The tree barely holds against a leaning rider.",
        ),
    ),
    Rule(
        code="friction_demand",
        measure="friction_demand",
        zone="",
        reads=("rope",),
        plain=(0.0, 0.35),
        beyond=(0.0, 0.60),
        unit="1",
        source="Pull along the back over what presses the saddle down; what holds it is friction "
        "and the girth. No friction of a saddle on a back is published; limits set here",
        status="D",
        texts=(
            "Under the rope much of the hold has to come from friction: the saddle may slide.",
            "Under the rope friction alone will hardly hold the saddle.",
        ),
    ),
    *FLEX_RULES,
)
