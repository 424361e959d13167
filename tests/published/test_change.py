"""The statistics behind comparisons against closed forms and reference libraries."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import logsumexp, softmax
from scipy.stats import binom, multivariate_normal, norm

from service.uncertainty.asking import Asking, done
from service.uncertainty.least_squares import Fit, Predicted, Prior, covariance_left, fit
from service.uncertainty.low_discrepancy import MAXIMUM_DRAWS, sample
from service.uncertainty.mixture import Normals, normalised, weights
from service.uncertainty.omnibus import Directions, directions, probability
from service.uncertainty.trend_lines import ODD, line, shape

RNG = np.random.default_rng(20261125)
FloatArray = NDArray[np.float64]


def fitted(model: Callable[[FloatArray], Predicted], *of: Any, **more: Any) -> Fit | None:  # noqa: ANN401
    """A fit of a model that answers at once."""

    def asked(parameters: FloatArray) -> Asking[Predicted]:
        yield []
        return model(parameters)

    return done(fit(asked, *of, **more))


def test_a_linear_fit_is_the_textbook_posterior() -> None:
    """Normal prior and normal errors: precision adds up (Rodgers 2000, equations 4.4 and 4.5)."""
    jacobian = RNG.normal(size=(6, 3))
    root = RNG.normal(size=(6, 6))
    errors = root @ root.T + np.eye(6)
    prior = Prior(np.array([1.0, -2.0, 0.5]), np.diag([4.0, 1.0, 0.25]))
    readings = RNG.normal(size=6)
    found = fitted(lambda u: (jacobian @ u, jacobian), readings, errors, prior)
    assert found is not None
    assert found.converged
    precision = jacobian.T @ np.linalg.inv(errors) @ jacobian + np.linalg.inv(prior.covariance)
    mean = np.linalg.solve(
        precision,
        jacobian.T @ np.linalg.solve(errors, readings) + np.linalg.solve(prior.covariance, prior.mean),
    )
    assert found.parameters == pytest.approx(mean, abs=1e-6)
    assert found.covariance == pytest.approx(np.linalg.inv(precision), abs=1e-9)
    assert covariance_left(jacobian, errors, prior.covariance) == pytest.approx(found.covariance)


def test_the_evidence_is_the_marginal_likelihood() -> None:
    """Of a linear model, but for its constant (JCGM 101 has no need of it; any text on Bayes has it)."""
    jacobian = RNG.normal(size=(4, 2))
    errors = np.diag([0.5, 1.0, 2.0, 0.3])
    readings = RNG.normal(size=4)
    difference = []
    for scale in (0.5, 2.0):
        prior = Prior(np.zeros(2), scale * np.eye(2))
        found = fitted(lambda u: (jacobian @ u, jacobian), readings, errors, prior)
        assert found is not None
        whole = jacobian @ prior.covariance @ jacobian.T + errors
        expected = -0.5 * (readings @ np.linalg.solve(whole, readings) + np.linalg.slogdet(whole)[1])
        difference.append(found.evidence - float(expected))
    assert difference[0] == pytest.approx(difference[1], abs=1e-6)


def test_a_curved_fit_is_that_of_a_reference_library() -> None:
    """SciPy's least squares on the same weighted residuals."""

    def model(u: FloatArray) -> tuple[FloatArray, FloatArray]:
        times = np.array([0.0, 0.5, 1.0, 2.0, 4.0])
        decay = np.exp(-u[1] * times)
        return u[0] * decay, np.stack([decay, -u[0] * times * decay], axis=1)

    readings = np.array([2.1, 1.4, 1.1, 0.5, 0.2])
    prior = Prior(np.array([1.0, 1.0]), np.diag([9.0, 9.0]))
    found = fitted(model, readings, 0.01 * np.eye(5), prior)
    assert found is not None

    def residual(u: FloatArray) -> FloatArray:
        return np.concatenate([(readings - model(u)[0]) / 0.1, (u - prior.mean) / 3.0])

    reference = least_squares(residual, [1.0, 1.0])
    # The fit stops where it gains under 0.005 in misfit: a hundredth of its own uncertainty here.
    assert found.parameters == pytest.approx(reference.x, abs=1e-3)


