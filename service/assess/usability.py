"""Is this reading set usable?  Checks that come before any limit is applied.

Impossible readings are refused (:func:`refuse_impossible`); improbable ones are assessed and
flagged (:func:`check`).  A check that the readings cannot support is silent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest
from service.assess.intake import Visit
from service.assess.phrasing import phrase
from service.assess.refusals import Refusal, RefusedError, pointer
from service.physics.refrigerant import saturation_curves
from service.reference.conditions import (
    HIGHEST_OUTDOOR,
    LOWEST_OUTDOOR,
    LOWEST_RETURN,
    PLAUSIBLE,
    RUNNING_MINUTES,
    SATURATION_AGREEMENT,
    SHOWN,
    WET_BULB_EXCESS,
)
from service.reference.refrigerants import REFRIGERANTS
from service.reference.site import NOTABLE_ALTITUDE
from service.reference.sources import source
from service.reference.units import conversion, system_unit

FloatArray = NDArray[np.float64]
Values = Mapping[str, FloatArray]
Weight = Literal["note", "reservation", "disqualifying"]

R = "run.readings."


@dataclass(frozen=True, slots=True)
class Notice:
    """One thing noticed; ``stops`` are the groups of limits that it keeps from being applied."""

    code: str
    weight: Weight
    readings: tuple[str, ...]
    sentence: str
    source: str
    stops: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Case:
    """What a check looks at: the request, the visit's draws, the derived draws."""

    request: AssessmentRequest
    visit: Visit
    derived: Values

    def say(self, kind: str, value: float) -> str:
        """A value in the caller's units."""
        return phrase(kind, value, self.visit.system)

    def draws(self, name: str) -> FloatArray | None:
        """Draws of a derived quantity, else of a reading, else None."""
        found = self.derived.get(name)
        return self.visit.leaves.get(R + name) if found is None else found

    def below(self, upper: str, lower: str) -> float | None:
        """Probability that the quantity that should be higher is in truth lower."""
        high, low = self.draws(upper), self.draws(lower)
        if high is None or low is None:
            return None
        difference = high[1:] - low[1:]
        return float(np.mean(difference[np.isfinite(difference)] < 0.0))


# ---------------------------------------------------------------- impossible


def refuse_impossible(request: AssessmentRequest, visit: Visit) -> None:
    """Refuse readings that contradict each other beyond any instrument's error.

    Raises
    ------
    RefusedError
        Naming each reading, its value, what is allowed and what to do.
    """
    refusals: list[Refusal] = []
    for side in ("return", "supply"):
        dry, wet = (visit.readings.get(f"{side}_air_{part}") for part in ("dry_bulb", "wet_bulb"))
        if dry is None or wet is None or wet <= dry + WET_BULB_EXCESS:
            continue
        unit = conversion("temperature", system_unit("temperature", visit.system))
        symbol = system_unit("temperature", visit.system)
        refusals.append(
            Refusal(
                pointer("run", "readings", f"{side}_air_wet_bulb"),
                round(unit.from_si(wet), 4),
                f"at most the dry bulb, {unit.from_si(dry):.4g} {symbol}",
                "is above the dry bulb, which cannot be",
                "Were the two swapped?",
            )
        )
    if refusals:
        raise RefusedError(refusals)


# ---------------------------------------------------------------- improbable


def _running_time(case: Case) -> Iterator[Notice]:
    minutes = case.request.run.minutes_running
    if minutes is None:
        yield Notice(
            "steady_state_not_shown", "reservation", ("minutes_running",),
            "How long the unit had run is not given, so steady state is not shown; readings are "
            f"taken after {RUNNING_MINUTES:.0f} minutes.",
            "ra3_running_time",
        )  # fmt: skip
    elif minutes < RUNNING_MINUTES:
        yield Notice(
            "not_steady", "disqualifying", ("minutes_running",),
            f"The unit had run {minutes:g} minutes; charge and airflow are judged after "
            f"{RUNNING_MINUTES:.0f}. Charge and airflow limits were not applied.",
            "ra3_running_time", ("charge", "airflow"),
        )  # fmt: skip


