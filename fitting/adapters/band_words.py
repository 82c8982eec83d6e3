"""Bands, likelihoods and what would narrow a band, in words for a fitter.

Likelihood words follow the calibrated scale of Mastrandrea et al. 2010, Guidance note for lead
authors of the IPCC fifth assessment report on consistent treatment of uncertainties [from memory];
the number always stands beside the word.
"""

import math

from fitting.adapters.finding_words import LONG, RULE_OF
from fitting.adapters.measures import shown
from fitting.engine import Band, Finding, FitResult, Narrowing
from horses.charts.theme import LengthUnit

LIKELIHOODS = (
    (0.99, "virtually certain"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.10, "unlikely"),
    (0.01, "very unlikely"),
    (0.00, "exceptionally unlikely"),
)
LEVEL_SAID = {"beyond": "beyond the limit", "watch": "to be watched or worse", "plain": "plain"}
MEASURABLE = ("sections", "lines", "tree", "placement", "load")
STATION_ABOUT = {"S1": "T8-T10", "S2": "T11-T12", "S3": "T13-T14", "S4": "T15-T17", "S5": "T18"}
SIDE_SAID = {"left": "left", "right": "right"}
TREE_SAID = {
    "slope_front": "the slope at the front of the bar",
    "slope_rear": "the slope at the rear of the bar",
    "width_front": "the width at the front",
    "width_centre": "the width at the waist",
    "width_middle": "the width in the middle",
    "width_rear": "the width at the rear",
    "rock": "the rock",
    "crown": "the crown across the bar",
    "flare_front": "the flare at the front tip",
    "flare_rear": "the flare at the rear tip",
    "length": "the length",
    "bearing_length": "the length that bears",
    "spread_hand_hole": "the spread at the hand hole",
    "spread_front": "the spread at the front",
    "spread_rear": "the spread at the rear",
    "channel_front": "the channel at the front",
    "channel_middle": "the channel in the middle",
    "channel_rear": "the channel at the rear",
    "bending_stiffness": "how far the bar bends",
}
LOAD_SAID = {
    "rider": "Weigh the rider",
    "height": "How high the rider's weight acts is assumed",
    "stirrups": "How much stands in the stirrups is assumed",
    "seat": "Mark where the rider sits",
    "aside": "See whether the rider sits in the middle",
    "girth": "Measure the girth's tension",
    "rigging": "Measure where the girth hangs",
    "rope": "Measure the pull of the rope",
    "horse": "Weigh the horse",
}
LAYER_SAID = {"tissue": "the give of the back", "pad": "the give of the pad", "flock": "the flock"}
LINE_SAID = {
    "left_line": "the left bar line",
    "right_line": "the right bar line",
    "midline": "the midline",
}


def band_of(result: FitResult, finding: Finding) -> Band | None:
    """Return the band of the measure a finding read, or None where there is none."""
    rule = RULE_OF.get(finding.code)
    if rule is None:
        return None
    wanted = (rule.measure, rule.zone, finding.side, finding.case)
    return next((b for b in result.bands if (b.code, b.zone, b.side, b.case) == wanted), None)


def band_words(band: Band, finding: Finding, unit: LengthUnit) -> str:
    """Return "11.9 kPa to 16.1 kPa in 90 % of draws", in the fitter's units."""
    long = unit if finding.code in LONG else None
    low, high = (shown(value, finding.unit, long) for value in (band.low, band.high))
    return f"{low} in 90 % of draws" if low == high else f"{low} to {high} in 90 % of draws"


def likelihood(share: float) -> str:
    """Return the word of a share, with the number: "likely (82 %)"."""
    word = next(word for least, word in LIKELIHOODS if share >= least)
    return f"{word} ({_per_cent(share)})"


def _per_cent(share: float) -> str:
    """All or none of a few hundred draws is not certainty."""
    if share >= 0.995:
        return "over 99 %"
    return "under 1 %" if share < 0.005 else f"{100 * share:.0f} %"


def likelihood_words(finding: Finding) -> str:
    """Return how likely the finding's level is, "" where it was not drawn."""
    if finding.share is None or not math.isfinite(finding.share):
        return ""
    return f"{likelihood(finding.share).capitalize()} {LEVEL_SAID[finding.level]}"


def narrowing_of(result: FitResult, finding: Finding) -> tuple[Narrowing, ...]:
    """Return where a finding's doubt comes from, the largest part first."""
    rule = RULE_OF.get(finding.code)
    if rule is None:
        return ()
    wanted = (rule.measure, rule.zone, finding.side, finding.case)
    return tuple(n for n in result.narrowing if (n.code, n.zone, n.side, n.case) == wanted)


def narrowing_sentence(result: FitResult, finding: Finding) -> str:
    """Return which measurement to repeat to narrow a finding's band, "" where it is not known.

    Where most of the doubt cannot be measured away, it says so first.
    """
    parts = narrowing_of(result, finding)
    best = next((part for part in parts if part.group in MEASURABLE), None)
    said = []
    if parts and parts[0].group == "layers":
        what = LAYER_SAID.get(parts[0].item, parts[0].item)
        said.append(f"{parts[0].share:.0%} of the doubt is {what}, which nobody has measured.")
    if best is not None:
        said.append(f"{repeat_words(best)}: {best.share:.0%} of the doubt.")
    return " ".join(said).replace("%", " %")


def repeat_words(part: Narrowing) -> str:
    """Return what to measure again, as an instruction."""
    name, _, side = part.item.rpartition(" ")
    if side not in SIDE_SAID:
        name, side = part.item, ""
    on = f" on the {side}" if side else ""
    if part.group == "sections":
        if name == "scan":
            return f"Scan the back again{on}"
        about = f" (about {STATION_ABOUT[name]})" if name in STATION_ABOUT else ""
        return f"Trace the section at {name}{about} again{on}"
    if part.group == "lines":
        return f"Trace {LINE_SAID.get(part.item, part.item)} again"
    if part.group == "placement":
        return "Feel for the rear edge of the shoulder blade again and measure the front tip"
    if part.group == "load":
        return LOAD_SAID.get(part.item, part.item)
    return f"Measure {TREE_SAID.get(name, name.replace('_', ' '))} again{on}"
