"""The lumped cycle model: its balances, its solution, and what its coils do in the limits."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from numpy.typing import NDArray

from service.physics import cycle
from service.physics.refrigerant_enthalpy import single_phase

FloatArray = NDArray[np.float64]

PHASES = single_phase("R-410A")


def machine(**parts: float) -> cycle.Machine:
    """An invented unit of some 10 kW."""
    usual = {
        "displacement": 1.5e-3,
        "volumetric_slope": 0.04,
        "efficiency": 0.65,
        "efficiency_slope": -0.1,
        "heat_loss": 0.1,
        "condenser": 1200.0,
        "transfer_units": 1.2,
        "airflow": 0.57,
        "superheat": 6.0,
        "subcooling": 6.0,
        "fan_power": 200.0,
        "blower_power": 400.0,
        "sensible_factor": 1.0,
    }
    return cycle.Machine(**{name: np.array([value]) for name, value in (usual | parts).items()})


def conditions(outdoor: float = 308.0, wet_bulb: float = 292.6) -> cycle.Conditions:
    hot, dry, wet, volts = (np.array([value]) for value in (outdoor, 299.8, wet_bulb, 0.0))
    return cycle.Conditions.of(hot, dry, wet, volts, 101_325.0)


def solved(
    unit: cycle.Machine, air: cycle.Conditions, suction: float = 283.0, liquid: float = 318.0
) -> tuple[FloatArray, FloatArray]:
    return cycle.closed(PHASES, unit, air, np.array([suction]), np.array([liquid]))


@pytest.mark.parametrize(("suction", "liquid"), [(268.0, 330.0), (290.0, 311.0), (262.0, 320.0), (289.0, 335.0)])
def test_the_solution_hangs_on_no_start(suction: float, liquid: float) -> None:
    """Both balances close, from 20 K off too, where Newton's steps have to be bounded."""
    unit, air = machine(), conditions()
    ends = solved(unit, air, suction, liquid)
    usual = solved(unit, air)
    assert float(ends[0][0]) == pytest.approx(float(usual[0][0]), abs=1e-3)
    assert float(ends[1][0]) == pytest.approx(float(usual[1][0]), abs=1e-3)
    found = cycle.state(PHASES, unit, air, *ends)
    assert float(found.evaporator_imbalance[0]) == pytest.approx(0.0, abs=1e-4)
    assert float(found.condenser_imbalance[0]) == pytest.approx(0.0, abs=1e-4)


def test_each_place_goes_its_own_way() -> None:
    """One that has no solution, one near its own and one far off give what each gives alone."""
    starts = [(283.0, 318.0), (230.0, 344.0), (289.0, 335.0)]
    unit, air = machine(), conditions()
    alone = [solved(unit, air, *start) for start in starts]
    suction, liquid = np.array(starts).T

    def spread(value: FloatArray) -> FloatArray:
        return np.repeat(value, len(starts))

    whole = cycle.Machine(*(spread(getattr(unit, name)) for name in cycle.Machine.__slots__))
    around = cycle.Conditions.of(
        spread(air.outdoor), spread(air.dry_bulb), spread(air.wet_bulb), spread(air.voltage), 101_325.0
    )
    together = cycle.closed(PHASES, whole, around, suction, liquid)
    for side in (0, 1):
        expected = np.array([one[side][0] for one in alone])
        assert together[side] == pytest.approx(expected, abs=1e-4, nan_ok=True)


@pytest.mark.parametrize(("superheat", "subcooling"), [(6.0, 6.0), (-5.0, 6.0), (6.0, -5.0)])
def test_heat_is_conserved(superheat: float, subcooling: float) -> None:
    """What the condenser rejects is what the evaporator took and the compressor put in, less its shell's
    loss (first law), with liquid in the suction gas or vapour in the liquid line too."""
    unit, air = machine(superheat=superheat, subcooling=subcooling), conditions()
    found = cycle.state(PHASES, unit, air, *solved(unit, air))
    taken = found.capacity + 400.0
    assert taken == pytest.approx(found.mass_flow * found.effect)
    assert found.heat_rejected == pytest.approx(taken + 0.9 * found.compressor_power, rel=1e-9)
    condensing_over_outdoor = found.condensing - air.outdoor
    assert found.heat_rejected == pytest.approx(1200.0 * condensing_over_outdoor, rel=1e-4)


def test_a_dry_coil_is_an_exchanger_at_one_temperature() -> None:
    """Effectiveness 1 - e^-NTU (Incropera and DeWitt, chapter 11, C_r = 0); its air takes all of the heat."""
    unit, air = machine(), conditions(wet_bulb=284.5)
    found = cycle.state(PHASES, unit, air, *solved(unit, air))
    split = (1.0 - np.exp(-1.2)) * (air.dry_bulb - found.evaporating)
    blower = 400.0 / (found.air_mass_flow * 1022.0)
    assert found.temperature_split + blower == pytest.approx(split, rel=1e-6)
    heat = found.air_mass_flow * 1022.0 * split
    # The passage from dry to wet is smooth over 800 J/kg, which leaves a few percent.
    assert found.mass_flow * found.effect == pytest.approx(heat, rel=0.05)


def test_air_is_never_cooled_by_more_than_the_heat_it_gives() -> None:
    """A sensible factor over one is held to the heat there is (first law)."""
    unit, air = machine(sensible_factor=3.0), conditions()
    found = cycle.state(PHASES, unit, air, *solved(unit, air))
    blower = 400.0 / (found.air_mass_flow * 1022.0)
    sensible = found.air_mass_flow * 1022.0 * (found.temperature_split + blower)
    assert sensible == pytest.approx(found.mass_flow * found.effect, rel=1e-4)


def test_discharge_temperature_is_that_of_its_enthalpy() -> None:
    """Against CoolProp's own flash at pressure and enthalpy, its zero of enthalpy taken off."""
    unit, air = machine(), conditions()
    found = cycle.state(PHASES, unit, air, *solved(unit, air))
    pressure = float(found.high_pressure[0])
    at_dew = float(found.high_side.enthalpy(found.dew_at_high + 1.0)[0])
    theirs = PropsSI("H", "P", pressure, "T", float(found.dew_at_high[0]) + 1.0, "R410A")
    enthalpy = float(found.discharge_enthalpy[0]) - at_dew + theirs
    expected = PropsSI("T", "P", pressure, "H", enthalpy, "R410A")
    assert float(cycle.discharge_temperature(found)[0]) == pytest.approx(expected, abs=0.3)
