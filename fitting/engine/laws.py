"""Pressure laws of a layer: pressure, energy and tangent as functions of its compression.

Conventions: compression ``u`` [m] is positive when the layer is pressed together; pressure is in
Pa, energy per area in J/m2, tangent (modulus per area) in Pa/m. For ``u <= 0`` all three are zero:
the layer pushes and never pulls. Each law is monotone, so the energy of a contact is convex.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import wrightomega

Array = NDArray[np.float64]

STRAIGHT_FROM = 25.0  # compression scales; the exponential is then 7e10 times its own scale


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
        tangent = (compression > 0.0).astype(float)
        if self.modulus_per_area != 1.0:
            pressure *= self.modulus_per_area
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
    """p = ps (exp(u/us) - 1): soft at first touch, stiffer the further it is pressed.

    Past 25 compression scales, where no layer is left, it goes on straight: trial poses of an
    iteration may lie far inside the back, and their pressures must stay finite.
    """

    pressure_scale: float
    compression_scale: float

    def _scaled(self, u: Array) -> tuple[Array, Array]:
        """Compression in scales up to the limit, and the rest beyond it."""
        x = u / self.compression_scale
        curved = np.minimum(x, STRAIGHT_FROM)
        return curved, x - curved

    def pressure_and_tangent(self, compression: Array) -> tuple[Array, Array]:
        """Return pressure and tangent from one exponential."""
        curved, rest = self._scaled(np.maximum(compression, 0.0))
        growth = np.exp(curved)
        pressure = self.pressure_scale * (np.expm1(curved) + growth * rest)
        growth *= compression > 0.0
        return pressure, growth * (self.pressure_scale / self.compression_scale)

    def _pressure(self, u: Array) -> Array:
        curved, rest = self._scaled(u)
        return self.pressure_scale * (np.expm1(curved) + np.exp(curved) * rest)

    def _energy(self, u: Array) -> Array:
        curved, rest = self._scaled(u)
        straight = rest * (np.expm1(curved) + 0.5 * np.exp(curved) * rest)
        return self.pressure_scale * self.compression_scale * (_expm1_less_x(curved) + straight)

    def _tangent(self, u: Array) -> Array:
        return self.pressure_scale / self.compression_scale * np.exp(self._scaled(u)[0])

    def _compression(self, p: Array) -> Array:
        curved = np.minimum(np.log1p(p / self.pressure_scale), STRAIGHT_FROM)
        rest = (p / self.pressure_scale - np.expm1(curved)) * np.exp(-curved)
        return self.compression_scale * (curved + np.maximum(rest, 0.0))


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

    @cached_property
    def _intervals(self) -> Array:
        """Coefficients of one interval side by side: one fetch for four, an eighth of the time."""
        return np.ascontiguousarray(self.coefficients.T)

    def _locate(self, u: Array) -> tuple[NDArray[np.intp], Array]:
        scaled = u * (1.0 / self.step)
        start = np.minimum(scaled, len(self.energies) - 1.0).astype(np.intp)
        scaled -= start
        return start, scaled

    def _cubic(self, index: NDArray[np.intp]) -> Array:
        return np.moveaxis(self._intervals.take(index, axis=0, mode="clip"), -1, 0)

    def pressure_and_tangent(self, compression: Array) -> tuple[Array, Array]:
        """Return pressure and tangent; only cells in contact are looked up."""
        pressure = np.zeros(compression.shape)
        tangent = np.zeros(compression.shape)
        touching = np.flatnonzero(compression > 0.0)
        p, k = self._look_up(compression.ravel().take(touching, mode="clip"))
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
        return np.asarray(self.energies.take(index) + self.step * inside, float)

    def _compression(self, p: Array) -> Array:
        nodes, start = self.step * np.arange(len(self.energies)), self.coefficients[0]
        index = np.clip(np.searchsorted(start, p, side="right") - 1, 0, len(start) - 1)
        low = np.asarray(nodes[index], float)
        high = np.where(index < len(start) - 1, low + self.step, np.inf)
        u = low + np.maximum(p - start[index], 0.0) / np.maximum(self._tangent(low), 1e-300)
        for _ in range(8):
            u = np.clip(u, low, high)
            pressure, tangent = self._look_up(u)
            change = (pressure - p) / np.maximum(tangent, 1e-300)
            u = u - change
            if np.all(np.abs(change) <= 1e-14 * u):
                break
        return np.asarray(np.clip(u, low, high), float)


def table_from_nodes(grid: Array, pressure: Array, slope: Array) -> TableLaw:
    """Return Hermite cubics through even nodes.

    Slopes are limited so that the pressure stays monotone (Fritsch & Carlson, see `table_layer`).
    """
    step = float(grid[1])
    rise = np.diff(pressure)
    limit = 3.0 * np.minimum(np.append(rise, rise[-1]), np.insert(rise, 0, rise[0]))
    m = np.clip(slope * step, 0.0, limit)
    c2 = 3.0 * rise - 2.0 * m[:-1] - m[1:]
    c3 = m[:-1] + m[1:] - 2.0 * rise
    whole = step * (pressure[:-1] + m[:-1] / 2 + c2 / 3 + c3 / 4)
    coefficients = np.vstack([pressure, m, np.append(c2, 0.0), np.append(c3, 0.0)])
    return TableLaw(step, coefficients, np.insert(np.cumsum(whole), 0, 0.0))
