"""The cycle model in heating against makers' published tables, and faults in heating against published signs.

The tables are of R-410A heat pumps, at 70 °F indoors unless a row says otherwise: a residential one of 2.5 tons with an
expansion valve (capacity and power), packaged ones of 2.5 and 3.5 tons (pressures by airflow), and the charge tables of
one of 2 and 2.5 tons.  Saturation temperatures in comments and tests follow from the pressures by CoolProp.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from math import log

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from service.physics import cycle
from service.physics.refrigerant_enthalpy import single_phase
from service.reference import healthy_units_heating, unit_model_heating
from service.reference.faults_by_mode import IN_MODE
from service.unit.layout import LAYOUTS
from service.unit.model import UnitModel

VALVE, FIXED = "thermostatic_expansion_valve", "fixed_orifice"
LAYOUT = LAYOUTS["heating"]
RATING = {f"{name}_{run}": value for name, value in LAYOUT.ratings["rating"].items() for run in ("before", "after")}

Outputs = Mapping[str, float]


def ask(device: str = VALVE, outdoor: float = 47.0, **moved: float) -> Outputs:
    """Outputs of a usual healthy unit at an outdoor temperature [°F] with some parameters moved."""
    model = UnitModel.of(single_phase("R-410A"), device, 101_325.0, 8_500.0, mode="heating")
    prior = model.prior(RATING, rated=True)
    parameters = prior.mean.copy()
    for name, value in healthy_units_heating.HEALTHY_MEANS.items():
        parameters[LAYOUT.index[name]] = value
    if device == FIXED:
        for name, (value, _) in healthy_units_heating.FIXED_DEVICE.items():
            parameters[LAYOUT.index[name]] = value
    parameters[LAYOUT.index["outdoor_after"]] += (outdoor - 47.0) / 1.8
    for name, value in moved.items():
        parameters[LAYOUT.index[name]] += value
    spread = np.sqrt(np.diagonal(prior.covariance))
    (outputs,), _ = model.linear(parameters, spread, [("after", "after")])
    return {name: float(row[0]) for name, row in outputs.items()}


def fahrenheit(one: Outputs, other: Outputs, name: str) -> float:
    """Second less first [°F]."""
    return 1.8 * (other[name] - one[name])


def percent(one: Outputs, other: Outputs, name: str) -> float:
    return 100.0 * (other[name] / one[name] - 1.0)


def over_return(outputs: Outputs) -> float:
    return 1.8 * outputs["condensing_temperature_over_return_air"]


def under_outdoor(outputs: Outputs) -> float:
    return 1.8 * outputs["evaporating_temperature_under_outdoor_air"]


@pytest.mark.parametrize(
    ("outdoor", "capacity", "power"),
    [
        # The 2.5-ton unit's table (18.2 and 13.9 of 29.0 kBtu/h; 2.08 and 1.97 of 2.25 kW); its power holds the blower.
        (17.0, 0.628, 0.924),
        (5.0, 0.479, 0.876),
        # The published map of single-speed heat pumps (Cutler et al. 2013).
        (17.0, 0.633, 0.858),
        (35.0, 0.842, 0.936),
        (62.0, 1.218, 1.118),
    ],
)
def test_capacity_and_power_follow_outdoor_air_as_published(outdoor: float, capacity: float, power: float) -> None:
    """Within the spread between map and unit: 0.03 of capacity and 0.07 of power at 17 °F; half as much again at 5 °F,
    where the two published sources differ by 0.033 and 0.073 themselves."""
    rated, there = ask(), ask(outdoor=outdoor)
    wider = 1.5 if outdoor < 17.0 else 1.0
    assert there["heating_capacity"] / rated["heating_capacity"] == pytest.approx(capacity, abs=0.03 * wider)
    assert there["total_power"] / rated["total_power"] == pytest.approx(power, abs=0.07 * wider)


def test_a_usual_unit_is_usual_in_heating() -> None:
    """At 47 °F the tables' units give 3.78 (coefficient of performance), 25.6 °F of air rise at 420 cfm/ton, and
    condense near 100 °F with a discharge line of about 155 °F (single units; the rest is common practice)."""
    usual = ask()
    assert usual["heating_cop"] == pytest.approx(3.78, abs=0.35)
    assert 1.8 * usual["heating_air_temperature_rise"] == pytest.approx(25.6, abs=2.5)
    assert usual["heating_capacity"] == pytest.approx(8_500.0, rel=0.08)
    assert 145.0 < usual["discharge_temperature"] * 1.8 - 459.67 < 175.0


#: Outdoor air [°F]: liquid pressures [psig] of the 2.5-ton packaged unit at 750, 1000 and 1250 cfm, and suction.
PACKAGED = {
    60.0: ((372, 331, 304), 114),
    47.0: ((341, 310, 291), 99),
    17.0: ((292, 273, 262), 57),
    0.0: ((273, 253, 243), 41),
}


def saturation(psig: float, quality: float) -> float:
    """Saturation temperature [°F] of R-410A by CoolProp."""
    return float(PropsSI("T", "P", (psig + 14.696) * 6_894.757, "Q", quality, "R410A")) * 1.8 - 459.67


def spread_of(name: str) -> float:
    """Standard deviation of an output [°F] among healthy units, to first order in the priors."""
    model = UnitModel.of(single_phase("R-410A"), VALVE, 101_325.0, 8_500.0, mode="heating")
    prior = model.prior(RATING, rated=True)
    steps = np.sqrt(np.diagonal(prior.covariance))
    (outputs,), _ = model.linear(prior.mean, steps, [("after", "after")])
    deviations = healthy_units_heating.HEALTHY
    gradient = outputs[name][1:]
    return 1.8 * float(np.sqrt(sum((gradient[LAYOUT.index[n]] * s) ** 2 for n, s in deviations.items())))


@pytest.mark.parametrize("outdoor", PACKAGED)
def test_pressures_lie_within_the_spread_of_healthy_units(outdoor: float) -> None:
    """Condensing over return air (28 to 33 °F at 47) and evaporating under outdoor air (16 °F) of the packaged unit at
    its nominal airflow lie within two standard deviations of what the model allows healthy units."""
    (_, nominal, _), suction = PACKAGED[outdoor]
    there = ask(outdoor=outdoor)
    assert abs(over_return(there) - (saturation(nominal, 0.0) - 70.0)) < 2.0 * spread_of("condensing_temperature")
    assert abs(under_outdoor(there) - (outdoor - saturation(suction, 1.0))) < 2.0 * spread_of("evaporating_temperature")


@pytest.mark.parametrize("outdoor", PACKAGED)
@pytest.mark.parametrize(("place", "airflow"), [(0, 0.75), (2, 1.25)])
def test_condensing_temperature_follows_airflow_as_published(outdoor: float, place: int, airflow: float) -> None:
    """At 47 °F a quarter less air lifts it by 6.7 °F, a quarter more lowers it by 4.4 °F; the sign holds everywhere,
    the size within 40 %."""
    liquid = PACKAGED[outdoor][0]
    published = saturation(liquid[place], 0.0) - saturation(liquid[1], 0.0)
    found = fahrenheit(
        ask(outdoor=outdoor), ask(outdoor=outdoor, airflow_change=log(airflow)), "condensing_temperature"
    )
    assert found == pytest.approx(published, rel=0.40)


def test_condensing_temperature_follows_return_air_and_suction_does_not() -> None:
    """Another maker's pressures: +1.0 °F of condensing for each °F of return air, suction unmoved (-1 to 0 psi for
    5 °F)."""
    usual, warm = ask(), ask(dry_bulb_after=5.0 / 1.8)
    assert fahrenheit(usual, warm, "condensing_temperature") / 5.0 == pytest.approx(1.0, abs=0.1)
    assert abs(fahrenheit(usual, warm, "suction_saturation_temperature")) < 1.0


def test_airflow_costs_about_what_the_published_map_says() -> None:
    """Cutler et al. (2013): 0.8 of the airflow leaves 0.966 of capacity, 0.6 leaves 0.918, at 1.116 and 1.292 times the
    power over capacity (without the blower).  The fault's own level lies between that and the coil alone."""
    usual = ask()
    levels = {one.level: one.valve for one in IN_MODE["heating"].faults["indoor_airflow"].forms[0].levels}
    for share, capacity, cost in ((0.2, 3.4, 10.4), (0.4, 8.2, 22.6)):
        low = ask(**levels[share])
        assert -capacity < percent(usual, low, "heating_capacity") < -0.4 * capacity
        assert -cost < percent(usual, low, "heating_cop") < -0.4 * cost


