"""Limits of trees that bend: do both bars give alike, and does each come back when let go?

That a flexible saddle must flex evenly left and right, and must return, is common practice without
a source. The limits are set here: a straight edge is read to about 1 mm.
"""

from __future__ import annotations

from .rule import SHAPE, Rule

PRACTICE = (
    "A flexible tree must flex evenly left and right and return: common practice; limits set here"
)
FLEX_RULES: tuple[Rule, ...] = (
    Rule(
        code="bar_set",
        measure="bar_set",
        zone="",
        reads=SHAPE,
        plain=(-0.002, 0.002),
        beyond=(-0.005, 0.005),
        unit="m",
        source=PRACTICE,
        status="C; limits D",
        texts=(
            "After flexing the bar does not quite come back to its shape.",
            "After flexing the bar stays bent: it has taken a set.",
        ),
        is_per_side=True,
    ),
    Rule(
        code="set_difference",
        measure="set_difference",
        zone="",
        reads=SHAPE,
        plain=(-0.002, 0.002),
        beyond=(-0.004, 0.004),
        unit="m",
        source=PRACTICE,
        status="C; limits D",
        texts=(
            "The bars do not return alike; one side presses harder than the other.",
            "The bars return unevenly: one side presses harder, with the rider in balance.",
        ),
    ),
    Rule(
        code="stiffness_ratio",
        measure="stiffness_ratio",
        zone="",
        reads=SHAPE,
        plain=(1.0, 1.25),
        beyond=(1.0, 1.5),
        unit="1",
        source=PRACTICE,
        status="C; limits D",
        texts=(
            "One bar bends a little more easily than the other.",
            "One bar bends far more easily than the other.",
        ),
    ),
)
