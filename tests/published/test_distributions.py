"""Quantiles, coverage factors, probabilities near limits and mixtures against SciPy and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import optimize
from scipy.stats import kurtosis, norm
from scipy.stats.mstats import hdquantiles

from service.uncertainty import low_discrepancy
from service.uncertainty.conformity import matched, probabilities_within
from service.uncertainty.coverage_factor import KURTOSIS, SIXTH, coverage_factor
from service.uncertainty.error_terms import (
    ASSUMPTION_SLOTS,
    DIMENSIONS,
    READING_SLOTS,
    SENSOR_SLOTS,
    SETTLING_SLOTS,
    SPOT_SLOTS,
    ErrorTerm,
    SensorErrors,
    assumption_dimension,
    reading_terms,
    refrigerant_dimension,
    settling_dimension,
    site_pressure_dimension,
    spot_dimension,
)
from service.uncertainty.mixture import Normals
from service.uncertainty.quantiles import ends, quantile_weights

FloatArray = NDArray[np.float64]
NONE = np.array([np.inf])

# ---------------------------------------------------------------- quantiles


@pytest.mark.parametrize("count", [256, 1024])
@pytest.mark.parametrize("coverage", [0.95, 0.5])
def test_ends_are_the_harrell_davis_quantiles_of_scipy(count: int, coverage: float) -> None:
    """The interval's two ends; the tail outside is shared alike."""
    draws = np.random.default_rng(1).gamma(2.0, size=count)
    tail = (1.0 - coverage) / 2.0
    expected = hdquantiles(draws, prob=[tail, 1.0 - tail])
    assert [float(end) for end in ends(draws, coverage)] == pytest.approx(expected, rel=1e-6)


def test_weights_are_a_mean_s() -> None:
    """They sum to one, and those of the upper quantile are those of the lower turned round."""
    low, high = quantile_weights(64, 0.1), quantile_weights(64, 0.9)
    assert low.sum() == pytest.approx(1.0)
    assert low == pytest.approx(high[::-1])


# ---------------------------------------------------------------- coverage factors


def of_rectangular_and_normal(share: float) -> tuple[float, float, float]:
    """Excess kurtosis, sixth cumulant and exact 95 % factor where the rectangle has this variance share."""
    half, deviation = np.sqrt(3.0 * share), np.sqrt(1.0 - share)

    def integral(x: float) -> float:
        """Of the normal distribution function, by parts: x Phi(x) + phi(x)."""
        return float(deviation * (x * norm.cdf(x) + norm.pdf(x)))

    def inside(factor: float) -> float:
        over, under = (factor + half) / deviation, (factor - half) / deviation
        return float((integral(over) - integral(under)) / half - 1.0 - 0.95)

    return -1.2 * share**2, 48.0 / 7.0 * share**3, float(optimize.brentq(inside, 1.5, 2.1))


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9])
def test_one_rectangular_and_one_normal_error(share: float) -> None:
    """Against the normal distribution averaged over the rectangle, in closed form."""
    kurt, sixth, factor = of_rectangular_and_normal(share)
    assert float(coverage_factor(np.array(kurt), np.array(sixth))) == pytest.approx(factor, abs=1e-3)


def test_factors_of_the_pure_distributions() -> None:
    """Normal 1.96; rectangular 0.95 root 3 (JCGM 100, G.6.1); cumulants of the rectangular distribution."""
    found = coverage_factor(np.array([0.0, KURTOSIS]), np.array([0.0, SIXTH]))
    assert found == pytest.approx([norm.ppf(0.975), 0.95 * np.sqrt(3.0)], abs=1e-4)
    grid = (np.arange(100_000) + 0.5) / 50_000 - 1.0
    assert kurtosis(grid) == pytest.approx(KURTOSIS, abs=1e-6)
    # Sixth cumulant of even moments: m6 - 15 m4 m2 + 30 m2^3 (Kendall and Stuart, 3.14).
    m2, m4, m6 = ((grid**power).mean() for power in (2, 4, 6))
    assert (m6 - 15.0 * m4 * m2 + 30.0 * m2**3) / m2**3 == pytest.approx(SIXTH, abs=1e-6)


def test_two_equal_rectangular_errors() -> None:
    """A triangle: 2 - 2 root 0.05 half-widths of one, its deviation root (2/3) of them; within 0.025."""
    exact = (2.0 - 2.0 * np.sqrt(0.05)) / np.sqrt(2.0 / 3.0)
    found = float(coverage_factor(np.array(KURTOSIS / 2.0), np.array(SIXTH / 4.0)))
    assert found == pytest.approx(exact, abs=0.025)


# ---------------------------------------------------------------- error terms


ERRORS = SensorErrors(
    offset=0.3,
    gain=0.1,
    distribution="rectangular",
    placement=0.5,
    repeatability=0.2,
    resolution=0.1,
)


