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
from service.physics.array_types import FloatArray, FloatLike
from service.reference.prepared import prepared_arrays
from service.reference.refrigerants import MIXTURE_CRITICAL_POINTS, REFRIGERANTS

#: Raised with every change of what the sampling computes or of how it is laid out.
_FORMAT = 6
#: Share of a step by which the grid is drawn in, so that both ends of a range lie inside it whatever
#: the rounding; it moves a temperature by less than 0.1 microkelvin.
_HAIR = 1e-10


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Cubic pieces on a uniform grid.

    A column of not-a-number stands at each end of the table and takes every argument outside the
    grid, so that no separate look at the range is needed.
    """

    coefficients: tuple[FloatArray, FloatArray, FloatArray, FloatArray]
    scale: float
    offset: float
    start: float
    end: float

    @classmethod
    def of(cls, table: FloatArray, grid: FloatArray) -> _Pieces:
        """From a (4, pieces) table, highest power first, and the grid's start and step."""
        start, step = float(grid[0]), float(grid[1])
        # In units of the step, the distance from the left knot runs from 0 to 1.
        scaled = table * step ** np.arange(3, -1, -1, dtype=np.float64)[:, np.newaxis]
        padded = np.pad(scaled, ((0, 0), (1, 1)), constant_values=np.nan)
        a, b, c, d = (np.ascontiguousarray(row) for row in padded)
        scale = (1.0 - 2.0 * _HAIR) / step
        offset = 1.0 + _HAIR - start * scale
        return cls((a, b, c, d), scale, offset, start, start + step * table.shape[1])

    def __call__(self, x: FloatArray) -> FloatArray:
        """Values at x; not-a-number outside the grid.  Call with floating-point warnings off."""
        fraction = x * self.scale
        fraction += self.offset
        whole = np.floor(fraction)
        fraction -= whole
        # Not-a-number turns into some integer, and its fraction keeps the answer not-a-number.
        index = whole.astype(np.intp)
        a, b, c, d = self.coefficients
        value = a.take(index, mode="clip")
        value *= fraction
        value += b.take(index, mode="clip")
        value *= fraction
        value += c.take(index, mode="clip")
        value *= fraction
        value += d.take(index, mode="clip")
        return np.asarray(value)


def _temperature(pieces: _Pieces, pressure: FloatLike) -> FloatArray:
    with np.errstate(invalid="ignore", divide="ignore"):
        return pieces(np.log(np.asarray(pressure, dtype=np.float64)))


def _pressure(pieces: _Pieces, temperature: FloatLike) -> FloatArray:
    with np.errstate(invalid="ignore"):
        return np.asarray(np.exp(pieces(np.asarray(temperature, dtype=np.float64))))


@dataclass(frozen=True, slots=True, eq=False)
class SaturationCurves:
    """Bubble and dew curve of one refrigerant.

    Arguments are numbers or arrays of any shape and the answer has the same shape.  Outside the
    range of a curve it is not-a-number; nothing is clamped, extrapolated or raised.

    Attributes
    ----------
    designation : str
        ASHRAE designation.
    critical_temperature : float
        [K]
    critical_pressure : float
        Absolute [Pa].
    molar_mass : float
        [kg/mol]
    bridged : tuple of (float, float)
        Temperature intervals [K] where CoolProp has no answer of its own and the spline bridges
        the gap, of both curves together.
    """

    designation: str
    critical_temperature: float
    critical_pressure: float
    molar_mass: float
    bridged: tuple[tuple[float, float], ...]
    _bubble_temperature: _Pieces
    _bubble_logarithm: _Pieces
    _dew_temperature: _Pieces
    _dew_logarithm: _Pieces

    def bubble_temperature(self, pressure: FloatLike) -> FloatArray:
        """Temperature [K] at which liquid begins to boil at an absolute pressure [Pa]."""
        return _temperature(self._bubble_temperature, pressure)

    def dew_temperature(self, pressure: FloatLike) -> FloatArray:
        """Temperature [K] at which vapour begins to condense at an absolute pressure [Pa]."""
        return _temperature(self._dew_temperature, pressure)

    def bubble_pressure(self, temperature: FloatLike) -> FloatArray:
        """Absolute pressure [Pa] at which liquid begins to boil at a temperature [K]."""
        return _pressure(self._bubble_logarithm, temperature)

    def dew_pressure(self, temperature: FloatLike) -> FloatArray:
        """Absolute pressure [Pa] at which vapour begins to condense at a temperature [K]."""
        return _pressure(self._dew_logarithm, temperature)

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


def fingerprint() -> str:
    """Changes with whatever the sampled curves depend on; asks no slow library for it."""
    text = repr(
        (
            _FORMAT,
            version("CoolProp"),
            sampling.LOWEST_TEMPERATURE,
            sampling.HIGHEST_TEMPERATURE,
            sampling.CRITICAL_MARGIN,
            sampling.STEP,
            sampling.KNOTS,
            sampling.WIDEST_BRIDGE,
            sampling.WRONG_ROOT,
            [(r.designation, r.fluid, r.components, r.borrowed_pairs) for r in REFRIGERANTS.values()],
            sorted(MIXTURE_CRITICAL_POINTS.items()),
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
    arrays = prepared_arrays("saturation", fingerprint(), _sample_all)
    curves = {}
    for designation in REFRIGERANTS:
        pieces = {}
        gaps: list[tuple[float, float]] = []
        for name in ("bubble", "dew"):
            prefix = f"{designation}/{name}"
            temperature_grid, logarithm_grid = arrays[f"{prefix}.grids"]
            pieces[f"_{name}_temperature"] = _Pieces.of(arrays[f"{prefix}.temperature"], temperature_grid)
            pieces[f"_{name}_logarithm"] = _Pieces.of(arrays[f"{prefix}.logarithm"], logarithm_grid)
            gaps += [(float(a), float(b)) for a, b in arrays[f"{prefix}.gaps"]]
        temperature, pressure, molar_mass = arrays[f"{designation}/constants"].tolist()
        curves[designation] = SaturationCurves(
            designation, temperature, pressure, molar_mass, tuple(sorted(gaps)), **pieces
        )
    return curves


def saturation_curves(designation: str) -> SaturationCurves:
    """The curves of one refrigerant of the catalogue.

    Parameters
    ----------
    designation : str
        As the catalogue spells it, e.g. ``"R-410A"``.

    Raises
    ------
    KeyError
        If the catalogue does not know the designation.
    """
    return _all_curves()[designation]


def warm_up() -> None:
    """Load (or, on the first start, compute) all curves."""
    _all_curves()
