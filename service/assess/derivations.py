"""Every derived quantity: its name, what it needs, how it is computed, where that comes from.

This table is the one place to touch for a new derivation.  A derivation names a quantity and the
names it needs: paths of the request (``run.readings.suction_pressure``) or other quantities.  Rows
of one quantity are alternatives in order of trust.  The functions are pure, in SI, and work element
by element along the draws axis.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.assess.paths import CURVES, MODEL, MOTORS, NAMEPLATE, READING, SITE_PRESSURE
from service.physics import charge_targets, electrical, moist_air
from service.physics.refrigerant import SaturationCurves

FloatArray = NDArray[np.float64]
Compute = Callable[..., Any]

R, N, AIR = READING, NAMEPLATE, SITE_PRESSURE

COOLING = ("cooling",)
BOTH = ("cooling", "heating")
EXPANSION_VALVES = ("thermostatic_expansion_valve", "electronic_expansion_valve")
FIXED_DEVICES = ("fixed_orifice", "capillary_tube")

CAPACITOR_CURRENT = {
    "compressor": "compressor_start_winding_current",
    "outdoor_fan": "outdoor_fan_capacitor_current",
    "indoor_blower": "indoor_blower_capacitor_current",
}


@dataclass(frozen=True, slots=True)
class UnitKind:
    """What decides which quantities and limits concern a unit."""

    mode: str
    device: str | None
    phases: int

    def within(
        self, modes: tuple[str, ...], devices: tuple[str, ...], phases: tuple[int, ...]
    ) -> bool:
        """Whether it is one of the kinds named; empty devices or phases name all."""
        return (
            self.mode in modes
            and (not devices or self.device in devices)
            and (not phases or self.phases in phases)
        )


@dataclass(frozen=True, slots=True)
class Quantity:
    """A derived quantity.

    ``expected_with`` names paths of which at least one must be given before its absence is worth
    a word (empty: always worth one); ``devices`` and ``phases`` limit the units it applies to.
    """

    name: str
    label: str
    kind: str
    modes: tuple[str, ...] = BOTH
    devices: tuple[str, ...] = ()
    phases: tuple[int, ...] = ()
    expected_with: tuple[str, ...] = ()

    def concerns(self, unit: UnitKind) -> bool:
        """Whether the quantity means anything for such a unit."""
        return unit.within(self.modes, self.devices, self.phases)


@dataclass(frozen=True, slots=True)
class Derivation:
    """One way to compute a quantity."""

    quantity: str
    needs: tuple[str, ...]
    compute: Compute
    method: str
    source: str


_QUANTITIES: dict[str, Quantity] = {}
_DERIVATIONS: list[Derivation] = []


def _quantity(name: str, label: str, kind: str, **limits: Any) -> None:  # noqa: ANN401
    _QUANTITIES[name] = Quantity(name, label, kind, **limits)


def _derive(
    quantity: str, needs: tuple[str, ...], compute: Compute, method: str, source: str = "definition"
) -> None:
    _DERIVATIONS.append(Derivation(quantity, needs, compute, method, source))


def _same(value: FloatArray) -> FloatArray:
    return value


def _dew(curves: SaturationCurves, error: FloatArray, pressure: FloatArray) -> FloatArray:
    return curves.dew_temperature(pressure) + error


def _bubble(curves: SaturationCurves, error: FloatArray, pressure: FloatArray) -> FloatArray:
    return curves.bubble_temperature(pressure) + error


def _middle(curves: SaturationCurves, error: FloatArray, pressure: FloatArray) -> FloatArray:
    return 0.5 * (curves.dew_temperature(pressure) + curves.bubble_temperature(pressure)) + error


# ---------------------------------------------------------------- refrigerant side

_READ_OFF = "read directly off the gauge"


def _as_read(curves: SaturationCurves, value: FloatArray) -> FloatArray:
    """Its error is the gauge's, in pressure, so the refrigerant must be known."""
    return value


_SUCTION_READ = (CURVES, R + "suction_saturation_temperature")
_LIQUID_READ = (CURVES, R + "liquid_saturation_temperature")


