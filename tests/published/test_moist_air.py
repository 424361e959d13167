"""Moist air against ASHRAE Fundamentals, PsychroLib and CoolProp's real humid air.

ASHRAE numbers are of Handbook Fundamentals 2017, chapter 1, as PsychroLib's own inch-pound test
file (tests/test_psychrolib_ip.py) quotes them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import psychrolib
import pytest

from service.physics import moist_air
from service.physics.array_types import FloatArray

PSI = 6894.757293168361
DEGF = 5 / 9
BTU_PER_POUND = 2326.0
CUBIC_FOOT_PER_POUND = 0.3048**3 / 0.45359237
#: The inch-pound enthalpy scale counts from dry air at 0 °F, the SI scale from 0 °C.
SCALE_OFFSET = 1006.0 * 32 * DEGF
STANDARD = 101_325.0


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit - 32) * DEGF + 273.15


# Table 3; PsychroLib's tests allow 300 ppm.
@pytest.mark.parametrize(
    ("fahrenheit", "psia"),
    [(23, 0.058268), (41, 0.12656), (77, 0.45973), (122, 1.79140), (212, 14.7094)],
)
def test_saturation_vapour_pressure(fahrenheit: float, psia: float) -> None:
    """Over ice and water, to the 300 ppm to which the table repeats the formula."""
    own = moist_air.saturation_vapour_pressure(kelvin(fahrenheit)) / PSI
    assert own == pytest.approx(psia, rel=3e-4)


# Table 2.  The perfect-gas relations leave out the enhancement factor, so the table, which has it,
# is met to 0.5 % (1 % hot); PsychroLib's tests allow 0.5 to 2 %.
@pytest.mark.parametrize(
    ("fahrenheit", "ratio", "tolerance"),
    [(23, 0.0024863, 5e-3), (41, 0.005425, 5e-3), (77, 0.020173, 5e-3), (122, 0.086863, 1e-2)],
)
def test_saturation_humidity_ratio(fahrenheit: float, ratio: float, tolerance: float) -> None:
    """Saturated air at the standard atmosphere."""
    own = moist_air.humidity_ratio_from_dew_point(kelvin(fahrenheit), STANDARD)
    assert own == pytest.approx(ratio, rel=tolerance)


# Table 2; PsychroLib's tests allow 1 to 3 %, here 0.5 %.
@pytest.mark.parametrize(("fahrenheit", "btu_per_pound"), [(23, 8.186), (41, 15.699), (77, 40.576)])
def test_saturation_enthalpy(fahrenheit: float, btu_per_pound: float) -> None:
    """Saturated air at the standard atmosphere."""
    ratio = moist_air.humidity_ratio_from_dew_point(kelvin(fahrenheit), STANDARD)
    own = (moist_air.enthalpy(kelvin(fahrenheit), ratio) + SCALE_OFFSET) / BTU_PER_POUND
    assert own == pytest.approx(btu_per_pound, rel=5e-3)


def test_dry_air() -> None:
    """Table 2, dry air at 77 °F: 18.498 Btu/lb and 13.5251 ft3/lb, to 400 ppm."""
    own = (moist_air.enthalpy(kelvin(77), 0.0) + SCALE_OFFSET) / BTU_PER_POUND
    assert own == pytest.approx(18.498, rel=4e-4)
    volume = moist_air.specific_volume(kelvin(77), 0.0, STANDARD) / CUBIC_FOOT_PER_POUND
    assert volume == pytest.approx(13.5251, rel=4e-4)


def test_ashrae_example_1() -> None:
    """Example 1: 100 °F dry bulb, 65 °F wet bulb, 14.696 psia.

    Chart readings: W 0.00523, dew point 40 °F, RH 13 %, h 29.80 Btu/lb, v 14.22 ft3/lb, each to
    the width of what a chart can be read to.
    """
    t, p = kelvin(100), 14.696 * PSI
    ratio = moist_air.humidity_ratio_from_wet_bulb(t, kelvin(65), p)
    assert ratio == pytest.approx(0.00523, abs=5e-5)
    assert moist_air.dew_point(ratio, p) == pytest.approx(kelvin(40), abs=0.1)
    assert moist_air.relative_humidity(t, ratio, p) == pytest.approx(0.13, abs=0.003)
    enthalpy = (moist_air.enthalpy(t, ratio) + SCALE_OFFSET) / BTU_PER_POUND
    assert enthalpy == pytest.approx(29.80, abs=0.1)
    volume = moist_air.specific_volume(t, ratio, p) / CUBIC_FOOT_PER_POUND
    assert volume == pytest.approx(14.22, abs=0.015)
    assert moist_air.wet_bulb(t, ratio, p) == pytest.approx(kelvin(65), abs=1e-6)


def test_humidity_ratio_from_wet_bulb_at_altitude() -> None:
    """86 °F dry bulb, 77 °F wet bulb, 14.175 psia: W 0.0187193, to 400 ppm.

    PsychroLib's inch-pound equation 33 itself gives 0.0187159 at this rounded pressure, and its
    rounded coefficients lie 120 ppm from the SI ones here: together 310 ppm.
    """
    own = moist_air.humidity_ratio_from_wet_bulb(kelvin(86), kelvin(77), 14.175 * PSI)
    assert own == pytest.approx(0.0187193, rel=4e-4)


# Table 1.
@pytest.mark.parametrize(("feet", "psia"), [(0, 14.696), (1000, 14.175), (3000, 13.173), (10_000, 10.108)])
def test_standard_atmosphere(feet: float, psia: float) -> None:
    """The table's 1000 ft row is 0.002 psia off its own formula; that is the tolerance."""
    own = moist_air.standard_atmosphere_pressure(feet * 0.3048) / PSI
    assert own == pytest.approx(psia, abs=2.5e-3)


