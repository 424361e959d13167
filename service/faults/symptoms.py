"""Derived values outside the cycle model that tell of one fault: a line that cools on its way, a high
static pressure."""

from __future__ import annotations

from math import log

import numpy as np
from numpy.typing import NDArray

from service.assess.examination import Examined
from service.faults.hypotheses import Components
from service.reference.faults import SYMPTOMS

FloatArray = NDArray[np.float64]


def symptoms(visit: Examined, told: Components) -> FloatArray:
    """Logarithm of the density of all symptoms read (K,), under each component less with no fault."""
    total = np.zeros(len(told.faults))
    for row in SYMPTOMS:
        place = visit.kept.get(row.quantity)
        if place is None:
            continue
        value = float(visit.summary.value[place])
        own = float(visit.summary.standard_uncertainty[place])
        usual = _density(value, *row.usual, own)
        for fault, (mean, spread) in row.under.items():
            under = _density(value, mean, spread, own) - usual
            total += under * told.including[fault]
    return total


def _density(value: float, mean: float, spread: float, own: float) -> float:
    """Logarithm of a normal density."""
    variance = spread**2 + own**2
    return -0.5 * log(variance) - 0.5 * (value - mean) ** 2 / variance