#: Charge line of a 2-ton unit at 50 °F outdoors: suction and liquid [psig] and discharge [°F], least charge first.
CHARGE_LINE = ((111, 347, 150), (114, 368, 137), (117, 389, 123))


def test_more_charge_moves_pressures_and_discharge_as_the_charge_line_does() -> None:
    """A maker's charge table: along one outdoor temperature more charge raises suction and liquid pressure and lowers
    the discharge temperature, by 0.64 °F for each psi of liquid pressure at 50 °F (within a factor of two)."""
    for (suction, liquid, hot), (more, higher, cooler) in pairwise(CHARGE_LINE):
        assert more > suction
        assert higher > liquid
        assert cooler < hot
    faults = IN_MODE["heating"].faults
    usual = ask(FIXED, 50.0)
    for name, sign in (("low_charge", -1.0), ("overcharge", 1.0)):
        moved = ask(FIXED, 50.0, **faults[name].forms[0].levels[1].fixed)
        suction, liquid = (
            sign * (moved[side] - usual[side]) / 6_894.757
            for side in ("suction_pressure_absolute", "high_side_pressure_absolute")
        )
        discharge = sign * fahrenheit(usual, moved, "discharge_temperature")
        assert suction > -0.5
        assert liquid > 0.0
        assert discharge < 0.0
        assert 0.3 < -discharge / liquid < 1.3


