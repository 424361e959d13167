"""The efficiency of the unit when new, from whichever rating is given."""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot, log
from typing import Any, NamedTuple

import numpy as np

from service.intake.paths import DUCTLESS, RATED
from service.reference.healthy_units_heating import RATED_EFFICIENCY as RATED_COP
from service.reference.ratings import (
    COP_OF_HSPF,
    COP_OF_HSPF_SPREAD,
    EFFICIENCY_RATINGS,
    HSPF_RANGE,
    HSPF_RATINGS,
    SEASONAL_RANGE,
    SEASONAL_TO_EER,
)
from service.reference.units import conversion


class RatedEfficiency(NamedTuple):
    """Efficiency [W/W] at 95 °F outdoors: its natural logarithm, its spread, and the leaf it comes from."""

    logarithm: float
    spread: float
    basis: str


class Rating(NamedTuple):
    """A rating in SI, and the standard deviation of its logarithm where it follows from that of another stage."""

    value: float
    spread: float


def rating(leaves: Mapping[str, Any], name: str) -> Rating | None:
    """A rating at the capacity at which the unit ran; None where none is given."""
    given = leaves.get(RATED + name)
    if given is None:
        return None
    draws = np.atleast_1d(np.asarray(given, dtype=np.float64))
    return Rating(float(draws[0]), float(np.log(draws[1:]).std()) if draws.size > 1 else 0.0)


def rated_cop(leaves: Mapping[str, Any], control: str) -> RatedEfficiency | None:
    """The coefficient of performance at 47 °F outdoors to be presumed of a new unit; from a seasonal rating that of a
    single-speed unit alone, as others earn theirs at part load.

    Parameters
    ----------
    leaves : mapping
        The visit's leaves; ratings in W/W.
    control : str
        Capacity control of the unit.
    """
    given = rating(leaves, "heating_cop")
    if given is not None:
        return RatedEfficiency(log(given.value), hypot(RATED_COP, given.spread), RATED + "heating_cop")
    scale = conversion("efficiency", "Btu/(W h)").scale
    for name, share in HSPF_RATINGS.items():
        seasonal = rating(leaves, name)
        if seasonal is None or control != "single_speed":
            continue
        hspf = seasonal.value / scale / (1.0 if leaves.get(DUCTLESS) else share)
        low, high = HSPF_RANGE
        if low <= hspf <= high:
            first, slope = COP_OF_HSPF
            return RatedEfficiency(log(first + slope * hspf), hypot(COP_OF_HSPF_SPREAD, seasonal.spread), RATED + name)
    return None


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
        given = rating(leaves, row.name)
        if given is None:
            continue
        value = given.value if leaves.get(DUCTLESS) else given.value / row.share
        if row.seasonal:
            seer = value / scale
            low, high = SEASONAL_RANGE
            if control != "single_speed" or not low <= seer <= high:
                continue
            first, second = SEASONAL_TO_EER
            value = scale * (first * seer + second * seer**2)
        return RatedEfficiency(log(value), hypot(row.spread, given.spread), RATED + row.name)
    return None
