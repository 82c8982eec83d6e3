"""What every test may use, and the rule that CI skips nothing.

The engine's tests run without Django as well, so nothing here imports it at the top.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import settings as hypothesis_settings

from tests.practice.site import Site

if TYPE_CHECKING:
    from django.test import Client

    from practice.models import User

# The same examples on every run: a failure seen once can be seen again.
hypothesis_settings.register_profile("repeatable", derandomize=True, deadline=None)
hypothesis_settings.load_profile("repeatable")


def pytest_addoption(parser: pytest.Parser, pluginmanager: pytest.PytestPluginManager) -> None:
    """Without pytest-django, as when the engine is tested alone, its setting is still known."""
    if not pluginmanager.has_plugin("django"):
        parser.addini("DJANGO_SETTINGS_MODULE", "settings of the site, for pytest-django")


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


@pytest.fixture(scope="session")
def empty_install(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a migrated database and a secret key, to be copied."""
    folder = tmp_path_factory.mktemp("install")
    (folder / "secret_key").write_text("only-for-tests-" + "y" * 32)
    migrated = Site(folder).run("migrate", "--verbosity", "0")
    assert migrated.returncode == 0, migrated.stderr
    return folder


@pytest.fixture
def site(empty_install: Path, tmp_path: Path) -> "Iterator[Site]":
    """A real install of its own, with nobody's account in it yet."""
    shutil.copytree(empty_install, tmp_path / "var")
    install = Site(tmp_path / "var")
    yield install
    install.kill_everything()
