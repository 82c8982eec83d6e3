"""Saddle checks, checks on the horse and signed verdicts."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from fitting.checks import BARE, HAND_CHECKS, PAD, RIDDEN, SAFETY_ITEMS, hand_checks_of
from fitting.models import HandCheck, Pairing, SafetyCheck, Verdict
from fitting.services.checks import forget_hand_check, record_hand_check, record_safety_check
from fitting.services.verdicts import default_expiry, default_next_check, sign_verdict
from tests.factories import make_horse, make_pairing, make_saddle, make_user, make_visit

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 14)
SIGNED_AT = datetime(2026, 5, 14, 12, 0, tzinfo=UTC)


def test_the_checks_are_as_many_as_the_trade_lists() -> None:
    """Sixteen on the bare back, five of them again with the pad (common practice, no source)."""
    assert len(hand_checks_of(BARE)) == 16
    assert [check.code for check in hand_checks_of(PAD)] == [
        "withers_clearance",
        "channel",
        "contact",
        "rear_lift",
        "lateral",
    ]
    assert len(hand_checks_of(RIDDEN)) == 9


def test_codes_are_unique() -> None:
    assert len({check.code for check in HAND_CHECKS}) == len(HAND_CHECKS)
    assert len({item.code for item in SAFETY_ITEMS}) == len(SAFETY_ITEMS)


def test_a_failed_item_cannot_be_called_safe() -> None:
    with pytest.raises(ValidationError, match="item fails"):
        record_safety_check(
            saddle=make_saddle(), checked_on=DAY, items={"tree": "fail"}, result="safe"
        )
    assert not SafetyCheck.objects.exists()


def test_safe_with_repair_needs_its_date() -> None:
    with pytest.raises(ValidationError, match="By which date"):
        record_safety_check(
            saddle=make_saddle(), checked_on=DAY, items={"billets": "worn"}, result="repair"
        )


@pytest.mark.parametrize("items", [{"gremlins": "ok"}, {"tree": "splendid"}])
def test_unknown_items_and_states_are_refused(items: dict[str, str]) -> None:
    with pytest.raises(ValidationError, match="Not a safety item"):
        record_safety_check(saddle=make_saddle(), checked_on=DAY, items=items, result="")


def test_a_saddle_has_one_safety_check_per_visit() -> None:
    saddle, visit = make_saddle(), make_visit([make_horse()])
    for result in ("safe", "unsafe"):
        check = record_safety_check(
            saddle=saddle, checked_on=DAY, items={"tree": "ok"}, result=result, visit=visit
        )
    assert SafetyCheck.objects.count() == 1
    assert check.result == "unsafe"
    assert check.history.count() == 2


def _hand(pairing: Pairing, visit: Any, **values: Any) -> HandCheck:
    standard = {"phase": BARE, "code": "gap", "outcome": "bad", "left_mm": 15.0, "right_mm": 12.0}
    return record_hand_check(pairing=pairing, visit=visit, **{**standard, **values})


def test_a_hand_check_is_changed_not_doubled_and_keeps_both_sides() -> None:
    pairing, visit = make_pairing(), make_visit()
    _hand(pairing, visit)
    check = _hand(pairing, visit, outcome="good", left_mm=2.0)
    assert HandCheck.objects.count() == 1
    assert (check.left_mm, check.right_mm) == (2.0, 12.0)


@pytest.mark.parametrize(("code", "phase"), [("gap", PAD), ("slip", BARE), ("magic", BARE)])
def test_a_check_belongs_to_its_phase(code: str, phase: str) -> None:
    with pytest.raises(ValidationError, match="no check"):
        _hand(make_pairing(), make_visit(), code=code, phase=phase)


def test_a_hand_check_can_be_taken_back() -> None:
    pairing, visit = make_pairing(), make_visit()
    _hand(pairing, visit)
    forget_hand_check(pairing=pairing, visit=visit, phase=BARE, code="gap")
    assert not HandCheck.objects.exists()


def _sign(pairing: Pairing, visit: Any, **values: Any) -> Verdict:
    standard = {"word": "carry_on", "confidence": "measured", "signed_at": SIGNED_AT}
    signer = values.pop("signed_by", None) or make_user("lead")
    return sign_verdict(pairing=pairing, visit=visit, signed_by=signer, **{**standard, **values})


def test_a_verdict_names_its_signer_and_holds_half_a_year() -> None:
    signer = make_user("lead")
    verdict = _sign(make_pairing(), make_visit(), signed_by=signer)
    assert (verdict.signed_by, verdict.signed_at) == (signer, SIGNED_AT)
    assert verdict.expires_on == date(2026, 11, 12)


def test_signing_again_replaces_and_the_history_keeps_both() -> None:
    pairing, visit = make_pairing(), make_visit()
    _sign(pairing, visit)
    verdict = _sign(pairing, visit, word="short_rides", hours_limit=1.0)
    assert Verdict.objects.count() == 1
    assert [row.word for row in verdict.history.all()] == ["short_rides", "carry_on"]


def test_not_this_saddle_needs_a_reason() -> None:
    with pytest.raises(ValidationError):
        _sign(make_pairing(), make_visit(), word="not_this_saddle")
    _sign(make_pairing(), make_visit(), word="not_this_saddle", reason="Bars 8 degrees too flat.")


def test_a_young_horse_is_looked_at_sooner() -> None:
    pairing = make_pairing(make_horse(birth_date=date(2022, 5, 2)))
    assert default_expiry(pairing, DAY) == date(2026, 8, 13)
    later = date(2026, 7, 14)
    assert (default_next_check(pairing, later, "carry_on") - later).days == 84  # type: ignore[operator]


def test_a_shared_saddle_holds_three_months() -> None:
    pairing = make_pairing()
    assert default_expiry(pairing, DAY) == date(2026, 11, 12)
    make_pairing(make_horse(barn_name="Anvil"), saddle=pairing.saddle)
    assert default_expiry(pairing, DAY) == date(2026, 8, 13)


def test_a_new_saddle_is_checked_within_a_month() -> None:
    pairing = make_pairing(from_date=DAY)
    assert default_next_check(pairing, DAY, "carry_on") == date(2026, 6, 11)
    assert default_next_check(pairing, date(2026, 9, 1), "carry_on") == date(2027, 3, 2)


def test_after_vet_first_the_veterinarian_says_when() -> None:
    assert default_next_check(make_pairing(), DAY, "vet_first") is None


def test_every_verdict_word_has_an_interval() -> None:
    pairing = make_pairing()
    for word in Verdict.Word.values:
        default_next_check(pairing, DAY, word)
