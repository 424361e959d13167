"""Readings that contradict each other beyond any instrument's error."""

from __future__ import annotations

from math import hypot

import numpy as np

from service.intake.paths import SITE_PRESSURE
from service.intake.refusals import Refusal, pointer
from service.intake.visit import Visit
from service.physics.moist_air import humidity_ratio_from_wet_bulb, wet_bulb
from service.reference.conditions import WET_BULB_EXCESS
from service.reference.site import STANDARD_PRESSURE
from service.reference.units import conversion, system_unit


def contradictions(visit: Visit) -> list[Refusal]:
    """Refusals of wet bulbs that are over their dry bulb, or lower than perfectly dry air allows."""
    refusals: list[Refusal] = []
    for side in ("return", "supply", "outdoor"):
        dry, wet = (visit.readings.get(f"{side}_air_{part}") for part in ("dry_bulb", "wet_bulb"))
        if dry is None or wet is None:
            continue
        symbol = system_unit("temperature", visit.system)
        unit = conversion("temperature", symbol)
        if wet > dry + WET_BULB_EXCESS:
            allowed = f"at most the dry bulb, {unit.from_si(dry):.4g} {symbol}"
            detail, hint = "is above the dry bulb, which is impossible", "Were the two swapped?"
        elif (lowest := _wet_bulb_refuted(visit, side, dry, wet)) is not None:
            allowed = (
                f"{unit.from_si(lowest):.4g} to {unit.from_si(dry):.4g} {symbol}: from the wet bulb of "
                "perfectly dry air at this dry bulb and air pressure to the dry bulb"
            )
            detail = "is lower than air of this dry bulb can have: the humidity would be negative"
            hint = "Is it the wet bulb of the same air, in the same unit? Check both readings."
        else:
            continue
        where = pointer("run", "readings", f"{side}_air_wet_bulb")
        refusals.append(Refusal(where, round(unit.from_si(wet), 4), allowed, detail, hint))
    return refusals


def _wet_bulb_refuted(visit: Visit, side: str, dry: float, wet: float) -> float | None:
    """The wet bulb [K] of air without any water, where one was read that lies under it by more than two
    standard uncertainties; else None."""
    site = visit.uncertain.get(SITE_PRESSURE)
    air = STANDARD_PRESSURE if site is None else site.value
    if not humidity_ratio_from_wet_bulb(dry, wet, air) < 0.0:
        return None  # as nearly always
    of_dry, of_wet = (visit.instruments[f"{side}_air_{part}"].standard_uncertainty for part in ("dry_bulb", "wet_bulb"))
    lowest, moved = wet_bulb(np.array([dry, dry + of_dry]), 0.0, air).tolist()
    return lowest if wet < lowest - 2.0 * hypot(of_wet, moved - lowest) else None
