"""Cooling capacity by air side, refrigerant side and heat rejection."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from service.derive.derivations.airflow import NOMINAL_AIRFLOW
from service.derive.derivations.registry import (
    COOLING,
    FloatArray,
    derive,
    over,
    quantity,
    same,
)
from service.intake.paths import ASSUMED, CURVES, PHASES, RATED, READING, SITE_PRESSURE
from service.physics import capacity, compressor, moist_air
from service.physics.refrigerant import SaturationCurves
from service.physics.refrigerant_enthalpy import SinglePhase, Vapour
from service.reference.air import (
    DRY_AIR_HEAT,
    USUAL_HUMIDITY_RATIO,
    VAPOUR_HEAT,
)
from service.reference.balances import FAMILIES
from service.reference.capacity_control import RATED_RUNNING

R, AIR = READING, SITE_PRESSURE

# ---------------------------------------------------------------- air side

# Measured airflow only: the rule of thumb would be held against the refrigerant side as if it were read.
quantity("air_mass_flow", "Mass flow of dry air", "mass_flow", internal=True)
derive(
    "air_mass_flow", ("measured_airflow", "return_air_specific_volume"), np.divide, "airflow divided by specific volume"
)

quantity(
    "cooling_capacity_air_side",
    "Cooling capacity, air side",
    "heat_flow",
    modes=COOLING,
    expected_with=(R + "airflow",),
)
derive(
    "cooling_capacity_air_side",
    ("air_mass_flow", "air_enthalpy_drop"),
    np.multiply,
    "mass flow of dry air times its enthalpy drop (net of the blower's heat)",
    "ashrae_37",
)

quantity("sensible_capacity", "Sensible cooling capacity", "heat_flow", modes=COOLING, reconciled=True)
derive(
    "sensible_capacity",
    ("air_mass_flow", R + "return_air_dry_bulb", R + "supply_air_dry_bulb", "supply_air_humidity_ratio"),
    capacity.sensible,
    "mass flow times specific heat times temperature split",
    "ashrae_37",
)
quantity("sensible_share_of_air", "Sensible share of the air's enthalpy drop", "ratio", modes=COOLING, internal=True)
derive(
    "sensible_share_of_air",
    (R + "return_air_dry_bulb", R + "supply_air_dry_bulb", "supply_air_humidity_ratio", "air_enthalpy_drop"),
    lambda back, front, ratio, drop: over(capacity.sensible(1.0, back, front, ratio), drop),
    "sensible divided by total (airflow cancels)",
    "ashrae_37",
)
derive(
    "sensible_capacity",
    ("cooling_capacity", "sensible_share_of_air"),
    np.multiply,
    "total capacity times the sensible share of the air's enthalpy drop (airflow was not measured)",
    "ashrae_37",
)

quantity("latent_capacity_air_side", "Latent cooling capacity, air side", "heat_flow", modes=COOLING, internal=True)
derive(
    "latent_capacity_air_side",
    ("cooling_capacity_air_side", "sensible_capacity"),
    np.subtract,
    "total minus sensible capacity",
    "ashrae_37",
)
quantity(
    "latent_capacity_from_condensate",
    "Latent cooling capacity from condensate",
    "heat_flow",
    modes=COOLING,
    expected_with=(R + "condensate_rate",),
)
derive(
    "latent_capacity_from_condensate",
    (R + "condensate_rate", R + "return_air_dry_bulb", ASSUMED + "condensate_steady"),
    lambda rate, temperature, error: rate * capacity.vapour_enthalpy(temperature) / error,
    "condensate rate times the enthalpy of its vapour",
    "ashrae_psychrometrics",
)
quantity("latent_capacity", "Latent cooling capacity", "heat_flow", modes=COOLING, follows=True)
derive(
    "latent_capacity",
    ("cooling_capacity", "sensible_capacity"),
    np.subtract,
    "total minus sensible capacity",
    "ashrae_37",
)
derive("latent_capacity", ("latent_capacity_from_condensate",), same, "from condensate")

quantity("sensible_heat_ratio", "Sensible heat ratio", "ratio", modes=COOLING, follows=True)
derive(
    "sensible_heat_ratio",
    ("sensible_capacity", "cooling_capacity"),
    over,
    "sensible divided by total",
    "ashrae_37",
)
derive(
    "sensible_heat_ratio", ("sensible_share_of_air",), same, "sensible divided by total (airflow cancels)", "ashrae_37"
)

# ---------------------------------------------------------------- refrigerant side


#: Superheat [K] below which suction gas may carry liquid: its enthalpy does not follow from its
#: temperature, and a balance made with it overstates the mass flow.
_DRY = 1.0
#: Subcooling [K] under which the liquid line may carry vapour, so that its enthalpy is not known either.
_LIQUID_ALONE = 1.0


def suction_gas(phases: SinglePhase, pressure: FloatArray, temperature: FloatArray) -> Vapour:
    """Suction gas; none where it is not shown to be dry."""
    dew = phases.curves.dew_temperature(pressure[..., :1])
    dry = temperature[..., :1] >= dew + _DRY
    return phases.vapour(pressure, np.where(dry, temperature, np.nan))


def _vapour_enthalpy(phases: SinglePhase, pressure: FloatArray, temperature: FloatArray) -> FloatArray:
    return phases.vapour_enthalpy(pressure, temperature)


def liquid_alone(phases: SinglePhase, pressure: FloatArray, temperature: FloatArray) -> FloatArray:
    """Enthalpy of subcooled liquid; none where the line is not shown to hold liquid alone."""
    enthalpy = phases.liquid_enthalpy(pressure, temperature)
    bubble = phases.curves.bubble_temperature(pressure[..., :1])
    return np.where(temperature[..., :1] <= bubble - _LIQUID_ALONE, enthalpy, np.nan)


quantity("compressor_inlet_state", "State at the compressor", "ratio", internal=True)
quantity(
    "evaporator_outlet_enthalpy", "Enthalpy at the evaporator outlet", "specific_enthalpy", modes=COOLING, internal=True
)
for _line in ("compressor_inlet_temperature", "suction_line_temperature"):
    derive(
        "compressor_inlet_state",
        (PHASES, "suction_pressure_absolute", R + _line),
        suction_gas,
        "vapour at suction pressure and line temperature",
        "coolprop",
    )
derive(
    "evaporator_outlet_enthalpy",
    (PHASES, "suction_pressure_absolute", R + "evaporator_outlet_temperature"),
    _vapour_enthalpy,
    "vapour at suction pressure and line temperature",
    "coolprop",
)
derive(
    "evaporator_outlet_enthalpy",
    ("compressor_inlet_state",),
    lambda state: state.enthalpy,
    "vapour at suction pressure and line temperature",
    "coolprop",
)

quantity("liquid_enthalpy", "Enthalpy of the liquid", "specific_enthalpy", modes=COOLING, internal=True)
for _line in ("metering_device_inlet_temperature", "liquid_line_temperature"):
    derive(
        "liquid_enthalpy",
        (PHASES, "high_side_pressure_absolute", R + _line),
        liquid_alone,
        "liquid at high-side pressure and line temperature",
        "coolprop",
    )

quantity("refrigerating_effect", "Refrigerating effect", "specific_enthalpy_difference", modes=COOLING)
derive(
    "refrigerating_effect",
    ("evaporator_outlet_enthalpy", "liquid_enthalpy"),
    np.subtract,
    "enthalpy of the suction vapour minus that of the liquid (without an evaporator outlet temperature "
    "it includes the heat that the suction line picks up)",
    "coolprop",
)

quantity("high_side_isobar", "Vapour at the high-side pressure", "ratio", internal=True)
derive(
    "high_side_isobar",
    (PHASES, "high_side_pressure_absolute"),
    lambda phases, pressure: phases.isobar(pressure),
    "vapour at high-side pressure",
    "coolprop",
)
quantity("discharge_enthalpy", "Enthalpy of the discharge gas", "specific_enthalpy", internal=True)
derive(
    "discharge_enthalpy",
    ("high_side_isobar", R + "discharge_line_temperature"),
    lambda isobar, temperature: isobar.enthalpy(temperature),
    "vapour at high-side pressure and line temperature",
    "coolprop",
)

quantity(
    "compressor_isentropic_efficiency",
    "Compressor isentropic efficiency (apparent)",
    "ratio",
    expected_with=(R + "discharge_line_temperature",),
)
derive(
    "compressor_isentropic_efficiency",
    ("high_side_isobar", "compressor_inlet_state", "discharge_enthalpy"),
    lambda isobar, state, hot: compressor.isentropic_efficiency(
        state.enthalpy, hot, isobar.enthalpy_at_entropy(state.entropy)
    ),
    "ideal divided by actual enthalpy rise (heat lost through the shell makes it look better)",
    "coolprop",
)


def _from_map(
    map_: Any,  # noqa: ANN401
    phases: SinglePhase,
    curves: SaturationCurves,
    state: Vapour,
    suction: FloatArray,
    high: FloatArray,
    error: FloatArray,
) -> FloatArray:
    evaporating, condensing = curves.dew_temperature(suction), curves.dew_temperature(high)
    rated = phases.vapour(suction, map_.suction_temperature(evaporating))
    flow = map_.mass_flow(evaporating, condensing)
    return error * compressor.corrected_for_density(flow, state.density, rated.density)


_PRESSURES = ("suction_pressure_absolute", "high_side_pressure_absolute")
quantity(
    "refrigerant_mass_flow_from_map",
    "Refrigerant mass flow from the compressor's map",
    "mass_flow",
    expected_with=("unit.compressor_map",),
)
derive(
    "refrigerant_mass_flow_from_map",
    ("unit.compressor_map", PHASES, CURVES, "compressor_inlet_state", *_PRESSURES, ASSUMED + "compressor_map"),
    _from_map,
    "ten-coefficient map, corrected to the actual suction density",
    "ahri_540",
)

quantity(
    "refrigerant_mass_flow_from_energy_balance",
    "Refrigerant mass flow from the compressor's energy balance",
    "mass_flow",
    expected_with=(R + "discharge_line_temperature",),
)
derive(
    "refrigerant_mass_flow_from_energy_balance",
    ("compressor_power", ASSUMED + "compressor_heat_loss", "compressor_inlet_state", "discharge_enthalpy"),
    lambda power, loss, state, hot: compressor.from_energy_balance(power, loss, state.enthalpy, hot),
    "compressor power minus shell loss, divided by the enthalpy rise of the gas",
    "energy_balance",
)


class _RatingCycle(NamedTuple):
    """A usual rating cycle: mass flow [kg/s] that gives the rated capacity, density [kg/m3] of the gas at the
    compressor, pressure ratio."""

    flow: FloatArray
    density: FloatArray
    ratio: FloatArray


def _rating_cycle(
    rated: float,
    blower: FloatArray,
    phases: SinglePhase,
    curves: SaturationCurves,
    evaporating: FloatArray,
    condensing: FloatArray,
) -> _RatingCycle:
    low, top = curves.dew_pressure(evaporating), curves.bubble_pressure(condensing)
    # 10 °F of superheat and of subcooling at the rating point.
    start = phases.vapour(low, evaporating + 5.6)
    effect = start.enthalpy - phases.liquid_enthalpy(top, condensing - 5.6)
    return _RatingCycle(rated * (1.0 + NOMINAL_AIRFLOW * blower) / effect, start.density, top / low)


def _pumped_as_rated(
    cycle: _RatingCycle,
    slope: FloatArray,
    pumping: FloatArray,
    state: Vapour,
    suction: FloatArray,
    high: FloatArray,
) -> FloatArray:
    """Density and pressure ratio convert the flow of the rating cycle to the actual cycle."""
    ratio = compressor.volumetric_efficiency(high / suction, slope)
    ratio = ratio / compressor.volumetric_efficiency(cycle.ratio, slope)
    return np.asarray(pumping * cycle.flow * state.density / cycle.density * ratio)


_RATING_CYCLE = (
    RATED + "cooling_capacity",
    ASSUMED + "blower_power",
    PHASES,
    CURVES,
    ASSUMED + "rating_evaporating",
    ASSUMED + "rating_condensing",
)
_ACTUAL_CYCLE = (ASSUMED + "volumetric_slope", ASSUMED + "rating_pumping", "compressor_inlet_state", *_PRESSURES)
quantity(
    "refrigerant_mass_flow_from_rating",
    "Refrigerant mass flow implied by the rating",
    "mass_flow",
    modes=COOLING,
    running=RATED_RUNNING,
    optional=True,
)
derive(
    "refrigerant_mass_flow_from_rating",
    (*_RATING_CYCLE, *_ACTUAL_CYCLE),
    lambda *needs: _pumped_as_rated(_rating_cycle(*needs[: len(_RATING_CYCLE)]), *needs[len(_RATING_CYCLE) :]),
    "volumetric model of the compressor, scaled by rated capacity; a worn compressor pumps less",
    "rating_cycle",
)

quantity("refrigerant_mass_flow", "Refrigerant mass flow", "mass_flow", reconciled=True)
for _method in FAMILIES["refrigerant_mass_flow"]:
    derive("refrigerant_mass_flow", (_method,), same, _method.replace("_", " "))


def _net(flow: FloatArray, effect: FloatArray, blower: FloatArray) -> FloatArray:
    return np.asarray(flow * effect - blower)


quantity(
    "cooling_capacity_refrigerant_side",
    "Cooling capacity, refrigerant side",
    "heat_flow",
    modes=COOLING,
    expected_with=(R + "suction_pressure",),
)
derive(
    "cooling_capacity_refrigerant_side",
    ("refrigerant_mass_flow", "refrigerating_effect", "indoor_unit_power"),
    _net,
    "refrigerant mass flow times refrigerating effect, minus the blower's heat",
    "ashrae_37",
)

quantity(
    "cooling_capacity_from_rating",
    "Cooling capacity if the compressor pumps as rated",
    "heat_flow",
    modes=COOLING,
    running=RATED_RUNNING,
    optional=True,
)
derive(
    "cooling_capacity_from_rating",
    ("refrigerant_mass_flow_from_rating", "refrigerating_effect", "indoor_unit_power"),
    _net,
    "mass flow implied by the rating times refrigerating effect, minus the blower's heat",
    "rating_cycle",
)


def _airflow_from(side: str, expected: str) -> None:
    words = f"{side.replace('_', ' ')} side"
    quantity(
        f"airflow_from_{side}_side", f"Airflow from the {words}", "airflow", modes=COOLING, expected_with=(expected,)
    )
    derive(
        f"airflow_from_{side}_side",
        (f"cooling_capacity_{side}_side", "air_enthalpy_drop", "return_air_specific_volume"),
        lambda heat, drop, volume: over(heat, drop) * volume,
        f"capacity of the {words} divided by the enthalpy drop of the air",
        "energy_balance",
    )


_airflow_from("refrigerant", expected="unit.compressor_map")

# ---------------------------------------------------------------- heat rejection side


def _rejected(
    flow: FloatArray,
    leaving: FloatArray,
    entering: FloatArray,
    pressure: FloatArray,
) -> FloatArray:
    volume = moist_air.specific_volume(entering, USUAL_HUMIDITY_RATIO, pressure)
    specific_heat = DRY_AIR_HEAT + USUAL_HUMIDITY_RATIO * VAPOUR_HEAT
    return np.asarray(flow / volume * specific_heat * (leaving - entering))


quantity(
    "heat_rejection",
    "Heat rejected by the outdoor unit",
    "heat_flow",
    modes=COOLING,
    expected_with=(R + "condenser_airflow",),
)
derive(
    "heat_rejection",
    (R + "condenser_airflow", R + "condenser_leaving_air_dry_bulb", R + "outdoor_air_dry_bulb", AIR),
    _rejected,
    "air through the outdoor unit times its temperature rise",
    "energy_balance",
)
quantity(
    "cooling_capacity_heat_rejection_side",
    "Cooling capacity, heat rejection side",
    "heat_flow",
    modes=COOLING,
    expected_with=(R + "condenser_airflow",),
)
derive(
    "cooling_capacity_heat_rejection_side",
    ("heat_rejection", "outdoor_unit_power", "indoor_unit_power"),
    lambda out, outdoor, indoor: out - outdoor - indoor,
    "heat rejected minus the electrical power",
    "energy_balance",
)

_airflow_from("heat_rejection", expected=R + "condenser_airflow")

# ---------------------------------------------------------------- best estimate

quantity("cooling_capacity", "Cooling capacity (net)", "heat_flow", modes=COOLING, reconciled=True)
for _method in FAMILIES["cooling_capacity"]:
    derive("cooling_capacity", (_method,), same, _method.replace("_", " "))

# Last resorts: one assumes a healthy compressor, one an airflow, so neither is a check on the
# others, and no share of the rating is made of them.
derive(
    "cooling_capacity",
    ("cooling_capacity_from_rating",),
    same,
    "implied by the rating at the refrigerant's state; assumes a healthy compressor",
    "rating_cycle",
)

derive(
    "cooling_capacity",
    ("air_side_airflow", "return_air_specific_volume", "air_enthalpy_drop"),
    lambda flow, volume, drop: flow / volume * drop,
    "enthalpy drop of the air at an airflow from a rule of thumb (airflow was not measured)",
    "nominal_airflow",
)

quantity("capacity_is_measured", "Whether capacity comes from measurements", "ratio", modes=COOLING, internal=True)
for _method in FAMILIES["cooling_capacity"]:
    derive("capacity_is_measured", (_method,), lambda _: True, "not from the rating")
