"""Faults that show in one derived value against its limit: no model of the cycle is needed."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

import numpy as np

from service.assess.before_charge import signs_of_starvation
from service.assess.findings import bounds_of
from service.derive.derivations import EXPANSION_VALVES, QUANTITIES
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
from service.reference.sources import source
from service.uncertainty.normal import cumulative
from service.words.phrases import phrase


@dataclass(frozen=True, slots=True)
class Direct:
    """One such fault: its probability and what was found."""

    fault: str
    probability: float
    sentence: str


def direct(visit: Examined, noticed: Container[str]) -> list[Direct]:
    """All that the visit's readings can speak of.

    ``noticed`` are the codes of what the assessment noticed about the readings.
    """
    found = []
    for row in FAULTS.values():
        if row.shown != "direct":
            continue
        own = [one for name in row.limits if (one := _against(row.id, name, visit)) is not None]
        if own:
            found.append(max(own, key=lambda one: one.probability))
    stalled = any(one.fault == "compressor_stalled" and one.probability >= FOUND for one in found)
    others = [_cool_return_air(visit), _fan(visit)]
    if not stalled and "not_pumping_suspected" in noticed:
        others.append(_not_pumping(visit))
    if "nearly_empty_suspected" in noticed:
        others.append(_nearly_empty(visit))
    return found + [one for one in others if one is not None]


def _cool_return_air(visit: Examined) -> Direct | None:
    """Return air under what superheat is judged by; with a valve subcooling judges the charge."""
    draws = visit.visit.leaves.get(READING + "return_air_dry_bulb")
    if (
        not isinstance(draws, np.ndarray)
        or visit.unit.mode != "cooling"
        or visit.unit.device in EXPANSION_VALVES
        or READING + "return_air_dry_bulb" in visit.doubted
    ):
        return None
    system = visit.visit.system
    return Direct(
        "low_load", float(np.mean(draws[1:] < LOWEST_RETURN)),
        f"Return air dry bulb {phrase('temperature', float(draws[0]), system)}; superheat shows charge "
        f"from {phrase('temperature', LOWEST_RETURN, system)} upward.",
    )  # fmt: skip


def _usual_over_ambient(visit: Examined) -> float:
    """The usual end of the condensing temperature over outdoor air [K]."""
    bounds = bounds_of(LIMITS["condensing_over_ambient_usual"], visit.visit)
    upper = None if bounds is None else bounds[1]
    return FAR_OVER_AMBIENT if upper is None else upper


def _fan(visit: Examined) -> Direct | None:
    """An outdoor fan that stands still: by its current, and by how the heat is rejected."""
    amps = visit.visit.nominal("outdoor_fan_current")
    if amps is not None and amps >= NO_CURRENT:
        return None
    system = visit.visit.system
    name = "condensing_temperature_over_ambient"
    place = visit.kept.get(name)
    over = None if place is None else float(visit.summary.value[place])
    usual = _usual_over_ambient(visit)
    hot = ""
    if over is not None:
        hot = (
            f"{QUANTITIES[name].label} {phrase(QUANTITIES[name].kind, over, system)}, which should be at "
            f"most {phrase(QUANTITIES[name].kind, usual, system)}."
        )
    if amps is None:
        if place is None or over is None or visit.unit.mode != "cooling":
            return None
        spread = max(float(visit.summary.standard_uncertainty[place]), 1e-12)
        chance = FAN_UNREAD * float(cumulative((over - FAR_OVER_AMBIENT) / spread))
        return Direct("outdoor_fan_stopped", chance, hot) if chance >= SUSPECTED else None
    state = "not_known" if over is None else "hot" if over > usual else "cool"
    text = f"The outdoor fan's motor draws {phrase('current', amps, system)}."
    if state == "cool":
        text += (
            " The unit gets rid of its heat all the same, so the clamp is around the wrong wire."
        )
    return Direct(
        "outdoor_fan_stopped",
        FAN_WITHOUT_CURRENT[state],
        f"{text} {hot}" if state == "hot" else text,
    )


def _nearly_empty(visit: Examined) -> Direct:
    """Low suction, low head, much superheat and hardly any cooling, as far as they were read."""
    system = visit.visit.system
    signs = signs_of_starvation(visit.computed.shown)
    values = ", ".join(
        f"{QUANTITIES[name].label.lower()} {phrase(QUANTITIES[name].kind, value, system)}"
        for name, value in signs.items()
    )
    return Direct("circuit_nearly_empty", ALL_SIGNS_AGREE, f"{values[0].upper()}{values[1:]}.")


def _not_pumping(visit: Examined) -> Direct | None:
    """Pressures that hardly differ while the compressor runs; those the wrong way round are swapped
    gauges."""
    place = visit.kept.get("compression_ratio")
    if place is None or float(visit.summary.value[place]) < 1.0 / HARDLY_ANY_LIFT:
        return None
    current = visit.kept.get("compressor_current")
    system = visit.visit.system
    text = f"The pressures hardly differ (ratio {float(visit.summary.value[place]):.2f})"
    if current is None:
        return Direct(
            "compressor_not_pumping", RUNS_UNREAD * SHOWN,
            f"{text}; whether the compressor draws current was not read.",
        )  # fmt: skip
    amps = float(visit.summary.value[current])
    if amps < NO_CURRENT:
        return None
    return Direct(
        "compressor_not_pumping", SHOWN,
        f"{text}, and the compressor draws {phrase('current', amps, system)}.",
    )  # fmt: skip


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
        or not visit.unit.within(limit.modes, limit.devices, limit.phases, limit.controls)
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
    system = visit.visit.system
    ends = " to ".join(
        phrase(quantity.kind, end, system) for end in (lower, upper) if end is not None
    )
    words = (
        ends
        if lower is not None and upper is not None
        else (f"at least {ends}" if upper is None else f"at most {ends}")
    )
    return Direct(
        fault, min(chance, 1.0),
        f"{quantity.label} {phrase(quantity.kind, value, system)}, which should be {words} "
        f"({source(limit.source)}).",
    )  # fmt: skip
