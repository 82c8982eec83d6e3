"""The process that opens a stranger's file: little memory, little time, and nothing to tell.

Run as `python -m horses.scanning.child FILE KIND OUT MEMORY SECONDS`; ends with REFUSED, its reason
on standard output, when the file cannot be used.
"""

from __future__ import annotations

import sys
from pathlib import Path

from horses.scanning.surface import CannotUseScan

try:
    import resource
except ImportError:  # Windows: the time limit of the parent still holds
    resource = None  # type: ignore[assignment]

REFUSED = 3
TOO_HEAVY = "Reading this scan takes more memory than it may have. Export it with less detail."


def limit(memory: int, seconds: int) -> None:
    """Let this process use so many bytes and seconds, write one file of that size, and no more."""
    if resource is None:
        return
    for what, most in (
        (resource.RLIMIT_AS, memory),
        (resource.RLIMIT_CPU, seconds),
        (resource.RLIMIT_FSIZE, memory),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(what, (most, most))


def _refuse(reason: str) -> int:
    sys.stdout.write(reason)
    return REFUSED


def main(path: str, extension: str, out: str, memory: str, seconds: str) -> int:
    limit(int(memory), int(seconds))
    try:
        from horses.scanning.parse import parse  # only once the limits hold

        parse(Path(path), extension).save(Path(out))
    except CannotUseScan as problem:
        return _refuse(str(problem))
    except MemoryError:
        return _refuse(TOO_HEAVY)
    except Exception:  # whatever a hostile file can make a reader raise
        return _refuse(
            f"This {extension.upper()} file cannot be read: it is damaged or of an unusual kind. "
            "Export the scan again, or in another kind."
        )
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:6]))
