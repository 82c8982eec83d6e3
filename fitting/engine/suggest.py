"""From findings, and what stands above them, to a suggested verdict: rules as data, no score.

Every rule sends one finding at one level to one verdict; the gravest verdict that any finding asks
for is suggested, with the findings that ask for it. Nothing is counted, weighed or added up: ten
findings to be watched are still to be watched.

Above the numbers stand, in this order: a saddle that failed its safety check; a red flag for the
veterinarian; a back to be rested; and a sore place, which lets no verdict be milder than its score
allows. Without the back felt over, or without the findings it needs, a mild verdict is withheld.

What sends where is common practice without a source, or set here. A finding that no rule names asks
for nothing by itself: pressures to be watched and load on the loin to be watched, which trees that
fit have, too, and the load carried, on which studies conflict. Pressures under bar trees have no
published reading to be held against (low evidence): past a limit they ask for small changes at
most. A finding that most draws of the measuring error do not bear out counts one level less.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from .findings import LEVELS, Finding, Level
from .inputs import FitInputs
from .results import FitResult, Suggestion
from .trees import PanelTree

CARRY_ON, SMALL_CHANGES, SHORT_RIDES = "carry_on", "small_changes", "short_rides"
NOT_THIS_SADDLE, REST_FIRST, VET_FIRST = "not_this_saddle", "rest_first", "vet_first"
UNSAFE, COULD_NOT_JUDGE = "unsafe", "could_not_judge"
LADDER = (CARRY_ON, SMALL_CHANGES, SHORT_RIDES, NOT_THIS_SADDLE)  # from mild to grave
MILD = (CARRY_ON, SMALL_CHANGES)

PRESSURES = (
    *("mean_pressure_cranial", "mean_pressure_middle", "mean_pressure_caudal"),
    *("peak_pressure_cranial", "peak_pressure_middle", "peak_pressure_caudal"),
)
ANGLES = ("angle_cranial", "angle_caudal")
BORNE_OUT = 0.5  # share of draws from which a level counts
KEY = ("bridging", "ahead_of_last_rib", "behind_blade", *ANGLES)  # what a mild verdict needs


@dataclass(frozen=True)
class WordRule:
    """Findings that ask for a verdict.

    Attributes
    ----------
    word : str
    level : {"watch", "beyond"}
        From which level on.
    codes : tuple of str
        Of findings.
    trees : str
        "bars", "panels", or "" for both.
    why : str
        What can and cannot be changed about it.
    """

    word: str
    level: Level
    codes: tuple[str, ...]
    trees: str
    why: str


WORD_RULES: tuple[WordRule, ...] = (
    WordRule(
        NOT_THIS_SADDLE,
        "beyond",
        ("ahead_of_last_rib", "channel_width", "bar_set", "set_difference"),
        "",
        "no flock, pad or shim makes a tree shorter, its channel wider, or a bent bar straight",
    ),
    WordRule(
        NOT_THIS_SADDLE,
        "beyond",
        ("bridging", "rock", "twist", *ANGLES),
        "bars",
        "shims mend a small gap and a slightly wide tree, not a flat or narrow one",
    ),
    WordRule(
        SHORT_RIDES,
        "beyond",
        ("bridging", "rock", "twist", *ANGLES),
        "panels",
        "flock fills up to about 10 mm and a changeable head opens a step",
    ),
    WordRule(
        SHORT_RIDES,
        "beyond",
        (
            *PRESSURES,
            *("share_behind_last_rib", "behind_blade", "middle_share", "bearing_share"),
            *("left_right", "withers_clearance", "stability", "friction_demand"),
            "stiffness_ratio",
        ),
        "",
        "place, pad, rigging or rider can change it",
    ),
    WordRule(
        SMALL_CHANGES,
        "watch",
        (
            *("ahead_of_last_rib", "channel_width", "bridging", "rock", "twist", *ANGLES),
            *("behind_blade", "middle_share", "bearing_share"),
            *("left_right", "withers_clearance", "stability", "friction_demand"),
            *("bar_set", "set_difference", "stiffness_ratio"),
        ),
        "",
        "watched, and eased where it is easy",
    ),
)
# No verdict milder than this from a score of the sorest place under the saddle (common practice).
SORE_WORDS: Mapping[int, str] = {1: SMALL_CHANGES, 2: SHORT_RIDES}


@dataclass(frozen=True)
class Above:
    """What stands above the numbers, each in words.

    Attributes
    ----------
    unsafe, red_flags, rest : tuple of str
        A failed safety check; what sends the horse to the vet; why the back is to be rested.
    score : int or None
        Of the sorest place under the saddle, 0 to 4; None if nobody felt the back over.
    sore : tuple of str
        Which places those are.
    missing : tuple of str
        What is still to be measured or done.
    """

    unsafe: tuple[str, ...] = ()
    red_flags: tuple[str, ...] = ()
    rest: tuple[str, ...] = ()
    score: int | None = None
    sore: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


def suggest(
    findings: Sequence[Finding], *, is_bar_tree: bool, above: Above | None = None
) -> Suggestion:
    """Return the verdict suggested.

    Parameters
    ----------
    findings : sequence of Finding
        Of one evaluation; empty if there is none.
    is_bar_tree : bool
        A bar's dimensions stay as they are; panels are flocked and heads changed.
    above : Above, optional
        What is known beside the numbers; with None, the numbers speak alone.
    """
    numbers = _of_findings(findings, is_bar_tree=is_bar_tree)
    if above is None:
        return numbers
    for overruled_by, word, reasons in (
        ("safety", UNSAFE, above.unsafe),
        ("red_flag", VET_FIRST, above.red_flags),
        ("soreness", REST_FIRST, above.rest),
    ):
        if reasons:
            return Suggestion(word, tuple(reasons), overruled_by, numbers.numbers)
    return _held_back(_at_least_for(numbers, above), above)


def with_suggestion(inputs: FitInputs, result: FitResult) -> FitResult:
    """Return a result with what its numbers alone suggest."""
    is_bar_tree = not isinstance(inputs.tree, PanelTree)
    return replace(result, suggestion=suggest(result.findings, is_bar_tree=is_bar_tree))


def word_for(finding: Finding, *, is_bar_tree: bool) -> str:
    """Return the verdict that one finding asks for."""
    level, low = counted_level(finding), finding.evidence == "low"
    asked = [rule.word for rule in WORD_RULES if _asks(rule, finding.code, level, is_bar_tree)]
    word = max(asked, key=LADDER.index, default=CARRY_ON)
    return min(word, SMALL_CHANGES, key=LADDER.index) if low else word


def counted_level(finding: Finding) -> Level:
    """Return a finding's level; one less if most draws of the measuring error say otherwise."""
    rank = LEVELS.index(finding.level)
    if finding.share is not None and finding.share < BORNE_OUT and rank > 0:
        rank -= 1
    return LEVELS[rank]


