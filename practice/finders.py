"""Serves the charting script out of the installed package, so that no copy of it is kept here."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import plotly
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage, Storage

PREFIX = "plotly"
SCRIPT = "plotly.min.js"


class PlotlyFinder(BaseFinder):
    """Finds `plotly/plotly.min.js` and nothing else: the package's other data is not for pages."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.folder = Path(plotly.__file__).parent / "package_data"

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        found = [str(self.folder / SCRIPT)] if path == f"{PREFIX}/{SCRIPT}" else []
        return found if find_all else next(iter(found), None)

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterable[tuple[str, Storage]]:
        storage = FileSystemStorage(location=self.folder)
        storage.prefix = PREFIX  # type: ignore[attr-defined]
        yield SCRIPT, storage
