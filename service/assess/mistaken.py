"""Readings that look like something else: another mode, wire, probe, clamp, unit or refrigerant.

Each check asks what one mistake would do to the readings, and reports it where they make sense only with
it.  A check that the readings cannot support is silent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from math import isfinite
from typing import Any

import numpy as np

from service.assess import heating
from service.assess.notices import Case, FloatArray, Notice, fixed, readings_behind, share
from service.derive.derivations import CAPACITOR_CURRENT
from service.intake.paths import CURVES, NAMEPLATE, READING, SITE_PRESSURE
from service.physics.refrigerant import SaturationCurves, saturation_curves
from service.reference.assumptions import ASSUMPTIONS
from service.reference.conditions import (
    AIR_CHANGED,
    COOLED_SUPPLY,
    COOLING_WEATHER,
    CREDIBLE,
    CREDIBLE_ALONE,
    CREDIBLE_IN_HEATING,
    EQUAL_CURRENTS,
    EVAPORATING_INDOORS,
    HEATED_SUPPLY,
    HEATING_WEATHER,
    HOT_SUPPLY,
    LOADED_CURRENT,
    NO_CURRENT,
    NO_DEFROST,
    PLAUSIBLE,
    PLAUSIBLE_ALONE,
    ROOM_AIR,
    SATURATION_AGREEMENT,
    SHOWN,
)
from service.reference.faults import CONFUSED
from service.reference.metering_devices import FIXED_DEVICES
from service.reference.refrigerants import REFRIGERANTS
from service.reference.site import STANDARD_PRESSURE
from service.reference.units import conversion, system_unit
from service.words.phrases import unit_word

_OF_THE_CYCLE = ("charge", "refrigerant", "floodback", "pressures")

#: Units that a bare pressure may have been meant in.
_UNITS_OF_PRESSURE = ("bar", "kPa", "psi", "MPa")


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
        yield f"the suction line, at {case.say('temperature', vapour)}, is the hot line"
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
            yield (f"supply air is {case.say('temperature_difference', supply - back)} warmer than return air")
    over = _difference(case, "condensing_temperature", "outdoor_air_dry_bulb")
    most = PLAUSIBLE["condensing_temperature_over_ambient"][1]
    if over is not None and outdoor is not None and outdoor < COOLING_WEATHER and over > most:
        yield (f"the condensing temperature is {case.say('temperature_difference', over)} above cold outdoor air")
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
            yield f"supply air is {case.say('temperature_difference', back - supply)} colder than return air"
        elif supply > back:
            return
    yield from heating.signs_in_heating(case)


def _mode(case: Case) -> Iterator[Notice]:
    """Readings of one mode given as those of the other."""
    unit = case.request.unit
    if unit.mode == "cooling":
        signs, other = list(_heating_signs(case)), "heating"
    else:
        signs, other = list(_cooling_signs(case)), "cooling"
    if not signs:
        return
    stated = "mode" in unit.model_fields_set
    taken = f"is {unit.mode}" if stated else f"is not given, so {unit.mode} was assumed"
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
    yield Notice(
        f"{other}_suspected",
        "disqualifying",
        tuple(name for name in names if name in case.visit.readings),
        f"These readings look like {other}: {' and '.join(signs)}. The field unit.mode {taken}. Set "
        f"it to {other} if the unit was {other}. Limits for {unit.mode} were not applied.",
        "signs_of_mode",
        (*_OF_THE_CYCLE, "airflow"),
    )


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
    fixed = case.request.unit.metering_device in FIXED_DEVICES
    yield Notice(
        "air_probes_swapped_suspected",
        "disqualifying",
        tuple(name for name in case.visit.readings if name.startswith(("return_air", "supply_air"))),
        f"Were the supply and return probes swapped? Supply air ({case.say('temperature', supply)}) is "
        f"{'warmer' if cooling else 'colder'} than return air ({case.say('temperature', back)}), and the "
        f"two would make sense the other way round. If the probes were not swapped, the unit is not "
        f"{'cooling' if cooling else 'heating, or is defrosting'}. Limits on air and on capacity were not applied.",
        "signs_of_mode",
        ("airflow", "performance", *(("charge",) if fixed else ())),
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
        both = ("compressor_current", "compressor_capacitor", *efficiency)
        if abs(other / amps - 1.0) < EQUAL_CURRENTS:
            yield Notice(
                "currents_of_one_wire_suspected",
                "reservation",
                (common, start),
                f"The common current and the start-winding current are the same ({case.say('current', amps)} "
                f"and {case.say('current', other)}). Was one wire read twice? The common wire carries more "
                "than the start winding. The compressor's current and run capacitor were not graded.",
                "motor_currents",
                both,
            )
            return
        if case.is_below(common, start):
            yield Notice(
                "currents_exchanged_suspected",
                "reservation",
                (common, start),
                f"The start-winding current ({case.say('current', other)}) is larger than the common current "
                f"({case.say('current', amps)}), which is impossible for a running compressor. Were the two "
                "exchanged? The compressor's current and run capacitor were not graded.",
                "motor_currents",
                both,
            )
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
    wire = (
        "the start winding's wire, which carries the capacitor's current"
        if case.visit.phases == 1
        else "the wire of a fan or of the controls"
    )
    yield Notice(
        "clamp_on_wrong_wire_suspected",
        "reservation",
        (common, *readings_behind(case, "suction_pressure_absolute", "high_side_pressure_absolute")),
        f"The compressor's common current is {case.say('fraction', float(drawn[0]))} of its rated-load amps, "
        f"too little for the load that the pressures show (at least about "
        f"{case.say('fraction', float(nominal[0]))}): is the clamp on the wrong wire? Check that it is not on "
        f"{wire}. A compressor that pumps little also draws little. The compressor's current was not graded.",
        "loaded_current",
        ("compressor_current", *efficiency),
    )


# ---------------------------------------------------------------- clamps, refrigerant, units


def _within(name: str, value: float) -> bool:
    low, high = PLAUSIBLE[name] if name in PLAUSIBLE else PLAUSIBLE_ALONE[name]
    return low <= value <= high


def _implausible(values: Mapping[str, float]) -> int:
    """How many of the values are outside their window of plausible operation."""
    return sum(not _within(name, value) for name, value in values.items() if isfinite(value))


def _all_fit(values: Mapping[str, float]) -> bool:
    return bool(values) and all(isfinite(v) and _within(name, v) for name, v in values.items())


def _swapped_clamps(case: Case) -> Iterator[Notice]:
    if case.request.unit.mode != "cooling":
        return
    suction, liquid = (case.draws(f"{side}_line_temperature") for side in ("suction", "liquid"))
    dew, bubble = (case.draws(f"{side}_saturation_temperature") for side in ("suction", "liquid"))
    if suction is None or liquid is None or dew is None or bubble is None:
        return
    warm, cool, low, high = (float(draws[0]) for draws in (suction, liquid, dew, bubble))
    as_given = {"superheat": warm - low, "subcooling": high - cool}
    swapped = {"superheat": cool - low, "subcooling": high - warm}
    outdoor = case.visit.nominal("outdoor_air_dry_bulb")
    too_cold = outdoor is not None and cool < outdoor - 1.0
    senseless = bool(_implausible(as_given)) or too_cold
    # The draws are tested last: they cost the most and are seldom needed.
    if senseless and not _implausible(swapped) and share(suction[1:] > liquid[1:]) > SHOWN:
        yield fixed("line_clamps_swapped_suspected", ("suction_line_temperature", "liquid_line_temperature"))


def _low_side(
    case: Case,
    curves: SaturationCurves,
    pressure: float | None,
    line: Callable[[float], float] = float,
) -> dict[str, float]:
    """What a suction pressure [Pa absolute] would mean: values to compare with windows [K]."""
    if pressure is None:
        return {}
    dew = float(curves.dew_temperature(np.array([pressure]))[0])
    suction, back = (case.visit.nominal(name) for name in ("suction_line_temperature", "return_air_dry_bulb"))
    found = {} if suction is None else {"superheat": line(suction) - dew}
    if back is None:
        return found | {"evaporating_temperature": dew}
    return found | {"evaporating_temperature_under_return_air": back - dew}


def _high_side(
    case: Case,
    curves: SaturationCurves,
    pressure: float | None,
    line: Callable[[float], float] = float,
) -> dict[str, float]:
    """The same for a high-side pressure [Pa absolute]."""
    if pressure is None:
        return {}
    bubble = float(curves.bubble_temperature(np.array([pressure]))[0])
    liquid, outdoor = (case.visit.nominal(name) for name in ("liquid_line_temperature", "outdoor_air_dry_bulb"))
    found = {} if liquid is None else {"subcooling": bubble - line(liquid)}
    if outdoor is None:
        return found | {"condensing_temperature": bubble}
    return found | {"condensing_temperature_over_ambient": bubble - outdoor}


def _as_read(case: Case) -> tuple[dict[str, float], dict[str, float]]:
    """What the pressures mean as read, on the low and on the high side [K]."""
    sides = (
        ("superheat", "evaporating_temperature_under_return_air", "evaporating_temperature"),
        ("subcooling", "condensing_temperature_over_ambient", "condensing_temperature"),
    )
    found = []
    for line, air, alone in sides:
        own = {n: float(case.derived[n][0]) for n in (line, air, alone) if n in case.derived}
        if air in own:
            del own[alone]
        found.append(own)
    return found[0], found[1]


def _fitting(case: Case, suction: float, liquid: float, stated: str) -> list[str]:
    """Refrigerants with which both pressures would be plausible, first those often confused with the stated."""
    often = [name for name in CONFUSED.get(stated, ()) if name in REFRIGERANTS]
    found = []
    for name in dict.fromkeys((*often, *REFRIGERANTS)):
        curves = saturation_curves(name)
        if name != stated and _all_fit(_low_side(case, curves, suction) | _high_side(case, curves, liquid)):
            found.append(name)
    return found


def _signs_of_another_refrigerant(case: Case) -> dict[str, float]:
    """What both sides show of a refrigerant other than the one stated; empty where one of them shows nothing."""
    low, high = _as_read(case)
    # Starvation or overfeeding alone makes both suction values implausible; a wrong refrigerant shifts
    # both sides, so each must give its own evidence.
    impossible = (
        high.get("subcooling", 0.0) < CREDIBLE["subcooling"][0]
        or high.get("condensing_temperature_over_ambient", 1.0) < 0.0
    )
    if impossible or (_implausible(high) and _implausible(low)):
        return low | high
    return {}


def _wrong_refrigerant(case: Case) -> Iterator[Notice]:
    visit = case.visit
    if case.request.unit.mode != "cooling" or visit.refrigerant is None or _slip(case):
        return
    suction, liquid = (case.derived.get(name) for name in ("suction_pressure_absolute", "high_side_pressure_absolute"))
    if suction is None or liquid is None:
        return
    own = _signs_of_another_refrigerant(case)
    stated = visit.refrigerant.designation
    fitting = _fitting(case, float(suction[0]), float(liquid[0]), stated) if own else []
    if not fitting:
        return
    readings = readings_behind(case, "suction_pressure_absolute", "high_side_pressure_absolute")
    others = f"{' or '.join(fitting[:3])}" + (" (pressures alone cannot separate these)" if len(fitting) > 1 else "")
    if own.keys() <= PLAUSIBLE_ALONE.keys():
        evaporating, condensing = (own[name] for name in PLAUSIBLE_ALONE)
        middle = [sum(PLAUSIBLE_ALONE[name]) / 2.0 for name in PLAUSIBLE_ALONE]
        if (evaporating < middle[0]) is not (condensing < middle[1]):
            return  # Another refrigerant moves both sides the same way; a worn compressor does not.
        else_ = "most of the charge is gone" if evaporating < middle[0] else "the unit is badly overloaded"
        yield Notice(
            "wrong_refrigerant_suspected",
            "reservation",
            readings,
            f"Is the refrigerant {stated}? These pressures would mean evaporating at "
            f"{case.say('temperature', evaporating)} and condensing at {case.say('temperature', condensing)}, "
            f"but they would be usual for {others}. Check the nameplate and the gauge setting. "
            f"If it is {stated}, {else_}. Line and outdoor temperatures would settle it.",
            "plausible_windows",
        )
        return
    yield Notice(
        "wrong_refrigerant_suspected",
        "disqualifying",
        readings,
        f"The pressures do not fit {stated}: "
        f"{_implausible(own)} of {len(own)} derived values are outside any plausible range, but "
        f"they would fit {others}. Check the nameplate and the gauge setting. Charge and "
        "refrigerant limits were not applied.",
        "plausible_windows",
        _OF_THE_CYCLE,
    )


def _not_credible(case: Case) -> Iterator[Notice]:
    """Results that no running system shows; a wrong unit is named where it explains them."""
    if case.request.unit.mode == "cooling":
        out, slip = _out_of(case, CREDIBLE) or _out_of(case, CREDIBLE_ALONE), _slip(case)
    else:
        out, slip = _out_of(case, CREDIBLE_IN_HEATING), ""
    readings = readings_behind(case, "suction_pressure_absolute", "high_side_pressure_absolute")
    if out:
        words = " or ".join(
            f"{'an' if name[0] == 'e' else 'a'} {name.replace('_', ' ')} of "
            + case.say("temperature_difference" if name in CREDIBLE else "temperature", value)
            for name, value in out.items()
        )
        yield Notice(
            "not_credible",
            "disqualifying",
            readings,
            f"No running system has {words}: a reading, its unit or the refrigerant is wrong. {slip}"
            "Charge and refrigerant limits were not applied.",
            "plausible_windows",
            _OF_THE_CYCLE,
        )
    elif slip:
        yield Notice(
            "unit_slip_suspected",
            "disqualifying",
            readings,
            f"Were these readings taken in another unit? {slip}Give the unit with the value. Charge and "
            "refrigerant limits were not applied.",
            "plausible_windows",
            _OF_THE_CYCLE,
        )


def _out_of(case: Case, windows: Mapping[str, tuple[float, float]]) -> dict[str, float]:
    """Derived values [K] outside their windows."""
    return {
        name: value
        for name, (low, high) in windows.items()
        if name in case.derived and isfinite(value := float(case.derived[name][0])) and not low <= value <= high
    }


def _taken_in(case: Case, name: str) -> str:
    """The unit in which a pressure was taken."""
    given: Any = getattr(case.request.run.readings, name)
    symbol = getattr(given, "unit", None) or system_unit("pressure", case.visit.system)
    return {"psig": "psi", "psia": "psi"}.get(symbol, symbol)


def _slip(case: Case) -> str:
    """The unit that would make pressures or line temperatures plausible, as a sentence; empty where they
    already are, or where no unit makes them so."""
    if not all(_implausible(side) for side in _as_read(case) if side):
        return ""  # as nearly always
    curves: SaturationCurves | None = case.visit.leaves.get(CURVES)
    names = [name for name in ("suction_pressure", "liquid_pressure") if name in case.visit.readings]
    units = {_taken_in(case, name) for name in names}
    if curves is None or len(units) != 1:
        return ""
    absolute = {name: float(case.visit.leaves[READING + name][0]) for name in names}
    shown = {name: case.visit.readings[name] for name in names}

    def meant(factor: float, line: Callable[[float], float] = float) -> tuple[dict[str, float], dict[str, float]]:
        found = {name: absolute[name] + (factor - 1.0) * shown[name] for name in names}
        return (
            _low_side(case, curves, found.get("suction_pressure"), line),
            _high_side(case, curves, found.get("liquid_pressure"), line),
        )

    (taken,) = units
    for symbol in _UNITS_OF_PRESSURE:
        if symbol == taken:
            continue
        factor = conversion("pressure", symbol).scale / conversion("pressure", taken).scale
        low, high = meant(factor)
        if _all_fit(low | high):
            return f"The pressures would make sense in {symbol}, but were taken to be in {taken}. "
    system = case.visit.system
    other = "metric" if system == "imperial" else "imperial"
    here, there = (conversion("temperature", system_unit("temperature", one)) for one in (system, other))
    low, high = meant(1.0, lambda value: there.to_si(here.from_si(value)))
    if {"superheat", "subcooling"} & {*low, *high} and _all_fit(low | high):
        word, read = (unit_word(system_unit("temperature", one)) for one in (other, system))
        return f"The line temperatures would make sense in {word}, but were taken to be in {read}. "
    return ""


def pressures_in_another_unit(case: Case) -> bool:
    """Whether a wrong unit explains the pressures, so that they say nothing about the compressor."""
    return "pressures" in _slip(case)


# ---------------------------------------------------------------- read twice


def read_twice(case: Case) -> tuple[str, ...]:
    """Saturation temperatures that were read in addition to the pressure of their side."""
    return tuple(
        f"{side}_saturation_temperature"
        for side in ("suction", "liquid")
        if {f"{side}_saturation_temperature", f"{side}_pressure"} <= case.visit.readings.keys()
        and f"{side}_saturation_temperature" in case.derived
    )


def _pressure_against_saturation(case: Case) -> Iterator[Notice]:
    for name in read_twice(case):
        pressure = name.replace("saturation_temperature", "pressure")
        side = name.partition("_")[0]
        read, derived = case.visit.readings[name], float(case.derived[name][0])
        gap = case.derived[name] - case.visit.leaves[READING + name]
        if not np.isfinite(gap).all():
            continue
        # An error that one gauge has in both cancels in the gap.
        allowed = max(SATURATION_AGREEMENT, 2.0 * float(gap[1:].std()))
        said = (
            f"The {side} pressure means a saturation temperature of {case.say('temperature', derived)}, "
            f"and {case.say('temperature', read)} was read off the gauge"
        )
        if abs(read - derived) <= allowed:
            yield Notice(
                "saturation_given_twice",
                "note",
                (pressure, name),
                f"{said}. They agree. The pressure was used.",
                "ra3_saturation_reread",
            )
        else:
            cause = _cause_of_disagreement(case, side, read)
            yield Notice(
                "pressure_and_saturation_disagree",
                "reservation",
                (pressure, name),
                f"{said}. They are further apart than the instruments explain. {cause}The pressure was used.",
                "ra3_saturation_reread",
            )


def _cause_of_disagreement(case: Case, side: str, read: float) -> str:
    """What would make a pressure and the saturation temperature read with it agree."""
    visit, name = case.visit, f"{side}_pressure"
    shown, taken = visit.readings[name], float(visit.leaves[READING + name][0])
    air = float(visit.leaves[SITE_PRESSURE][0])
    assert visit.refrigerant is not None
    stated = visit.refrigerant.designation

    def agrees(designation: str, pressure: float) -> bool:
        curves = saturation_curves(designation)
        to_temperature = curves.dew_temperature if side == "suction" else curves.bubble_temperature
        return abs(float(to_temperature(np.array([pressure]))[0]) - read) <= SATURATION_AGREEMENT / 2.0

    gauge = taken > shown
    if gauge and agrees(stated, shown):
        return "They agree if the pressure is absolute, not gauge. Give its reference. "
    if not gauge and agrees(stated, shown + air):
        return "They agree if the pressure is gauge, not absolute. Give its reference. "
    if gauge and agrees(stated, shown + STANDARD_PRESSURE):
        return "The scale printed on a dial is right at sea level only. "
    symbol = _taken_in(case, name)
    for other in _UNITS_OF_PRESSURE:
        factor = conversion("pressure", other).scale / conversion("pressure", symbol).scale
        if other != symbol and agrees(stated, taken + (factor - 1.0) * shown):
            return f"They agree if the pressure is in {other}, not in {symbol}. "
    scales = [one for one in CONFUSED.get(stated, ()) if one in REFRIGERANTS and agrees(one, taken)]
    if scales:
        return f"They agree on the scale of {' or '.join(scales)}. Is the refrigerant {stated}? "
    return "Check that the scale is that of the refrigerant, the altitude, and both values for a misreading. "


CHECKS: tuple[Callable[[Case], Iterator[Notice]], ...] = (
    _mode,
    _swapped_air_probes,
    _wrong_wire,
    _not_credible,
    _swapped_clamps,
    _wrong_refrigerant,
    _pressure_against_saturation,
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
    for notice in _wrong_wire(case):
        found.add("compressor_apparent_power")
        if "compressor_capacitor" in notice.stops:
            found.add("compressor_run_capacitance")
    # Wet gas, or a clamp in the air: it gives no state of dry gas.
    if case.is_below("discharge_line_temperature", "condensing_temperature"):
        found.add("discharge_temperature")
    return frozenset(found) | heating.doubted(case)


#: Notices that only repeat what one of these has already explained.
EXPLAINS: Mapping[str, frozenset[str]] = {
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
    "cooling_suspected": frozenset(
        {"supply_under_return_in_heating", "evaporating_over_outdoor_air", "condensing_under_return_air"}
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
}
