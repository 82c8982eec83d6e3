"""Writes the page of checks and its pictures when asked to."""

import os

import pytest

from tests.reference import ledger_of_checks


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    if os.environ.get("RECORD_CHECKS") and exitstatus == pytest.ExitCode.OK:
        from tests.reference import pictures  # imports the tests whose bars it draws

        ledger_of_checks.write()
        pictures.write()
