"""All readings of two visits in one likelihood: how the unit changed, at any conditions.

The model is fitted once under a wide prior, which tells roughly what may have changed; then once more
under each cause that still stands.  The answer is the average over causes, by their probabilities.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.compare.evidence import Evidence, joint
from service.compare.unit_model import (
    CHANGES,
    INDEX,
    RUNS,
    Health,
    UnitModel,
    Weather,
)
from service.reference.unit_model import CAUSES, DRIFT, Cause
from service.uncertainty.least_squares import Fit, Prior, fit
from service.uncertainty.mixture import Normals, normalised, weights

FloatArray = NDArray[np.float64]

_CONDITION_OF = {
    "outdoor_air_dry_bulb": "outdoor",
    "return_air_dry_bulb": "dry_bulb",
    "return_air_wet_bulb": "wet_bulb",
    "supply_voltage": "voltage",
}
_PLACES = [INDEX[name] for name in CHANGES]
#: Probability over which a cause is fitted on its own, and under which it no longer counts.
_STANDING = 0.01
_NEGLIGIBLE = 0.002
#: Weight of a condition's prior where the condition was read: next to none.
_READ_SPREAD = 8.0


@dataclass(frozen=True, slots=True)
class Explanation:
    """One cause, its probability, and the model fitted under it."""

    cause: str
    probability: float
    found: Fit
    start: FloatArray


@dataclass(frozen=True, slots=True)
class Fusion:
    """The model fitted to both visits, under each cause that the readings leave standing.

    ``probabilities`` names every cause; ``spread`` (P,) is the scale of the parameters' steps.
    """

    model: UnitModel
    evidence: tuple[Evidence, Evidence]
    readings: FloatArray
    errors: FloatArray
    spread: FloatArray
    probabilities: dict[str, float]
    explanations: tuple[Explanation, ...]

    def difference(
        self,
        first: tuple[Weather, Health],
        second: tuple[Weather, Health],
        names: Sequence[str],
        logarithmic: Sequence[bool],
    ) -> dict[str, Normals]:
        """Second less first state, as the readings leave it."""
        values, deviations = [], []
        for one in self.explanations:
            (before, slopes), (after, other) = (
                _rows(
                    self.model.linear(one.found.parameters, self.spread, *pairing, one.start)[0],
                    names,
                    logarithmic,
                )
                for pairing in (first, second)
            )
            gradient = other - slopes
            values.append(after - before)
            variance = np.einsum("qp,pr,qr->q", gradient, one.found.covariance, gradient)
            deviations.append(np.sqrt(np.maximum(variance, 0.0)))
        weights = np.array([one.probability for one in self.explanations])
        means, spreads = np.stack(values), np.stack(deviations)
        return {
            name: Normals(weights, means[:, row], spreads[:, row]) for row, name in enumerate(names)
        }


class _Predictor:
    """The model's view of both visits' features; remembers the last solution as its next start."""

    def __init__(
        self, model: UnitModel, both: tuple[Evidence, Evidence], spread: FloatArray
    ) -> None:
        self.model, self.both, self.spread = model, both, spread
        self.last: dict[Health, FloatArray] = {}

    def __call__(self, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        values, gradients = [], []
        for run, part in zip(RUNS, self.both, strict=True):
            outputs, saturation = self.model.linear(
                parameters, self.spread, run, run, self.last.get(run)
            )
            if np.isfinite(saturation).all():
                self.last[run] = saturation
            names = [f.output for f in part.features]
            rows = _rows(outputs, names, [f.logarithmic for f in part.features])
            values.append(rows[0])
            gradients.append(rows[1])
        return np.concatenate(values), np.concatenate(gradients)


def fuse(model: UnitModel, before: Evidence, after: Evidence, *, rated: bool) -> Fusion | None:
    """Fit the unit model to both visits; None where it does not fit into the refrigerant's tables."""
    both = (before, after)
    slopes, variances = joint([e.slopes for e in both], [e.variables for e in both])
    errors = (slopes * variances) @ slopes.T + np.diag(np.concatenate([e.own for e in both]))
    readings, given = _relative(both)
    prior = _prior(model, given, rated=rated)
    spread = np.sqrt(np.diagonal(prior.covariance))
    predictor = _Predictor(model, both, spread)
    wide = fit(predictor, readings, errors, prior)
    if wide is None:
        return None
    causes = {c.name: (c.prior, _allowed(c, model.device)) for c in CAUSES.values()}
    block = np.ix_(_PLACES, _PLACES)
    rough = weights(
        wide.parameters[_PLACES], wide.covariance[block], prior.covariance[block], causes
    )
    fits, evidence = {}, {}
    for name, (probability, allowed) in causes.items():
        if rough[name] < _STANDING and name != "nothing":
            continue
        covariance = prior.covariance.copy()
        covariance[block] = allowed
        start = _toward(wide, allowed, prior.covariance[block])
        found = fit(
            predictor, readings, errors, Prior(prior.mean, covariance), start=start, iterations=8
        )
        if found is not None:
            fits[name] = (found, predictor.last["before"])
            evidence[name] = found.evidence + float(np.log(probability))
    if not fits:
        return None
    probabilities = normalised(evidence)
    explanations = tuple(
        Explanation(name, probabilities[name], found, start)
        for name, (found, start) in fits.items()
        if probabilities[name] > _NEGLIGIBLE or len(fits) == 1
    )
    total = sum(one.probability for one in explanations)
    explanations = tuple(
        Explanation(one.cause, one.probability / total, one.found, one.start)
        for one in explanations
    )
    return Fusion(
        model, both, readings, errors, spread,
        {name: probabilities.get(name, 0.0) for name in CAUSES}, explanations,
    )  # fmt: skip