@pytest.mark.parametrize(
    ("fault", "form", "side", "signs"),
    [
        # Signs of a lumped model outside the project (its own coils, compressor and charge), no published table.
        ("outdoor_coil_airflow", 0, "valve", {"evaporating_temperature": -1, "heating_capacity": -1}),
        ("outdoor_coil_airflow", 0, "valve", {"outdoor_coil_air_temperature_drop": 1, "heating_cop": -1}),
        ("indoor_airflow", 0, "valve", {"condensing_temperature": 1, "heating_air_temperature_rise": 1}),
        ("indoor_airflow", 0, "fixed", {"superheat": -1, "discharge_temperature": 1, "heating_cop": -1}),
        ("low_charge", 0, "valve", {"subcooling": -1, "condensing_temperature": -1, "heating_capacity": -1}),
        ("low_charge", 0, "fixed", {"superheat": 1, "evaporating_temperature": -1, "discharge_temperature": 1}),
        ("compressor_leakage", 0, "valve", {"evaporating_temperature": 1, "condensing_temperature": -1}),
        ("reversing_valve_leakage", 0, "valve", {"evaporating_temperature": 1, "condensing_temperature": -1}),
        ("reversing_valve_leakage", 0, "valve", {"reversing_valve_temperature_rise": 1, "discharge_temperature": 1}),
        ("non_condensable_gas", 0, "valve", {"condensing_temperature": 1, "subcooling": 1, "heating_cop": -1}),
        ("auxiliary_heat_on", 0, "valve", {"heating_air_temperature_rise": 1}),
    ],
)
def test_faults_have_their_signs_in_heating(fault: str, form: int, side: str, signs: Mapping[str, int]) -> None:
    """Each output moves the way it must, clearly."""
    device = VALVE if side == "valve" else FIXED
    usual = ask(device)
    level = IN_MODE["heating"].faults[fault].forms[form].levels[2]
    moved = ask(device, **getattr(level, side))
    for name, sign in signs.items():
        relative = name in ("heating_capacity", "heating_cop")
        change = percent(usual, moved, name) if relative else fahrenheit(usual, moved, name)
        assert sign * change > 0.3, (name, change)


