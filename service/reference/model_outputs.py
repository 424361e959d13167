"""Outputs of the unit model that readings show: the one map from readings to the model.

Each row says which derived values show an output and whether they count in logarithms, how much a settled
unit scatters in it, which reading gives it where it is missing, and whether it is part of a fault's
signature.  All of it is common practice without a source, unless a row names one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Reading:
    """The reading that gives an output, with its standard errors by a usual instrument [SI, or relative].

    ``error`` is that of one run; ``repeating`` is the part that is new in each of two runs, as calibration all
    but cancels between them; None where a comparison does not ask for the reading.  Without the ``essential``
    ones there is no change of efficiency.
    """

    name: str
    error: float
    repeating: float | None = None
    essential: bool = False


@dataclass(frozen=True, slots=True)
class Output:
    """One output of the unit model.

    ``ways`` are derived values, each an independent way to the output; ``as_read`` is a reading that is the
    output itself.  One that is ``instead_of`` another counts only where that is not available.  ``condition`` is
    the model's parameter where the output is a condition of the visit, which says nothing about the unit.
    ``scatter`` is a standard deviation from one quarter of an hour to the next that no instrument explains [K,
    or relative].  ``modes`` are those in which the model has it.
    """

    name: str
    logarithmic: bool = False
    ways: tuple[str, ...] = ()
    instead_of: str = ""
    as_read: str = ""
    condition: str = ""
    scatter: float = 0.0
    reading: Reading | None = None
    signature: bool = False
    modes: tuple[str, ...] = ("cooling", "heating")


_COOLING = ("cooling",)
_HEATING = ("heating",)

_ROWS = (
    Output(
        "outdoor_air_dry_bulb",
        as_read="outdoor_air_dry_bulb",
        condition="outdoor",
        reading=Reading("outdoor_air_dry_bulb", 0.6, 0.4),
    ),
    Output(
        "return_air_dry_bulb",
        as_read="return_air_dry_bulb",
        condition="dry_bulb",
        reading=Reading("return_air_dry_bulb", 0.5),
    ),
    Output(
        "return_air_wet_bulb",
        ways=("return_air_wet_bulb",),
        condition="wet_bulb",
        reading=Reading("return_air_wet_bulb", 0.6, 0.35),
        modes=_COOLING,
    ),
    Output(
        "outdoor_air_relative_humidity",
        ways=("outdoor_air_relative_humidity",),
        condition="humidity",
        reading=Reading("outdoor_air_relative_humidity", 0.04, 0.03),
        modes=_HEATING,
    ),
    Output("auxiliary_heat_power", ways=("auxiliary_heat_power",), condition="strips", modes=_HEATING),
    Output("supply_voltage", logarithmic=True, ways=("supply_voltage",), condition="voltage"),
    Output(
        "suction_saturation_temperature",
        ways=("suction_saturation_temperature",),
        scatter=0.10,
        reading=Reading("suction_pressure", 0.5, 0.25, essential=True),
        signature=True,
    ),
    Output(
        "liquid_saturation_temperature",
        ways=("liquid_saturation_temperature",),
        scatter=0.12,
        reading=Reading("liquid_pressure", 0.4, 0.25, essential=True),
        signature=True,
    ),
    Output("condensing_temperature", ways=("condensing_temperature",), instead_of="liquid_saturation_temperature"),
    Output(
        "superheat",
        ways=("superheat",),
        scatter=0.25,
        reading=Reading("suction_line_temperature", 0.9, 0.6, essential=True),
        signature=True,
    ),
    Output(
        "subcooling",
        ways=("subcooling",),
        scatter=0.15,
        reading=Reading("liquid_line_temperature", 0.9, 0.6, essential=True),
        signature=True,
    ),
    Output(
        "discharge_temperature",
        ways=("discharge_temperature",),
        scatter=0.40,
        reading=Reading("discharge_line_temperature", 2.0, 1.0),
        signature=True,
    ),
    Output(
        "temperature_split",
        ways=("temperature_split",),
        scatter=0.10,
        reading=Reading("supply_air_dry_bulb", 0.7, 0.5),
        signature=True,
        modes=_COOLING,
    ),
    Output(
        "air_enthalpy_drop",
        logarithmic=True,
        ways=("air_enthalpy_drop",),
        scatter=0.006,
        modes=_COOLING,
    ),
    Output(
        "heating_air_temperature_rise",
        ways=("heating_air_temperature_rise",),
        scatter=0.15,
        reading=Reading("supply_air_dry_bulb", 0.7, 0.5),
        signature=True,
        modes=_HEATING,
    ),
    Output(
        "vapour_line_temperature",
        as_read="vapour_line_temperature",
        scatter=0.40,
        reading=Reading("vapour_line_temperature", 2.0, 1.0),
        modes=_HEATING,
    ),
    Output(
        "reversing_valve_temperature_rise",
        ways=("reversing_valve_temperature_rise",),
        scatter=0.20,
        reading=Reading("evaporator_outlet_temperature", 1.0, 0.6),
        signature=True,
        modes=_HEATING,
    ),
    Output(
        "outdoor_coil_air_temperature_drop",
        ways=("outdoor_coil_air_temperature_drop",),
        scatter=0.25,
        reading=Reading("outdoor_coil_leaving_air_dry_bulb", 0.9, 0.6),
        signature=True,
        modes=_HEATING,
    ),
    Output(
        "airflow",
        logarithmic=True,
        ways=(
            "airflow_measured",
            "airflow_from_blower_table",
            "airflow_from_coil_pressure_drop",
            "airflow_from_filter_pressure_drop",
            "airflow_from_known_heat",
        ),
        scatter=0.005,
        reading=Reading("airflow", 0.08, 0.03),
    ),
    Output("refrigerant_mass_flow", logarithmic=True, ways=("refrigerant_mass_flow_from_map",), scatter=0.004),
    Output(
        "outdoor_unit_power",
        logarithmic=True,
        ways=("outdoor_unit_power_measured",),
        scatter=0.003,
        reading=Reading("outdoor_unit_power", 0.02, 0.005),
        signature=True,
    ),
    Output(
        "compressor_apparent_power",
        logarithmic=True,
        ways=("compressor_apparent_power",),
        scatter=0.003,
        reading=Reading("compressor_common_current", 0.03, 0.01),
    ),
    Output(
        "indoor_unit_power",
        logarithmic=True,
        as_read="indoor_unit_power",
        scatter=0.003,
        reading=Reading("indoor_unit_power", 0.03, 0.01),
    ),
    Output("cooling_capacity", logarithmic=True, signature=True, modes=_COOLING),
    Output("eer", logarithmic=True, signature=True, modes=_COOLING),
    Output("heating_capacity", logarithmic=True, signature=True, modes=_HEATING),
    Output("heating_cop", logarithmic=True, signature=True, modes=_HEATING),
)

#: Outdoor air in the heating season is moist: its wet bulb is so far below its dry bulb at the rating points 35/33 and
#: 17/15 °F [K] (source ``heating_ratings``).
OUTDOOR_DEPRESSION = 2.0 / 1.8
#: Supply air off a wet coil is almost saturated: its wet bulb is so far below its dry bulb [K].
SUPPLY_DEPRESSION = 0.8
#: Line voltage [V] of a usual unit of one phase where no nameplate states it.
USUAL_VOLTAGE = 230.0

OUTPUTS: Mapping[str, Output] = MappingProxyType({row.name: row for row in _ROWS})
#: The model's parameter of each output that is a condition of a visit; and those of air.
CONDITIONS: Mapping[str, str] = MappingProxyType({row.name: row.condition for row in _ROWS if row.condition})
AIR_CONDITIONS = tuple(name for name, condition in CONDITIONS.items() if condition not in ("voltage", "strips"))


def outputs_of(mode: str) -> tuple[Output, ...]:
    """The rows of one mode."""
    return tuple(row for row in _ROWS if mode in row.modes)