_quantity("suction_saturation_temperature", "Suction saturation temperature", "temperature")
_derive(
    "suction_saturation_temperature", (CURVES, MODEL, R + "suction_pressure"), _dew,
    "dew temperature at the absolute suction pressure", "coolprop",
)  # fmt: skip
_derive("suction_saturation_temperature", _SUCTION_READ, _as_read, _READ_OFF)

_quantity("liquid_saturation_temperature", "Liquid saturation temperature", "temperature")
_derive(
    "liquid_saturation_temperature", (CURVES, MODEL, R + "liquid_pressure"), _bubble,
    "bubble temperature at the absolute liquid pressure", "coolprop",
)  # fmt: skip
_derive("liquid_saturation_temperature", _LIQUID_READ, _as_read, _READ_OFF)

_quantity("suction_pressure_absolute", "Absolute suction pressure", "absolute_pressure")
_derive(
    "suction_pressure_absolute", (R + "suction_pressure",), _same,
    "gauge reading plus air pressure at the site",
)  # fmt: skip
_derive(
    "suction_pressure_absolute", (CURVES, R + "suction_saturation_temperature"),
    lambda curves, temperature: curves.dew_pressure(temperature),
    "dew pressure at the saturation temperature read", "coolprop",
)  # fmt: skip

_quantity("high_side_pressure_absolute", "Absolute high-side pressure", "absolute_pressure")
_derive(
    "high_side_pressure_absolute", (R + "discharge_pressure",), _same,
    "discharge gauge reading plus air pressure at the site",
)  # fmt: skip
_derive(
    "high_side_pressure_absolute", (R + "liquid_pressure",), _same,
    "liquid gauge reading plus air pressure at the site (the condenser's own pressure drop is "
    "not in it)",
)  # fmt: skip
_derive(
    "high_side_pressure_absolute", (CURVES, R + "liquid_saturation_temperature"),
    lambda curves, temperature: curves.bubble_pressure(temperature),
    "bubble pressure at the saturation temperature read", "coolprop",
)  # fmt: skip

_quantity("evaporating_temperature", "Evaporating temperature", "temperature")
_derive(
    "evaporating_temperature", (CURVES, MODEL, "suction_pressure_absolute"), _middle,
    "mean of dew and bubble temperature at suction pressure (equal without glide)", "coolprop",
)  # fmt: skip
_derive("evaporating_temperature", _SUCTION_READ, _as_read, _READ_OFF)

_quantity("condensing_temperature", "Condensing temperature", "temperature")
_derive(
    "condensing_temperature", (CURVES, MODEL, "high_side_pressure_absolute"), _middle,
    "mean of dew and bubble temperature at high-side pressure (equal without glide)", "coolprop",
)  # fmt: skip
_derive("condensing_temperature", _LIQUID_READ, _as_read, _READ_OFF)

_quantity("superheat", "Superheat", "temperature_difference")
_derive(
    "superheat", (R + "suction_line_temperature", "suction_saturation_temperature"), np.subtract,
    "suction line minus dew temperature at suction pressure",
)  # fmt: skip

_quantity(
    "evaporator_superheat", "Superheat at the evaporator outlet", "temperature_difference", modes=COOLING,
    expected_with=(R + "evaporator_outlet_temperature",),
)  # fmt: skip
_derive(
    "evaporator_superheat", (R + "evaporator_outlet_temperature", "suction_saturation_temperature"),
    np.subtract,
    "line at the evaporator outlet minus dew temperature at the suction pressure of the outdoor "
    "unit (the suction line's pressure drop is not in it)",
)  # fmt: skip

_quantity(
    "total_superheat", "Total superheat", "temperature_difference", modes=COOLING,
    expected_with=(R + "compressor_inlet_temperature",),
)  # fmt: skip
_derive(
    "total_superheat", (R + "compressor_inlet_temperature", "suction_saturation_temperature"),
    np.subtract, "line at the compressor minus dew temperature at suction pressure",
)  # fmt: skip

