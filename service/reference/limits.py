"""Limits: the one place to touch for a new one.  Values in SI; each names its source.

A bound is a number, or a nameplate path times a factor.  The group of a limit says which usability
failures stop it from being applied; ``unstopped`` limits apply whatever the pressures say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from service.reference.capacity_control import FIXED_CAPACITY, RATED_RUNNING, TARGET_RUNNING, Running
from service.reference.conditions import (
    CFM_PER_TON,
    FAR_OVER_AMBIENT,
    FREEZING,
    HIGH_CUT_OUT,
    LOWEST_EVAPORATING,
    NEAR_CUT_OUT,
    NO_CURRENT,
)
from service.reference.metering_devices import EXPANSION_VALVES, FIXED_DEVICES

DEGF = 5.0 / 9.0

Basis = Literal["published_procedure", "standard", "nameplate", "common_practice"]
Group = Literal[
    "charge",
    "airflow",
    "static_pressure",
    "performance",
    "efficiency",
    "electrical",
    "compressor_current",
    "compressor_capacitor",
    "outdoor_fan_capacitor",
    "indoor_blower_capacitor",
    "refrigerant",
    "floodback",
    "heating_flooding",
    "freezing",
    "pressures",
    "motors",
    "outdoor_fan_load",
    "indoor_blower_load",
    "unstopped",
]
Concern = Literal["safety", "damage", "performance"]


@dataclass(frozen=True, slots=True)
class OfNameplate:
    """A bound that the request's nameplate sets."""

    path: str
    factor: float = 1.0


@dataclass(frozen=True, slots=True)
class OfEfficiency:
    """A bound that follows the unit's rated efficiency, whichever rating is given.

    Without a rating any bound from ``either`` to ``wide`` may be the unit's own, so a value between the two
    stays undecided.
    """

    usual: float
    high: float
    either: float
    wide: float


@dataclass(frozen=True, slots=True)
class OfSaturation:
    """A bound on an absolute pressure: the refrigerant's bubble pressure at a temperature [K]."""

    temperature: float