def _outdoor_range(case: Case) -> Iterator[Notice]:
    outdoor = case.visit.nominal("outdoor_air_dry_bulb")
    if outdoor is None or case.request.unit.mode != "cooling":
        return
    if outdoor < LOWEST_OUTDOOR:
        yield Notice(
            "outdoor_air_too_cold", "disqualifying", ("outdoor_air_dry_bulb",),
            f"Outdoor air is {case.say('temperature', outdoor)}, under "
            f"{case.say('temperature', LOWEST_OUTDOOR)}: charge cannot be judged from pressures; "
            "weigh it in, or use the maker's cold-weather procedure. Charge limits were not applied.",
            "ra3_outdoor_limit", ("charge",),
        )  # fmt: skip
    elif outdoor > HIGHEST_OUTDOOR:
        yield Notice(
            "outdoor_air_very_hot", "reservation", ("outdoor_air_dry_bulb",),
            f"Outdoor air is {case.say('temperature', outdoor)}, above "
            f"{case.say('temperature', HIGHEST_OUTDOOR)}, where the target tables end.",
            "ra3_target_superheat",
        )  # fmt: skip


def _return_range(case: Case) -> Iterator[Notice]:
    indoor = case.visit.nominal("return_air_dry_bulb")
    if indoor is None or case.request.unit.mode != "cooling" or indoor >= LOWEST_RETURN:
        return
    yield Notice(
        "return_air_too_cold", "reservation", ("return_air_dry_bulb",),
        f"Return air is {case.say('temperature', indoor)}, under "
        f"{case.say('temperature', LOWEST_RETURN)}, where the target tables begin; warm the house, "
        "or read again on a warmer day.",
        "ra3_return_minimum",
    )  # fmt: skip


def _no_superheat_target(case: Case) -> Iterator[Notice]:
    target = case.derived.get("target_superheat")
    if target is None or np.isfinite(target[0]):
        return
    yield Notice(
        "no_superheat_target", "reservation", ("outdoor_air_dry_bulb", "return_air_wet_bulb"),
        "No target superheat is tabulated at these conditions (the target would be under 5 °F, or "
        "they lie outside the table); warm the house or come back in other weather.",
        "ra3_target_superheat",
    )  # fmt: skip


_ORDER = (
    ("suction_line_temperature", "suction_saturation_temperature", "suction_line_under_saturation",
     "The suction line is colder than the saturation temperature at its pressure, which a dry "
     "line cannot be: liquid is coming back, or a reading or the refrigerant is wrong.", ()),
    ("liquid_saturation_temperature", "liquid_line_temperature", "liquid_line_over_saturation",
     "The liquid line is hotter than the saturation temperature at its pressure: vapour in the "
     "liquid line, or a reading or the refrigerant is wrong.", ()),
    ("discharge_line_temperature", "condensing_temperature", "discharge_under_condensing",
     "The discharge line is colder than the condensing temperature: liquid in the discharge, or "
     "a clamp that does not touch.", ()),
    ("high_side_pressure_absolute", "suction_pressure_absolute", "no_pressure_lift",
     "The high side is not above the suction side: the compressor is not pumping, or the gauges "
     "are swapped. Refrigerant and charge limits were not applied.", ("charge", "refrigerant")),
)  # fmt: skip

_COOLING_ORDER = (
    ("return_air_dry_bulb", "supply_air_dry_bulb", "supply_over_return",
     "Supply air is warmer than return air in cooling: probes swapped, or no cooling. Airflow "
     "limits were not applied.", ("airflow",)),
    ("liquid_line_temperature", "outdoor_air_dry_bulb", "liquid_line_under_outdoor_air",
     "The liquid line is colder than the outdoor air that cools it: check the outdoor sensor and "
     "the clamp.", ()),
    ("condensing_temperature", "outdoor_air_dry_bulb", "condensing_under_outdoor_air",
     "The condensing temperature is under the outdoor air, so no heat can be rejected: check the "
     "pressure, the refrigerant and the outdoor sensor. Charge and refrigerant limits were not "
     "applied.", ("charge", "refrigerant")),
    ("return_air_dry_bulb", "suction_saturation_temperature", "evaporating_over_return_air",
     "The evaporator is warmer than the return air, so no heat can be taken up: check the "
     "pressure, the refrigerant and the return sensor. Charge and refrigerant limits were not "
     "applied.", ("charge", "refrigerant")),
)  # fmt: skip