_quantity("subcooling", "Subcooling", "temperature_difference")
_derive(
    "subcooling", ("liquid_saturation_temperature", R + "liquid_line_temperature"), np.subtract,
    "bubble temperature at liquid pressure minus liquid line",
)  # fmt: skip

_quantity(
    "suction_line_temperature_rise", "Suction line temperature rise", "temperature_difference", modes=COOLING,
    expected_with=(R + "evaporator_outlet_temperature",),
)  # fmt: skip
_derive(
    "suction_line_temperature_rise",
    (R + "suction_line_temperature", R + "evaporator_outlet_temperature"), np.subtract,
    "suction line at the outdoor unit minus at the evaporator outlet",
)  # fmt: skip
_derive(
    "suction_line_temperature_rise",
    (R + "compressor_inlet_temperature", R + "evaporator_outlet_temperature"), np.subtract,
    "suction line at the compressor minus at the evaporator outlet",
)  # fmt: skip

_quantity(
    "liquid_line_temperature_drop", "Liquid line temperature drop", "temperature_difference", modes=COOLING,
    expected_with=(R + "metering_device_inlet_temperature",),
)  # fmt: skip
_derive(
    "liquid_line_temperature_drop",
    (R + "liquid_line_temperature", R + "metering_device_inlet_temperature"), np.subtract,
    "liquid line at the outdoor unit minus at the metering device",
)  # fmt: skip

_quantity(
    "condensing_temperature_over_ambient", "Condensing temperature over outdoor air",
    "temperature_difference", modes=COOLING,
)  # fmt: skip
_derive(
    "condensing_temperature_over_ambient", ("condensing_temperature", R + "outdoor_air_dry_bulb"),
    np.subtract, "condensing temperature minus outdoor air",
)  # fmt: skip

_quantity(
    "liquid_line_temperature_over_ambient", "Liquid line over outdoor air",
    "temperature_difference", modes=COOLING,
)  # fmt: skip
_derive(
    "liquid_line_temperature_over_ambient",
    (R + "liquid_line_temperature", R + "outdoor_air_dry_bulb"), np.subtract,
    "liquid line minus outdoor air",
)  # fmt: skip

_quantity(
    "condenser_air_temperature_rise", "Condenser air temperature rise", "temperature_difference",
    modes=COOLING,
)  # fmt: skip
_derive(
    "condenser_air_temperature_rise",
    (R + "condenser_leaving_air_dry_bulb", R + "outdoor_air_dry_bulb"), np.subtract,
    "air leaving the outdoor unit minus outdoor air",
)  # fmt: skip

_quantity(
    "evaporating_temperature_under_return_air", "Evaporating temperature under return air",
    "temperature_difference", modes=COOLING,
)  # fmt: skip
_derive(
    "evaporating_temperature_under_return_air",
    (R + "return_air_dry_bulb", "evaporating_temperature"), np.subtract,
    "return air minus evaporating temperature",
)  # fmt: skip

_quantity("compression_ratio", "Compression ratio", "ratio")
_derive(
    "compression_ratio", ("high_side_pressure_absolute", "suction_pressure_absolute"), np.divide,
    "absolute high-side pressure over absolute suction pressure",
)  # fmt: skip

_quantity("discharge_superheat", "Discharge superheat", "temperature_difference")
_derive(
    "discharge_superheat",
    (CURVES, MODEL, R + "discharge_line_temperature", "high_side_pressure_absolute"),
    lambda curves, error, line, pressure: line - _dew(curves, error, pressure),
    "discharge line minus dew temperature at high-side pressure", "coolprop",
)  # fmt: skip

_quantity("discharge_temperature", "Discharge line temperature", "temperature")
_derive("discharge_temperature", (R + "discharge_line_temperature",), _same, "as read")

# ---------------------------------------------------------------- charge targets

_quantity(
    "target_subcooling", "Target subcooling", "temperature_difference", modes=COOLING,
    devices=EXPANSION_VALVES,
)  # fmt: skip
_derive("target_subcooling", (N + "subcooling",), _same, "as the nameplate says", "nameplate")

