"""How the back and what lies on it give way: layers built from their data, alone or in series.

Units are SI: modulus per area [Pa/m], pressures [Pa], compressions [m].
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from .errors import InvalidShape
from .laws import (
    Array,
    LayerLaw,
    LinearLaw,
    LinearOnStiffeningLaw,
    StiffeningLaw,
    TableLaw,
    table_from_nodes,
)
from .profiles import monotone_cubic

__all__ = [
    "Array",
    "LayerLaw",
    "LinearLaw",
    "LinearOnStiffeningLaw",
    "StiffeningLaw",
    "TableLaw",
    "linear_layer",
    "series",
    "stiffening_layer",
    "table_layer",
    "tabulated",
    "thin_layer_modulus",
]

TABLE_INTERVALS = 2048
TABLE_PRESSURE = 2.0e5  # [Pa] assumption: about five times the highest pressure under a saddle


def linear_layer(*, modulus_per_area: float) -> LinearLaw:
    """Return a linear layer with a modulus per area [Pa/m]."""
    return LinearLaw(_positive("modulus_per_area", modulus_per_area))


def stiffening_layer(*, pressure_scale: float, compression_scale: float) -> StiffeningLaw:
    """Return p = ps (exp(u/us) - 1) from its pressure scale [Pa] and compression scale [m]."""
    return StiffeningLaw(
        _positive("pressure_scale", pressure_scale),
        _positive("compression_scale", compression_scale),
    )


def table_layer(*, compression: ArrayLike, pressure: ArrayLike) -> TableLaw:
    """Return a law through measured points, by monotone cubic interpolation.

    Parameters
    ----------
    compression, pressure : (n,) arrays
        Increasing from zero [m], [Pa].

    Raises
    ------
    InvalidShape
        If there are fewer than two points, or they don't rise strictly from zero.

    References
    ----------
    F. N. Fritsch and R. E. Carlson, Monotone piecewise cubic interpolation, SIAM J. Numer. Anal.
    17 (1980) 238-246, doi 10.1137/0717021 [memory].
    """
    u, p = np.asarray(compression, float), np.asarray(pressure, float)
    if u.ndim != 1 or u.shape != p.shape or len(u) < 2:
        raise InvalidShape(f"needs two equal lists, got {u.shape} and {p.shape}", path="table")
    if u[0] != 0 or p[0] != 0 or np.any(np.diff(u) <= 0) or np.any(np.diff(p) <= 0):
        raise InvalidShape("compression and pressure must rise strictly from zero", path="table")
    curve = monotone_cubic(u, p)
    grid = np.linspace(0.0, u[-1], TABLE_INTERVALS + 1)
    return table_from_nodes(grid, curve(grid), curve(grid, 1))


def tabulated(law: LayerLaw, *, pressure_limit: float = TABLE_PRESSURE) -> TableLaw:
    """Return a table of a law up to a pressure [Pa], quicker to evaluate than closed forms.

    The error is of fourth order in the table's step: below 1e-9 for the laws in this module.
    """
    limit = float(law.compression(_positive("pressure_limit", pressure_limit)))
    grid = np.linspace(0.0, limit, TABLE_INTERVALS + 1)
    return table_from_nodes(grid, law.pressure(grid), law._tangent(grid))


def series(*laws: LayerLaw) -> LayerLaw:
    """Return the law of layers in series: same pressure in each, compressions added.

    Linear layers combine exactly (1/k = sum 1/k_i); one stiffening layer on linear ones has a
    closed form; anything else becomes a table.
    """
    if not laws:
        raise InvalidShape("needs at least one layer", path="series")
    moduli = [law.modulus_per_area for law in laws if isinstance(law, LinearLaw)]
    others = [law for law in laws if not isinstance(law, LinearLaw)]
    linear = [LinearLaw(1.0 / sum(1.0 / k for k in moduli))] if moduli else []
    parts = [*linear, *others]
    if len(parts) == 1:
        return parts[0]
    first = others[0]
    if linear and len(others) == 1 and isinstance(first, StiffeningLaw):
        return LinearOnStiffeningLaw(
            linear[0].modulus_per_area, first.pressure_scale, first.compression_scale
        )
    return _table_of_series(parts)


def _table_of_series(parts: list[LayerLaw]) -> TableLaw:
    """Pressures at even compressions: looked up between nodes 1 % apart, then Newton's method.

    What is looked up is within 1e-4, so that two steps are to the last digit and the third is for
    laws with kinks.
    """

    def total(pressure: Array) -> Array:
        return np.asarray(sum(law.compression(pressure) for law in parts), float)

    def compressed(pressure: Array) -> tuple[Array, Array]:
        each = [law.compression(pressure) for law in parts]
        softness = (1.0 / law._tangent(u) for law, u in zip(parts, each, strict=True))
        return np.asarray(sum(each), float), np.asarray(sum(softness), float)

    grid = np.linspace(0.0, float(total(np.asarray(TABLE_PRESSURE))), TABLE_INTERVALS + 1)
    nodes = np.append(0.0, np.geomspace(1e-6, 1.01, 2048) * TABLE_PRESSURE)
    pressure = np.interp(grid, total(nodes), nodes)
    for _ in range(3):
        depth, softness = compressed(pressure)
        pressure = np.maximum(pressure - (depth - grid) / softness, 0.0)
    pressure[0] = 0.0
    return table_from_nodes(grid, pressure, 1.0 / compressed(pressure)[1])


def thin_layer_modulus(
    *,
    young: float,
    poisson: float,
    thickness: float,
    condition: Literal["bonded", "slippery", "unconfined"] = "bonded",
) -> float:
    """Return the modulus per area [Pa/m] of a thin elastic layer on a stiff base.

    Parameters
    ----------
    young : float
        Young's modulus [Pa].
    poisson : float
        Poisson's ratio, 0 to below 0.5 [-].
    thickness : float
        [m], small beside the contact width.
    condition : {"bonded", "slippery", "unconfined"}
        Whether the layer may move sideways: not at all, in one direction, freely.

    Notes
    -----
    Bonded (1-nu)E/((1+nu)(1-2nu)t); slippery, plane strain, E/((1-nu2)t); unconfined E/t. The
    bonded form loses meaning as nu nears 0.5, where the width of the contact takes over.

    References
    ----------
    K. L. Johnson, Contact Mechanics (Cambridge 1985), sec. 4.3 [memory]; limits near nu = 0.5:
    T. Chandler and D. Vella, Proc. R. Soc. A 2020, arXiv 2010.11133 [abstract].
    """
    e, t = _positive("young", young), _positive("thickness", thickness)
    if not 0.0 <= poisson < 0.5:
        raise InvalidShape(f"must be from 0 to below 0.5, got {poisson!r}", path="poisson")
    factors = {
        "bonded": (1 - poisson) / ((1 + poisson) * (1 - 2 * poisson)),
        "slippery": 1 / (1 - poisson**2),
        "unconfined": 1.0,
    }
    if condition not in factors:
        raise InvalidShape(f"must be one of {sorted(factors)}, got {condition!r}", path="condition")
    return factors[condition] * e / t


def _positive(name: str, value: float) -> float:
    if not (np.isfinite(value) and value > 0.0):
        raise InvalidShape(f"must be a positive number, got {value!r}", path=name)
    return float(value)