def test_variance_of_a_reading() -> None:
    """Rectangles a^2/3 (JCGM 100, 4.3.7), resolution as half a step to either side (F.2.2.1)."""
    variance = sum(term.variance for term in reading_terms(ERRORS, 3, None))
    assert variance == pytest.approx(0.4**2 / 3 + 0.5**2 / 3 + 0.2**2 + 0.05**2 / 3)
    unit = ErrorTerm(7, "rectangular", 0.4, shared=True).unit()
    assert (unit.dimension, unit.shared) == (7, True)
    assert unit.variance == pytest.approx(1 / 3)


def test_errors_that_are_not_there_have_no_term() -> None:
    bare = SensorErrors(0.0, 0.0, "normal", 0.0, 0.2, 0.0)
    (term,) = reading_terms(bare, 0, None)
    assert (term.distribution, term.scale, term.apart) == ("normal", 0.2, False)
    (term,) = reading_terms(bare, 0, None, scattered=True)
    assert term.apart


def test_no_two_errors_share_a_dimension_but_those_of_one_sensor() -> None:
    """Every dimension that can be asked for, each once, and within the sample."""
    own = [[term.dimension for term in reading_terms(ERRORS, slot, None)] for slot in range(READING_SLOTS)]
    sensors = [reading_terms(ERRORS, 0, slot)[0].dimension for slot in range(SENSOR_SLOTS)]
    taken = [dimension for four in own for dimension in four] + sensors
    taken += [assumption_dimension(slot) for slot in range(ASSUMPTION_SLOTS)]
    taken += [spot_dimension(slot) for slot in range(SPOT_SLOTS)]
    taken += [settling_dimension(slot) for slot in range(SETTLING_SLOTS)]
    taken += [site_pressure_dimension(), refrigerant_dimension()]
    assert sorted(taken) == list(range(DIMENSIONS))
    assert reading_terms(ERRORS, 1, 5)[0] == reading_terms(ERRORS, 2, 5)[0]
    assert reading_terms(ERRORS, 1, 5)[1] != reading_terms(ERRORS, 2, 5)[1]


def test_a_calibration_is_shared_by_one_sensor_s_readings_alone() -> None:
    """It stands apart where something else may share it, or where its size hangs on the reading."""
    steady = SensorErrors(0.3, 0.0, "normal", 0.0, 0.0, 0.0)
    assert [t.shared for t in reading_terms(steady, 0, None)] == [False]
    assert [t.shared for t in reading_terms(steady, 0, None, apart=True)] == [True]
    assert [t.shared for t in reading_terms(steady, 0, 0)] == [True]
    assert [t.shared for t in reading_terms(ERRORS, 0, None)] == [True, False, False, False]
    turned = SensorErrors(0.3, 0.1, "normal", 0.0, 0.0, 0.0, sign=-1.0)
    assert reading_terms(turned, 0, None)[0].scale == pytest.approx(-0.4)


@pytest.mark.parametrize("slot", [-1, READING_SLOTS])
def test_no_such_reading(slot: int) -> None:
    with pytest.raises(ValueError, match=f"reading slot {slot}"):
        reading_terms(ERRORS, slot, None)


@pytest.mark.parametrize("slot", [-1, SENSOR_SLOTS])
def test_no_such_sensor(slot: int) -> None:
    with pytest.raises(ValueError, match=f"sensor slot {slot}"):
        reading_terms(ERRORS, 0, slot)


@pytest.mark.parametrize("slot", [-1, ASSUMPTION_SLOTS])
def test_no_such_assumption(slot: int) -> None:
    with pytest.raises(ValueError, match=f"assumption slot {slot}"):
        assumption_dimension(slot)


# ---------------------------------------------------------------- the sample


@pytest.mark.parametrize("draws", [-2, 0, 1, 3, 255, 8192])
def test_draws_that_are_not_balanced(draws: int) -> None:
    with pytest.raises(ValueError, match=f"power of two from 2 to 4096, not {draws}"):
        low_discrepancy.sample(draws)