_quantity(
    "subcooling_deviation", "Subcooling minus target", "temperature_difference", modes=COOLING,
    devices=EXPANSION_VALVES,
)  # fmt: skip
_derive(
    "subcooling_deviation", ("subcooling", "target_subcooling"), np.subtract,
    "subcooling minus target subcooling",
)  # fmt: skip

_quantity(
    "target_superheat", "Target superheat", "temperature_difference", modes=COOLING,
    devices=FIXED_DEVICES,
)  # fmt: skip


def _target_superheat(outdoor: FloatArray, wet_bulb: FloatArray) -> FloatArray:
    """The target, or no number at all where the nominal conditions are not tabulated."""
    tabulated = charge_targets.target_superheat_is_tabulated(outdoor[..., :1], wet_bulb[..., :1])
    return np.where(tabulated, charge_targets.target_superheat(outdoor, wet_bulb), np.nan)


_derive(
    "target_superheat", (R + "outdoor_air_dry_bulb", "return_air_wet_bulb"), _target_superheat,
    "target table for outdoor dry bulb and return wet bulb", "ra3_target_superheat",
)  # fmt: skip

_quantity(
    "superheat_deviation", "Superheat minus target", "temperature_difference", modes=COOLING,
    devices=FIXED_DEVICES,
)  # fmt: skip
_derive(
    "superheat_deviation", ("superheat", "target_superheat"), np.subtract,
    "superheat minus target superheat",
)  # fmt: skip

# ---------------------------------------------------------------- air side

for _side in ("return", "supply"):
    _dry, _wet = f"{R}{_side}_air_dry_bulb", f"{R}{_side}_air_wet_bulb"
    _humid = f"{R}{_side}_air_relative_humidity"
    _ratio, _title = f"{_side}_air_humidity_ratio", f"{_side.capitalize()} air"
    _quantity(_ratio, f"{_title} humidity ratio", "humidity_ratio")
    _derive(
        _ratio, (_dry, _wet, AIR), moist_air.humidity_ratio_from_wet_bulb,
        "from dry bulb, wet bulb and air pressure", "ashrae_psychrometrics",
    )  # fmt: skip
    _derive(
        _ratio, (_dry, _humid, AIR), moist_air.humidity_ratio_from_relative_humidity,
        "from dry bulb, relative humidity and air pressure", "ashrae_psychrometrics",
    )  # fmt: skip
    _quantity(f"{_side}_air_wet_bulb", f"{_title} wet bulb", "temperature")
    _derive(f"{_side}_air_wet_bulb", (_wet,), _same, "as read")
    _derive(
        f"{_side}_air_wet_bulb", (_dry, _ratio, AIR), moist_air.wet_bulb,
        "from dry bulb, humidity ratio and air pressure", "ashrae_psychrometrics",
    )  # fmt: skip
    _quantity(f"{_side}_air_relative_humidity", f"{_title} relative humidity", "fraction")
    _derive(f"{_side}_air_relative_humidity", (_humid,), _same, "as read")
    _derive(
        f"{_side}_air_relative_humidity", (_dry, _ratio, AIR), moist_air.relative_humidity,
        "from dry bulb, humidity ratio and air pressure", "ashrae_psychrometrics",
    )  # fmt: skip
    _quantity(f"{_side}_air_dew_point", f"{_title} dew point", "temperature")
    _derive(
        f"{_side}_air_dew_point", (_ratio, AIR), moist_air.dew_point,
        "from humidity ratio and air pressure", "ashrae_psychrometrics",
    )  # fmt: skip
    _quantity(f"{_side}_air_enthalpy", f"{_title} enthalpy", "specific_enthalpy")
    _derive(
        f"{_side}_air_enthalpy", (_dry, _ratio), moist_air.enthalpy,
        "of moist air, for each mass of dry air", "ashrae_psychrometrics",
    )  # fmt: skip

_quantity(
    "air_enthalpy_drop", "Enthalpy drop of the air", "specific_enthalpy_difference", modes=COOLING
)
_derive(
    "air_enthalpy_drop", ("return_air_enthalpy", "supply_air_enthalpy"), np.subtract,
    "return minus supply enthalpy",
)  # fmt: skip

