"""Moist air after ASHRAE Handbook Fundamentals 2017, chapter 1 (perfect-gas relations).

SI throughout: temperatures in K, pressures in Pa, humidity ratio in kg of water for each kg of dry
air, enthalpy in J for each kg of dry air.  Everything broadcasts, draws on the last axis.  Valid
from -40 to 60 °C and 50 to 110 kPa; nothing is clamped.  The enhancement factor of real moist air
is left out, as the chapter's perfect-gas relations do (about 0.5 % of the humidity ratio).
"""

from __future__ import annotations

import numpy as np

from service.physics.array_types import FloatArray, FloatLike

_ZERO = 273.15
_TRIPLE = 273.16
#: Ratio of molar masses, water over dry air (chapter 1, equation 20).
MOLAR_RATIO = 0.621945
#: Gas constant of dry air [J/(kg K)] (chapter 1, equation 1).
GAS_CONSTANT_DRY_AIR = 287.042

# Hyland and Wexler 1983, chapter 1, equations 5 (ice) and 6 (water).
_ICE = (
    -5.6745359e3,
    6.3925247,
    -9.6778430e-3,
    6.2215701e-7,
    2.0747825e-9,
    -9.4840240e-13,
    4.1635019,
)
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)


def standard_atmosphere_pressure(altitude: FloatLike) -> FloatArray:
    """Air pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : array_like
        Height over sea level [m], -5000 to 11000.

    Returns
    -------
    FloatArray
        Pressure [Pa].

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 3.
    """
    return np.asarray(101_325.0 * (1.0 - 2.25577e-5 * np.asarray(altitude)) ** 5.2559)


def _logarithm(temperature: FloatArray, row: tuple[float, ...]) -> FloatArray:
    a, b, c, d, e, f, g = row
    t = temperature
    return np.asarray(a / t + b + t * (c + t * (d + t * (e + t * f))) + g * np.log(t))


def _slope(temperature: FloatArray, row: tuple[float, ...]) -> FloatArray:
    """Derivative of the logarithm of the saturation pressure by temperature [1/K]."""
    a, _, c, d, e, f, g = row
    t = temperature
    return np.asarray(-a / (t * t) + c + t * (2 * d + t * (3 * e + t * 4 * f)) + g / t)


def saturation_vapour_pressure(temperature: FloatLike) -> FloatArray:
    """Saturation pressure of water, over ice below the triple point.

    Parameters
    ----------
    temperature : array_like
        Temperature [K], 173 to 473.

    Returns
    -------
    FloatArray
        Pressure [Pa].

    References
    ----------
    Hyland, R. W. and Wexler, A. (1983), ASHRAE Transactions 89(2A); ASHRAE Handbook Fundamentals
    2017, chapter 1, equations 5 and 6.
    """
    t = np.asarray(temperature, dtype=np.float64)
    over_water = np.exp(_logarithm(t, _WATER))
    frozen = t < _TRIPLE
    if not frozen.any():
        return np.asarray(over_water)
    return np.where(frozen, np.exp(_logarithm(t, _ICE)), over_water)


def _saturation_slope(temperature: FloatArray) -> FloatArray:
    over_water = _slope(temperature, _WATER)
    frozen = temperature < _TRIPLE
    if not frozen.any():
        return over_water
    return np.where(frozen, _slope(temperature, _ICE), over_water)


def humidity_ratio_from_vapour_pressure(vapour: FloatLike, pressure: FloatLike) -> FloatArray:
    """Humidity ratio [kg/kg] from vapour pressure and air pressure [Pa] (equation 20)."""
    vapour = np.asarray(vapour)
    return np.asarray(MOLAR_RATIO * vapour / (np.asarray(pressure) - vapour))


def humidity_ratio_from_wet_bulb(
    dry_bulb: FloatLike, wet_bulb: FloatLike, pressure: FloatLike
) -> FloatArray:
    """Humidity ratio from dry and wet bulb.

    Parameters
    ----------
    dry_bulb, wet_bulb : array_like
        Temperatures [K].
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Humidity ratio [kg/kg]; negative where the wet bulb is lower than any real air's.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equations 33 (wick wet) and 35 (wick frozen).
    """
    t = np.asarray(dry_bulb, dtype=np.float64) - _ZERO
    bulb = np.asarray(wet_bulb, dtype=np.float64)
    w = bulb - _ZERO
    saturated = humidity_ratio_from_vapour_pressure(saturation_vapour_pressure(bulb), pressure)
    liquid = ((2501.0 - 2.326 * w) * saturated - 1.006 * (t - w)) / (2501.0 + 1.86 * t - 4.186 * w)
    frozen = w < 0.0
    if not np.any(frozen):
        return np.asarray(liquid)
    ice = ((2830.0 - 0.24 * w) * saturated - 1.006 * (t - w)) / (2830.0 + 1.86 * t - 2.1 * w)
    return np.where(frozen, ice, liquid)


def humidity_ratio_from_relative_humidity(
    dry_bulb: FloatLike, relative_humidity: FloatLike, pressure: FloatLike
) -> FloatArray:
    """Humidity ratio [kg/kg] from dry bulb [K], relative humidity [0..1], air pressure [Pa].

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equations 20 and 22.
    """
    vapour = np.asarray(relative_humidity) * saturation_vapour_pressure(dry_bulb)
    return humidity_ratio_from_vapour_pressure(vapour, pressure)


def humidity_ratio_from_dew_point(dew_point: FloatLike, pressure: FloatLike) -> FloatArray:
    """Humidity ratio [kg/kg] from dew point [K] and air pressure [Pa] (equation 20)."""
    return humidity_ratio_from_vapour_pressure(saturation_vapour_pressure(dew_point), pressure)


