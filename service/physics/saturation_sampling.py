"""Bubble and dew curves sampled from CoolProp; the only module that imports it.

CoolProp's mixture solver fails in bands inside the normal condensing range unless the phase
envelope is built first, so it is built first.  Points that fail all the same, or stand off the
smooth curve through their neighbours (a wrong root), are left out, bridged by the spline and
flagged.  A curve ends before a failing stretch too wide to bridge.

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

from service.physics.array_types import FloatArray
from service.reference.refrigerants import MIXTURE_CRITICAL_POINTS, Refrigerant

#: Range of the curves [K]: from well under any evaporating temperature to over 76 °C, or to this
#: margin under the critical temperature, near which the solver's answers lose their smoothness.
LOWEST_TEMPERATURE = 213.15
HIGHEST_TEMPERATURE = 350.0
CRITICAL_MARGIN = 2.0
#: Distance of the samples [K]; with it the spline is within 0.2 mK of CoolProp everywhere.
STEP = 1.0
#: Knots of the uniform grid in ln p.
KNOTS = 512
#: Widest gap that the spline bridges [K]; the bands where mixtures are known to fail are narrower.
WIDEST_BRIDGE = 8.0
#: A sample is a wrong root if its ln p stands off the smooth curve by more than this, worth 1 mK.
#: True curves stay within a third of it, and far closer except at the very top of the range.
WRONG_ROOT = 3e-5


@dataclass(frozen=True, slots=True)
class SampledCurve:
    """One curve: cubic pieces of temperature over ln p, and of ln p over temperature.

    Attributes
    ----------
    temperature_pieces, logarithm_pieces : ndarray, shape (4, knots - 1)
        Coefficients, highest power first, of the distance from the left knot.
    temperature_grid : tuple of float
        Start and step of the uniform grid in ln p (p in Pa).
    logarithm_grid : tuple of float
        Start and step of the uniform grid in temperature [K].
    gaps : ndarray, shape (gaps, 2)
        Temperature intervals [K] that the spline bridges.
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
    for first, second, stand_in in refrigerant.borrowed_pairs:
        _borrow_pair(properties, first, second, stand_in)
    names = [fluid for _, fluid, _ in refrigerant.components]
    state = properties.AbstractState("HEOS", "&".join(names))
    state.set_mass_fractions([fraction for *_, fraction in refrigerant.components])
    return state


def _borrow_pair(properties: Any, first: str, second: str, stand_in: str) -> None:  # noqa: ANN401
    """Give a pair that the library lacks the reducing parameters of a like pair.

    Holds for the whole process, as the library keeps its pairs in one table.
    """
    one, other, like = (str(properties.get_fluid_param_string(name, "CAS")) for name in (first, second, stand_in))
    for parameter in ("betaT", "gammaT", "betaV", "gammaV"):
        inverted = parameter.startswith("beta")  # beta of (a, b) is 1 over beta of (b, a)
        try:
            value = float(properties.get_mixture_binary_pair_data(one, like, parameter))
        except ValueError:  # listed the other way round
            value = float(properties.get_mixture_binary_pair_data(like, one, parameter))
            value = 1.0 / value if inverted else value
        if parameter == "betaT":
            _make_pair(properties, one, other)
        try:
            properties.set_mixture_binary_pair_data(one, other, parameter, value)
        except ValueError:
            value = 1.0 / value if inverted else value
            properties.set_mixture_binary_pair_data(other, one, parameter, value)


def _make_pair(properties: Any, one: str, other: str) -> None:  # noqa: ANN401
    try:
        properties.apply_simple_mixing_rule(one, other, "linear")
    except ValueError as error:
        if "already" not in str(error):  # made earlier in this process
            raise


def critical_point(refrigerant: Refrigerant) -> tuple[float, float]:
    """Critical temperature [K] and pressure [Pa], as the library has it or as kept for mixtures."""
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


def _off_the_curve(inverse: FloatArray, logarithm: FloatArray) -> FloatArray:
    """Distance of each ln p from the cubic in 1/T through its four nearest neighbours.

    At the ends the cubic is extrapolated, which makes it 1.5 times (next to last) and 6 times
    (last) as wrong as in between; there the distance is divided by as much.
    """
    count = len(inverse)
    position = np.arange(count)
    first = np.clip(position - 2, 0, count - 5)
    window = first[:, np.newaxis] + np.arange(5)
    neighbours = window[window != position[:, np.newaxis]].reshape(count, 4)
    x, y = inverse[neighbours], logarithm[neighbours]
    expected = np.zeros(count)
    for one in range(4):
        weight = np.ones(count)
        for other in range(4):
            if other != one:
                weight *= (inverse - x[:, other]) / (x[:, one] - x[:, other])
        expected += weight * y[:, one]
    distance = np.abs(logarithm - expected)
    distance[[1, -2]] /= 1.5
    distance[[0, -1]] /= 6.0
    return distance