def test_non_condensable_gas_lifts_condensing_and_subcooling_alike() -> None:
    """20 psi of gas in the circuit: +4.5 and +4.4 °F by a model outside the project (within 40 %)."""
    levels = IN_MODE["heating"].faults["non_condensable_gas"].forms[0].levels
    share = 20.0 / 318.0
    named = [one.valve for one in levels]
    names = named[0].keys()
    gas = {n: float(np.interp(share, [one.level for one in levels], [one[n] for one in named])) for n in names}
    usual, moved = ask(), ask(**gas)
    assert fahrenheit(usual, moved, "condensing_temperature") == pytest.approx(4.5, rel=0.4)
    assert fahrenheit(usual, moved, "subcooling") == pytest.approx(4.4, rel=0.4)


def test_a_leaking_reversing_valve_keeps_the_energy_balance() -> None:
    """Of hot gas at 154 °F and 303 psig mixed into gas at 40 °F and 99 psig, 1.41, 4.21 and 13.83 % warm the suction by
    1, 3 and 10 °F (CoolProp); the share of what the compressor adds is the same in the model."""
    usual = ask(valve_rise=-unit_model_heating.PARAMETERS["valve_rise"].value)
    for share, rise in ((0.0141, 1.0), (0.0421, 3.0), (0.1383, 10.0)):
        leak = ask(valve_rise=-unit_model_heating.PARAMETERS["valve_rise"].value, leak_change=share)
        found = fahrenheit(usual, leak, "reversing_valve_temperature_rise")
        # The unit's own pressures and discharge differ a little from those of the balance.
        assert found == pytest.approx(rise, rel=0.25)


def test_balances_close_in_heating() -> None:
    """First law of the whole unit: what the indoor coil gives off is what the outdoor coil takes up and the
    compressor's power less its shell loss, with and without a leak in the reversing valve (definition)."""
    phases = single_phase("R-410A")

    def row(value: float) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        return np.array([value])

    for leak in (0.0, 0.1):
        unit = cycle.HeatingMachine(
            displacement=row(2.4e-3),
            volumetric_slope=row(0.08),
            efficiency=row(0.62),
            efficiency_slope=row(-0.15),
            heat_loss=row(0.09),
            transfer_units=row(1.7),
            airflow=row(0.48),
            outdoor_units=row(0.45),
            outdoor_airflow=row(1.15),
            superheat=row(4.5),
            subcooling=row(10.0),
            leak=row(leak),
            valve_rise=row(1.3),
            fan_power=row(150.0),
            blower_power=row(350.0),
            strips=row(0.0),
            sensible_factor=row(1.15),
        )
        air = cycle.HeatingConditions.of(row(281.5), row(294.3), row(0.72), row(1.0), 101_325.0)
        ends = cycle.closed(phases, unit, air, row(274.0), row(310.0))
        found = cycle.state(phases, unit, air, *ends)
        absorbed = found.mass_flow * found.effect
        assert np.isfinite(ends).all()
        assert found.evaporator_imbalance[0] == pytest.approx(0.0, abs=1e-4)
        assert found.condenser_imbalance[0] == pytest.approx(0.0, abs=1e-4)
        kept = found.compressor_power * (1.0 - 0.09)
        assert found.heat_rejected[0] == pytest.approx((absorbed + kept)[0], rel=5e-3)
