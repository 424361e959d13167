"""Electrical side: capacitors, voltages, currents."""

from __future__ import annotations

from functools import partial

import numpy as np

from service.derive.derivations.registry import FloatArray, derive, quantity, same
from service.intake.paths import MOTORS, NAMEPLATE, READING
from service.physics import electrical
from service.reference.conditions import NO_CURRENT, NO_VOLTAGE

R, N = READING, NAMEPLATE

CAPACITOR_CURRENT = {
    "compressor": "compressor_start_winding_current",
    "outdoor_fan": "outdoor_fan_capacitor_current",
    "indoor_blower": "indoor_blower_capacitor_current",
}


#: A three-phase compressor has no run capacitor; the fans of its unit may.
_PHASES: dict[str, tuple[int, ...]] = {"compressor": (1,), "outdoor_fan": (), "indoor_blower": ()}

for _motor in MOTORS:
    _words = _motor.replace("_", " ")
    _volts = f"{R}capacitor_voltage.{_motor}"
    _amps = R + CAPACITOR_CURRENT[_motor]
    _part = f"{N}capacitors.{_motor}"
    _name = f"{_motor}_run_capacitance"
    quantity(
        _name,
        f"{_words.capitalize()} run capacitor under load",
        "capacitance",
        phases=_PHASES[_motor],
        expected_with=(f"{_part}.microfarads", _volts, _amps),
    )
    derive(
        _name,
        (_amps, _volts, N + "frequency"),
        electrical.capacitance,
        "current in the capacitor's wire divided by 2πf times the voltage across the capacitor",
        "circuit_theory",
    )
    quantity(
        f"{_name}_deviation",
        f"{_words.capitalize()} run capacitor's departure from its rating",
        "fraction",
        phases=_PHASES[_motor],
        expected_with=(f"{_part}.microfarads", _volts, _amps),
    )
    derive(
        f"{_name}_deviation",
        (_name, f"{_part}.microfarads"),
        lambda measured, rated: measured / rated - 1.0,
        "measured divided by rated capacitance, minus one",
    )

_SUPPLY = (R + "line_voltage", R + "line_voltages.l1_l2")

quantity("supply_voltage", "Supply voltage", "voltage")
derive("supply_voltage", (R + "line_voltage",), same, "as read")
derive(
    "supply_voltage",
    tuple(f"{R}line_voltages.{part}" for part in ("l1_l2", "l2_l3", "l3_l1")),
    lambda a, b, c: (a + b + c) / 3.0,
    "mean of the three line voltages",
)

quantity("supply_voltage_deviation", "Supply voltage's departure from nameplate", "fraction", expected_with=_SUPPLY)
derive(
    "supply_voltage_deviation",
    ("supply_voltage", N + "voltage"),
    lambda volts, rated: volts / rated - 1.0,
    "supply divided by nameplate voltage, minus one",
)

quantity(
    "supply_voltage_share_of_nominal",
    "Supply voltage as a share of the nominal supply",
    "fraction",
    expected_with=_SUPPLY,
)
derive(
    "supply_voltage_share_of_nominal",
    ("supply_voltage", N + "nominal_supply_voltage"),
    np.divide,
    "supply voltage divided by the nominal voltage of the supply system",
    "ansi_c84_utilization_a",
)


def _imbalance(least: float, *lines: FloatArray) -> FloatArray:
    """Imbalance of three lines; none where they carry nothing, because it would be noise."""
    mean = (lines[0] + lines[1] + lines[2]) / 3.0
    return np.where(mean > least, electrical.imbalance(np.stack(lines)), np.nan)


quantity("voltage_imbalance", "Voltage imbalance", "fraction", phases=(3,))
derive(
    "voltage_imbalance",
    tuple(f"{R}line_voltages.{part}" for part in ("l1_l2", "l2_l3", "l3_l1")),
    partial(_imbalance, NO_VOLTAGE),
    "largest deviation from the mean, divided by the mean",
    "nema_unbalance",
)

quantity("current_imbalance", "Current imbalance", "fraction", phases=(3,))
derive(
    "current_imbalance",
    tuple(f"{R}compressor_line_currents.{part}" for part in ("l1", "l2", "l3")),
    partial(_imbalance, NO_CURRENT),
    "largest deviation from the mean, divided by the mean",
    "imbalance_practice",
)

quantity("compressor_current", "Compressor current", "current")
derive("compressor_current", (R + "compressor_common_current",), same, "as read in the common wire (or one line)")
derive(
    "compressor_current",
    tuple(f"{R}compressor_line_currents.{part}" for part in ("l1", "l2", "l3")),
    lambda a, b, c: (a + b + c) / 3.0,
    "mean of the three line currents",
)

quantity("compressor_apparent_power", "Compressor apparent power", "apparent_power")
derive(
    "compressor_apparent_power",
    ("compressor_current", "supply_voltage", N + "phases"),
    electrical.apparent_power,
    "volts times amps (times √3 with three phases); apparent power, not billed power",
    "circuit_theory",
)

for _motor in ("outdoor_fan", "indoor_blower"):
    _name = f"{_motor}_current"
    quantity(_name, f"{_motor.replace('_', ' ').capitalize()} current", "current", optional=True)
    derive(_name, (R + _name,), same, "as read")

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
    quantity(
        f"{_motor}_current_share",
        f"{_words} current as a share of nameplate {_rating}",
        "fraction",
        expected_with=() if _motor == "compressor" else (_amps, N + _plate),
    )
    derive(
        f"{_motor}_current_share",
        (_amps, N + _plate),
        np.divide,
        f"current divided by nameplate {_rating}",
    )

derive(
    "compressor_current_share",
    (*(f"{R}compressor_line_currents.{part}" for part in ("l1", "l2", "l3")), N + "compressor_rated_load_amps"),
    lambda a, b, c, rated: np.maximum(np.maximum(a, b), c) / rated,
    "largest line current divided by nameplate rated-load amps",
)
