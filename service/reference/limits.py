"""Limits: the one place to touch for a new one.  Values in SI; each names its source.

A bound is a number, or a nameplate path times a factor.  The group of a limit tells which usability
failures stop it from being applied; ``unstopped`` limits stand whatever the pressures say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from service.reference.capacity_control import FIXED_CAPACITY
from service.reference.conditions import (
    CFM_PER_TON,
    FAR_OVER_AMBIENT,
    FREEZING,
    HIGH_CUT_OUT,
    LOWEST_EVAPORATING,
    NEAR_CUT_OUT,
    NO_CURRENT,
)

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

    Without a rating any bound from ``either`` to ``wide`` may be the unit's own: a value between the two
    is decided neither way.
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
    controls: tuple[str, ...] = ()
    below: str = ""
    above: str = ""
    measure_again_below: bool = False
    aspect: str = ""
    #: Said in place of ``above`` where there are three phases.
    above_three_phase: str = ""
    #: Whether a value beyond it is to be watched, not acted on.
    watch: bool = False

    def advice(self, *, low_side: bool, phases: int) -> str:
        """What to do about a value beyond the limit, on this side of it."""
        if low_side:
            return self.below
        return (phases == 3 and self.above_three_phase) or self.above


_VALVES = ("thermostatic_expansion_valve", "electronic_expansion_valve")
_FIXED = ("fixed_orifice", "capillary_tube")
_COOLING = ("cooling",)

#: Share of a rating [1] that a unit in the field should reach: 5 % lost is what this service counts as
#: worth a word, and 5 % more (two standard deviations) is how far units of one rating differ.
_FIELD_SHARE = 0.90

_CAPACITOR_BELOW = (
    "A weak capacitor starves the start winding; replace it with the rated value, power off and "
    "capacitor discharged."
)
_CAPACITOR_ABOVE = "A value above the marking suggests a wrong part or a wrong reading; check both."

_CAPACITOR_GROUPS: Mapping[str, Group] = {
    "compressor": "compressor_capacitor",
    "outdoor_fan": "outdoor_fan_capacitor",
    "indoor_blower": "indoor_blower_capacitor",
}

_ROWS = (
    LimitRow(
        "outdoor_fan_running", "outdoor_fan_current", NO_CURRENT, None, "common_practice",
        "motor_running", "motors", concern="safety", modes=_COOLING,
        below="The outdoor fan does not run: switch the unit off before pressure and compressor suffer, and "
        "look at the fan's capacitor, contactor, wiring and motor. It comes before charge.",
    ),
    LimitRow(
        "indoor_blower_running", "indoor_blower_current", NO_CURRENT, None, "common_practice",
        "motor_running", "motors", concern="damage",
        below="The indoor blower does not run: switch the unit off before the coil ices over or pressure "
        "rises, and look at its capacitor, control, wiring and motor. It comes before charge.",
    ),
    LimitRow(
        "high_pressure_cut_out", "high_side_pressure_absolute", None, OfSaturation(HIGH_CUT_OUT),
        "common_practice", "high_pressure_cut_out", "pressures", concern="safety", modes=_COOLING,
        aspect="high-pressure cut-out",
        above="High-pressure switches open here: switch the unit off, and look at the outdoor fan, its coil "
        "and its air first; then for overcharge and gas that does not condense.",
    ),
    LimitRow(
        "high_pressure_near_cut_out", "high_side_pressure_absolute", None, OfSaturation(NEAR_CUT_OUT),
        "common_practice", "high_pressure_cut_out", "pressures", concern="damage", modes=_COOLING,
        aspect="near the high-pressure cut-out",
        above="Close to where high-pressure switches open: look at the outdoor fan, its coil and its air "
        "before charge.",
    ),
    LimitRow(
        "evaporating_temperature_lowest", "evaporating_temperature", LOWEST_EVAPORATING, None,
        "common_practice", "low_pressure_cut_out", "pressures", concern="safety", modes=_COOLING,
        aspect="near the low-pressure cut-out",
        below="Comfort cooling never runs so cold, and low-pressure switches open not far below: stop the "
        "compressor. Nearly all the charge may be gone, the flow shut off, or no air reach the coil.",
    ),
    LimitRow(
        "evaporating_temperature_freezing", "evaporating_temperature", FREEZING, None,
        "common_practice", "coil_freezing", "freezing", concern="damage", modes=_COOLING,
        aspect="freezing coil",
        below="The coil freezes over: look at filter, blower and coil first, then at charge and metering "
        "device; thaw ice before reading again.",
    ),
    LimitRow(
        "discharge_superheat_flooding", "discharge_superheat", 20 * DEGF, None, "common_practice",
        "flooding", "refrigerant", concern="damage", modes=_COOLING,
        below="Gas this cool carries liquid through the compressor: check airflow, metering device and "
        "charge before it runs on, and that the clamp touches.",
    ),
    LimitRow(
        "isentropic_efficiency_usual", "compressor_isentropic_efficiency", 0.45, None,
        "common_practice", "isentropic_usual", "refrigerant", modes=_COOLING,
        below="The gas leaves far hotter than compression explains: worn or leaking valves, a bypass, or "
        "suction gas that is warmed on its way. Check the two line temperatures first.",
    ),
    LimitRow(
        "superheat_target_fixed", "superheat_deviation", -5 * DEGF, 5 * DEGF,
        "published_procedure", "ra3_superheat_tolerance", "charge", modes=_COOLING, devices=_FIXED,
        controls=FIXED_CAPACITY,
        below="Superheat under target points to overcharge or too little indoor airflow; settle "
        "airflow first.",
        above="Superheat over target points to undercharge, a restriction, or too much heat load; "
        "settle airflow first.",
    ),
    LimitRow(
        "superheat_valve", "superheat", 4 * DEGF, 25 * DEGF,
        "published_procedure", "ra3_superheat_range", "charge", modes=_COOLING, devices=_VALVES,
        below="The valve may be overfeeding, its bulb loose, or the airflow low; liquid may reach "
        "the compressor.",
        above="The valve may be starved: low charge, a restriction, or a stuck valve.",
    ),
    LimitRow(
        "superheat_floodback", "superheat", 3 * DEGF, None, "common_practice", "floodback",
        "floodback", concern="damage", modes=_COOLING, aspect="floodback",
        below="Liquid may be coming back to the compressor. Check airflow, coil, metering device and "
        "charge before it runs on.",
    ),
    LimitRow(
        "subcooling_nameplate", "subcooling_deviation", -3 * DEGF, 3 * DEGF,
        "published_procedure", "ra3_subcooling_tolerance", "charge", modes=_COOLING,
        devices=_VALVES, controls=FIXED_CAPACITY,
        below="Subcooling under target points to low charge; settle airflow and coils first.",
        above="Subcooling over target points to overcharge, a wrong refrigerant setting, a "
        "restriction, or non-condensable gas.",
    ),
    LimitRow(
        "temperature_split_target", "temperature_split_deviation", -3 * DEGF, 3 * DEGF,
        "published_procedure", "ra3_split_tolerance", "airflow", modes=_COOLING,
        controls=FIXED_CAPACITY, measure_again_below=True,
        below="A split under target points to high airflow or lost capacity; read again before "
        "acting.",
        above="A split over target points to low airflow: filter, coil, blower or ducts.",
    ),
    LimitRow(
        "condensing_over_ambient_usual", "condensing_temperature_over_ambient", 5 * DEGF,
        OfEfficiency(30 * DEGF, 20 * DEGF, 25 * DEGF, FAR_OVER_AMBIENT),
        "common_practice", "condensing_over_ambient", "refrigerant", modes=_COOLING,
        below="Unusually low: too little liquid is left, the compressor does not pump, or the outdoor "
        "sensor or the pressure is wrong.",
        above="The condenser rejects heat poorly: dirty coil, weak fan, overcharge, "
        "wrong refrigerant setting or non-condensable gas. Packaged and wall-mounted units run warmer.",
    ),
    LimitRow(
        "compression_ratio_usual", "compression_ratio", None, 4.0, "common_practice",
        "compression_ratio", "refrigerant", modes=_COOLING,
        above="A high ratio heats the compressor and costs capacity.",
    ),
    LimitRow(
        "discharge_temperature_highest", "discharge_temperature", None, (225 - 32) * DEGF + 273.15,
        "common_practice", "discharge_limit", "unstopped", concern="safety",
        above="Oil breaks down when the discharge runs hotter; find the cause before running on.",
    ),
    *(
        LimitRow(
            f"{motor}_run_capacitor_marking", f"{motor}_run_capacitance",
            OfNameplate(f"unit.nameplate.capacitors.{motor}.lowest"),
            OfNameplate(f"unit.nameplate.capacitors.{motor}.highest"),
            "nameplate", "capacitor_marking", _CAPACITOR_GROUPS[motor],
            phases=(1,) if motor == "compressor" else (),
            below=_CAPACITOR_BELOW, above=_CAPACITOR_ABOVE,
        )
        for motor in ("compressor", "outdoor_fan", "indoor_blower")
    ),
    LimitRow(
        "return_air_temperature_rise_usual", "return_air_temperature_rise", None, 3.0 * DEGF,
        "common_practice", "return_leak_practice", "unstopped", modes=_COOLING,
        above="The return duct takes up heat or draws in other air on its way; look at its joints in "
        "the attic or crawl space.",
    ),
    LimitRow(
        "supply_voltage_motor", "supply_voltage",
        OfNameplate("unit.nameplate.lowest_voltage"), OfNameplate("unit.nameplate.highest_voltage"),
        "standard", "mg1_voltage",
        "electrical", concern="safety",
        below="Motors overheat on low voltage; find where it is lost, or call the utility.",
        above="Motors overheat on high voltage; call the utility.",
    ),
    LimitRow(
        "supply_voltage_utilization", "supply_voltage_share_of_nominal", 0.90, 1.05, "standard",
        "ansi_c84_utilization_a", "electrical",
        below="Under the ordinary range of the supply system; check connections and wire size.",
        above="Over the ordinary range of the supply system; call the utility.",
    ),
    LimitRow(
        "voltage_imbalance_rated", "voltage_imbalance", None, 0.01, "standard", "nema_unbalance",
        "electrical", phases=(3,), aspect="full motor rating", watch=True,
        above="Over 1 % motors lose part of their rating: watch it, and read it again under load.",
    ),
    LimitRow(
        "voltage_imbalance_correct", "voltage_imbalance", None, 0.02, "common_practice",
        "voltage_imbalance_practice", "electrical", concern="damage", phases=(3,),
        above="Motors heat up and lose part of their rating; find the uneven phase or connection.",
    ),
    LimitRow(
        "voltage_imbalance_stop", "voltage_imbalance", None, 0.05, "standard",
        "nema_unbalance_stop", "electrical", concern="safety", phases=(3,), aspect="limit of operation",
        above="Switch the motors off until the supply is put right. Voltages far apart mean a lost "
        "phase: a blown fuse, a burnt contact or an open connection.",
    ),
    LimitRow(
        "current_imbalance_usual", "current_imbalance", None, 0.10, "common_practice",
        "current_imbalance", "electrical", phases=(3,),
        above="Check the supply, then the motor's windings and connections.",
    ),
    LimitRow(
        "current_imbalance_lost_phase", "current_imbalance", None, 0.50, "common_practice",
        "lost_phase", "electrical", concern="safety", phases=(3,), aspect="lost phase",
        above="Switch off now: the motor runs on two of its three phases (single-phasing) and burns "
        "out within minutes. With power off and locked out, look for a blown fuse, a burnt contactor "
        "pole, an open connection or an open winding. If the clamp missed a wire, read all three again.",
    ),
    LimitRow(
        "compressor_current_rating", "compressor_current_share", None, 1.0, "common_practice",
        "rated_load_amps", "compressor_current", concern="damage",
        above="Over its rating: high condensing pressure, low voltage, a weak capacitor or a worn "
        "compressor.",
        above_three_phase="Over its rating: high condensing pressure, low or uneven voltage, a lost "
        "phase or a worn compressor.",
    ),
    LimitRow(
        "compressor_current_stalled", "compressor_current_share", None, 2.5, "common_practice",
        "locked_rotor", "compressor_current", concern="safety", aspect="stalled motor",
        above="The compressor is stalled: switch it off now, then check capacitor, supply and "
        "compressor.",
        above_three_phase="The compressor is stalled: switch it off now, then check all three phases "
        "of the supply, the contactor and the compressor.",
    ),
    LimitRow(
        "outdoor_fan_current_rating", "outdoor_fan_current_share", None, 1.0, "nameplate",
        "nameplate", "outdoor_fan_load",
        above="Over its rating: wrong blade, worn bearings, or a weak capacitor.",
        above_three_phase="Over its rating: wrong blade or worn bearings; a weak capacitor if the fan's "
        "motor is single-phase, uneven voltage if it is not.",
    ),
    LimitRow(
        "indoor_blower_current_rating", "indoor_blower_current_share", None, 1.0, "nameplate",
        "nameplate", "indoor_blower_load",
        above="Over its rating: check wheel, bearings and capacitor.",
        above_three_phase="Over its rating: check wheel and bearings; the capacitor if the blower's "
        "motor is single-phase, all three phases if it is not.",
    ),
    LimitRow(
        "external_static_pressure_rating", "total_external_static_pressure", None,
        OfNameplate("unit.nameplate.maximum_external_static_pressure"), "nameplate", "nameplate",
        "static_pressure",
        above="The blower works against too much: filter, coil, grilles or ducts.",
    ),
    LimitRow(
        "filter_share_usual", "filter_share_of_static_pressure", None, 0.20, "common_practice",
        "static_pressure_shares", "static_pressure",
        above="The filter takes a large part of the static pressure: dirty, too small or too fine.",
    ),
    LimitRow(
        "coil_share_usual", "coil_share_of_static_pressure", None, 0.40, "common_practice",
        "static_pressure_shares", "static_pressure",
        above="The coil takes a large part of the static pressure: dirty, or too small for the flow.",
    ),
    LimitRow(
        "airflow_for_charge_test", "airflow_for_rated_capacity", 300.0 * CFM_PER_TON, None,
        "published_procedure", "airflow_gate", "performance", modes=_COOLING, controls=FIXED_CAPACITY,
        aspect="for a charge test",
        below="Too little air for a valid charge test: settle filter, coil, blower and ducts first.",
    ),
    LimitRow(
        "airflow_usual", "airflow_for_rated_capacity", 350.0 * CFM_PER_TON, 450.0 * CFM_PER_TON,
        "common_practice", "nominal_airflow", "performance", modes=_COOLING, controls=FIXED_CAPACITY,
        below="Less air than usual: filter, coil, blower speed or ducts.",
        above="More air than usual: moisture removal suffers; check the blower speed.",
    ),
    LimitRow(
        "cooling_capacity_rating", "cooling_capacity_share_of_rating", _FIELD_SHARE, None,
        "common_practice", "field_share_of_rating", "performance", modes=_COOLING,
        controls=FIXED_CAPACITY,
        below="Less than units in the field reach of their rating. That alone shows no fault: longer lines and "
        "a higher static pressure than the rating's take some of it.",
    ),
    LimitRow(
        "eer_rating", "eer_share_of_rating", _FIELD_SHARE, None, "common_practice",
        "field_share_of_rating", "efficiency", modes=_COOLING, controls=FIXED_CAPACITY,
        below="Less than units in the field reach of their rating. That alone shows no fault: longer lines and "
        "a higher static pressure than the rating's take some of it.",
    ),
)  # fmt: skip

LIMITS: Mapping[str, LimitRow] = MappingProxyType({row.id: row for row in _ROWS})
