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
    highest = 1
    while highest < terms - 1:
        # T(m + n) = 2 T(m) T(n) - T(m - n): with m the highest known, twice as many each time.
        more = min(highest, terms - 1 - highest)
        new = rows[highest + 1 : highest + more + 1]
        np.multiply(2.0 * rows[highest], rows[1 : more + 1], out=new)
        new -= rows[highest - more : highest][::-1]
        highest += more
    return rows


def _combined(coefficients: FloatArray, basis: FloatArray) -> FloatArray:
    """Sums of basis functions (terms, ...) by the last axis of the coefficients (..., terms).

    Where the basis has a first axis (terms, cases, ...), each case is multiplied by itself: the last bits of a
    product depend on its size, and those of no visit and no state of a unit may depend on what is next to it.
    """
    terms, *shape = basis.shape
    table = coefficients.reshape(-1, terms)
    flat = np.empty((len(table), *shape))
    if len(shape) > 1:
        cases = shape[0]
        np.matmul(
            table,
            basis.reshape(terms, cases, -1).transpose(1, 0, 2),
            out=flat.reshape(len(table), cases, -1).transpose(1, 0, 2),
        )
    else:
        np.matmul(table, basis.reshape(terms, -1), out=flat.reshape(len(table), -1))
    return np.asarray(flat.reshape(*coefficients.shape[:-1], *shape))


def _unit(value: FloatArray, low: float, high: float) -> FloatArray:
    return np.asarray((2.0 * value - (low + high)) / (high - low))


def _together(one: FloatLike, other: FloatLike) -> tuple[FloatArray, FloatArray]:
    """Both as arrays of one shape."""
    first, second = np.asarray(one, dtype=np.float64), np.asarray(other, dtype=np.float64)
    if first.shape != second.shape:
        first, second = np.broadcast_arrays(first, second)
    return first, second


@dataclass(frozen=True, slots=True)
class Vapour:
    """State of a vapour: arrays of one shape."""

    enthalpy: FloatArray
    entropy: FloatArray
    density: FloatArray


@dataclass(frozen=True, slots=True)
class Isobar:
    """Vapour at given pressures: all that depends on the pressure alone is there already.

    ``dew`` are the dew temperatures [K] at these pressures, whose shape all arguments have.
    """

    dew: FloatArray
    _along: FloatArray
    _vapour: FloatArray
    _entropies: FloatArray

    def vapour(self, temperature: FloatArray) -> Vapour:
        """Superheated vapour at a temperature [K]."""
        rows = _combined(self._vapour[:3], self._along)
        rows *= self._across(temperature)
        enthalpy, entropy, logarithm = rows.sum(axis=1)
        return Vapour(enthalpy, entropy, np.exp(logarithm))

    def enthalpy(self, temperature: FloatArray) -> FloatArray:
        """Enthalpy [J/kg] of superheated vapour alone, at a third of the work."""
        return self._value(0, self._across(temperature))

    def enthalpy_at_entropy(self, entropy: FloatArray) -> FloatArray:
        """Enthalpy [J/kg] of vapour of an entropy [J/(kg K)]: the end of an ideal compression."""
        dew, hot = _combined(self._entropies, self._along)
        place = 2.0 * (entropy - dew) / (hot - dew) - 1.0
        with np.errstate(invalid="ignore"):
            place = np.where((place >= -1.1) & (place <= 1.0), place, np.nan)
        return self._value(3, _basis(place, sampling.TERMS[1]))

    def _across(self, temperature: FloatArray) -> FloatArray:
        superheat = temperature - self.dew
        inside = (superheat >= _LOWEST_SUPERHEAT) & (superheat <= sampling.HIGHEST_SUPERHEAT)
        return _basis(
            np.where(inside, _unit(superheat, 0.0, sampling.HIGHEST_SUPERHEAT), np.nan),
            sampling.TERMS[1],
        )

    def _value(self, row: int, across: FloatArray) -> FloatArray:
        return np.asarray((_combined(self._vapour[row], self._along) * across).sum(axis=0))


@dataclass(frozen=True, slots=True, eq=False)
class SinglePhase:
    """Vapour and liquid of one refrigerant.  Outside the tables an answer is not-a-number.

    ``_vapour`` (4, superheat terms, pressure terms), ``_entropies`` (2, pressure terms), ``_liquid``
    (3, liquid terms) are coefficients.
    """

    curves: SaturationCurves
    _vapour: FloatArray
    _entropies: FloatArray
    _liquid: FloatArray
    _logarithms: tuple[float, float]
    _temperatures: tuple[float, float]

    def isobar(self, pressure: FloatLike) -> Isobar:
        """Vapour at an absolute pressure [Pa], to be asked at many temperatures."""
        pressures = np.asarray(pressure, dtype=np.float64)
        low, high = self._logarithms
        with np.errstate(invalid="ignore", divide="ignore"):
            logarithm = np.log(pressures)
            logarithm = np.where((logarithm >= low) & (logarithm <= high), logarithm, np.nan)
        along = _basis(_unit(logarithm, low, high), sampling.TERMS[0])
        dew = self.curves.dew_temperature(pressures)
        return Isobar(dew, along, self._vapour, self._entropies)

    def vapour(self, pressure: FloatLike, temperature: FloatLike) -> Vapour:
        """Superheated vapour at an absolute pressure [Pa] and a temperature [K]."""
        pressures, temperatures = _together(pressure, temperature)
        return self.isobar(pressures).vapour(temperatures)

    def vapour_enthalpy(self, pressure: FloatLike, temperature: FloatLike) -> FloatArray:
        """Enthalpy [J/kg] of superheated vapour alone, at a third of the work."""
        pressures, temperatures = _together(pressure, temperature)
        return self.isobar(pressures).enthalpy(temperatures)

    def enthalpy_at_entropy(self, pressure: FloatLike, entropy: FloatLike) -> FloatArray:
        """Enthalpy [J/kg] of vapour at a pressure [Pa] and an entropy [J/(kg K)]: the end of an
        ideal compression."""
        pressures, entropies = _together(pressure, entropy)
        return self.isobar(pressures).enthalpy_at_entropy(entropies)

    def liquid_enthalpy(self, pressure: FloatLike, temperature: FloatLike) -> FloatArray:
        """Enthalpy [J/kg] of subcooled liquid at a pressure [Pa] and a temperature [K]."""
        value = np.asarray(temperature, dtype=np.float64)
        low, high = self._temperatures
        with np.errstate(invalid="ignore"):
            value = np.where((value >= low) & (value <= high), value, np.nan)
        base, slope, curvature = _combined(self._liquid, _basis(_unit(value, low, high), sampling.LIQUID_TERMS))
        excess = pressure - self.curves.bubble_pressure(value)
        return np.asarray(base + excess * (slope + excess * curvature))


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
            np.ascontiguousarray(arrays[f"{designation}/vapour"].transpose(0, 2, 1)),
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
