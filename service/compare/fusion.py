"""All readings of two visits in one likelihood: how the unit changed, at any conditions.

The model is fitted once under a wide prior, which shows roughly what may have changed; then again under
each cause that is still possible.  The answer is the average over causes, by their probabilities.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.compare.makers_map import with_makers_map
from service.compare.superheat_between_runs import with_superheat_between_runs
from service.reference.unit_model import TEMPER, Cause
from service.uncertainty.asking import Asking, ask, done, together
from service.uncertainty.least_squares import Fit, Prior, covariance_left, fit
from service.uncertainty.mixture import Normals, normalised, weights
from service.unit.evidence import Evidence, as_pair, joint_errors, relative
from service.unit.layout import RUNS, Layout
from service.unit.model import (
    FOUND,
    FOUND_AT_RATING,
    LEFT,
    LEFT_AT_RATING,
    SECOND_RUN,
    Outputs,
    Pairing,
    UnitModel,
)
from service.unit.predictor import Predictor, Row, rows_of
from service.unit.questions import Question

FloatArray = NDArray[np.float64]

#: Outputs of explanations, by cause, in the states asked for.
Known = Mapping[tuple[str, Pairing], Outputs]
#: Probability above which a cause is fitted separately, and below which it no longer counts.
_STANDING = 0.01
_NEGLIGIBLE = 0.002


@dataclass(frozen=True, slots=True)
class Explanation:
    """One cause, its probability, and the model fitted under it."""

    cause: str
    probability: float
    found: Fit
    start: FloatArray


@dataclass(frozen=True, slots=True)
class Fusion:
    """The model fitted to both visits, under each cause that the readings do not rule out.

    ``probabilities`` names every cause; ``spread`` (P,) is the scale of the parameters' steps.
    ``unchanged`` is the fit of a unit that did not change, ``wide`` that under the wide prior; ``known`` the
    outputs under each.
    """

    model: UnitModel
    evidence: tuple[Evidence, Evidence]
    readings: FloatArray
    errors: FloatArray
    spread: FloatArray
    prior: Prior
    probabilities: dict[str, float]
    explanations: tuple[Explanation, ...]
    unchanged: Explanation
    wide: Explanation
    known: Known

    def difference(
        self,
        first: Pairing,
        second: Pairing,
        names: Sequence[str],
        logarithmic: Sequence[bool],
    ) -> dict[str, Normals]:
        """Second less first state, given the readings; outputs that the model cannot give are left out."""
        values, deviations = [], []
        for one in self.explanations:
            value, gradient = self.slopes(one, first, second, names, logarithmic)
            values.append(value)
            variance = np.einsum("qp,pr,qr->q", gradient, one.found.covariance, gradient)
            deviations.append(self.model.layout.widening * np.sqrt(np.maximum(variance, 0.0)))
        weights = np.array([one.probability for one in self.explanations])
        means, spreads = np.stack(values), np.stack(deviations)
        known = np.isfinite(means) & np.isfinite(spreads)
        answer = {}
        for row, name in enumerate(names):
            kept = known[:, row]
            if kept.any():
                left_over = weights[kept] / weights[kept].sum()
                answer[name] = Normals(left_over, means[kept, row], spreads[kept, row])
        return answer

    def slopes(
        self,
        one: Explanation,
        first: Pairing,
        second: Pairing,
        names: Sequence[str],
        logarithmic: Sequence[bool],
    ) -> tuple[FloatArray, FloatArray]:
        """Second less first state under one explanation (Q,), and its gradients (Q, P)."""
        (before, slopes), (after, other) = (
            rows_of(self.outputs(one, pairing), names, logarithmic) for pairing in (first, second)
        )
        return after - before, other - slopes

    def with_evidence(self, evidence: tuple[Evidence, Evidence]) -> Fusion:
        """The same expectation with other errors of the readings."""
        errors = joint_errors(evidence)
        found = self.unchanged.found
        again = replace(found, covariance=covariance_left(found.jacobian, errors, self.prior.covariance))
        one = replace(self.unchanged, found=again)
        return replace(
            self,
            evidence=evidence,
            errors=errors,
            explanations=(one,),
            unchanged=one,
            wide=replace(self.wide, found=again),
        )

    def outputs(self, one: Explanation, state: Pairing) -> Outputs:
        """All outputs under one explanation, with their gradients."""
        return self.known[one.cause, state]


def _prior(model: UnitModel, given: Mapping[str, float], both: Sequence[Evidence], *, rated: bool) -> Prior:
    """What is known of both runs beforehand."""
    return with_superheat_between_runs(model, model.prior_of_readings(given, rated=rated), given, both)


def _known(model: UnitModel, spread: FloatArray, wanted: Iterable[tuple[Explanation, Pairing]]) -> Asking[Known]:
    """Outputs of all explanations in all states, computed together."""
    cases = {(one.cause, state): one for one, state in wanted}
    question = Question(
        model,
        np.stack([one.found.parameters for one in cases.values()]),
        spread,
        [state for _, state in cases],
        [one.start for one in cases.values()],
    )
    answer = yield from ask(question)
    return dict(zip(cases, answer.outputs, strict=True))


def _predictor(model: UnitModel, both: tuple[Evidence, Evidence], spread: FloatArray) -> Predictor:
    """The model's view of the features of both visits."""
    rows = [
        Row(f.output, f.logarithmic, (run, run), f.source)
        for run, part in zip(RUNS, both, strict=True)
        for f in part.features
    ]
    return Predictor(model, rows, spread)


