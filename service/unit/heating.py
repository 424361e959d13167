"""The cycle model in heating as a function of its parameters: the unit, its air, and what readings show."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from service.physics import cycle
from service.physics.array_types import FloatLike
from service.physics.refrigerant_enthalpy import SinglePhase
from service.reference.air import ROOM_AIR_HEAT
from service.reference.unit_model_heating import (
    CONDENSED_OVER_ABSORBED,
    SIZE_CYCLE,
    USUAL_POWER,
    USUAL_SUPERHEAT,
)

FloatArray = NDArray[np.float64]

#: Saturation temperatures [K] that a solution starts from: of suction over outdoor air, of liquid over return air.
SUCTION_OVER_OUTDOOR = -7.0
LIQUID_OVER_RETURN = 15.0


class Sized(Protocol):
    """What a unit model knows about the unit beforehand: capacity [W], heat of each cubic metre pumped [J/m3], and
    air pressure [Pa]."""

    @property
    def size(self) -> FloatLike: ...

    @property
    def volumetric_capacity(self) -> FloatLike: ...

    @property
    def pressure(self) -> FloatLike: ...


def volumetric_capacity(phases: SinglePhase) -> float:
    """Heat [J] that the condenser gives off for each cubic metre of suction gas, in the cycle that defines the size
    of a unit."""
    suction, liquid, superheat, subcooling = SIZE_CYCLE
    curves = phases.curves
    low, high = curves.dew_pressure(np.array([suction])), curves.bubble_pressure(np.array([liquid]))
    inlet = phases.vapour(low, np.array([suction + superheat]))
    effect = inlet.enthalpy - phases.liquid_enthalpy(high, np.array([liquid - subcooling]))
    return CONDENSED_OVER_ABSORBED * float((inlet.density * effect)[0])


def machine(
    model: Sized, u: Mapping[str, FloatArray], conditions: Mapping[str, FloatArray], new: FloatArray
) -> tuple[cycle.HeatingMachine, cycle.HeatingConditions]:
    """The unit and its conditions: arrays (S, W), a row for each state.

    ``u`` are parameters by name (W,), ``conditions`` those of each state (S, W), ``new`` (S, 1) is one where the
    unit is as left.
    """
    warmer = conditions["outdoor"] - u["outdoor_before"]
    inside = conditions["dry_bulb"] - u["dry_bulb_before"]
    voltage = conditions["voltage"]
    size = model.size * np.exp(u["ln_size"])
    superheat = (
        u["superheat"] + new * u["superheat_change"] + u["superheat_outdoor"] * warmer + u["superheat_return"] * inside
    )
    subcooling = (
        u["subcooling"]
        + new * u["subcooling_change"]
        + u["subcooling_outdoor"] * warmer
        + u["subcooling_return"] * inside
    )
    outdoor_units = (
        u["ln_outdoor_units"]
        + new * (u["outdoor_coil_change"] + u["outdoor_transfer_airflow"] * u["outdoor_airflow_change"])
        + u["outdoor_coil_outdoor"] * warmer
        + u["evaporator_superheat"]
        * (
            cycle.taken_by_superheat(superheat, USUAL_SUPERHEAT)
            - cycle.taken_by_superheat(u["superheat"], USUAL_SUPERHEAT)
        )
    )
    indoor_units = (
        u["ln_transfer_units"]
        + new * (u["indoor_coil_change"] + u["transfer_airflow"] * u["airflow_change"])
        + u["indoor_coil_outdoor"] * warmer
        + u["condenser_subcooling"] * (cycle.shown(subcooling) - cycle.shown(u["subcooling"]))
    )
    power = np.exp(u["power_voltage"] * voltage)
    unit = cycle.HeatingMachine(
        displacement=size
        / model.volumetric_capacity
        * np.exp(new * u["flow_change"])
        / (1.0 - u["volumetric_slope"] * (cycle.REFERENCE_RATIO - 1.0)),
        volumetric_slope=u["volumetric_slope"],
        efficiency=np.exp(u["ln_efficiency"] + new * u["efficiency_change"]) / power,
        efficiency_slope=u["efficiency_slope"],
        heat_loss=u["heat_loss"],
        transfer_units=np.exp(indoor_units),
        airflow=size * np.exp(u["ln_airflow"] + new * u["airflow_change"]),
        outdoor_units=np.exp(outdoor_units),
        outdoor_airflow=size * np.exp(u["ln_outdoor_airflow"] + new * u["outdoor_airflow_change"]),
        superheat=superheat,
        subcooling=subcooling,
        leak=u["valve_leak"] + new * u["leak_change"],
        valve_rise=u["valve_rise"],
        fan_power=USUAL_POWER * size * np.exp(u["ln_fan"] + new * u["fan_change"]) * power,
        blower_power=size
        * np.exp(
            u["ln_airflow"] + u["ln_blower"] + new * (u["blower_change"] + u["blower_airflow"] * u["airflow_change"])
        )
        * power,
        strips=conditions["strips"] + new * u["strips_change"] * size,
        sensible_factor=u["sensible_factor"],
    )
    humidity = np.clip(conditions["humidity"], 0.02, 1.0)
    air = cycle.HeatingConditions.of(
        conditions["outdoor"], conditions["dry_bulb"], humidity, np.exp(voltage), model.pressure
    )
    return unit, air


def shown(
    u: Mapping[str, FloatArray],
    unit: cycle.HeatingMachine,
    air: cycle.HeatingConditions,
    found: cycle.CycleState,
    suction: FloatArray,
    liquid: FloatArray,
    hot: FloatArray,
) -> dict[str, FloatArray]:
    """Everything that readings can show in heating, by name."""
    assert found.valve_rise is not None
    assert found.outdoor_drop is not None
    outdoor = found.compressor_power + unit.fan_power
    total = outdoor + unit.blower_power
    apparent = found.compressor_power * np.exp(u["power_factor_voltage"] * np.log(air.voltage) - u["ln_power_factor"])
    rise = (found.capacity + unit.blower_power) / (found.air_mass_flow * ROOM_AIR_HEAT)
    return {
        "outdoor_air_dry_bulb": air.outdoor,
        "outdoor_air_relative_humidity": air.relative_humidity,
        "return_air_dry_bulb": air.dry_bulb,
        "supply_voltage": air.voltage,
        "auxiliary_heat_power": unit.strips,
        "suction_saturation_temperature": suction,
        "liquid_saturation_temperature": liquid,
        "evaporating_temperature": found.evaporating,
        "condensing_temperature": found.condensing + u["hot_gas_drop"],
        "suction_pressure_absolute": found.suction_pressure,
        "high_side_pressure_absolute": found.high_pressure,
        "compression_ratio": found.high_pressure / found.suction_pressure,
        "superheat": found.superheat,
        "subcooling": found.subcooling,
        "condensing_temperature_over_return_air": found.condensing - air.dry_bulb,
        "evaporating_temperature_under_outdoor_air": air.outdoor - found.evaporating,
        "discharge_temperature": hot,
        "discharge_superheat": hot - found.dew_at_high,
        "vapour_line_temperature": hot - u["vapour_line_drop"],
        "vapour_line_temperature_over_outdoor_air": hot - u["vapour_line_drop"] - air.outdoor,
        "reversing_valve_temperature_rise": found.valve_rise,
        "refrigerating_effect": found.effect,
        "refrigerant_mass_flow": found.mass_flow,
        "airflow": unit.airflow,
        "heating_air_temperature_rise": found.temperature_split,
        "heat_pump_air_temperature_rise": rise,
        "outdoor_coil_air_temperature_drop": found.outdoor_drop,
        "heating_capacity": found.capacity,
        "outdoor_unit_power": outdoor,
        "compressor_apparent_power": apparent,
        "compressor_current": apparent / air.voltage,
        "indoor_unit_power": unit.blower_power,
        "total_power": total,
        "heating_cop": (found.capacity + unit.blower_power) / total,
    }
