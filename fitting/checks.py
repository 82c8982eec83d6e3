"""The checks by hand and eye, and the signs an owner reports, as data.

Codes are stored with the records; titles and texts may change, codes may not. Limits given in the
texts are common practice without a source unless a text says otherwise.
"""

from dataclasses import dataclass

BARE, PAD, RIDDEN = "bare", "pad", "ridden"


@dataclass(frozen=True)
class HandCheckSpec:
    """One check on the horse: what to do, what is good, what is a warning, what is measured.

    `mm_of` says in words what the left and right millimetres mean; empty means nothing to measure.
    `unit` is the unit in which a bare number is taken. With `one_value` the thing measured lies on
    the midline: its one number is stored as the left one and the right one stays empty.
    """

    code: str
    title: str
    how: str
    good: str
    warning: str
    phases: tuple[str, ...]
    mm_of: str = ""
    unit: str = "mm"
    one_value: bool = False

    @property
    def takes_mm(self) -> bool:
        return bool(self.mm_of)


@dataclass(frozen=True)
class SafetyItem:
    """One thing tested on the saddle before it goes on a horse."""

    code: str
    title: str
    how: str
    fail_sign: str


HAND_CHECKS: tuple[HandCheckSpec, ...] = (
    HandCheckSpec(
        "position",
        "Position",
        "Set the saddle a little forward and slide it back until it stops by itself. "
        "Feel for the rear edge of the shoulder blade on both sides.",
        "The front tip stays behind the blade on both sides.",
        "The tip is on the blade, or the two sides differ.",
        (BARE,),
        mm_of="front tip behind the blade",
        unit="in",
    ),
    HandCheckSpec(
        "withers_clearance",
        "Room over the withers",
        "Fingers or a step gauge between the arch and the withers, on top and at the sides.",
        "Two to three fingers, more before the rider is up.",
        "It touches; or more than four fingers, which can mean that it is perched.",
        (BARE, PAD),
        mm_of="room over the withers",
        one_value=True,
    ),
    HandCheckSpec(
        "channel",
        "Room along the spine",
        "Look from front to back for light, then run a hand along.",
        "Free for the whole length.",
        "A bar or panel lies on the spine.",
        (BARE, PAD),
    ),
    HandCheckSpec(
        "angle_front",
        "Angle, front",
        "A flat hand under the front of the bar or panel, slid from top to bottom.",
        "The same pressure all the way.",
        "Tight at the bottom: the tree is too narrow. Tight at the top: too wide.",
        (BARE,),
    ),
    HandCheckSpec(
        "angle_rear",
        "Angle, rear",
        "The same under the rear.",
        "The same pressure all the way.",
        "Tight at one edge.",
        (BARE,),
    ),
    HandCheckSpec(
        "contact",
        "Contact from front to rear",
        "A hand slid under the bar from front to rear, one side then the other, "
        "with light pressure on the seat.",
        "Even, and fading at both ends.",
        "A gap in the middle (bridging), or a hard spot in the middle with the ends loose.",
        (BARE, PAD),
    ),
    HandCheckSpec(
        "gap",
        "Gap in the middle",
        "Feeler strips or a folded card at S2, S3 and S4; write the largest.",
        "Less than 5 mm with nobody up.",
        "More than 8 mm over more than 4 in.",
        (BARE,),
        mm_of="gap in the middle",
    ),
    HandCheckSpec(
        "rock_test",
        "See-saw",
        "Press down on the front and the rear in turn, girth loose, then fastened.",
        "A small give.",
        "It see-saws, or the rear kicks up when the girth is fastened.",
        (BARE,),
    ),
    HandCheckSpec(
        "front_relief",
        "Front relief",
        "Have the foreleg lifted and drawn forward with your hand under the front tip.",
        "The blade slips under and the hand is not crushed.",
        "It pinches.",
        (BARE,),
    ),
    HandCheckSpec(
        "rear_lift",
        "Rear lift",
        "Fingers under the rear of the bar, skirt or panel; bend the horse each way, "
        "then lift the belly.",
        "A finger's room behind the support.",
        "It digs into the loin.",
        (BARE, PAD),
        mm_of="room under the rear",
    ),
    HandCheckSpec(
        "length",
        "Length",
        "From the end of the support to the top of the last rib. Ahead of the rib is positive.",
        "Ends ahead of the last rib.",
        "Reaches past it. Skirts may pass when they lift.",
        (BARE,),
        mm_of="support ends ahead of the last rib",
        unit="in",
    ),
    HandCheckSpec(
        "level",
        "Level seat",
        "A level on the low point of the seat, or a photo from the side.",
        "The low point is in the centre.",
        "Pommel low: too wide. Cantle low: too narrow, or high in front.",
        (BARE,),
    ),
    HandCheckSpec(
        "lateral",
        "Side to side",
        "From behind, a plumb line over the spine.",
        "Centred.",
        "It leans to one side.",
        (BARE, PAD),
    ),
    HandCheckSpec(
        "twist",
        "Twist",
        "Compare how the slope of the bars changes from front to rear with that of the back.",
        "Within 4 degrees.",
        "Contact wanders from one edge to the other along the bar.",
        (BARE,),
    ),
    HandCheckSpec(
        "girth_line",
        "Girth line",
        "Straight down from the rigging to the girth groove.",
        "Within an inch.",
        "The saddle is drawn forward or back.",
        (BARE,),
        mm_of="rigging ahead of the groove",
        unit="in",
        one_value=True,
    ),
    HandCheckSpec(
        "stability",
        "Stability",
        "Push the horn or pommel sideways with moderate force, girth loose.",
        "Rolls a little and comes back.",
        "Rolls over: too wide or too round.",
        (BARE,),
    ),
    HandCheckSpec(
        "mounted_clearance",
        "Room over the withers, mounted",
        "Fingers over the withers with the rider up, standing, stopping and going downhill.",
        "One to three fingers, by saddle type.",
        "It ever touches.",
        (RIDDEN,),
        mm_of="room over the withers",
        one_value=True,
    ),
    HandCheckSpec(
        "balance",
        "Rider's balance",
        "Ear, shoulder, hip and heel; weight in the middle; stirrups equal.",
        "In balance, neither tipped forward nor in a chair.",
        "Tipped, crooked or sitting on the cantle.",
        (RIDDEN,),
    ),
    HandCheckSpec(
        "slip",
        "Slip",
        "Ten minutes on each rein, with each rider. Measure how far it has gone to each side.",
        "Stays within 10 mm.",
        "Keeps going to one side. Send to the veterinarian before any shim.",
        (RIDDEN,),
        mm_of="slip to this side",
    ),
    HandCheckSpec(
        "bounce",
        "Bounce and sway",
        "Trot and canter for the rear, walk for the sway.",
        "Quiet.",
        "The rear lifts and drops, or it sways.",
        (RIDDEN,),
    ),
    HandCheckSpec(
        "bends",
        "Bends and turns",
        "One-rein bends, back-up, tight turns and steps sideways, left and right.",
        "Free both ways.",
        "A front tip or rear corner digs in, or the horse is stiff one way.",
        (RIDDEN,),
    ),
    HandCheckSpec(
        "hill",
        "Hill or pole",
        "Down a slope or over a pole.",
        "Stays where it is.",
        "Slides forward.",
        (RIDDEN,),
    ),
    HandCheckSpec(
        "rope_pull",
        "Rope pull",
        "A pull at the horn from a post or a person, mild, then firmer, to each side.",
        "The rear lifts a little and the horse does not mind.",
        "The front tips dig in or the cinch does not hold.",
        (RIDDEN,),
        mm_of="rear lifts",
        one_value=True,
    ),
    HandCheckSpec(
        "mounting",
        "Mounting",
        "Mount as usual and look at the saddle after.",
        "Centred after.",
        "Pulled to the near side and stays there.",
        (RIDDEN,),
    ),
    HandCheckSpec(
        "rider_report",
        "What the rider says",
        "Ask about comfort, leg and back.",
        "Comfortable.",
        "Anything that hurts or pushes.",
        (RIDDEN,),
    ),
)

