"""What the readings leave of all hypotheses together: probabilities, levels, and what it costs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np
from numpy.typing import NDArray

from service.derive.examined import Derived, Examined
from service.faults.circumstances import in_circumstances
from service.faults.expectation import Expectation, about
from service.faults.hypotheses import Components, components
from service.faults.inference import Weighed, density_at, weigh
from service.faults.mistakes import Mistake, mistakes
from service.faults.symptoms import symptoms
from service.reference.faults import COSTLY, LEVEL_SPREAD, UNKNOWN_COST
from service.reference.faults_by_mode import IN_MODE
from service.uncertainty.asking import Asking, together
from service.uncertainty.mixture import Normals
from service.uncertainty.normal import cumulative
from service.unit.layout import RUNS

FloatArray = NDArray[np.float64]

#: Weight under which a component no longer counts, once all are known.
_NEGLIGIBLE = 1e-5
#: Share of a fault's own weight under which one of its levels moves nothing.
_NO_WEIGHT = 1e-7
#: Probability from which an explanation is weighed about its own best point.
_COUNTS = 0.005


@dataclass(frozen=True, slots=True)
class Posterior:
    """K components of the cycle and L mistakes with their probabilities, which sum to one.

    ``offsets`` (K, M) are what each component would show of the rows, less what a healthy unit would;
    ``costs`` (2, K) and ``cost_deviations`` (2, K) are changes of the logarithms of efficiency and of
    capacity against a healthy unit in the weather of the visit.  ``evidence`` is the logarithm of the density of
    the readings under all of it together, given the rating, but for a constant of their number.
    """

    components: Components
    weighed: Weighed
    offsets: FloatArray
    chances: FloatArray
    mistakes: tuple[Mistake, ...]
    mistake_chances: FloatArray
    costs: FloatArray
    cost_deviations: FloatArray
    evidence: float

    def probability(self, fault: str) -> float:
        """Probability of one hypothesis, alone or with another."""
        if fault == "no_fault":
            return float(self.chances[self.components.exactly[()]].sum())
        of_mistakes = sum(
            float(chance) for one, chance in zip(self.mistakes, self.mistake_chances, strict=True) if one.fault == fault
        )
        return self.of_any((fault,)) + of_mistakes

    def of_any(self, faults: Iterable[str]) -> float:
        """Probability of the components that have any of these faults."""
        including = self.components.including
        chosen = np.any([including[one] for one in faults], axis=0)
        return float(self.chances[chosen].sum())

    def cost(self, row: int, fault: str | None = None) -> Normals | None:
        """Change of the logarithm of efficiency (0) or capacity (1): under one fault where it is given,
        else over all hypotheses; None where the fault has no weight at all."""
        weights, means, deviations = self._costs_of(row, fault)
        if weights.sum() <= 0.0:
            return None
        return Normals(weights / weights.sum(), means, deviations)

    def costly(self, row: int, fault: str | None = None) -> float:
        """Probability that more than what counts is lost; under one fault where it is given."""
        weights, means, deviations = self._costs_of(row, fault)
        if weights.sum() <= 0.0:
            return 0.0
        under = cumulative((log(1.0 - COSTLY) - means) / deviations)
        return float(weights @ under / weights.sum())

    def _costs_of(self, row: int, fault: str | None) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Weights, means and deviations of the change of efficiency or capacity."""
        if fault is not None:
            # What it takes by itself; with another only where it never stands alone.
            chosen = self.components.exactly[fault,]
            if self.chances[chosen].sum() <= 0.0:
                chosen = self.components.including[fault]
            return self.chances[chosen], self.costs[row, chosen], self.cost_deviations[row, chosen]
        chosen = self.chances > _NEGLIGIBLE
        # A wrong reading costs nothing; what something unknown costs is not known.
        spreads = [
            UNKNOWN_COST if one.fault == "none_of_these" else self.cost_deviations[row, 0] for one in self.mistakes
        ]
        return (
            np.concatenate([self.chances[chosen], self.mistake_chances]),
            np.concatenate([self.costs[row, chosen], np.zeros(len(spreads))]),
            np.concatenate([self.cost_deviations[row, chosen], spreads]),
        )

    def level(self, fault: str) -> Normals | None:
        """How far a fault has gone, in its own unit, for the form that is most probable."""
        form = self._most_probable(fault, _NEGLIGIBLE)
        if form is None:
            return None
        places, orders = self.components.in_form[fault][form]
        chances = self.chances[places]
        counting = chances > _NEGLIGIBLE
        levels = self.components.levels[places[counting], orders[counting]]
        return Normals(chances[counting] / chances[counting].sum(), levels, LEVEL_SPREAD * np.abs(levels))

    def form(self, fault: str) -> str:
        """The form of a fault that is most probable."""
        return self._most_probable(fault, -1.0) or ""

    def _most_probable(self, fault: str, above: float) -> str | None:
        """The form of a fault whose components over a weight weigh most."""
        found: str | None = None
        most = 0.0
        for form, (places, _) in self.components.in_form[fault].items():
            chances = self.chances[places]
            counting = chances > above
            if counting.any() and (found is None or chances[counting].sum() > most):
                found, most = form, float(chances[counting].sum())
        return found

    def alone(self, fault: str) -> tuple[FloatArray, FloatArray]:
        """Levels of a fault by itself that the readings point to: weights (K',), changes (K', C)."""
        alone = self.components.exactly[fault,]
        chosen = alone & (self.chances > _NO_WEIGHT * self.chances[alone].sum())
        weights = self.chances[chosen]
        total = weights.sum()
        return weights / total if total > 0.0 else weights, self.components.means[chosen]


