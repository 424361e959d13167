"""Saturation curves of the catalogue's refrigerants.

Absolute pressures in Pa, temperatures in K; arrays of any shape, draws on the last axis.  Superheat
takes the dew curve, subcooling the bubble curve.  Curves come from CoolProp, sampled once into
cubic pieces over uniform grids, so that an evaluation is index arithmetic and one polynomial.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version

import numpy as np

from service.physics import saturation_sampling as sampling
from service.physics.array_types import FloatArray
from service.reference.prepared import prepared_arrays
from service.reference.refrigerants import REFRIGERANTS

_FORMAT = 4
_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Cubic pieces on a uniform grid; outside it there is no number."""

    coefficients: tuple[FloatArray, FloatArray, FloatArray, FloatArray]
    start: float
    step: float
    count: int

    @classmethod
    def of(cls, table: FloatArray, grid: FloatArray) -> _Pieces:
        rows = tuple(np.ascontiguousarray(row) for row in table)
        return cls(
            (rows[0], rows[1], rows[2], rows[3]), float(grid[0]), float(grid[1]), table.shape[1]
        )

    @property
    def end(self) -> float:
        return self.start + self.step * self.count

    def __call__(self, x: FloatArray) -> FloatArray:
        position = np.atleast_1d((np.asarray(x, dtype=np.float64) - self.start) / self.step)
        # A hair of slack, so that the ends of the range themselves are inside it.
        if position.size and position.min() >= -_SLACK and position.max() <= self.count + _SLACK:
            value = self._evaluate(position)
        else:  # also where any is not a number, which compares false
            inside = (position >= -_SLACK) & (position <= self.count + _SLACK)
            value = np.where(inside, self._evaluate(np.where(inside, position, 0.0)), np.nan)
        return value.reshape(np.shape(x))

    def _evaluate(self, position: FloatArray) -> FloatArray:
        index = np.minimum(position.astype(np.intp), self.count - 1)
        t = (position - index) * self.step
        a, b, c, d = self.coefficients
        value = a.take(index) * t
        value += b.take(index)
        value *= t
        value += c.take(index)
        value *= t
        value += d.take(index)
        return value


@dataclass(frozen=True, slots=True)
class SaturationCurves:
    """Bubble and dew curve of one refrigerant.

    Outside their range the functions return not-a-number; nothing is clamped or extrapolated.
    ``bridged`` lists temperature intervals [K] where CoolProp has no answer of its own.
    """

    designation: str
    critical_temperature: float
    critical_pressure: float
    bridged: tuple[tuple[float, float], ...]
    _bubble_temperature: _Pieces
    _bubble_logarithm: _Pieces
    _dew_temperature: _Pieces
    _dew_logarithm: _Pieces

    def bubble_temperature(self, pressure: FloatArray) -> FloatArray:
        """Temperature [K] at which liquid begins to boil at an absolute pressure [Pa]."""
        return self._bubble_temperature(_logarithm(pressure))

    def dew_temperature(self, pressure: FloatArray) -> FloatArray:
        """Temperature [K] at which vapour begins to condense at an absolute pressure [Pa]."""
        return self._dew_temperature(_logarithm(pressure))

    def bubble_pressure(self, temperature: FloatArray) -> FloatArray:
        """Absolute pressure [Pa] at which liquid begins to boil at a temperature [K]."""
        return np.exp(self._bubble_logarithm(temperature))

    def dew_pressure(self, temperature: FloatArray) -> FloatArray:
        """Absolute pressure [Pa] at which vapour begins to condense at a temperature [K]."""
        return np.exp(self._dew_logarithm(temperature))

    @property
    def temperature_range(self) -> tuple[float, float]:
        """Range of both curves over temperature [K]."""
        curves = (self._bubble_logarithm, self._dew_logarithm)
        return max(c.start for c in curves), min(c.end for c in curves)

    @property
    def pressure_range(self) -> tuple[float, float]:
        """Range of both curves over absolute pressure [Pa]."""
        curves = (self._bubble_temperature, self._dew_temperature)
        return (
            float(np.exp(max(c.start for c in curves))),
            float(np.exp(min(c.end for c in curves))),
        )


def _logarithm(pressure: FloatArray) -> FloatArray:
    p = np.asarray(pressure, dtype=np.float64)
    if p.size and p.min() > 0.0:
        return np.log(p)
    return np.log(np.where(p > 0.0, p, np.nan))


def _fingerprint() -> str:
    text = repr(
        (
            _FORMAT,
            version("CoolProp"),
            sampling.LOWEST_TEMPERATURE,
            sampling.HIGHEST_TEMPERATURE,
            sampling.CRITICAL_MARGIN,
            sampling.STEP,
            sampling.KNOTS,
            [(r.designation, r.fluid, r.components) for r in REFRIGERANTS.values()],
        )
    )
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _sample_all() -> dict[str, FloatArray]:
    return {
        f"{designation}/{key}": array
        for designation, row in REFRIGERANTS.items()
        for key, array in sampling.sample(row).items()
    }


@cache
def _all_curves() -> dict[str, SaturationCurves]:
    arrays = prepared_arrays("saturation", _fingerprint(), _sample_all)
    curves = {}
    for designation in REFRIGERANTS:
        pieces = {}
        gaps: list[tuple[float, float]] = []
        for name in ("bubble", "dew"):
            prefix = f"{designation}/{name}"
            temperature_grid, logarithm_grid = arrays[f"{prefix}.grids"]
            pieces[f"_{name}_temperature"] = _Pieces.of(
                arrays[f"{prefix}.temperature"], temperature_grid
            )
            pieces[f"_{name}_logarithm"] = _Pieces.of(arrays[f"{prefix}.logarithm"], logarithm_grid)
            gaps += [(float(a), float(b)) for a, b in arrays[f"{prefix}.gaps"]]
        critical = arrays[f"{designation}/critical"]
        curves[designation] = SaturationCurves(
            designation, float(critical[0]), float(critical[1]), tuple(sorted(gaps)), **pieces
        )
    return curves


def saturation_curves(designation: str) -> SaturationCurves:
    """The curves of one refrigerant of the catalogue.

    Raises
    ------
    KeyError
        If the catalogue does not know the designation.
    """
    return _all_curves()[designation]


def warm_up() -> None:
    """Load (or, on the first start, compute) all curves."""
    _all_curves()
