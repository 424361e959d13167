"""Ducts against the formulas of ANSI/ASHRAE Standard 152 as a public residential simulation library codes them.

The numbers below were worked from those formulas in inch-pound units, outside this project.
"""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest

from service.physics import duct_delivery, moist_air
from service.reference.ducts import AIR_DENSITY, AIR_HEAT, CFM

R_VALUE = 0.3048**2 * 3600 / 1055.05585262 / 1.8
BTU_H = 1055.05585262 / 3600
BTU_LB = 2326.0
DEGF = 5 / 9
SQUARE_FOOT = 0.3048**2


def flow_heat(cfm: float) -> float:
    """[W/K]"""
    return cfm * CFM * AIR_DENSITY * AIR_HEAT


def test_resistance_of_insulated_ducts() -> None:
    """R-6: 5.6152 in supply ducts and 6.2706 in return ducts; bare metal 1.7 [h ft2 °F/Btu]."""
    assert duct_delivery.supply_resistance(6.0 * R_VALUE) / R_VALUE == pytest.approx(5.6152, abs=5e-5)
    assert duct_delivery.return_resistance(6.0 * R_VALUE) / R_VALUE == pytest.approx(6.2706, abs=5e-5)
    assert duct_delivery.supply_resistance(0.0) / R_VALUE == pytest.approx(1.7)


def conduction(cfm: float) -> tuple[float, float]:
    """Of 300 ft2 of supply and 100 ft2 of return ducts behind R-6."""
    supply = duct_delivery.supply_resistance(6.0 * R_VALUE)
    back = duct_delivery.return_resistance(6.0 * R_VALUE)
    return (
        float(duct_delivery.conduction_fraction(300 * SQUARE_FOOT, supply, flow_heat(cfm))),
        float(duct_delivery.conduction_fraction(100 * SQUARE_FOOT, back, flow_heat(cfm))),
    )


def test_conduction() -> None:
    """1000 cfm: 0.9517 and 0.9853; 70 % of the airflow: 0.955 falls to 0.936 in the supply ducts of 1080 cfm."""
    assert conduction(1000.0) == pytest.approx((0.9517, 0.9853), abs=5e-5)
    full, low = (conduction(cfm)[0] for cfm in (1080.0, 756.0))
    assert (full, low) == pytest.approx((0.955, 0.936), abs=7e-4)
    assert (1 - low) / (1 - full) == pytest.approx(1.41, abs=0.01)


def heating(*numbers: float) -> float:
    """Delivery effectiveness from a_s, a_r, B_s, B_r and the three temperature differences [°F]."""
    kept, kept_back, left, left_back, colder, colder_back, rise = numbers
    return float(
        duct_delivery.heating_delivery(
            (kept, left), (kept_back, left_back), (colder * DEGF, colder_back * DEGF), rise * DEGF
        )
    )


def test_heating() -> None:
    """30,000 Btu/h by 1000 cfm is a rise of 27.78 °F; ducts at 40 °F around rooms of 68 °F."""
    rise = 30_000 * BTU_H / flow_heat(1000.0) / DEGF
    assert rise == pytest.approx(27.78, abs=0.005)
    left, left_back = conduction(1000.0)
    assert heating(0.90, 0.95, left, left_back, 28, 28, rise) == pytest.approx(0.7576, abs=5e-5)
    assert heating(0.90, 0.95, 0.95, 0.98, 30, 30, 30) == pytest.approx(0.7510, abs=5e-5)


def test_ducts_without_leaks() -> None:
    """0.8810 in heating (0.95 and 0.98 by conduction, all differences equal), 0.7876 in cooling."""
    assert heating(1.0, 1.0, 0.95, 0.98, 30, 30, 30) == pytest.approx(0.8810, abs=5e-5)
    assert cooling(1.0, 1.0) == pytest.approx(0.7876, abs=5e-5)


def cooling(kept: float, kept_back: float) -> float:
    """36,000 Btu/h by 1200 cfm; rooms 75 °F and 28.4 Btu/lb, zone 120 °F and 40 Btu/lb, supply air 55 °F."""
    return float(
        duct_delivery.cooling_delivery(
            (kept, 0.93),
            (kept_back, 0.97),
            (65 * DEGF, 45 * DEGF),
            (40 - 28.4) * BTU_LB,
            36_000 * BTU_H,
            (1200 * CFM * AIR_DENSITY, AIR_HEAT),
        )
    )


def test_cooling() -> None:
    """With a tenth and a twentieth lost to leaks."""
    assert cooling(0.9, 0.95) == pytest.approx(0.6327, abs=5e-5)


def test_perfect_ducts_deliver_everything() -> None:
    """By definition, in both modes, whatever is around them."""
    assert heating(1.0, 1.0, 1.0, 1.0, 40, 40, 30) == pytest.approx(1.0)
    found = duct_delivery.cooling_delivery((1.0, 1.0), (1.0, 1.0), (40.0, 30.0), 3e4, 1e4, (0.7, AIR_HEAT))
    assert found == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("share", "valve", "orifice"),
    [
        (0.7, 0.9552, 0.895),
        (0.8, 0.9796, 0.930),
        (0.9, 0.9938, 0.965),
        (1.0, 1.0, 1.0),
        (1.1, 0.9997, 1.035),
    ],
)
def test_efficiency_over_airflow(share: float, valve: float, orifice: float) -> None:
    """Two kinds of metering device."""
    assert duct_delivery.equipment_factor(share, expansion_valve=True) == pytest.approx(valve, abs=5e-5)
    assert duct_delivery.equipment_factor(share, expansion_valve=False) == pytest.approx(orifice, abs=5e-5)


def test_leakage_at_another_pressure() -> None:
    """60 cfm at 25 Pa are 98.4 at 57 Pa (exponent 0.60; value from memory)."""
    assert duct_delivery.leakage_at(60.0, 25.0, 57.0) == pytest.approx(98.4, abs=0.05)


def test_moisture_removed() -> None:
    """1200 cfm at the supply state, 80/67 to 58/56.5 °F at sea level: 9.77 lb/h by PsychroLib."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    states = [tuple((f - 32) / 1.8 for f in pair) for pair in ((80.0, 67.0), (58.0, 56.5))]
    ratios = [psychrolib.GetHumRatioFromTWetBulb(dry, wet, 101_325.0) for dry, wet in states]
    volume = psychrolib.GetMoistAirVolume(states[1][0], ratios[1], 101_325.0)
    own = [moist_air.humidity_ratio_from_wet_bulb(d + 273.15, w + 273.15, 101_325.0) for d, w in states]
    flow = 1200 * CFM / moist_air.specific_volume(states[1][0] + 273.15, own[1], 101_325.0)
    removed = float(duct_delivery.moisture_removed(flow, own[0], own[1])) * 3600 / 0.45359237
    assert removed == pytest.approx(1200 * CFM / volume * (ratios[0] - ratios[1]) * 3600 / 0.45359237, rel=1e-3)
    # The inch-pound equations of the same chapter are rounded differently.
    assert removed == pytest.approx(9.77, rel=3e-3)


def test_draws_are_the_last_axis() -> None:
    """Each draw gets its own number."""
    left = duct_delivery.conduction_fraction(np.array([0.0, 1.0]), 1.0, 1.0)
    assert left == pytest.approx([1.0, np.exp(-1.0)])