def settled(expected: Expectation, visit: Examined, baseline: Derived | None) -> Asking[tuple[Expectation, Posterior]]:
    """Hypotheses weighed, each about the point where it fits best, as far from a healthy unit the model is not
    linear; and the problem about the point of the most probable one."""
    model = expected.model
    told = in_circumstances(components(model.device, expected.basis == "baseline", model.mode), visit)
    beside = symptoms(visit, baseline, told)
    first, _ = _weighed(expected, told)
    best = int(_logarithms(expected, told, first.evidence + beside).argmax())
    there = yield from about(expected, told.means[best], told.variances[best])
    left = posterior(there, visit, told, beside)
    return there, (yield from _each_about_its_own(there, left, beside))


def _weighed(expected: Expectation, told: Components) -> tuple[Weighed, FloatArray]:
    """Components weighed by the readings, and what each would show less what a healthy unit would (K, M)."""
    offsets = told.means @ expected.changes.T
    return weigh(expected.rest, offsets, expected.spread, expected.changes, told.means, told.variances), offsets


def posterior(expected: Expectation, visit: Examined, told: Components, beside: FloatArray) -> Posterior:
    """Probabilities of all hypotheses that show in the cycle or in its readings, about one point; ``beside`` (K,) is
    what symptoms say of each component."""
    weighed, offsets = _weighed(expected, told)
    wrong = tuple(mistakes(expected, visit))
    chances, total = _chances(expected, told, weighed.evidence + beside, wrong)
    count = len(told.faults)
    costs, deviations = _costs(expected, weighed)
    return Posterior(told, weighed, offsets, chances[:count], wrong, chances[count:], costs, deviations, total)


def mixed(parts: Sequence[Posterior], weights: FloatArray) -> Posterior:
    """Posteriors of one visit under explanations that exclude each other, as one: for probabilities, levels and
    costs, not for what is linear about one point."""
    # Of one mistake the size counts that the most probable explanation gives it.
    wrong: dict[tuple[str, str], tuple[Mistake, float]] = {}
    for place in np.argsort(-weights).tolist():
        for one, chance in zip(parts[place].mistakes, parts[place].mistake_chances.tolist(), strict=True):
            told, total = wrong.get((one.fault, one.culprit), (one, 0.0))
            wrong[one.fault, one.culprit] = told, total + float(weights[place]) * chance
    every = [part.components for part in parts]
    both = Components(
        tuple(one for own in every for one in own.faults),
        np.concatenate([own.levels for own in every]),
        np.concatenate([own.prior for own in every]),
        np.concatenate([own.means for own in every]),
        np.concatenate([own.variances for own in every]),
        {key: np.concatenate([own.exactly[key] for own in every]) for key in every[0].exactly},
        {key: np.concatenate([own.including[key] for own in every]) for key in every[0].including},
        _in_form(every),
    )
    weighed = Weighed(
        np.concatenate([part.weighed.evidence for part in parts]),
        np.concatenate([part.weighed.means for part in parts]),
        np.concatenate([part.weighed.covariances for part in parts]),
    )
    return Posterior(
        both,
        weighed,
        np.concatenate([part.offsets for part in parts]),
        np.concatenate([weight * part.chances for weight, part in zip(weights, parts, strict=True)]),
        tuple([one for one, _ in wrong.values()]),
        np.array([chance for _, chance in wrong.values()]),
        np.concatenate([part.costs for part in parts], axis=1),
        np.concatenate([part.cost_deviations for part in parts], axis=1),
        float(np.logaddexp.reduce([part.evidence for part in parts])),
    )


