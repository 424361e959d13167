"""Cooling capacity on the air side, and what a performance map makes of it.

Mass flows of dry air in kg/s, temperatures in K, heat flows in W; arrays of any shape.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from service.physics.array_types import FloatArray, FloatLike
from service.reference.air import DRY_AIR_HEAT, VAPORISATION_HEAT, VAPOUR_HEAT


def sensible(air: FloatLike, entering: FloatLike, leaving: FloatLike, leaving_humidity_ratio: FloatLike) -> FloatArray:
    """Sensible part: the air of leaving humidity, cooled from entering to leaving temperature."""
    return np.asarray(
        air * (DRY_AIR_HEAT + VAPOUR_HEAT * np.asarray(leaving_humidity_ratio)) * (np.asarray(entering) - leaving)
    )


def vapour_enthalpy(temperature: FloatLike) -> FloatArray:
    """Enthalpy [J/kg] of water vapour over liquid water at 0 °C (same source)."""
    return np.asarray(VAPORISATION_HEAT + VAPOUR_HEAT * (np.asarray(temperature) - 273.15))


def map_value(curve: Sequence[float], wet_bulb: FloatLike, outdoor: FloatLike) -> FloatArray:
    """A biquadratic performance curve at entering wet bulb and outdoor dry bulb [K]."""
    x, y = np.asarray(wet_bulb) - 273.15, np.asarray(outdoor) - 273.15
    a, b, c, d, e, f = curve
    return np.asarray(a + x * (b + c * x + f * y) + y * (d + e * y))
