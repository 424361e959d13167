"""Checks of a heating run: defrost and frost, auxiliary heat, gauges and clamps on the hot line.

Signs that the unit was cooling are with the other mistakes (:mod:`service.assess.mistaken`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from service.assess.notices import Case, Notice, fixed
from service.intake.paths import READING
from service.reference.conditions import (
    AIR_CHANGED,
    BLOWER_ALONE,
    COLD_DISCHARGE,
    DEFROST_MINUTES,
    DEFROST_SETTLED_MINUTES,
    FREEZING,
    FROST_WEATHER,
    HOT_SUPPLY,
    NO_AUXILIARY,
    NO_CURRENT,
)

#: Limits that mean nothing while the coil is frosted or the cycle is reversed.
_OF_THE_RUN = ("charge", "refrigerant", "floodback", "performance")


def _is_heating(case: Case) -> bool:
    return case.request.unit.mode == "heating"


def _defrost(case: Case) -> Iterator[Notice]:
    """During a defrost, within five minutes after it, and until the unit has settled."""
    run = case.request.run
    minutes = run.minutes_since_defrost
    outdoor = case.visit.nominal("outdoor_air_dry_bulb")
    if run.defrosting:
        yield fixed("defrosting", ("defrosting",))
    elif minutes is not None and minutes < DEFROST_MINUTES:
        yield Notice(
            "defrost_just_ended",
            "disqualifying",
            ("minutes_since_defrost",),
            f"A defrost ended {minutes:g} minutes before the readings, and the first {DEFROST_MINUTES:.0f} minutes "
            f"after it count as defrost. Read again {DEFROST_SETTLED_MINUTES:.0f} minutes after a defrost. Charge, "
            "refrigerant, airflow and capacity limits were not applied.",
            "defrost_recovery",
            (*_OF_THE_RUN, "airflow"),
        )
    elif minutes is not None and minutes < DEFROST_SETTLED_MINUTES:
        yield Notice(
            "soon_after_defrost",
            "reservation",
            ("minutes_since_defrost",),
            f"A defrost ended only {minutes:g} minutes before the readings. From "
            f"{DEFROST_SETTLED_MINUTES:.0f} minutes after it, readings are steady.",
            "defrost_settling",
        )
    elif minutes is None and run.defrosting is None and outdoor is not None and outdoor < FROST_WEATHER:
        yield Notice(
            "defrost_not_stated",
            "reservation",
            ("outdoor_air_dry_bulb",),
            f"Outdoor air is {case.say('temperature', outdoor)}, in which heat pumps defrost. Give the minutes since "
            f"the last defrost: readings within {DEFROST_MINUTES:.0f} minutes of one are "
            "not usable.",
            "defrost_recovery",
        )


def _frost(case: Case) -> Iterator[Notice]:
    if case.request.run.frost_on_outdoor_coil:
        yield fixed("frost_on_coil", ("frost_on_outdoor_coil",))
        return
    evaporating, dew = (case.derived.get(name) for name in ("evaporating_temperature", "outdoor_air_dew_point"))
    if case.request.run.frost_on_outdoor_coil is False or evaporating is None or dew is None:
        return
    if evaporating[0] < FREEZING and case.is_below("evaporating_temperature", "outdoor_air_dew_point"):
        yield Notice(
            "frost_forms",
            "note",
            ("outdoor_air_wet_bulb",),
            f"The outdoor coil evaporates at {case.say('temperature', float(evaporating[0]))}, below freezing and "
            f"below the dew point of the outdoor air ({case.say('temperature', float(dew[0]))}), so frost builds up "
            "on it while you read. Read soon after the unit has settled from a defrost.",
            "frost_practice",
        )


def auxiliary_heat_shown(case: Case) -> bool:
    """Whether auxiliary heat is stated or read to be on."""
    power, amps = (case.visit.nominal(f"auxiliary_heat_{part}") for part in ("power", "current"))
    return (
        bool(case.request.run.auxiliary_heat_on)
        or (power is not None and power > NO_AUXILIARY)
        or (amps is not None and amps > NO_CURRENT)
    )


def _auxiliary_heat(case: Case) -> Iterator[Notice]:
    """On, or shown by more heat than a heat pump makes of its power."""
    on = auxiliary_heat_shown(case)
    readings = tuple(name for name in case.visit.readings if name.startswith("auxiliary_heat"))
    if on:
        if "auxiliary_heat_power" in case.derived:
            left = "What it adds was subtracted, which leaves the heat pump's capacity uncertain. "
        elif "heating_capacity" in case.derived:
            left = "Its power is not known, so the heat pump's capacity comes from the refrigerant side alone. "
        else:
            left = "Its power is not known, so neither capacity nor efficiency of the heat pump was derived. "
        yield Notice(
            "auxiliary_heat_on",
            "reservation",
            readings,
            f"Auxiliary heat was on. {left}"
            "Switch it off, wait until supply air is steady, and read again. Limits on capacity and efficiency "
            "were not applied.",
            "auxiliary_heat_practice",
            ("performance", "efficiency"),
        )
    efficiency, heat, power = (
        case.derived.get(name) for name in ("heating_cop", "delivered_heating_capacity", "total_power")
    )
    if efficiency is None or heat is None or power is None or not np.isnan(efficiency[0]) or not power[0] > 0.0:
        return
    if heat[0] > 0.0:
        cause = (
            "The power of the auxiliary heat, the airflow or an air temperature is wrong."
            if on
            else "Auxiliary heat was probably on: say so, give its power, or switch it off "
            "and read again. Otherwise the airflow, the power or an air temperature is wrong."
        )
        yield Notice(
            "more_heat_than_possible",
            "disqualifying",
            ("supply_air_dry_bulb", "return_air_dry_bulb"),
            f"The air gains {float(heat[0] / power[0]):.1f} times the power of the unit, more than any heat pump "
            f"delivers at these temperatures. {cause} No efficiency was derived, and limits on capacity and "
            "efficiency were not applied.",
            "heating_efficiency_limit",
            ("performance", "efficiency"),
        )


def _blower_meter(case: Case) -> Iterator[Notice]:
    """An indoor unit whose meter sees the strips too."""
    power, flow = case.visit.nominal("indoor_unit_power"), case.derived.get("airflow")
    if power is None or flow is None or not power > BLOWER_ALONE * flow[0]:
        return
    yield Notice(
        "indoor_unit_power_too_large",
        "disqualifying",
        ("indoor_unit_power",),
        f"The indoor unit draws {case.say('power', power)}, far more than a blower needs. The meter probably sees the "
        "auxiliary heat too: give the blower alone, and the strips as auxiliary heat. Limits on capacity and "
        "efficiency were not applied.",
        "auxiliary_heat_practice",
        ("performance", "efficiency"),
    )


def clamp_on_hot_line(case: Case) -> bool:
    """Whether the suction line of a heating run is as hot as the vapour line."""
    line = case.visit.nominal("suction_line_temperature")
    return _is_heating(case) and line is not None and line >= HOT_SUPPLY


def gauge_on_hot_line(case: Case) -> bool:
    """Whether the suction pressure of a heating run means saturation above the air of the room."""
    saturation, back = case.derived.get("suction_saturation_temperature"), case.visit.nominal("return_air_dry_bulb")
    if not _is_heating(case) or saturation is None or back is None:
        return False
    return bool(saturation[0] > back + AIR_CHANGED[0])


def _hot_line_as_suction(case: Case) -> Iterator[Notice]:
    """The commonest mistake in heating: the large line is taken for the suction line."""
    if clamp_on_hot_line(case):
        line = case.visit.readings["suction_line_temperature"]
        yield Notice(
            "vapour_line_as_suction_line",
            "disqualifying",
            ("suction_line_temperature",),
            f"The suction line reads {case.say('temperature', line)}. In heating the large line at the outdoor unit "
            "is the hot vapour line: give it as vapour line, and clamp the suction line between the reversing valve "
            "and the compressor. Charge and refrigerant limits were not applied.",
            "signs_of_mode",
            ("charge", "refrigerant", "floodback"),
        )
    if gauge_on_hot_line(case):
        saturation = float(case.derived["suction_saturation_temperature"][0])
        yield Notice(
            "suction_gauge_on_vapour_line",
            "disqualifying",
            tuple(n for n in ("suction_pressure", "suction_saturation_temperature") if n in case.visit.readings),
            f"The suction pressure means a saturation temperature of {case.say('temperature', saturation)}, above the "
            "return air. In heating the port of the large line carries hot gas: give it as discharge pressure, and "
            "read the suction pressure at the common suction port. Charge and refrigerant limits were not applied.",
            "signs_of_mode",
            ("charge", "refrigerant", "floodback"),
        )


def _cold_discharge(case: Case) -> Iterator[Notice]:
    outdoor = case.visit.nominal("outdoor_air_dry_bulb")
    if outdoor is None or outdoor >= COLD_DISCHARGE or "discharge_superheat" not in case.derived:
        return
    yield Notice(
        "discharge_superheat_in_cold",
        "note",
        ("discharge_line_temperature",),
        f"Below {case.say('temperature', COLD_DISCHARGE)} outdoors a maker's table prints less discharge superheat for "
        "a correct charge than is usual elsewhere. The limit against flooding was not applied.",
        "cold_discharge",
        ("heating_flooding",),
    )


def _table(case: Case) -> Iterator[Notice]:
    gap = case.visit.table_gap
    if gap is not None:
        yield Notice(
            "performance_table_not_used",
            "note",
            (),
            f"The performance table was not used, at least in part: {gap}. What is usual for such units was used "
            "in its place.",
            "performance_table",
        )


def _of_heating(case: Case) -> Iterator[Notice]:
    if not _is_heating(case):
        return
    for one in (_defrost, _frost, _auxiliary_heat, _blower_meter, _hot_line_as_suction, _cold_discharge):
        yield from one(case)


def signs_in_cooling(case: Case) -> Iterator[str]:
    """Signs, in readings and statements that belong to heating, that a run given as cooling was one."""
    nominal, run = case.visit.nominal, case.request.run
    vapour, outdoor = nominal("vapour_line_temperature"), nominal("outdoor_air_dry_bulb")
    leaving = nominal("outdoor_coil_leaving_air_dry_bulb")
    if vapour is not None and vapour >= HOT_SUPPLY:
        yield f"the large line, at {case.say('temperature', vapour)}, carries hot gas"
    if leaving is not None and outdoor is not None and outdoor - leaving > AIR_CHANGED[0] / 2.0:
        yield (
            f"air leaves the outdoor unit {case.say('temperature_difference', outdoor - leaving)} colder than it enters"
        )
    if run.defrosting or run.minutes_since_defrost is not None:
        yield "a defrost is stated"
    if auxiliary_heat_shown(case):
        yield "auxiliary heat was on"


def signs_in_heating(case: Case) -> Iterator[str]:
    """Signs at the outdoor unit that a run given as heating was cooling, and not defrosting."""
    nominal = case.visit.nominal
    outdoor = nominal("outdoor_air_dry_bulb")
    leaving = nominal("outdoor_coil_leaving_air_dry_bulb")
    leaving = nominal("condenser_leaving_air_dry_bulb") if leaving is None else leaving
    if leaving is not None and outdoor is not None and leaving - outdoor > AIR_CHANGED[0] / 2.0:
        yield (
            f"air leaves the outdoor unit {case.say('temperature_difference', leaving - outdoor)} warmer than it enters"
        )
    vapour, liquid = nominal("vapour_line_temperature"), nominal("liquid_line_temperature")
    if vapour is not None and liquid is not None and vapour < liquid - AIR_CHANGED[0]:
        yield f"the large line, at {case.say('temperature', vapour)}, is colder than the liquid line"


def doubted(case: Case) -> frozenset[str]:
    """Readings (as paths) and quantities that are those of the hot line."""
    found: set[str] = set()
    if clamp_on_hot_line(case):
        found |= {"superheat", READING + "suction_line_temperature"}
    if gauge_on_hot_line(case):
        found |= {
            "superheat",
            "suction_pressure_absolute",
            "suction_saturation_temperature",
            "evaporating_temperature",
            "compression_ratio",
        }
    return frozenset(found)


CHECKS = (_of_heating, _table)

#: Notices that only repeat what one of these has already explained.
EXPLAINS: Mapping[str, frozenset[str]] = {
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
}
