"""Robust lines against SciPy's Student distribution and textbook least squares."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize
from scipy.stats import t as student

from service.uncertainty.trend_lines import FREEDOM, ODD, line, lines, shape, shapes

FloatArray = NDArray[np.float64]

TIMES = np.array([0.0, 1.0, 2.5, 3.0, 5.0, 6.0, 8.0, 9.5])
DESIGN = np.stack([np.ones(8), TIMES], axis=1)
DEVIATIONS = np.array([0.2, 0.3, 0.2, 0.4, 0.3, 0.2, 0.5, 0.2])
NOISE = np.array([0.4, -0.9, 0.3, 1.1, -6.0, -0.2, 0.8, -0.5])
VALUES = 3.0 - 0.4 * TIMES + DEVIATIONS * NOISE


def log_likelihood(coefficients: FloatArray) -> float:
    rest = (VALUES - DESIGN @ coefficients) / DEVIATIONS
    return float((student.logpdf(rest, FREEDOM) - np.log(DEVIATIONS)).sum())


def less_likely(coefficients: FloatArray) -> float:
    return -log_likelihood(coefficients)


def test_the_line_is_the_most_probable_under_student_errors() -> None:
    """Coefficients and likelihood against SciPy: its distribution, its minimiser."""
    found = line(DESIGN, VALUES, DEVIATIONS)
    best = minimize(less_likely, np.array([3.0, -0.4]), tol=1e-9)
    assert found.coefficients == pytest.approx(best.x, abs=1e-4)
    assert found.likelihood == pytest.approx(log_likelihood(found.coefficients), abs=1e-9)
    # Schwarz 1978: -2 ln L + k ln n.
    assert found.criterion(8) == pytest.approx(-2.0 * found.likelihood + 2.0 * np.log(8.0))


def test_weights_are_those_of_the_student_distribution() -> None:
    """(v + 1) / (v + r^2) (Lange, Little and Taylor 1989); the slip of six deviations alone is odd."""
    found = line(DESIGN, VALUES, DEVIATIONS)
    rest = (VALUES - DESIGN @ found.coefficients) / DEVIATIONS
    assert found.weights == pytest.approx(4.0 / (3.0 + rest**2))
    assert [int(place) for place in np.flatnonzero(found.weights < ODD)] == [4]


def test_covariance_is_the_inverse_of_the_expected_information() -> None:
    """(v + 3) / (v + 1) times that of weighted least squares where values fit (Lange et al. 1989)."""
    fitting = 3.0 - 0.4 * TIMES + 0.1 * DEVIATIONS * NOISE
    found = line(DESIGN, fitting, DEVIATIONS)
    usual = np.linalg.inv(DESIGN.T @ np.diag(DEVIATIONS**-2.0) @ DESIGN)
    assert found.covariance == pytest.approx(usual * 6.0 / 4.0)


def test_scatter_beyond_the_stated_widens_by_birge() -> None:
    """Chi-square over its degrees of freedom (Birge 1932), counting what is not odd."""
    wild = 3.0 - 0.4 * TIMES + 2.0 * DEVIATIONS * np.array([1.0, -1, 1, -1, 1, -1, 1, -1])
    found = line(DESIGN, wild, DEVIATIONS)
    rest = (wild - DESIGN @ found.coefficients) / DEVIATIONS
    usual = found.weights > ODD
    factor = float((rest[usual] ** 2).sum()) / (usual.sum() - 2)
    plain = np.linalg.inv(DESIGN.T @ np.diag(DEVIATIONS**-2.0) @ DESIGN) * 6.0 / 4.0
    assert factor > 2.0
    assert found.covariance == pytest.approx(plain * factor)


def test_as_many_coefficients_as_values_leave_no_scatter_to_judge_by() -> None:
    found = line(DESIGN[:2], VALUES[:2], DEVIATIONS[:2])
    exact = np.linalg.inv(DESIGN[:2].T @ np.diag(DEVIATIONS[:2] ** -2.0) @ DESIGN[:2]) * 6.0 / 4.0
    assert found.coefficients == pytest.approx(np.linalg.solve(DESIGN[:2], VALUES[:2]), abs=1e-5)
    assert found.covariance == pytest.approx(exact, rel=1e-6)


def test_series_at_a_time_are_those_alone() -> None:
    other = VALUES[::-1] + 100.0
    both = lines(DESIGN, np.stack([VALUES, other]), np.stack([DEVIATIONS, 2.0 * DEVIATIONS]))
    for found, alone in zip(
        both, (line(DESIGN, VALUES, DEVIATIONS), line(DESIGN, other, 2.0 * DEVIATIONS)), strict=True
    ):
        assert found.coefficients == pytest.approx(alone.coefficients, rel=1e-6)
        assert found.likelihood == pytest.approx(alone.likelihood)


@pytest.mark.parametrize("scale", [1e-6, 1e6])
def test_the_unit_changes_nothing(scale: float) -> None:
    usual, other = (
        line(DESIGN, VALUES, DEVIATIONS),
        line(DESIGN, scale * VALUES, scale * DEVIATIONS),
    )
    assert other.coefficients / scale == pytest.approx(usual.coefficients, rel=1e-9)
    assert other.weights == pytest.approx(usual.weights)


@pytest.mark.parametrize("place", [2, 4, 7])
def test_a_step_is_found_where_it_is(place: int) -> None:
    """From two values before it to two after; with its size and, by textbook, its uncertainty."""
    times = np.arange(9.0)
    wiggle = 0.02 * np.array([1.0, -1, 1, -1, 1, -1, 1, -1, 1])
    found = shape(times, np.where(times < place, 5.0, 8.0) + wiggle, np.full(9, 0.1))
    assert found.name == "step"
    assert found.step is not None
    where, size, deviation = found.step
    assert where == place
    assert size == pytest.approx(3.0, abs=0.05)
    # Difference of two means, times root (v + 3)/(v + 1) for Student errors.
    expected = 0.1 * np.sqrt((1.0 / place + 1.0 / (9 - place)) * 6.0 / 4.0)
    assert deviation == pytest.approx(expected, rel=1e-6)
    assert found.chosen.coefficients[1] == pytest.approx(size)


@pytest.mark.parametrize("place", [1, 8])
def test_one_odd_value_at_an_end_is_no_step(place: int) -> None:
    """A lone first or last value is a slip as well as a step."""
    times = np.arange(9.0)
    wiggle = 0.02 * np.array([1.0, -1, 1, -1, 1, -1, 1, -1, 1])
    found = shape(times, np.where(times < place, 5.0, 8.0) + wiggle, np.full(9, 0.1))
    assert found.step is None or found.step[0] != place


def test_a_drift_is_about_the_mean_of_the_times() -> None:
    """Its constant is then the value at the mean time, and is independent of the slope."""
    times = np.array([0.0, 1.0, 3.0, 4.0, 7.0, 9.0])
    found = shape(times, 2.0 + 0.5 * times, np.full(6, 0.1))
    assert (found.name, found.step) == ("drift", None)
    assert found.drift.coefficients == pytest.approx([2.0 + 0.5 * 4.0, 0.5])
    assert found.drift.covariance[0, 1] == pytest.approx(0.0, abs=1e-12)


def test_evidence_for_a_drift_has_to_be_strong() -> None:
    """Six points of the criterion (Kass and Raftery 1995) over a steady series: just under, just over."""
    times = np.arange(8.0) - 3.5
    pattern = 0.05 * np.array([1.0, -1, -1, 1, 1, -1, -1, 1])

    def advantage(slope: float) -> float:
        values = slope * times + pattern
        one, two = np.ones((8, 1)), np.stack([np.ones(8), times], axis=1)
        deviations = np.full(8, 0.1)
        return line(one, values, deviations).criterion(8) - line(two, values, deviations).criterion(8)

    enough = brentq(lambda slope: advantage(slope) - 6.0, 0.0, 0.1, xtol=1e-6)
    names = [shape(times, slope * times + pattern, np.full(8, 0.1)).name for slope in (0.98 * enough, 1.02 * enough)]
    assert names == ["steady", "drift"]


def test_too_few_values_for_a_step() -> None:
    """Three of them: a step would leave one alone on a side."""
    found = shapes(np.arange(3.0), np.array([[1.0, 1.0, 9.0]]), np.full((1, 3), 0.1))
    assert found[0].step is None
