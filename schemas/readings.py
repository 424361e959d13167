"""The readings of a visit: the one table of their names, kinds, ranges and meanings.

A range is what a reading can possibly be on a machine of this kind; outside it the request
is refused.  Improbable readings inside it are assessed and flagged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pydantic import Field, create_model

from schemas.quantities import (
    AirflowReading,
    CondensateReading,
    CurrentReading,
    FractionReading,
    HeatFlowReading,
    Model,
    PowerReading,
    PressureReading,
    RatioReading,
    StaticPressureReading,
    TemperatureReading,
    VoltageReading,
    reading,
)


@dataclass(frozen=True, slots=True)
class ReadingSpec:
    """One reading.

    ``kind`` is the kind of quantity, ``measured_as`` the class of reading an instrument must be
    able to make, ``imperial`` the possible range in imperial units (the metric range is the same
    range converted), ``effort`` how much work it is to take (1 is the least).
    """

    name: str
    kind: str
    measured_as: str
    imperial: tuple[float, float]
    description: str
    example: float
    effort: int = 2


_LINE = (-60.0, 300.0)
#: A compressor with hardly any refrigerant runs this hot before it trips or fails.
_DISCHARGE_LINE = (-60.0, 400.0)
_AIR = (-40.0, 150.0)

#: The shape of a single reading, by the kind of its quantity.
SHAPES: Mapping[str, type[Model]] = {
    "temperature": TemperatureReading,
    "pressure": PressureReading,
    "static_pressure": StaticPressureReading,
    "current": CurrentReading,
    "voltage": VoltageReading,
    "power": PowerReading,
    "ratio": RatioReading,
    "fraction": FractionReading,
    "airflow": AirflowReading,
    "condensate_rate": CondensateReading,
    "heat_flow": HeatFlowReading,
}

IMPERIAL_UNITS = {
    "temperature": "degF",
    "pressure": "psi gauge",
    "static_pressure": "inH2O",
    "current": "A",
    "voltage": "V",
    "power": "W",
    "ratio": "1",
    "fraction": "%",
    "airflow": "cfm",
    "condensate_rate": "lb/h",
    "heat_flow": "Btu/h",
}

_SPECS = (
    ReadingSpec(
        "suction_pressure",
        "pressure",
        "pressure",
        (-14.7, 400.0),
        "Pressure in the suction line at the outdoor unit; in heating at the common suction port, not at the port of "
        "the large line.",
        124.0,
    ),
    ReadingSpec(
        "suction_saturation_temperature",
        "temperature",
        "pressure",
        (-60.0, 120.0),
        "Saturation temperature read directly off the suction gauge (dew point for blends), instead of the pressure.",
        42.0,
    ),
    ReadingSpec(
        "suction_line_temperature",
        "temperature",
        "line_temperature",
        (-60.0, 200.0),
        "Temperature of the suction line at the outdoor unit: in cooling the large, insulated line, in heating the "
        "common suction line between the reversing valve and the compressor. The large line is hot in heating: give "
        "it as `vapour_line_temperature`.",
        55.5,
        1,
    ),
    ReadingSpec(
        "evaporator_outlet_temperature",
        "temperature",
        "line_temperature",
        (-60.0, 200.0),
        "Temperature of the suction line where it leaves the coil that evaporates: in cooling the indoor coil, in "
        "heating the outdoor coil, on the tube ahead of the reversing valve.",
        52.0,
    ),
    ReadingSpec(
        "compressor_inlet_temperature",
        "temperature",
        "line_temperature",
        (-60.0, 200.0),
        "Temperature of the suction line within 6 inches (15 cm) of the compressor (after the reversing valve of a "
        "heat pump), for total superheat.",
        58.0,
    ),
    ReadingSpec(
        "liquid_pressure",
        "pressure",
        "pressure",
        (-14.7, 800.0),
        "Pressure in the liquid line (the small line) at the outdoor unit, in heating too.",
        352.0,
    ),
    ReadingSpec(
        "liquid_saturation_temperature",
        "temperature",
        "pressure",
        (-60.0, 190.0),
        "Saturation temperature read directly off the high-side gauge (bubble point for blends), "
        "instead of the pressure.",
        107.0,
    ),
    ReadingSpec(
        "liquid_line_temperature",
        "temperature",
        "line_temperature",
        (-60.0, 250.0),
        "Temperature of the liquid line (the small line) at the outdoor unit, in heating too, where the liquid comes "
        "from the indoor coil.",
        97.0,
        1,
    ),
    ReadingSpec(
        "metering_device_inlet_temperature",
        "temperature",
        "line_temperature",
        (-60.0, 250.0),
        "Temperature of the liquid line where it enters the metering device that is in use: in cooling at the indoor "
        "coil, in heating at the outdoor coil.",
        95.0,
    ),
    ReadingSpec(
        "discharge_pressure",
        "pressure",
        "pressure",
        (-14.7, 800.0),
        "Pressure in the discharge line, if the unit has a port there; in heating also at the port of the large line.",
        358.0,
        3,
    ),
    ReadingSpec(
        "discharge_line_temperature",
        "temperature",
        "line_temperature",
        _DISCHARGE_LINE,
        "Temperature of the discharge line within 6 inches (15 cm) of the compressor.",
        165.0,
        1,
    ),
    ReadingSpec(
        "outdoor_air_dry_bulb",
        "temperature",
        "air_temperature",
        _AIR,
        "Temperature of the air entering the outdoor coil, with the sensor shaded.",
        89.0,
        1,
    ),
    ReadingSpec(
        "condenser_leaving_air_dry_bulb",
        "temperature",
        "air_temperature",
        (-40.0, 200.0),
        "Temperature of the air leaving the outdoor unit in cooling. In heating use "
        "`outdoor_coil_leaving_air_dry_bulb`.",
        106.0,
        1,
    ),
    ReadingSpec(
        "return_air_dry_bulb",
        "temperature",
        "air_temperature",
        _AIR,
        "Dry bulb of the return air, entering the indoor coil.",
        76.2,
        1,
    ),
    ReadingSpec(
        "return_air_wet_bulb",
        "temperature",
        "wet_bulb",
        (-40.0, 120.0),
        "Wet bulb of the return air, entering the indoor coil.",
        63.5,
        1,
    ),
    ReadingSpec(
        "return_air_relative_humidity",
        "fraction",
        "relative_humidity",
        (0.5, 100.0),
        "Relative humidity of the return air, entering the indoor coil (instead of the wet bulb).",
        50.0,
        1,
    ),
    ReadingSpec(
        "supply_air_dry_bulb",
        "temperature",
        "air_temperature",
        (-40.0, 200.0),
        "Dry bulb of the supply air, leaving the indoor unit.",
        57.0,
        1,
    ),
    ReadingSpec(
        "supply_air_wet_bulb",
        "temperature",
        "wet_bulb",
        (-40.0, 150.0),
        "Wet bulb of the supply air, leaving the indoor unit.",
        55.5,
        1,
    ),
    ReadingSpec(
        "supply_air_relative_humidity",
        "fraction",
        "relative_humidity",
        (0.5, 100.0),
        "Relative humidity of the supply air, leaving the indoor unit (instead of the wet bulb).",
        90.0,
        1,
    ),
    ReadingSpec(
        "compressor_common_current",
        "current",
        "current",
        (0.0, 400.0),
        "Current in the compressor's common wire, or in one line of a three-phase compressor. It is the "
        "compressor's draw.",
        14.1,
        2,
    ),
    ReadingSpec(
        "compressor_start_winding_current",
        "current",
        "current",
        (0.0, 100.0),
        "Current in the wire between the run capacitor and the start winding. It is the capacitor's "
        "current, not the compressor's draw.",
        5.6,
        2,
    ),
    ReadingSpec(
        "compressor_run_winding_current",
        "current",
        "current",
        (0.0, 400.0),
        "Current in the compressor's run-winding wire.",
        12.2,
        2,
    ),
    ReadingSpec(
        "outdoor_fan_current",
        "current",
        "current",
        (0.0, 100.0),
        "Current drawn by the outdoor fan motor.",
        1.0,
        2,
    ),
    ReadingSpec(
        "outdoor_fan_capacitor_current",
        "current",
        "current",
        (0.0, 50.0),
        "Current in the wire between the outdoor fan and its run capacitor.",
        0.6,
        2,
    ),
    ReadingSpec(
        "indoor_blower_current",
        "current",
        "current",
        (0.0, 100.0),
        "Current drawn by the indoor blower motor.",
        3.4,
        2,
    ),
    ReadingSpec(
        "indoor_blower_capacitor_current",
        "current",
        "current",
        (0.0, 50.0),
        "Current in the wire between the indoor blower and its run capacitor.",
        1.1,
        2,
    ),
    ReadingSpec(
        "line_voltage",
        "voltage",
        "voltage",
        (0.0, 700.0),
        "Supply voltage at the outdoor unit while it runs.",
        238.0,
        2,
    ),
    ReadingSpec(
        "outdoor_unit_power",
        "power",
        "power",
        (0.0, 100000.0),
        "Active power of the outdoor unit.",
        2650.0,
        3,
    ),
    ReadingSpec(
        "indoor_unit_power",
        "power",
        "power",
        (0.0, 50000.0),
        "Active power of the indoor unit: blower and controls, without auxiliary heat (`auxiliary_heat_power`).",
        420.0,
        3,
    ),
    ReadingSpec(
        "power_factor",
        "ratio",
        "ratio",
        (0.05, 1.0),
        "Power factor of the outdoor unit.",
        0.92,
        3,
    ),
    ReadingSpec(
        "return_static_pressure",
        "static_pressure",
        "static_pressure",
        (-10.0, 10.0),
        "Static pressure in the return, between the filter and the blower (usually negative).",
        -0.22,
        2,
    ),
    ReadingSpec(
        "supply_static_pressure",
        "static_pressure",
        "static_pressure",
        (-10.0, 10.0),
        "Static pressure in the supply, after the blower.",
        0.31,
        2,
    ),
    ReadingSpec(
        "total_external_static_pressure",
        "static_pressure",
        "static_pressure",
        (0.0, 10.0),
        "Total external static pressure, if read as one value.",
        0.53,
        2,
    ),
    ReadingSpec(
        "filter_pressure_drop",
        "static_pressure",
        "static_pressure",
        (0.0, 10.0),
        "Pressure drop across the filter.",
        0.12,
        2,
    ),
    ReadingSpec(
        "coil_pressure_drop",
        "static_pressure",
        "static_pressure",
        (0.0, 10.0),
        "Pressure drop across the indoor coil.",
        0.21,
        2,
    ),
    ReadingSpec(
        "airflow",
        "airflow",
        "airflow",
        (10.0, 20000.0),
        "Measured indoor airflow (at the return unless `run.airflow_measured_at` says otherwise).",
        1180.0,
        4,
    ),
    ReadingSpec(
        "condensate_rate",
        "condensate_rate",
        "condensate_rate",
        (0.0, 200.0),
        "Condensate collected from the drain.",
        6.5,
        4,
    ),
    ReadingSpec(
        "condenser_airflow",
        "airflow",
        "airflow",
        (10.0, 40000.0),
        "Measured airflow through the outdoor unit.",
        2800.0,
        6,
    ),
    ReadingSpec(
        "heat_test_entering_air_dry_bulb",
        "temperature",
        "air_temperature",
        _AIR,
        "Heat test (electric or gas heat on, compressor off): air entering the heater.",
        70.0,
        4,
    ),
    ReadingSpec(
        "heat_test_leaving_air_dry_bulb",
        "temperature",
        "air_temperature",
        (-40.0, 250.0),
        "Heat test: air leaving the heater, with the sensor out of its line of sight.",
        100.0,
        4,
    ),
    ReadingSpec(
        "heat_test_electric_power",
        "power",
        "power",
        (0.0, 100000.0),
        "Heat test: electric power of the heater and the blower together.",
        10400.0,
        4,
    ),
    ReadingSpec(
        "heat_test_gas_input",
        "heat_flow",
        "heat_flow",
        (0.0, 1000000.0),
        "Heat test: gas input, clocked at the meter.",
        80000.0,
        4,
    ),
    ReadingSpec(
        "room_air_dry_bulb",
        "temperature",
        "air_temperature",
        _AIR,
        "Room air at the return grille, to find a return duct that draws in other air.",
        75.4,
        1,
    ),
)

#: Readings of heating.  They come last: a reading's place is its error dimension, so new ones are appended.
_HEATING_SPECS = (
    ReadingSpec(
        "vapour_line_temperature",
        "temperature",
        "line_temperature",
        _DISCHARGE_LINE,
        "Heating: temperature of the large line at the outdoor unit, which carries hot gas to the indoor coil.",
        150.0,
        1,
    ),
    ReadingSpec(
        "outdoor_air_wet_bulb",
        "temperature",
        "wet_bulb",
        (-40.0, 120.0),
        "Wet bulb of the air entering the outdoor coil.",
        43.0,
        1,
    ),
    ReadingSpec(
        "outdoor_air_relative_humidity",
        "fraction",
        "relative_humidity",
        (0.5, 100.0),
        "Relative humidity of the air entering the outdoor coil (instead of the wet bulb).",
        75.0,
        1,
    ),
    ReadingSpec(
        "outdoor_coil_leaving_air_dry_bulb",
        "temperature",
        "air_temperature",
        (-60.0, 200.0),
        "Temperature of the air leaving the outdoor unit. In heating it is colder than the outdoor air.",
        40.0,
        1,
    ),
    ReadingSpec(
        "auxiliary_heat_power",
        "power",
        "power",
        (0.0, 100000.0),
        "Active power of the auxiliary heat (electric strips), without the blower. Zero means off.",
        9600.0,
        3,
    ),
    ReadingSpec(
        "auxiliary_heat_current",
        "current",
        "current",
        (0.0, 400.0),
        "Current of the auxiliary heat (electric strips), without the blower; with `line_voltage` it gives the power "
        "where that was not measured. Zero means off.",
        40.0,
        2,
    ),
)

#: Readings of one value per part: the part names are the keys of the object.
_GROUPS = {
    "capacitor_voltage": (
        ("compressor", "outdoor_fan", "indoor_blower"),
        "voltage",
        (0.0, 700.0),
        352.0,
        2,
        "Voltage across each run capacitor while the motor runs (not the line voltage).",
        {"compressor": "compressor", "outdoor_fan": "outdoor fan", "indoor_blower": "indoor blower"},
        "Voltage across the {} run capacitor",
    ),
    "line_voltages": (
        ("l1_l2", "l2_l3", "l3_l1"),
        "voltage",
        (0.0, 700.0),
        462.0,
        2,
        "The three line-to-line voltages of a three-phase supply.",
        {"l1_l2": "L1-L2", "l2_l3": "L2-L3", "l3_l1": "L3-L1"},
        "Voltage {}",
    ),
    "compressor_line_currents": (
        ("l1", "l2", "l3"),
        "current",
        (0.0, 400.0),
        18.4,
        2,
        "The three line currents of a three-phase compressor.",
        {"l1": "L1", "l2": "L2", "l3": "L3"},
        "Compressor current in line {}",
    ),
}

_GROUP_SPECS = {
    group: tuple(
        ReadingSpec(f"{group}.{part}", kind, kind, limits, text.format(words[part]) + ".", example, effort)
        for part in parts
    )
    for group, (parts, kind, limits, example, effort, _, words, text) in _GROUPS.items()
}

#: Every reading by its name in the request (``group.part`` for readings of one value per part).
READINGS: Mapping[str, ReadingSpec] = MappingProxyType(
    {
        spec.name: spec
        for spec in (*_SPECS, *(spec for specs in _GROUP_SPECS.values() for spec in specs), *_HEATING_SPECS)
    }
)

READING_GROUPS: tuple[str, ...] = tuple(_GROUPS)


def _field(spec: ReadingSpec) -> Any:  # noqa: ANN401
    low, high = spec.imperial
    unit = IMPERIAL_UNITS[spec.kind]
    return (
        reading(SHAPES[spec.kind]) | None,
        Field(
            default=None,
            description=f"{spec.description} Possible range: {low:g} to {high:g} {unit}.",
            examples=[spec.example],
            json_schema_extra={"x-unit": unit, "x-range": [low, high]},
        ),
    )


def _group_model(group: str) -> type[Model]:
    fields: dict[str, Any] = {spec.name.partition(".")[2]: _field(spec) for spec in _GROUP_SPECS[group]}
    title = "".join(word.capitalize() for word in group.split("_"))
    return create_model(title, __base__=Model, __doc__=_GROUPS[group][5], **fields)


def _group_field(group: str) -> Any:  # noqa: ANN401
    return (
        _group_model(group) | None,
        Field(
            default=None,
            description=_GROUPS[group][5],
            examples=[dict.fromkeys(_GROUPS[group][0], _GROUPS[group][3])],
        ),
    )


if TYPE_CHECKING:

    class Readings(Model):
        """The readings of one run."""

else:
    Readings = create_model(
        "Readings",
        __base__=Model,
        __doc__="The readings of one run. All of them are optional. "
        "A bare number is in the declared unit system. A list of 2 to 100 numbers, bare or as `values` "
        "instead of `value`, gives repeats within one run by one instrument. Their mean is used. "
        "The error of repeatability (and of resolution, where they scatter over the display's steps) shrinks "
        "with the square root of their number; the errors of calibration and placement do not.",
        **{spec.name: _field(spec) for spec in (*_SPECS, *_HEATING_SPECS)},
        **{group: _group_field(group) for group in _GROUPS},
    )
