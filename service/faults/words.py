"""Evidence for and against a hypothesis, in plain sentences that quote the readings."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray

from schemas.readings import READINGS
from service.derive.derivations import QUANTITIES
from service.derive.examined import Derived, Examined
from service.faults.expectation import Expectation
from service.faults.posterior import Posterior
from service.faults.symptoms import seen
from service.intake.paths import READING
from service.reference.faults import FAULTS
from service.unit.predictor import Row
from service.words.phrases import phrase

FloatArray = NDArray[np.float64]

#: Gain in the logarithm of the density from which a reading speaks for or against, and how many are quoted.
_SPEAKS = 0.35
#: Deviations from which a reading lies outside, and the share of that which a fault must account for.
_OUTSIDE = 2.0
_EXPLAINS = 0.25
_QUOTED = 4


@dataclass(frozen=True, slots=True)
class Shown:
    """One row of the visit in SI: what was read, what a healthy unit would show and how surely.

    ``rest`` is read less healthy, ``deviation`` its standard deviation, both as the model counts them (in
    logarithms where it does); ``place`` is its row.
    """

    row: Row
    label: str
    kind: str
    read: float
    healthy: float
    low: float
    high: float
    rest: float
    deviation: float
    place: int


def shown(expected: Expectation) -> list[Shown]:
    """What was read, beside what a healthy unit would show in this weather (95 %)."""
    own, rest, spread = expected.in_this_weather()
    found = []
    for order, place in enumerate(own):
        row = expected.rows[place]
        label, kind = named(row)
        deviation = sqrt(max(float(spread[order, order]), 0.0))
        value = float(expected.readings[place])
        middle = value - float(rest[order])
        ends = [middle, middle - 1.96 * deviation, middle + 1.96 * deviation]
        if row.logarithmic:
            value, ends = exp(value), [exp(end) for end in ends]
        found.append(
            Shown(
                row, label, kind, value, ends[0], ends[1], ends[2], float(rest[order]), deviation,
                place,
            )
        )  # fmt: skip
    return found


def named(row: Row) -> tuple[str, str]:
    """Label and kind of what a row shows."""
    if row.source.startswith(READING):
        name = row.source.removeprefix(READING)
        return name.replace("_", " ").capitalize(), READINGS[name].kind
    quantity = QUANTITIES[row.source]
    return quantity.label, quantity.kind


def moves(faults: list[str], expected: Expectation, left: Posterior) -> dict[str, FloatArray]:
    """How each fault by itself would move the rows (M,), at the levels that the readings point to."""
    alone = [left.alone(fault) for fault in faults]
    ends = np.cumsum([len(weights) for weights, _ in alone])
    # All levels of all faults go through the model together.
    offsets = expected.with_changes(np.concatenate([means for _, means in alone]))
    return {
        fault: _average(weights, own)
        for fault, (weights, _), own in zip(
            faults, alone, np.split(offsets, ends[:-1]), strict=True
        )
    }


def _average(weights: FloatArray, offsets: FloatArray) -> FloatArray:
    """Weighted mean of those rows (K, M) that the model knows; zero where it knows none."""
    known = np.isfinite(offsets).all(axis=1)
    total = float(weights[known].sum())
    if total <= 0.0:
        return np.zeros(offsets.shape[1])
    return np.asarray(weights[known] @ offsets[known] / total)


def evidence_of(
    fault: str, move: FloatArray, rows: list[Shown], system: str
) -> tuple[list[str], list[str]]:
    """Sentences for a hypothesis and against it, weightiest first, each against a healthy unit."""
    found = []
    for one in rows:
        shift = float(move[one.place])
        gain = 0.5 * (one.rest**2 - (one.rest - shift) ** 2) / one.deviation**2
        if abs(one.rest) > _OUTSIDE * one.deviation and shift / one.rest < _EXPLAINS:
            # What lies outside and is hardly moved by it is left unexplained.
            gain = -max(abs(gain), 2.0 * _SPEAKS)
        found.append((gain, one, shift))
    found.sort(key=lambda item: -abs(item[0]))
    name = FAULTS[fault].text
    for_it = [_sentence(one, shift, name, system) for gain, one, shift in found if gain > _SPEAKS]
    against = [_sentence(one, shift, name, system) for gain, one, shift in found if gain < -_SPEAKS]
    return for_it[:_QUOTED], against[:_QUOTED]


def of_symptoms(
    fault: str, visit: Examined, baseline: Derived | None
) -> tuple[list[str], list[str]]:
    """The same of values outside the cycle model that tell of this fault by themselves."""
    for_it: list[str] = []
    against: list[str] = []
    for one in seen(visit, baseline):
        if fault not in one.under:
            continue
        kind, label = _named(one.row.quantity)
        value, (usual, spread), (there, wide) = one.value[0], one.usual, one.under[fault]
        system = visit.visit.system
        usually = "usually about" if usual == one.row.usual[0] else "at the baseline"
        text = (
            f"{label} {phrase(kind, value, system)}; {usually} {phrase(kind, usual, system)}, with "
            f"{FAULTS[fault].text} about {phrase(kind, there, system)}."
        )
        off, under = (value - usual) / spread, (value - there) / wide
        (for_it if abs(under) < abs(off) else against).append(text)
    return for_it, against


def _named(quantity: str) -> tuple[str, str]:
    """Kind and label of a derived value or of a reading."""
    if quantity in QUANTITIES:
        return QUANTITIES[quantity].kind, QUANTITIES[quantity].label
    return READINGS[quantity].kind, quantity.replace("_", " ").capitalize()


def for_health(rows: list[Shown], system: str) -> tuple[list[str], list[str]]:
    """The same for a healthy unit: readings inside what it would show, and those outside."""
    inside = sorted(
        (one for one in rows if one.low <= one.read <= one.high), key=lambda one: one.deviation
    )
    outside = [one for one in rows if not one.low <= one.read <= one.high]
    return [_plain(one, system) for one in inside[:_QUOTED]], [
        _plain(one, system) for one in outside[:_QUOTED]
    ]


def _plain(one: Shown, system: str) -> str:
    return (
        f"{one.label} {phrase(one.kind, one.read, system)}; a healthy unit would show "
        f"{phrase(one.kind, one.low, system)} to {phrase(one.kind, one.high, system)} here."
    )


def _sentence(one: Shown, shift: float, fault: str, system: str) -> str:
    there = one.healthy * exp(shift) if one.row.logarithmic else one.healthy + shift
    return (
        f"{one.label} {phrase(one.kind, one.read, system)}; a healthy unit would show about "
        f"{phrase(one.kind, one.healthy, system)} here ({phrase(one.kind, one.low, system)} to "
        f"{phrase(one.kind, one.high, system)}), {fault} about {phrase(one.kind, there, system)}."
    )
