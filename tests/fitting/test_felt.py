"""The back felt by hand, in words, and where it and the model differ."""

import pytest

from fitting.adapters.felt import disagreement, felt_of
from tests.factories import make_soreness_check

pytestmark = pytest.mark.django_db


def felt(scores: dict[tuple[str, str], int | None]):
    return felt_of(make_soreness_check(scores=scores))


def test_no_check_is_unknown_and_not_quiet() -> None:
    assert felt_of(None).level == "unknown"


def test_a_check_where_nothing_was_tested_is_unknown() -> None:
    check = make_soreness_check()
    check.scores.update(score=None)
    nothing = felt_of(check)
    assert nothing.level == "unknown"
    assert "Loin, left" in nothing.untested


def test_all_calm_is_quiet() -> None:
    assert felt({}).level == "quiet"
    assert felt({}).lines == ()


@pytest.mark.parametrize(
    ("score", "level"), [(0, "quiet"), (1, "little"), (2, "sore"), (4, "sore")]
)
def test_the_worst_saddle_site_sets_the_level(score: int, level: str) -> None:
    assert felt({("BS", "L"): score}).level == level


def test_a_sore_croup_is_told_but_is_no_word_on_the_fit() -> None:
    croup = felt({("CR", "R"): 3})
    assert croup.level == "quiet"
    assert croup.lines == ("Croup, right: 3 of 4, sinks, steps off or threatens, every time",)


def test_warmth_without_a_score_is_sore() -> None:
    check = make_soreness_check()
    check.scores.filter(site="RB", side="R").update(is_warm=True, score=None)
    assert felt_of(check).level == "sore"
    assert felt_of(check).lines == ("Rear of the back, right: warm",)


@pytest.mark.parametrize(
    ("scores", "rests"),
    [({("BS", "L"): 2}, False), ({("BS", "L"): 3}, True), ({("CR", "L"): 3}, False)],
)
def test_a_very_sore_back_rests_before_a_fit_is_judged(scores, rests: bool) -> None:
    assert felt(scores).rest_first is rests


def test_a_swollen_back_rests_even_without_a_score() -> None:
    check = make_soreness_check()
    check.scores.filter(site="WS", side="L").update(swelling_mm=8)
    assert felt_of(check).rest_first


def test_the_worst_spot_is_first_and_equal_sides_share_a_line() -> None:
    lines = felt({("WS", "L"): 1, ("LO", "L"): 3, ("LO", "R"): 3, ("WM", "M"): 2}).lines
    assert [line.split(":")[0] for line in lines] == [
        "Loin, left and right",
        "Top of the withers",
        "Side of the withers, left",
    ]


def test_sore_and_nothing_beyond_a_limit_disagree() -> None:
    said = disagreement(felt({("LO", "L"): 2}), ["plain", "watch"])
    assert said is not None
    assert "The back is right" in said.title
    for word in ("Balance", "Measurement", "Pad", "vet"):
        assert any(word in line for line in said.recheck)


def test_quiet_and_beyond_a_limit_disagree() -> None:
    said = disagreement(felt({}), ["beyond", "plain"])
    assert said is not None
    assert "nothing was felt" in said.words


@pytest.mark.parametrize(
    ("scores", "levels"),
    [
        ({("LO", "L"): 3}, ["beyond"]),
        ({}, ["plain", "watch"]),
        ({("LO", "L"): 1}, ["beyond"]),
        ({("LO", "L"): 1}, ["plain"]),
    ],
)
def test_no_disagreement_where_hand_and_model_say_the_same(scores, levels) -> None:
    assert disagreement(felt(scores), levels) is None


def test_an_unfelt_back_never_disagrees() -> None:
    assert disagreement(felt_of(None), ["beyond"]) is None


def test_where_it_hurts_follows_zone_and_side() -> None:
    left_loin = felt({("LO", "L"): 2})
    assert left_loin.hurts_at("caudal", "left")
    assert not left_loin.hurts_at("caudal", "right")
    assert not left_loin.hurts_at("cranial", "left")
    assert left_loin.hurts_at("caudal", "")
