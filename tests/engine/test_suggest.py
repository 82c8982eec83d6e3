"""From findings to a suggested verdict. What sends where is common practice, no source."""

from __future__ import annotations

import functools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitting.engine import RULES, Finding, FitResult, evaluate_fit, from_dict, to_dict
from fitting.engine.suggest import (
    KEY,
    LADDER,
    WORD_RULES,
    Above,
    suggest,
    with_suggestion,
    word_for,
)
from tests.engine.pairs import TR_02, flat_pair, thistle_pair, wider

FELT = Above(score=0)
LEVELS = ("plain", "watch", "beyond")


def finding(code: str, level: str = "plain", *, evidence: str = "practice", **values) -> Finding:
    kept = {
        **{"value": 0.0, "limit": 0.0, "unit": "1", "zone": "", "side": "", "case": ""},
        **{"text": "", "source": "", "status": "D"},
    }
    return Finding(code=code, level=level, evidence=evidence, **(kept | values))


def findings(**levels: str) -> list[Finding]:
    """All key findings plain, but for those named."""
    return [finding(code, levels.pop(code, "plain")) for code in KEY] + [
        finding(code, level) for code, level in levels.items()
    ]


def word(*, is_bar_tree: bool = True, above: Above | None = FELT, **levels: str) -> str:
    return suggest(findings(**levels), is_bar_tree=is_bar_tree, above=above).word


# -- The numbers


def test_findings_within_their_ranges_suggest_to_carry_on():
    found = suggest(findings(), is_bar_tree=True, above=FELT)
    assert (found.word, found.reasons, found.overruled_by) == ("carry_on", (), "")


@pytest.mark.parametrize(
    ("code", "bars", "panels"),
    [
        ("ahead_of_last_rib", "not_this_saddle", "not_this_saddle"),
        ("channel_width", "not_this_saddle", "not_this_saddle"),
        ("bridging", "not_this_saddle", "short_rides"),
        ("angle_cranial", "not_this_saddle", "short_rides"),
        ("rock", "not_this_saddle", "short_rides"),
        ("behind_blade", "short_rides", "short_rides"),
        ("left_right", "short_rides", "short_rides"),
        ("mean_pressure_caudal", "short_rides", "short_rides"),
        ("load_ratio", "carry_on", "carry_on"),
    ],
)
def test_finding_past_its_limit_asks_for_what_can_be_done_about_it(code, bars, panels):
    assert word(**{code: "beyond"}) == bars
    assert word(is_bar_tree=False, **{code: "beyond"}) == panels


def test_reasons_name_the_findings_that_ask_for_the_word_and_no_others():
    found = suggest(
        findings(bridging="beyond", rock="beyond", left_right="beyond", twist="watch"),
        is_bar_tree=True,
        above=FELT,
    )
    assert found.word == "not_this_saddle"
    assert found.reasons == ("bridging", "rock")


def test_findings_to_be_watched_are_not_added_up():
    everything = dict.fromkeys((rule.code for rule in RULES), "watch")
    assert word(**everything) == word(rock="watch") == "small_changes"


def test_pressures_of_low_evidence_past_a_limit_ask_for_small_changes_at_most():
    code = "peak_pressure_cranial"
    low = [*findings(), finding(code, "beyond", evidence="low")]
    published = [*findings(), finding(code, "beyond", evidence="published")]
    assert suggest(low, is_bar_tree=True, above=FELT).word == "small_changes"
    assert suggest(published, is_bar_tree=False, above=FELT).word == "short_rides"
    assert suggest(published, is_bar_tree=False, above=FELT).evidence == "published"


@pytest.mark.parametrize(
    ("share", "expected"),
    [(None, "not_this_saddle"), (0.8, "not_this_saddle"), (0.3, "small_changes")],
)
def test_finding_that_most_draws_do_not_bear_out_counts_one_level_less(share, expected):
    doubted = [*findings(), finding("channel_width", "beyond", share=share)]
    assert suggest(doubted, is_bar_tree=True, above=FELT).word == expected


def test_every_rule_of_the_engine_has_its_word_or_asks_for_nothing():
    asking = {code for rule in WORD_RULES for code in rule.codes}
    silent = {"peak_pressure_walk", "peak_pressure_canter", "load_ratio"}
    assert {rule.code for rule in RULES} - silent == asking & {rule.code for rule in RULES}
    assert not asking & silent


@given(st.dictionaries(st.sampled_from(sorted({r.code for r in RULES})), st.sampled_from(LEVELS)))
def test_worse_finding_never_suggests_a_milder_word(levels):
    before = LADDER.index(word(**levels))
    for code in levels:
        worse = LADDER.index(word(**(levels | {code: "beyond"})))
        assert worse >= before


@given(st.permutations(findings(bridging="beyond", twist="watch", left_right="beyond")))
def test_order_of_findings_does_not_matter(shuffled):
    assert suggest(shuffled, is_bar_tree=True).word == "not_this_saddle"


# -- What stands above them

BAD = {"bridging": "beyond"}


