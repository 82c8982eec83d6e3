"""Reading settings from the environment: one place, and loud when something is missing.

An empty value counts as not set, so that a compose file or the demo can blank a setting.
"""

import os
import secrets
from pathlib import Path

import environ
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent
TRUE_WORDS = frozenset({"1", "true", "yes", "on"})
FALSE_WORDS = frozenset({"0", "false", "no", "off"})
# What ties an install to its own data; the demo must not inherit any of it.
TIES = (
    *("DATABASE_URL", "DATABASE_PASSWORD", "BROKER_URL", "SITE_URL", "EMAIL_URL", "SECRET_KEY"),
    *("FIRST_USER_NAME", "FIRST_USER_PASSWORD"),
)


def read_env_file() -> None:
    """Read `.env` beside manage.py, if there is one; the real environment wins over it."""
    environ.Env.read_env(str(BASE_DIR / ".env"), overwrite=False)


def env_text(name: str, default: str | None = None) -> str:
    """Return a setting as text; `NAME_FILE` may name a file that holds it (for secrets)."""
    file_name = os.environ.get(f"{name}_FILE")
    if file_name:
        return _text_of(Path(file_name), name)
    value = os.environ.get(name) or default
    if value is None:
        raise ImproperlyConfigured(f"{name} is not set. Set it, or {name}_FILE; see .env.example.")
    return value


def _text_of(path: Path, name: str) -> str:
    try:
        return path.read_text(encoding="utf-8").strip()
    except OSError as error:
        raise ImproperlyConfigured(f"{name}_FILE: {path}: {error.strerror}.") from None


def env_bool(name: str, *, default: bool) -> bool:
    value = env_text(name, "yes" if default else "no").strip().lower()
    if value in TRUE_WORDS | FALSE_WORDS:
        return value in TRUE_WORDS
    raise ImproperlyConfigured(f"{name} must be yes or no, not {value!r}.")


def env_int(name: str, *, default: int) -> int:
    value = env_text(name, str(default))
    try:
        return int(value)
    except ValueError:
        raise ImproperlyConfigured(f"{name} must be a whole number, not {value!r}.") from None


def env_secret(name: str, *, kept_in: Path) -> str:
    """Return a secret of at least 32 characters: from the environment, or the file it is kept in.

    There is no default. The file is written by `start` and `demo` only.
    """
    kept = _text_of(kept_in, name) if kept_in.exists() else None
    value = env_text(name, kept)
    if len(value) < 32:
        raise ImproperlyConfigured(f"{name} must have at least 32 characters.")
    return value


def data_dir() -> Path:
    """Return the folder of database, queue and files, made if it is missing."""
    path = Path(env_text("DATA_DIR", str(BASE_DIR / "var"))).resolve()
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    return path


def secret_key_file() -> Path:
    return data_dir() / "secret_key"


def ensure_secret_key() -> Path | None:
    """Write a secret key if this install has none; return the file if one was written."""
    path = secret_key_file()
    if os.environ.get("SECRET_KEY") or os.environ.get("SECRET_KEY_FILE") or path.exists():
        return None
    path.touch(mode=0o600)
    path.write_text(secrets.token_urlsafe(48) + "\n", encoding="utf-8")
    return path


def move_into_demo() -> None:
    """Point this process, and those it starts, at the demo's own folder and nothing else."""
    demo_dir = data_dir() / "demo"
    for name in TIES:
        os.environ[name] = os.environ[f"{name}_FILE"] = ""
    os.environ.update(DATA_DIR=str(demo_dir), IS_DEMO="yes")
