"""Is this reading set usable?  Checks that come before any limit is applied.

Impossible readings are refused (:func:`refuse_impossible`); improbable ones are assessed and
flagged (:func:`check`).  A check that the readings cannot support is silent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np

from schemas.assessments import Usability, UsabilityGrade
from service.assess import before_charge, heating, mistaken
from service.assess.notices import Case, Notice, fixed, readings_behind, share
from service.derive.derivations import CAPACITOR_CURRENT
from service.intake.paths import (
    CURVES,
    DIAL_TEMPERATURES,
    GAUGE_PRESSURES,
    MOTORS,
    NAMEPLATE,
    READING,
    SITE_PRESSURE,
)
from service.physics.charge_targets import target_superheat_is_in_table
from service.physics.moist_air import (
    relative_humidity,
    standard_atmosphere_pressure,
)
from service.reference.capacity_control import PARTLY_SETTLED
from service.reference.conditions import (
    BAROMETER_DISAGREEMENT,
    CAPACITOR_OVER_LINE,
    CAPACITOR_TOLERANCE,
    EDGE,
    HARDLY_ANY_LIFT,
    HIGHEST_OUTDOOR,
    HUMIDITY_DISAGREEMENT,
    IDLE_COOLING,
    LITTLE_LIFT,
    LOWEST_DIAL_PRESSURE,
    LOWEST_HUMIDITY,
    LOWEST_OUTDOOR,
    LOWEST_RETURN,
    LOWEST_SPLIT_PRESSURE,
    NO_CURRENT,
    RUNNING_MINUTES,
    SHOWN,
)
from service.reference.metering_devices import FIXED_DEVICES
from service.reference.notices import ORDERS, Weight
from service.reference.site import STANDARD_PRESSURE
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.words.phrases import first_sentence, unit_word

# ---------------------------------------------------------------- improbable


def _running_time(case: Case) -> Iterator[Notice]:
    minutes = case.request.run.minutes_running
    if minutes is None:
        yield fixed("steady_state_not_shown", ("minutes_running",))
    elif minutes < RUNNING_MINUTES:
        yield Notice(
            "not_steady",
            "disqualifying",
            ("minutes_running",),
            f"The unit had run {minutes:g} minutes, and charge and airflow are judged after "
            f"{RUNNING_MINUTES:.0f}. Charge, refrigerant and airflow limits were not applied.",
            "ra3_running_time",
            ("charge", "refrigerant", "airflow"),
        )


def _mode_hint(case: Case) -> str:
    """Which field to set where cold air may come from a heating run, and no mode was given."""
    if "mode" in case.request.unit.model_fields_set:
        return ""
    return "If the unit was heating, set unit.mode to heating. "


def _outdoor_range(case: Case) -> Iterator[Notice]:
    outdoor = case.visit.nominal("outdoor_air_dry_bulb")
    if outdoor is None or case.request.unit.mode != "cooling":
        return
    if outdoor < LOWEST_OUTDOOR - EDGE:
        yield Notice(
            "outdoor_air_too_cold",
            "disqualifying",
            ("outdoor_air_dry_bulb",),
            f"Outdoor air is {case.say('temperature', outdoor)}, and below "
            f"{case.say('temperature', LOWEST_OUTDOOR)} pressures do not show the charge. "
            f"Weigh it in, or use the maker's cold-weather procedure. {_mode_hint(case)}Charge and "
            "refrigerant limits were not applied.",
            "ra3_outdoor_limit",
            ("charge", "refrigerant"),
        )
    elif outdoor > HIGHEST_OUTDOOR + EDGE:
        yield Notice(
            "outdoor_air_very_hot",
            "reservation",
            ("outdoor_air_dry_bulb",),
            f"Outdoor air is {case.say('temperature', outdoor)}, and the target tables end at "
            f"{case.say('temperature', HIGHEST_OUTDOOR)}.",
            "ra3_target_superheat",
        )


def _return_range(case: Case) -> Iterator[Notice]:
    indoor = case.visit.nominal("return_air_dry_bulb")
    if indoor is None or case.request.unit.mode != "cooling" or indoor >= LOWEST_RETURN - EDGE:
        return
    fixed = case.request.unit.metering_device in FIXED_DEVICES
    yield Notice(
        "return_air_too_cold",
        "reservation",
        ("return_air_dry_bulb",),
        f"Return air is {case.say('temperature', indoor)}, and the target tables begin at "
        f"{case.say('temperature', LOWEST_RETURN)}. Let the building warm up and read again. "
        f"{_mode_hint(case)}Limits that need the tables were not applied.",
        "ra3_return_minimum",
        ("airflow", "charge") if fixed else ("airflow",),
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
        yield Notice(
            "test_range_not_shown",
            "reservation",
            tuple(charged),
            "Outdoor air is not given, so it may be too cold to judge the charge (below "
            f"{case.say('temperature', LOWEST_OUTDOOR)}).",
            "ra3_outdoor_limit",
        )


def _nothing_derived(case: Case) -> Iterator[Notice]:
    if not case.derived:
        yield fixed("nothing_derived", case.visit.readings)


def _not_used(case: Case) -> Iterator[Notice]:
    """Readings that nothing could be derived from."""
    used = frozenset(case.used)
    twice = mistaken.read_twice(case)
    idle = tuple(name for name in case.visit.readings if READING + name not in used and name not in twice)
    if idle:
        yield Notice(
            "readings_not_used",
            "note",
            idle,
            f"Nothing was derived from {', '.join(name.replace('_', ' ') for name in idle)}, because "
            "another reading or a rating is missing.",
            "definition",
        )


#: What needs a stage or speed that is known, by mode.
_NOT_APPLIED = {
    "cooling": "Targets for superheat, subcooling and the temperature split, shares of the rating and airflow for the "
    "rated capacity were not applied.",
    "heating": "Shares of the rating were not applied.",
}


def _design(case: Case) -> Iterator[Notice]:
    unit, kind = case.request.unit, case.unit
    unsettled = kind.unsettled
    partly = PARTLY_SETTLED.get(kind.running)
    if unsettled is not None:
        variable = unit.capacity_control == "variable_speed"
        yield Notice(
            "variable_speed" if variable else "stage_not_known",
            "reservation",
            (),
            f"{unsettled.reason} {_NOT_APPLIED[unit.mode]} {unsettled.remedy}",
            # A valve holds superheat within its usual range in either stage.
            unsettled.source,
            ("airflow", "charge") if variable else ("airflow",),
        )
    elif partly is not None:
        yield Notice(kind.running, "note", (), f"{partly.reason} {partly.remedy}", partly.source)
    if unit.circuits > 1:
        yield fixed("several_circuits")
    if unsettled is None and not unit.ducted:
        yield fixed("ductless")
    if unit.mode == "heating":
        yield fixed("heating_not_graded")
    if unit.metering_device is None and {"superheat", "subcooling"} & set(case.derived):
        yield fixed("metering_device_not_given")


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
    cause = (
        "At these conditions the target superheat is too small to test (a dash in the table)"
        if inside
        else "The conditions are outside the table of target superheat"
    )
    yield Notice(
        "no_superheat_target",
        "reservation",
        ("outdoor_air_dry_bulb", "return_air_wet_bulb"),
        f"{cause}. Weigh the charge in, use the maker's chart, or read again on another day.",
        "ra3_target_superheat",
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
    if mistaken.hot_vapour_line(case) or mistaken.pressures_in_another_unit(case):
        return  # Both gauges on the hot side of heating, or no gauge pressures at all.
    if shown_under(HARDLY_ANY_LIFT) or (cooling and idle and shown_under(LITTLE_LIFT)):
        # Pressures the wrong way round do differ, and have one more cause.
        found = (
            "The high side reads below the suction side (ratio {}): the gauges are swapped, or the "
            "compressor is off, stalled or not pumping"
            if shown_under(1.0)
            else "The pressures hardly differ (ratio {}): the compressor is off, stalled or not pumping"
        ).format(f"{float(ratio[0]):.2f}")
        yield Notice(
            "not_pumping_suspected",
            "disqualifying",
            readings_behind(case, "suction_pressure_absolute", "high_side_pressure_absolute"),
            f"{found}. Do not add refrigerant. Charge and refrigerant limits were not applied.",
            "plausible_windows",
            ("charge", "refrigerant", "floodback", "pressures"),
        )


def _no_current(case: Case) -> Iterator[Notice]:
    for name in ("compressor_common_current", "outdoor_fan_current", "indoor_blower_current"):
        amps = case.visit.nominal(name)
        if amps is not None and amps < NO_CURRENT:
            yield Notice(
                "no_current",
                "reservation",
                (name,),
                f"The {name.replace('_', ' ')} reads {case.say('current', amps)}. The motor is not "
                "running, or the clamp is around the wrong wire or around two wires.",
                "safety_practice",
            )


def _orders(case: Case) -> Iterator[Notice]:
    for row in ORDERS:
        if case.request.unit.mode in row.modes and case.is_below(row.upper, row.lower):
            yield Notice(
                row.code,
                "disqualifying" if row.stops else "reservation",
                readings_behind(case, row.upper, row.lower),
                row.text,
                row.source,
                row.stops,
            )


def _dry_air(case: Case, side: str) -> Iterator[Notice]:
    """Air drier than in any house, whether its humidity was read or follows from a wet bulb."""
    wet, humid = f"{side}_air_wet_bulb", f"{side}_air_relative_humidity"
    read, given = case.visit.nominal(humid), wet in case.visit.readings
    if read is not None and read < LOWEST_HUMIDITY:
        yield Notice(
            "humidity_very_low",
            "reservation",
            (humid,),
            f"The relative humidity of the {side} air is {case.say('fraction', read)}. Was it given as a "
            "fraction instead of a percentage?",
            "plausible_windows",
        )
    follows, ratio = case.derived.get(humid), case.derived.get(f"{side}_air_humidity_ratio")
    if not given or follows is None or ratio is None:
        return
    behind = (wet, f"{side}_air_dry_bulb")
    bulb = case.say("temperature", case.visit.readings[wet])
    if np.isnan(ratio[0]):
        yield Notice(
            "wet_bulb_too_low",
            "reservation",
            behind,
            f"The {side} wet bulb of {bulb} is slightly below that of perfectly dry air at this dry bulb, by "
            "no more than the instruments' error. Check both readings. No humidity, enthalpy or capacity "
            "was derived from them.",
            "ashrae_psychrometrics",
        )
    elif read is None and follows[0] < LOWEST_HUMIDITY:
        yield Notice(
            "humidity_very_low",
            "reservation",
            behind,
            f"The {side} wet bulb of {bulb} means a relative humidity of "
            f"{case.say('fraction', float(follows[0]))}, drier than in any house. Check both readings.",
            "plausible_windows",
        )


def _wet_bulb_against_humidity(case: Case) -> Iterator[Notice]:
    for side in ("return", "supply"):
        wet, humid = f"{side}_air_wet_bulb", f"{side}_air_relative_humidity"
        if {wet, humid} <= set(case.visit.readings):
            yield Notice(
                "humidity_given_twice",
                "note",
                (wet, humid),
                f"Both wet bulb and relative humidity of the {side} air were given. The wet bulb was used.",
                "definition",
            )
        yield from _dry_air(case, side)
        humidity = case.visit.nominal(humid)
        from_bulb = case.derived.get(f"{side}_air_humidity_ratio")
        if humidity is not None and wet in case.visit.readings and from_bulb is not None:
            dry_draws = case.visit.leaves[READING + f"{side}_air_dry_bulb"]
            air = case.visit.leaves[SITE_PRESSURE]
            implied = float(relative_humidity(dry_draws[0], from_bulb[0], air[0]))
            if abs(implied - humidity) > HUMIDITY_DISAGREEMENT:
                yield Notice(
                    "wet_bulb_and_humidity_disagree",
                    "reservation",
                    (wet, humid),
                    f"The {side} wet bulb means a relative humidity of {case.say('fraction', implied)}, but "
                    f"{case.say('fraction', humidity)} was read. One of the two is wrong.",
                    "ashrae_psychrometrics",
                )
        dry = case.visit.nominal(f"{side}_air_dry_bulb")
        bulb = case.visit.nominal(wet)
        if dry is not None and bulb is not None and bulb > dry:
            yield Notice(
                "wet_bulb_over_dry_bulb",
                "reservation",
                (wet, f"{side}_air_dry_bulb"),
                f"The {side} wet bulb reads above the dry bulb, by no more than the instruments can "
                "explain. The readings were used as they are, slightly above saturation.",
                "ashrae_psychrometrics",
            )


def _site(case: Case) -> Iterator[Notice]:
    visit = case.visit
    gauges = [name for name in GAUGE_PRESSURES if name in visit.readings]
    moist = [n for n in visit.readings if n.endswith(("wet_bulb", "relative_humidity"))]
    if visit.assumed_sea_level and (gauges or moist):
        yield Notice(
            "sea_level_assumed",
            "note",
            tuple(gauges or moist),
            lambda: "No altitude was given, so sea level was assumed." + _at_altitude(case),
            "standard_atmosphere",
        )
    if SITE_PRESSURE not in visit.leaves:
        return
    pressure = float(visit.leaves[SITE_PRESSURE][0])
    stated = visit.stated_altitude_pressure
    if stated is not None and abs(stated - pressure) > BAROMETER_DISAGREEMENT:
        yield Notice(
            "altitude_and_barometer_disagree",
            "reservation",
            (),
            f"The barometer reads {case.say('absolute_pressure', pressure)}, but at the altitude given "
            f"the air pressure is about {case.say('absolute_pressure', stated)}. Was the barometer's "
            "value reduced to sea level? It was used as given.",
            "standard_atmosphere",
        )
    direct = [name for name in DIAL_TEMPERATURES if name in visit.readings]
    if direct and pressure < LOWEST_DIAL_PRESSURE:
        yield fixed("dial_scale_at_altitude", direct)
    if pressure < LOWEST_SPLIT_PRESSURE and "target_temperature_split" in case.derived:
        yield fixed("split_target_at_altitude", ("return_air_dry_bulb", "supply_air_dry_bulb"))


def _at_altitude(case: Case) -> str:
    """What 1,500 m would change, for this refrigerant and suction pressure."""
    pressure = case.visit.leaves.get(READING + "suction_pressure")
    curves = case.visit.leaves.get(CURVES)
    if pressure is None or curves is None:
        return ""
    metres = 1524.0 if case.visit.system == "imperial" else 1500.0  # a round number in either
    higher = float(standard_atmosphere_pressure(metres)) - STANDARD_PRESSURE
    both = np.array([pressure[0], pressure[0] + higher])
    low, high = curves.dew_temperature(both)
    change = float(low - high)
    if not np.isfinite(change):
        return ""
    return (
        f" At {case.say('altitude', metres)} the suction saturation temperature would be "
        f"{case.say('temperature_difference', change)} lower."
    )


def _static_pressure(case: Case) -> Iterator[Notice]:
    back = case.visit.nominal("return_static_pressure")
    if back is not None and back > 0.0:
        yield fixed("return_static_pressure_positive", ("return_static_pressure",))


def _capacitor_voltage(case: Case) -> Iterator[Notice]:
    line = case.visit.nominal("line_voltage")
    for motor in MOTORS:
        across = case.visit.nominal(f"capacitor_voltage.{motor}")
        amps = case.visit.nominal(CAPACITOR_CURRENT[motor])
        # Line voltage with no current is what an open capacitor shows: that one is graded.
        if not line or across is None or amps is None or amps < NO_CURRENT:
            continue
        if abs(across / line - 1.0) < CAPACITOR_OVER_LINE:
            words = motor.replace("_", " ")
            yield Notice(
                "capacitor_voltage_like_line",
                "reservation",
                (f"capacitor_voltage.{motor}", "line_voltage"),
                f"The voltage across the {words} run capacitor ({case.say('voltage', across)}) equals "
                f"the line voltage ({case.say('voltage', line)}), but it is usually well above it. Was it "
                f"read across the line? The limit for the {words} capacitor was not applied.",
                "capacitor_voltage_practice",
                (f"{motor}_capacitor",),
            )


def _gauges_zeroed(case: Case) -> Iterator[Notice]:
    for name in case.visit.unzeroed:
        touched = tuple(reading for reading, used in case.visit.instruments.items() if used.name == name)
        yield Notice(
            "gauge_not_zeroed",
            "disqualifying",
            touched,
            f'The instrument "{name}" did not read zero when open to the air. Zero it and read '
            "again. Charge and refrigerant limits were not applied.",
            "instrument_class",
            ("charge", "refrigerant", "floodback", "pressures"),
        )


def _scatter_of_repeats(case: Case) -> Iterator[Notice]:
    for one in case.visit.unsteady:
        symbol = system_unit(one.kind, case.visit.system)
        scale, unit = conversion(one.kind, symbol).scale, unit_word(symbol)
        scatter, stated = (f"{value / scale:.3g} {unit}".rstrip() for value in (one.deviation, one.repeatability))
        yield Notice(
            "scatter_of_repeats",
            "reservation",
            (one.name,),
            f"The {one.count} repeats of the {one.name.replace('_', ' ').replace('.', ' ')} scatter with "
            f"a standard deviation of {scatter}, far more than the instrument's repeatability of {stated}, so "
            "the reading was not steady. Their mean was used, with the scatter in its band. Let the unit "
            "settle and read again.",
            "scatter_of_repeats",
        )


def _start_winding_current(case: Case) -> Iterator[Notice]:
    given = case.visit.readings
    if "compressor_start_winding_current" in given and "compressor_common_current" not in given:
        yield fixed("start_winding_current_is_not_the_draw", ("compressor_start_winding_current",))


def _tolerance_assumed(case: Case) -> Iterator[Notice]:
    plate = case.request.unit.nameplate
    if plate is None or plate.capacitors is None:
        return
    for motor in MOTORS:
        part = getattr(plate.capacitors, motor)
        if part is not None and part.tolerance_percent is None:
            yield Notice(
                "capacitor_tolerance_assumed",
                "note",
                (f"capacitor_voltage.{motor}",),
                f"No tolerance is given for the {motor.replace('_', ' ')} capacitor, so the usual marking of "
                f"±{CAPACITOR_TOLERANCE:g} % was assumed.",
                "capacitor_marking",
            )


def _plate_presumed(case: Case) -> Iterator[Notice]:
    presumed, plate = case.visit.presumed_plate, case.request.unit.nameplate
    if presumed is None or plate is None:
        return
    row = presumed.plate
    both = f"{row.lower:g}/{row.higher:g} V"
    taken = (
        f"a {both} nameplate was assumed, which allows {row.lowest:g} to "
        f"{case.visit.leaves[NAMEPLATE + 'highest_voltage']:.0f} V"
    )
    if presumed.shows.startswith(READING):
        readings = tuple(n for n in case.visit.readings if n.startswith("line_voltage"))
        yield Notice(
            "dual_voltage_plate_presumed",
            "reservation",
            readings,
            f"The nameplate voltage is given as {row.higher:g} V, but the line voltage is that of a "
            f"{row.lower:g} V supply, so {taken}. Read the nameplate again. If it says {row.higher:g} V "
            f"only, set its lowest voltage to {0.9 * row.higher:.0f} V.",
            "dual_voltage",
        )
    else:
        yield Notice(
            "dual_voltage_plate_presumed",
            "note",
            (),
            f"The nameplate voltage is given as {row.higher:g} V on a nominal supply of "
            f"{plate.nominal_supply_voltage:g} V, so {taken}. If the nameplate gives another range, state "
            "its lowest voltage.",
            "dual_voltage",
        )


CHECKS: tuple[Callable[[Case], Iterator[Notice]], ...] = (
    *before_charge.CHECKS,
    *heating.CHECKS,
    _running_time,
    _outdoor_range,
    _outdoor_not_given,
    _return_range,
    _design,
    _no_superheat_target,
    _not_pumping,
    _orders,
    _no_current,
    _gauges_zeroed,
    _scatter_of_repeats,
    *mistaken.CHECKS,
    _wet_bulb_against_humidity,
    _site,
    _static_pressure,
    _capacitor_voltage,
    _start_winding_current,
    _plate_presumed,
    _tolerance_assumed,
    _nothing_derived,
    _not_used,
)

_WEIGHTS: tuple[Weight, ...] = ("disqualifying", "reservation", "note")


#: Notices that only repeat what a weightier one has already explained.
_EXPLAINS: Mapping[str, frozenset[str]] = {
    "nearly_empty_suspected": frozenset(
        {"not_credible", "condensing_under_outdoor_air", "liquid_line_over_saturation", "wrong_refrigerant_suspected"}
    ),
    "motor_not_running": frozenset({"no_current"}),
    "unit_is_off": frozenset({"no_current"}),
    **mistaken.EXPLAINS,
    **heating.EXPLAINS,
    "not_pumping_suspected": frozenset(
        {
            "not_credible",
            "condensing_under_outdoor_air",
            "evaporating_over_return_air",
            "suction_line_under_saturation",
            "liquid_line_over_saturation",
            "discharge_under_condensing",
            "evaporating_over_outdoor_air",
            "condensing_under_return_air",
        }
    ),
}


def check(case: Case) -> list[Notice]:
    """Everything noticed, weightiest first, without what another notice explains."""
    notices = [notice for one in CHECKS for notice in one(case)]
    explained = {code for n in notices for code in _EXPLAINS.get(n.code, ())}
    return by_weight([notice for notice in notices if notice.code not in explained])


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


def stopped(notices: list[Notice]) -> dict[str, str]:
    """Groups of limits that may not be applied, with the reason."""
    # Its first sentence is the reason; the rest says what to do, and which limits were left out.
    return {group: first_sentence(notice.sentence) for group, notice in stopping(notices).items()}


def grade_of(notices: list[Notice]) -> UsabilityGrade:
    """The grade of usability that notices leave."""
    weights = {notice.weight for notice in notices}
    if "disqualifying" in weights:
        return "not_usable"
    return "usable_with_reservations" if "reservation" in weights else "usable"


def usability_answer(notices: list[Notice]) -> Usability:
    """The usability part of an answer."""
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
    }
