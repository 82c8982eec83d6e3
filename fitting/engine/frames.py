"""Two bars that bend, joined by fork and cantle: what can move, and what it costs.

The tree's attitude is that of its fork. Against it each bar has a deflection w(x), positive down;
the cantle moves as it likes, but like the fork it holds both bars at one slope (or by springs) and
does not bend, so its turn about x is the difference of the bars' deflections over their distance.

Across its width a bar does not bend: a section moves down by w and turns about the bar line with
fork and cantle, in even measure between the two. The rider leans with the line from fork to cantle.
Bars bend (Euler and Bernoulli) with one stiffness all along, and resist no twist of their own;
assumptions, for want of measured ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .beams import curvature_points, hermite_rows
from .errors import InvalidShape
from .laws import Array
from .profiles import SIDES, STRAIGHT_EDGE
from .trees import FlexibleTree

ELEMENTS = 20  # along each bar
# Over which a bar takes over a load; assumptions [m]
LOAD_LENGTHS = {"": 0.10, "seat": 0.15}
LEAST_SPAN = 0.10  # [m] between fork and cantle


@dataclass(frozen=True, eq=False)
class Frame:
    """The bending part of a tree, in E components.

    Attributes
    ----------
    nodes : (2, K) array
        Ends of the elements of each side, behind the front tip [m].
    components : (2, 2 K, E) array
        Deflection and slope of each node, by component.
    stiffness : (E, E) array
        Of bars and joints.
    line : (2,) array
        Bar lines off the midline, outward [m].
    fork, cantle : float
        Behind the front tip [m].
    """

    nodes: Array
    components: Array
    stiffness: Array
    line: Array
    fork: float
    cantle: float

    @property
    def size(self) -> int:
        """Number of components, E."""
        return int(self.components.shape[2])

    def deflection(self, side: int, x: Array, *, derivative: int = 0) -> Array:
        """Return deflection or slope by component (n, E) at places x (n,) behind the tip."""
        nodes = self.nodes[side]
        held = np.clip(x, nodes[0], nodes[-1])
        rows = hermite_rows(nodes, held, derivative=derivative)
        return np.asarray(rows @ self.components[side], float)

    def twist(self, x: Array) -> Array:
        """Return how sections at x (n,) turn against the fork, left down, by component (n, E)."""
        left, right = self._at_cantle
        passed = np.clip((x - self.fork) / (self.cantle - self.fork), 0.0, 1.0)
        return np.asarray(passed[:, None] * (left - right) / self.line.sum(), float)

    @cached_property
    def _at_cantle(self) -> Array:
        """Deflections of both bars where the cantle holds them, by component (2, E)."""
        at = np.array([self.cantle])
        return np.concatenate([self.deflection(side, at) for side in range(2)])

    def motions(self, x: Array, axis: float) -> Array:
        """Return the motion of each section, (2, n, 3, 3 + E).

        Down, about y and about x of the sections of both sides at x (n,), by heave, pitch and roll
        of the fork and then the components; turns are about the tree's axis at x = `axis`. Sections
        stay square to the bent bar.
        """
        out = np.zeros((2, len(x), 3, 3 + self.size))
        out[..., range(3), range(3)] = 1.0
        twist = self.twist(x)
        for side, y in enumerate((-self.line[0], self.line[1])):
            slope = self.deflection(side, x, derivative=1)
            out[side, :, 0, 3:] = self.deflection(side, x) + y * twist
            out[side, :, 0, 3:] -= slope * (x - axis)[:, None]
            out[side, :, 1, 3:] = slope
            out[side, :, 2, 3:] = twist
        return out

    def lowering(self, x: float, y: float, through: str = "") -> Array:
        """Return how far a load between the bars goes down by component (E,).

        It rests on both bars, by the law of the lever, over `LOAD_LENGTHS` or the whole body.
        """
        share = np.linspace(0.0, 1.0, 25)
        if through == "body":
            places = share * self.nodes[:, -1].min()
        else:
            places = x + LOAD_LENGTHS[through] * (share - 0.5)
        right = (y + self.line[0]) / self.line.sum()
        left, right_row = (self.deflection(side, places).mean(axis=0) for side in range(2))
        return np.asarray((1.0 - right) * left + right * right_row, float)

    def lean(self, x: float) -> Array:
        """Return how what stands at x turns against the fork, about y and x, by component (2, E).

        The seat hangs between fork and cantle: who sits in it leans with the line from one to the
        other, and turns as their mean. What stands on the fork or ahead of it turns with the fork.
        """
        if x <= self.fork:
            return np.zeros((2, self.size))
        left, right = self._at_cantle
        back = 0.5 * (left + right) / (self.cantle - self.fork)
        return np.array([back, 0.5 * (left - right) / self.line.sum()])


def frame_of(tree: FlexibleTree, line: Array) -> Frame:
    """Return the bending part of a tree whose bar lines (2,) are given.

    Raises
    ------
    InvalidShape
        If the cantle is not behind the fork on the bars, or a stiffness not positive.
    """
    _check(tree)
    fork, cantle = tree.fork_from_tip, tree.cantle_from_tip
    bars = (tree.left, tree.right)
    counts = _elements(fork, cantle, min(bar.length for bar in bars))
    nodes = np.array([_nodes(fork, cantle, bar.length, counts) for bar in bars])
    at_fork, at_cantle = counts[0], counts[0] + counts[1]
    joint = tree.joint_stiffness
    components = _components(nodes.shape[1], at_fork, at_cantle, is_rigid=joint is None)
    stiffness = np.zeros((components.shape[2],) * 2)
    for side, bar in enumerate(bars):
        x, share = curvature_points(nodes[side])
        bent = hermite_rows(nodes[side], x, derivative=2) @ components[side]
        stiffness += bar.bending_stiffness * (bent.T * share) @ bent
    if joint is not None:
        slopes = components[:, 1::2]
        turns = [slopes[0, at_fork], slopes[1, at_fork]]
        apart = slopes[0, at_cantle] - slopes[1, at_cantle]
        turns.append(apart / np.sqrt(2.0))  # two springs in series over the free cantle
        stiffness += joint * sum(np.outer(turn, turn) for turn in turns)
    return Frame(nodes, components, stiffness, np.asarray(line, float), fork, cantle)


def _check(tree: FlexibleTree) -> None:
    fork, cantle = tree.fork_from_tip, tree.cantle_from_tip
    end = min(tree.left.length, tree.right.length)
    if not (fork > 0 and fork + LEAST_SPAN <= cantle < end):
        raise InvalidShape(
            f"must lie at least {LEAST_SPAN:g} m behind the fork ({fork:.3f} m) and on the bars "
            f"({end:.3f} m), got {cantle:.3f} m",
            path="tree.cantle_from_tip",
        )
    for name, bar in zip(SIDES, (tree.left, tree.right), strict=True):
        if not (np.isfinite(bar.bending_stiffness) and bar.bending_stiffness > 0):
            raise InvalidShape(
                f"must be above zero, got {bar.bending_stiffness}",
                path=f"tree.bars.{name}.bending_stiffness",
            )
    if tree.joint_stiffness is not None and not tree.joint_stiffness > 0:
        raise InvalidShape(
            f"must be above zero, got {tree.joint_stiffness}", path="tree.joint_stiffness"
        )


def _elements(fork: float, cantle: float, length: float) -> tuple[int, int, int]:
    """Elements before the fork, up to the cantle and behind it, near one size."""
    front = max(2, round(ELEMENTS * fork / length))
    rear = max(2, round(ELEMENTS * (length - cantle) / length))
    return front, max(4, ELEMENTS - front - rear), rear


def _nodes(fork: float, cantle: float, length: float, counts: tuple[int, int, int]) -> Array:
    front, middle, rear = counts
    return np.concatenate(
        [
            np.linspace(0.0, fork, front + 1),
            np.linspace(fork, cantle, middle + 1)[1:],
            np.linspace(cantle, length, rear + 1)[1:],
        ]
    )


def _components(count: int, fork: int, cantle: int, *, is_rigid: bool) -> Array:
    """Nodal deflections and slopes (2, 2 K, E) of what can move, the fork being still."""
    number = np.arange(4 * count).reshape(2, count, 2)
    columns, kept = np.eye(4 * count), np.ones(4 * count, bool)
    kept[number[:, fork, 0]] = False
    if is_rigid:
        kept[number[:, fork, 1]] = False
        left, right = number[:, cantle, 1]
        columns[:, left] += columns[:, right]
        kept[right] = False
    return columns[:, kept].reshape(2, 2 * count, -1)


def set_shape(tree: FlexibleTree, side: int, x: Array) -> Array:
    """Return how far the set that a bar has taken lifts it at x behind the tip [m].

    Notes
    -----
    A parabola of the sagitta read, that passes through fork and cantle: those hold the bar.
    """
    bar = (tree.left, tree.right)[side]
    product = (x - tree.fork_from_tip) * (x - tree.cantle_from_tip)
    return np.asarray(4 * bar.set_rock / STRAIGHT_EDGE**2 * product, float)


def flexural_stiffness(*, span: float, force: float, deflection: float) -> float:
    """Return E I [N m2] of a bar from a weight hung at the middle of a span.

    Parameters
    ----------
    span : float
        Between the two supports [m].
    force : float
        Of the weight [N].
    deflection : float
        How far the middle goes down [m].

    Notes
    -----
    E I = F L3 / (48 d), a beam of even stiffness on two supports.

    References
    ----------
    Roark, Formulas for Stress and Strain, beams, simply supported, load at the middle [memory].
    """
    for name, value in (("span", span), ("force", force), ("deflection", deflection)):
        if not (np.isfinite(value) and value > 0):
            raise InvalidShape(f"must be above zero, got {value}", path=name)
    return force * span**3 / (48 * deflection)
