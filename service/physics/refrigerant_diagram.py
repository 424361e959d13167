"""Lines of a pressure-enthalpy diagram: saturation dome and isotherms.

Absolute pressures in Pa, temperatures in K, enthalpies in J/kg.  These lines are for the eye: what is
computed from readings never comes from them.
"""

from __future__ import annotations

import numpy as np

from service.physics.array_types import FloatArray
from service.physics.refrigerant_enthalpy import SinglePhase

#: Watson's exponent: heat of evaporation falls toward the critical point as this power of the distance.
_WATSON = 0.38
_POINTS = 60
_NEAR_CRITICAL = 24

#: A line: absolute pressures and enthalpies, each of shape (N,).
Line = tuple[FloatArray, FloatArray]


def dome(phases: SinglePhase, low: float) -> tuple[Line, Line]:
    """Bubble and dew line from an absolute pressure up to the critical point, where they meet.

    The property tables end a few kelvin under the critical point.  From there the heat of evaporation
    follows Watson's rule, and the mean of both enthalpies goes on straight over temperature.
    That piece is off by up to 0.06 of the heat of evaporation where the tables end: 6 kJ/kg of most
    fluids, 9 of R-290.

    Returns
    -------
    tuple of Line
        Bubble and dew line, ascending.

    References
    ----------
    Watson, K. M. (1943). Thermodynamics of the liquid state. Ind. Eng. Chem. 35, 398-406.  Cailletet
    and Mathias (1886): the rectilinear diameter, here of enthalpy.
    """
    curves = phases.curves
    critical = curves.critical_pressure
    pressures = np.geomspace(low, critical * (1 - 1e-6), 3 * _POINTS)
    bubble = phases.liquid_enthalpy(pressures, curves.bubble_temperature(pressures))
    dew = phases.vapour_enthalpy(pressures, curves.dew_temperature(pressures))
    known = np.isfinite(bubble) & np.isfinite(dew)
    pressures, bubble, dew = pressures[known], bubble[known], dew[known]
    middle = 0.5 * (curves.bubble_temperature(pressures[-2:]) + curves.dew_temperature(pressures[-2:]))
    mean = 0.5 * (bubble + dew)
    # Along the straight line of ln p over 1/T between the tables' end and the critical point.
    share = np.linspace(0.0, 1.0, _NEAR_CRITICAL)[1:] ** 0.7
    end, top = float(middle[-1]), curves.critical_temperature
    temperature = 1.0 / (1.0 / end + share * (1.0 / top - 1.0 / end))
    above = float(pressures[-1]) ** (1.0 - share) * critical**share
    heat = float(dew[-1] - bubble[-1]) * ((top - temperature) / (top - end)) ** _WATSON
    slope = float((mean[-1] - mean[-2]) / (middle[-1] - middle[-2]))
    going = mean[-1] + slope * (temperature - end)
    both = np.concatenate([pressures, above])
    return (
        (both, np.concatenate([bubble, going - 0.5 * heat])),
        (both, np.concatenate([dew, going + 0.5 * heat])),
    )


def isotherm(phases: SinglePhase, temperature: float, low: float, high: float) -> Line:
    """One isotherm between two absolute pressures, from liquid through the dome to vapour.

    Where the tables hold no state the line has not-a-number.

    Returns
    -------
    Line
        Pressures descending.
    """
    curves = phases.curves
    bubble = float(curves.bubble_pressure(temperature))
    dew = float(curves.dew_pressure(temperature))
    parts = []
    if np.isfinite(bubble) and bubble < high:
        liquid = np.geomspace(high, max(bubble, low), 8)
        parts.append((liquid, phases.liquid_enthalpy(liquid, temperature)))
    top = min(dew, high) if np.isfinite(dew) else high
    if low < top:
        vapour = np.geomspace(top, low, _POINTS)
        parts.append((vapour, phases.vapour_enthalpy(vapour, temperature)))
    if not parts:
        return np.empty(0), np.empty(0)
    return (
        np.concatenate([pressures for pressures, _ in parts]),
        np.concatenate([enthalpies for _, enthalpies in parts]),
    )
