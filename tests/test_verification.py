"""docs/verification.md lists every reference check as it is; its pictures show what is computed.

`RECORD_CHECKS=1 pytest tests/reference` writes the page anew.
"""

from __future__ import annotations

import functools
from dataclasses import replace

import pytest

from fitting.adapters.model_limits import LIMITS
from tests.reference import ledger_of_checks as ledger
from tests.reference.check_table import CHECKS
from tests.reference.ledger_of_checks import Row
from tests.reference.pictures import FOLDER, PICTURES, Picture, svg

RENEW = "run RECORD_CHECKS=1 pytest tests/reference"


def unlike(rows: list[Row], known: set[str]) -> set[str]:
    """Tests on the page that no longer compare, and comparing tests that are not on it."""
    return {row.test for row in rows} ^ known


def beyond(rows: list[Row]) -> list[Row]:
    """Rows whose numbers are further apart than their tolerance, whatever error they state."""
    out = []
    for row in rows:
        size = 1.0 if row.is_absolute else abs(row.reference)
        # Eight digits are kept, and the error itself with two.
        apart = max(abs(row.ours - row.reference) / size - 2e-8, row.error * 0.95)
        if apart > row.tolerance:
            out.append(row)
    return out


def test_page_has_every_check_and_no_other() -> None:
    assert unlike(ledger.committed(), ledger.comparing_tests()) == set(), RENEW


def test_a_check_left_out_is_noticed() -> None:
    rows = ledger.committed()
    gone = rows[0].test
    assert unlike([r for r in rows if r.test != gone], ledger.comparing_tests()) == {gone}
    assert unlike(rows, ledger.comparing_tests() | {"test_strip.py::test_new"}) != set()


def test_no_number_is_beyond_its_tolerance() -> None:
    rows = ledger.committed()
    assert len(rows) > 150
    assert beyond(rows) == []


def test_a_number_beyond_its_tolerance_is_noticed() -> None:
    row = next(r for r in ledger.committed() if not r.is_absolute)
    assert beyond([replace(row, ours=row.reference * (1 + 3 * row.tolerance))]) != []
    assert beyond([replace(row, error=2 * row.tolerance)]) != []


def test_page_is_made_of_the_committed_numbers() -> None:
    assert ledger.PAGE.read_text(encoding="utf-8") == ledger.page(ledger.committed()), RENEW


def test_every_check_of_the_table_is_on_the_page() -> None:
    found = {ledger.check_of(row.test).id for row in ledger.committed()}
    assert set(CHECKS) - found == set()
    for check in CHECKS.values():
        assert check.formula
        assert len(check.source) >= len("statics")


def test_page_says_what_the_model_leaves_out() -> None:
    page = ledger.PAGE.read_text(encoding="utf-8")
    assert len(LIMITS) >= 6
    assert [limit.title for limit in LIMITS if limit.title not in page] == []
    assert [limit.title for limit in LIMITS if limit.data not in page] == []


@functools.cache
def drawn(index: int) -> Picture:
    return PICTURES[index]()


@pytest.mark.parametrize("index", range(len(PICTURES)))
def test_load_along_the_bar_is_the_closed_form(index: int) -> None:
    """Sources as in the table: Johnson sec. 4.3, Hetenyi's general solution [memory], derived."""
    picture = drawn(index)
    assert picture.apart < 1e-3
    assert replace(picture, ours=1.01 * picture.ours).apart > 1e-3  # a layer 1 % stiffer


@pytest.mark.parametrize("index", range(len(PICTURES)))
def test_picture_is_committed_and_linked(index: int) -> None:
    picture = drawn(index)
    text = (FOLDER / f"{picture.name}.svg").read_text(encoding="utf-8")
    assert text.count("<circle") == len(picture.x) == svg(picture).count("<circle")
    assert f"verification/{picture.name}.svg" in ledger.PAGE.read_text(encoding="utf-8")
    assert {check.picture for check in CHECKS.values()} - {""} == {
        drawn(i).name for i in range(len(PICTURES))
    }
