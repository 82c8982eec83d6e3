"""How the back and what lies on it give way: pressure as a function of compression.

Conventions: compression ``u`` [m] is positive when the layer is pressed together; pressure is in
Pa, energy per area in J/m2, tangent (modulus per area) in Pa/m. For ``u <= 0`` all three are zero:
the layer pushes and never pulls. Each law is monotone, so the energy of a contact is convex.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PchipInterpolator
from scipy.special import wrightomega

from .errors import InvalidShape

Array = NDArray[np.float64]

TABLE_INTERVALS = 4096
TABLE_PRESSURE = 4.0e5  # [Pa] assumption: about ten times the highest pressure under a saddle


class LayerLaw(ABC):
    """A monotone pressure law of a layer; it doesn't pull.

    Subclasses give the four underscored functions for compression (or pressure) above zero.
    """

    def pressure(self, compression: ArrayLike) -> Array:
        """Return the pressure [Pa] at a compression [m] of any shape."""
        return self._pressure(np.maximum(np.asarray(compression, float), 0.0))

    def energy(self, compression: ArrayLike) -> Array:
        """Return the stored energy per area [J/m2], the integral of the pressure."""
        return self._energy(np.maximum(np.asarray(compression, float), 0.0))

    def tangent(self, compression: ArrayLike) -> Array:
        """Return d pressure / d compression [Pa/m]; zero where there is no contact."""
        u = np.asarray(compression, float)
        return np.multiply(u > 0.0, self._tangent(np.maximum(u, 0.0)))

    def compression(self, pressure: ArrayLike) -> Array:
        """Return the compression [m] that carries a pressure [Pa]; the inverse law."""
        return self._compression(np.maximum(np.asarray(pressure, float), 0.0))

    def pressure_and_tangent(self, compression: Array) -> tuple[Array, Array]:
        """Return pressure and tangent together, for laws that share work between the two."""
        return self.pressure(compression), self.tangent(compression)

    @abstractmethod
    def _pressure(self, u: Array) -> Array: ...

    @abstractmethod
    def _energy(self, u: Array) -> Array: ...

    @abstractmethod
    def _tangent(self, u: Array) -> Array: ...

    @abstractmethod
    def _compression(self, p: Array) -> Array: ...


@dataclass(frozen=True)
class LinearLaw(LayerLaw):
    """p = k u, with k the modulus per area [Pa/m]."""

    modulus_per_area: float

    def pressure_and_tangent(self, compression: Array) -> tuple[Array, Array]:
        """Return pressure and tangent in as few passes as can be."""
        pressure = np.maximum(compression, 0.0)
        pressure *= self.modulus_per_area
        tangent = (compression > 0.0).astype(float)
        tangent *= self.modulus_per_area
        return pressure, tangent

    def _pressure(self, u: Array) -> Array:
        return self.modulus_per_area * u

    def _energy(self, u: Array) -> Array:
        return 0.5 * self.modulus_per_area * u * u

    def _tangent(self, u: Array) -> Array:
        return np.full_like(u, self.modulus_per_area)

    def _compression(self, p: Array) -> Array:
        return p / self.modulus_per_area


@dataclass(frozen=True)
class StiffeningLaw(LayerLaw):
    """p = ps (exp(u/us) - 1): soft at first touch, stiffer the further it is pressed."""

    pressure_scale: float
    compression_scale: float

    def _pressure(self, u: Array) -> Array:
        return self.pressure_scale * np.expm1(u / self.compression_scale)

    def _energy(self, u: Array) -> Array:
        x = u / self.compression_scale
        return self.pressure_scale * self.compression_scale * _expm1_less_x(x)

    def _tangent(self, u: Array) -> Array:
        return self.pressure_scale / self.compression_scale * np.exp(u / self.compression_scale)

    def _compression(self, p: Array) -> Array:
        return self.compression_scale * np.log1p(p / self.pressure_scale)


def _expm1_less_x(x: Array) -> Array:
    """exp(x) - 1 - x without cancellation near zero."""
    series_sum = x * x * (0.5 + x * (1 / 6 + x * (1 / 24 + x * (1 / 120 + x / 720))))
    return np.where(x < 0.02, series_sum, np.expm1(x) - x)


@dataclass(frozen=True)
class LinearOnStiffeningLaw(LayerLaw):
    """A stiffening pad on linear tissue, in closed form.

    Notes
    -----
    u = p/k + us ln(1 + p/ps) has the inverse p = ps (w/m - 1) with m = ps/(k us) and
    w = omega(m + ln m + u/us), Wright's omega function; dp/du = k w/(1 + w). Derived here.
    """

    modulus_per_area: float
    pressure_scale: float
    compression_scale: float

    @property
    def _ratio(self) -> float:
        return self.pressure_scale / (self.modulus_per_area * self.compression_scale)

    def _omega(self, u: Array) -> Array:
        argument = self._ratio + np.log(self._ratio) + u / self.compression_scale
        return np.asarray(wrightomega(argument), float)

    def _pressure(self, u: Array) -> Array:
        return np.maximum(self.pressure_scale * (self._omega(u) / self._ratio - 1.0), 0.0)

    def _energy(self, u: Array) -> Array:
        p = self._pressure(u)
        pad = StiffeningLaw(self.pressure_scale, self.compression_scale)
        return p * p / (2 * self.modulus_per_area) + pad._energy(pad._compression(p))

    def _tangent(self, u: Array) -> Array:
        w = self._omega(u)
        return self.modulus_per_area * w / (1.0 + w)

    def pressure_and_tangent(self, compression: Array) -> tuple[Array, Array]:
        """Return pressure and tangent from one evaluation of omega."""
        w = self._omega(np.maximum(compression, 0.0))
        pressure = np.maximum(self.pressure_scale * (w / self._ratio - 1.0), 0.0)
        return pressure, np.multiply(compression > 0.0, self.modulus_per_area * w / (1.0 + w))

    def _compression(self, p: Array) -> Array:
        tissue = p / self.modulus_per_area
        return tissue + self.compression_scale * np.log1p(p / self.pressure_scale)


@dataclass(frozen=True, eq=False)
class TableLaw(LayerLaw):
    """Piecewise cubic pressure on evenly spaced compressions; energy is its exact integral.

    Attributes
    ----------
    step : float
        Spacing of the compressions [m], from zero.
    coefficients : (4, n) array
        Pressure in interval i: c0 + c1 t + c2 t2 + c3 t3, with t = u/step - i in [0, 1] [Pa].
    energies : (n,) array
        Energy per area at the start of each interval [J/m2].

    Notes
    -----
    Beyond the table the pressure goes on straight with the last slope.
    """

    step: float
    coefficients: Array
    energies: Array

    def _locate(self, u: Array) -> tuple[NDArray[np.intp], Array]:
        scaled = u * (1.0 / self.step)
        start = np.minimum(np.floor(scaled), len(self.energies) - 1.0)
        return start.astype(np.intp), scaled - start

    def _cubic(self, index: NDArray[np.intp]) -> list[Array]:
        return [row.take(index, mode="clip") for row in self.coefficients]

    def pressure_and_tangent(self, compression: Array) -> tuple[Array, Array]:
        """Return pressure and tangent; only cells in contact are looked up."""
        pressure = np.zeros(compression.shape)
        tangent = np.zeros(compression.shape)
        touching = np.flatnonzero(compression > 0.0)
        p, k = self._look_up(compression.ravel()[touching])
        pressure.ravel()[touching] = p
        tangent.ravel()[touching] = k
        return pressure, tangent

    def _look_up(self, u: Array) -> tuple[Array, Array]:
        index, t = self._locate(u)
        c0, c1, c2, c3 = self._cubic(index)
        first = c3 * t
        second = first + c2  # Horner's rule for the cubic and, one step behind, its derivative
        first += second
        second *= t
        second += c1
        first *= t
        first += second
        second *= t
        second += c0
        first *= 1.0 / self.step
        return second, first

    def _pressure(self, u: Array) -> Array:
        return self._look_up(u)[0]

    def _tangent(self, u: Array) -> Array:
        return self._look_up(u)[1]

    def _energy(self, u: Array) -> Array:
        index, t = self._locate(u)
        c0, c1, c2, c3 = self._cubic(index)
        inside = t * (c0 + t * (c1 / 2 + t * (c2 / 3 + t * c3 / 4)))
        return self.energies.take(index) + self.step * inside

    def _compression(self, p: Array) -> Array:
        nodes, start = self.step * np.arange(len(self.energies)), self.coefficients[0]
        index = np.clip(np.searchsorted(start, p, side="right") - 1, 0, len(start) - 1)
        low = nodes[index]
        high = np.where(index < len(start) - 1, low + self.step, np.inf)
        u = low + np.maximum(p - start[index], 0.0) / np.maximum(self._tangent(low), 1e-300)
        for _ in range(8):
            u = np.clip(u, low, high)
            pressure, tangent = self._look_up(u)
            u = u - (pressure - p) / np.maximum(tangent, 1e-300)
        return np.asarray(np.clip(u, low, high), float)


def _bisect(function, target: Array, low: Array, high: Array) -> Array:  # type: ignore[no-untyped-def]
    """Solve function(x) = target for an increasing function, to rounding."""
    for _ in range(80):
        middle = 0.5 * (low + high)
        below = function(middle) < target
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(0.5 * (low + high), float)


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
    curve = PchipInterpolator(u, p)
    grid = np.linspace(0.0, u[-1], TABLE_INTERVALS + 1)
    return _table_from_nodes(grid, curve(grid), curve(grid, 1))


def tabulated(law: LayerLaw, *, pressure_limit: float = TABLE_PRESSURE) -> TableLaw:
    """Return a table of a law up to a pressure [Pa], quicker to evaluate than closed forms.

    The error is of fourth order in the table's step: below 1e-9 for the laws in this module.
    """
    limit = float(law.compression(_positive("pressure_limit", pressure_limit)))
    grid = np.linspace(0.0, limit, TABLE_INTERVALS + 1)
    return _table_from_nodes(grid, law.pressure(grid), law._tangent(grid))


def _table_from_nodes(grid: Array, pressure: Array, slope: Array) -> TableLaw:
    """Hermite cubics, slopes limited so that the pressure stays monotone (Fritsch & Carlson)."""
    step = float(grid[1])
    rise = np.diff(pressure)
    limit = 3.0 * np.minimum(np.append(rise, rise[-1]), np.insert(rise, 0, rise[0]))
    m = np.clip(slope * step, 0.0, limit)
    c2 = 3.0 * rise - 2.0 * m[:-1] - m[1:]
    c3 = m[:-1] + m[1:] - 2.0 * rise
    whole = step * (pressure[:-1] + m[:-1] / 2 + c2 / 3 + c3 / 4)
    coefficients = np.vstack([pressure, m, np.append(c2, 0.0), np.append(c3, 0.0)])
    return TableLaw(step, coefficients, np.insert(np.cumsum(whole), 0, 0.0))


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
    def total(pressure: Array) -> Array:
        return np.sum([law.compression(pressure) for law in parts], axis=0)

    limit = float(total(np.asarray(TABLE_PRESSURE)))
    grid = np.linspace(0.0, limit, TABLE_INTERVALS + 1)
    zero = np.zeros_like(grid)
    pressure = _bisect(total, grid, zero, zero + 1.01 * TABLE_PRESSURE)
    pressure[0] = 0.0
    softness = np.sum([1.0 / law._tangent(law.compression(pressure)) for law in parts], axis=0)
    return _table_from_nodes(grid, pressure, 1.0 / softness)


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
    Bonded (1-nu)E/((1+nu)(1-2nu)t); slippery, plane strain, E/((1-nu2)t); unconfined E/t. The bonded
    form loses meaning as nu nears 0.5, where the width of the contact takes over.

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
