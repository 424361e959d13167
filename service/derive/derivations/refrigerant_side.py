"""Refrigerant side: saturation, superheat, subcooling, pressures, line temperatures."""

from __future__ import annotations

import numpy as np

from service.derive.derivations.registry import COOLING, FloatArray, derive, quantity, same
from service.intake.paths import CURVES, MODEL, READING
from service.physics.refrigerant import SaturationCurves

R = READING


def _dew(curves: SaturationCurves, error: FloatArray, pressure: FloatArray) -> FloatArray:
    return curves.dew_temperature(pressure) + error


def _bubble(curves: SaturationCurves, error: FloatArray, pressure: FloatArray) -> FloatArray:
    return curves.bubble_temperature(pressure) + error


def _middle(curves: SaturationCurves, error: FloatArray, pressure: FloatArray) -> FloatArray:
    return 0.5 * (curves.dew_temperature(pressure) + curves.bubble_temperature(pressure)) + error


_READ_OFF = "read directly off the gauge"


def _as_read(curves: SaturationCurves, value: FloatArray) -> FloatArray:
    """Its error is that of the gauge, in pressure, so the refrigerant must be known."""
    return value


_SUCTION_READ = (CURVES, R + "suction_saturation_temperature")
_LIQUID_READ = (CURVES, R + "liquid_saturation_temperature")


quantity("suction_saturation_temperature", "Suction saturation temperature", "temperature")
derive(
    "suction_saturation_temperature",
    (CURVES, MODEL, R + "suction_pressure"),
    _dew,
    "dew temperature at the absolute suction pressure",
    "coolprop",
)
derive("suction_saturation_temperature", _SUCTION_READ, _as_read, _READ_OFF)

quantity("liquid_saturation_temperature", "Liquid saturation temperature", "temperature")
derive(
    "liquid_saturation_temperature",
    (CURVES, MODEL, R + "liquid_pressure"),
    _bubble,
    "bubble temperature at the absolute liquid pressure",
    "coolprop",
)
derive("liquid_saturation_temperature", _LIQUID_READ, _as_read, _READ_OFF)

quantity("suction_pressure_absolute", "Absolute suction pressure", "absolute_pressure")
derive(
    "suction_pressure_absolute",
    (R + "suction_pressure",),
    same,
    "gauge reading plus air pressure at the site",
)
derive(
    "suction_pressure_absolute",
    (CURVES, R + "suction_saturation_temperature"),
    lambda curves, temperature: curves.dew_pressure(temperature),
    "dew pressure at the saturation temperature read",
    "coolprop",
)

quantity("high_side_pressure_absolute", "Absolute high-side pressure", "absolute_pressure")
derive(
    "high_side_pressure_absolute",
    (R + "discharge_pressure",),
    same,
    "discharge gauge reading plus air pressure at the site",
)
derive(
    "high_side_pressure_absolute",
    (R + "liquid_pressure",),
    same,
    "liquid gauge reading plus air pressure at the site (without the condenser's own pressure drop)",
)
derive(
    "high_side_pressure_absolute",
    (CURVES, R + "liquid_saturation_temperature"),
    lambda curves, temperature: curves.bubble_pressure(temperature),
    "bubble pressure at the saturation temperature read",
    "coolprop",
)

quantity("evaporating_temperature", "Evaporating temperature", "temperature")
derive(
    "evaporating_temperature",
    (CURVES, MODEL, "suction_pressure_absolute"),
    _middle,
    "mean of dew and bubble temperature at suction pressure (equal without glide)",
    "coolprop",
)
derive("evaporating_temperature", _SUCTION_READ, _as_read, _READ_OFF)

quantity("condensing_temperature", "Condensing temperature", "temperature")
derive(
    "condensing_temperature",
    (CURVES, MODEL, "high_side_pressure_absolute"),
    _middle,
    "mean of dew and bubble temperature at high-side pressure (equal without glide)",
    "coolprop",
)
derive("condensing_temperature", _LIQUID_READ, _as_read, _READ_OFF)

quantity("superheat", "Superheat", "temperature_difference")
derive(
    "superheat",
    (R + "suction_line_temperature", "suction_saturation_temperature"),
    np.subtract,
    "suction line minus dew temperature at suction pressure",
)

