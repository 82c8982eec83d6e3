"""Failures of the engine. Each says what came and carries the numbers behind its message."""

from __future__ import annotations


class EngineError(Exception):
    """Anything the engine refuses to answer; the message is fit to be shown to the user."""


class InvalidShape(EngineError):
    """An input has the wrong shape, a value that isn't finite, or one out of range.

    Attributes
    ----------
    path : str
        Name of the offending field, dotted when nested (``"batch.area"``).
    """

    def __init__(self, message: str, *, path: str = "") -> None:
        super().__init__(f"{path}: {message}" if path else message)
        self.path = path


class NotConverged(EngineError):
    """The iteration ended before the forces balanced.

    Attributes
    ----------
    residual : float
        Largest unbalanced force, relative to the load [-].
    iterations : int
        Steps taken.
    problem : int
        Which problem of the batch.
    """

    def __init__(
        self,
        message: str,
        *,
        residual: float = float("nan"),
        iterations: int = 0,
        problem: int = 0,
    ) -> None:
        super().__init__(message)
        self.residual = residual
        self.iterations = iterations
        self.problem = problem


class LoadOutsideSupport(EngineError):
    """The resultant acts where no pushing pressure can balance it: the body tips over or lifts.

    Attributes
    ----------
    lever_arms : tuple of float
        Where the resultant acts: each moment of the load over its force [m].
    support_low, support_high : tuple of float
        The lever arms the cells can offer, smallest and largest [m].
    margin : float
        1 at the centre of the support, 0 on its edge, negative outside [-].
    problem : int
        Which problem of the batch.
    """

    def __init__(
        self,
        message: str,
        *,
        lever_arms: tuple[float, ...] = (),
        support_low: tuple[float, ...] = (),
        support_high: tuple[float, ...] = (),
        margin: float = float("nan"),
        problem: int = 0,
    ) -> None:
        super().__init__(message)
        self.lever_arms = lever_arms
        self.support_low = support_low
        self.support_high = support_high
        self.margin = margin
        self.problem = problem


class StabilityLost(EngineError):
    """The load, high above the contact, tips the body faster than the contact resists.

    Attributes
    ----------
    margin : float
        Smallest stiffness left, relative to that of the contact alone; 0 or less is a fall [-].
    problem : int
        Which problem of the batch.
    """

    def __init__(self, message: str, *, margin: float = float("nan"), problem: int = 0) -> None:
        super().__init__(message)
        self.margin = margin
        self.problem = problem
