"""The hypotheses as normal distributions of changes: one component for each fault, form and level."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import log

import numpy as np
from numpy.typing import NDArray

from service.compare.unit_model import CHANGES, FIXED_DEVICES
from service.reference.faults import BESIDE, FAULTS, FINENESS, PAIRS, SIGNATURE_SPREAD, Fault, Form
from service.reference.healthy_units import HEALTHY_DRIFT
from service.reference.unit_model import DRIFT

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Components:
    """K components: faults of each, their levels, logarithm of the prior, means and variances.

    ``faults`` are tuples of names (none for no fault, two for a pair); ``levels`` (K, 2) theirs in the
    same order, not-a-number where there is none; ``means`` and ``variances`` (K, C) of
    the changes, which are independent within a component.
    ``exactly`` tells for each set of faults which components (K,) have them and no other, ``including``
    for each fault which have it, alone or with another.
    """

    faults: tuple[tuple[str, ...], ...]
    forms: tuple[tuple[str, ...], ...]
    levels: FloatArray
    prior: FloatArray
    means: FloatArray
    variances: FloatArray
    exactly: Mapping[tuple[str, ...], NDArray[np.bool_]]
    including: Mapping[str, NDArray[np.bool_]]


@dataclass(frozen=True, slots=True)
class _Point:
    """One level of one form of a fault, as changes."""

    form: str
    share: float
    level: float
    mean: FloatArray
    variance: FloatArray


def _vector(changes: Mapping[str, float]) -> FloatArray:
    return np.array([changes.get(name, 0.0) for name in CHANGES])


def _points(fault: Fault, form: Form, device: str | None, fineness: int) -> list[_Point]:
    """Levels of one form: its points and so many between each two; with no device known, of both."""
    found = []
    sides: tuple[str, ...] = ("valve", "fixed")
    if device is not None:
        sides = ("fixed",) if device in FIXED_DEVICES else ("valve",)
    spread, beside = _vector(form.spread) ** 2, _vector(BESIDE)
    for side in sides:
        table = [(one.level, _vector(getattr(one, side))) for one in form.levels]
        fine = [
            (
                (1.0 - part) * first[0] + part * second[0],
                (1.0 - part) * first[1] + part * second[1],
            )
            for first, second in pairwise(table)
            for part in np.arange(fineness) / fineness
        ] + [table[-1]]
        last = form.levels[-1].level
        for level, mean in fine:
            variance = spread + (SIGNATURE_SPREAD * mean) ** 2 + ((level / last) ** 2 * beside) ** 2
            found.append(
                _Point(form.name, form.share / len(fine) / len(sides), level, mean, variance)
            )
    return found


@lru_cache(maxsize=8)
def components(device: str | None, has_baseline: bool) -> Components:
    """All components of the hypotheses that show in the cycle, for a metering device; against the unit's
    own baseline it may have drifted, where without one the spread of units holds that."""
    drift = _vector({**DRIFT, **HEALTHY_DRIFT} if has_baseline else DRIFT) ** 2
    cycle = {f.id: f for f in FAULTS.values() if f.shown == "cycle"}
    fine = {
        name: [p for form in f.forms for p in _points(f, form, device, FINENESS)]
        for name, f in cycle.items()
    }
    coarse = {
        name: [p for form in f.forms for p in _points(f, form, device, 1)]
        for name, f in cycle.items()
    }
    sound = cycle["no_fault"].prior
    rows: list[tuple[tuple[str, ...], tuple[str, ...], list[float], float, FloatArray, FloatArray]]
    rows = [((), (), [np.nan, np.nan], log(sound), np.zeros(len(CHANGES)), drift)]
    for name, points in fine.items():
        for one in points:
            rows.append(
                (
                    (name,), (one.form,), [one.level, np.nan],
                    log(cycle[name].prior * one.share), one.mean, drift + one.variance,
                )
            )  # fmt: skip
    for (first, second), factor in PAIRS.items():
        chance = cycle[first].prior * cycle[second].prior * factor
        for one in coarse[first]:
            for other in coarse[second]:
                rows.append(
                    (
                        (first, second), (one.form, other.form), [one.level, other.level],
                        log(chance * one.share * other.share), one.mean + other.mean,
                        drift + one.variance + other.variance,
                    )
                )  # fmt: skip
    faults = tuple(row[0] for row in rows)
    return Components(
        faults,
        tuple(row[1] for row in rows),
        np.array([row[2] for row in rows]),
        np.array([row[3] for row in rows]),
        np.stack([row[4] for row in rows]),
        np.stack([row[5] for row in rows]),
        {one: np.array([one == other for other in faults]) for one in dict.fromkeys(faults)},
        {name: np.array([name in one for one in faults]) for name in FAULTS},
    )