def test_mixtures_have_the_quantiles_of_a_reference_library() -> None:
    """Against SciPy's normal distribution."""
    mixture = Normals(np.array([0.3, 0.7]), np.array([-1.0, 0.5]), np.array([0.2, 1.5]))
    for p in (0.01, 0.025, 0.5, 0.975):
        value = mixture.quantile(p)
        total = 0.3 * norm.cdf(value, -1.0, 0.2) + 0.7 * norm.cdf(value, 0.5, 1.5)
        assert total == pytest.approx(p, abs=1e-5)
    chosen = np.linspace(0.01, 0.99, 7)
    assert mixture.placed(chosen) == pytest.approx([mixture.quantile(p) for p in chosen], abs=0.02)
    one = Normals(np.ones(1), np.array([2.0]), np.array([3.0]))
    assert one.quantile(0.975) == pytest.approx(norm.ppf(0.975, 2.0, 3.0), abs=1e-3)
    assert mixture.mean == pytest.approx(0.3 * -1.0 + 0.7 * 0.5)


def test_probabilities_from_logarithms_of_any_size() -> None:
    """Against SciPy's softmax, with logarithms whose exponentials would overflow."""
    logarithms = {"a": 1000.0, "b": 1001.5, "c": 990.0}
    expected = softmax(list(logarithms.values()))
    assert list(normalised(logarithms).values()) == pytest.approx(list(expected))
    assert list(normalised({"a": -2000.0, "b": -2001.0}).values()) == pytest.approx(list(softmax([0.0, -1.0])))


def test_a_prior_that_is_not_about_zero() -> None:
    """Posterior mean and marginal likelihood of a linear model, against the normal distribution of SciPy."""
    design = np.array([[1.0, 0.5], [0.0, 2.0], [1.0, -1.0]])
    mean, covariance = np.array([4.0, -3.0]), np.array([[0.5, 0.1], [0.1, 0.3]])
    errors, readings = np.diag([0.2, 0.1, 0.4]), np.array([2.9, -5.5, 7.2])
    found = fitted(lambda u: (design @ u, design), readings, errors, Prior(mean, covariance))
    assert found is not None
    whole = design @ covariance @ design.T + errors
    gain = covariance @ design.T @ np.linalg.inv(whole)
    assert found.parameters == pytest.approx(mean + gain @ (readings - design @ mean))
    density = multivariate_normal.logpdf(readings, design @ mean, whole)
    # But for the constant of three readings.
    assert found.evidence == pytest.approx(density + 1.5 * np.log(2.0 * np.pi))


def test_a_model_without_a_value_has_no_fit() -> None:
    """Neither where the reading nor where its slope is no number; one that fails on the way is bounded."""
    prior = Prior(np.array([0.0]), np.array([[1.0]]))
    for values in ((np.nan, 1.0), (1.0, np.nan)):
        found = fitted(
            lambda u, v=values: (np.array([v[0]]), np.array([[v[1]]])),  # type: ignore[misc]
            np.array([1.0]),
            np.array([[1.0]]),
            prior,
        )
        assert found is None


@pytest.mark.parametrize("broken", ["value", "slope"])
def test_a_step_into_what_the_model_does_not_hold_is_cut(broken: str) -> None:
    """No value beyond 2: the fit ends on this side of it, and says whether it settled."""

    def model(u: FloatArray) -> tuple[FloatArray, FloatArray]:
        beyond = bool(u[0] > 2.0)
        return (
            np.array([np.nan if beyond and broken == "value" else u[0]]),
            np.array([[np.nan if beyond and broken == "slope" else 1.0]]),
        )

    prior = Prior(np.array([0.0]), np.array([[25.0]]))
    blocked = fitted(model, np.array([4.0]), np.array([[0.01]]), prior)
    assert blocked is not None
    assert 0.0 < blocked.parameters[0] <= 2.0
    assert blocked.converged is False
    free = fitted(model, np.array([1.0]), np.array([[0.01]]), prior)
    assert free is not None
    # Weighted mean of 1 +- 0.1 and 0 +- 5.
    assert free.parameters[0] == pytest.approx(100.0 / 100.04, abs=1e-6)
    assert free.converged is True


