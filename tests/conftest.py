"""What every test may use, and the rule that CI skips nothing.

The engine's tests run without Django as well, so nothing here imports it at the top.
"""

import os
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import settings as hypothesis_settings

if TYPE_CHECKING:
    from django.test import Client

    from practice.models import User

# The same examples on every run: a failure seen once can be seen again.
hypothesis_settings.register_profile("repeatable", derandomize=True, deadline=None)
hypothesis_settings.load_profile("repeatable")

SKIPPING_IS_FAILING = os.environ.get("CI") == "true"


def _fail_if_skipped(report: Any) -> None:
    if SKIPPING_IS_FAILING and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"CI skips nothing, but this was skipped: {report.longrepr}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Iterator[None]:
    report = yield
    _fail_if_skipped(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Iterator[None]:
    report = yield
    _fail_if_skipped(report)
    return report


def _member(role: str) -> "User":
    from tests.factories import make_user

    return make_user(role=role)


@pytest.fixture
def fitter(db: None) -> "User":
    """The lead fitter: may do everything."""
    return _member("lead")


@pytest.fixture
def helper(db: None) -> "User":
    """May read and write, but not manage accounts."""
    return _member("helper")


@pytest.fixture
def reader(db: None) -> "User":
    """May read and change nothing."""
    return _member("read_only")


@pytest.fixture
def stranger(db: None) -> "User":
    """Has an account without a role, so sees nothing."""
    return _member("")


@pytest.fixture
def signed_in() -> "Callable[[User], Client]":
    """Return a function that gives a test client signed in as someone."""
    from django.test import Client

    def sign_in(user: "User") -> Client:
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return sign_in
