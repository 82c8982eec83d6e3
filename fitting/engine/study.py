"""An evaluation with everything that builds on it: room left, other places, a suggested verdict."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from .allowances import with_allowances
from .errors import EngineError
from .evaluate import evaluate_fit
from .geometry import BackSurface, build_surface
from .inputs import FitInputs
from .placing import with_placement
from .results import FitResult
from .suggest import with_suggestion
from .uncertainty import with_uncertainty

Step = Callable[[FitInputs, FitResult, BackSurface], FitResult]
Steps = tuple[tuple[str, Step], ...]


def _allowances(inputs: FitInputs, result: FitResult, surface: BackSurface) -> FitResult:
    return with_allowances(inputs, result, surface=surface)


def _placement(inputs: FitInputs, result: FitResult, surface: BackSurface) -> FitResult:
    return with_placement(inputs, result, surface=surface)


def _uncertainty(inputs: FitInputs, result: FitResult, _: BackSurface) -> FitResult:
    return with_uncertainty(inputs, result)


def _suggestion(inputs: FitInputs, result: FitResult, _: BackSurface) -> FitResult:
    return with_suggestion(inputs, result)


# In this order: a suggestion reads the findings as the other steps leave them.
STEPS: Steps = (
    ("The room left", _allowances),
    ("The fit at other places", _placement),
    ("How sure the numbers are", _uncertainty),
    ("A suggestion", _suggestion),
)


def study_fit(
    inputs: FitInputs,
    *,
    surface: BackSurface | None = None,
    steps: Steps = STEPS,
    told: Callable[[str, float], None] = lambda *_: None,
) -> FitResult:
    """Evaluate a fit and all that builds on it.

    Parameters
    ----------
    inputs : FitInputs
    surface : BackSurface, optional
        The back's cells, if they were built before.
    steps : tuple of (str, callable)
        What to add, each with its name.
    told : callable, optional
        Is told the name of each step as it begins, and the share of them done.

    Returns
    -------
    FitResult
        A step that finds no answer is left out with a warning; the fit itself stands.

    Raises
    ------
    EngineError
        As `evaluate_fit`.
    """
    surface = surface or build_surface(inputs.back, grid=inputs.settings.grid)
    result = evaluate_fit(inputs, surface=surface)
    for done, (name, step) in enumerate(steps, start=1):
        told(name, done / (len(steps) + 1))
        try:
            result = step(inputs, result, surface)
        except EngineError as error:
            warning = f"{name} could not be computed: {error}."
            result = replace(result, warnings=(*result.warnings, warning))
    return result
