"""Which contact solver this process uses."""

from __future__ import annotations

from django.core.exceptions import ImproperlyConfigured

from fitting.engine import CompilerMissing, prefer


def use_compiled_solver() -> None:
    """Use the compiled solver from here on; refuse to start if it isn't installed."""
    try:
        prefer(True)
    except CompilerMissing as error:
        raise ImproperlyConfigured(f"ENGINE_COMPILED is set, but {error}") from error
