"""Is this reading set usable?  Checks that come before any limit is applied.

Impossible readings are refused by :mod:`service.intake`; improbable ones are assessed and flagged
(:func:`check`).  A check that the readings cannot support is silent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from schemas.assessments import SettlesIn, Usability, UsabilityGrade
from schemas.readings import READINGS
from service.assess import air, before_charge, electrical, heating, log_checks, mistaken, pressures
from service.assess.notices import Case, Notice, named, notice, readings_behind, share
from service.assess.pressures import pressures_in_another_unit, read_twice
from service.derive.computation import Computed
from service.derive.derivations import QUANTITIES
from service.intake.paths import READING
from service.physics.charge_targets import target_superheat_is_in_table
from service.reference.capacity_control import HIGHEST_SPEED, PARTLY_SETTLED
from service.reference.conditions import (
    EDGE,
    HARDLY_ANY_LIFT,
    HIGHEST_OUTDOOR,
    IDLE_COOLING,
    LITTLE_LIFT,
    LOWEST_OUTDOOR,
    LOWEST_RETURN,
    NEARLY_SETTLED_MINUTES,
    NO_CURRENT,
    RUNNING_MINUTES,
    SHOWN,
)
from service.reference.metering_devices import FIXED_DEVICES
from service.reference.notices import EXPLAINS, ORDERS, Weight
from service.reference.physical_bounds import PHYSICAL_BOUNDS
from service.reference.settling import JUST_STARTED
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.words import assessment as words
from service.words.phrases import unit_word

# ---------------------------------------------------------------- improbable


def _running_time(case: Case) -> Iterator[Notice]:
    minutes, logged = case.visit.minutes_running, case.visit.logged
    if minutes is None and logged is not None:
        return  # the log shows how steady its readings were
    if minutes is None:
        yield notice("steady_state_not_shown", ("minutes_running",))
    elif JUST_STARTED < minutes < RUNNING_MINUTES and logged is not None and logged.has_settled:
        yield notice("log_settled_early", ("minutes_running",), minutes=f"{round(minutes, 1):g}")
    elif minutes < RUNNING_MINUTES:
        early = "still_settling.early" if minutes < NEARLY_SETTLED_MINUTES else "still_settling.late"
        yield notice(
            "not_steady" if minutes <= JUST_STARTED else early, ("minutes_running",), minutes=f"{round(minutes, 1):g}"
        )


def _mode_is_given(case: Case) -> bool:
    """Whether the caller stated the mode; where not, cold air may come from a heating run."""
    return "mode" in case.request.unit.model_fields_set


def _outdoor_range(case: Case) -> Iterator[Notice]:
    outdoor = case.visit.nominal("outdoor_air_dry_bulb")
    if outdoor is None or case.request.unit.mode != "cooling":
        return
    behind, shown = ("outdoor_air_dry_bulb",), case.say("temperature", outdoor)
    if outdoor < LOWEST_OUTDOOR - EDGE:
        name = "outdoor_air_too_cold.mode_given" if _mode_is_given(case) else "outdoor_air_too_cold.mode_assumed"
        yield notice(name, behind, outdoor=shown, lowest=case.say("temperature", LOWEST_OUTDOOR))
    elif outdoor > HIGHEST_OUTDOOR + EDGE:
        highest = case.say("temperature", HIGHEST_OUTDOOR)
        yield notice("outdoor_air_very_hot", behind, outdoor=shown, highest=highest)


def _return_range(case: Case) -> Iterator[Notice]:
    indoor = case.visit.nominal("return_air_dry_bulb")
    if indoor is None or case.request.unit.mode != "cooling" or indoor >= LOWEST_RETURN - EDGE:
        return
    yield notice(
        "return_air_too_cold.mode_given" if _mode_is_given(case) else "return_air_too_cold.mode_assumed",
        ("return_air_dry_bulb",),
        stops=("charge",) if case.request.unit.metering_device in FIXED_DEVICES else (),
        indoor=case.say("temperature", indoor),
        lowest=case.say("temperature", LOWEST_RETURN),
    )


_CHARGE_READINGS = (
    "suction_pressure",
    "suction_saturation_temperature",
    "liquid_pressure",
    "liquid_saturation_temperature",
)


def _outdoor_not_given(case: Case) -> Iterator[Notice]:
    given = case.visit.readings
    charged = [name for name in _CHARGE_READINGS if name in given]
    if charged and "outdoor_air_dry_bulb" not in given and case.request.unit.mode == "cooling":
        yield notice("test_range_not_shown", charged, lowest=case.say("temperature", LOWEST_OUTDOOR))


def _nothing_derived(case: Case) -> Iterator[Notice]:
    if not case.derived:
        yield notice("nothing_derived", case.visit.readings)


def _not_used(case: Case) -> Iterator[Notice]:
    """Readings that nothing could be derived from."""
    used = frozenset(case.used)
    twice = read_twice(case)
    idle = tuple(name for name in case.visit.readings if READING + name not in used and name not in twice)
    if idle:
        yield notice("readings_not_used", idle, lambda: {"readings": named(*idle)})


def _design(case: Case) -> Iterator[Notice]:
    unit, kind = case.request.unit, case.unit
    unsettled = kind.unsettled is not None
    speed = case.request.run.speed_percent
    if speed is not None and speed > HIGHEST_SPEED:
        yield notice("speed_over_any", ("speed_percent",), speed=f"{speed:g}")
    if unsettled:
        code = "variable_speed" if unit.capacity_control == "variable_speed" else "stage_not_known"
        yield notice(f"{code}.heating" if unit.mode == "heating" else code)
    elif kind.running in PARTLY_SETTLED:
        yield notice(kind.running)
    if unit.circuits > 1:
        yield notice("several_circuits")
    if not unsettled and not unit.ducted:
        yield notice("ductless")
    if unit.mode == "heating":
        yield notice("heating_not_graded")
    if unit.metering_device is None and {"superheat", "subcooling"} & set(case.derived):
        yield notice("metering_device_not_given")


def _no_superheat_target(case: Case) -> Iterator[Notice]:
    target = case.derived.get("target_superheat")
    indoor = case.visit.nominal("return_air_dry_bulb")
    if target is None or np.isfinite(target[0]):
        return
    if indoor is not None and indoor < LOWEST_RETURN - EDGE:
        return  # already said, with the cause
    outdoor, bulb = (case.draws(n) for n in ("outdoor_air_dry_bulb", "return_air_wet_bulb"))
    assert outdoor is not None
    assert bulb is not None
    inside = target_superheat_is_in_table(outdoor[:1], bulb[:1])[0]
    yield notice(
        "no_superheat_target.dash" if inside else "no_superheat_target.outside",
        ("outdoor_air_dry_bulb", "return_air_wet_bulb"),
    )


def _not_pumping(case: Case) -> Iterator[Notice]:
    """A small pressure ratio alone, or a fairly small one with nothing cooled."""
    ratio = case.derived.get("compression_ratio")
    if ratio is None:
        return

    def shown_under(limit: float) -> bool:
        return share(ratio[1:] < limit) > SHOWN

    idle = any(name in case.derived and float(case.derived[name][0]) < least for name, least in IDLE_COOLING.items())
    cooling = case.request.unit.mode == "cooling"
    if mistaken.hot_vapour_line(case) or pressures_in_another_unit(case):
        return  # Both gauges on the hot side of heating, or no gauge pressures at all.
    if shown_under(HARDLY_ANY_LIFT) or (cooling and idle and shown_under(LITTLE_LIFT)):
        # Pressures the wrong way round do differ, and have one more cause.
        swapped = shown_under(1.0)
        yield notice(
            "not_pumping_suspected.wrong_way_round" if swapped else "not_pumping_suspected.hardly_any_lift",
            readings_behind(case, "suction_pressure_absolute", "high_side_pressure_absolute"),
            ratio=f"{float(ratio[0]):.2f}",
        )


def _no_current(case: Case) -> Iterator[Notice]:
    for name in ("compressor_common_current", "outdoor_fan_current", "indoor_blower_current"):
        amps = case.visit.nominal(name)
        if amps is not None and amps < NO_CURRENT:
            yield notice("no_current", (name,), reading=named(name), current=case.say("current", amps))


def _orders(case: Case) -> Iterator[Notice]:
    for row in ORDERS:
        if case.request.unit.mode in row.modes and case.is_below(row.upper, row.lower):
            weight: Weight = "disqualifying" if row.stops else "reservation"
            readings = readings_behind(case, row.upper, row.lower)
            yield Notice(row.code, weight, readings, row.text, row.source, row.stops)


def _gauges_zeroed(case: Case) -> Iterator[Notice]:
    for name in case.visit.unzeroed:
        touched = [reading for reading, used in case.visit.instruments.items() if used.name == name]
        yield notice("gauge_not_zeroed", touched, instrument=name)


def _left_out(case: Case) -> Iterator[Notice]:
    """Readings that cannot be right, which the intake left out."""
    for one in case.visit.left_out:
        name, taken, meant = one.readings[0], unit_word(one.taken), unit_word(one.meant or "")
        kind = READINGS[name].kind
        value = f"{conversion(kind, one.taken).from_si(one.value):.4g} {taken}"
        if one.row is not None:
            on = words.with_the(one.of, one.row.kind, case.visit.system)
            bounds = words.about(kind, one.bounds, one.value, case.visit.system)
            said = {"reading": named(name), "value": value, "on": on, "bounds": bounds}
            yield notice("reading_not_possible", one.readings, **said, cause=words.cause_of(meant, one.row.hint))
        elif len(one.readings) > 1:
            names = named(*one.readings)
            yield notice("temperatures_in_another_unit.several", one.readings, readings=names, taken=taken, meant=meant)
        else:
            said = {"reading": named(name), "value": value, "meant": meant}
            yield notice("temperatures_in_another_unit.one", one.readings, **said)


def _value_not_possible(case: Case) -> Iterator[Notice]:
    """Derived values outside what is possible at all."""
    for name, row in PHYSICAL_BOUNDS.items():
        draws = case.derived.get(name)
        if draws is None or row.low <= draws[0] <= row.high or np.isnan(draws[0]):
            continue
        over = draws[0] > row.high
        if share(draws[1:] > row.high if over else draws[1:] < row.low) <= row.shown:
            continue
        kind, label = QUANTITIES[name].kind, QUANTITIES[name].label
        readings = [leaf.removeprefix(READING) for leaf in case.depends[name] if leaf.startswith(READING)]
        found = notice(
            "value_not_possible",
            readings,
            quantities=(name, *row.also),
            quantity=label,
            value=case.say(kind, float(draws[0])),
            side="above" if over else "below",
            bound=case.say(kind, row.high if over else row.low),
            why=row.why,
            behind=named(*readings),
        )
        yield replace(found, source=row.source)


def _scatter_of_repeats(case: Case) -> Iterator[Notice]:
    for one in case.visit.unsteady:
        symbol = system_unit(one.kind, case.visit.system)
        scale, unit = conversion(one.kind, symbol).scale, unit_word(symbol)
        scatter, stated = (f"{value / scale:.3g} {unit}".rstrip() for value in (one.deviation, one.repeatability))
        count, reading = str(one.count), named(one.name)
        yield notice("scatter_of_repeats", (one.name,), count=count, reading=reading, scatter=scatter, stated=stated)


CHECKS: tuple[Callable[[Case], Iterator[Notice]], ...] = (
    *before_charge.CHECKS,
    *heating.CHECKS,
    _running_time,
    *log_checks.CHECKS,
    _outdoor_range,
    _outdoor_not_given,
    _return_range,
    _design,
    _no_superheat_target,
    _not_pumping,
    _orders,
    _no_current,
    _gauges_zeroed,
    _left_out,
    _value_not_possible,
    _scatter_of_repeats,
    *mistaken.CHECKS,
    *pressures.CHECKS,
    *air.CHECKS,
    *electrical.CHECKS,
    _nothing_derived,
    _not_used,
)

_WEIGHTS: tuple[Weight, ...] = ("disqualifying", "reservation", "note")


def check(case: Case) -> list[Notice]:
    """Everything noticed, weightiest first, without what another notice explains."""
    notices = [notice for one in CHECKS for notice in one(case)]
    explained = {code for n in notices for code in EXPLAINS.get(n.code, ())}
    misread = {name for one in to_settle(notices) for name in one.readings}
    return by_weight(
        [
            one
            for one in notices
            if one.code not in explained and not (one.quantities and misread.intersection(one.readings))
        ]
    )


def by_weight(notices: list[Notice]) -> list[Notice]:
    """Weightiest first."""
    return sorted(notices, key=lambda notice: _WEIGHTS.index(notice.weight))


def stopping(notices: list[Notice]) -> dict[str, Notice]:
    """Groups of limits that may not be applied, each with the weightiest notice that stops it."""
    return {
        group: notice
        for notice in reversed(notices)
        # What stops the refrigerant side from being judged makes its capacity unknowable too.
        for group in _stopped_with(notice.stops)
    }


def _stopped_with(stops: tuple[str, ...]) -> tuple[str, ...]:
    """The groups named and those that fall with them."""
    found = list(stops)
    if "refrigerant" in stops:
        found += ["freezing", "heating_flooding"]
    if {"refrigerant", "performance"} & {*stops}:
        found += ["performance", "efficiency"]
    return tuple(found)


def not_judged(notices: list[Notice], computed: Computed) -> dict[str, Notice]:
    """Quantities that are not judged, each with the weightiest notice that says why: those that depend on readings
    that are not what they are called, and those that no physics allows."""
    return {
        name: one
        for one in reversed(notices)
        for name in (*one.quantities, *(computed.follow_from(one.readings) if one.settle else ()))
    }


def to_settle(notices: list[Notice]) -> list[Notice]:
    """What has to be settled first, as its readings are not what they are called."""
    return [one for one in notices if one.settle]


def unmet(notices: list[Notice]) -> dict[str, str]:
    """Groups of limits of which a condition of the published procedure is not met, with that condition in words."""
    return {group: notice.condition for notice in reversed(notices) for group in notice.unmet}


def grade_of(notices: list[Notice]) -> UsabilityGrade:
    """The grade of usability that notices leave."""
    weights = {notice.weight for notice in notices}
    if "disqualifying" in weights:
        return "not_usable"
    return "usable_with_reservations" if "reservation" in weights else "usable"


def usability_answer(notices: list[Notice], settles: SettlesIn | None) -> Usability:
    """The usability part of an answer; ``settles`` is when the readings of a log will have settled."""
    return {
        "grade": grade_of(notices),
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
        "settles_in": settles,
    }