def _readings_behind(case: Case, *names: str) -> tuple[str, ...]:
    sides = {
        "suction_saturation_temperature": ("suction_pressure", "suction_saturation_temperature"),
        "suction_pressure_absolute": ("suction_pressure", "suction_saturation_temperature"),
        "liquid_saturation_temperature": ("liquid_pressure", "liquid_saturation_temperature"),
        "condensing_temperature": (
            "discharge_pressure",
            "liquid_pressure",
            "liquid_saturation_temperature",
        ),
        "high_side_pressure_absolute": (
            "discharge_pressure",
            "liquid_pressure",
            "liquid_saturation_temperature",
        ),
    }
    found = [r for name in names for r in sides.get(name, (name,)) if r in case.visit.readings]
    return tuple(dict.fromkeys(found))


def _orders(case: Case) -> Iterator[Notice]:
    rows = _ORDER + (_COOLING_ORDER if case.request.unit.mode == "cooling" else ())
    for upper, lower, code, sentence, stops in rows:
        probability = case.below(upper, lower)
        if probability is not None and probability > SHOWN:
            yield Notice(
                code, "disqualifying" if stops else "reservation",
                _readings_behind(case, upper, lower), sentence, "plausible_windows", stops,
            )  # fmt: skip


def _plausible(values: Mapping[str, float]) -> int:
    """How many of the values lie outside their window of plausible operation."""
    return sum(
        not PLAUSIBLE[name][0] <= value <= PLAUSIBLE[name][1]
        for name, value in values.items()
        if name in PLAUSIBLE and np.isfinite(value)
    )


def _swapped_clamps(case: Case) -> Iterator[Notice]:
    if case.request.unit.mode != "cooling":
        return
    suction, liquid = (case.draws(f"{side}_line_temperature") for side in ("suction", "liquid"))
    dew, bubble = (case.draws(f"{side}_saturation_temperature") for side in ("suction", "liquid"))
    if suction is None or liquid is None or dew is None or bubble is None:
        return
    as_given = {"superheat": suction[0] - dew[0], "subcooling": bubble[0] - liquid[0]}
    swapped = {"superheat": liquid[0] - dew[0], "subcooling": bubble[0] - suction[0]}
    if suction[0] > liquid[0] and _plausible(as_given) and not _plausible(swapped):
        yield Notice(
            "line_clamps_swapped_suspected", "disqualifying",
            ("suction_line_temperature", "liquid_line_temperature"),
            "The suction line reads hotter than the liquid line, and the two readings would make "
            "sense swapped. Charge limits were not applied.",
            "plausible_windows", ("charge",),
        )  # fmt: skip


