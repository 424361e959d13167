"""Nitrogen as a real gas: density, and the pressure of a closed volume at another temperature.

Absolute pressures in Pa, temperatures in K; arrays of any shape, draws on the last axis.  Above 300 psi the ideal gas
is not enough: at 500 psi it mistakes a swing of 30 °F for a loss of 2.2 psi.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import version
from typing import NamedTuple

import numpy as np
from numpy.polynomial import chebyshev

from service.physics import nitrogen_sampling as sampling
from service.physics.array_types import FloatArray, FloatLike
from service.reference.prepared import prepared_arrays

#: Gas constant [J/(mol K)], CODATA 2018.
GAS_CONSTANT = 8.314462618
#: Raised with every change of what the sampling computes.
_FORMAT = 1
#: Steps of the inversion: each divides the error by ten or more, from a few percent.
_STEPS = 10


class _Table(NamedTuple):
    coefficients: FloatArray
    molar_mass: float


@cache
def _table() -> _Table:
    fixed = (_FORMAT, version("CoolProp"), sampling.PRESSURES, sampling.TEMPERATURES, sampling.TERMS)
    fingerprint = hashlib.sha256(repr(fixed).encode()).hexdigest()[:16]
    arrays = prepared_arrays("nitrogen", fingerprint, sampling.sample)
    return _Table(arrays["compressibility"], float(arrays["molar_mass"][0]))


def warm_up() -> None:
    """Load (or, on the first start, compute) the table."""
    _table()


def _unit(value: FloatLike, ends: tuple[float, float]) -> FloatArray:
    """A value on -1 ... 1; not a number outside the table."""
    scaled = (2.0 * np.asarray(value, dtype=np.float64) - ends[0] - ends[1]) / (ends[1] - ends[0])
    return np.asarray(np.where(np.abs(scaled) <= 1.0 + 1e-12, scaled, np.nan))


def compressibility(pressure: FloatLike, temperature: FloatLike) -> FloatArray:
    """Compressibility factor p / (rho R T) [1].

    Parameters
    ----------
    pressure : float or array
        Absolute pressure [Pa].
    temperature : float or array
        Temperature [K].

    Returns
    -------
    FloatArray
        Not-a-number outside 0.1 to 110 bar and -40 to 80 °C.
    """
    x, y = np.broadcast_arrays(_unit(pressure, sampling.PRESSURES), _unit(temperature, sampling.TEMPERATURES))
    return np.asarray(chebyshev.chebval2d(x, y, _table().coefficients))


def density(pressure: FloatLike, temperature: FloatLike) -> FloatArray:
    """Density [kg/m3] at an absolute pressure [Pa] and a temperature [K]; not-a-number outside the table."""
    ideal = np.asarray(pressure) * _table().molar_mass / (GAS_CONSTANT * np.asarray(temperature))
    return np.asarray(ideal / compressibility(pressure, temperature))


def pressure_at(density_: FloatLike, temperature: FloatLike) -> FloatArray:
    """Absolute pressure [Pa] of a density [kg/m3] at a temperature [K]; not-a-number outside the table.

    Fixed-point iteration of p = Z(p, T) rho R T / M, whose slope is a few hundredths here.
    """
    ideal = np.asarray(density_) * GAS_CONSTANT * np.asarray(temperature) / _table().molar_mass
    low, high = sampling.PRESSURES
    found = ideal
    for _ in range(_STEPS):
        # Held within the table on the way there; the last value decides.
        found = ideal * compressibility(np.clip(found, low, high), temperature)
    return np.asarray(np.where((found >= low) & (found <= high), found, np.nan))


def compensated(pressure: FloatLike, temperature: FloatLike, other: FloatLike) -> FloatArray:
    """Absolute pressure [Pa] that a closed volume at (pressure, temperature) has at another temperature [K]."""
    return pressure_at(density(pressure, temperature), other)
