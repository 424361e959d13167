"""Notices about readings: what each is called, how much it weighs, what it stops, and its text.

The one place to touch for the words of a notice, and for a new order of two values.  A check in
:mod:`service.assess` decides which row a visit gets, and fills in the values that its text names in braces, as
they are written in the caller's units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from service.reference.capacity_control import PARTLY_SETTLED, UNSETTLED
from service.reference.conditions import (
    CAPACITOR_TOLERANCE,
    DEFROST_MINUTES,
    DEFROST_SETTLED_MINUTES,
    RUNNING_MINUTES,
)
from service.reference.settling import USUAL_MINUTES

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
_OF_THE_CYCLE = (*_OF_CHARGE, "pressures")
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
        "Discharge pressure is below liquid pressure, but refrigerant flows from discharge to liquid. The gauges "
        "are swapped, or one is wrong.",
    ),
    OrderRow(
        "supply_air_over_condensing",
        "condensing_temperature",
        "supply_air_dry_bulb",
        "Supply air is warmer than the refrigerant that heats it, which no heat pump does by itself: auxiliary heat is "
        "on, or the pressure or the air temperature is wrong. Capacity and efficiency limits were not applied.",
        ("performance", "efficiency"),
        modes=_HEATING,
    ),
    OrderRow(
        "condenser_leaving_air_under_outdoor",
        "condenser_leaving_air_dry_bulb",
        "outdoor_air_dry_bulb",
        "Air leaving the outdoor unit is colder than the outdoor air, although it carries heat away. The probes "
        "are swapped, or one is in the wrong place.",
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
        "Supply air holds more moisture than return air, although a cooling coil only removes moisture. The wick "
        "of a wet bulb is dry, or two humidity probes disagree.",
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
        "The condensing temperature is below the outdoor air, so the outdoor coil cannot get rid of heat. Check "
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
    """A notice; ``stops`` are the groups of limits that it keeps from being applied.

    ``text`` names in braces the values that a check fills in.  Its first sentence is the reason given for limits
    that were not applied.  Rows of one ``code`` differ in their ``variant``.  ``unmet`` are the groups of limits whose
    published procedure asks for more than was done; they are applied, and ``condition`` is added to each.

    ``settle`` is what to do first where the readings of the notice are not what they are called: taken in another
    place, unit, mode or refrigerant.  What depends on them is then not judged, and a diagnosis claims no fault of the
    refrigerant cycle (a reservation: proposes no work on the charge or in the circuit).
    """

    code: str
    weight: Weight
    text: str
    source: str
    stops: tuple[str, ...] = ()
    variant: str = ""
    unmet: tuple[str, ...] = ()
    condition: str = ""
    settle: str = ""

    @property
    def name(self) -> str:
        """What a check calls the row: its code, with its variant after a full stop."""
        return f"{self.code}.{self.variant}" if self.variant else self.code


#: Items of a notice that lists its evidence; a check fills in the value.
ITEMS: Mapping[str, str] = MappingProxyType(
    {
        # Most of the charge gone, and results that no running system shows.
        "superheat": "a superheat of {value}",
        "subcooling": "a subcooling of {value}",
        "condensing_temperature_over_ambient": "a condensing temperature over ambient of {value}",
        "evaporating_temperature_under_return_air": "an evaporating temperature under return air of {value}",
        "condensing_temperature_over_return_air": "a condensing temperature over return air of {value}",
        "outdoor_coil_air_temperature_drop": "an outdoor coil that cools the air by {value}",
        "evaporating_temperature_under_outdoor_air": "an evaporating temperature under outdoor air of {value}",
        "evaporating_temperature": "an evaporating temperature of {value}",
        "condensing_temperature": "a condensing temperature of {value}",
        "low_head": "a condensing temperature only {value} above outdoor air",
        "head_under_outdoor_air": "a condensing temperature {value} below outdoor air",
        "small_split": "a temperature split of only {value}",
        "warmed_supply_air": "supply air {value} warmer than the return air",
        # Readings of the other mode.
        "hot_suction_line": "the suction line, at {value}, is the hot line",
        "supply_over_return": "supply air is {value} warmer than return air",
        "head_over_cold_air": "the condensing temperature is {value} above cold outdoor air",
        "supply_under_return": "supply air is {value} colder than return air",
        "hot_vapour_line": "the large line, at {value}, carries hot gas",
        "cold_vapour_line": "the large line, at {value}, is colder than the liquid line",
        "cooled_outdoor_air": "air leaves the outdoor unit {value} colder than it enters",
        "warmed_outdoor_air": "air leaves the outdoor unit {value} warmer than it enters",
        "defrost_stated": "a defrost was reported",
        "auxiliary_heat_on": "auxiliary heat was on",
    }
)

_UNSETTLED_HEATING = "Shares of the rating were not applied."
_UNSETTLED = (
    "Targets for superheat, subcooling and the temperature split, shares of the rating and airflow for the rated "
    "capacity were not applied."
)
_TOO_COLD = (
    "Outdoor air is {outdoor}; below {lowest}, pressures do not show the charge. Weigh the charge in, or use the "
    "maker's cold-weather procedure."
)
_COOL_HOUSE = "Return air is {indoor}; the target tables begin at {lowest}. Let the building warm up, then read again."
_SET_HEATING = "If the unit was heating, set unit.mode to heating."
_TABLES_NOT_APPLIED = "Limits that need the tables were not applied."
_WEIGH_IN = "Weigh the charge in, use the maker's chart, or read again on another day."
_DO_NOT_ADD = f"Do not add refrigerant. {_CHARGE_NOT_APPLIED}"
_SET_MODE = "Set it to heating if the unit was heating. Limits for cooling were not applied."
_AIR_NOT_APPLIED = "Airflow and capacity limits were not applied."
_NOT_GRADED = "The compressor's current and run capacitor were not graded."
_LITTLE_CURRENT = (
    "The compressor's common current is {share} of its rated-load amps, too little for the load that the pressures "
    "show (at least about {least}): is the clamp on the wrong wire?"
)
_PUMPS_LITTLE = "A compressor that hardly pumps also draws little. The compressor's current was not graded."
_WRONG_WIRE = "or the clamp is around the wrong wire or around two wires"
_SETTLE_FIRST = "Correct this before you judge the charge. Charge limits were not applied."
_HEAT_FIRST = "Check the outdoor fan, coil and airflow before you judge the charge. Charge limits were not applied."
_UNUSUAL = (
    "Is the refrigerant {stated}? These pressures would mean evaporating at {evaporating} and condensing at "
    "{condensing}, but such pressures are usual for {others}. Check the nameplate and the gauge setting."
)
_SETTLES = "Line and outdoor temperatures would settle it."
_NOT_CREDIBLE = "No running system has {values}: a reading, its unit or the refrigerant is wrong."
_ANOTHER_UNIT = "Were these readings taken in another unit?"
_PRESSURES = "The pressures would make sense in {meant}, but were taken to be in {taken}."
_LINES = "The line temperatures would make sense in {meant}, but were taken to be in {taken}."
_GIVE_UNIT = f"Give the unit with the value. {_CHARGE_NOT_APPLIED}"
_GIVE_UNITS = "Check in which unit each instrument shows, and give the readings again with their units."
_STATE_MODE = "Check which mode ran, and set unit.mode. If the mode is right, check where each probe sits."
_SWAP_PROBES = "Check which probe is in the supply air and which in the return air, then read both again."
_READ_TWICE = "The {side} pressure corresponds to a saturation temperature of {derived}; {read} was read off the gauge."
_APART = f"{_READ_TWICE} They differ by more than the instruments explain."
_PRESSURE_USED = "The pressure was used."
_DUAL = "so a {lower}/{higher} V nameplate was assumed, which allows {lowest} to {highest} V."

_ASKS_TO_RUN = ("charge", "airflow")
_RUN_LONGER = (
    f"The published procedure asks for {RUNNING_MINUTES:.0f} minutes of running, and the unit had run {{minutes}}. "
    f"Read again at {RUNNING_MINUTES:.0f} minutes before you act on this."
)
_USUAL = USUAL_MINUTES[0][0], USUAL_MINUTES[-1][0]

_ROWS = (
    # ---------------------------------------------------------------- how and when it was read
    NoticeRow(
        "several_circuits",
        "note",
        "The unit has two refrigerant circuits, and the readings are assumed to come from one. The air, the power "
        "meter and the rating belong to both. Capacity, efficiency, shares of the rating and the temperature split "
        "were therefore not assessed, and the air side was not checked against the refrigerant side. Assess each "
        "circuit by itself.",
        "energy_balance",
    ),
    NoticeRow(
        "steady_state_not_shown",
        "reservation",
        "The running time is not given, so the readings may not be steady. The bands allow for readings made "
        f"{_USUAL[0]:.0f} to {_USUAL[1]:.0f} minutes after the start. Let the unit run for at least "
        f"{RUNNING_MINUTES:.0f} minutes before you read, and give the minutes.",
        "ra3_running_time",
    ),
    NoticeRow(
        "not_steady",
        "disqualifying",
        "The unit had run {minutes} minutes, too short to judge anything that needs time to settle. Read again at "
        f"{RUNNING_MINUTES:.0f} minutes. Charge, refrigerant and airflow limits were not applied.",
        "ra3_running_time",
        ("charge", "refrigerant", "airflow"),
    ),
    NoticeRow(
        "still_settling",
        "reservation",
        "The unit had run {minutes} minutes and was still settling. The bands include that; read again at "
        f"{RUNNING_MINUTES:.0f} minutes to narrow them.",
        "ra3_running_time",
        variant="early",
        unmet=_ASKS_TO_RUN,
        condition=_RUN_LONGER,
    ),
    NoticeRow(
        "still_settling",
        "reservation",
        "The unit had run {minutes} minutes and had nearly settled. The bands allow for the rest.",
        "ra3_running_time",
        variant="late",
        unmet=_ASKS_TO_RUN,
        condition=_RUN_LONGER,
    ),
    NoticeRow(
        "gauge_not_zeroed",
        "disqualifying",
        'The instrument "{instrument}" did not read zero when open to the air. Zero it and read again. '
        f"{_CHARGE_NOT_APPLIED}",
        "instrument_class",
        _OF_THE_CYCLE,
        settle="Zero the gauges open to the air, then read the pressures again.",
    ),
    NoticeRow(
        "scatter_of_repeats",
        "reservation",
        "The {count} repeats of {reading} have a standard deviation of {scatter}, far more than the instrument's "
        "repeatability of {stated}. The reading was not steady. Their mean was used, and its band includes the "
        "scatter. Let the unit settle, then read again.",
        "scatter_of_repeats",
    ),
    NoticeRow(
        "nothing_derived",
        "disqualifying",
        "Nothing could be derived from these readings. The answer lists what to read next.",
        "definition",
    ),
    NoticeRow(
        "readings_not_used",
        "note",
        "Nothing was derived from {readings}, because another reading or a rating is missing.",
        "definition",
    ),
    # The balances' own account of it is in service/words/assessment.py.
    NoticeRow("readings_disagree", "reservation", "{account}", "energy_balance", variant="widened"),
    NoticeRow("readings_disagree", "disqualifying", "{account}", "energy_balance", ("performance",), "not_explained"),
    # ---------------------------------------------------------------- weather and target tables
    NoticeRow(
        "outdoor_air_too_cold",
        "disqualifying",
        f"{_TOO_COLD} {_CHARGE_NOT_APPLIED}",
        "ra3_outdoor_limit",
        ("charge", "refrigerant"),
        "mode_given",
    ),
    NoticeRow(
        "outdoor_air_too_cold",
        "disqualifying",
        f"{_TOO_COLD} {_SET_HEATING} {_CHARGE_NOT_APPLIED}",
        "ra3_outdoor_limit",
        ("charge", "refrigerant"),
        "mode_assumed",
    ),
    NoticeRow(
        "outdoor_air_very_hot",
        "reservation",
        "Outdoor air is {outdoor}; the target tables end at {highest}.",
        "ra3_target_superheat",
    ),
    NoticeRow(
        "test_range_not_shown",
        "reservation",
        "Outdoor air is not given, so it may be too cold to judge the charge (below {lowest}).",
        "ra3_outdoor_limit",
    ),
    NoticeRow(
        "return_air_too_cold",
        "reservation",
        f"{_COOL_HOUSE} {_TABLES_NOT_APPLIED}",
        "ra3_return_minimum",
        ("airflow",),
        "mode_given",
    ),
    NoticeRow(
        "return_air_too_cold",
        "reservation",
        f"{_COOL_HOUSE} {_SET_HEATING} {_TABLES_NOT_APPLIED}",
        "ra3_return_minimum",
        ("airflow",),
        "mode_assumed",
    ),
    NoticeRow(
        "no_superheat_target",
        "reservation",
        f"Under these conditions the target superheat is too small to test (a dash in the table). {_WEIGH_IN}",
        "ra3_target_superheat",
        variant="dash",
    ),
    NoticeRow(
        "no_superheat_target",
        "reservation",
        f"These conditions are outside the table of target superheat. {_WEIGH_IN}",
        "ra3_target_superheat",
        variant="outside",
    ),
    # ---------------------------------------------------------------- the kind of unit
    NoticeRow(
        "stage_not_known",
        "reservation",
        f"{UNSETTLED['two_stage'].reason} {_UNSETTLED} {UNSETTLED['two_stage'].remedy}",
        # A valve holds superheat within its usual range in either stage.
        UNSETTLED["two_stage"].source,
        ("airflow",),
    ),
    NoticeRow(
        "variable_speed",
        "reservation",
        f"{UNSETTLED['variable_speed'].reason} {_UNSETTLED} {UNSETTLED['variable_speed'].remedy}",
        UNSETTLED["variable_speed"].source,
        ("airflow", "charge"),
    ),
    NoticeRow(
        "stage_not_known.heating",
        "reservation",
        f"{UNSETTLED['two_stage'].reason} {_UNSETTLED_HEATING} {UNSETTLED['two_stage'].remedy}",
        UNSETTLED["two_stage"].source,
        ("airflow",),
    ),
    NoticeRow(
        "variable_speed.heating",
        "reservation",
        f"{UNSETTLED['variable_speed'].reason} {_UNSETTLED_HEATING} {UNSETTLED['variable_speed'].remedy}",
        UNSETTLED["variable_speed"].source,
        ("airflow", "charge"),
    ),
    NoticeRow(
        "outdoor_air_warm_for_heating",
        "disqualifying",
        "The outdoor air reads {outdoor}, too warm for heating. Was the sensor in the sun, or was another number "
        "meant? Shade it and read again. Refrigerant, capacity and efficiency limits were not applied.",
        "plausible_windows",
        ("performance", "efficiency", "refrigerant"),
        settle="Shade the outdoor sensor, read it again, and check which mode ran.",
    ),
    NoticeRow(
        "auxiliary_heat_over_air",
        "disqualifying",
        "The auxiliary heat stated ({power}) is more than the air gained. Its power, the airflow or an air "
        "temperature is wrong. Capacity and efficiency limits were not applied.",
        "definition",
        ("performance", "efficiency"),
    ),
    *(NoticeRow(name, "note", f"{row.reason} {row.remedy}", row.source) for name, row in PARTLY_SETTLED.items()),
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
        "cooling. Subcooling depends on the unit: makers' tables show 12 to 36 °F for healthy ones. With the unit's "
        "own performance table it can be graded.",
        "heating_subcooling",
    ),
    NoticeRow(
        "defrosting",
        "disqualifying",
        "The unit was defrosting, so it ran in cooling with the outdoor fan off. Read again "
        f"{DEFROST_SETTLED_MINUTES:.0f} minutes after the defrost ends. Charge, refrigerant, airflow and capacity "
        "limits were not applied.",
        "defrost_recovery",
        ("charge", "refrigerant", "floodback", "performance", "airflow"),
    ),
    NoticeRow(
        "frost_on_coil",
        "reservation",
        "Frost or ice covers the outdoor coil, so pressures and capacity are those of a blocked coil. Let it "
        f"defrost, wait {DEFROST_SETTLED_MINUTES:.0f} minutes, and read again. If it does not clear, check the defrost "
        "control, the outdoor fan and the reversing valve. Charge, refrigerant and capacity limits were not applied.",
        "frost_practice",
        ("charge", "refrigerant", "floodback", "performance"),
    ),
    NoticeRow(
        "defrost_just_ended",
        "disqualifying",
        f"A defrost ended {{minutes}} minutes before the readings, and the first {DEFROST_MINUTES:.0f} minutes after "
        f"it count as defrost. Read again {DEFROST_SETTLED_MINUTES:.0f} minutes after a defrost ends. Charge, "
        "refrigerant, airflow and capacity limits were not applied.",
        "defrost_recovery",
        (*_OF_CHARGE, "performance", "airflow"),
    ),
    NoticeRow(
        "soon_after_defrost",
        "reservation",
        "A defrost ended only {minutes} minutes before the readings. Readings need "
        f"{DEFROST_SETTLED_MINUTES:.0f} minutes to become steady.",
        "defrost_settling",
    ),
    NoticeRow(
        "defrost_not_stated",
        "reservation",
        "Outdoor air is {outdoor}, cold enough for a heat pump to defrost. Give the minutes since the last defrost: "
        f"readings within {DEFROST_MINUTES:.0f} minutes of one are not usable.",
        "defrost_recovery",
    ),
    NoticeRow(
        "frost_forms",
        "note",
        "The evaporating temperature of {evaporating} is below freezing and below the dew point of the outdoor air "
        "({dew_point}), so frost builds up on the outdoor coil while you read. Read soon after the unit has settled "
        "from a defrost.",
        "frost_practice",
    ),
    *(
        NoticeRow(
            "auxiliary_heat_on",
            "reservation",
            f"Auxiliary heat was on. {effect} Switch it off, wait until supply air is steady, and read again. "
            "Capacity and efficiency limits were not applied.",
            "auxiliary_heat_practice",
            ("performance", "efficiency"),
            variant,
        )
        for variant, effect in (
            ("subtracted", "Its heat was subtracted, which leaves the heat pump's capacity uncertain."),
            (
                "refrigerant_side",
                "Its power is not known, so the heat pump's capacity comes from the refrigerant side alone.",
            ),
            (
                "not_derived",
                "Its power is not known, so neither capacity nor efficiency of the heat pump was derived.",
            ),
        )
    ),
    *(
        NoticeRow(
            "more_heat_than_possible",
            "disqualifying",
            "The air gains {ratio} times as much heat as the unit draws in power, more than any heat pump delivers at "
            f"these temperatures. {cause} No efficiency was derived. Capacity and efficiency limits were not applied.",
            "heating_efficiency_limit",
            ("performance", "efficiency"),
            variant,
        )
        for variant, cause in (
            ("auxiliary_heat_on", "The power of the auxiliary heat, the airflow or an air temperature is wrong."),
            (
                "not_stated",
                "Auxiliary heat was probably on. Report it, give its power, or switch it off and read again. Otherwise "
                "the airflow, the power or an air temperature is wrong.",
            ),
        )
    ),
    NoticeRow(
        "indoor_unit_power_too_large",
        "disqualifying",
        "The indoor unit draws {power}, far more than a blower needs. The meter probably includes the auxiliary "
        "heat (strips). Give the blower's power alone, and that of the strips as auxiliary heat. "
        "Capacity and efficiency limits were not applied.",
        "auxiliary_heat_practice",
        ("performance", "efficiency"),
    ),
    NoticeRow(
        "vapour_line_as_suction_line",
        "disqualifying",
        "The suction line reads {line}. In heating the large line at the outdoor unit is the hot vapour line. Give "
        "this reading as the vapour line temperature, and clamp the suction line between the reversing valve and the "
        f"compressor. {_CHARGE_NOT_APPLIED}",
        "signs_of_mode",
        _OF_CHARGE,
        settle="Clamp the suction line between the reversing valve and the compressor, then read it again.",
    ),
    NoticeRow(
        "suction_gauge_on_vapour_line",
        "disqualifying",
        "The suction pressure corresponds to a saturation temperature of {saturation}, above the return air. In "
        "heating the port of the large line carries hot gas. Give this reading as the discharge pressure, and read the "
        f"suction pressure at the common suction port. {_CHARGE_NOT_APPLIED}",
        "signs_of_mode",
        _OF_CHARGE,
        settle="Read the suction pressure at the common suction port, and give the other as the discharge pressure.",
    ),
    NoticeRow(
        "discharge_superheat_in_cold",
        "note",
        "Below {limit} outdoors, a maker's table shows less discharge superheat than usual for a correct charge. "
        "The limit against flooding was not applied.",
        "cold_discharge",
        ("heating_flooding",),
    ),
    NoticeRow(
        "performance_table_not_used",
        "note",
        "The performance table was not used, at least in part: {gap}. Values usual for such units were used instead.",
        "performance_table",
    ),
    NoticeRow(
        "metering_device_not_given",
        "note",
        "The metering device is not given, but the limit for the charge depends on it.",
        "ra3_superheat_tolerance",
    ),
    # ---------------------------------------------------------------- altitude
    NoticeRow(
        "sea_level_assumed",
        "note",
        "No altitude was given, so sea level was assumed.",
        "standard_atmosphere",
    ),
    NoticeRow(
        "sea_level_assumed",
        "note",
        "No altitude was given, so sea level was assumed. At {altitude} the suction saturation temperature would be "
        "{difference} lower.",
        "standard_atmosphere",
        variant="with_effect",
    ),
    NoticeRow(
        "altitude_and_barometer_disagree",
        "reservation",
        "The barometer reads {barometer}, but at the altitude given the air pressure is about {expected}. Was the "
        "barometer reading corrected to sea level? It was used as given.",
        "standard_atmosphere",
    ),
    NoticeRow(
        "dial_scale_at_altitude",
        "reservation",
        "A temperature scale printed on a gauge is correct at sea level; at this altitude it reads high. Give the "
        "pressure, or use an instrument that corrects for air pressure.",
        "standard_atmosphere",
    ),
    NoticeRow(
        "split_target_at_altitude",
        "note",
        "The target temperature split is for air of sea-level density; in thinner air a healthy split is larger. "
        "Airflow limits were not applied.",
        "split_at_altitude",
        ("airflow",),
    ),
    # ---------------------------------------------------------------- air
    NoticeRow(
        "dry_coil",
        "note",
        "With a return wet bulb below {lowest}, the coil removes no moisture, so capacity follows the dry bulb "
        "instead of the wet bulb. Capacity was corrected to the rating conditions on that basis.",
        "dry_coil",
    ),
    NoticeRow(
        "humidity_given_twice",
        "note",
        "Both wet bulb and relative humidity were given for the {side} air. The wet bulb was used.",
        "definition",
    ),
    NoticeRow(
        "humidity_very_low",
        "reservation",
        "The relative humidity of the {side} air is {humidity}. Was it given as a fraction instead of a percentage?",
        "plausible_windows",
        variant="read",
    ),
    NoticeRow(
        "humidity_very_low",
        "reservation",
        "The {side} wet bulb of {bulb} means a relative humidity of {humidity}, drier than in any house. Check both "
        "readings.",
        "plausible_windows",
        variant="from_wet_bulb",
    ),
    NoticeRow(
        "wet_bulb_too_low",
        "reservation",
        "The {side} wet bulb of {bulb} is slightly below that of perfectly dry air at this dry bulb, but within "
        "the instruments' error. Check both readings. No humidity, enthalpy or capacity was derived from them.",
        "ashrae_psychrometrics",
    ),
    NoticeRow(
        "wet_bulb_and_humidity_disagree",
        "reservation",
        "The {side} wet bulb means a relative humidity of {derived}, but {read} was read. One of the two is wrong.",
        "ashrae_psychrometrics",
    ),
    NoticeRow(
        "wet_bulb_over_dry_bulb",
        "reservation",
        "The {side} wet bulb reads above the dry bulb, but within the instruments' error. The readings were used "
        "as given, slightly above saturation.",
        "ashrae_psychrometrics",
    ),
    NoticeRow(
        "return_static_pressure_positive",
        "disqualifying",
        "Return static pressure is given as positive, but a blower pulls the return below room pressure. Enter it "
        "as a negative value. Static pressure limits were not applied.",
        "definition",
        ("static_pressure",),
    ),
    # ---------------------------------------------------------------- what comes before charge
    NoticeRow(
        "nearly_empty_suspected",
        "reservation",
        "The evaporating temperature is {evaporating}, with {signs}. Together these show that most of the charge "
        "is gone, or that the refrigerant flow is blocked. Stop the compressor: so little returning gas cannot "
        "cool it. Find the leak or the blockage before you add any refrigerant. Only then suspect a gauge, a hose "
        "or the stated refrigerant.",
        "nearly_empty",
        # A starved coil freezes for that reason, not for lack of air.
        ("freezing",),
    ),
    NoticeRow(
        "heat_not_rejected",
        "reservation",
        "The condensing temperature is {over} above outdoor air, far more than any unit needs. " + _HEAT_FIRST,
        "high_pressure_cut_out",
        ("charge",),
        "hot",
    ),
    NoticeRow(
        "heat_not_rejected",
        "reservation",
        "The high side is at {pressure}, near the pressure at which high-pressure switches open. " + _HEAT_FIRST,
        "high_pressure_cut_out",
        ("charge",),
        "near_cut_out",
    ),
    NoticeRow(
        "not_pumping_suspected",
        "disqualifying",
        "The high side reads below the suction side (ratio {ratio}): the gauges are swapped, or the compressor is "
        f"off, stalled or not pumping. {_DO_NOT_ADD}",
        "plausible_windows",
        _OF_THE_CYCLE,
        "wrong_way_round",
    ),
    NoticeRow(
        "not_pumping_suspected",
        "disqualifying",
        "The pressures hardly differ (ratio {ratio}): the compressor is off, stalled or not pumping. " + _DO_NOT_ADD,
        "plausible_windows",
        _OF_THE_CYCLE,
        "hardly_any_lift",
    ),
    # ---------------------------------------------------------------- motors and supply
    NoticeRow(
        "no_current",
        "reservation",
        f"The {{reading}} reads {{current}}. The motor is not running, {_WRONG_WIRE}.",
        "safety_practice",
    ),
    NoticeRow(
        "unit_is_off",
        "reservation",
        "The compressor draws no current either, so the unit is off. Read again while it runs.",
        "motor_running",
        ("motors", "charge"),
    ),
    NoticeRow(
        "motor_not_running",
        "reservation",
        f"The {{motor}} draws no current: it is not running, {_WRONG_WIRE}. {_SETTLE_FIRST}",
        "motor_running",
        ("charge",),
    ),
    NoticeRow(
        "motor_not_running",
        "reservation",
        f"The outdoor fan and the indoor blower draw no current: they are not running, {_WRONG_WIRE}. {_SETTLE_FIRST}",
        "motor_running",
        ("charge",),
        "both",
    ),
    NoticeRow(
        "currents_of_one_wire_suspected",
        "reservation",
        "The common current and the start-winding current are the same ({common} and {start}). Was one wire read "
        f"twice? The common wire carries more than the start winding. {_NOT_GRADED}",
        "motor_currents",
        ("compressor_current", "compressor_capacitor"),
    ),
    NoticeRow(
        "currents_exchanged_suspected",
        "reservation",
        "The start-winding current ({start}) is larger than the common current ({common}), which is impossible for a "
        f"running compressor. Were the two exchanged? {_NOT_GRADED}",
        "motor_currents",
        ("compressor_current", "compressor_capacitor"),
    ),
    NoticeRow(
        "clamp_on_wrong_wire_suspected",
        "reservation",
        f"{_LITTLE_CURRENT} Check that it is not on the start winding's wire, which carries the capacitor's current. "
        f"{_PUMPS_LITTLE}",
        "loaded_current",
        ("compressor_current",),
        "one_phase",
    ),
    NoticeRow(
        "clamp_on_wrong_wire_suspected",
        "reservation",
        f"{_LITTLE_CURRENT} Check that it is not on the wire of a fan or of the controls. {_PUMPS_LITTLE}",
        "loaded_current",
        ("compressor_current",),
        "three_phases",
    ),
    NoticeRow(
        "start_winding_current_is_not_the_draw",
        "note",
        "The current in the start-winding wire is the capacitor's current, not the compressor's draw. No "
        "compressor power or load was computed from it. Measure the common wire for that.",
        "circuit_theory",
    ),
    NoticeRow(
        "capacitor_voltage_like_line",
        "reservation",
        "The voltage across the {motor} run capacitor ({across}) equals the line voltage ({line}), although it is "
        "usually well above that. Was it read across the line? The limit for the {motor} capacitor was not "
        "applied.",
        "capacitor_voltage_practice",
    ),
    NoticeRow(
        "capacitor_tolerance_assumed",
        "note",
        "No tolerance is given for the {motor} capacitor, so the usual marking of "
        f"±{CAPACITOR_TOLERANCE:g} % was assumed.",
        "capacitor_marking",
    ),
    NoticeRow(
        "dual_voltage_plate_presumed",
        "reservation",
        "The nameplate voltage is given as {higher} V, but the line voltage matches a {lower} V supply, "
        f"{_DUAL} Read the nameplate again. If it says {{higher}} V only, set its lowest voltage to {{alone}} V.",
        "dual_voltage",
        variant="by_line_voltage",
    ),
    NoticeRow(
        "dual_voltage_plate_presumed",
        "note",
        "The nameplate voltage is given as {higher} V on a nominal supply of {supply} V, "
        f"{_DUAL} If the nameplate gives another range, state its lowest voltage.",
        "dual_voltage",
        variant="by_supply",
    ),
    # ---------------------------------------------------------------- mode and probes
    NoticeRow(
        "heating_suspected",
        "disqualifying",
        f"These readings look like heating: {{signs}}. The field unit.mode is cooling. {_SET_MODE}",
        "signs_of_mode",
        (*_OF_THE_CYCLE, "airflow"),
        "mode_given",
        settle=_STATE_MODE,
    ),
    NoticeRow(
        "heating_suspected",
        "disqualifying",
        "These readings look like heating: {signs}. The field unit.mode is not given, so cooling was assumed. "
        f"{_SET_MODE}",
        "signs_of_mode",
        (*_OF_THE_CYCLE, "airflow"),
        "mode_assumed",
        settle=_STATE_MODE,
    ),
    NoticeRow(
        "cooling_suspected",
        "disqualifying",
        "These readings look like cooling: {signs}. The field unit.mode is heating. Set it to cooling if the unit was "
        "cooling. Limits for heating were not applied.",
        "signs_of_mode",
        (*_OF_THE_CYCLE, "airflow"),
        settle=_STATE_MODE,
    ),
    NoticeRow(
        "air_probes_swapped_suspected",
        "disqualifying",
        "Were the supply and return probes swapped? Supply air ({supply}) is warmer than return air ({indoor}), and "
        "the two would make sense the other way round. If the probes were not swapped, the unit is not cooling. "
        f"{_AIR_NOT_APPLIED}",
        "signs_of_mode",
        ("airflow", "performance"),
        "in_cooling",
        settle=_SWAP_PROBES,
    ),
    NoticeRow(
        "air_probes_swapped_suspected",
        "disqualifying",
        "Were the supply and return probes swapped? Supply air ({supply}) is colder than return air ({indoor}), and "
        "the two would make sense the other way round. If the probes were not swapped, the unit is not heating, or is "
        f"defrosting. {_AIR_NOT_APPLIED}",
        "signs_of_mode",
        ("airflow", "performance"),
        "in_heating",
        settle=_SWAP_PROBES,
    ),
    # ---------------------------------------------------------------- clamps, refrigerant, units
    NoticeRow(
        "line_clamps_swapped_suspected",
        "disqualifying",
        "The suction line reads hotter than the liquid line, and the two readings would make sense if swapped. "
        "Check the clamps. Charge limits were not applied.",
        "plausible_windows",
        ("charge", "floodback"),
        settle="Check which clamp is on which line (the large, cold one is the suction line), then read both again.",
    ),
    NoticeRow(
        "wrong_refrigerant_suspected",
        "reservation",
        f"{_UNUSUAL} If it is {{stated}}, most of the charge is gone. {_SETTLES}",
        "plausible_windows",
        variant="or_charge_lost",
    ),
    NoticeRow(
        "wrong_refrigerant_suspected",
        "reservation",
        f"{_UNUSUAL} If it is {{stated}}, the unit is badly overloaded. {_SETTLES}",
        "plausible_windows",
        variant="or_overloaded",
    ),
    NoticeRow(
        "wrong_refrigerant_suspected",
        "disqualifying",
        "The pressures do not fit {stated} ({outside} of {count} derived values are implausible), but they "
        f"would fit {{others}}. Check the nameplate and the gauge setting. {_CHARGE_NOT_APPLIED}",
        "plausible_windows",
        _OF_THE_CYCLE,
        "implausible",
        settle="Read the refrigerant off the nameplate, and check the gauge setting. Then read the pressures again.",
    ),
    NoticeRow(
        "not_credible",
        "disqualifying",
        f"{_NOT_CREDIBLE} {_CHARGE_NOT_APPLIED}",
        "plausible_windows",
        _OF_THE_CYCLE,
        settle="Check the pressures and temperatures, their units and the refrigerant, then read again.",
    ),
    NoticeRow(
        "not_credible",
        "disqualifying",
        f"{_NOT_CREDIBLE} {_PRESSURES} {_CHARGE_NOT_APPLIED}",
        "plausible_windows",
        _OF_THE_CYCLE,
        "unit_of_pressures",
        settle=_GIVE_UNITS,
    ),
    NoticeRow(
        "not_credible",
        "disqualifying",
        f"{_NOT_CREDIBLE} {_LINES} {_CHARGE_NOT_APPLIED}",
        "plausible_windows",
        _OF_THE_CYCLE,
        "unit_of_lines",
        settle=_GIVE_UNITS,
    ),
    NoticeRow(
        "unit_slip_suspected",
        "disqualifying",
        f"{_ANOTHER_UNIT} {_PRESSURES} {_GIVE_UNIT}",
        "plausible_windows",
        _OF_THE_CYCLE,
        "unit_of_pressures",
        settle=_GIVE_UNITS,
    ),
    NoticeRow(
        "unit_slip_suspected",
        "disqualifying",
        f"{_ANOTHER_UNIT} {_LINES} {_GIVE_UNIT}",
        "plausible_windows",
        _OF_THE_CYCLE,
        "unit_of_lines",
        settle=_GIVE_UNITS,
    ),
    # ---------------------------------------------------------------- a pressure and its saturation temperature
    NoticeRow(
        "saturation_given_twice",
        "note",
        f"{_READ_TWICE} They agree. {_PRESSURE_USED}",
        "ra3_saturation_reread",
    ),
    *(
        NoticeRow(
            "pressure_and_saturation_disagree",
            "reservation",
            f"{_APART} {cause} {_PRESSURE_USED}",
            "ra3_saturation_reread",
            variant=variant,
        )
        for variant, cause in (
            ("is_absolute", "They agree if the pressure is absolute, not gauge. State which it is."),
            ("is_gauge", "They agree if the pressure is gauge, not absolute. State which it is."),
            ("at_altitude", "A scale printed on a gauge is correct at sea level only."),
            ("in_another_unit", "They agree if the pressure is in {meant}, not in {taken}."),
            ("on_another_scale", "They agree on the scale of {others}. Is the refrigerant {stated}?"),
            (
                "not_explained",
                "Check the altitude, check that the scale is for this refrigerant, and read both values again.",
            ),
        )
    ),
    NoticeRow(
        "performance_table_used",
        "note",
        "The maker's performance table was used under these conditions for {columns}, in place of the usual values for "
        "such units.",
        "performance_table",
    ),
    NoticeRow(
        "speed_over_any",
        "reservation",
        "The speed is given as {speed} % of the rated speed, more than units reach. Does the display show a frequency "
        "or another number? The speed was treated as not known.",
        "practice",
    ),
    # ---------------------------------------------------------------- what a log shows
    NoticeRow(
        "log_without_running",
        "disqualifying",
        "The log never shows the unit running, so none of its readings was used. Log again while it runs.",
        "log_practice",
    ),
    NoticeRow(
        "log_settled_early",
        "note",
        "The log shows steady readings after {minutes} minutes. The published procedure asks for "
        f"{RUNNING_MINUTES:.0f}.",
        "log_practice",
    ),
    NoticeRow(
        "log_not_settled",
        "reservation",
        "At the end of the log {readings} had not clearly settled. The settled values were extrapolated, and the bands "
        "allow for the error of that. Let the unit run longer to narrow them.",
        "log_practice",
    ),
    NoticeRow(
        "log_not_steady",
        "reservation",
        "At the end of the log {readings} still changed by more than a steady reading does. The values are for its "
        "last minutes. Find out whether the load or the weather changed, or let the unit run longer.",
        "log_practice",
    ),
    NoticeRow(
        "log_stuck",
        "reservation",
        "{reading} repeated one value for {length} ({part}) while other readings moved. That part was not used. Check "
        "the sensor and its battery.",
        "log_practice",
    ),
    NoticeRow("log_dropout", "note", "{reading} has no value for {length} ({part}).", "log_practice"),
    NoticeRow(
        "log_unit_jump",
        "reservation",
        "{reading} changes at {part} as if its unit had been switched. Which unit is right is not known, so the "
        "reading was not used. Log it in one unit throughout.",
        "log_practice",
    ),
    NoticeRow(
        "log_clock_jump",
        "note",
        "The times of the log jump by {length} ({part}). Nothing was assumed about the time between, so only one side "
        "was used.",
        "log_practice",
    ),
    NoticeRow(
        "log_readings_swapped",
        "reservation",
        "{reading} swap values from {part} on, as if two probes had changed places. Which is which is not "
        "known, so neither was used. Check both probes and log again.",
        "log_practice",
    ),
    NoticeRow(
        "log_jump",
        "reservation",
        "{reading} jumps at {part}, and nothing else in the log explains it. Which side is right is not known, so the "
        "reading was not used. Check the probe and log again.",
        "log_practice",
    ),
    NoticeRow(
        "log_probe_moved",
        "note",
        "The probe of {reading} was not in place {part}. That part was not used.",
        "log_practice",
    ),
    NoticeRow(
        "log_changed",
        "note",
        "{events} The longest stretch of steady running was used; the rest was left out.",
        "log_practice",
    ),
    NoticeRow(
        "short_cycling",
        "reservation",
        "The log shows the unit stopping after only {length}. Such short runs hardly settle and wear the compressor. "
        "Check the thermostat, the safety controls, the airflow and the size of the unit.",
        "short_cycle",
    ),
    NoticeRow(
        "superheat_hunts",
        "note",
        "Superheat swings by {size} either way every {period}: the metering device hunts. The value is the middle of "
        "the swing. Before you suspect the valve, check the contact and insulation of its bulb, the charge and the "
        "load.",
        "hunting_valve",
    ),
    # ---------------------------------------------------------------- readings that were left out
    NoticeRow(
        "temperatures_in_another_unit",
        "disqualifying",
        "The temperatures make no sense in {taken}, but would make sense in {meant}: {readings}. They were not used. "
        "Give the unit with each value. Limits that need them were not applied.",
        "credible_readings",
        (*_OF_THE_CYCLE, "airflow", "performance"),
        "several",
        settle=_GIVE_UNITS,
    ),
    NoticeRow(
        "temperatures_in_another_unit",
        "reservation",
        "The {reading} of {value} makes no sense next to the other readings, but would make sense in {meant}. It was "
        "not used. Give its unit with the value.",
        "credible_readings",
        variant="one",
        settle="Read the {reading} again, and give it with its unit.",
    ),
    NoticeRow(
        "reading_not_possible",
        "reservation",
        "The {reading} of {value} cannot be right {on}: it would be {bounds}. {cause}The reading was not used. Check "
        "the number, its unit and the instrument.",
        "credible_readings",
        settle="Read the {reading} again, and check the unit that the instrument shows.",
    ),
    NoticeRow(
        "performance_table_disputed",
        "disqualifying",
        "The maker's performance table contradicts the rating under its conditions: {items}. Is the table of this "
        "outdoor unit with this indoor coil, and are its units right? The table was not used. Capacity and efficiency "
        "limits were not applied.",
        "performance_table",
        ("performance", "efficiency"),
        settle="Compare the model numbers of the outdoor unit and the indoor coil with the table and with the rating.",
    ),
    NoticeRow(
        "value_not_possible",
        "reservation",
        "{quantity} comes out as {value}, {side} {bound}, which is impossible: {why}. Check the {behind}, "
        "and whether the unit had settled. Limits on it were not applied.",
        "credible_readings",
    ),
    NoticeRow(
        "little_subcooling",
        "note",
        "Subcooling is {value}. With so little, the liquid line may carry vapour, which no thermometer shows: the "
        "refrigerant side then overstates capacity, and a change from or to such a state may be larger than its band "
        "says. Airflow with both wet bulbs shows the capacity.",
        "little_subcooling",
    ),
)

NOTICES: Mapping[str, NoticeRow] = MappingProxyType({row.name: row for row in _ROWS})

_WRONG_TEMPERATURES = ("condensing_under_outdoor_air", "liquid_line_over_saturation", "not_credible")

#: Codes of notices that only repeat what a weightier one, by its code, has already explained.
EXPLAINS: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "nearly_empty_suspected": frozenset({*_WRONG_TEMPERATURES, "wrong_refrigerant_suspected"}),
        "motor_not_running": frozenset({"no_current"}),
        "log_without_running": frozenset({"nothing_derived"}),
        # What was left out was given, and its absence is no reason of its own.
        "temperatures_in_another_unit": frozenset(
            {"nothing_derived", "test_range_not_shown", "unit_slip_suspected", "readings_not_used"}
        ),
        "reading_not_possible": frozenset({"nothing_derived", "readings_not_used"}),
        "unit_is_off": frozenset({"no_current"}),
        "line_clamps_swapped_suspected": frozenset(
            {
                "liquid_line_under_outdoor_air",
                "suction_line_under_saturation",
                "liquid_line_over_saturation",
                "not_credible",
            }
        ),
        # Advice for cooling (warm the house, come back in summer) misleads where the unit was heating.
        "heating_suspected": frozenset(
            {
                "outdoor_air_too_cold",
                "return_air_too_cold",
                "supply_over_return",
                "supply_air_moister",
                "evaporating_over_return_air",
                "supply_air_under_evaporating",
                "condenser_leaving_air_under_outdoor",
                "not_credible",
                "no_pressure_lift",
                "no_superheat_target",
                "suction_line_under_saturation",
                "line_clamps_swapped_suspected",
                "liquid_line_warms_on_its_way",
                "nearly_empty_suspected",
                "dry_coil",
            }
        ),
        "vapour_line_as_suction_line": frozenset({"line_clamps_swapped_suspected", "not_credible"}),
        "suction_gauge_on_vapour_line": frozenset(
            {
                "not_pumping_suspected",
                "no_pressure_lift",
                "evaporating_over_outdoor_air",
                "suction_line_under_saturation",
                "not_credible",
            }
        ),
        "defrosting": frozenset(
            {"supply_under_return_in_heating", "evaporating_over_outdoor_air", "condensing_under_return_air"}
        ),
        "cooling_suspected": frozenset(
            {
                "outdoor_air_warm_for_heating",
                "supply_under_return_in_heating",
                "evaporating_over_outdoor_air",
                "condensing_under_return_air",
            }
        ),
        "air_probes_swapped_suspected": frozenset(
            {
                "supply_over_return",
                "supply_under_return_in_heating",
                "return_air_too_cold",
                "supply_air_moister",
                "no_superheat_target",
            }
        ),
        "not_pumping_suspected": frozenset(
            {
                *_WRONG_TEMPERATURES,
                "evaporating_over_return_air",
                "suction_line_under_saturation",
                "discharge_under_condensing",
                "evaporating_over_outdoor_air",
                "condensing_under_return_air",
            }
        ),
    }
)

#: Doubts about the readings that one entry settles, by the notice's code up to its point: it is the first thing to add.
SETTLED_BY: Mapping[str, str] = MappingProxyType(
    {
        "defrost_not_stated": "run.minutes_since_defrost",
        "more_heat_than_possible": "run.auxiliary_heat_on",
        "stage_not_known": "run.stage",
        "variable_speed": "run.speed_percent",
        "metering_device_not_given": "unit.metering_device",
    }
)