def test_unsafe_saddle_comes_before_everything():
    above = Above(unsafe=("a crack",), red_flags=("heat",), rest=("swollen",), score=4)
    found = suggest(findings(), is_bar_tree=True, above=above)
    assert (found.word, found.reasons, found.overruled_by) == ("unsafe", ("a crack",), "safety")


def test_red_flag_comes_before_rest_and_numbers():
    above = Above(red_flags=("heat with swelling",), rest=("swollen",), score=4)
    found = suggest(findings(**BAD), is_bar_tree=True, above=above)
    assert (found.word, found.overruled_by) == ("vet_first", "red_flag")
    assert found.numbers == "not_this_saddle"


def test_back_to_be_rested_comes_before_numbers():
    found = suggest(findings(), is_bar_tree=True, above=Above(rest=("swollen 4 mm",), score=3))
    assert (found.word, found.overruled_by) == ("rest_first", "soreness")
    assert found.reasons == ("swollen 4 mm",)


@pytest.mark.parametrize(
    ("score", "expected"), [(0, "carry_on"), (1, "small_changes"), (2, "short_rides")]
)
def test_sore_place_lets_no_word_be_milder_than_its_score_allows(score, expected):
    above = Above(score=score, sore=("Behind the shoulder blade, left",))
    found = suggest(findings(), is_bar_tree=True, above=above)
    assert found.word == expected
    assert found.numbers == "carry_on"
    assert bool(found.overruled_by) == (score > 0)
    assert found.reasons == (above.sore if score else ())


def test_sore_place_does_not_make_a_grave_word_milder():
    found = suggest(findings(**BAD), is_bar_tree=True, above=Above(score=2, sore=("RB",)))
    assert (found.word, found.overruled_by, found.reasons) == ("not_this_saddle", "", ("bridging",))


@given(
    st.dictionaries(st.sampled_from(sorted({r.code for r in RULES})), st.sampled_from(LEVELS)),
    st.sampled_from([0, 1, 2]),
)
def test_sorer_back_never_suggests_a_milder_word(levels, score):
    words = [word(above=Above(score=s, sore=("WS",)), **levels) for s in (score, score + 1)]
    ranks = [LADDER.index(w) for w in words if w in LADDER]
    assert ranks == sorted(ranks)


# -- What is missing


def test_mild_word_is_withheld_until_the_back_was_felt_over():
    found = suggest(findings(), is_bar_tree=True, above=Above())
    assert (found.word, found.overruled_by, found.numbers) == (
        "could_not_judge",
        "missing",
        "carry_on",
    )


def test_grave_word_does_not_wait_for_what_is_missing():
    above = Above(missing=("Tip behind the blade",))
    assert suggest(findings(**BAD), is_bar_tree=True, above=above).word == "not_this_saddle"


@pytest.mark.parametrize("code", KEY)
def test_mild_word_needs_its_key_findings(code):
    some = [one for one in findings() if one.code != code]
    found = suggest(some, is_bar_tree=True, above=FELT)
    assert (found.word, found.reasons) == ("could_not_judge", (code,))


def test_nothing_computed_cannot_be_judged_and_says_what_is_missing():
    found = suggest([], is_bar_tree=True, above=Above(score=0, missing=("Rock of the bar",)))
    assert (found.word, found.overruled_by) == ("could_not_judge", "missing")
    assert "Rock of the bar" in found.reasons


def test_sore_back_without_numbers_is_still_short_rides():
    assert suggest([], is_bar_tree=True, above=Above(score=2, sore=("RB",))).word == "short_rides"


# -- On whole fits


@functools.cache
def suggested(pair: str) -> FitResult:
    inputs = {
        "good": thistle_pair(TR_02),
        "flat": flat_pair(),
        "narrow": thistle_pair(wider(TR_02, degrees=-10, spread=-0.02)),
    }[pair]
    return with_suggestion(inputs, evaluate_fit(inputs))


def test_replacement_tree_is_suggested_to_carry_on():
    assert suggested("good").suggestion.word == "carry_on"


def test_flat_tree_is_not_for_this_horse_because_it_bridges_and_is_too_long():
    found = suggested("flat").suggestion
    assert found.word == "not_this_saddle"
    assert {"bridging", "rock", "ahead_of_last_rib"} <= set(found.reasons)


def test_tree_a_width_step_too_narrow_is_not_for_this_horse():
    found = suggested("narrow").suggestion
    assert found.word == "not_this_saddle"
    assert "angle_cranial" in found.reasons


def test_suggestion_comes_back_from_storage():
    result = suggested("flat")
    assert from_dict(to_dict(result)).suggestion == result.suggestion


def test_low_evidence_of_bars_is_carried():
    peaks = [f for f in suggested("flat").findings if f.code == "peak_pressure_cranial"]
    assert {f.evidence for f in peaks} == {"low"}
    assert word_for(peaks[0], is_bar_tree=True) == "small_changes"
    assert word_for(replace(peaks[0], evidence="published"), is_bar_tree=True) == "short_rides"
