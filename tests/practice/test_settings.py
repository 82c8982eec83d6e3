"""Settings fail loudly, take secrets from files, and stay secure when deployed."""

from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from practice.env import env_bool, env_int, env_secret, env_text, move_into_demo
from tests.practice.site import Site


def test_a_missing_setting_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("TRIED", raising=False)
    with pytest.raises(ImproperlyConfigured, match="TRIED is not set"):
        env_text("TRIED")


def test_an_empty_setting_is_a_missing_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRIED", "")
    assert env_text("TRIED", "default") == "default"
    with pytest.raises(ImproperlyConfigured):
        env_text("TRIED")


def test_a_secret_comes_from_a_file(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("s" * 40 + "\n")
    monkeypatch.setenv("TRIED_FILE", str(tmp_path / "secret"))
    assert env_secret("TRIED", kept_in=tmp_path / "none") == "s" * 40


def test_a_file_that_is_not_there_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRIED_FILE", "/nowhere/secret")
    with pytest.raises(ImproperlyConfigured, match="TRIED_FILE: /nowhere/secret: No such file"):
        env_text("TRIED")


def test_a_short_secret_is_refused_and_not_shown(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("TRIED", "hunter2")
    with pytest.raises(ImproperlyConfigured, match="at least 32 characters") as refused:
        env_secret("TRIED", kept_in=tmp_path / "none")
    assert "hunter2" not in str(refused.value)


@pytest.mark.parametrize("value", ["maybe", "2", "enabled"])
def test_neither_yes_nor_no_is_refused(monkeypatch: pytest.MonkeyPatch, value: str) -> None:
    monkeypatch.setenv("TRIED", value)
    with pytest.raises(ImproperlyConfigured, match="TRIED must be yes or no"):
        env_bool("TRIED", default=True)


@pytest.mark.parametrize(("value", "meaning"), [("yes", True), ("0", False), ("", True)])
def test_yes_and_no_are_understood(
    monkeypatch: pytest.MonkeyPatch, value: str, meaning: bool
) -> None:
    monkeypatch.setenv("TRIED", value)
    assert env_bool("TRIED", default=True) is meaning


def test_a_number_that_is_none_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRIED", "six")
    with pytest.raises(ImproperlyConfigured, match="TRIED must be a whole number, not 'six'"):
        env_int("TRIED", default=6)


def test_the_demo_inherits_nothing_of_the_real_practice(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("DATA_DIR", str(tmp_path))
    for name in ("DATABASE_URL", "DATABASE_URL_FILE", "BROKER_URL", "SECRET_KEY", "IS_DEMO"):
        monkeypatch.setenv(name, "of the real practice")
    move_into_demo()
    assert env_text("DATABASE_URL", "none") == env_text("BROKER_URL", "none") == "none"
    assert env_text("SECRET_KEY", "none") == "none"
    assert env_text("DATA_DIR") == str(tmp_path / "demo")
    assert env_bool("IS_DEMO", default=False)


def test_a_deployed_site_passes_djangos_own_check(site: Site) -> None:
    site.environment |= {
        "SECRET_KEY": "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ",
        "SITE_URL": "https://fitter.example",
        "PROXY_COUNT": "1",
    }
    checked = site.run("check", "--deploy", "--fail-level", "WARNING")
    assert checked.returncode == 0, checked.stderr


def test_the_same_check_notices_a_site_without_tls(site: Site) -> None:
    site.environment |= {"SECRET_KEY": "x" * 40, "SITE_URL": "http://fitter.example"}
    checked = site.run("check", "--deploy", "--fail-level", "WARNING")
    assert checked.returncode == 1
    assert "security.W" in checked.stderr