#: The service range: 0 to 50 °C, 5 to 100 %, 0 to 2500 m.
CELSIUS, HUMIDITY, ALTITUDE = (
    axis.ravel()
    for axis in np.meshgrid(
        np.linspace(0.0, 50.0, 11),
        [0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0],
        [0.0, 800.0, 1600.0, 2500.0],
        indexing="ij",
    )
)
PRESSURE = moist_air.standard_atmosphere_pressure(ALTITUDE)
DRY_BULB = CELSIUS + 273.15
RATIO = moist_air.humidity_ratio_from_relative_humidity(DRY_BULB, HUMIDITY, PRESSURE)


def each(function: Callable[..., Any], *arguments: FloatArray) -> FloatArray:
    """One scalar call of the independent library for each point."""
    return np.array([function(*(float(value) for value in row)) for row in zip(*arguments)])  # noqa: B905


def largest(own: FloatArray, theirs: FloatArray) -> float:
    return float(np.max(np.abs(own - theirs)))


def largest_relative(own: FloatArray, theirs: FloatArray) -> float:
    return float(np.max(np.abs(own / theirs - 1.0)))


def test_agrees_with_psychrolib_over_the_service_range() -> None:
    """PsychroLib 2.5.0 implements the same chapter, so it must agree to rounding.

    Largest differences measured: pressures, humidity ratio and relative humidity 1e-14 relative,
    enthalpy 1e-10 J/kg, dew point 3e-9 K, volume and density 1.3e-7 relative (another digit of the
    gas constant's ratio), wet bulb 0.0007 K (its bisection stops at 0.001 K).
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    pressure = each(psychrolib.GetStandardAtmPressure, ALTITUDE)
    assert largest_relative(PRESSURE, pressure) < 1e-12
    saturation = each(psychrolib.GetSatVapPres, CELSIUS)
    assert largest_relative(moist_air.saturation_vapour_pressure(DRY_BULB), saturation) < 1e-12
    ratio = each(psychrolib.GetHumRatioFromRelHum, CELSIUS, HUMIDITY, PRESSURE)
    assert largest_relative(RATIO, ratio) < 1e-12
    humidity = each(psychrolib.GetRelHumFromHumRatio, CELSIUS, RATIO, PRESSURE)
    own = moist_air.relative_humidity(DRY_BULB, RATIO, PRESSURE)
    assert largest_relative(own, humidity) < 1e-12
    enthalpy = each(psychrolib.GetMoistAirEnthalpy, CELSIUS, RATIO)
    assert largest(moist_air.enthalpy(DRY_BULB, RATIO), enthalpy) < 1e-6
    dew_point = each(psychrolib.GetTDewPointFromHumRatio, CELSIUS, RATIO, PRESSURE)
    assert largest(moist_air.dew_point(RATIO, PRESSURE) - 273.15, dew_point) < 1e-6
    volume = each(psychrolib.GetMoistAirVolume, CELSIUS, RATIO, PRESSURE)
    own = moist_air.specific_volume(DRY_BULB, RATIO, PRESSURE)
    assert largest_relative(own, volume) < 2e-7
    density = each(psychrolib.GetMoistAirDensity, CELSIUS, RATIO, PRESSURE)
    assert largest_relative(moist_air.density(DRY_BULB, RATIO, PRESSURE), density) < 2e-7
    bulb = each(psychrolib.GetTWetBulbFromHumRatio, CELSIUS, RATIO, PRESSURE)
    assert largest(moist_air.wet_bulb(DRY_BULB, RATIO, PRESSURE) - 273.15, bulb) < 1e-3


def test_wet_bulb_equation_agrees_with_psychrolib() -> None:
    """Its humidity ratio at our wet bulb is the one we started from, to 1e-6 K of wet bulb.

    Sharper than comparing with its bisection, which stops at 0.001 K.  Wet bulbs between 0 °C and
    the triple point are left out, where the saturation curves part.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    bulb = moist_air.wet_bulb(DRY_BULB, RATIO, PRESSURE) - 273.15
    chosen = ((bulb < -0.01) | (bulb > 0.01)) & (bulb <= CELSIUS)
    assert chosen.sum() > 300
    theirs = each(psychrolib.GetHumRatioFromTWetBulb, CELSIUS[chosen], bulb[chosen], PRESSURE[chosen])
    # The slope of humidity ratio by wet bulb is at least 4e-4 per K, so 4e-10 is 1e-6 K.
    assert largest(RATIO[chosen], theirs) < 4e-10


