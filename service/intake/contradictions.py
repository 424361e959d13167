"""Readings that contradict each other beyond any instrument's error."""

from __future__ import annotations

from math import hypot
from typing import NamedTuple

import numpy as np

from service.intake.paths import SITE_PRESSURE
from service.intake.refusals import Refusal, pointer
from service.intake.visit import Visit
from service.physics.moist_air import humidity_ratio_from_wet_bulb, wet_bulb
from service.reference.conditions import WET_BULB_EXCESS
from service.reference.site import STANDARD_PRESSURE
from service.reference.units import conversion, system_unit


class AirRead(NamedTuple):
    """Dry and wet bulb of one air, and their standard uncertainties [K]."""

    dry: float
    wet: float
    of_dry: float
    of_wet: float


def contradictions(visit: Visit) -> list[Refusal]:
    """Refusals of wet bulbs that are over their dry bulb, or lower than perfectly dry air allows."""
    refusals: list[Refusal] = []
    site = visit.uncertain.get(SITE_PRESSURE)
    for side in ("return", "supply", "outdoor"):
        names = [f"{side}_air_{part}" for part in ("dry_bulb", "wet_bulb")]
        dry, wet = (visit.readings.get(name) for name in names)
        if dry is None or wet is None:
            continue
        read = AirRead(dry, wet, *(visit.instruments[name].standard_uncertainty for name in names))
        air = STANDARD_PRESSURE if site is None else site.value
        refused = impossible_wet_bulb(read, air, visit.system, pointer("run", "readings", f"{side}_air_wet_bulb"))
        if refused is not None:
            refusals.append(refused)
    return refusals


def impossible_wet_bulb(read: AirRead, pressure: float, system: str, where: str) -> Refusal | None:
    """The refusal of a wet bulb that its dry bulb rules out at an air pressure [Pa]; None where it is possible."""
    symbol = system_unit("temperature", system)
    unit = conversion("temperature", symbol)
    if read.wet > read.dry + WET_BULB_EXCESS:
        allowed = f"at most the dry bulb, {unit.from_si(read.dry):.4g} {symbol}"
        detail, hint = (
            "is above the dry bulb, which is impossible",
            "Were the two swapped, or is one of them in another unit?",
        )
    elif (lowest := _lowest_wet_bulb(read, pressure)) is not None:
        allowed = (
            f"{unit.from_si(lowest):.4g} to {unit.from_si(read.dry):.4g} {symbol}: from the wet bulb of "
            "perfectly dry air at this dry bulb and air pressure to the dry bulb"
        )
        detail = "is lower than air of this dry bulb can have: the humidity would be negative"
        hint = "Is it the wet bulb of the same air, in the same unit? Check both readings."
    else:
        return None
    return Refusal(where, round(unit.from_si(read.wet), 4), allowed, detail, hint)


def _lowest_wet_bulb(read: AirRead, pressure: float) -> float | None:
    """The wet bulb [K] of air without any water, where one was read that lies under it by more than two
    standard uncertainties; else None."""
    if not humidity_ratio_from_wet_bulb(read.dry, read.wet, pressure) < 0.0:
        return None  # as nearly always
    lowest, moved = wet_bulb(np.array([read.dry, read.dry + read.of_dry]), 0.0, pressure).tolist()
    return lowest if read.wet < lowest - 2.0 * hypot(read.of_wet, moved - lowest) else None