HAND_CHECK_BY_CODE = {check.code: check for check in HAND_CHECKS}


def hand_checks_of(phase: str) -> tuple[HandCheckSpec, ...]:
    """Return the checks of one phase, in the order in which they are done."""
    return tuple(check for check in HAND_CHECKS if phase in check.phases)


SAFETY_ITEMS: tuple[SafetyItem, ...] = (
    SafetyItem(
        "tree",
        "Tree is sound",
        "Western: squeeze the bars together and pull them apart, front and back; work the horn "
        "against the cantle; look under the skirts. English: pommel against your stomach, pull "
        "the cantle toward you; press the pommel down and pull it up, both sides.",
        "movement, a click or creak, wrinkles across the seat, a nail, a crack",
    ),
    SafetyItem(
        "torsion",
        "Twist test",
        "Hold the front still and twist the rear each way; compare. Sight along it from the rear.",
        "unequal twist, or bars that do not lie in one plane",
    ),
    SafetyItem(
        "flex",
        "Flexible parts return",
        "Bend left, right, up and down, and let go. Skip for a rigid tree.",
        "bends unevenly or does not come back",
    ),
    SafetyItem(
        "rigging",
        "Rigging, rings and plates",
        "Pull hard; look at the leather at each ring and at the screws.",
        "cracks, stretched holes, rust",
    ),
    SafetyItem(
        "billets",
        "Billets and girth straps",
        "Bend them at the holes, then pull.",
        "cracks, long holes, open stitching",
    ),
    SafetyItem(
        "cinch",
        "Cinch or girth, latigo and off billet",
        "Bend, pull and look at every cord.",
        "dry rot, torn holes, frayed cords",
    ),
    SafetyItem(
        "stitching",
        "Stitching, stirrup leathers, keepers",
        "Pull, and hold the two leathers side by side.",
        "open stitching, or more than 1/2 in difference in length",
    ),
    SafetyItem(
        "stirrup_bars",
        "Stirrup bars or slots",
        "Firm, level left and right, safety catch open.",
        "loose, or not in the same place",
    ),
    SafetyItem(
        "underside",
        "Underside",
        "Run a bare hand over it.",
        "a nail, a lump, hard filling, a tear: anything sharp",
    ),
    SafetyItem(
        "symmetry",
        "Left and right alike",
        "Tape from fixed points to rigging, bars, panels and stirrups.",
        "more than 1/4 in (6 mm) difference",
    ),
)