def test_weights_of_causes_are_those_of_full_bayes() -> None:
    """The posterior under one wide prior, turned into others, against marginal likelihoods."""
    jacobian = RNG.normal(size=(5, 2))
    errors = 0.2 * np.eye(5)
    readings = jacobian @ np.array([0.8, 0.0]) + RNG.normal(size=5) * 0.4
    wide = np.diag([25.0, 25.0])
    found = fitted(lambda u: (jacobian @ u, jacobian), readings, errors, Prior(np.zeros(2), wide))
    assert found is not None
    priors = {
        "one": (0.5, np.diag([1.0, 1e-4])),
        "other": (0.3, np.diag([1e-4, 1.0])),
        "none": (0.2, np.diag([1e-4, 1e-4])),
    }
    expected = {}
    for name, (prior, covariance) in priors.items():
        whole = jacobian @ covariance @ jacobian.T + errors
        expected[name] = float(
            np.log(prior) - 0.5 * (readings @ np.linalg.solve(whole, readings) + np.linalg.slogdet(whole)[1])
        )
    got = weights(found.parameters, found.covariance, wide, priors)
    assert got == pytest.approx(normalised(expected), abs=1e-6)


def test_the_one_test_keeps_its_level() -> None:
    """Where nothing changed, p under 5 % comes up 5 % of the time, for any kinds of change thought of."""
    normal = sample(MAXIMUM_DRAWS).normal[:, 1:]
    changes = tuple(
        (weight, np.diag(sizes))
        for weight, sizes in (
            (0.5, [4.0, 0.0, 0.0, 0.0]),
            (0.3, [0.0, 9.0, 1.0, 0.0]),
            (0.2, [0.5, 0.5, 0.5, 0.5]),
        )
    )
    count = 2000
    small = sum(probability(Directions(scores, changes), normal) < 0.05 for scores in RNG.normal(size=(count, 4)))
    low, high = (float(binom.ppf(p, count, 0.05)) for p in (1e-4, 1 - 1e-4))
    assert low <= small <= high


def test_one_direction_gives_the_two_sided_normal_test() -> None:
    """With a single direction the statistic grows with its square, so p is that of the normal test."""
    normal = sample(MAXIMUM_DRAWS).normal[:, 1:]
    for score in (0.5, 1.96, 2.6):
        told = Directions(np.array([score]), ((1.0, np.array([[3.0]])),))
        assert probability(told, normal) == pytest.approx(2.0 * norm.sf(score), abs=2e-3)
    assert probability(Directions(np.zeros(0), ()), normal) == 1.0


def test_the_statistic_is_the_likelihood_ratio_of_a_mixture() -> None:
    """Against SciPy's densities: readings of a change are normal with its covariance added."""
    normal = sample(256).normal[:3, 1:]
    sizes = (np.diag([4.0, 0.1, 0.0]), np.full((3, 3), 0.8), np.diag([0.0, 0.0, 25.0]))
    parts = tuple(zip((0.5, 0.3, 0.2), sizes, strict=True))

    def ratio(scores: FloatArray) -> FloatArray:
        terms = [
            np.log(weight) + multivariate_normal.logpdf(scores, np.zeros(3), np.eye(3) + added)
            for weight, added in parts
        ]
        return np.asarray(logsumexp(terms, axis=0) - norm.logpdf(scores).sum(axis=-1))

    drawn = ratio(normal.T)
    for scores in np.array([[0.3, -0.2, 0.5], [2.0, 0.1, -0.4], [0.2, 0.1, 3.0], [-9.0, 9.0, 9.0]]):
        # The observed one counts among those as extreme (Davison and Hinkley 1997, 4.2).
        expected = (1 + np.count_nonzero(drawn >= ratio(scores[None]))) / 257
        assert probability(Directions(scores, parts), normal) == pytest.approx(expected, abs=1e-12)


def test_changes_beside_each_other_stay_apart() -> None:
    """Scores in a row, and each change where its own scores are (block matrices by hand)."""
    one = Directions(np.array([1.0, 2.0]), ((0.7, np.array([[2.0, 1.0], [1.0, 3.0]])),))
    other = Directions(np.array([5.0]), ((0.3, np.array([[4.0]])),))
    both = one.beside(other)
    assert both.scores.tolist() == [1.0, 2.0, 5.0]
    assert [weight for weight, _ in both.changes] == [0.7, 0.3]
    assert both.changes[0][1].tolist() == [[2.0, 1.0, 0.0], [1.0, 3.0, 0.0], [0.0, 0.0, 0.0]]
    assert both.changes[1][1].tolist() == [[0.0, 0.0, 0.0], [0.0, 0.0, 0.0], [0.0, 0.0, 4.0]]