@dataclass(frozen=True, slots=True)
class UsualUnit:
    """A usual unit that does not change, under the conditions expected of both runs, before any reading.

    ``outputs`` are those of the unit as found and left in the first run's weather, and of the second run.
    """

    model: UnitModel
    prior: Prior
    spread: FloatArray
    outputs: Mapping[Pairing, Outputs]
    start: FloatArray

    @classmethod
    def of(cls, model: UnitModel, conditions: Mapping[str, float], *, rated: bool) -> UsualUnit:
        """The model where the readings are expected."""
        return cls._about(model, _prior(model, conditions, (), rated=rated))

    def by_table(self, both: tuple[Evidence, Evidence]) -> UsualUnit:
        """The same as its maker's table has it in the weather of both runs."""
        prior = done(with_makers_map(self.model, self.prior, both))
        return self if prior is self.prior else self._about(self.model, prior)

    @classmethod
    def _about(cls, model: UnitModel, prior: Prior) -> UsualUnit:
        spread = np.sqrt(np.diagonal(prior.covariance))
        states = (FOUND, LEFT, SECOND_RUN)
        outputs, saturations = model.linear(prior.mean, spread, states)
        return cls(model, prior, spread, dict(zip(states, outputs, strict=True)), saturations[0])


def assembled(unit: UsualUnit, both: tuple[Evidence, Evidence]) -> Fusion:
    """The fusion of intended readings: they will show what a usual unit does."""
    unit = unit.by_table(both)
    rows = [
        rows_of(
            unit.outputs[run, run],
            [f.output for f in part.features],
            [f.logarithmic for f in part.features],
        )
        for run, part in zip(RUNS, both, strict=True)
    ]
    predicted, jacobian = (np.concatenate(part) for part in zip(*rows, strict=True))
    errors = joint_errors(both)
    found = Fit(
        unit.prior.mean,
        covariance_left(jacobian, errors, unit.prior.covariance),
        predicted,
        jacobian,
        0.0,
        converged=True,
    )
    one = Explanation("nothing", 1.0, found, unit.start)
    wide = replace(one, cause="wide")
    known = {(e.cause, state): shown for e in (one, wide) for state, shown in unit.outputs.items()}
    return Fusion(
        unit.model,
        both,
        predicted,
        errors,
        unit.spread,
        unit.prior,
        {"nothing": 1.0},
        (one,),
        one,
        wide,
        known,
    )