def _relative(both: tuple[Evidence, Evidence]) -> tuple[FloatArray, dict[str, float]]:
    """All features, voltages against that of the first visit; and the conditions that were read."""
    given = {}
    for run, part in zip(RUNS, both, strict=True):
        for output, name in _CONDITION_OF.items():
            place = part.place(output)
            if place is not None:
                given[f"{name}_{run}"] = float(part.values[place])
    level = next((given[f"voltage_{run}"] for run in RUNS if f"voltage_{run}" in given), 0.0)
    readings = np.concatenate(
        [
            e.values - level * np.array([f.output == "supply_voltage" for f in e.features])
            for e in both
        ]
    )
    return readings, {n: v - level if n.startswith("voltage") else v for n, v in given.items()}


def _prior(model: UnitModel, given: dict[str, float], *, rated: bool) -> Prior:
    """The model's prior; that of a condition which was read has next to no weight."""
    prior = model.prior(given, rated=rated)
    scale = np.ones(len(prior.mean))
    for name in given:
        if not name.startswith("voltage"):
            scale[INDEX[name]] = _READ_SPREAD
    return Prior(prior.mean, prior.covariance * np.outer(scale, scale))


def _allowed(cause: Cause, device: str | None) -> FloatArray:
    """Prior covariance (C, C) of the changes under a cause."""
    spread = np.array([cause.changes.get(name, DRIFT[name]) for name in CHANGES])
    together = cause.together(device)
    step = np.array([together.get(name, 0.0) for name in CHANGES])
    return np.diag(spread**2) + np.outer(step, step)


def _toward(wide: Fit, allowed: FloatArray, wide_prior: FloatArray) -> FloatArray:
    """Where the wide fit would lie under another prior of the changes, in the linear approximation."""
    own = wide.covariance[np.ix_(_PLACES, _PLACES)]
    precision = np.linalg.inv(own)
    information = precision - np.linalg.inv(wide_prior)
    mean = wide.parameters[_PLACES]
    moved = np.linalg.solve(information + np.linalg.inv(allowed), precision @ mean) - mean
    return wide.parameters + wide.covariance[:, _PLACES] @ precision @ moved


def _rows(
    outputs: dict[str, FloatArray], names: Sequence[str], logarithmic: Sequence[bool]
) -> tuple[FloatArray, FloatArray]:
    """Values (Q,) and gradients (Q, P), of logarithms where wanted."""
    stack = np.stack([outputs[name] for name in names])
    log = np.asarray(logarithmic, dtype=bool)
    with np.errstate(invalid="ignore", divide="ignore"):
        values = np.where(log, np.log(stack[:, 0]), stack[:, 0])
        gradients = np.where(log[:, None], stack[:, 1:] / stack[:, :1], stack[:, 1:])
    return values, gradients