quantity(
    "evaporator_superheat",
    "Superheat at the evaporator outlet",
    "temperature_difference",
    expected_with=(R + "evaporator_outlet_temperature",),
)
derive(
    "evaporator_superheat",
    (R + "evaporator_outlet_temperature", "suction_saturation_temperature"),
    np.subtract,
    "line at the evaporator outlet minus dew temperature at the suction pressure of the outdoor "
    "unit (without the pressure drop of the suction line)",
)

quantity(
    "total_superheat",
    "Total superheat",
    "temperature_difference",
    expected_with=(R + "compressor_inlet_temperature",),
)
derive(
    "total_superheat",
    (R + "compressor_inlet_temperature", "suction_saturation_temperature"),
    np.subtract,
    "line at the compressor minus dew temperature at suction pressure",
)

quantity("subcooling", "Subcooling", "temperature_difference")
derive(
    "subcooling",
    ("liquid_saturation_temperature", R + "liquid_line_temperature"),
    np.subtract,
    "bubble temperature at liquid pressure minus liquid line",
)

quantity(
    "suction_line_temperature_rise",
    "Suction line temperature rise",
    "temperature_difference",
    modes=COOLING,
    expected_with=(R + "evaporator_outlet_temperature",),
)
derive(
    "suction_line_temperature_rise",
    (R + "suction_line_temperature", R + "evaporator_outlet_temperature"),
    np.subtract,
    "suction line at the outdoor unit minus at the evaporator outlet",
)
derive(
    "suction_line_temperature_rise",
    (R + "compressor_inlet_temperature", R + "evaporator_outlet_temperature"),
    np.subtract,
    "suction line at the compressor minus at the evaporator outlet",
)

quantity(
    "liquid_line_temperature_drop",
    "Liquid line temperature drop",
    "temperature_difference",
    modes=COOLING,
    expected_with=(R + "metering_device_inlet_temperature",),
)
derive(
    "liquid_line_temperature_drop",
    (R + "liquid_line_temperature", R + "metering_device_inlet_temperature"),
    np.subtract,
    "liquid line at the outdoor unit minus at the metering device",
)

quantity(
    "condensing_temperature_over_ambient",
    "Condensing temperature above outdoor air",
    "temperature_difference",
    modes=COOLING,
)
derive(
    "condensing_temperature_over_ambient",
    ("condensing_temperature", R + "outdoor_air_dry_bulb"),
    np.subtract,
    "condensing temperature minus outdoor air",
)

quantity(
    "liquid_line_temperature_over_ambient",
    "Liquid line above outdoor air",
    "temperature_difference",
    modes=COOLING,
)
derive(
    "liquid_line_temperature_over_ambient",
    (R + "liquid_line_temperature", R + "outdoor_air_dry_bulb"),
    np.subtract,
    "liquid line minus outdoor air",
)

quantity(
    "condenser_air_temperature_rise",
    "Condenser air temperature rise",
    "temperature_difference",
    modes=COOLING,
)
derive(
    "condenser_air_temperature_rise",
    (R + "condenser_leaving_air_dry_bulb", R + "outdoor_air_dry_bulb"),
    np.subtract,
    "air leaving the outdoor unit minus outdoor air",
)

quantity(
    "evaporating_temperature_under_return_air",
    "Evaporating temperature below return air",
    "temperature_difference",
    modes=COOLING,
)
derive(
    "evaporating_temperature_under_return_air",
    (R + "return_air_dry_bulb", "evaporating_temperature"),
    np.subtract,
    "return air minus evaporating temperature",
)

quantity("compression_ratio", "Compression ratio", "ratio")
derive(
    "compression_ratio",
    ("high_side_pressure_absolute", "suction_pressure_absolute"),
    np.divide,
    "absolute high-side pressure divided by absolute suction pressure",
)

quantity("discharge_superheat", "Discharge superheat", "temperature_difference")
derive(
    "discharge_superheat",
    (CURVES, MODEL, R + "discharge_line_temperature", "high_side_pressure_absolute"),
    lambda curves, error, line, pressure: line - _dew(curves, error, pressure),
    "discharge line minus dew temperature at high-side pressure",
    "coolprop",
)

quantity("discharge_temperature", "Discharge line temperature", "temperature")
derive("discharge_temperature", (R + "discharge_line_temperature",), same, "as read")
