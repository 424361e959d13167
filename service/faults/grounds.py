"""What speaks for a hypothesis and against it: which readings, and how strongly."""

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
from service.unit.predictor import Row
from service.words import diagnosis as words
from service.words.diagnosis import Compared

FloatArray = NDArray[np.float64]

#: Gain in the logarithm of the density from which a reading speaks for or against, and how many are quoted.
_SPEAKS = 0.35
#: Deviations from which a reading lies outside, and the share of that which a fault must account for.
_OUTSIDE = 2.0
_EXPLAINS = 0.25
_QUOTED = 4


@dataclass(frozen=True, slots=True)
class Shown:
    """One row of the visit: what was read next to what a healthy unit would show.

    ``rest`` is read less healthy, ``deviation`` its standard deviation, both as the model counts them (in
    logarithms where it does); ``place`` is its row.
    """

    row: Row
    compared: Compared
    rest: float
    deviation: float
    place: int

    @property
    def outside(self) -> bool:
        """Whether it lies outside what a healthy unit would show."""
        return not self.compared.low <= self.compared.read <= self.compared.high


def shown(expected: Expectation) -> list[Shown]:
    """What was read, next to what a healthy unit would show in this weather (95 %)."""
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
        compared = Compared(label, kind, value, *ends)
        found.append(Shown(row, compared, float(rest[order]), deviation, place))
    return found


def named(row: Row) -> tuple[str, str]:
    """Label and kind of what a row shows."""
    return label_and_kind(row.source.removeprefix(READING))


def label_and_kind(quantity: str) -> tuple[str, str]:
    """Label and kind of a derived value or of a reading."""
    if quantity in QUANTITIES:
        return QUANTITIES[quantity].label, QUANTITIES[quantity].kind
    return quantity.replace("_", " ").capitalize(), READINGS[quantity].kind


def moves(faults: list[str], expected: Expectation, left: Posterior) -> dict[str, FloatArray]:
    """How each fault by itself would move the rows (M,), at the levels that the readings point to."""
    alone = [left.alone(fault) for fault in faults]
    ends = np.cumsum([len(weights) for weights, _ in alone])
    # All levels of all faults go through the model together.
    offsets = expected.with_changes(np.concatenate([means for _, means in alone]))
    return {
        fault: _average(weights, own)
        for fault, (weights, _), own in zip(faults, alone, np.split(offsets, ends[:-1]), strict=True)
    }


def _average(weights: FloatArray, offsets: FloatArray) -> FloatArray:
    """Weighted mean of those rows (K, M) that the model knows; zero where it knows none."""
    known = np.isfinite(offsets).all(axis=1)
    total = float(weights[known].sum())
    if total <= 0.0:
        return np.zeros(offsets.shape[1])
    return np.asarray(weights[known] @ offsets[known] / total)


def evidence_of(fault: str, move: FloatArray, rows: list[Shown], system: str) -> tuple[list[str], list[str]]:
    """Sentences for a hypothesis and against it, strongest first, each against a healthy unit."""
    found = []
    for one in rows:
        shift = float(move[one.place])
        gain = 0.5 * (one.rest**2 - (one.rest - shift) ** 2) / one.deviation**2
        if abs(one.rest) > _OUTSIDE * one.deviation and shift / one.rest < _EXPLAINS:
            # What lies outside and is hardly moved by it is left unexplained.
            gain = -max(abs(gain), 2.0 * _SPEAKS)
        found.append((gain, one, shift))
    found.sort(key=lambda item: -abs(item[0]))
    for_it = [_with_fault(one, shift, fault, system) for gain, one, shift in found if gain > _SPEAKS]
    against = [_with_fault(one, shift, fault, system) for gain, one, shift in found if gain < -_SPEAKS]
    return for_it[:_QUOTED], against[:_QUOTED]


def _with_fault(one: Shown, shift: float, fault: str, system: str) -> str:
    healthy = one.compared.healthy
    there = healthy * exp(shift) if one.row.logarithmic else healthy + shift
    return words.against_fault(one.compared, fault, there, system)


def of_symptoms(fault: str, visit: Examined, baseline: Derived | None) -> tuple[list[str], list[str]]:
    """The same for values outside the cycle model that show this fault by themselves."""
    for_it: list[str] = []
    against: list[str] = []
    for one in seen(visit, baseline):
        if fault not in one.under:
            continue
        label, kind = label_and_kind(one.row.quantity)
        value, (usual, spread), (there, wide) = one.value[0], one.usual, one.under[fault]
        text = words.symptom(
            label, kind, (value, usual, there), fault, visit.visit.system, usual=usual == one.row.usual[0]
        )
        off, under = (value - usual) / spread, (value - there) / wide
        (for_it if abs(under) < abs(off) else against).append(text)
    return for_it, against


def for_health(rows: list[Shown], system: str) -> tuple[list[str], list[str]]:
    """The same for a healthy unit: readings inside what it would show, and those outside."""
    inside = sorted((one for one in rows if not one.outside), key=lambda one: one.deviation)
    outside = [one for one in rows if one.outside]
    return [words.against_healthy(one.compared, system) for one in inside[:_QUOTED]], [
        words.against_healthy(one.compared, system) for one in outside[:_QUOTED]
    ]