def test_directions_are_white() -> None:
    """Scores of an unchanged unit are standard normal, whatever the covariance; of each the size is told,
    as its axis is turned that way (half-normal: mean square 1, mean root of 2 over pi)."""
    root = RNG.normal(size=(5, 5))
    unchanged = root @ root.T + 0.1 * np.eye(5)
    jacobian = RNG.normal(size=(5, 2))
    lower = np.linalg.cholesky(unchanged)
    scores = np.array(
        [directions(lower @ RNG.normal(size=5), unchanged, jacobian, [(1.0, np.eye(2))]).scores for _ in range(4000)]
    )
    assert (scores >= 0.0).all()
    assert np.mean(scores**2, axis=0) == pytest.approx([1.0, 1.0], abs=0.08)
    assert np.mean(scores, axis=0) == pytest.approx([np.sqrt(2.0 / np.pi)] * 2, abs=0.04)
    assert np.corrcoef(scores.T)[0, 1] == pytest.approx(0.0, abs=0.06)


def test_a_line_without_slips_is_weighted_least_squares() -> None:
    """Against the closed form (Draper and Smith, Applied Regression Analysis, 3rd edition, chapter 9)."""
    times = np.array([0.0, 1.0, 2.0, 3.0, 5.0])
    deviations = np.array([0.1, 0.1, 0.2, 0.1, 0.3])
    design = np.stack([np.ones(5), times], axis=1)
    values = 2.0 + 0.7 * times + deviations * np.array([0.1, -0.1, 0.05, 0.0, -0.1])
    found = line(design, values, deviations)
    weight = np.diag(deviations**-2.0)
    expected = np.linalg.solve(design.T @ weight @ design, design.T @ weight @ values)
    assert found.coefficients == pytest.approx(expected, abs=0.01)


def test_one_bad_visit_does_not_bend_the_line() -> None:
    """Drift of 1 a year with one value ten deviations off: it loses its weight."""
    times = np.arange(8.0)
    values = 5.0 + times + 0.2 * RNG.normal(size=8)
    values[5] += 3.0
    found = shape(times, values, np.full(8, 0.3))
    assert found.name == "drift"
    assert found.drift.coefficients[1] == pytest.approx(1.0, abs=0.12)
    assert found.drift.weights[5] < ODD
    assert (np.delete(found.drift.weights, 5) > ODD).all()


def test_steps_and_steady_series_are_told_apart() -> None:
    """A repair between the fourth and fifth visit; and nothing at all."""
    times = np.arange(9.0)
    noise = 0.3 * RNG.normal(size=9)
    stepped = shape(times, np.where(times < 4, 10.0, 7.0) + noise, np.full(9, 0.3))
    assert stepped.name == "step"
    assert stepped.step is not None
    assert stepped.step[0] == 4
    assert stepped.step[1] == pytest.approx(-3.0, abs=0.6)
    assert shape(times, 10.0 + noise, np.full(9, 0.3)).name == "steady"


def test_a_steady_series_seldom_seems_to_move() -> None:
    """Under no change, a shape other than steady is rare, and the band of the drift holds zero."""
    times = np.arange(6.0)
    moved = outside = 0
    count = 400
    for _ in range(count):
        found = shape(times, RNG.normal(size=6), np.ones(6))
        moved += found.name != "steady"
        slope = float(found.drift.coefficients[1])
        outside += abs(slope) > 1.96 * float(np.sqrt(found.drift.covariance[1, 1]))
    assert moved <= 0.05 * count
    assert outside <= 0.09 * count


def test_the_probability_of_change_hangs_on_no_choice_of_axes() -> None:
    """Readings named in another way (turned, which changes nothing of what they say) give the same.

    Also where some of them tell of nothing and some changes show nowhere: an invariance, no source needed.
    """
    generator = np.random.default_rng(77)
    normal = np.random.default_rng(78).standard_normal((12, 512))
    normal = np.concatenate([normal, -normal], axis=1)
    for _ in range(20):
        jacobian = generator.normal(size=(9, 5))
        jacobian[:, 3] = 0.0
        jacobian[:, 4] = jacobian[:, 2]
        root = generator.normal(size=(9, 9))
        errors = root @ root.T + np.eye(9)
        residual = 2.0 * generator.normal(size=9)
        changes = [(0.3, np.diag([1.0, 0.1, 2.0, 3.0, 0.5])), (0.1, np.ones((5, 5)))]
        turn, _ = np.linalg.qr(generator.normal(size=(9, 9)))
        plain = directions(residual, errors, jacobian, changes)
        turned = directions(turn @ residual, turn @ errors @ turn.T, turn @ jacobian, changes)
        assert len(plain.scores) == len(turned.scores) == 3
        assert probability(turned, normal) == probability(plain, normal)