Bound = float | OfNameplate | OfEfficiency | OfSaturation | None


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit on one quantity."""

    id: str
    quantity: str
    lower: Bound
    upper: Bound
    basis: Basis
    source: str
    group: Group
    concern: Concern = "performance"
    modes: tuple[str, ...] = ("cooling", "heating")
    devices: tuple[str, ...] = ()
    phases: tuple[int, ...] = ()
    running: tuple[Running, ...] = ()
    below: str = ""
    above: str = ""
    measure_again_below: bool = False
    aspect: str = ""
    #: Replaces ``above`` where there are three phases.
    above_three_phase: str = ""
    #: Whether to watch a value beyond it rather than act on it.
    watch: bool = False

    def advice(self, *, low_side: bool, phases: int) -> str:
        """What to do about a value beyond the limit, on this side of it."""
        if low_side:
            return self.below
        return (phases == 3 and self.above_three_phase) or self.above


_COOLING = ("cooling",)
_HEATING = ("heating",)

#: Share of a rating [1] that a unit in the field should reach: this service reports a loss of 5 %, and units
#: of one rating differ by another 5 % (two standard deviations).
_FIELD_SHARE = 0.90

_CAPACITOR_BELOW = (
    "A weak capacitor starves the start winding. Turn the power off, discharge the capacitor, and replace it "
    "with one of the rated value."
)
_CAPACITOR_ABOVE = "A value above the marking suggests a wrong part or a wrong reading. Check both."

_CAPACITOR_GROUPS: Mapping[str, Group] = {
    "compressor": "compressor_capacitor",
    "outdoor_fan": "outdoor_fan_capacitor",
    "indoor_blower": "indoor_blower_capacitor",
}

_ROWS = (
    LimitRow(
        "outdoor_fan_running",
        "outdoor_fan_current",
        NO_CURRENT,
        None,
        "common_practice",
        "motor_running",
        "motors",
        concern="safety",
        modes=_COOLING,
        below="The outdoor fan is not running. Switch the unit off before the pressure damages the compressor. "
        "Check the fan's capacitor, contactor, wiring and motor before the charge.",
    ),
    LimitRow(
        "indoor_blower_running",
        "indoor_blower_current",
        NO_CURRENT,
        None,
        "common_practice",
        "motor_running",
        "motors",
        concern="damage",
        below="The indoor blower is not running. Switch the unit off before the coil ices over or the pressure "
        "rises. Check the blower's capacitor, control, wiring and motor before the charge.",
    ),
    LimitRow(
        "high_pressure_cut_out",
        "high_side_pressure_absolute",
        None,
        OfSaturation(HIGH_CUT_OUT),
        "common_practice",
        "high_pressure_cut_out",
        "pressures",
        concern="safety",
        modes=_COOLING,
        aspect="high-pressure cut-out",
        above="High-pressure switches open at this pressure. Switch the unit off. Check the outdoor fan, coil "
        "and airflow first, then look for an overcharge or non-condensable gas.",
    ),
    LimitRow(
        "high_pressure_near_cut_out",
        "high_side_pressure_absolute",
        None,
        OfSaturation(NEAR_CUT_OUT),
        "common_practice",
        "high_pressure_cut_out",
        "pressures",
        concern="damage",
        modes=_COOLING,
        aspect="near the high-pressure cut-out",
        above="High-pressure switches open not far above this. Check the outdoor fan, coil and airflow before "
        "the charge.",
    ),
    LimitRow(
        "high_pressure_cut_out_heating",
        "high_side_pressure_absolute",
        None,
        OfSaturation(HIGH_CUT_OUT),
        "common_practice",
        "high_pressure_cut_out_heating",
        "pressures",
        concern="safety",
        modes=_HEATING,
        aspect="high-pressure cut-out",
        above="High-pressure switches open at this pressure. Switch the unit off. Check the filter, the blower and the "
        "airflow over the indoor coil first, then look for an overcharge or non-condensable gas.",
    ),
    LimitRow(
        "high_pressure_near_cut_out_heating",
        "high_side_pressure_absolute",
        None,
        OfSaturation(NEAR_CUT_OUT),
        "common_practice",
        "high_pressure_cut_out_heating",
        "pressures",
        concern="damage",
        modes=_HEATING,
        aspect="near the high-pressure cut-out",
        above="High-pressure switches open not far above this. Check the filter, the blower and the airflow over the "
        "indoor coil before the charge.",
    ),
    LimitRow(
        "evaporating_temperature_lowest",
        "evaporating_temperature",
        LOWEST_EVAPORATING,
        None,
        "common_practice",
        "low_pressure_cut_out",
        "pressures",
        concern="safety",
        modes=_COOLING,
        aspect="near the low-pressure cut-out",
        below="Comfort cooling never runs this cold, and low-pressure switches open not far below. Stop the "
        "compressor. Nearly all the charge may be gone, the refrigerant flow blocked, or the coil without air.",
    ),
    LimitRow(
        "evaporating_temperature_freezing",
        "evaporating_temperature",
        FREEZING,
        None,
        "common_practice",
        "coil_freezing",
        "freezing",
        concern="damage",
        modes=_COOLING,
        aspect="freezing coil",
        below="The coil is likely to freeze. Check the filter, blower and coil first, then the charge and the "
        "metering device. Thaw any ice before you read again.",
    ),
    LimitRow(
        "discharge_superheat_flooding",
        "discharge_superheat",
        20 * DEGF,
        None,
        "common_practice",
        "flooding",
        "refrigerant",
        concern="damage",
        modes=_COOLING,
        below="Discharge gas this cool means that liquid is passing through the compressor. Make sure the clamp "
        "has good contact, then check airflow, metering device and charge before it runs any longer.",
    ),
    LimitRow(
        "discharge_superheat_flooding_heating",
        "discharge_superheat",
        20 * DEGF,
        None,
        "common_practice",
        "flooding",
        "heating_flooding",
        concern="damage",
        modes=_HEATING,
        below="Discharge gas this cool means that liquid is passing through the compressor. Make sure the clamp "
        "has good contact, then check the outdoor coil for frost and airflow, the metering device and the charge "
        "before the unit runs any longer.",
    ),
    LimitRow(
        "isentropic_efficiency_usual",
        "compressor_isentropic_efficiency",
        0.45,
        None,
        "common_practice",
        "isentropic_usual",
        "refrigerant",
        modes=_COOLING,
        below="The discharge gas is far hotter than compression explains. Check the two line temperatures "
        "first. Then suspect worn or leaking valves, a bypass, or suction gas that picks up heat on its way.",
    ),
    LimitRow(
        "superheat_target_fixed",
        "superheat_deviation",
        -5 * DEGF,
        5 * DEGF,
        "published_procedure",
        "ra3_superheat_tolerance",
        "charge",
        modes=_COOLING,
        devices=FIXED_DEVICES,
        running=FIXED_CAPACITY,
        below="Superheat below target suggests an overcharge or low indoor airflow. Check airflow first.",
        above="Superheat above target suggests an undercharge, a restriction, or a high heat load. Check "
        "airflow first.",
    ),
    LimitRow(
        "superheat_valve",
        "superheat",
        4 * DEGF,
        25 * DEGF,
        "published_procedure",
        "ra3_superheat_range",
        "charge",
        modes=_COOLING,
        devices=EXPANSION_VALVES,
        below="The valve may be overfeeding, its bulb may be loose, or the airflow may be low. Liquid may "
        "reach the compressor.",
        above="The coil is starved: suspect a low charge, a restriction, or a stuck valve.",
    ),
    LimitRow(
        "superheat_floodback",
        "superheat",
        3 * DEGF,
        None,
        "common_practice",
        "floodback",
        "floodback",
        concern="damage",
        modes=_COOLING,
        aspect="floodback",
        below="Liquid may be returning to the compressor. Check airflow, coil, metering device and charge "
        "before it runs any longer.",
    ),
    LimitRow(
        "subcooling_nameplate",
        "subcooling_deviation",
        -3 * DEGF,
        3 * DEGF,
        "published_procedure",
        "ra3_subcooling_tolerance",
        "charge",
        modes=_COOLING,
        devices=EXPANSION_VALVES,
        running=TARGET_RUNNING,
        below="Subcooling below target suggests a low charge. Check airflow and coils first.",
        above="Subcooling above target suggests an overcharge, a wrong refrigerant setting, a "
        "restriction, or non-condensable gas.",
    ),
    LimitRow(
        "temperature_split_target",
        "temperature_split_deviation",
        -3 * DEGF,
        3 * DEGF,
        "published_procedure",
        "ra3_split_tolerance",
        "airflow",
        modes=_COOLING,
        running=FIXED_CAPACITY,
        measure_again_below=True,
        below="A split below target suggests high airflow or lost capacity. Read again before you act.",
        above="A split above target suggests low airflow. Check the filter, coil, blower and ducts.",
    ),
    LimitRow(
        "condensing_over_ambient_usual",
        "condensing_temperature_over_ambient",
        5 * DEGF,
        OfEfficiency(30 * DEGF, 20 * DEGF, 25 * DEGF, FAR_OVER_AMBIENT),
        "common_practice",
        "condensing_over_ambient",
        "refrigerant",
        modes=_COOLING,
        below="This is unusually low. The unit may be very low on refrigerant, the compressor may not be "
        "pumping, or the outdoor sensor or the pressure may be wrong.",
        above="The outdoor coil is not getting rid of enough heat. Suspect a dirty coil, a weak fan, an "
        "overcharge, a wrong refrigerant setting, or non-condensable gas. Packaged and wall-mounted units run "
        "warmer.",
    ),
    LimitRow(
        "compression_ratio_usual",
        "compression_ratio",
        None,
        4.0,
        "common_practice",
        "compression_ratio",
        "refrigerant",
        modes=_COOLING,
        above="A high ratio overheats the compressor and costs capacity.",
    ),
    LimitRow(
        "discharge_temperature_highest",
        "discharge_temperature",
        None,
        (225 - 32) * DEGF + 273.15,
        "common_practice",
        "discharge_limit",
        "unstopped",
        concern="safety",
        above="Oil breaks down at a hotter discharge. Find the cause before the unit runs any longer.",
    ),
    LimitRow(
        "vapour_line_temperature_highest",
        "vapour_line_temperature",
        None,
        (225 - 32) * DEGF + 273.15,
        "common_practice",
        "discharge_limit",
        "unstopped",
        concern="safety",
        modes=_HEATING,
        above="Oil breaks down at discharge temperatures above this, and the discharge line is hotter than this line. "
        "Find the cause before the unit runs any longer.",
    ),
    LimitRow(
        "condensing_over_return_usual",
        "condensing_temperature_over_return_air_at_rated_airflow",
        10 * DEGF,
        50 * DEGF,
        "common_practice",
        "condensing_over_return",
        "refrigerant",
        modes=_HEATING,
        running=FIXED_CAPACITY,
        below="This is unusually low. The unit may be low on refrigerant, the compressor may not be pumping, or the "
        "pressure or the return sensor may be wrong.",
        above="The indoor coil is not getting rid of enough heat. Check the filter, the blower and the coil first, "
        "then look for an overcharge or non-condensable gas.",
    ),
    LimitRow(
        "evaporating_under_outdoor_usual",
        "evaporating_temperature_under_outdoor_air",
        4 * DEGF,
        25 * DEGF,
        "common_practice",
        "evaporating_under_outdoor",
        "refrigerant",
        modes=_HEATING,
        running=FIXED_CAPACITY,
        below="This is unusually low. The compressor may not be pumping, the reversing valve may leak, or the pressure "
        "or the outdoor sensor may be wrong.",
        above="The outdoor coil is not absorbing enough heat. Look for frost, dirt and a weak fan first, then for a "
        "low charge or a restriction.",
    ),
    LimitRow(
        "reversing_valve_rise_usual",
        "reversing_valve_temperature_rise",
        None,
        8 * DEGF,
        "common_practice",
        "reversing_valve_rise",
        "refrigerant",
        modes=_HEATING,
        above="Hot gas may be leaking through the reversing valve into the suction gas. Make sure that both clamps are "
        "insulated and at least 5 in. (13 cm) from the valve's body, then tap or cycle the valve and read again.",
    ),
    LimitRow(
        "liquid_pressure_table",
        "liquid_pressure_departure_from_table",
        -0.02,
        0.02,
        "common_practice",
        "heating_charge_check",
        "charge",
        modes=_HEATING,
        below="High-side pressure below the table suggests a low charge or high indoor airflow. Check airflow, frost "
        "and coils first.",
        above="High-side pressure above the table suggests low indoor airflow, an overcharge or non-condensable gas. "
        "Check airflow first.",
    ),
    LimitRow(
        "discharge_line_table",
        "discharge_line_temperature_departure_from_table",
        -2 * DEGF,
        2 * DEGF,
        "common_practice",
        "heating_charge_check",
        "charge",
        modes=_HEATING,
        below="A discharge line below the table suggests an overcharge, or a clamp without good contact.",
        above="A discharge line above the table suggests a low charge, low indoor airflow or a hot compressor. Check "
        "airflow first.",
    ),
    LimitRow(
        "subcooling_table",
        "subcooling_departure_from_table",
        -3 * DEGF,
        3 * DEGF,
        "common_practice",
        "heating_subcooling",
        "charge",
        modes=_HEATING,
        below="Subcooling below the table suggests a low charge. Check airflow and coils first.",
        above="Subcooling above the table suggests an overcharge, a restriction or non-condensable gas. Check airflow "
        "first.",
    ),
    *(
        LimitRow(
            f"{motor}_run_capacitor_marking",
            f"{motor}_run_capacitance",
            OfNameplate(f"unit.nameplate.capacitors.{motor}.lowest"),
            OfNameplate(f"unit.nameplate.capacitors.{motor}.highest"),
            "nameplate",
            "capacitor_marking",
            _CAPACITOR_GROUPS[motor],
            phases=(1,) if motor == "compressor" else (),
            below=_CAPACITOR_BELOW,
            above=_CAPACITOR_ABOVE,
        )
        for motor in ("compressor", "outdoor_fan", "indoor_blower")
    ),
    LimitRow(
        "return_air_temperature_rise_usual",
        "return_air_temperature_rise",
        None,
        3.0 * DEGF,
        "common_practice",
        "return_leak_practice",
        "unstopped",
        modes=_COOLING,
        above="The return duct picks up heat or draws in other air. Check its joints in the attic or crawl space.",
    ),
    LimitRow(
        "supply_voltage_motor",
        "supply_voltage",
        OfNameplate("unit.nameplate.lowest_voltage"),
        OfNameplate("unit.nameplate.highest_voltage"),
        "standard",
        "mg1_voltage",
        "electrical",
        concern="safety",
        below="Motors overheat on low voltage. Find where the voltage is lost, or call the utility.",
        above="Motors overheat on high voltage. Call the utility.",
    ),
    LimitRow(
        "supply_voltage_utilization",
        "supply_voltage_share_of_nominal",
        0.90,
        1.05,
        "standard",
        "ansi_c84_utilization_a",
        "electrical",
        below="The voltage is below the ordinary range of the supply system. Check connections and wire size.",
        above="The voltage is above the ordinary range of the supply system. Call the utility.",
    ),
    LimitRow(
        "voltage_imbalance_rated",
        "voltage_imbalance",
        None,
        0.01,
        "standard",
        "nema_unbalance",
        "electrical",
        phases=(3,),
        aspect="full motor rating",
        watch=True,
        above="Above 1 %, motors lose part of their rating. Watch it, and read it again under load.",
    ),
    LimitRow(
        "voltage_imbalance_correct",
        "voltage_imbalance",
        None,
        0.02,
        "common_practice",
        "voltage_imbalance_practice",
        "electrical",
        concern="damage",
        phases=(3,),
        above="Motors run hot and lose part of their rating. Find the uneven phase or the bad connection.",
    ),
    LimitRow(
        "voltage_imbalance_stop",
        "voltage_imbalance",
        None,
        0.05,
        "standard",
        "nema_unbalance_stop",
        "electrical",
        concern="safety",
        phases=(3,),
        aspect="limit of operation",
        above="Switch the motors off until the supply is corrected. Voltages far apart suggest a lost phase: a "
        "blown fuse, a burnt contact, or an open connection.",
    ),
    LimitRow(
        "current_imbalance_usual",
        "current_imbalance",
        None,
        0.10,
        "common_practice",
        "current_imbalance",
        "electrical",
        phases=(3,),
        above="Check the supply, then the motor's windings and connections.",
    ),
    LimitRow(
        "current_imbalance_lost_phase",
        "current_imbalance",
        None,
        0.50,
        "common_practice",
        "lost_phase",
        "electrical",
        concern="safety",
        phases=(3,),
        aspect="lost phase",
        above="Switch off now. The motor is running on two of its three phases (single-phasing) and can burn "
        "out within minutes. With power off and locked out, look for a blown fuse, a burnt contactor "
        "pole, an open connection, or an open winding. If the clamp missed a wire, read all three again.",
    ),
    LimitRow(
        "compressor_current_rating",
        "compressor_current_share",
        None,
        1.0,
        "common_practice",
        "rated_load_amps",
        "compressor_current",
        concern="damage",
        above="The compressor draws more than its rated-load amps. Suspect a high condensing pressure, low "
        "voltage, a weak capacitor, or a worn compressor.",
        above_three_phase="The compressor draws more than its rated-load amps. Suspect a high condensing "
        "pressure, low or uneven voltage, a lost phase, or a worn compressor.",
    ),
    LimitRow(
        "compressor_current_stalled",
        "compressor_current_share",
        None,
        2.5,
        "common_practice",
        "locked_rotor",
        "compressor_current",
        concern="safety",
        aspect="stalled motor",
        above="The compressor is stalled. Switch it off now, then check the capacitor, the supply and the compressor.",
        above_three_phase="The compressor is stalled. Switch it off now, then check all three phases "
        "of the supply, the contactor and the compressor.",
    ),
    LimitRow(
        "outdoor_fan_current_rating",
        "outdoor_fan_current_share",
        None,
        1.0,
        "nameplate",
        "nameplate",
        "outdoor_fan_load",
        above="The fan draws more than its rated amps. Suspect a wrong blade, worn bearings, or a weak capacitor.",
        above_three_phase="The fan draws more than its rated amps. Suspect a wrong blade or worn bearings, a "
        "weak capacitor if its motor is single-phase, and uneven voltage if it is not.",
    ),
    LimitRow(
        "indoor_blower_current_rating",
        "indoor_blower_current_share",
        None,
        1.0,
        "nameplate",
        "nameplate",
        "indoor_blower_load",
        above="The blower draws more than its rated amps. Check the wheel, bearings and capacitor.",
        above_three_phase="The blower draws more than its rated amps. Check the wheel and bearings, the "
        "capacitor if its motor is single-phase, and all three phases if it is not.",
    ),
    LimitRow(
        "external_static_pressure_rating",
        "total_external_static_pressure",
        None,
        OfNameplate("unit.nameplate.maximum_external_static_pressure"),
        "nameplate",
        "nameplate",
        "static_pressure",
        above="The blower works against too much resistance. Check the filter, coil, grilles and ducts.",
    ),
    LimitRow(
        "filter_share_usual",
        "filter_share_of_static_pressure",
        None,
        0.20,
        "common_practice",
        "static_pressure_shares",
        "static_pressure",
        above="The filter takes a large part of the static pressure. It may be dirty, too small, or too fine.",
    ),
    LimitRow(
        "coil_share_usual",
        "coil_share_of_static_pressure",
        None,
        0.40,
        "common_practice",
        "static_pressure_shares",
        "static_pressure",
        above="The coil takes a large part of the static pressure. It may be dirty, or too small for the airflow.",
    ),
    LimitRow(
        "airflow_for_charge_test",
        "airflow_for_rated_capacity",
        300.0 * CFM_PER_TON,
        None,
        "published_procedure",
        "airflow_gate",
        "performance",
        modes=_COOLING,
        running=RATED_RUNNING,
        aspect="for a charge test",
        below="The airflow is too low for a valid charge test. Check the filter, coil, blower and ducts first.",
    ),
    LimitRow(
        "airflow_usual",
        "airflow_for_rated_capacity",
        350.0 * CFM_PER_TON,
        450.0 * CFM_PER_TON,
        "common_practice",
        "nominal_airflow",
        "performance",
        modes=_COOLING,
        running=FIXED_CAPACITY,
        below="The airflow is lower than usual. Check the filter, coil, blower speed and ducts.",
        above="The airflow is higher than usual, so the coil removes less moisture. Check the blower speed.",
    ),
    LimitRow(
        "airflow_usual_heating",
        "airflow_for_rated_capacity",
        350.0 * CFM_PER_TON,
        450.0 * CFM_PER_TON,
        "common_practice",
        "heating_airflow",
        "performance",
        modes=_HEATING,
        running=FIXED_CAPACITY,
        below="The airflow is lower than usual, which raises the head pressure in heating. Check the filter, coil, "
        "blower speed and ducts.",
        above="The airflow is higher than usual, so supply air is cooler. Check the blower speed.",
    ),
    LimitRow(
        "heating_capacity_rating",
        "share_of_rated_heating_capacity",
        _FIELD_SHARE,
        None,
        "common_practice",
        "field_share_of_rating",
        "performance",
        modes=_HEATING,
        running=RATED_RUNNING,
        below="Units in the field usually reach more of their rating than this. That alone does not show a fault: "
        "frost, long lines and a high static pressure also reduce it.",
    ),
    LimitRow(
        "cooling_capacity_rating",
        "cooling_capacity_share_of_rating",
        _FIELD_SHARE,
        None,
        "common_practice",
        "field_share_of_rating",
        "performance",
        modes=_COOLING,
        running=RATED_RUNNING,
        below="Units in the field usually reach more of their rating than this. That alone does not show a "
        "fault: long lines and a high static pressure also reduce it.",
    ),
    LimitRow(
        "eer_rating",
        "eer_share_of_rating",
        _FIELD_SHARE,
        None,
        "common_practice",
        "field_share_of_rating",
        "efficiency",
        modes=_COOLING,
        running=RATED_RUNNING,
        below="Units in the field usually reach more of their rating than this. That alone does not show a "
        "fault: long lines and a high static pressure also reduce it.",
    ),
)

LIMITS: Mapping[str, LimitRow] = MappingProxyType({row.id: row for row in _ROWS})
