"""Readings that look like something else: another mode, another probe, another wire.

Each check asks what one mistake would do to the readings, and reports it where they make sense only with
it.  A check that the readings cannot support is silent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import lru_cache
from math import isfinite

import numpy as np

from service.assess import heating
from service.assess.notices import Case, FloatArray, Notice, item, notice, readings_behind, share
from service.derive.derivations import CAPACITOR_CURRENT
from service.intake.paths import NAMEPLATE, READING
from service.physics.refrigerant import saturation_curves
from service.reference.assumptions import ASSUMPTIONS
from service.reference.conditions import (
    AIR_CHANGED,
    COOLED_SUPPLY,
    COOLING_WEATHER,
    EQUAL_CURRENTS,
    EVAPORATING_INDOORS,
    HEATED_SUPPLY,
    HEATING_WEATHER,
    HOT_SUPPLY,
    LOADED_CURRENT,
    NO_CURRENT,
    NO_DEFROST,
    PLAUSIBLE,
    ROOM_AIR,
    SHOWN,
)
from service.reference.metering_devices import FIXED_DEVICES

# ---------------------------------------------------------------- mode and probes


def _difference(case: Case, upper: str, lower: str) -> float | None:
    """How far one nominal value is above another [K]; None where either is unknown."""
    high, low = (case.draws(name) for name in (upper, lower))
    if high is None or low is None or not isfinite(found := float(high[0] - low[0])):
        return None
    return found


def hot_vapour_line(case: Case) -> bool:
    """Whether the vapour line is hotter than the liquid, as it is in heating only.

    Where the condensing temperature is known, the line must be shown to be hotter: swapped clamps on a
    cooling unit would put the liquid line there.
    """
    vapour = case.draws("suction_line_temperature")
    liquid = case.visit.nominal("liquid_line_temperature")
    if vapour is None or vapour[0] < HOT_SUPPLY or (liquid is not None and liquid >= vapour[0]):
        return False
    if case.draws("liquid_saturation_temperature") is not None:
        return case.is_below("liquid_saturation_temperature", "suction_line_temperature")
    return liquid is not None and float(vapour[0]) > liquid + AIR_CHANGED[0]


def _heating_signs(case: Case) -> Iterator[str]:
    """Signs in readings taken for cooling that the unit was heating."""
    nominal = case.visit.nominal
    outdoor = nominal("outdoor_air_dry_bulb")
    if hot_vapour_line(case):
        vapour = nominal("suction_line_temperature")
        assert vapour is not None
        yield item("hot_suction_line", case.say("temperature", vapour))
    supply, back = nominal("supply_air_dry_bulb"), nominal("return_air_dry_bulb")
    if supply is not None and back is not None and supply - back > AIR_CHANGED[0]:
        evaporating = case.draws("evaporating_temperature")
        indoors = (
            outdoor is not None
            and evaporating is not None
            and outdoor >= HEATING_WEATHER
            and float(evaporating[0]) < outdoor - EVAPORATING_INDOORS
        )
        by_weather = outdoor is None or outdoor < HEATING_WEATHER or supply >= HOT_SUPPLY
        # In weather too cold for cooling, lukewarm supply air means heating too.
        warm = supply >= HEATED_SUPPLY or (outdoor is not None and outdoor < COOLING_WEATHER)
        if by_weather and warm and not indoors:
            yield item("supply_over_return", case.say("temperature_difference", supply - back))
    over = _difference(case, "condensing_temperature", "outdoor_air_dry_bulb")
    most = PLAUSIBLE["condensing_temperature_over_ambient"][1]
    if over is not None and outdoor is not None and outdoor < COOLING_WEATHER and over > most:
        yield item("head_over_cold_air", case.say("temperature_difference", over))
    yield from heating.signs_in_cooling(case)


def _cooling_signs(case: Case) -> Iterator[str]:
    """Signs in readings taken for heating that the unit was cooling."""
    nominal = case.visit.nominal
    supply, back = nominal("supply_air_dry_bulb"), nominal("return_air_dry_bulb")
    outdoor = nominal("outdoor_air_dry_bulb")
    if outdoor is None or outdoor < NO_DEFROST:
        return  # Or a defrost.
    low, high = ROOM_AIR
    if supply is not None and back is not None:
        if back - supply > AIR_CHANGED[0] and supply <= COOLED_SUPPLY and low <= back <= high:
            yield item("supply_under_return", case.say("temperature_difference", back - supply))
        elif supply > back:
            return
    yield from heating.signs_in_heating(case)


def _mode(case: Case) -> Iterator[Notice]:
    """Readings of one mode given as those of the other."""
    unit = case.request.unit
    if unit.mode == "cooling":
        signs = list(_heating_signs(case))
        given = "mode" in unit.model_fields_set
        name = "heating_suspected.mode_given" if given else "heating_suspected.mode_assumed"
    else:
        signs, name = list(_cooling_signs(case)), "cooling_suspected"
    if not signs:
        return
    names = (
        "supply_air_dry_bulb",
        "return_air_dry_bulb",
        "suction_line_temperature",
        "vapour_line_temperature",
        "liquid_pressure",
        "liquid_saturation_temperature",
        "outdoor_air_dry_bulb",
        "outdoor_coil_leaving_air_dry_bulb",
        "auxiliary_heat_power",
        "auxiliary_heat_current",
    )
    behind = [reading for reading in names if reading in case.visit.readings]
    yield notice(name, behind, signs=" and ".join(signs))


def _swapped_air_probes(case: Case) -> Iterator[Notice]:
    """Supply and return air the wrong way round for the mode, but plausible if swapped."""
    nominal = case.visit.nominal
    supply, back = nominal("supply_air_dry_bulb"), nominal("return_air_dry_bulb")
    if supply is None or back is None:
        return
    outdoor = nominal("outdoor_air_dry_bulb")
    cooling = case.request.unit.mode == "cooling"
    least, most = AIR_CHANGED
    if cooling:
        # The reading called supply is then room air, and the one called return comes from the coil.
        sense = least < supply - back <= most and back <= COOLED_SUPPLY
        sense = sense and ROOM_AIR[0] <= supply <= ROOM_AIR[1]
        sense = sense and (outdoor is None or outdoor >= COOLING_WEATHER)
    else:
        sense = back - supply > least and back >= HEATED_SUPPLY
        sense = sense and supply <= COOLED_SUPPLY
        sense = sense and (outdoor is None or outdoor < HEATING_WEATHER)
    if not sense or hot_vapour_line(case):
        return
    yield notice(
        "air_probes_swapped_suspected.in_cooling" if cooling else "air_probes_swapped_suspected.in_heating",
        [name for name in case.visit.readings if name.startswith(("return_air", "supply_air"))],
        stops=("charge",) if case.request.unit.metering_device in FIXED_DEVICES else (),
        supply=case.say("temperature", supply),
        indoor=case.say("temperature", back),
    )


# ---------------------------------------------------------------- wires


@lru_cache(maxsize=64)
def _work_at_rating(designation: str) -> float:
    """:func:`_work` of a refrigerant at the rating point [Pa]."""
    curves = saturation_curves(designation)
    evaporating, condensing = (
        np.array([ASSUMPTIONS[f"rating_{name}"].value]) for name in ("evaporating", "condensing")
    )
    return float(_work(curves.dew_pressure(evaporating), curves.bubble_pressure(condensing))[0])


def _work(suction: FloatArray, head: FloatArray) -> FloatArray:
    """Least work per volume of gas taken in [Pa]: suction pressure times the logarithm of the ratio."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(suction * np.log(head / suction))