@pytest.mark.parametrize("draws", [2, 64, 256, 512, 4096])
def test_each_point_has_its_mirror_image_and_fewer_draws_are_a_prefix(draws: int) -> None:
    """Column 0 has no error; a balanced net puts one point in each of its equal cells (Owen 1998)."""
    taken = low_discrepancy.sample(draws)
    assert taken.draws == draws
    for table in (taken.rectangular, taken.normal):
        assert table.shape == (DIMENSIONS, draws + 1)
        assert not table[:, 0].any()
        assert (table[:, 1::2] == -table[:, 2::2]).all()
    assert (taken.rectangular == low_discrepancy.sample(4096).rectangular[:, : draws + 1]).all()
    points = (taken.rectangular[::20, 1::2] + 1.0) / 2.0
    cells = np.sort(np.floor(points * (draws // 2)), axis=1)
    assert (cells == np.arange(draws // 2)).all()
    assert norm.cdf(taken.normal[::20, 1::2]) == pytest.approx(points, abs=1e-9)


def test_scores_are_independent_and_standard_normal() -> None:
    """Means and variances within 4.5 standard errors of 4,096 random ones; none a mirror image.

    Some pairs of dimensions of a Sobol' sequence are correlated at this length, to 0.11.
    """
    scores = low_discrepancy.normal_scores()
    assert scores.shape == (96, 4096)
    covariance = np.cov(scores)
    assert np.abs(np.diagonal(covariance) - 1.0).max() < 4.5 * np.sqrt(2.0 / 4096)
    assert np.abs(covariance - np.eye(96)).max() < 0.15
    assert np.sqrt(np.mean((covariance - np.eye(96)) ** 2)) < 1.5 / np.sqrt(4096)
    assert np.abs(scores.mean(axis=1)).max() < 4.5 / np.sqrt(4096)
    magnitude = np.sort(np.abs(scores[0]))
    assert (np.diff(magnitude) > 0.0).all()


# ---------------------------------------------------------------- probabilities near limits


def normal_draws(count: int) -> FloatArray:
    """Evenly placed standard normal draws."""
    return np.asarray(norm.ppf((np.arange(count) + 0.5) / count))


@pytest.mark.parametrize("count", [64, 256, 1024])
@pytest.mark.parametrize("limit", [-2.0, -1.0, 0.0, 0.7, 1.645])
def test_probability_under_a_limit_is_the_normal_distribution_s(count: int, limit: float) -> None:
    """The kernel widens by as much as the draws are drawn together, so little is lost."""
    draws = 5.0 + 2.0 * normal_draws(count)
    (found,) = probabilities_within(draws[None], -NONE, np.array([5.0 + 2.0 * limit]))
    assert found == pytest.approx(norm.cdf(limit), abs=0.005)
    (over,) = probabilities_within(draws[None], np.array([5.0 + 2.0 * limit]), NONE)
    assert found + over == pytest.approx(1.0, abs=1e-9)


def test_mean_and_variance_of_the_spread_draws_are_the_draws_own() -> None:
    """From the probabilities under a fine grid of limits (integration by parts), of a skewed quantity."""
    draws = np.exp(normal_draws(256) / 2.0)
    grid = np.linspace(-1.0, 6.0, 1401)
    under = np.array(probabilities_within(np.tile(draws, (len(grid), 1)), np.tile(-NONE, len(grid)), grid))
    # Half a draw is added on either side; take it off where no draw is near.
    edge = 0.5 / 257.0
    under = np.where(under <= edge, 0.0, np.where(under >= 1.0 - edge, 1.0, under))
    density, middle = np.diff(under), (grid[1:] + grid[:-1]) / 2.0
    mean = float(density @ middle)
    assert mean == pytest.approx(draws.mean(), abs=2e-3)
    assert float(density @ (middle - mean) ** 2) == pytest.approx(draws.var(), rel=0.02)


def test_a_thousand_draws_are_never_certain() -> None:
    """Half a draw on either side, whatever the limit (as the rule of succession adds one)."""
    draws = normal_draws(999)[None]
    assert probabilities_within(draws, -NONE, np.array([100.0])) == [1.0 - 0.0005]
    assert probabilities_within(draws, -NONE, np.array([-100.0])) == [0.0005]
    assert probabilities_within(draws, np.array([-9.0]), np.array([9.0])) == [1.0 - 0.0005]


def test_what_does_not_scatter_is_inside_or_not() -> None:
    """A limit itself is inside; beside a quantity that scatters."""
    draws = np.stack([np.full(99, 4.0), np.full(99, 4.0), np.full(99, 4.1), normal_draws(99)])
    found = probabilities_within(draws, np.array([4.0, 3.0, 3.0, 0.0]), np.array([5.0, 4.0, 4.0, 9.0]))
    assert found == pytest.approx([0.995, 0.995, 0.005, 0.5], abs=1e-3)


def test_draws_that_are_no_numbers_count_as_neither() -> None:
    draws = np.stack([normal_draws(256), normal_draws(256)])
    draws[1, ::2] = np.nan
    draws[1, 1] = np.inf
    limits = np.array([0.5, 0.5])
    found = probabilities_within(draws, np.array([-np.inf] * 2), limits)
    left = draws[1][np.isfinite(draws[1])]
    assert found[0] == pytest.approx(norm.cdf(0.5), abs=0.005)
    assert found[1] == probabilities_within(left[None], -NONE, limits[:1])[0]
    with pytest.raises(ValueError, match="no finite draw"):
        probabilities_within(np.stack([draws[0], np.full(256, np.nan)]), -limits, limits)


def test_a_pile_of_draws_is_told_as_half() -> None:
    """Six in ten draws at the limit itself: half of them count as under it (the module's own statement)."""
    draws = np.concatenate([np.zeros(60), np.linspace(1.0, 2.0, 40)])
    (found,) = probabilities_within(draws[None], -NONE, np.array([0.0]))
    assert 0.0 < found < 0.6


@pytest.mark.parametrize("count", [64, 256, 1024])
def test_the_kernel_is_as_wide_as_it_is_said_to_be(count: int) -> None:
    """Two piles at 0 and 10: each a parabola 0.3 of the spread wide at 256 draws, narrower with the fifth
    root of their number (Silverman 1986, 3.4), and drawn to the mean by as much (Jones 1991)."""
    draws = np.repeat([0.0, 10.0], count // 2)
    width = 0.3 * (256.0 / count) ** 0.2
    centre, reach = 5.0 - 5.0 * np.sqrt(1.0 - width**2), np.sqrt(5.0) * 5.0 * width
    for step in (-0.8, -0.3, 0.0, 0.5):
        (found,) = probabilities_within(draws[None], -NONE, np.array([centre + step * reach]))
        # Distribution function of a parabola; the other pile is out of reach.
        assert found == pytest.approx(0.5 * (0.5 + 0.75 * step - 0.25 * step**3), abs=1e-6)


def test_outliers_do_not_widen_the_kernel() -> None:
    """The middle half sets it (Silverman 1986, 3.4.1): the answer stays the count's near the middle."""
    draws = np.concatenate([normal_draws(250), [60.0, 80.0, -70.0, 90.0, -50.0, 75.0]])
    (found,) = probabilities_within(draws[None], -NONE, np.array([1.0]))
    assert found == pytest.approx((draws < 1.0).mean(), abs=0.02)


def test_matched_draws_have_the_exact_mean_and_deviation_and_their_own_shape() -> None:
    draws = np.random.default_rng(4).gamma(2.0, size=(2, 3, 64))
    centre, deviation = np.arange(6.0).reshape(2, 3), np.arange(1.0, 7.0).reshape(2, 3)
    found = matched(draws, centre, deviation)
    assert found.mean(axis=-1) == pytest.approx(centre, abs=1e-12)
    assert found.std(axis=-1) == pytest.approx(deviation)
    own = (draws - draws.mean(axis=-1, keepdims=True)) / draws.std(axis=-1, keepdims=True)
    assert (found - centre[..., None]) / deviation[..., None] == pytest.approx(own)


def test_rows_without_scatter_or_with_a_hole_stay_as_they_are() -> None:
    draws = np.stack([np.full(8, 0.1), np.arange(8.0), np.arange(8.0)])
    draws[1, 3] = np.nan
    found = matched(draws, np.array([9.0, 9.0, 9.0]), np.array([2.0, 2.0, 2.0]))
    assert (found[0] == 0.1).all()
    assert found[1] == pytest.approx(draws[1], nan_ok=True)
    assert (found[2].mean(), found[2].std()) == pytest.approx((9.0, 2.0))


# ---------------------------------------------------------------- mixtures


def test_a_mixture_with_a_certain_part() -> None:
    """Its distribution steps there: nothing of the part under its value, all of it over."""
    mixture = Normals(np.array([0.25, 0.75]), np.array([1.0, 0.0]), np.array([0.0, 2.0]))
    turned = Normals(np.array([0.75, 0.25]), np.array([0.0, 1.0]), np.array([2.0, 0.0]))
    for value, certain in ((0.9, 0.0), (1.1, 0.25)):
        expected = certain + 0.75 * norm.cdf(value, 0.0, 2.0)
        assert mixture.under(value) == pytest.approx(expected, abs=1e-12)
        assert turned.under(value) == pytest.approx(expected, abs=1e-12)
    assert mixture.deviation == pytest.approx(np.sqrt(0.25 + 0.75 * 4.0 - 0.25**2))


@pytest.mark.parametrize("probability", [0.001, 0.025, 0.5, 0.9, 0.999])
def test_quantiles_of_one_normal_distribution(probability: float) -> None:
    """A millionth of a deviation by bisection; a hundredth by interpolation, which is for plotting."""
    one = Normals(np.ones(1), np.array([-4.0]), np.array([0.5]))
    expected = norm.ppf(probability, -4.0, 0.5)
    assert one.quantile(probability) == pytest.approx(expected, abs=2e-6 * 0.5)
    assert one.placed(np.array([probability]))[0] == pytest.approx(expected, abs=0.01 * 0.5)
