"""Moist air against ASHRAE Fundamentals, PsychroLib and CoolProp's humid air."""

from __future__ import annotations

import itertools

import numpy as np
import psychrolib
import pytest

from service.physics import moist_air

PSI = 6894.757293168361
DEGF = 5 / 9


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit - 32) * DEGF + 273.15


# ASHRAE Fundamentals 2017 ch. 1 Table 3 (as quoted by PsychroLib's own tests; 300 ppm there).
@pytest.mark.parametrize(
    ("fahrenheit", "psia"),
    [(23, 0.058268), (41, 0.12656), (77, 0.45973), (122, 1.79140), (212, 14.7094)],
)
def test_saturation_vapour_pressure(fahrenheit: float, psia: float) -> None:
    """Over ice and water."""
    assert moist_air.saturation_vapour_pressure(kelvin(fahrenheit)) / PSI == pytest.approx(
        psia, rel=4e-4
    )


# ASHRAE Fundamentals 2017 ch. 1 Table 2; the perfect-gas relations leave out the enhancement
# factor, so agreement is 0.5 to 2 % (as PsychroLib's tests say).
@pytest.mark.parametrize(
    ("fahrenheit", "ratio", "tolerance"),
    [(23, 0.0024863, 0.01), (41, 0.005425, 0.01), (77, 0.020173, 0.01), (122, 0.086863, 0.01)],
)
def test_saturation_humidity_ratio(fahrenheit: float, ratio: float, tolerance: float) -> None:
    """At the standard atmosphere."""
    own = moist_air.humidity_ratio_from_dew_point(kelvin(fahrenheit), 101_325.0)
    assert own == pytest.approx(ratio, rel=tolerance)


def test_ashrae_example_1() -> None:
    """ASHRAE Fundamentals 2017 ch. 1 Example 1: 100 °F dry bulb, 65 °F wet bulb, 14.696 psia.

    Chart readings: W 0.00523, dew point 40 °F, RH 13 %, h 29.80 Btu/lb, v 14.22 ft3/lb.
    """
    t, p = kelvin(100), 14.696 * PSI
    w = moist_air.humidity_ratio_from_wet_bulb(t, kelvin(65), p)
    assert w == pytest.approx(0.00523, abs=5e-5)
    assert moist_air.dew_point(w, p) == pytest.approx(kelvin(40), abs=0.1)
    assert moist_air.relative_humidity(t, w, p) == pytest.approx(0.13, abs=0.003)
    # The scale in Btu/lb counts from dry air at 0 °F.
    assert (moist_air.enthalpy(t, w) + 1006 * 32 * DEGF) / 2326 == pytest.approx(29.80, abs=0.1)
    assert moist_air.specific_volume(t, w, p) * 16.01846 == pytest.approx(14.22, abs=0.015)


@pytest.mark.parametrize(
    ("feet", "psia"), [(0, 14.696), (1000, 14.175), (3000, 13.173), (10_000, 10.108)]
)
def test_standard_atmosphere(feet: float, psia: float) -> None:
    """ASHRAE Fundamentals 2017 ch. 1 Table 1 (quoted by PsychroLib's tests)."""
    own = moist_air.standard_atmosphere_pressure(feet * 0.3048) / PSI
    assert own == pytest.approx(psia, abs=0.003)


GRID = list(
    itertools.product(np.linspace(0, 50, 11), (0.05, 0.2, 0.5, 0.8, 1.0), (0.0, 1200, 2500))
)


def test_agrees_with_psychrolib_over_the_service_range() -> None:
    """0 to 50 °C, 5 to 100 %, 0 to 2500 m; PsychroLib 2.5.0 implements the same chapter.

    Largest differences asserted here: wet bulb 2 mK (its bisection stops at 1 mK), dew point 2 mK,
    humidity ratio 2e-6 relative, enthalpy 1 J/kg, density 2e-4 relative.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    for celsius, humidity, altitude in GRID:
        p = float(moist_air.standard_atmosphere_pressure(altitude))
        assert p == pytest.approx(psychrolib.GetStandardAtmPressure(altitude), rel=1e-9)
        t = celsius + 273.15
        w = float(moist_air.humidity_ratio_from_relative_humidity(t, humidity, p))
        theirs = psychrolib.GetHumRatioFromRelHum(celsius, humidity, p)
        assert w == pytest.approx(theirs, rel=2e-6)
        assert moist_air.wet_bulb(t, w, p) - 273.15 == pytest.approx(
            psychrolib.GetTWetBulbFromHumRatio(celsius, theirs, p), abs=2e-3
        )
        assert moist_air.dew_point(w, p) - 273.15 == pytest.approx(
            psychrolib.GetTDewPointFromHumRatio(celsius, theirs, p), abs=2e-3
        )
        assert moist_air.enthalpy(t, w) == pytest.approx(
            psychrolib.GetMoistAirEnthalpy(celsius, theirs), abs=1.0
        )
        assert moist_air.density(t, w, p) == pytest.approx(
            psychrolib.GetMoistAirDensity(celsius, theirs, p), rel=2e-4
        )


def test_agrees_with_real_moist_air() -> None:
    """CoolProp's humid air (ASHRAE RP-1485) keeps the enhancement factor.

    Largest differences asserted: humidity ratio 0.6 %, wet bulb 0.12 K, enthalpy 1 kJ/kg
    (0.4 % of it, at 50 °C saturated).
    """
    from CoolProp.HumidAirProp import HAPropsSI

    for celsius, humidity, altitude in GRID[::2]:
        p = float(moist_air.standard_atmosphere_pressure(altitude))
        t = celsius + 273.15
        w = float(moist_air.humidity_ratio_from_relative_humidity(t, humidity, p))
        assert w == pytest.approx(HAPropsSI("W", "T", t, "P", p, "R", humidity), rel=6e-3)
        if celsius >= 5:  # near freezing the two disagree on ice under the wick
            theirs = HAPropsSI("B", "T", t, "P", p, "R", humidity)
            own = moist_air.wet_bulb(t, w, p)
            if theirs > 273.5:
                assert own == pytest.approx(theirs, abs=0.12)
        assert moist_air.enthalpy(t, w) == pytest.approx(
            HAPropsSI("H", "T", t, "P", p, "R", humidity), abs=1000
        )