def _least_current(case: Case, columns: slice) -> FloatArray | None:
    """Lowest ratio of current to rated-load amps for the load that both pressures show; None without them.

    A displacement compressor takes in the same volume of gas whatever the pressures.
    """
    refrigerant = case.visit.refrigerant
    low, high = (case.derived.get(f"{side}_pressure_absolute") for side in ("suction", "high_side"))
    if refrigerant is None or low is None or high is None:
        return None
    load = _work(low[columns], high[columns]) / _work_at_rating(refrigerant.designation)
    return np.asarray(LOADED_CURRENT * load)


def _wrong_wire(case: Case) -> Iterator[Notice]:
    """A common current that is the start winding's, or exchanged with it."""
    common, start = "compressor_common_current", CAPACITOR_CURRENT["compressor"]
    amps, other = case.visit.nominal(common), case.visit.nominal(start)
    if amps is None or amps < NO_CURRENT:
        return
    efficiency = () if "outdoor_unit_power" in case.visit.readings else ("efficiency",)
    if case.visit.phases == 1 and other is not None:
        shown = {"common": case.say("current", amps), "start": case.say("current", other)}
        if abs(other / amps - 1.0) < EQUAL_CURRENTS:
            yield notice("currents_of_one_wire_suspected", (common, start), stops=efficiency, **shown)
            return
        if case.is_below(common, start):
            yield notice("currents_exchanged_suspected", (common, start), stops=efficiency, **shown)
            return
    rated = case.visit.leaves.get(NAMEPLATE + "compressor_rated_load_amps")
    if rated is None or case.unit.running != "full":
        return
    drawn = case.visit.leaves[READING + common] / float(rated)
    nominal = _least_current(case, slice(1))
    if nominal is None or not drawn[0] < nominal[0]:
        return
    least = _least_current(case, slice(1, None))
    if least is None or share(drawn[1:] < least) <= SHOWN:
        return
    single = case.visit.phases == 1
    yield notice(
        "clamp_on_wrong_wire_suspected.one_phase" if single else "clamp_on_wrong_wire_suspected.three_phases",
        (common, *readings_behind(case, "suction_pressure_absolute", "high_side_pressure_absolute")),
        stops=efficiency,
        share=case.say("fraction", float(drawn[0])),
        least=case.say("fraction", float(nominal[0])),
    )


CHECKS: tuple[Callable[[Case], Iterator[Notice]], ...] = (
    _mode,
    _swapped_air_probes,
    _wrong_wire,
)


def doubted(case: Case) -> frozenset[str]:
    """Readings (as paths) and quantities that are not what they are called, by one of the checks above.

    Judgements beyond the assessment leave them out.
    """
    found: set[str] = set()
    if any(_swapped_air_probes(case)):
        for side in ("return", "supply"):
            found |= {f"{side}_air_wet_bulb", f"{READING}{side}_air_wet_bulb"}
            found.add(f"{READING}{side}_air_dry_bulb")
    if any(_mode(case)):
        found.add(READING + "return_air_dry_bulb")
    for wire in _wrong_wire(case):
        found.add("compressor_apparent_power")
        if "compressor_capacitor" in wire.stops:
            found.add("compressor_run_capacitance")
    # Wet gas, or a clamp in the air: it gives no state of dry gas.
    if case.is_below("discharge_line_temperature", "condensing_temperature"):
        found.add("discharge_temperature")
    return frozenset(found) | heating.doubted(case)