def test_agrees_with_real_humid_air() -> None:
    """CoolProp's humid air (ASHRAE RP-1485, after Herrmann, Kretzschmar and Gatley) is a real gas.

    The perfect-gas relations leave out the enhancement factor; largest differences measured:
    humidity ratio 0.62 % and enthalpy 1.5 kJ/kg at equal relative humidity (50 °C, saturated),
    enthalpy 0.31 kJ/kg and volume 0.09 % at equal humidity ratio, dew point 0.021 K, wet bulb
    0.026 K (0.029 K with the wick frozen).  Between, where one takes the wick for wet and the
    other for frozen, wet bulbs differ by 0.7 K.
    """
    from CoolProp.HumidAirProp import HAPropsSI

    def humid_air(name: str, given: str, value: FloatArray) -> FloatArray:
        answer = HAPropsSI(name, "T", DRY_BULB, "P", PRESSURE, given, value)
        return np.asarray(answer, dtype=np.float64)

    assert largest_relative(RATIO, humid_air("W", "R", HUMIDITY)) < 6.5e-3
    enthalpy = moist_air.enthalpy(DRY_BULB, RATIO)
    assert largest(enthalpy, humid_air("H", "R", HUMIDITY)) < 1500.0
    assert largest(enthalpy, humid_air("H", "W", RATIO)) < 320.0
    own = moist_air.specific_volume(DRY_BULB, RATIO, PRESSURE)
    assert largest_relative(own, humid_air("V", "W", RATIO)) < 1e-3
    assert largest(moist_air.dew_point(RATIO, PRESSURE), humid_air("D", "R", HUMIDITY)) < 0.022
    bulb, theirs = moist_air.wet_bulb(DRY_BULB, RATIO, PRESSURE), humid_air("B", "R", HUMIDITY)
    wet = np.minimum(bulb, theirs) >= 273.16
    frozen = np.maximum(bulb, theirs) < 273.15
    assert wet.sum() + frozen.sum() > 340
    assert largest(bulb[wet], theirs[wet]) < 0.03
    assert largest(bulb[frozen], theirs[frozen]) < 0.03
    assert largest(bulb, theirs) < 0.75