_quantity("temperature_split", "Temperature split", "temperature_difference", modes=COOLING)
_derive(
    "temperature_split", (R + "return_air_dry_bulb", R + "supply_air_dry_bulb"), np.subtract,
    "return minus supply dry bulb",
)  # fmt: skip

_quantity("heating_air_temperature_rise", "Air temperature rise", "temperature_difference",
          modes=("heating",))  # fmt: skip
_derive(
    "heating_air_temperature_rise", (R + "supply_air_dry_bulb", R + "return_air_dry_bulb"),
    np.subtract, "supply minus return dry bulb",
)  # fmt: skip

_quantity(
    "target_temperature_split", "Target temperature split", "temperature_difference",
    modes=COOLING,
)  # fmt: skip


def _target_split(dry_bulb: FloatArray, wet_bulb: FloatArray) -> FloatArray:
    """The target, or no number at all where the nominal conditions are not tabulated."""
    tabulated = charge_targets.target_split_is_tabulated(dry_bulb[..., :1], wet_bulb[..., :1])
    return np.where(tabulated, charge_targets.target_temperature_split(dry_bulb, wet_bulb), np.nan)


_derive(
    "target_temperature_split", (R + "return_air_dry_bulb", "return_air_wet_bulb"), _target_split,
    "target table for return dry bulb and return wet bulb", "ra3_target_split",
)  # fmt: skip

_quantity(
    "temperature_split_deviation", "Temperature split minus target", "temperature_difference",
    modes=COOLING,
)  # fmt: skip
_derive(
    "temperature_split_deviation", ("temperature_split", "target_temperature_split"), np.subtract,
    "temperature split minus its target",
)  # fmt: skip

_quantity(
    "total_external_static_pressure", "Total external static pressure", "static_pressure",
    expected_with=(R + "return_static_pressure", R + "supply_static_pressure"),
)  # fmt: skip
_derive("total_external_static_pressure", (R + "total_external_static_pressure",), _same, "as read")
_derive(
    "total_external_static_pressure",
    (R + "supply_static_pressure", R + "return_static_pressure"), np.subtract,
    "supply minus return static pressure",
)  # fmt: skip

# ---------------------------------------------------------------- electrical side

#: A three-phase compressor has no run capacitor; the fans beside it may.
_PHASES: dict[str, tuple[int, ...]] = {"compressor": (1,), "outdoor_fan": (), "indoor_blower": ()}

for _motor in MOTORS:
    _words = _motor.replace("_", " ")
    _volts = f"{R}capacitor_voltage.{_motor}"
    _amps = R + CAPACITOR_CURRENT[_motor]
    _part = f"{N}capacitors.{_motor}"
    _name = f"{_motor}_run_capacitance"
    _quantity(
        _name, f"{_words.capitalize()} run capacitor under load", "capacitance", phases=_PHASES[_motor],
        expected_with=(f"{_part}.microfarads", _volts, _amps),
    )  # fmt: skip
    _derive(
        _name, (_amps, _volts, N + "frequency"), electrical.capacitance,
        "current in the capacitor's wire over 2πf times the voltage across the capacitor",
        "circuit_theory",
    )  # fmt: skip
    _quantity(
        f"{_name}_deviation", f"{_words.capitalize()} run capacitor's departure from its rating",
        "fraction",
        phases=_PHASES[_motor], expected_with=(f"{_part}.microfarads", _volts, _amps),
    )  # fmt: skip
    _derive(
        f"{_name}_deviation", (_name, f"{_part}.microfarads"),
        lambda measured, rated: measured / rated - 1.0,
        "measured over rated capacitance, minus one",
    )  # fmt: skip

_SUPPLY = (R + "line_voltage", R + "line_voltages.l1_l2")

_quantity("supply_voltage", "Supply voltage", "voltage")
_derive("supply_voltage", (R + "line_voltage",), _same, "as read")
_derive(
    "supply_voltage",
    tuple(f"{R}line_voltages.{part}" for part in ("l1_l2", "l2_l3", "l3_l1")),
    lambda a, b, c: (a + b + c) / 3.0, "mean of the three line voltages",
)  # fmt: skip

