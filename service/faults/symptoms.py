"""Values outside the cycle model that tell of one fault: a line that cools on its way, a high static
pressure; against the unit's own baseline where it has them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, log

import numpy as np
from numpy.typing import NDArray

from service.derive.examined import Derived
from service.faults.hypotheses import Components
from service.intake.paths import READING
from service.reference.faults import SYMPTOMS, Symptom

FloatArray = NDArray[np.float64]
#: A mean and a standard deviation.
Spread = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Seen:
    """A symptom that was read: its value with its standard uncertainty, what is usual and what faults
    bring."""

    row: Symptom
    value: Spread
    usual: Spread
    under: dict[str, Spread]


def seen(visit: Derived, baseline: Derived | None) -> Iterator[Seen]:
    """The symptoms that the visit has, the first of each fault."""
    told: set[str] = set()
    for row in SYMPTOMS:
        if visit.unit.mode not in row.modes:
            continue
        value = _value(row.quantity, visit)
        if value is None or told & row.under.keys():
            continue
        told |= row.under.keys()
        before = None if baseline is None else _value(row.quantity, baseline)
        usual, moved = row.usual, 0.0
        if before is not None:
            usual, moved = (before[0], hypot(row.drift, before[1])), before[0] - row.usual[0]
        under = {fault: (mean + moved, wide) for fault, (mean, wide) in row.under.items()}
        yield Seen(row, value, usual, under)


def _value(name: str, of: Derived) -> Spread | None:
    """A derived value or a reading, with its standard uncertainty; None where it is not available."""
    for found in (of.computed.as_read, of.visit.leaves):
        draws = found.get(name if found is of.computed.as_read else READING + name)
        if isinstance(draws, np.ndarray) and draws.ndim == 1 and np.isfinite(draws).all():
            return float(draws[0]), float(draws[1:].std())
    return None


def symptoms(visit: Derived, baseline: Derived | None, told: Components) -> FloatArray:
    """Logarithm of the density of all symptoms read (K,), under each component less with no fault."""
    total = np.zeros(len(told.faults))
    for one in seen(visit, baseline):
        value, own = one.value
        usual = _density(value, *one.usual, own)
        for fault, (mean, spread) in one.under.items():
            under = _density(value, mean, spread, own) - usual
            total += under * told.including[fault]
    return total


def _density(value: float, mean: float, spread: float, own: float) -> float:
    """Logarithm of a normal density."""
    variance = spread**2 + own**2
    return -0.5 * log(variance) - 0.5 * (value - mean) ** 2 / variance
