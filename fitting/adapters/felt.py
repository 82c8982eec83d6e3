"""What the hand felt, in words, and whether the computed picture agrees with it.

The back overrules the numbers: where the two differ, the page says so and lists what to check
again, and never that the horse is fine.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from horses.models import SCORE_WORDS, Site, SiteScore, SorenessCheck

# Sites that a saddle can load; soreness elsewhere stands on the page but is no word on the fit.
SADDLE_SITES = frozenset({"WM", "WS", "BS", "UB", "MB", "RB", "LO", "SP"})
SIDE_WORDS = {"L": "left", "R": "right", "M": ""}
REST_FROM = 3  # sinks, steps off or threatens: the back rests before any fit is judged
SORE_FROM = 2  # dips or shifts: a reaction that anyone beside the horse can see
# Which sites lie under which third of the bars.
SITES_OF_ZONE = {
    "cranial": frozenset({"WM", "WS", "BS", "UB"}),
    "middle": frozenset({"MB"}),
    "caudal": frozenset({"RB", "LO"}),
}
Level = Literal["sore", "little", "quiet", "unknown"]
LEVEL_WORDS: dict[Level, str] = {
    "sore": "Sore",
    "little": "A little sore",
    "quiet": "Nothing felt",
    "unknown": "Not felt over",
}
LEVEL_CLASSES: dict[Level, str] = {
    "sore": "beyond",
    "little": "watch",
    "quiet": "plain",
    "unknown": "unknown",
}


@dataclass(frozen=True)
class Spot:
    """One place that reacted, with the words for how."""

    site: str
    side: str
    score: int | None
    words: str

    @property
    def where(self) -> str:
        return str(Site(self.site).label)


@dataclass(frozen=True)
class Felt:
    """A soreness check read for an evaluation. `spots` has the worst first.

    With `rest_first` no fit is judged: not on a swollen back, nor on one this sore.
    """

    level: Level
    spots: tuple[Spot, ...] = ()
    untested: tuple[str, ...] = ()
    rest_first: bool = False

    @property
    def words(self) -> str:
        return LEVEL_WORDS[self.level]

    @property
    def css(self) -> str:
        return LEVEL_CLASSES[self.level]

    @property
    def lines(self) -> tuple[str, ...]:
        """Return the spots as lines; left and right share one when they reacted alike."""
        sides: dict[tuple[str, str], list[str]] = {}
        for spot in self.spots:
            sides.setdefault((spot.where, spot.words), []).append(SIDE_WORDS[spot.side])
        return tuple(
            f"{where}{', ' if any(named) else ''}{' and '.join(named)}: {words}"
            for (where, words), named in sides.items()
        )

    def hurts_at(self, zone: str, side: str) -> bool:
        """Return whether a sore spot lies under a third of the bars, on a side ("" for either)."""
        sites = SITES_OF_ZONE.get(zone, SADDLE_SITES)
        wanted = side[:1].upper()
        return any(
            spot.site in sites and (not wanted or spot.side in {wanted, "M"}) for spot in self.spots
        )


def _site_words(row: SiteScore) -> str:
    side = SIDE_WORDS[row.side]
    where = str(Site(row.site).label)
    return f"{where}, {side}" if side else where


def _spot(row: SiteScore) -> Spot | None:
    said = []
    if row.score:
        said.append(f"{row.score} of 4, {SCORE_WORDS[row.score]}")
    if row.is_warm:
        said.append("warm")
    if row.swelling_mm:
        said.append(f"swollen {row.swelling_mm:.0f} mm")
    if not said:
        return None
    return Spot(row.site, row.side, row.score, "; ".join(said))


def _level(rows: Iterable[SiteScore]) -> Level:
    level: Level = "unknown"
    for row in rows:
        if row.site not in SADDLE_SITES:
            continue
        if row.is_warm or row.swelling_mm or (row.score or 0) >= SORE_FROM:
            return "sore"
        if row.score == 1:
            level = "little"
        elif row.score == 0 and level == "unknown":
            level = "quiet"
    return level


def felt_of(check: SorenessCheck | None) -> Felt:
    """Return a check (scores prefetched) in words; None means that nobody felt the horse over."""
    if check is None:
        return Felt("unknown")
    rows = list(check.scores.all())
    spots = [spot for row in rows if (spot := _spot(row)) is not None]
    spots.sort(key=lambda spot: -(spot.score or 0))
    untested = tuple(_site_words(r) for r in rows if r.score is None and r.site in SADDLE_SITES)
    rest_first = any(
        row.site in SADDLE_SITES and (row.swelling_mm or (row.score or 0) >= REST_FROM)
        for row in rows
    )
    return Felt(_level(rows), tuple(spots), untested, rest_first)


@dataclass(frozen=True)
class Disagreement:
    """The hand and the model say different things."""

    title: str
    words: str
    recheck: tuple[str, ...]
    css: str


RECHECK_WHEN_SORE = (
    "Balance: is the rider level, are the stirrups even, does the saddle lean or slip?",
    "Measurement: was the horse square and rested, is the tree's tag the one under this saddle?",
    "Pad: what is really between saddle and back, worn or lumpy, shims left in from before?",
    "Cause: work, girth, another saddle or rider. If it stays, or you are in doubt: the vet.",
)
RECHECK_WHEN_QUIET = (
    "Was the horse rested, or given a painkiller, before it was felt over?",
    "How long has this saddle been used? Soreness follows load with delay, or not at all.",
    "Measure again where the model finds something, and feel there with a flat hand after work.",
)
SORE_BUT_PLAIN = Disagreement(
    "The hand and the model disagree. The back is right.",
    "The horse is sore, and the model finds nothing in the shape or the load that explains it. "
    "Do not call this fit good. Check again:",
    RECHECK_WHEN_SORE,
    "beyond",
)
QUIET_BUT_BEYOND = Disagreement(
    "The hand and the model disagree.",
    "The model finds something beyond a limit, but nothing was felt on the horse. "
    "Computed loads compare shapes; they do not measure pain. Check again:",
    RECHECK_WHEN_QUIET,
    "watch",
)


def disagreement(felt: Felt, levels: Iterable[str]) -> Disagreement | None:
    """Return what to say when the felt back and the levels of the findings differ, else None.

    Only what is beyond a limit counts as the model finding something: a mere 'watch' neither
    explains a sore back nor argues with a quiet one.
    """
    found = "beyond" in set(levels)
    if felt.level == "sore" and not found:
        return SORE_BUT_PLAIN
    if felt.level == "quiet" and found:
        return QUIET_BUT_BEYOND
    return None