def _wrong_refrigerant(case: Case) -> Iterator[Notice]:
    visit = case.visit
    if case.request.unit.mode != "cooling" or visit.refrigerant is None:
        return
    pressures = [
        case.visit.leaves.get(R + name) for name in ("suction_pressure", "liquid_pressure")
    ]
    others = {
        "superheat": visit.nominal("suction_line_temperature"),
        "subcooling": visit.nominal("liquid_line_temperature"),
        "condensing_temperature_over_ambient": visit.nominal("outdoor_air_dry_bulb"),
        "evaporating_temperature_under_return_air": visit.nominal("return_air_dry_bulb"),
    }
    suction, liquid = (None if p is None else float(p[0]) for p in pressures)
    if suction is None or liquid is None:
        return

    def behaviour(designation: str) -> dict[str, float]:
        curves = saturation_curves(designation)
        dew = float(curves.dew_temperature(np.array([suction]))[0])
        bubble = float(curves.bubble_temperature(np.array([liquid]))[0])
        signs = {"superheat": 1.0, "subcooling": -1.0,
                 "condensing_temperature_over_ambient": -1.0,
                 "evaporating_temperature_under_return_air": 1.0}  # fmt: skip
        return {
            name: signs[name]
            * (other - (dew if name in ("superheat", "evaporating_temperature_under_return_air")
                        else bubble))
            for name, other in others.items()
            if other is not None
        }  # fmt: skip

    own = behaviour(visit.refrigerant.designation)
    if len(own) < 2 or _plausible(own) < 2:
        return
    fitting = [
        name
        for name in REFRIGERANTS
        if name != visit.refrigerant.designation
        and all(np.isfinite(list((found := behaviour(name)).values())))
        and _plausible(found) == 0
    ]
    if fitting:
        yield Notice(
            "wrong_refrigerant_suspected", "disqualifying", ("suction_pressure", "liquid_pressure"),
            f"The pressures do not behave like {visit.refrigerant.designation}: "
            f"{_plausible(own)} of {len(own)} derived values are out of any plausible range, while "
            f"they would fit {' or '.join(fitting[:3])}. Check the nameplate and what the gauges "
            "are set to. Charge and refrigerant limits were not applied.",
            "plausible_windows", ("charge", "refrigerant"),
        )  # fmt: skip


def _pressure_against_saturation(case: Case) -> Iterator[Notice]:
    for side in ("suction", "liquid"):
        name = f"{side}_saturation_temperature"
        read, derived = case.visit.nominal(name), case.derived.get(name)
        if read is None or derived is None or f"{side}_pressure" not in case.visit.readings:
            continue
        gap = abs(read - float(derived[0]))
        if gap > SATURATION_AGREEMENT:
            yield Notice(
                "pressure_and_saturation_disagree", "reservation", (f"{side}_pressure", name),
                f"The {side} pressure means {case.say('temperature', float(derived[0]))}, but "
                f"{case.say('temperature', read)} was read off the gauge: wrong refrigerant scale, "
                "altitude, or a slip. The pressure was used.",
                "ra3_saturation_reread",
            )  # fmt: skip


def _wet_bulb_against_humidity(case: Case) -> Iterator[Notice]:
    for side in ("return", "supply"):
        wet, humid = f"{side}_air_wet_bulb", f"{side}_air_relative_humidity"
        if {wet, humid} <= set(case.visit.readings):
            yield Notice(
                "humidity_given_twice", "note", (wet, humid),
                f"Both wet bulb and relative humidity of the {side} air were given; the wet bulb "
                "was used.",
                "definition",
            )  # fmt: skip
        dry = case.visit.nominal(f"{side}_air_dry_bulb")
        bulb = case.visit.nominal(wet)
        if dry is not None and bulb is not None and bulb > dry:
            yield Notice(
                "wet_bulb_over_dry_bulb", "reservation", (wet, f"{side}_air_dry_bulb"),
                f"The {side} wet bulb reads above the dry bulb, by no more than instruments can "
                "explain; the air was taken as it reads, slightly over saturation.",
                "ashrae_psychrometrics",
            )  # fmt: skip


def _site(case: Case) -> Iterator[Notice]:
    gauges = [n for n in ("suction_pressure", "liquid_pressure", "discharge_pressure")
              if n in case.visit.readings]  # fmt: skip
    if case.visit.assumed_sea_level and gauges:
        yield Notice(
            "sea_level_assumed", "note", tuple(gauges),
            "No altitude was given; gauge pressures were taken at sea level. At "
            f"{case.say('altitude', 1500.0)} saturation temperatures differ by about "
            f"{case.say('temperature_difference', 0.6)}.",
            "standard_atmosphere",
        )  # fmt: skip
    direct = [n for n in ("suction_saturation_temperature", "liquid_saturation_temperature")
              if n in case.visit.readings]  # fmt: skip
    altitude = case.request.site.altitude
    if direct and altitude is not None:
        metres = standard_altitude(case)
        if metres > NOTABLE_ALTITUDE:
            yield Notice(
                "dial_scale_at_altitude", "reservation", tuple(direct),
                "A temperature scale printed on a dial holds at sea level; at this altitude it "
                "reads high. Give the pressure, or use an instrument that knows the air pressure.",
                "standard_atmosphere",
            )  # fmt: skip


