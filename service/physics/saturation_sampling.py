"""Bubble and dew curves sampled from CoolProp; the only module that imports it.

CoolProp's mixture solver fails in bands inside the normal condensing range unless the phase
envelope is built first, so it is built first.  Points that fail all the same, or break the strict
rise of pressure with temperature, are left out, bridged by the spline and flagged.

References
----------
Bell, I. H. et al. (2014). Pure and pseudo-pure fluid thermophysical property evaluation and the
open-source thermophysical property library CoolProp. Ind. Eng. Chem. Res. 53, 2498-2508.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.reference.refrigerants import MIXTURE_CRITICAL_POINTS, Refrigerant

FloatArray = NDArray[np.float64]

LOWEST_TEMPERATURE = 213.15
HIGHEST_TEMPERATURE = 350.0
CRITICAL_MARGIN = 2.0
STEP = 1.0
KNOTS = 512


@dataclass(frozen=True, slots=True)
class SampledCurve:
    """One curve: cubic pieces of temperature over ln p, and of ln p over temperature.

    Each table is (4, knots - 1), highest power first, over a uniform grid given by start and step.
    """

    temperature_pieces: FloatArray
    temperature_grid: tuple[float, float]
    logarithm_pieces: FloatArray
    logarithm_grid: tuple[float, float]
    gaps: FloatArray


def mixture_state(refrigerant: Refrigerant) -> Any:  # noqa: ANN401 - the library has no types
    """A fresh CoolProp state of the refrigerant, phase envelope not built."""
    from CoolProp import CoolProp as properties  # noqa: N813, PLC0415 - takes seconds

    if refrigerant.fluid is not None:
        return properties.AbstractState("HEOS", refrigerant.fluid)
    names = [fluid for _, fluid, _ in refrigerant.components]
    state = properties.AbstractState("HEOS", "&".join(names))
    state.set_mass_fractions([fraction for *_, fraction in refrigerant.components])
    return state


def critical_point(refrigerant: Refrigerant) -> tuple[float, float]:
    """Critical temperature [K] and pressure [Pa]."""
    if refrigerant.fluid is None:
        return MIXTURE_CRITICAL_POINTS[refrigerant.designation]
    state = mixture_state(refrigerant)
    return float(state.T_critical()), float(state.p_critical())


def saturation_pressures(state: Any, quality: int, temperatures: FloatArray) -> FloatArray:  # noqa: ANN401
    """Saturation pressure [Pa] at each temperature [K]; not a number where the solver fails."""
    import CoolProp  # noqa: PLC0415

    found = np.full(temperatures.shape, np.nan)
    for position, temperature in enumerate(temperatures.tolist()):
        try:
            state.update(CoolProp.QT_INPUTS, quality, temperature)
        except ValueError:
            continue
        found[position] = state.p()
    return found


def _usable(temperatures: FloatArray, pressures: FloatArray) -> NDArray[np.bool_]:
    """Points that are numbers and lie on one smooth rising curve.

    A wrong root of the solver stands off its neighbours; the second difference of ln p over 1/T is
    tiny on a saturation curve and large there.
    """
    good = np.isfinite(pressures)
    for _ in range(3):
        index = np.flatnonzero(good)
        logarithm = np.log(pressures[index])
        inverse = 1.0 / temperatures[index]
        middle = logarithm[:-2] + (logarithm[2:] - logarithm[:-2]) * (
            inverse[1:-1] - inverse[:-2]
        ) / (inverse[2:] - inverse[:-2])
        off = np.abs(logarithm[1:-1] - middle) > 2e-4
        if not off.any():
            break
        good[index[1:-1][off]] = False
    return good


def sample_curve(state: Any, quality: int, top: float) -> SampledCurve:  # noqa: ANN401
    """Sample one curve (quality 0: bubble, 1: dew) up to a temperature [K]."""
    from scipy.interpolate import CubicSpline  # noqa: PLC0415 - first start only

    count = int((top - LOWEST_TEMPERATURE) / STEP) + 1
    grid: FloatArray = LOWEST_TEMPERATURE + STEP * np.arange(count, dtype=np.float64)
    pressures = saturation_pressures(state, quality, grid)
    good = _usable(grid, pressures)
    last = int(np.flatnonzero(good)[-1])
    good = good[: last + 1]
    grid, pressures = grid[: last + 1], pressures[: last + 1]
    logarithm = CubicSpline(grid[good], np.log(pressures[good]))
    # Bridged points take the spline's value, so that the uniform grid has no holes.
    filled = np.where(good, np.log(np.where(good, pressures, 1.0)), logarithm(grid))
    dense = np.linspace(grid[0], grid[-1], 8 * len(grid))
    inverse = CubicSpline(CubicSpline(grid, filled)(dense), dense)
    knots = np.linspace(filled[0], filled[-1], KNOTS)
    temperature = CubicSpline(knots, inverse(knots))
    pressure = CubicSpline(grid, filled)
    return SampledCurve(
        np.asarray(temperature.c),
        (float(knots[0]), float(knots[1] - knots[0])),
        np.asarray(pressure.c),
        (float(grid[0]), STEP),
        _gaps(grid, good),
    )


def _gaps(grid: FloatArray, good: NDArray[np.bool_]) -> FloatArray:
    rows, start = [], None
    for temperature, fine in zip(grid.tolist(), good.tolist(), strict=True):
        if not fine and start is None:
            start = temperature - STEP
        elif fine and start is not None:
            rows.append((start, temperature))
            start = None
    return np.asarray(rows, dtype=np.float64).reshape(-1, 2)


def sample(refrigerant: Refrigerant) -> dict[str, FloatArray]:
    """Everything that is kept of one refrigerant, as flat arrays."""
    critical_temperature, critical_pressure = critical_point(refrigerant)
    top = min(HIGHEST_TEMPERATURE, critical_temperature - CRITICAL_MARGIN)
    state = mixture_state(refrigerant)
    if refrigerant.fluid is None:
        state.build_phase_envelope("none")
    arrays: dict[str, FloatArray] = {
        "critical": np.array([critical_temperature, critical_pressure])
    }
    for quality, name in ((0, "bubble"), (1, "dew")):
        curve = sample_curve(state, quality, top)
        arrays[f"{name}.temperature"] = curve.temperature_pieces
        arrays[f"{name}.logarithm"] = curve.logarithm_pieces
        arrays[f"{name}.grids"] = np.array([curve.temperature_grid, curve.logarithm_grid])
        arrays[f"{name}.gaps"] = curve.gaps
    return arrays
