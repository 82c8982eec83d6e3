"""Reads a scan that came from outside, in a child process that can neither hang nor swell."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from horses.scanning.child import REFUSED, TOO_HEAVY
from horses.scanning.precheck import EXTENSIONS, WRONG_KIND
from horses.scanning.surface import CannotUseScan, Surface

MEMORY_BYTES = 3 * 2**30
SECONDS = 60
TOO_SLOW = "Reading this scan took longer than it may. Export it with less detail."
ROOT = Path(__file__).resolve().parents[2]


def read_scan(
    path: Path, extension: str, *, memory: int = MEMORY_BYTES, seconds: int = SECONDS
) -> Surface:
    """Return the surface in a file, in the file's own unit.

    Raises CannotUseScan, with words for the person, when the file is of another kind, damaged,
    too large, or cannot be read within `memory` bytes and `seconds`.
    """
    if extension not in EXTENSIONS:
        raise CannotUseScan(WRONG_KIND)
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "surface.npz"
        limits = (str(memory), str(seconds))
        _run([str(path.resolve()), extension, str(out), *limits], seconds)
        return Surface.opened(out)


def _run(arguments: list[str], seconds: int) -> None:
    command = [sys.executable, "-m", "horses.scanning.child", *arguments]
    # An environment of its own: the child has no business with keys or addresses.
    nothing_to_tell = {"OPENBLAS_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        ended = subprocess.run(
            command,
            cwd=ROOT,
            env=nothing_to_tell,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=seconds,
            check=False,
        )
    except subprocess.TimeoutExpired as problem:
        raise CannotUseScan(TOO_SLOW) from problem
    if ended.returncode == REFUSED:
        raise CannotUseScan(ended.stdout.decode("utf-8", "replace"))
    if ended.returncode in (-24, -9):  # SIGXCPU, SIGKILL: out of time
        raise CannotUseScan(TOO_SLOW)
    if ended.returncode:
        raise CannotUseScan(TOO_HEAVY)
