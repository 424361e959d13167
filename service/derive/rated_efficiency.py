"""The efficiency of the unit when new, from whichever rating is given."""

from __future__ import annotations

from collections.abc import Mapping
from math import log
from typing import Any, NamedTuple

from service.intake.paths import DUCTLESS, RATED
from service.reference.ratings import EFFICIENCY_RATINGS, SEASONAL_RANGE, SEASONAL_TO_EER
from service.reference.units import conversion


class RatedEfficiency(NamedTuple):
    """Efficiency [W/W] at 95 °F outdoors: its natural logarithm, its spread, and the leaf it comes from."""

    logarithm: float
    spread: float
    basis: str


def rated_efficiency(leaves: Mapping[str, Any], control: str) -> RatedEfficiency | None:
    """The EER to be presumed of a new unit, from the best of the ratings that are given.

    Parameters
    ----------
    leaves : mapping
        The visit's leaves; ratings in W/W.
    control : str
        Capacity control of the unit: seasonal ratings give the efficiency at 95 °F of a single-speed one
        alone, as others earn theirs at part load.
    """
    scale = conversion("efficiency", "Btu/(W h)").scale
    for row in EFFICIENCY_RATINGS.values():
        given = leaves.get(RATED + row.name)
        if given is None:
            continue
        value = given if leaves.get(DUCTLESS) else given / row.share
        if row.seasonal:
            seer = value / scale
            low, high = SEASONAL_RANGE
            if control != "single_speed" or not low <= seer <= high:
                continue
            first, second = SEASONAL_TO_EER
            value = scale * (first * seer + second * seer**2)
        return RatedEfficiency(log(value), row.spread, RATED + row.name)
    return None
