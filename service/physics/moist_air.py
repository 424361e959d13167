"""Moist air after ASHRAE Handbook Fundamentals 2017, chapter 1 (perfect-gas relations).

SI throughout: temperatures in K, pressures in Pa absolute, humidity ratio in kg of water for each
kg of dry air, enthalpy in J for each kg of dry air.
Every function takes numbers or float arrays of any shapes that broadcast, draws on the last axis,
works element by element, and returns a float array of the broadcast shape.
Nothing is clamped and nothing is raised for a value: outside the stated range the answer is nan.

The enhancement factor of real moist air is left out, as the chapter's perfect-gas relations do.
Near sea level it raises the saturated humidity ratio by about 0.4 to 0.5 %.

References
----------
ASHRAE (2017), Handbook Fundamentals, chapter 1 "Psychrometrics"; equation numbers below are of
this chapter.
Hyland, R. W. and Wexler, A. (1983), "Formulations for the thermodynamic properties of the
saturated phases of H2O from 173.15 K to 473.15 K", ASHRAE Transactions 89(2A), 500-519.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from service.physics.array_types import FloatArray, FloatLike
from service.reference.air import DRY_AIR_HEAT, VAPORISATION_HEAT, VAPOUR_HEAT

#: Ratio of molar masses, water over dry air [1] (equation 20).
MOLAR_RATIO = 0.621945
#: Gas constant of dry air [J/(kg K)] (equation 1).
GAS_CONSTANT_DRY_AIR = 287.042

_FREEZING = 273.15
_TRIPLE_POINT = 273.16
#: Range of the saturation formulas [K].
_COLDEST, _HOTTEST = 173.15, 473.15


class _SaturationCurve(NamedTuple):
    """ln p = inverse / T + polynomial(T) + logarithm ln T, p in Pa and T in K."""

    inverse: float
    polynomial: tuple[float, ...]
    logarithm: float


#: Equation 5, over ice.
_ICE = _SaturationCurve(
    -5.6745359e3,
    (6.3925247, -9.6778430e-3, 6.2215701e-7, 2.0747825e-9, -9.4840240e-13),
    4.1635019,
)
#: Equation 6, over liquid water.
_WATER = _SaturationCurve(
    -5.8002206e3,
    (1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8),
    6.5459673,
)


class _Wick(NamedTuple):
    """Heat balance of a wick: equation 33 (wet) or 35 (frozen), in kJ/kg and °C.

    humidity ratio = ((latent - latent_slope w) saturated - 1.006 (t - w))
                     / (latent + 1.86 t - condensate w)
    """

    curve: _SaturationCurve
    latent: float
    latent_slope: float
    condensate: float


_WET = _Wick(_WATER, 2501.0, 2.326, 4.186)
_FROZEN = _Wick(_ICE, 2830.0, 0.24, 2.1)
#: Heat capacities of dry air and of water vapour [kJ/(kg K)] (equation 30).
_AIR_HEAT, _VAPOUR_HEAT = 1.006, 1.86

# Starting values only: own fits to the equations themselves, so their error (0.3 K for the wet
# bulb, 0.001 K for the dew point) is gone after the iteration and no result rests on them.
# Wet bulb [°C]: polynomials in ln(heat x pressure + 5), the second times the pressure, with heat in
# kJ/kg and pressure in units of 100 kPa; for a frozen wick in the heat itself.
_WET_START = (-11.053, -10.317, 7.0683, -0.59101)
_WET_START_PRESSURE = (32.779, -18.707, 2.2983)
_FROZEN_START = (-11.808, 0.44649, -0.0065646)
_FROZEN_START_PRESSURE = (5.4216, 0.20026, 0.0016747)
# Dew and frost point: 1/T [1/K] in the logarithm of the vapour pressure in Pa.
_DEW_START = (4.81692e-3, -1.78570e-4, 1.75997e-7, -6.65235e-8)
_FROST_START = (4.70432e-3, -1.62755e-4, 5.65365e-8, -5.76081e-9)

#: Heat times pressure [kJ/kg x 100 kPa] beyond any air this module is valid for (0 to 60 °C).
_LARGEST_REDUCED_HEAT = 2000.0
#: Vapour pressure beyond which no dew point is given [Pa]: about 90 °C.
_LARGEST_DEW_PRESSURE = 70_000.0
#: Furthest a fitted start may be off, and the last step of an iteration that has settled [K]; the
#: convergence is quadratic or better, so the error left after such a step is far under 1e-6 K.
_LARGEST_FIRST_STEP = 3.0
_LARGEST_LAST_STEP = 1e-3


def standard_atmosphere_pressure(altitude: FloatLike) -> FloatArray:
    """Air pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : array_like
        Height above sea level [m]; valid from -5000 to 11000.

    Returns
    -------
    FloatArray
        Pressure [Pa], broadcast shape; nan outside the range.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 3 (U.S. Standard Atmosphere 1976).
    """
    height = np.asarray(altitude, dtype=np.float64)
    # The base of the power must stay positive, or the power would warn.
    height = np.where((height >= -5000.0) & (height <= 11000.0), height, np.nan)
    return np.asarray(101_325.0 * (1.0 - 2.25577e-5 * height) ** 5.2559)


def _polynomial(coefficients: tuple[float, ...], variable: FloatArray) -> FloatArray:
    total = variable * coefficients[-1]
    # Horner's scheme, in place.
    for coefficient in coefficients[-2:0:-1]:
        total += coefficient
        total *= variable
    total += coefficients[0]
    return total


def _logarithm(curve: _SaturationCurve, temperature: FloatArray) -> FloatArray:
    """Natural logarithm of the saturation pressure in Pa."""
    total = _polynomial(curve.polynomial, temperature)
    total += curve.inverse / temperature
    total += curve.logarithm * np.log(temperature)
    return total


def _slope(curve: _SaturationCurve, temperature: FloatArray) -> FloatArray:
    """Derivative of :func:`_logarithm` by temperature [1/K]."""
    derivative = tuple(power * coefficient for power, coefficient in enumerate(curve.polynomial) if power)
    inverse = 1.0 / temperature
    total = _polynomial(derivative, temperature)
    total += inverse * (curve.logarithm - curve.inverse * inverse)
    return total


def saturation_vapour_pressure(temperature: FloatLike) -> FloatArray:
    """Saturation pressure of water, over ice below the triple point.

    Parameters
    ----------
    temperature : array_like
        Temperature [K]; valid from 173.15 to 473.15.

    Returns
    -------
    FloatArray
        Pressure [Pa], same shape; nan outside the range.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equations 5 and 6 (Hyland and Wexler 1983).
    """
    kelvin = np.asarray(temperature, dtype=np.float64)
    # The usual case, all of it liquid and in range, in the fewest passes; nan takes the other way.
    if kelvin.size and kelvin.min() >= _TRIPLE_POINT and kelvin.max() <= _HOTTEST:
        return np.asarray(np.exp(_logarithm(_WATER, kelvin)))
    valid = np.where((kelvin >= _COLDEST) & (kelvin <= _HOTTEST), kelvin, np.nan)
    logarithm = np.where(valid < _TRIPLE_POINT, _logarithm(_ICE, valid), _logarithm(_WATER, valid))
    return np.asarray(np.exp(logarithm))


#: Saturation pressure at the triple point, where the two curves meet, and at 0 °C [Pa].
_TRIPLE_POINT_PRESSURE = float(saturation_vapour_pressure(_TRIPLE_POINT))
_FREEZING_VAPOUR = float(saturation_vapour_pressure(_FREEZING))
#: Heat of saturated air at 0 °C times its dry air's pressure [kJ Pa/kg].
_FREEZING_HEAT = _WET.latent * MOLAR_RATIO * _FREEZING_VAPOUR


def humidity_ratio_from_vapour_pressure(vapour: FloatLike, pressure: FloatLike) -> FloatArray:
    """Humidity ratio from vapour pressure.

    Parameters
    ----------
    vapour : array_like
        Partial pressure of the water vapour [Pa].
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Humidity ratio [kg/kg], broadcast shape; nan where the vapour pressure reaches the air
        pressure, that is where the water would boil.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 20.
    """
    vapour = np.asarray(vapour, dtype=np.float64)
    dry = np.asarray(np.asarray(pressure, dtype=np.float64) - vapour)
    if not (dry.size and dry.min() > 0.0):
        dry = np.where(dry > 0.0, dry, np.nan)
    return np.asarray(MOLAR_RATIO * vapour / dry)


def humidity_ratio_from_wet_bulb(dry_bulb: FloatLike, wet_bulb: FloatLike, pressure: FloatLike) -> FloatArray:
    """Humidity ratio from dry and wet bulb.

    Parameters
    ----------
    dry_bulb, wet_bulb : array_like
        Temperatures [K]; wet bulb from 173.15.
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Humidity ratio [kg/kg], broadcast shape; negative where the wet bulb is lower than any
        real air's at this dry bulb.

    Notes
    -----
    The wick is taken as frozen below 0 °C, where the answer steps.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equations 33 (wick wet) and 35 (wick frozen).
    """
    dry = np.asarray(dry_bulb, dtype=np.float64) - _FREEZING
    bulb = np.asarray(wet_bulb, dtype=np.float64)
    celsius = np.asarray(bulb - _FREEZING)
    saturated = humidity_ratio_from_vapour_pressure(saturation_vapour_pressure(bulb), pressure)
    wet = _humidity_ratio_at_wick(_WET, dry, celsius, saturated)
    if celsius.size and celsius.min() >= 0.0:
        return wet
    frozen = _humidity_ratio_at_wick(_FROZEN, dry, celsius, saturated)
    return np.where(celsius < 0.0, frozen, wet)


def _humidity_ratio_at_wick(wick: _Wick, dry: FloatArray, celsius: FloatArray, saturated: FloatArray) -> FloatArray:
    supplied = (wick.latent - wick.latent_slope * celsius) * saturated - _AIR_HEAT * (dry - celsius)
    return np.asarray(supplied / (wick.latent + _VAPOUR_HEAT * dry - wick.condensate * celsius))


def humidity_ratio_from_relative_humidity(
    dry_bulb: FloatLike, relative_humidity: FloatLike, pressure: FloatLike
) -> FloatArray:
    """Humidity ratio from relative humidity.

    Parameters
    ----------
    dry_bulb : array_like
        Dry bulb [K], 173.15 to 473.15.
    relative_humidity : array_like
        Relative humidity [1], 0 to 1; a little beyond either end is carried on, not clamped.
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Humidity ratio [kg/kg], broadcast shape.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equations 12 and 20.
    """
    vapour = np.asarray(relative_humidity) * saturation_vapour_pressure(dry_bulb)
    return humidity_ratio_from_vapour_pressure(vapour, pressure)


def humidity_ratio_from_dew_point(dew_point: FloatLike, pressure: FloatLike) -> FloatArray:
    """Humidity ratio from dew point (frost point below freezing).

    Parameters
    ----------
    dew_point : array_like
        Dew point [K], 173.15 to 473.15.
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Humidity ratio [kg/kg], broadcast shape.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 20 at saturation.
    """
    return humidity_ratio_from_vapour_pressure(saturation_vapour_pressure(dew_point), pressure)


def vapour_pressure(humidity_ratio: FloatLike, pressure: FloatLike) -> FloatArray:
    """Partial pressure of the water vapour.

    Parameters
    ----------
    humidity_ratio : array_like
        Humidity ratio [kg/kg].
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Vapour pressure [Pa], broadcast shape.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 20 solved for the vapour pressure.
    """
    ratio = np.asarray(humidity_ratio, dtype=np.float64)
    return np.asarray(np.asarray(pressure) * ratio / (MOLAR_RATIO + ratio))


def relative_humidity(dry_bulb: FloatLike, humidity_ratio: FloatLike, pressure: FloatLike) -> FloatArray:
    """Relative humidity.

    Parameters
    ----------
    dry_bulb : array_like
        Dry bulb [K], 173.15 to 473.15.
    humidity_ratio : array_like
        Humidity ratio [kg/kg].
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Relative humidity [1], broadcast shape; over 1 where the readings say so.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 12.
    """
    return np.asarray(vapour_pressure(humidity_ratio, pressure) / saturation_vapour_pressure(dry_bulb))


def wet_bulb(dry_bulb: FloatLike, humidity_ratio: FloatLike, pressure: FloatLike) -> FloatArray:
    """Thermodynamic wet bulb.

    Parameters
    ----------
    dry_bulb : array_like
        Dry bulb [K]; valid from 263 to 333.
    humidity_ratio : array_like
        Humidity ratio [kg/kg]; slightly below zero and slightly over saturation are allowed.
    pressure : array_like
        Air pressure [Pa]; valid from 55 000 to 110 000.

    Returns
    -------
    FloatArray
        Wet bulb [K], broadcast shape, within 1e-6 K of the root of equation 33 (35 for a frozen
        wick); nan where the iteration does not settle, which is outside the range.

    Notes
    -----
    Equation 33 multiplied out reads
    ``1.006 w + saturated(w) (2501 - 2.326 w) + 4.186 humidity_ratio w = enthalpy``:
    rising and convex in the wet bulb w, so it is solved from a fitted start by one step of
    third order (Halley) and one of second order.
    Near freezing two answers exist, wick wet and wick frozen; the wet one is given wherever it is
    at or over 0 °C.  Between 0 °C and the triple point at 0.01 °C, where the two saturation curves
    part by 0.01 %, the answer may be 0.001 K off.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equations 30, 33 and 35.
    """
    ratio = np.asarray(humidity_ratio, dtype=np.float64)
    absolute = np.asarray(pressure, dtype=np.float64)
    dry = np.asarray(dry_bulb, dtype=np.float64) - _FREEZING
    sensible = _AIR_HEAT * dry + _VAPOUR_HEAT * ratio * dry
    heat = np.asarray(sensible + _WET.latent * ratio)
    scaled = 1e-5 * absolute

    # At a wick of 0 °C the balance is latent heat alone: below that heat the wick is frozen.
    frozen = np.asarray(heat * (absolute - _FREEZING_VAPOUR) < _FREEZING_HEAT)
    any_frozen = bool(frozen.any())
    reduced = heat * scaled + 5.0
    if not (reduced.size and reduced.min() > 0.0 and reduced.max() < _LARGEST_REDUCED_HEAT):
        # Where the frozen branch answers, or none does, the logarithm must not warn.
        valid = (reduced > 0.0) & (reduced < _LARGEST_REDUCED_HEAT)
        reduced = np.where(valid, reduced, np.nan)
    variable = np.log(reduced)
    start = _polynomial(_WET_START_PRESSURE, variable)
    start *= scaled
    start += _polynomial(_WET_START, variable)
    # A root at 0 °C may come out a little under it, where its reader would take the wick for frozen.
    bulb = np.asarray(np.maximum(_solve_wick(_WET, np.asarray(start), heat, ratio, absolute), _FREEZING))
    if not any_frozen:
        return bulb

    heat = np.asarray(sensible + _FROZEN.latent * ratio)
    start = _polynomial(_FROZEN_START_PRESSURE, heat) * scaled + _polynomial(_FROZEN_START, heat)
    return np.where(frozen, _solve_wick(_FROZEN, np.asarray(start), heat, ratio, absolute), bulb)


def _solve_wick(
    wick: _Wick, celsius: FloatArray, heat: FloatArray, ratio: FloatArray, pressure: FloatArray
) -> FloatArray:
    """Root [K] of a wick's heat balance from a start [°C] within about 1 K of it."""
    if not celsius.size:
        return celsius
    # A start far off means a state far outside the range: nan from here on, never a warning.
    if not (celsius.min() > -60.0 and celsius.max() < 75.0):
        celsius = np.where((celsius > -60.0) & (celsius < 75.0), celsius, np.nan)
    carried = _AIR_HEAT + wick.condensate * ratio

    kelvin = celsius + _FREEZING
    vapour = np.exp(_logarithm(wick.curve, kelvin))
    slope = _slope(wick.curve, kelvin)
    dry_share = 1.0 / (pressure - vapour)
    saturated = MOLAR_RATIO * (vapour * dry_share)
    latent = wick.latent - wick.latent_slope * celsius
    growth = saturated * dry_share * pressure * slope * latent
    excess = carried * celsius + saturated * latent - heat
    rise = carried + growth - wick.latent_slope * saturated
    # The curvature only sets how fast the step converges, not where to, so the change of the
    # logarithmic slope itself is taken as its usual -0.75 % per kelvin.
    bend = growth * (slope * (pressure + vapour) * dry_share - 0.0075)
    step = excess / (rise - 0.5 * excess * bend / rise)
    if not (step.min() > -_LARGEST_FIRST_STEP and step.max() < _LARGEST_FIRST_STEP):
        step = np.where(np.abs(step) < _LARGEST_FIRST_STEP, step, np.nan)
    rise = rise - bend * step
    celsius = celsius - step

    kelvin = celsius + _FREEZING
    vapour = np.exp(_logarithm(wick.curve, kelvin))
    saturated = MOLAR_RATIO * vapour / (pressure - vapour)
    latent = wick.latent - wick.latent_slope * celsius
    step = (carried * celsius + saturated * latent - heat) / rise
    kelvin = kelvin - step
    if step.min() > -_LARGEST_LAST_STEP and step.max() < _LARGEST_LAST_STEP:
        return np.asarray(kelvin)
    return np.where(np.abs(step) < _LARGEST_LAST_STEP, kelvin, np.nan)


