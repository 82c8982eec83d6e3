"""Reading settings from the environment: one place, and loud when something is missing."""

import os
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

TRUE_WORDS = frozenset({"1", "true", "yes", "on"})
FALSE_WORDS = frozenset({"0", "false", "no", "off"})


def env_text(name: str, default: str | None = None) -> str:
    """Return a setting as text; `NAME_FILE` may name a file that holds it (for secrets)."""
    file_name = os.environ.get(f"{name}_FILE")
    if file_name:
        return Path(file_name).read_text(encoding="utf-8").strip()
    value = os.environ.get(name, default)
    if value is None:
        raise ImproperlyConfigured(f"{name} is not set. Set it, or {name}_FILE; see .env.example.")
    return value


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


def env_secret(name: str) -> str:
    """Return a secret of at least 32 characters; there is no default for one."""
    value = env_text(name)
    if len(value) < 32:
        raise ImproperlyConfigured(f"{name} must have at least 32 characters.")
    return value