def standard_altitude(case: Case) -> float:
    """The site's altitude [m]; 0 where it was not given."""
    given = case.request.site.altitude
    if given is None:
        return 0.0
    unit = getattr(given, "unit", None) or system_unit("altitude", case.visit.system)
    return conversion("altitude", unit).to_si(getattr(given, "value", given))


def _gauges_zeroed(case: Case) -> Iterator[Notice]:
    for name in case.visit.unzeroed:
        touched = tuple(
            reading for reading, used in case.visit.instruments.items() if used.name == name
        )
        yield Notice(
            "gauge_not_zeroed", "disqualifying", touched,
            f"{name} did not read zero when open to the air, by more than its accuracy: zero it "
            "and read again. Charge and refrigerant limits were not applied.",
            "instrument_class", ("charge", "refrigerant"),
        )  # fmt: skip


def _start_winding_current(case: Case) -> Iterator[Notice]:
    given = case.visit.readings
    if "compressor_start_winding_current" in given and "compressor_common_current" not in given:
        yield Notice(
            "start_winding_current_is_not_the_draw", "note", ("compressor_start_winding_current",),
            "The current in the start-winding wire is the capacitor's current. It is not the "
            "compressor's draw, and no compressor power or load was computed from it; measure the "
            "common wire for that.",
            "circuit_theory",
        )  # fmt: skip


def _tolerance_assumed(case: Case) -> Iterator[Notice]:
    plate = case.request.unit.nameplate
    if plate is None or plate.capacitors is None:
        return
    for motor in ("compressor", "outdoor_fan", "indoor_blower"):
        part = getattr(plate.capacitors, motor)
        if part is not None and part.tolerance_percent is None:
            yield Notice(
                "capacitor_tolerance_assumed", "note", (f"capacitor_voltage.{motor}",),
                f"No tolerance is given for the {motor.replace('_', ' ')} capacitor; ±6 % was "
                "taken, the usual marking.",
                "capacitor_marking",
            )  # fmt: skip


CHECKS: tuple[Callable[[Case], Iterator[Notice]], ...] = (
    _running_time,
    _outdoor_range,
    _return_range,
    _no_superheat_target,
    _orders,
    _swapped_clamps,
    _wrong_refrigerant,
    _gauges_zeroed,
    _pressure_against_saturation,
    _wet_bulb_against_humidity,
    _site,
    _start_winding_current,
    _tolerance_assumed,
)

_WEIGHTS: tuple[Weight, ...] = ("disqualifying", "reservation", "note")


def check(case: Case) -> list[Notice]:
    """Everything noticed, weightiest first."""
    notices = [notice for one in CHECKS for notice in one(case)]
    return sorted(notices, key=lambda notice: _WEIGHTS.index(notice.weight))


def stopped(notices: list[Notice]) -> dict[str, str]:
    """Groups of limits that may not be applied, with the sentence that says why."""
    return {group: notice.sentence for notice in reversed(notices) for group in notice.stops}


def usability_answer(notices: list[Notice]) -> dict[str, Any]:
    """The usability part of an answer."""
    weights = {notice.weight for notice in notices}
    grade = (
        "not_usable"
        if "disqualifying" in weights
        else "usable_with_reservations"
        if "reservation" in weights
        else "usable"
    )
    return {
        "grade": grade,
        "notices": [
            {
                "code": notice.code,
                "weight": notice.weight,
                "readings": list(notice.readings),
                "sentence": notice.sentence,
                "source": source(notice.source),
            }
            for notice in notices
        ],
    }
