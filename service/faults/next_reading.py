"""Which reading would tell most: expected information gain over the hypotheses, and what each outcome means.

Each hypothesis predicts a normal distribution of the reading; the gain is the entropy of the hypotheses
now less its expectation once the reading is known (Lindley 1956, On a measure of the information provided
by an experiment).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.readings import READINGS
from service.derive.examined import Examined
from service.faults.expectation import Expectation
from service.faults.posterior import Posterior
from service.faults.symptoms import seen
from service.reference.faults import SYMPTOMS, WORTH_READING, NextReading, next_readings
from service.reference.model_outputs import OUTPUTS
from service.unit.predictor import rows_of

FloatArray = NDArray[np.float64]

#: Hypotheses under this probability are left out; points of the numerical integral.
_WORTH = 0.005
_POINTS = 121


@dataclass(frozen=True, slots=True)
class Prediction:
    """What one hypothesis says a reading would show: mean and standard deviation (SI or logarithm)."""

    fault: tuple[str, ...]
    chance: float
    mean: float
    deviation: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A reading that may be made next, what it would tell in bits, and what each hypothesis expects."""

    reading: NextReading
    bits: float
    predictions: tuple[Prediction, ...]


@dataclass(frozen=True, slots=True)
class _Group:
    """One explanation: its probability, its changes (C,), what they move the rows by (M,), and the
    spread of changes (C, C)."""

    fault: tuple[str, ...]
    chance: float
    mean: FloatArray
    offset: FloatArray
    covariance: FloatArray


def candidates(expected: Expectation, left: Posterior, visit: Examined) -> list[Candidate]:
    """Readings not made yet that would tell something; what tells most for its effort comes first."""
    groups = _groups(left)
    found = [*_of_the_cycle(expected, left, visit, groups), *_of_symptoms(visit, groups)]
    return sorted(
        (one for one in found if one.bits > WORTH_READING and np.isfinite(one.bits)),
        key=lambda one: -one.bits / READINGS[one.reading.name].effort,
    )


def _of_the_cycle(expected: Expectation, left: Posterior, visit: Examined, groups: list[_Group]) -> list[Candidate]:
    """Readings that the cycle model predicts."""
    present = {feature.output for feature in expected.parts[1].features}
    rows = [
        row
        for row in next_readings(visit.unit.mode)
        if row.output not in present and row.name not in visit.visit.readings
    ]
    if not rows:
        return []
    values, gradients = rows_of(
        expected.outputs["after"],
        [row.output for row in rows],
        [row.logarithmic for row in rows],
    )
    prior = expected.prior.covariance.copy()
    places = expected.model.layout.places
    prior[places, :] = 0.0
    prior[:, places] = 0.0
    jacobian, fitted = expected.fitted.jacobian, expected.fitted.parameters
    noise = np.array([row.uncertainty**2 + OUTPUTS[row.output].scatter ** 2 for row in rows])
    # About the prior's mean with nothing changed, as the rest of the readings is.
    start = values + gradients @ (expected.prior.mean - fitted)
    own = gradients[:, places]
    known = jacobian @ prior @ gradients.T
    variance = np.einsum("rp,pq,rq->r", gradients, prior, gradients)
    of_all: list[list[Prediction]] = [[] for _ in rows]
    for one in groups:
        spread = expected.spread + expected.changes @ one.covariance @ expected.changes.T
        shared = known + expected.changes @ one.covariance @ own.T
        gain = np.linalg.solve(spread, shared)
        centre = start + own @ one.mean + (expected.rest - one.offset) @ gain
        rest = variance + np.einsum("rc,cd,rd->r", own, one.covariance, own) - (shared * gain).sum(axis=0)
        deviation = np.sqrt(np.maximum(rest, 0.0) + noise)
        for predictions, *shown in zip(of_all, centre.tolist(), deviation.tolist(), strict=True):
            predictions.append(Prediction(one.fault, one.chance, *shown))
    return [Candidate(row, information(own), tuple(own)) for row, own in zip(rows, of_all, strict=True)]


def _of_symptoms(visit: Examined, groups: list[_Group]) -> list[Candidate]:
    """Readings outside the cycle model that tell of one fault by themselves."""
    found = []
    told = {fault for one in seen(visit, None) for fault in one.under}
    for row in SYMPTOMS:
        if visit.unit.mode not in row.modes:
            continue
        if told & row.under.keys() or row.reading.name in visit.visit.readings:
            continue
        told |= row.under.keys()
        noise = row.reading.uncertainty**2
        predictions = []
        for one in groups:
            named = next((row.under[name] for name in one.fault if name in row.under), row.usual)
            predictions.append(Prediction(one.fault, one.chance, named[0], float(np.sqrt(named[1] ** 2 + noise))))
        found.append(Candidate(row.reading, information(predictions), tuple(predictions)))
    return found


def _groups(left: Posterior) -> list[_Group]:
    """Explanations worth a prediction, with what they stand for before the reading."""
    told = left.components
    found = []
    for name, alike in told.exactly.items():
        chosen = alike & (left.chances > 0.0)
        weight = left.chances[chosen]
        total = float(weight.sum())
        if total < _WORTH:
            continue
        share = weight / total
        mean = share @ told.means[chosen]
        off = told.means[chosen] - mean
        covariance = np.diag(share @ told.variances[chosen]) + (off.T * share) @ off
        found.append(_Group(name, total, mean, share @ left.offsets[chosen], covariance))
    return found


def information(predictions: list[Prediction]) -> float:
    """Expected information [bits] about which hypothesis holds."""
    chance = np.array([one.chance for one in predictions])
    if len(chance) < 2:
        return 0.0
    chance = chance / chance.sum()
    mean = np.array([one.mean for one in predictions])
    deviation = np.array([one.deviation for one in predictions])
    grid = np.linspace((mean - 5.0 * deviation).min(), (mean + 5.0 * deviation).max(), _POINTS * 4)
    density = np.exp(-0.5 * ((grid - mean[:, None]) / deviation[:, None]) ** 2)
    density /= deviation[:, None] * np.sqrt(2.0 * np.pi)
    joint = chance[:, None] * density
    total = joint.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(joint > 0.0, joint * np.log2(density / total), 0.0)
    return max(float(np.trapezoid(terms.sum(axis=0), grid)), 0.0)
