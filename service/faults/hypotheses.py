"""The hypotheses as normal distributions of changes: one component for each fault, form and level."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import log

import numpy as np
from numpy.typing import NDArray

from service.reference.faults import FARTHEST, FAULTS, FINENESS, Fault, Form
from service.reference.faults_by_mode import IN_MODE, InMode
from service.reference.metering_devices import FIXED_DEVICES
from service.unit.layout import LAYOUTS, Layout

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Components:
    """K components: faults of each, their levels, logarithm of the prior, means and variances.

    ``faults`` are tuples of names (none for no fault, two for a pair); ``levels`` (K, 2) theirs in the
    same order, not-a-number where there is none; ``means`` and ``variances`` (K, C) of
    the changes, which are independent within a component.
    ``exactly`` tells for each set of faults which components (K,) have them and no other, ``including``
    for each fault which have it, alone or with another; ``in_form`` for each fault and form the N components with
    that, (N,), and its order in each, (N,).
    """

    faults: tuple[tuple[str, ...], ...]
    levels: FloatArray
    prior: FloatArray
    means: FloatArray
    variances: FloatArray
    exactly: Mapping[tuple[str, ...], NDArray[np.bool_]]
    including: Mapping[str, NDArray[np.bool_]]
    in_form: Mapping[str, Mapping[str, tuple[NDArray[np.intp], NDArray[np.intp]]]]


@dataclass(frozen=True, slots=True)
class _Point:
    """One level of one form of a fault, as changes, with one side of the metering devices."""

    side: str
    form: str
    share: float
    level: float
    mean: FloatArray
    variance: FloatArray


def _vector(changes: Mapping[str, float], layout: Layout) -> FloatArray:
    return np.array([changes.get(name, 0.0) for name in layout.changes])


def _sides(device: str | None) -> tuple[str, ...]:
    """The sides of the metering devices that a unit may have: both where the device is not known."""
    if device is None:
        return ("valve", "fixed")
    return ("fixed",) if device in FIXED_DEVICES else ("valve",)


def _points(form: Form, device: str | None, of: InMode, layout: Layout) -> list[_Point]:
    """Levels of one form: its points and some between each two; with no device known, of both sides."""
    found, sides = [], _sides(device)
    spread, held = _vector(form.spread, layout) ** 2, _vector(dict.fromkeys(form.held, 1.0), layout)
    for side in sides:
        beside = _vector(of.beside, layout) * (1.0 - held if side == "valve" else 1.0)
        table = [(one.level, one.weight, _vector(getattr(one, side), layout)) for one in form.levels]
        fine = [
            tuple((1.0 - part) * a + part * b for a, b in zip(first, second, strict=True))
            for first, second in pairwise(table)
            for part in np.arange(FINENESS) / FINENESS
        ] + [table[-1]]
        total = sum(weight for _, weight, _ in fine) * len(sides)
        for level, weight, mean in fine:
            gone = min((level / form.usual) ** 2, FARTHEST)
            variance = spread + (of.spread * mean) ** 2 + (gone * beside) ** 2
            found.append(_Point(side, form.name, form.share * weight / total, level, mean, variance))
    return found


def _coarse(fault: Fault, fine: list[_Point]) -> list[_Point]:
    """The points for pairs of faults: a form's own levels, up to the usual; two severe faults at once are
    told by the one that is worse."""
    levels = {form.name: {o.level for o in form.levels if o.level <= form.usual} for form in fault.forms}
    chosen = [p for p in fine if p.level in levels[p.form]]
    total = sum(point.share for point in chosen)
    return [replace(point, share=point.share / total) for point in chosen]


@lru_cache(maxsize=16)
def components(device: str | None, has_baseline: bool, mode: str = "cooling") -> Components:
    """All components of the hypotheses that show in the cycle, for a metering device; against the unit's
    own baseline it may have drifted, where without one the spread of units holds that."""
    layout, of = LAYOUTS[mode], IN_MODE[mode]
    own = of.drift if has_baseline else {}
    if has_baseline and device in FIXED_DEVICES:
        own = {**own, **of.fixed_drift}
    drift = _vector({**layout.drift, **own}, layout) ** 2
    cycle = {f.id: f for f in of.faults.values() if f.shown == "cycle"}
    fine = {name: [p for form in f.forms for p in _points(form, device, of, layout)] for name, f in cycle.items()}
    coarse = {name: _coarse(f, fine[name]) for name, f in cycle.items()}
    sides = len(_sides(device))
    sound = cycle["no_fault"].prior
    rows: list[tuple[tuple[str, ...], tuple[str, ...], list[float], float, FloatArray, FloatArray]]
    rows = [((), (), [np.nan, np.nan], log(sound), np.zeros(len(layout.changes)), drift)]
    for name, points in fine.items():
        for one in points:
            rows.append(
                (
                    (name,),
                    (one.form,),
                    [one.level, np.nan],
                    log(cycle[name].prior * one.share),
                    one.mean,
                    drift + one.variance,
                )
            )
    for (first, second), factor in of.pairs.items():
        chance = cycle[first].prior * cycle[second].prior * factor * sides
        for one in coarse[first]:
            for other in coarse[second]:
                if one.side != other.side:
                    continue
                rows.append(
                    (
                        (first, second),
                        (one.form, other.form),
                        [one.level, other.level],
                        log(chance * one.share * other.share),
                        one.mean + other.mean,
                        drift + one.variance + other.variance,
                    )
                )
    faults = tuple(row[0] for row in rows)
    return Components(
        faults,
        np.array([row[2] for row in rows]),
        np.array([row[3] for row in rows]),
        np.stack([row[4] for row in rows]),
        np.stack([row[5] for row in rows]),
        {one: np.array([one == other for other in faults]) for one in dict.fromkeys(faults)},
        {name: np.array([name in one for one in faults]) for name in FAULTS},
        _in_form(faults, tuple(row[1] for row in rows)),
    )


def _in_form(
    faults: Sequence[tuple[str, ...]], forms: Sequence[tuple[str, ...]]
) -> dict[str, dict[str, tuple[NDArray[np.intp], NDArray[np.intp]]]]:
    found: dict[str, dict[str, list[tuple[int, int]]]] = {name: {} for name in FAULTS}
    for place, (names, own) in enumerate(zip(faults, forms, strict=True)):
        for order, (name, form) in enumerate(zip(names, own, strict=True)):
            found[name].setdefault(form, []).append((place, order))
    return {
        name: {form: (np.array(pairs)[:, 0], np.array(pairs)[:, 1]) for form, pairs in own.items()}
        for name, own in found.items()
    }