def _in_form(every: Sequence[Components]) -> dict[str, dict[str, tuple[NDArray[np.intp], NDArray[np.intp]]]]:
    """Components by fault and form, of several sets put one after the other."""
    first = np.cumsum([0, *(len(own.faults) for own in every)]).tolist()
    return {
        fault: {
            form: (
                np.concatenate([own.in_form[fault][form][0] + start for own, start in zip(every, first, strict=False)]),
                np.concatenate([own.in_form[fault][form][1] for own in every]),
            )
            for form in forms
        }
        for fault, forms in every[0].in_form.items()
    }


def _chances(
    expected: Expectation,
    told: Components,
    evidence: FloatArray,
    wrong: tuple[Mistake, ...],
) -> tuple[FloatArray, float]:
    """Probabilities of the components and of the mistakes (K + L,), and the logarithm of the readings' density,
    given the rating."""
    power = IN_MODE[expected.model.mode].power[expected.basis]
    logs = np.concatenate([_logarithms(expected, told, evidence), [one.prior + power * one.evidence for one in wrong]])
    chances = np.exp(logs - logs.max())
    of_rating = list(expected.by_maker)
    level = density_at(expected.rest, expected.spread)
    level -= density_at(expected.rest[of_rating], expected.spread[np.ix_(of_rating, of_rating)])
    return np.asarray(chances / chances.sum()), float(logs.max() + log(chances.sum()) + power * level)


def _logarithms(expected: Expectation, told: Components, evidence: FloatArray) -> FloatArray:
    """Logarithms of the probabilities of the components (K,), but for a constant."""
    # The model is coarse, so what it says of one cause over another counts for less than it says.
    return told.prior + IN_MODE[expected.model.mode].power[expected.basis] * evidence


def _each_about_its_own(expected: Expectation, left: Posterior, beside: FloatArray) -> Asking[Posterior]:
    """The posterior with each explanation that counts linear about its own best point."""
    told = left.components
    evidence, means = left.weighed.evidence.copy(), left.weighed.means.copy()
    covariances, costs = left.weighed.covariances.copy(), left.costs.copy()
    deviations = left.cost_deviations.copy()
    level = density_at(expected.rest, expected.spread)
    best = int(left.chances.argmax())
    counting = [
        members for members in told.exactly.values() if not members[best] and left.chances[members].sum() >= _COUNTS
    ]
    own = [int(np.where(members, left.chances, -1.0).argmax()) for members in counting]
    points = yield from together([about(expected, told.means[one], told.variances[one]) for one in own])
    for members, there in zip(counting, points, strict=True):
        weighed = weigh(
            there.rest,
            told.means[members] @ there.changes.T,
            there.spread,
            there.changes,
            told.means[members],
            told.variances[members],
        )
        evidence[members] = weighed.evidence + density_at(there.rest, there.spread) - level
        means[members], covariances[members] = weighed.means, weighed.covariances
        costs[:, members], deviations[:, members] = _costs(there, weighed)
    chances, total = _chances(expected, told, evidence + beside, left.mistakes)
    count = len(told.faults)
    return replace(
        left,
        weighed=Weighed(evidence, means, covariances),
        chances=chances[:count],
        mistake_chances=chances[count:],
        costs=costs,
        cost_deviations=deviations,
        evidence=total,
    )


def _costs(expected: Expectation, weighed: Weighed) -> tuple[FloatArray, FloatArray]:
    """Changes of the logarithms of efficiency and capacity (2, K) under each component."""
    sound, found = (expected.outputs[health] for health in RUNS)
    layout = expected.model.layout
    places = layout.places
    fitted = expected.fitted.parameters[places]
    values, slopes = [], []
    for name in layout.of_the_system:
        with np.errstate(invalid="ignore", divide="ignore"):
            values.append(np.log(found[name][0] / sound[name][0]))
            slopes.append(found[name][1:][places] / found[name][0] - sound[name][1:][places] / sound[name][0])
    gradient = np.stack(slopes)
    costs = np.array(values)[:, None] + gradient @ (weighed.means - fitted).T
    variances = np.einsum("qi,kij,qj->qk", gradient, weighed.covariances, gradient)
    deviations = layout.widening * np.sqrt(np.maximum(variances, 1e-8))
    # A unit so far off that the model gives it no efficiency: what it lost is not known.
    known = np.isfinite(costs) & np.isfinite(deviations)
    return np.where(known, costs, 0.0), np.where(known, deviations, UNKNOWN_COST)
