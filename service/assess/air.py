"""Checks of humidity and wet bulbs, of the air pressure at the site, and of static pressure."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from service.assess.notices import Case, Notice, notice
from service.intake.paths import CURVES, DIAL_TEMPERATURES, GAUGE_PRESSURES, READING, SITE_PRESSURE
from service.physics.moist_air import relative_humidity, standard_atmosphere_pressure
from service.reference.conditions import (
    BAROMETER_DISAGREEMENT,
    EXAMPLE_ALTITUDE,
    HUMIDITY_DISAGREEMENT,
    LOWEST_DIAL_PRESSURE,
    LOWEST_HUMIDITY,
    LOWEST_SPLIT_PRESSURE,
)
from service.reference.site import STANDARD_PRESSURE


def _dry_air(case: Case, side: str) -> Iterator[Notice]:
    """Air drier than in any house, whether its humidity was read or follows from a wet bulb."""
    wet, humid = f"{side}_air_wet_bulb", f"{side}_air_relative_humidity"
    read, given = case.visit.nominal(humid), wet in case.visit.readings
    if read is not None and read < LOWEST_HUMIDITY:
        yield notice("humidity_very_low.read", (humid,), side=side, humidity=case.say("fraction", read))
    follows, ratio = case.derived.get(humid), case.derived.get(f"{side}_air_humidity_ratio")
    if not given or follows is None or ratio is None:
        return
    behind = (wet, f"{side}_air_dry_bulb")
    bulb = case.say("temperature", case.visit.readings[wet])
    if np.isnan(ratio[0]):
        yield notice("wet_bulb_too_low", behind, side=side, bulb=bulb)
    elif read is None and follows[0] < LOWEST_HUMIDITY:
        humidity = case.say("fraction", float(follows[0]))
        yield notice("humidity_very_low.from_wet_bulb", behind, side=side, bulb=bulb, humidity=humidity)


def _wet_bulb_against_humidity(case: Case) -> Iterator[Notice]:
    for side in ("return", "supply"):
        wet, humid = f"{side}_air_wet_bulb", f"{side}_air_relative_humidity"
        if {wet, humid} <= set(case.visit.readings):
            yield notice("humidity_given_twice", (wet, humid), side=side)
        yield from _dry_air(case, side)
        humidity = case.visit.nominal(humid)
        from_bulb = case.derived.get(f"{side}_air_humidity_ratio")
        if humidity is not None and wet in case.visit.readings and from_bulb is not None:
            dry_draws = case.visit.leaves[READING + f"{side}_air_dry_bulb"]
            air = case.visit.leaves[SITE_PRESSURE]
            implied = float(relative_humidity(dry_draws[0], from_bulb[0], air[0]))
            if abs(implied - humidity) > HUMIDITY_DISAGREEMENT:
                yield notice(
                    "wet_bulb_and_humidity_disagree",
                    (wet, humid),
                    side=side,
                    derived=case.say("fraction", implied),
                    read=case.say("fraction", humidity),
                )
        dry = case.visit.nominal(f"{side}_air_dry_bulb")
        bulb = case.visit.nominal(wet)
        if dry is not None and bulb is not None and bulb > dry:
            yield notice("wet_bulb_over_dry_bulb", (wet, f"{side}_air_dry_bulb"), side=side)


def _site(case: Case) -> Iterator[Notice]:
    visit = case.visit
    gauges = [name for name in GAUGE_PRESSURES if name in visit.readings]
    moist = [n for n in visit.readings if n.endswith(("wet_bulb", "relative_humidity"))]
    if visit.assumed_sea_level and (gauges or moist):
        if visit.readings.get("suction_pressure", 0.0) > 0.0 and CURVES in visit.leaves:
            yield notice("sea_level_assumed.with_effect", gauges, lambda: _at_altitude(case))
        else:
            yield notice("sea_level_assumed", gauges or moist)
    if SITE_PRESSURE not in visit.leaves:
        return
    pressure = float(visit.leaves[SITE_PRESSURE][0])
    stated = visit.stated_altitude_pressure
    if stated is not None and abs(stated - pressure) > BAROMETER_DISAGREEMENT:
        barometer, expected = (case.say("absolute_pressure", value) for value in (pressure, stated))
        yield notice("altitude_and_barometer_disagree", barometer=barometer, expected=expected)
    direct = [name for name in DIAL_TEMPERATURES if name in visit.readings]
    if direct and pressure < LOWEST_DIAL_PRESSURE:
        yield notice("dial_scale_at_altitude", direct)
    if pressure < LOWEST_SPLIT_PRESSURE and "target_temperature_split" in case.derived:
        yield notice("split_target_at_altitude", ("return_air_dry_bulb", "supply_air_dry_bulb"))


def _at_altitude(case: Case) -> dict[str, str]:
    """What 1,500 m would change, for this refrigerant and suction pressure."""
    pressure = float(case.visit.leaves[READING + "suction_pressure"][0])
    metres = EXAMPLE_ALTITUDE[case.visit.system]
    higher = float(standard_atmosphere_pressure(metres)) - STANDARD_PRESSURE
    low, high = case.visit.leaves[CURVES].dew_temperature(np.array([pressure, pressure + higher]))
    return {
        "altitude": case.say("altitude", metres),
        "difference": case.say("temperature_difference", float(low - high)),
    }


def _static_pressure(case: Case) -> Iterator[Notice]:
    back = case.visit.nominal("return_static_pressure")
    if back is not None and back > 0.0:
        yield notice("return_static_pressure_positive", ("return_static_pressure",))


CHECKS: tuple[Callable[[Case], Iterator[Notice]], ...] = (_wet_bulb_against_humidity, _site, _static_pressure)
