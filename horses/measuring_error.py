"""How far two measurings of an unchanged back differ, by the hand that measures.

No published figure for a flexible curve on a horse was found. Until the practice has its own from
measuring the same horses again and again, the default is the difference at which a second tracing
is taken once more (assumption). Errors here are of a change: 95 % of the differences between two
measurings of the same back lie within them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.stats import chi2

HALF_WIDTH, DIP, HOLLOW = "half_width", "dip", "hollow"
DEFAULT_MM = {HALF_WIDTH: 4.0, DIP: 3.0, HOLLOW: 3.0}
# Of two values with the same error, 95 % differ by less than this many standard deviations.
REPEATABILITY_FACTOR = 1.96 * sqrt(2)
CONFIDENCE = 0.90
LEAST_FREEDOM = 8  # three horses of five remounts give 12; fewer than this say too little


@dataclass(frozen=True)
class MeasuringError:
    """Error of a change in each kind of length [mm], and where it comes from."""

    half_width_mm: float = DEFAULT_MM[HALF_WIDTH]
    dip_mm: float = DEFAULT_MM[DIP]
    hollow_mm: float = DEFAULT_MM[HOLLOW]
    source: str = "an assumption, until the practice has measured its own"
    is_own: bool = False


@dataclass(frozen=True)
class Repeatability:
    """What measuring the same backs again gave.

    `sd` is the pooled standard deviation within a back with `freedom` degrees of freedom, `error`
    the repeatability 1.96 x sqrt(2) x sd, with the 90 % interval of it.
    """

    sd: float
    freedom: int
    error: float
    low: float
    high: float

    @property
    def is_enough(self) -> bool:
        return self.freedom >= LEAST_FREEDOM


def repeatability(groups: Sequence[Sequence[float]]) -> Repeatability | None:
    """Return the pooled repeatability of values measured again on each back, None without any.

    The pooled variance is the mean square within groups of a one-way analysis of variance.

    References
    ----------
    J. M. Bland and D. G. Altman 1996, Measurement error, BMJ 312:1654 [memory]; ISO 5725-2
    [memory], which calls the limit 2.8 s.
    """
    used = [np.asarray(group, float) for group in groups if len(group) > 1]
    freedom = sum(len(group) - 1 for group in used)
    if freedom == 0:
        return None
    squares = sum(float(np.sum((group - group.mean()) ** 2)) for group in used)
    sd = sqrt(squares / freedom)
    tail = (1 - CONFIDENCE) / 2
    low, high = (sqrt(squares / chi2.ppf(p, freedom)) for p in (1 - tail, tail))
    return Repeatability(
        sd=sd,
        freedom=freedom,
        error=REPEATABILITY_FACTOR * sd,
        low=REPEATABILITY_FACTOR * low,
        high=REPEATABILITY_FACTOR * high,
    )


def error_from(studied: Mapping[str, Repeatability | None], source: str) -> MeasuringError:
    """Return the practice's own error; kinds it measured too seldom keep the default."""
    own = {kind: r.error for kind, r in studied.items() if r is not None and r.is_enough}
    if not own:
        return MeasuringError()
    return MeasuringError(
        half_width_mm=own.get(HALF_WIDTH, DEFAULT_MM[HALF_WIDTH]),
        dip_mm=own.get(DIP, DEFAULT_MM[DIP]),
        hollow_mm=own.get(HOLLOW, DEFAULT_MM[HOLLOW]),
        source=source,
        is_own=True,
    )