def dew_point(humidity_ratio: FloatLike, pressure: FloatLike) -> FloatArray:
    """Dew point (frost point below the triple point).

    Parameters
    ----------
    humidity_ratio : array_like
        Humidity ratio [kg/kg].
    pressure : array_like
        Air pressure [Pa].

    Returns
    -------
    FloatArray
        Dew point [K], broadcast shape, within 1e-6 K over 215 to 335 K; nan where there is no
        water in the air and over about 90 °C.

    Notes
    -----
    One step of Newton's method on the logarithm of the saturation pressure, which is so nearly
    straight in 1/T that the fitted start is within 0.001 K and one step is enough.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equations 5, 6 and 36.
    """
    ratio = np.asarray(humidity_ratio, dtype=np.float64)
    if not (ratio.size and ratio.min() > 0.0):
        ratio = np.where(ratio > 0.0, ratio, np.nan)
    vapour = vapour_pressure(ratio, pressure)
    lowest = vapour.min() if vapour.size else np.nan
    if not (lowest > 0.0 and vapour.max() < _LARGEST_DEW_PRESSURE):
        vapour = np.where((vapour > 0.0) & (vapour < _LARGEST_DEW_PRESSURE), vapour, np.nan)
    logarithm = np.asarray(np.log(vapour))
    over_water = _invert(_WATER, _DEW_START, logarithm)
    if lowest >= _TRIPLE_POINT_PRESSURE:
        return over_water
    over_ice = _invert(_ICE, _FROST_START, logarithm)
    return np.where(vapour < _TRIPLE_POINT_PRESSURE, over_ice, over_water)


