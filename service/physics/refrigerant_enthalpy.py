"""Enthalpy, entropy and density of the catalogue's refrigerants beside the saturation curves.

Absolute pressures in Pa, temperatures in K, enthalpies in J/kg; arrays of any shape, draws on the
last axis.  Only differences of enthalpy mean anything: each fluid has a zero of its own.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cache

import numpy as np

from service.physics import vapour_sampling as sampling
from service.physics.array_types import FloatArray, FloatLike
from service.physics.refrigerant import SaturationCurves, fingerprint, saturation_curves
from service.reference.prepared import prepared_arrays
from service.reference.refrigerants import REFRIGERANTS

#: Raised with every change of what is sampled or how it is laid out.
_FORMAT = 2
#: Draws a little under the dew point continue the vapour smoothly: an instrument's error may put
#: them there.  Further down it is wet, and its enthalpy cannot be told from its temperature.
_LOWEST_SUPERHEAT = -6.0


def _basis(unit: FloatArray, terms: int) -> FloatArray:
    """Chebyshev polynomials 0 ... terms - 1, shape (terms, ...)."""
    rows = np.empty((terms, *unit.shape))
    rows[0] = 1.0
    rows[1] = unit
    double = 2.0 * unit
    for term in range(2, terms):
        rows[term] = double * rows[term - 1] - rows[term - 2]
    return rows


def _unit(value: FloatArray, low: float, high: float) -> FloatArray:
    return np.asarray((2.0 * value - (low + high)) / (high - low))


@dataclass(frozen=True, slots=True)
class Vapour:
    """State of a vapour: arrays of one shape."""

    enthalpy: FloatArray
    entropy: FloatArray
    density: FloatArray


@dataclass(frozen=True, slots=True)
class SinglePhase:
    """Vapour and liquid of one refrigerant.  Outside the tables an answer is not-a-number."""

    curves: SaturationCurves
    _vapour: FloatArray
    _entropies: FloatArray
    _liquid: FloatArray
    _logarithms: tuple[float, float]
    _temperatures: tuple[float, float]

    def vapour(self, pressure: FloatLike, temperature: FloatLike) -> Vapour:
        """Superheated vapour at an absolute pressure [Pa] and a temperature [K]."""
        along, across = self._place(pressure, temperature)
        rows = np.tensordot(self._vapour[:3].transpose(0, 2, 1), along, axes=1)
        rows *= across
        enthalpy, entropy, logarithm = rows.sum(axis=1)
        return Vapour(enthalpy, entropy, np.exp(logarithm))

    def vapour_enthalpy(self, pressure: FloatLike, temperature: FloatLike) -> FloatArray:
        """Enthalpy [J/kg] of superheated vapour alone, at a third of the work."""
        return self._value(0, *self._place(pressure, temperature))

    def _place(self, pressure: FloatLike, temperature: FloatLike) -> tuple[FloatArray, FloatArray]:
        """Both sets of polynomials at a pressure and a temperature."""
        pressures, temperatures = np.broadcast_arrays(
            np.asarray(pressure, dtype=np.float64), np.asarray(temperature, dtype=np.float64)
        )
        superheat = temperatures - self.curves.dew_temperature(pressures)
        inside = (superheat >= _LOWEST_SUPERHEAT) & (superheat <= sampling.HIGHEST_SUPERHEAT)
        across = _basis(
            np.where(inside, _unit(superheat, 0.0, sampling.HIGHEST_SUPERHEAT), np.nan),
            sampling.TERMS[1],
        )
        return self._over_pressure(pressures), across

    def enthalpy_at_entropy(self, pressure: FloatLike, entropy: FloatLike) -> FloatArray:
        """Enthalpy [J/kg] of vapour at a pressure [Pa] and an entropy [J/(kg K)]: the end of an
        ideal compression."""
        along = self._over_pressure(np.asarray(pressure, dtype=np.float64))
        dew, hot = (np.tensordot(row, along, axes=1) for row in self._entropies)
        place = 2.0 * (np.asarray(entropy, dtype=np.float64) - dew) / (hot - dew) - 1.0
        with np.errstate(invalid="ignore"):
            place = np.where((place >= -1.1) & (place <= 1.0), place, np.nan)
        return self._value(3, along, _basis(place, sampling.TERMS[1]))

    def liquid_enthalpy(self, pressure: FloatLike, temperature: FloatLike) -> FloatArray:
        """Enthalpy [J/kg] of subcooled liquid at a pressure [Pa] and a temperature [K]."""
        value = np.asarray(temperature, dtype=np.float64)
        low, high = self._temperatures
        with np.errstate(invalid="ignore"):
            value = np.where((value >= low) & (value <= high), value, np.nan)
        base, slope, curvature = np.tensordot(
            self._liquid, _basis(_unit(value, low, high), sampling.LIQUID_TERMS), axes=1
        )
        excess = pressure - self.curves.bubble_pressure(value)
        return np.asarray(base + excess * (slope + excess * curvature))

    def _over_pressure(self, pressure: FloatArray) -> FloatArray:
        low, high = self._logarithms
        with np.errstate(invalid="ignore", divide="ignore"):
            logarithm = np.log(pressure)
            logarithm = np.where((logarithm >= low) & (logarithm <= high), logarithm, np.nan)
        return _basis(_unit(logarithm, low, high), sampling.TERMS[0])

    def _value(self, row: int, along: FloatArray, across: FloatArray) -> FloatArray:
        return np.asarray((np.tensordot(self._vapour[row].T, along, axes=1) * across).sum(axis=0))


def _sample_all() -> dict[str, FloatArray]:
    tables = {}
    for designation, row in REFRIGERANTS.items():
        curves = saturation_curves(designation)
        arrays = sampling.sample(
            row,
            curves.dew_temperature,
            curves.dew_pressure,
            curves.bubble_pressure,
            curves.critical_temperature,
        )
        tables.update({f"{designation}/{key}": array for key, array in arrays.items()})
    return tables


def _fingerprint() -> str:
    text = repr(
        (
            _FORMAT,
            fingerprint(),
            sampling.TERMS,
            sampling.LIQUID_TERMS,
            sampling.HIGHEST_SUPERHEAT,
            sampling.CRITICAL_MARGIN,
            sampling.LOWEST_TEMPERATURE,
            sampling.HIGHEST_TEMPERATURE,
        )
    )
    return hashlib.sha256(text.encode()).hexdigest()[:16]


@cache
def _all() -> dict[str, SinglePhase]:
    arrays = prepared_arrays("vapour", _fingerprint(), _sample_all)
    found = {}
    for designation in REFRIGERANTS:
        logarithms, temperatures = arrays[f"{designation}/ranges"].tolist()
        found[designation] = SinglePhase(
            saturation_curves(designation),
            arrays[f"{designation}/vapour"],
            arrays[f"{designation}/entropies"],
            arrays[f"{designation}/liquid"],
            tuple(logarithms),
            tuple(temperatures),
        )
    return found


def single_phase(designation: str) -> SinglePhase:
    """Vapour and liquid of one refrigerant of the catalogue.

    Raises
    ------
    KeyError
        If the catalogue does not know the designation.
    """
    return _all()[designation]


def warm_up() -> None:
    """Load (or, on the first start, compute) all tables."""
    _all()
