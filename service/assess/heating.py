"""Checks of a heating run: defrost and frost, auxiliary heat, gauges and clamps on the hot line.

Signs that the unit was cooling are with the other mistakes (:mod:`service.assess.mistaken`).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from service.assess.notices import Case, Notice, item, notice, share
from service.intake.paths import READING, TABLE
from service.intake.performance_table import COLUMNS
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
    SHOWN,
    WARM_FOR_HEATING,
)
from service.words import assessment as words
from service.words.phrases import listed


def _is_heating(case: Case) -> bool:
    return case.request.unit.mode == "heating"


def _defrost(case: Case) -> Iterator[Notice]:
    """During a defrost, within five minutes after it, and until the unit has settled."""
    run = case.request.run
    minutes = run.minutes_since_defrost
    outdoor = case.visit.nominal("outdoor_air_dry_bulb")
    if run.defrosting:
        yield notice("defrosting", ("defrosting",))
    elif minutes is not None and minutes < DEFROST_MINUTES:
        yield notice("defrost_just_ended", ("minutes_since_defrost",), minutes=f"{minutes:g}")
    elif minutes is not None and minutes < DEFROST_SETTLED_MINUTES:
        yield notice("soon_after_defrost", ("minutes_since_defrost",), minutes=f"{minutes:g}")
    elif minutes is None and run.defrosting is None and outdoor is not None and outdoor < FROST_WEATHER:
        yield notice("defrost_not_stated", ("outdoor_air_dry_bulb",), outdoor=case.say("temperature", outdoor))


def _frost(case: Case) -> Iterator[Notice]:
    if case.request.run.frost_on_outdoor_coil:
        yield notice("frost_on_coil", ("frost_on_outdoor_coil",))
        return
    evaporating, dew = (case.derived.get(name) for name in ("evaporating_temperature", "outdoor_air_dew_point"))
    if case.request.run.frost_on_outdoor_coil is False or evaporating is None or dew is None:
        return
    if evaporating[0] < FREEZING and case.is_below("evaporating_temperature", "outdoor_air_dew_point"):
        coil, point = (case.say("temperature", float(draws[0])) for draws in (evaporating, dew))
        yield notice("frost_forms", ("outdoor_air_wet_bulb",), evaporating=coil, dew_point=point)


def auxiliary_heat_shown(case: Case) -> bool:
    """Whether auxiliary heat is on, as stated or read."""
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
            yield notice("auxiliary_heat_on.subtracted", readings)
        elif "heating_capacity" in case.derived:
            yield notice("auxiliary_heat_on.refrigerant_side", readings)
        else:
            yield notice("auxiliary_heat_on.not_derived", readings)
    yield from _more_than_the_air_gained(case)
    efficiency, heat, power = (
        case.derived.get(name) for name in ("heating_cop", "delivered_heating_capacity", "total_power")
    )
    if efficiency is None or heat is None or power is None or not np.isnan(efficiency[0]) or not power[0] > 0.0:
        return
    if heat[0] > 0.0:
        yield notice(
            "more_heat_than_possible.auxiliary_heat_on" if on else "more_heat_than_possible.not_stated",
            ("supply_air_dry_bulb", "return_air_dry_bulb"),
            ratio=f"{float(heat[0] / power[0]):.1f}",
        )


def _more_than_the_air_gained(case: Case) -> Iterator[Notice]:
    """Auxiliary heat that leaves less than nothing for the heat pump."""
    power, capacity = case.derived.get("auxiliary_heat_power"), case.derived.get("heating_capacity_air_side")
    if power is not None and capacity is not None and power[0] > NO_AUXILIARY and share(capacity[1:] < 0.0) > SHOWN:
        yield notice(
            "auxiliary_heat_over_air",
            ("auxiliary_heat_power", "supply_air_dry_bulb"),
            power=case.say("power", float(power[0])),
        )


def _warm_weather(case: Case) -> Iterator[Notice]:
    outdoor = case.visit.nominal("outdoor_air_dry_bulb")
    if outdoor is not None and outdoor > WARM_FOR_HEATING:
        yield notice(
            "outdoor_air_warm_for_heating", ("outdoor_air_dry_bulb",), outdoor=case.say("temperature", outdoor)
        )


def _blower_meter(case: Case) -> Iterator[Notice]:
    """An indoor unit whose meter includes the auxiliary heat (strips)."""
    power, flow = case.visit.nominal("indoor_unit_power"), case.derived.get("airflow")
    if power is None or flow is None or not power > BLOWER_ALONE * flow[0]:
        return
    yield notice("indoor_unit_power_too_large", ("indoor_unit_power",), power=case.say("power", power))


def clamp_on_hot_line(case: Case) -> bool:
    """Whether the suction line of a heating run is as hot as the vapour line."""
    line = case.visit.nominal("suction_line_temperature")
    return _is_heating(case) and line is not None and line >= HOT_SUPPLY


def gauge_on_hot_line(case: Case) -> bool:
    """Whether the suction pressure of a heating run means saturation above the room air."""
    saturation, back = case.derived.get("suction_saturation_temperature"), case.visit.nominal("return_air_dry_bulb")
    if not _is_heating(case) or saturation is None or back is None:
        return False
    return bool(saturation[0] > back + AIR_CHANGED[0])


def _hot_line_as_suction(case: Case) -> Iterator[Notice]:
    """The most common mistake in heating: the large line is taken for the suction line."""
    if clamp_on_hot_line(case):
        line = case.visit.readings["suction_line_temperature"]
        shown = case.say("temperature", line)
        yield notice("vapour_line_as_suction_line", ("suction_line_temperature",), line=shown)
    if gauge_on_hot_line(case):
        saturation = float(case.derived["suction_saturation_temperature"][0])
        names = ("suction_pressure", "suction_saturation_temperature")
        readings = [name for name in names if name in case.visit.readings]
        shown = case.say("temperature", saturation)
        yield notice("suction_gauge_on_vapour_line", readings, saturation=shown)


def _cold_discharge(case: Case) -> Iterator[Notice]:
    outdoor = case.visit.nominal("outdoor_air_dry_bulb")
    if outdoor is None or outdoor >= COLD_DISCHARGE or "discharge_superheat" not in case.derived:
        return
    limit = case.say("temperature", COLD_DISCHARGE)
    yield notice("discharge_superheat_in_cold", ("discharge_line_temperature",), limit=limit)


def _table(case: Case) -> Iterator[Notice]:
    gap = case.visit.table_gap
    if gap is not None:
        yield notice("performance_table_not_used", gap=gap)
    disputed = case.visit.table_disputed
    if disputed:
        system = case.visit.system
        items = [words.disputed(one.column, COLUMNS[one.column], one.printed, one.rated, system) for one in disputed]
        yield notice("performance_table_disputed", items=listed(items))
    columns = [name.replace("_", " ") for name in COLUMNS if TABLE + name in case.visit.leaves]
    if columns:
        yield notice("performance_table_used", columns=listed(columns))


def _of_heating(case: Case) -> Iterator[Notice]:
    if not _is_heating(case):
        return
    for one in (_warm_weather, _defrost, _frost, _auxiliary_heat, _blower_meter, _hot_line_as_suction, _cold_discharge):
        yield from one(case)


def signs_in_cooling(case: Case) -> Iterator[str]:
    """Signs that a run given as cooling was heating, in readings and statements that only heating has."""
    nominal, run = case.visit.nominal, case.request.run
    vapour, outdoor = nominal("vapour_line_temperature"), nominal("outdoor_air_dry_bulb")
    leaving = nominal("outdoor_coil_leaving_air_dry_bulb")
    if vapour is not None and vapour >= HOT_SUPPLY:
        yield item("hot_vapour_line", case.say("temperature", vapour))
    if leaving is not None and outdoor is not None and outdoor - leaving > AIR_CHANGED[0] / 2.0:
        yield item("cooled_outdoor_air", case.say("temperature_difference", outdoor - leaving))
    if run.defrosting or run.minutes_since_defrost is not None:
        yield item("defrost_stated")
    if auxiliary_heat_shown(case):
        yield item("auxiliary_heat_on")


def signs_in_heating(case: Case) -> Iterator[str]:
    """Signs at the outdoor unit that a run given as heating was cooling, and not defrosting."""
    nominal = case.visit.nominal
    outdoor = nominal("outdoor_air_dry_bulb")
    leaving = nominal("outdoor_coil_leaving_air_dry_bulb")
    leaving = nominal("condenser_leaving_air_dry_bulb") if leaving is None else leaving
    if leaving is not None and outdoor is not None and leaving - outdoor > AIR_CHANGED[0] / 2.0:
        yield item("warmed_outdoor_air", case.say("temperature_difference", leaving - outdoor))
    vapour, liquid = nominal("vapour_line_temperature"), nominal("liquid_line_temperature")
    if vapour is not None and liquid is not None and vapour < liquid - AIR_CHANGED[0]:
        yield item("cold_vapour_line", case.say("temperature", vapour))


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
