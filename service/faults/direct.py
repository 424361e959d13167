"""Faults that show in one derived value against its limit; they need no model of the cycle."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

import numpy as np

from service.assess.before_charge import signs_of_starvation
from service.assess.findings import bounds_of
from service.compare.quantities import share
from service.derive.derivations import QUANTITIES
from service.derive.examined import Examined
from service.intake.paths import READING
from service.reference.conditions import HARDLY_ANY_LIFT, LOWEST_RETURN, NO_CURRENT, SHOWN
from service.reference.faults import (
    ALL_SIGNS_AGREE,
    FAN_UNREAD,
    FAN_WITHOUT_CURRENT,
    FAR_OVER_AMBIENT,
    FAULTS,
    FOUND,
    RUNS_UNREAD,
    SUSPECTED,
)
from service.reference.limits import LIMITS
from service.reference.metering_devices import EXPANSION_VALVES
from service.reference.sources import source
from service.uncertainty.normal import cumulative
from service.words import diagnosis as words


@dataclass(frozen=True, slots=True)
class Direct:
    """One such fault: its probability, and the sentence about what was found."""

    fault: str
    probability: float
    sentence: str


def direct(visit: Examined, noticed: Container[str]) -> list[Direct]:
    """All that the visit's readings can show.

    ``noticed`` are the codes of the assessment's notices.
    """
    found = []
    for row in FAULTS.values():
        if row.shown != "direct":
            continue
        own = [one for name in row.limits if (one := _against(row.id, name, visit)) is not None]
        if own:
            found.append(max(own, key=lambda one: share(one.probability)))
    stalled = any(one.fault == "compressor_stalled" and one.probability >= FOUND for one in found)
    others = [_cool_return_air(visit), _fan(visit)]
    if not stalled and "not_pumping_suspected" in noticed:
        others.append(_not_pumping(visit))
    if "nearly_empty_suspected" in noticed and "evaporating_temperature" not in visit.doubted:
        others.append(_nearly_empty(visit))
    return found + [one for one in others if one is not None]


def _cool_return_air(visit: Examined) -> Direct | None:
    """Return air too cool to judge superheat by; with a valve, subcooling judges the charge."""
    draws = visit.visit.leaves.get(READING + "return_air_dry_bulb")
    if (
        not isinstance(draws, np.ndarray)
        or visit.unit.mode != "cooling"
        or visit.unit.device in EXPANSION_VALVES
        or READING + "return_air_dry_bulb" in visit.doubted
    ):
        return None
    text = words.cool_return_air(float(draws[0]), LOWEST_RETURN, visit.visit.system)
    return Direct("low_load", float(np.mean(draws[1:] < LOWEST_RETURN)), text)


def _usual_over_ambient(visit: Examined) -> float:
    """Upper end of the usual condensing temperature over ambient [K]."""
    bounds = bounds_of(LIMITS["condensing_over_ambient_usual"], visit.visit)
    upper = None if bounds is None else bounds[1]
    return FAR_OVER_AMBIENT if upper is None else upper


def _fan(visit: Examined) -> Direct | None:
    """An outdoor fan that is not turning: by its current, and by how the heat is rejected."""
    amps = visit.visit.nominal("outdoor_fan_current")
    if amps is not None and amps >= NO_CURRENT:
        return None
    system = visit.visit.system
    name = "condensing_temperature_over_ambient"
    place = None if name in visit.doubted else visit.kept.get(name)
    over = None if place is None else float(visit.summary.value[place])
    usual = _usual_over_ambient(visit)
    hot = ""
    if over is not None:
        quantity = QUANTITIES[name]
        hot = words.value_against(quantity.label, quantity.kind, over, (None, usual), system)
    if amps is None:
        if place is None or over is None or visit.unit.mode != "cooling":
            return None
        spread = max(float(visit.summary.standard_uncertainty[place]), 1e-12)
        chance = FAN_UNREAD * float(cumulative((over - FAR_OVER_AMBIENT) / spread))
        return Direct("outdoor_fan_stopped", chance, hot) if chance >= SUSPECTED else None
    state = "not_known" if over is None else "hot" if over > usual else "cool"
    text = words.fan_current(amps, system, hot=hot if state == "hot" else "", cool=state == "cool")
    return Direct("outdoor_fan_stopped", FAN_WITHOUT_CURRENT[state], text)


def _nearly_empty(visit: Examined) -> Direct:
    """Low suction, low head, high superheat and hardly any cooling, as far as they were read."""
    values = [
        (QUANTITIES[name].label, QUANTITIES[name].kind, value)
        for name, value in signs_of_starvation(visit.computed.shown).items()
    ]
    return Direct("circuit_nearly_empty", ALL_SIGNS_AGREE, words.signs(values, visit.visit.system))


def _not_pumping(visit: Examined) -> Direct | None:
    """Pressures that hardly differ while the compressor runs; those the wrong way round are swapped
    gauges."""
    name = "compression_ratio"
    place = None if name in visit.doubted else visit.kept.get(name)
    if place is None or float(visit.summary.value[place]) < 1.0 / HARDLY_ANY_LIFT:
        return None
    current = visit.kept.get("compressor_current")
    amps = None if current is None else float(visit.summary.value[current])
    if amps is not None and amps < NO_CURRENT:
        return None
    text = words.hardly_pumping(float(visit.summary.value[place]), amps, visit.visit.system)
    return Direct("compressor_not_pumping", SHOWN if amps is not None else RUNS_UNREAD * SHOWN, text)


def _against(fault: str, name: str, visit: Examined) -> Direct | None:
    """One derived value against one limit: the probability that it lies outside, on the side that is
    the fault."""
    limit = LIMITS[name]
    place = visit.kept.get(limit.quantity)
    bounds = bounds_of(limit, visit.visit)
    if (
        place is None
        or bounds is None
        or limit.quantity in visit.doubted
        or not visit.unit.within(limit.modes, limit.devices, limit.phases, limit.running)
    ):
        return None
    value = float(visit.summary.value[place])
    spread = max(float(visit.summary.standard_uncertainty[place]), 1e-12)
    lower, upper = bounds
    if FAULTS[fault].only_below:
        upper = None
    chance = 0.0 if lower is None else float(cumulative((lower - value) / spread))
    chance += 0.0 if upper is None else float(cumulative((value - upper) / spread))
    quantity = QUANTITIES[limit.quantity]
    text = words.value_against(
        quantity.label, quantity.kind, value, (lower, upper), visit.visit.system, source(limit.source)
    )
    return Direct(fault, min(chance, 1.0), text)