def _usable(temperatures: FloatArray, pressures: FloatArray) -> NDArray[np.bool_]:
    """Samples that are numbers and lie on one smooth curve.

    A wrong root of the solver stands off its neighbours, and makes them seem to stand off as well,
    though by less; so the worst is taken out, one at a time, until none is left.
    """
    good = np.isfinite(pressures)
    while np.count_nonzero(good) > 5:
        index = np.flatnonzero(good)
        off = _off_the_curve(1.0 / temperatures[index], np.log(pressures[index]))
        worst = int(np.argmax(off))
        if off[worst] <= WRONG_ROOT:
            break
        good[index[worst]] = False
    return good


def _stretch(good: NDArray[np.bool_]) -> slice:
    """From the first good sample to the last before a gap too wide to bridge."""
    index = np.flatnonzero(good)
    wide = np.flatnonzero(np.diff(index) * STEP > WIDEST_BRIDGE)
    last = index[wide[0]] if wide.size else index[-1]
    return slice(int(index[0]), int(last) + 1)


def sample_curve(state: Any, quality: int, top: float) -> SampledCurve:  # noqa: ANN401
    """Sample one curve and lay splines through it.

    Parameters
    ----------
    state : CoolProp.AbstractState
        The refrigerant.
    quality : int
        0 for the bubble curve, 1 for the dew curve.
    top : float
        Highest temperature [K].

    Returns
    -------
    SampledCurve
        Ends below ``top`` where the solver has no answers there.
    """
    from scipy.interpolate import CubicSpline  # noqa: PLC0415 - first start only

    count = int((top - LOWEST_TEMPERATURE) / STEP) + 1
    grid: FloatArray = LOWEST_TEMPERATURE + STEP * np.arange(count, dtype=np.float64)
    pressures = saturation_pressures(state, quality, grid)
    good = _usable(grid, pressures)
    stretch = _stretch(good)
    grid, pressures, good = grid[stretch], pressures[stretch], good[stretch]
    # Over 1/T the logarithm is almost a line, so that a bridge follows it closely.
    bridge = CubicSpline(1.0 / grid[good][::-1], np.log(pressures[good])[::-1])
    filled = np.where(good, np.log(np.where(good, pressures, 1.0)), bridge(1.0 / grid))
    pressure = CubicSpline(grid, filled)
    dense = np.linspace(grid[0], grid[-1], 8 * len(grid))
    inverse = CubicSpline(pressure(dense), dense)
    knots = np.linspace(filled[0], filled[-1], KNOTS)
    temperature = CubicSpline(knots, inverse(knots))
    return SampledCurve(
        np.asarray(temperature.c),
        (float(knots[0]), float(knots[1] - knots[0])),
        np.asarray(pressure.c),
        (float(grid[0]), STEP),
        _gaps(grid, good),
    )


def _gaps(grid: FloatArray, good: NDArray[np.bool_]) -> FloatArray:
    """Intervals [K] between good samples that are not neighbours."""
    reached = grid[good]
    wide = np.flatnonzero(np.diff(reached) > 1.5 * STEP)
    return np.stack([reached[wide], reached[wide + 1]], axis=-1)


def sample(refrigerant: Refrigerant) -> dict[str, FloatArray]:
    """Everything that is kept of one refrigerant, as flat arrays.

    Returns
    -------
    dict of arrays
        ``constants``: critical temperature [K], critical pressure [Pa], molar mass [kg/mol]; and
        for ``bubble`` and ``dew`` the fields of `SampledCurve`.
    """
    critical_temperature, critical_pressure = critical_point(refrigerant)
    top = min(HIGHEST_TEMPERATURE, critical_temperature - CRITICAL_MARGIN)
    state = mixture_state(refrigerant)
    if refrigerant.fluid is None:
        state.build_phase_envelope("none")
    arrays: dict[str, FloatArray] = {
        "constants": np.array([critical_temperature, critical_pressure, state.molar_mass()])
    }
    for quality, name in ((0, "bubble"), (1, "dew")):
        curve = sample_curve(state, quality, top)
        arrays[f"{name}.temperature"] = curve.temperature_pieces
        arrays[f"{name}.logarithm"] = curve.logarithm_pieces
        arrays[f"{name}.grids"] = np.array([curve.temperature_grid, curve.logarithm_grid])
        arrays[f"{name}.gaps"] = curve.gaps
    return arrays