def _invert(curve: _SaturationCurve, start: tuple[float, ...], logarithm: FloatArray) -> FloatArray:
    kelvin = 1.0 / _polynomial(start, logarithm)
    return np.asarray(kelvin - (_logarithm(curve, kelvin) - logarithm) / _slope(curve, kelvin))


def enthalpy(dry_bulb: FloatLike, humidity_ratio: FloatLike) -> FloatArray:
    """Enthalpy of moist air for each kg of dry air.

    Parameters
    ----------
    dry_bulb : array_like
        Dry bulb [K].
    humidity_ratio : array_like
        Humidity ratio [kg/kg].

    Returns
    -------
    FloatArray
        Enthalpy [J/kg dry air], broadcast shape; zero for dry air at 0 °C and for liquid water at
        0 °C.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 30.
    """
    celsius = np.asarray(dry_bulb, dtype=np.float64) - _FREEZING
    ratio = np.asarray(humidity_ratio, dtype=np.float64)
    return np.asarray(DRY_AIR_HEAT * celsius + ratio * (VAPORISATION_HEAT + VAPOUR_HEAT * celsius))


def specific_volume(dry_bulb: FloatLike, humidity_ratio: FloatLike, pressure: FloatLike) -> FloatArray:
    """Volume of moist air for each kg of dry air.

    Parameters
    ----------
    dry_bulb : array_like
        Dry bulb [K].
    humidity_ratio : array_like
        Humidity ratio [kg/kg].
    pressure : array_like
        Air pressure [Pa], over zero.

    Returns
    -------
    FloatArray
        Specific volume [m3/kg dry air], broadcast shape.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 26.
    """
    ratio = np.asarray(humidity_ratio, dtype=np.float64)
    dry = GAS_CONSTANT_DRY_AIR * np.asarray(dry_bulb) / np.asarray(pressure)
    return np.asarray(dry * (1.0 + ratio * (1.0 / MOLAR_RATIO)))


def density(dry_bulb: FloatLike, humidity_ratio: FloatLike, pressure: FloatLike) -> FloatArray:
    """Density of moist air, its water included.

    Parameters
    ----------
    dry_bulb : array_like
        Dry bulb [K].
    humidity_ratio : array_like
        Humidity ratio [kg/kg].
    pressure : array_like
        Air pressure [Pa], over zero.

    Returns
    -------
    FloatArray
        Density [kg/m3], broadcast shape.

    References
    ----------
    ASHRAE Handbook Fundamentals 2017, chapter 1, equation 11.
    """
    ratio = np.asarray(humidity_ratio, dtype=np.float64)
    return np.asarray((1.0 + ratio) / specific_volume(dry_bulb, ratio, pressure))