def _asks(rule: WordRule, code: str, level: Level, is_bar_tree: bool) -> bool:
    own = "bars" if is_bar_tree else "panels"
    reaches = LEVELS.index(level) >= LEVELS.index(rule.level)
    return code in rule.codes and reaches and rule.trees in ("", own)


def _of_findings(findings: Sequence[Finding], *, is_bar_tree: bool) -> Suggestion:
    words = {id(one): word_for(one, is_bar_tree=is_bar_tree) for one in findings}
    if not findings:
        return Suggestion(COULD_NOT_JUDGE, ("nothing computed",), "missing")
    word = max(words.values(), key=LADDER.index)
    asking = [one for one in findings if word != CARRY_ON and words[id(one)] == word]
    lacking = tuple(code for code in KEY if code not in {one.code for one in findings})
    if word in MILD and lacking:
        return Suggestion(COULD_NOT_JUDGE, lacking, "missing", word)
    return Suggestion(word, _codes(asking), "", word, _best_evidence(asking))


def _at_least_for(numbers: Suggestion, above: Above) -> Suggestion:
    """A sore place lets no verdict be milder than its score allows."""
    reached = [word for score, word in SORE_WORDS.items() if score <= (above.score or 0)]
    floor = max(reached, key=LADDER.index, default=CARRY_ON)
    milder = numbers.word == COULD_NOT_JUDGE or _is_milder(numbers.word, floor)
    if floor == CARRY_ON or not milder:
        return numbers
    return Suggestion(floor, above.sore, "soreness", numbers.numbers)


def _held_back(found: Suggestion, above: Above) -> Suggestion:
    """A mild verdict is withheld while something it needs is missing."""
    felt = () if above.score is not None else ("nobody has felt the back over",)
    lacking = (*above.missing, *felt)
    if not lacking or found.word not in (*MILD, COULD_NOT_JUDGE):
        return found
    known = found.reasons if found.word == COULD_NOT_JUDGE and not above.missing else ()
    return Suggestion(COULD_NOT_JUDGE, (*lacking, *known), "missing", found.numbers)


def _is_milder(word: str, than: str) -> bool:
    return LADDER.index(word) < LADDER.index(than)


def _codes(findings: Iterable[Finding]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.code for one in findings))


def _best_evidence(findings: Sequence[Finding]) -> str:
    order: Callable[[str], int] = ("low", "practice", "published").index
    return max((one.evidence for one in findings), key=order, default="")