SAFETY_STATES: dict[str, str] = {"ok": "Good", "worn": "Worn", "fail": "Fails"}

# Many of these are in lists of a veterinary text; the list as such is common practice.
BEHAVIOUR_SIGNS: dict[str, str] = {
    "ears_saddling": "Ears back or bites when saddled or girthed",
    "moves_off": "Moves off when mounted",
    "sinks": "Sinks or humps when saddled or mounted",
    "hollow": "Goes hollow",
    "short_front": "Short, choppy in front",
    "no_downhill": "Will not go downhill",
    "one_lead": "Will not take one lead",
    "bucks": "Bucks going into canter",
    "tail": "Swishes the tail",
    "refuses": "Refuses jumps",
    "stumbles": "Stumbles",
    "head": "Tosses the head",
    "wont_stand": "Will not stand to be mounted",
    "slower": "Slower than before",
    "grooming": "Grumpy when groomed",
    "rolls_less": "Rolls less",
    "loading": "Hard to load",
    "shoeing": "Hard to shoe behind",
}
# Signs that send the horse to the veterinarian by themselves when they are new.
RED_FLAG_SIGNS = frozenset({"stumbles", "bucks"})
# A published ridden list has 24 behaviours, of which 8 or more point to pain (Dyson and Pollard,
# Animals 2020, 10(6):1044). Ours is another list: the number is only a prompt to ask the vet.
MANY_SIGNS = 8
