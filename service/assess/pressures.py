"""What the pressures mean with the other readings: swapped clamps, another refrigerant, unit or reference.

Each check asks whether the readings make sense only with one such mistake.  A check that the readings cannot
support is silent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any, Literal

import numpy as np

from service.assess.notices import Case, Notice, item, notice, readings_behind, share
from service.intake.paths import CURVES, READING, SITE_PRESSURE
from service.physics.refrigerant import SaturationCurves, saturation_curves
from service.reference.conditions import (
    CLAMP_UNDER_OUTDOOR,
    CREDIBLE,
    CREDIBLE_ALONE,
    CREDIBLE_IN_HEATING,
    PLAUSIBLE,
    PLAUSIBLE_ALONE,
    SATURATION_AGREEMENT,
    SATURATION_EXPLAINED,
    SHOWN,
)
from service.reference.faults import CONFUSED
from service.reference.refrigerants import REFRIGERANTS
from service.reference.settling import JUST_STARTED
from service.reference.site import STANDARD_PRESSURE
from service.reference.units import conversion, system_unit
from service.words.phrases import listed, unit_word

#: Units that a bare pressure may have been meant in.
_UNITS_OF_PRESSURE = ("bar", "kPa", "psi", "MPa")


def _within(name: str, value: float) -> bool:
    low, high = PLAUSIBLE[name] if name in PLAUSIBLE else PLAUSIBLE_ALONE[name]
    return low <= value <= high


def _implausible(values: Mapping[str, float]) -> int:
    """How many of the values are outside their window of plausible operation."""
    return sum(not _within(name, value) for name, value in values.items() if isfinite(value))


def _all_fit(values: Mapping[str, float]) -> bool:
    return bool(values) and all(isfinite(v) and _within(name, v) for name, v in values.items())


def swapped_clamps(case: Case) -> Iterator[Notice]:
    """Line clamps the wrong way round, where the readings make sense only if swapped."""
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
    too_cold = outdoor is not None and cool < outdoor - CLAMP_UNDER_OUTDOOR
    senseless = bool(_implausible(as_given)) or too_cold
    # The draws are tested last: they cost the most and are seldom needed.
    if senseless and not _implausible(swapped) and share(suction[1:] > liquid[1:]) > SHOWN:
        yield notice("line_clamps_swapped_suspected", ("suction_line_temperature", "liquid_line_temperature"))


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
    others = listed(fitting[:3], "or")
    if own.keys() <= PLAUSIBLE_ALONE.keys():
        evaporating, condensing = (own[name] for name in PLAUSIBLE_ALONE)
        middle = [sum(PLAUSIBLE_ALONE[name]) / 2.0 for name in PLAUSIBLE_ALONE]
        low = evaporating < middle[0]
        if low is not (condensing < middle[1]):
            return  # Another refrigerant moves both sides the same way; a worn compressor does not.
        yield notice(
            "wrong_refrigerant_suspected.or_charge_lost" if low else "wrong_refrigerant_suspected.or_overloaded",
            readings,
            stated=stated,
            evaporating=case.say("temperature", evaporating),
            condensing=case.say("temperature", condensing),
            others=others,
        )
        return
    outside, count = str(_implausible(own)), str(len(own))
    name = "wrong_refrigerant_suspected.implausible"
    yield notice(name, readings, stated=stated, outside=outside, count=count, others=others)


def _not_credible(case: Case) -> Iterator[Notice]:
    """Results that no running system shows; a wrong unit is named where it explains them."""
    if case.request.unit.mode == "cooling":
        out, slip = _out_of(case, CREDIBLE) or _out_of(case, CREDIBLE_ALONE), _slip(case)
    else:
        out, slip = _out_of(case, CREDIBLE_IN_HEATING), None
    readings = readings_behind(case, "suction_pressure_absolute", "high_side_pressure_absolute")
    said = {} if slip is None else {"meant": slip.meant, "taken": slip.taken}
    minutes = case.visit.minutes_running
    if out and slip is None and minutes is not None and minutes <= JUST_STARTED:
        return  # what has not settled may be anywhere
    if out:
        kinds = {name: "temperature" if name in CREDIBLE_ALONE else "temperature_difference" for name in out}
        values = " or ".join(item(name, case.say(kinds[name], value)) for name, value in out.items())
        name = "not_credible" if slip is None else f"not_credible.{slip.of}"
        yield notice(name, readings, values=values, **said)
    elif slip is not None:
        yield notice(f"unit_slip_suspected.{slip.of}", readings, **said)


def _out_of(case: Case, windows: Mapping[str, tuple[float, float]]) -> dict[str, float]:
    """Derived values [K] outside their windows."""
    return {
        name: value
        for name, (low, high) in windows.items()
        if name in case.derived and isfinite(value := float(case.derived[name][0])) and not low <= value <= high
    }


def _taken_in(case: Case, name: str) -> str:
    """The unit in which a pressure was taken."""
    logged = case.visit.logged
    if logged is not None and name in logged.readings:
        symbol = logged.readings[name].unit
    else:
        given: Any = getattr(case.request.run.readings, name)
        symbol = getattr(given, "unit", None) or system_unit("pressure", case.visit.system)
    return {"psig": "psi", "psia": "psi"}.get(symbol, symbol)


@dataclass(frozen=True, slots=True)
class _Slip:
    """Readings that make sense in another unit: whose they are, the unit meant, and the unit in which they were
    taken."""

    of: Literal["unit_of_pressures", "unit_of_lines"]
    meant: str
    taken: str


def _slip(case: Case) -> _Slip | None:
    """The unit that would make pressures or line temperatures plausible; None where they already are, or where
    no unit makes them so."""
    if not all(_implausible(side) for side in _as_read(case) if side):
        return None  # as nearly always
    curves: SaturationCurves | None = case.visit.leaves.get(CURVES)
    names = [name for name in ("suction_pressure", "liquid_pressure") if name in case.visit.readings]
    units = {_taken_in(case, name) for name in names}
    if curves is None or len(units) != 1:
        return None
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
            return _Slip("unit_of_pressures", symbol, taken)
    system = case.visit.system
    other = "metric" if system == "imperial" else "imperial"
    here, there = (conversion("temperature", system_unit("temperature", one)) for one in (system, other))
    low, high = meant(1.0, lambda value: there.to_si(here.from_si(value)))
    if {"superheat", "subcooling"} & {*low, *high} and _all_fit(low | high):
        meant_in, taken_in = (unit_word(system_unit("temperature", one)) for one in (other, system))
        return _Slip("unit_of_lines", meant_in, taken_in)
    return None


def pressures_in_another_unit(case: Case) -> bool:
    """Whether a wrong unit explains the pressures, so that they say nothing about the compressor."""
    slip = _slip(case)
    return slip is not None and slip.of == "unit_of_pressures"


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
        said = {"side": side, "derived": case.say("temperature", derived), "read": case.say("temperature", read)}
        if abs(read - derived) <= allowed:
            yield notice("saturation_given_twice", (pressure, name), **said)
        else:
            cause, values = _cause_of_disagreement(case, side, read)
            yield notice(f"pressure_and_saturation_disagree.{cause}", (pressure, name), **said, **values)


def _cause_of_disagreement(case: Case, side: str, read: float) -> tuple[str, dict[str, str]]:
    """What would make a pressure and the saturation temperature read with it agree: the variant of the notice, and
    the values that it names."""
    visit, name = case.visit, f"{side}_pressure"
    shown, taken = visit.readings[name], float(visit.leaves[READING + name][0])
    air = float(visit.leaves[SITE_PRESSURE][0])
    assert visit.refrigerant is not None
    stated = visit.refrigerant.designation

    def agrees(designation: str, pressure: float) -> bool:
        curves = saturation_curves(designation)
        to_temperature = curves.dew_temperature if side == "suction" else curves.bubble_temperature
        return abs(float(to_temperature(np.array([pressure]))[0]) - read) <= SATURATION_EXPLAINED

    gauge = taken > shown
    if gauge and agrees(stated, shown):
        return "is_absolute", {}
    if not gauge and agrees(stated, shown + air):
        return "is_gauge", {}
    if gauge and agrees(stated, shown + STANDARD_PRESSURE):
        return "at_altitude", {}
    symbol = _taken_in(case, name)
    for other in _UNITS_OF_PRESSURE:
        factor = conversion("pressure", other).scale / conversion("pressure", symbol).scale
        if other != symbol and agrees(stated, taken + (factor - 1.0) * shown):
            return "in_another_unit", {"meant": other, "taken": symbol}
    scales = [one for one in CONFUSED.get(stated, ()) if one in REFRIGERANTS and agrees(one, taken)]
    if scales:
        return "on_another_scale", {"others": listed(scales, "or"), "stated": stated}
    return "not_explained", {}


CHECKS: tuple[Callable[[Case], Iterator[Notice]], ...] = (
    _not_credible,
    swapped_clamps,
    _wrong_refrigerant,
    _pressure_against_saturation,
)