def vapour_pressure(humidity_ratio: FloatLike, pressure: FloatLike) -> FloatArray:
    """Vapour pressure [Pa] from humidity ratio [kg/kg] and air pressure [Pa] (equation 20)."""
    w = np.asarray(humidity_ratio, dtype=np.float64)
    return np.asarray(np.asarray(pressure) * w / (MOLAR_RATIO + w))


def relative_humidity(
    dry_bulb: FloatLike, humidity_ratio: FloatLike, pressure: FloatLike
) -> FloatArray:
    """Relative humidity [0..1] from dry bulb [K], humidity ratio [kg/kg], pressure [Pa].

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 22.
    """
    return np.asarray(
        vapour_pressure(humidity_ratio, pressure) / saturation_vapour_pressure(dry_bulb)
    )


def _newton_wet_bulb(
    start: FloatArray, dry_bulb: FloatArray, humidity_ratio: FloatArray, pressure: FloatArray,
    iterations: int,
) -> FloatArray:  # fmt: skip
    bulb = start
    t = dry_bulb - _ZERO
    for _ in range(iterations):
        vapour = saturation_vapour_pressure(bulb)
        saturated = humidity_ratio_from_vapour_pressure(vapour, pressure)
        growth = saturated * pressure / (pressure - vapour) * _saturation_slope(bulb)
        w = bulb - _ZERO
        frozen = w < 0.0
        heat = np.where(frozen, 2830.0 - 0.24 * w, 2501.0 - 2.326 * w)
        heat_slope = np.where(frozen, -0.24, -2.326)
        below = np.where(frozen, 2830.0 + 1.86 * t - 2.1 * w, 2501.0 + 1.86 * t - 4.186 * w)
        below_slope = np.where(frozen, -2.1, -4.186)
        above = heat * saturated - 1.006 * (t - w)
        error = above / below - humidity_ratio
        slope = (heat * growth + heat_slope * saturated + 1.006) / below - above * below_slope / (
            below * below
        )
        bulb = bulb - error / slope
    return bulb


def wet_bulb(dry_bulb: FloatLike, humidity_ratio: FloatLike, pressure: FloatLike) -> FloatArray:
    """Thermodynamic wet bulb.

    Parameters
    ----------
    dry_bulb : array_like
        Dry bulb [K].
    humidity_ratio : array_like
        Humidity ratio [kg/kg]; slightly over saturation is allowed.
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Wet bulb [K], within 1e-6 K of the root of equation 33 (35 below freezing).

    Notes
    -----
    Newton's method.  The equation is convex and rising, so it converges from the dry bulb; the
    mean over the draws is solved first and starts the draws, which then need few steps.
    """
    t, w, p = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (dry_bulb, humidity_ratio, pressure))
    )
    if t.ndim == 0:
        return np.asarray(_newton_wet_bulb(t, t, w, p, 9))
    mean_t, mean_w, mean_p = (x.mean(axis=-1, keepdims=True) for x in (t, w, p))
    start = _newton_wet_bulb(mean_t, mean_t, mean_w, mean_p, 7)
    return _newton_wet_bulb(start, t, w, p, 4)


def dew_point(humidity_ratio: FloatLike, pressure: FloatLike) -> FloatArray:
    """Dew point (frost point below freezing).

    Parameters
    ----------
    humidity_ratio : array_like
        Humidity ratio [kg/kg].
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Dew point [K]; not a number where there is no water in the air.

    Notes
    -----
    Newton's method on the logarithm of the saturation pressure, from the Magnus approximation.
    """
    vapour = vapour_pressure(humidity_ratio, pressure)
    positive = np.where(vapour > 0.0, vapour, np.nan)
    logarithm = np.log(positive)
    magnus = logarithm - np.log(610.94)
    t = _ZERO + 243.04 * magnus / (17.625 - magnus)
    for _ in range(3):
        frozen = t < _TRIPLE
        if np.any(frozen):
            error = np.where(frozen, _logarithm(t, _ICE), _logarithm(t, _WATER)) - logarithm
        else:
            error = _logarithm(t, _WATER) - logarithm
        t = t - error / _saturation_slope(t)
    return np.asarray(t)


def enthalpy(dry_bulb: FloatLike, humidity_ratio: FloatLike) -> FloatArray:
    """Enthalpy of moist air [J/kg dry air] from dry bulb [K] and humidity ratio [kg/kg].

    Zero for dry air at 0 °C and liquid water at the triple point.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 30.
    """
    t = np.asarray(dry_bulb, dtype=np.float64) - _ZERO
    return np.asarray(1000.0 * (1.006 * t + np.asarray(humidity_ratio) * (2501.0 + 1.86 * t)))


def specific_volume(
    dry_bulb: FloatLike, humidity_ratio: FloatLike, pressure: FloatLike
) -> FloatArray:
    """Volume of moist air for each kg of dry air [m3/kg] (equation 26).

    Dry bulb in K, humidity ratio in kg/kg, pressure in Pa.
    """
    w = np.asarray(humidity_ratio)
    return np.asarray(
        GAS_CONSTANT_DRY_AIR * np.asarray(dry_bulb) * (1.0 + w / MOLAR_RATIO) / np.asarray(pressure)
    )


def density(dry_bulb: FloatLike, humidity_ratio: FloatLike, pressure: FloatLike) -> FloatArray:
    """Density of moist air [kg/m3], water included (equation 11).

    Dry bulb in K, humidity ratio in kg/kg, pressure in Pa.
    """
    w = np.asarray(humidity_ratio)
    return np.asarray((1.0 + w) / specific_volume(dry_bulb, w, pressure))
