"""Faults that show in one derived value against its limit: no model of the cycle is needed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.assess.derivations import QUANTITIES
from service.assess.examination import Examined
from service.assess.findings import bounds_of
from service.assess.paths import READING
from service.assess.phrasing import phrase
from service.reference.conditions import LOWEST_RETURN
from service.reference.faults import FAULTS
from service.reference.limits import LIMITS
from service.reference.sources import source
from service.uncertainty.normal import cumulative


@dataclass(frozen=True, slots=True)
class Direct:
    """One such fault: its probability and what was found."""

    fault: str
    probability: float
    sentence: str


def direct(visit: Examined) -> list[Direct]:
    """All that the visit's readings can speak of."""
    found = []
    for row in FAULTS.values():
        if row.shown != "direct":
            continue
        own = [one for name in row.limits if (one := _against(row.id, name, visit)) is not None]
        if own:
            found.append(max(own, key=lambda one: one.probability))
    draws = visit.visit.leaves.get(READING + "return_air_dry_bulb")
    known = READING + "return_air_dry_bulb" not in visit.visit.doubted
    if known and isinstance(draws, np.ndarray) and visit.unit.mode == "cooling":
        chance = float(np.mean(draws[1:] < LOWEST_RETURN))
        system = visit.visit.system
        text = (
            f"Return air dry bulb {phrase('temperature', float(draws[0]), system)}; charge is judged from "
            f"{phrase('temperature', LOWEST_RETURN, system)} upward."
        )
        found.append(Direct("low_load", chance, text))
    return found


def _against(fault: str, name: str, visit: Examined) -> Direct | None:
    """One derived value against one limit: the probability that it lies outside, on the side that is
    the fault."""
    limit = LIMITS[name]
    place = visit.kept.get(limit.quantity)
    bounds = bounds_of(limit, visit.visit)
    if (
        place is None
        or bounds is None
        or limit.quantity in visit.visit.doubted
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