def fuse(model: UnitModel, before: Evidence, after: Evidence, rated: bool) -> Asking[Fusion | None]:
    """Fit the unit model to both visits; None where no fit lies within the refrigerant's tables."""
    both = as_pair(before, after)
    errors = joint_errors(both)
    readings, given = relative(both)
    prior = yield from with_makers_map(model, _prior(model, given, both, rated=rated), both)
    spread = np.sqrt(np.diagonal(prior.covariance))
    predictor = _predictor(model, both, spread)
    wide = yield from fit(predictor, readings, errors, prior)
    if wide is None:
        return None
    wide_start = predictor.last[FOUND]
    causes = {
        cause.name: (cause.prior, allowed(cause, model.device, model.layout)) for cause in model.layout.causes.values()
    }
    fits = yield from _under_each_cause(predictor, readings, errors, prior, wide, causes)
    if "nothing" not in fits:
        return None
    probabilities = normalised(
        {name: TEMPER * found.evidence + float(np.log(causes[name][0])) for name, (found, _) in fits.items()}
    )
    explanations = tuple(
        Explanation(name, probabilities[name], found, start)
        for name, (found, start) in fits.items()
        if probabilities[name] > _NEGLIGIBLE or len(fits) == 1
    )
    unchanged = Explanation("nothing", probabilities["nothing"], *fits["nothing"])
    total = sum(one.probability for one in explanations)
    explanations = tuple(Explanation(one.cause, one.probability / total, one.found, one.start) for one in explanations)
    broad = Explanation("wide", 1.0, wide, wide_start)
    at_rating = (FOUND_AT_RATING, LEFT_AT_RATING)
    known = yield from _known(
        model,
        spread,
        [
            *((one, state) for one in explanations for state in (FOUND, LEFT, *at_rating)),
            *((unchanged, state) for state in (FOUND, LEFT)),
            *((broad, state) for state in (FOUND, LEFT, SECOND_RUN)),
        ],
    )
    return Fusion(
        model,
        both,
        readings,
        errors,
        spread,
        prior,
        {name: probabilities.get(name, 0.0) for name in causes},
        explanations,
        unchanged,
        broad,
        known,
    )


def _under_each_cause(
    predictor: Predictor,
    readings: FloatArray,
    errors: FloatArray,
    prior: Prior,
    wide: Fit,
    causes: Mapping[str, tuple[float, FloatArray]],
) -> Asking[dict[str, tuple[Fit, FloatArray]]]:
    """Fits next to each other under each cause that the wide fit does not rule out, with the saturation
    temperatures (2,) of the unit as found; without those that do not lie within the refrigerant's tables."""
    places = predictor.model.layout.places
    block = np.ix_(places, places)
    rough = weights(wide.parameters[places], wide.covariance[block], prior.covariance[block], causes)
    standing = [name for name in causes if rough[name] >= _STANDING or name == "nothing"]
    views = [predictor.again() for _ in standing]
    works = []
    for name, view in zip(standing, views, strict=True):
        covariance = prior.covariance.copy()
        covariance[block] = causes[name][1]
        start = _toward(wide, covariance[block], prior.covariance[block], places)
        works.append(fit(view, readings, errors, Prior(prior.mean, covariance), start=start, iterations=8))
    found = yield from together(works)
    return {
        name: (one, view.last[FOUND]) for name, view, one in zip(standing, views, found, strict=True) if one is not None
    }


def fit_once(model: UnitModel, before: Evidence, after: Evidence, rated: bool) -> Asking[Fusion | None]:
    """Both visits under one prior, that several things may have changed: estimates that favour no cause, for
    series of visits."""
    both = as_pair(before, after)
    errors = joint_errors(both)
    readings, given = relative(both)
    prior = yield from with_makers_map(model, _prior(model, given, both, rated=rated), both)
    covariance = prior.covariance.copy()
    layout = model.layout
    covariance[np.ix_(layout.places, layout.places)] = allowed(layout.causes["several"], model.device, layout)
    prior = Prior(prior.mean, covariance)
    spread = np.sqrt(np.diagonal(covariance))
    predictor = _predictor(model, both, spread)
    found = yield from fit(predictor, readings, errors, prior)
    if found is None:
        return None
    one = Explanation("several", 1.0, found, predictor.last[FOUND])
    known = yield from _known(model, spread, [(one, FOUND), (one, LEFT)])
    return Fusion(model, both, readings, errors, spread, prior, {"several": 1.0}, (one,), one, one, known)


def allowed(cause: Cause, device: str | None, layout: Layout) -> FloatArray:
    """Prior covariance (C, C) of the changes under a cause."""
    spread = np.array([cause.changes.get(name, layout.drift[name]) for name in layout.changes])
    together = cause.together(device)
    step = np.array([together.get(name, 0.0) for name in layout.changes])
    return np.diag(spread**2) + np.outer(step, step)


def _toward(wide: Fit, narrow: FloatArray, wide_prior: FloatArray, places: list[int]) -> FloatArray:
    """The wide fit under another prior of the changes, in the linear approximation."""
    own = wide.covariance[np.ix_(places, places)]
    precision = np.linalg.inv(own)
    information = precision - np.linalg.inv(wide_prior)
    mean = wide.parameters[places]
    moved = np.linalg.solve(information + np.linalg.inv(narrow), precision @ mean) - mean
    return wide.parameters + wide.covariance[:, places] @ precision @ moved
