"""Superheated vapour and subcooled liquid sampled from CoolProp into polynomials.

Properties of vapour are smooth over ln p and superheat, so a product of Chebyshev polynomials at
Chebyshev nodes holds them in a few hundred numbers.

References
----------
Trefethen, L. N. (2013). Approximation Theory and Approximation Practice, chapters 2 to 4.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.polynomial import chebyshev

from service.physics.array_types import FloatArray
from service.physics.saturation_sampling import mixture_state
from service.reference.refrigerants import Refrigerant

#: Range of superheat [K], and the margin under the critical temperature [K] at which tables end:
#: nearer to it the polynomials would need many more terms.
HIGHEST_SUPERHEAT = 120.0
CRITICAL_MARGIN = 6.0
LOWEST_TEMPERATURE = 223.15
HIGHEST_TEMPERATURE = 345.0
#: Terms over ln p and over superheat, and over temperature for the liquid.
TERMS = (20, 12)
LIQUID_TERMS = 24
#: Pressures above the bubble point [Pa] through which the enthalpy of liquid is laid.
_EXCESSES = (1e4, 5e5, 1.2e6)


def nodes(count: int, low: float, high: float) -> tuple[FloatArray, FloatArray]:
    """Chebyshev nodes on -1 ... 1 and on low ... high."""
    unit = np.cos(np.pi * (np.arange(count) + 0.5) / count)
    return unit, 0.5 * (low + high) + 0.5 * (high - low) * unit


def _inverse(unit: FloatArray) -> FloatArray:
    """From values at Chebyshev nodes to coefficients."""
    return np.asarray(np.linalg.inv(chebyshev.chebvander(unit, len(unit) - 1)), dtype=np.float64)


def fit(unit_x: FloatArray, unit_y: FloatArray, values: FloatArray) -> FloatArray:
    """Coefficients (..., X, Y) of the polynomial through values (..., X, Y) at the nodes."""
    coefficients: FloatArray = _inverse(unit_x) @ values @ _inverse(unit_y).T
    return coefficients


def _inverted(unit: FloatArray, grid: FloatArray, entropy: FloatArray, enthalpy: FloatArray) -> FloatArray:
    """Enthalpy at Chebyshev nodes of entropy between that of dew and of the highest superheat.

    Along one isobar entropy over superheat is inverted by Newton's method on its polynomial.
    """
    series = chebyshev.Chebyshev.fit(grid, entropy, len(grid) - 1, domain=[0.0, HIGHEST_SUPERHEAT])
    height = chebyshev.Chebyshev.fit(grid, enthalpy, len(grid) - 1, domain=[0.0, HIGHEST_SUPERHEAT])
    slope = series.deriv()
    low, high = float(series(0.0)), float(series(HIGHEST_SUPERHEAT))
    wanted = low + (high - low) * 0.5 * (unit + 1.0)
    superheat = HIGHEST_SUPERHEAT * 0.5 * (unit + 1.0)
    for _ in range(20):
        superheat = superheat - (series(superheat) - wanted) / slope(superheat)
    return np.asarray(height(superheat))


def sample(
    refrigerant: Refrigerant,
    dew_temperature: Callable[[FloatArray], FloatArray],
    dew_pressure: Callable[[FloatArray], FloatArray],
    bubble_pressure: Callable[[FloatArray], FloatArray],
    critical_temperature: float,
) -> dict[str, FloatArray]:
    """All tables of one refrigerant.

    Returns
    -------
    dict of arrays
        ``vapour`` (4, 20, 12): enthalpy [J/kg], entropy [J/(kg K)] and ln density [kg/m3] over ln p
        and superheat; enthalpy over ln p and the place between the entropies of dew and of the
        highest superheat.  ``entropies`` (2, 20): these two entropies over ln p.  ``liquid`` (3, 24):
        over temperature, enthalpy on the bubble curve [J/kg] and the terms of its parabola over the
        pressure above the bubble point [Pa].
        ``ranges`` (2, 2): ln p of the vapour, temperature [K] of the liquid.
    """
    import CoolProp  # noqa: PLC0415 - takes seconds; first start only

    top = min(HIGHEST_TEMPERATURE, critical_temperature - CRITICAL_MARGIN)
    ends = np.log(dew_pressure(np.array([LOWEST_TEMPERATURE, top])))
    unit_x, logarithms = nodes(TERMS[0], *ends.tolist())
    unit_y, superheats = nodes(TERMS[1], 0.0, HIGHEST_SUPERHEAT)
    state = mixture_state(refrigerant)
    state.specify_phase(CoolProp.iphase_gas)
    values = np.empty((4, *TERMS))
    entropies = np.empty((2, TERMS[0]))
    for row, logarithm in enumerate(logarithms.tolist()):
        pressure = np.exp(logarithm)
        dew = float(dew_temperature(np.array([pressure]))[0])
        for column, superheat in enumerate(superheats.tolist()):
            values[:3, row, column] = _properties(state, pressure, dew + superheat)
        entropies[:, row] = [
            _properties(state, pressure, dew + superheat)[1] for superheat in (1e-6, HIGHEST_SUPERHEAT)
        ]
        values[3, row] = _inverted(unit_y, superheats, values[1, row], values[0, row])
    unit_t, temperatures = nodes(LIQUID_TERMS, LOWEST_TEMPERATURE, top)
    liquid = _liquid(refrigerant, temperatures, bubble_pressure)
    return {
        "vapour": fit(unit_x, unit_y, values),
        "entropies": entropies @ _inverse(unit_x).T,
        "liquid": liquid @ _inverse(unit_t).T,
        "ranges": np.array([ends, [LOWEST_TEMPERATURE, top]]),
    }


def _properties(state: Any, pressure: float, temperature: float) -> tuple[float, float, float]:  # noqa: ANN401
    import CoolProp  # noqa: PLC0415

    state.update(CoolProp.PT_INPUTS, pressure, temperature)
    return float(state.hmass()), float(state.smass()), float(np.log(state.rhomass()))


def _liquid(
    refrigerant: Refrigerant,
    temperatures: FloatArray,
    bubble_pressure: Callable[[FloatArray], FloatArray],
) -> FloatArray:
    """Enthalpy of liquid as a parabola over the pressure above the bubble point, shape (3, T).

    It goes through three compressed states, the lowest just above the bubble point, where a flash
    cannot fall into the two-phase region.
    """
    import CoolProp  # noqa: PLC0415

    state = mixture_state(refrigerant)
    state.specify_phase(CoolProp.iphase_liquid)
    rows = np.empty((3, len(temperatures)))
    for column, temperature in enumerate(temperatures.tolist()):
        base = float(bubble_pressure(np.array([temperature]))[0])
        heights = [_properties(state, base + step, temperature)[0] for step in _EXCESSES]
        rows[:, column] = np.polyfit(_EXCESSES, heights, 2)[::-1]
    return rows
