"""The report's plain words: what a verdict means, what to do, when to call the veterinarian."""

from fitting.models import Verdict

CAUTION = (
    "This is a saddle-fit record, not a veterinary examination or diagnosis. It describes what was "
    "felt, measured and seen on the date shown, for this horse, saddle, pad and rider. Backs "
    "change. If your horse is sore, lame or changed in behaviour, call your veterinarian first. "
    "Computed load pictures compare shapes; they do not measure pain or guarantee comfort."
)

Word = Verdict.Word
MEANINGS: dict[str, str] = {
    Word.CARRY_ON: "The saddle suits this horse for this work. Ride as you do now.",
    Word.SMALL_CHANGES: "You may ride. A few small things are listed below with their dates.",
    Word.SHORT_RIDES: "Light, short work only, until the changes below are made.",
    Word.NOT_THIS_SADDLE: (
        "This saddle cannot be adjusted to fit this horse. Please do not ride in it."
    ),
    Word.REST_FIRST: "The back needs rest before any saddle goes on it.",
    Word.VET_FIRST: (
        "Please have the veterinarian look at the horse before anything is done to the saddle."
    ),
    Word.UNSAFE: "The saddle itself is not safe. It must not be ridden in until it is repaired.",
    Word.COULD_NOT_JUDGE: "Something needed for a decision was missing. See the reason.",
}
LEVELS: dict[str, str] = {
    Word.CARRY_ON: "plain",
    Word.SMALL_CHANGES: "watch",
    Word.SHORT_RIDES: "watch",
    Word.COULD_NOT_JUDGE: "unknown",
}
MAY_RIDE_LONG = frozenset({Word.CARRY_ON, Word.SMALL_CHANGES})
STRICTEST_FIRST = (
    Word.VET_FIRST,
    Word.UNSAFE,
    Word.REST_FIRST,
    Word.NOT_THIS_SADDLE,
    Word.SHORT_RIDES,
    Word.COULD_NOT_JUDGE,
    Word.SMALL_CHANGES,
    Word.CARRY_ON,
)

EVERY_RIDE = (
    "After every ride run a flat hand over both sides of the back: behind the shoulder blades, the "
    "middle, the loin. Left and right should feel and react alike."
)
CALL_VET = (
    "Call your veterinarian first if the horse is lame, sore to the touch for more than a day, hot "
    "or swollen anywhere under the saddle, or behaves differently when saddled, mounted or ridden."
)
NO_RIDES = "Do not ride until the veterinarian has seen the horse, or allows it."
NO_RIDES_YET = "Do not ride until the back has been felt again and is calm."
NO_LONG_RIDES = "No long rides until the next check has been passed."

# The places an owner can feel without training, in the words of the sheet.
OWNER_PLACES = (
    "Side of the withers",
    "Behind the shoulder blade",
    "Middle of the back",
    "Rear of the back",
    "Loin",
)
SCALE = (
    "0 calm",
    "1 muscle tightens or skin twitches",
    "2 dips or moves away",
    "3 sinks, steps off or threatens",
    "4 will not be touched, or heat, swelling, open skin",
)
STATION_PLAIN = {
    "S1": "Just behind the shoulder",
    "S2": "Under the front of the saddle",
    "S3": "Middle, where the rider sits",
    "S4": "Under the rear of the saddle",
    "S5": "At the last rib, where support should end",
}
