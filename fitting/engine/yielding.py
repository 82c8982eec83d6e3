"""What a saddle that gives way must answer to be settled like a stiff tree."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from .laws import Array, LayerLaw
from .loads import PointForce

if TYPE_CHECKING:
    from .pose import Placed, Settled


class Yielding(Protocol):
    """A saddle that gives way under its loads, and settles in a way of its own.

    One that `follows_back` has no shape of its own to hold against it.
    """

    @property
    def follows_back(self) -> bool:
        """Whether it has no shape of its own."""

    def settle(
        self,
        placed: Placed,
        cases: tuple[tuple[PointForce, ...], ...],
        moments: tuple[float, float],
        law: LayerLaw,
        *,
        linear: bool,
        tolerance: float,
        start: Array | None,
    ) -> Settled:
        """Return it at rest under each load case, as `settle` does."""
