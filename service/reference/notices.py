"""Notices about readings whose text is the same for every visit, and orders that readings must be in.

The one place to touch for a new order of two values; :mod:`service.assess.usability` holds every row against
a visit.  A notice whose text names values of the visit is a function there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from service.reference.conditions import RUNNING_MINUTES

Weight = Literal["note", "reservation", "disqualifying"]


@dataclass(frozen=True, slots=True)
class OrderRow:
    """Two values of which ``upper`` is never below ``lower``, in the modes named.

    ``stops`` are the groups of limits that a visit in the wrong order keeps from being applied; the first
    sentence of ``text`` is the reason given for them.
    """

    code: str
    upper: str
    lower: str
    text: str
    stops: tuple[str, ...] = ()
    modes: tuple[str, ...] = ("cooling", "heating")
    source: str = "plausible_windows"


_COOLING = ("cooling",)
_HEATING = ("heating",)
_OF_CHARGE = ("charge", "refrigerant", "floodback")
_CHARGE_NOT_APPLIED = "Charge and refrigerant limits were not applied."
_REFRIGERANT_NOT_APPLIED = "Refrigerant limits were not applied."
_AIRFLOW_NOT_APPLIED = "Airflow limits were not applied."

ORDERS = (
    OrderRow(
        "suction_line_under_saturation",
        "suction_line_temperature",
        "suction_saturation_temperature",
        "The suction line is colder than the saturation temperature at its pressure, which is impossible for "
        "dry gas. Either liquid is returning to the compressor, or a reading or the refrigerant is wrong.",
    ),
    OrderRow(
        "liquid_line_over_saturation",
        "liquid_saturation_temperature",
        "liquid_line_temperature",
        "The liquid line is hotter than the saturation temperature at its pressure. Either there is vapour in "
        "the liquid line, or a reading or the refrigerant is wrong.",
    ),
    OrderRow(
        "discharge_under_condensing",
        "discharge_line_temperature",
        "condensing_temperature",
        "The discharge line is colder than the condensing temperature. Either liquid is flooding through the "
        "compressor, or the clamp has no contact with the pipe. This reading is used for its own limit only.",
    ),
    OrderRow(
        "no_pressure_lift",
        "high_side_pressure_absolute",
        "suction_pressure_absolute",
        "The high side is not above the suction side: the compressor is not pumping, or the gauges are "
        f"swapped. {_CHARGE_NOT_APPLIED}",
        _OF_CHARGE,
    ),
    OrderRow(
        "discharge_pressure_under_liquid",
        "discharge_pressure",
        "liquid_pressure",
        "Discharge pressure is below liquid pressure, although refrigerant flows from the one to the other. The "
        "gauges are swapped, or one is wrong.",
    ),
    OrderRow(
        "condenser_leaving_air_under_outdoor",
        "condenser_leaving_air_dry_bulb",
        "outdoor_air_dry_bulb",
        "Air leaving the outdoor unit is colder than the outdoor air, although it carries the heat away. The "
        "probes are swapped, or a sensor is in the wrong place.",
        modes=_COOLING,
    ),
    OrderRow(
        "condenser_leaving_air_over_condensing",
        "condensing_temperature",
        "condenser_leaving_air_dry_bulb",
        "Air leaving the outdoor unit is hotter than the condensing temperature that heats it. Check the "
        "sensor, the pressure and the refrigerant.",
        modes=_COOLING,
    ),
    OrderRow(
        "supply_air_under_evaporating",
        "supply_air_dry_bulb",
        "evaporating_temperature",
        "Supply air is colder than the evaporator that cools it. Check the sensor, the pressure and the "
        f"refrigerant. {_AIRFLOW_NOT_APPLIED}",
        ("airflow",),
        modes=_COOLING,
    ),
    OrderRow(
        "supply_air_moister",
        "return_air_dew_point",
        "supply_air_dew_point",
        "Supply air holds more water than return air, although a cooling coil only removes water. The wick of a "
        "wet bulb has dried out, or two humidity probes disagree.",
        modes=_COOLING,
    ),
    OrderRow(
        "liquid_line_warms_on_its_way",
        "liquid_line_temperature",
        "metering_device_inlet_temperature",
        "The liquid line is warmer at the metering device than at the outdoor unit. The clamps are swapped, or "
        "the line runs through a hot attic.",
        modes=_COOLING,
    ),
    OrderRow(
        "supply_over_return",
        "return_air_dry_bulb",
        "supply_air_dry_bulb",
        "Supply air is warmer than return air in cooling. The probes are swapped, or the unit is not cooling. "
        f"If the unit was heating, set unit.mode to heating. {_AIRFLOW_NOT_APPLIED}",
        ("airflow",),
        modes=_COOLING,
    ),
    OrderRow(
        "liquid_line_under_outdoor_air",
        "liquid_line_temperature",
        "outdoor_air_dry_bulb",
        "The liquid line is colder than the outdoor air that cools it. Check the outdoor sensor and the clamp.",
        modes=_COOLING,
    ),
    OrderRow(
        "condensing_under_outdoor_air",
        "condensing_temperature",
        "outdoor_air_dry_bulb",
        "The condensing temperature is below the outdoor air, so the outdoor coil cannot give off heat. Check "
        f"the pressure, the refrigerant and the outdoor sensor. {_CHARGE_NOT_APPLIED}",
        _OF_CHARGE,
        modes=_COOLING,
    ),
    OrderRow(
        "evaporating_over_return_air",
        "return_air_dry_bulb",
        "suction_saturation_temperature",
        "The evaporator is warmer than the return air, so the indoor coil cannot absorb heat. Check the "
        f"pressure, the refrigerant and the return sensor. {_CHARGE_NOT_APPLIED}",
        _OF_CHARGE,
        modes=_COOLING,
    ),
    OrderRow(
        "supply_under_return_in_heating",
        "supply_air_dry_bulb",
        "return_air_dry_bulb",
        "Supply air is colder than return air in heating. The probes are swapped, the unit is defrosting, or it "
        f"is not heating. If the unit was cooling, set unit.mode to cooling. {_AIRFLOW_NOT_APPLIED}",
        ("airflow",),
        modes=_HEATING,
    ),
    OrderRow(
        "vapour_line_under_condensing",
        "vapour_line_temperature",
        "condensing_temperature",
        "The vapour line is colder than the condensing temperature. Either liquid is flooding through the "
        "compressor, or the clamp has no contact with the pipe.",
        modes=_HEATING,
    ),
    OrderRow(
        "vapour_line_over_discharge",
        "discharge_line_temperature",
        "vapour_line_temperature",
        "The vapour line is hotter than the discharge line that feeds it. The clamps are swapped, or one has no "
        "contact with the pipe.",
        modes=_HEATING,
    ),
    OrderRow(
        "outdoor_coil_leaving_air_over_outdoor",
        "outdoor_air_dry_bulb",
        "outdoor_coil_leaving_air_dry_bulb",
        "Air leaving the outdoor unit is warmer than the outdoor air, although the coil takes heat from it. The "
        "probes are swapped, the unit is defrosting, or it is not heating.",
        modes=_HEATING,
    ),
    OrderRow(
        "evaporating_over_outdoor_air",
        "outdoor_air_dry_bulb",
        "evaporating_temperature",
        "The outdoor coil is warmer than the outdoor air, so it cannot absorb heat. Check the pressure, the "
        f"refrigerant, the sensor, and whether the compressor pumps. {_REFRIGERANT_NOT_APPLIED}",
        ("refrigerant",),
        modes=_HEATING,
    ),
    OrderRow(
        "condensing_under_return_air",
        "condensing_temperature",
        "return_air_dry_bulb",
        "The indoor coil is colder than the return air, so it cannot heat. Check the pressure, the refrigerant, "
        f"the sensor, and whether the compressor pumps. {_REFRIGERANT_NOT_APPLIED}",
        ("refrigerant",),
        modes=_HEATING,
    ),
)


@dataclass(frozen=True, slots=True)
class NoticeRow:
    """A notice with a fixed text; ``stops`` are the groups of limits that it keeps from being applied."""

    code: str
    weight: Weight
    text: str
    source: str
    stops: tuple[str, ...] = ()


_FIXED = (
    NoticeRow(
        "several_circuits",
        "note",
        "The unit has two refrigerant circuits, and the readings are taken to be of one. The air, the power meter "
        "and the rating belong to both, so capacity, efficiency, shares of the rating and the temperature split were "
        "not assessed, and the air side was not balanced against the refrigerant. Assess each circuit by itself.",
        "energy_balance",
    ),
    NoticeRow(
        "steady_state_not_shown",
        "reservation",
        "The running time is not given, so the readings may not be steady. Take them after at least "
        f"{RUNNING_MINUTES:.0f} minutes.",
        "ra3_running_time",
    ),
    NoticeRow(
        "nothing_derived",
        "disqualifying",
        "Nothing could be derived from these readings. The answer lists what to read next.",
        "definition",
    ),
    NoticeRow(
        "ductless",
        "reservation",
        "The target temperature split is for ducted units and was not applied.",
        "ra3_target_split",
        ("airflow",),
    ),
    NoticeRow(
        "heating_not_graded",
        "note",
        "In heating, superheat and subcooling are derived but not graded, because the published targets are for "
        "cooling. Subcooling depends on the unit: makers print 13 to 33 °F for healthy ones. The unit's own "
        "performance table would allow more.",
        "heating_subcooling",
    ),
    NoticeRow(
        "defrosting",
        "disqualifying",
        "The unit was defrosting, so it ran in cooling with the outdoor fan off. Read again 15 minutes after the "
        "defrost has ended. Charge, refrigerant, airflow and capacity limits were not applied.",
        "defrost_recovery",
        ("charge", "refrigerant", "floodback", "performance", "airflow"),
    ),
    NoticeRow(
        "frost_on_coil",
        "reservation",
        "Frost or ice covers the outdoor coil, so pressures and capacity are those of a blocked coil. Let it "
        "defrost, wait 15 minutes, and read again. If it does not clear, check the defrost control, the outdoor fan "
        "and the reversing valve. Charge, refrigerant and capacity limits were not applied.",
        "frost_practice",
        ("charge", "refrigerant", "floodback", "performance"),
    ),
    NoticeRow(
        "metering_device_not_given",
        "note",
        "The metering device is not given, and the limit for the charge depends on it.",
        "ra3_superheat_tolerance",
    ),
    NoticeRow(
        "dial_scale_at_altitude",
        "reservation",
        "A temperature scale printed on a dial is right at sea level, and at this altitude it reads high. Give "
        "the pressure, or use an instrument that accounts for the air pressure.",
        "standard_atmosphere",
    ),
    NoticeRow(
        "split_target_at_altitude",
        "note",
        "The target temperature split is for air of sea-level density, and in thinner air a healthy split is "
        "larger. Airflow limits were not applied.",
        "split_at_altitude",
        ("airflow",),
    ),
    NoticeRow(
        "return_static_pressure_positive",
        "disqualifying",
        "Return static pressure is given as positive, but a blower pulls the return below room pressure. Enter "
        "it with its minus sign. Static pressure limits were not applied.",
        "definition",
        ("static_pressure",),
    ),
    NoticeRow(
        "start_winding_current_is_not_the_draw",
        "note",
        "The current in the start-winding wire is the capacitor's current, not the compressor's draw. No "
        "compressor power or load was computed from it. Measure the common wire for that.",
        "circuit_theory",
    ),
    NoticeRow(
        "line_clamps_swapped_suspected",
        "disqualifying",
        "The suction line reads hotter than the liquid line, and the two readings would make sense if swapped. "
        "Check the clamps. Charge limits were not applied.",
        "plausible_windows",
        ("charge", "floodback"),
    ),
)

FIXED: Mapping[str, NoticeRow] = MappingProxyType({row.code: row for row in _FIXED})