_quantity("supply_voltage_deviation", "Supply voltage's departure from nameplate", "fraction",
          expected_with=_SUPPLY)  # fmt: skip
_derive(
    "supply_voltage_deviation", ("supply_voltage", N + "voltage"),
    lambda volts, rated: volts / rated - 1.0, "supply over nameplate voltage, minus one",
)  # fmt: skip

_quantity("supply_voltage_share_of_nominal", "Supply voltage as a share of the nominal supply",
          "fraction", expected_with=_SUPPLY)  # fmt: skip
_derive(
    "supply_voltage_share_of_nominal", ("supply_voltage", N + "nominal_supply_voltage"), np.divide,
    "supply voltage over the nominal voltage of the supply system",
    "ansi_c84_utilization_a",
)  # fmt: skip

_quantity("voltage_imbalance", "Voltage imbalance", "fraction", phases=(3,))
_derive(
    "voltage_imbalance",
    tuple(f"{R}line_voltages.{part}" for part in ("l1_l2", "l2_l3", "l3_l1")),
    lambda *lines: electrical.imbalance(np.stack(lines)),
    "largest deviation from the mean over the mean", "nema_unbalance",
)  # fmt: skip

_quantity("current_imbalance", "Current imbalance", "fraction", phases=(3,))
_derive(
    "current_imbalance",
    tuple(f"{R}compressor_line_currents.{part}" for part in ("l1", "l2", "l3")),
    lambda *lines: electrical.imbalance(np.stack(lines)),
    "largest deviation from the mean over the mean", "imbalance_practice",
)  # fmt: skip

_quantity("compressor_current", "Compressor current", "current")
_derive("compressor_current", (R + "compressor_common_current",), _same,
        "as read in the common wire (or one line)")  # fmt: skip
_derive(
    "compressor_current",
    tuple(f"{R}compressor_line_currents.{part}" for part in ("l1", "l2", "l3")),
    lambda a, b, c: (a + b + c) / 3.0, "mean of the three line currents",
)  # fmt: skip

_quantity("compressor_apparent_power", "Compressor apparent power", "apparent_power")
_derive(
    "compressor_apparent_power", ("compressor_current", "supply_voltage", N + "phases"),
    electrical.apparent_power,
    "volts times amps (times √3 with three phases); not the power that is paid for",
    "circuit_theory",
)  # fmt: skip

_MOTOR_CURRENT = {
    "compressor": (
        R + "compressor_common_current",
        "compressor_rated_load_amps",
        "rated-load amps",
    ),
    "outdoor_fan": (R + "outdoor_fan_current", "outdoor_fan_full_load_amps", "full-load amps"),
    "indoor_blower": (
        R + "indoor_blower_current",
        "indoor_blower_full_load_amps",
        "full-load amps",
    ),
}
for _motor, (_amps, _plate, _rating) in _MOTOR_CURRENT.items():
    _words = _motor.replace("_", " ").capitalize()
    _quantity(
        f"{_motor}_current_share", f"{_words} current as a share of nameplate {_rating}", "fraction",
        expected_with=() if _motor == "compressor" else (_amps, N + _plate),
    )  # fmt: skip
    _derive(
        f"{_motor}_current_share", (_amps, N + _plate), np.divide,
        f"current over nameplate {_rating}",
    )  # fmt: skip

_derive(
    "compressor_current_share",
    (*(f"{R}compressor_line_currents.{part}" for part in ("l1", "l2", "l3")),
     N + "compressor_rated_load_amps"),
    lambda a, b, c, rated: np.maximum(np.maximum(a, b), c) / rated,
    "largest line current over nameplate rated-load amps",
)  # fmt: skip

QUANTITIES: Mapping[str, Quantity] = MappingProxyType(_QUANTITIES)
DERIVATIONS: tuple[Derivation, ...] = tuple(_DERIVATIONS)
