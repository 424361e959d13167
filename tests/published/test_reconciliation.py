"""Data reconciliation against textbook cases, SciPy, and its own stated error rates."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from service.uncertainty.reconciliation import balances, chi_square_tail


@pytest.mark.parametrize("degrees", range(1, 9))
@pytest.mark.parametrize("statistic", [0.01, 0.5, 2.0, 7.3, 31.0])
def test_chi_square_tail(degrees: int, statistic: float) -> None:
    """The closed forms equal SciPy's survival function."""
    assert chi_square_tail(statistic, degrees) == pytest.approx(float(stats.chi2.sf(statistic, degrees)), rel=1e-9)


def test_two_readings_of_one_quantity() -> None:
    """10.0 ± 0.3 and 11.0 ± 0.4: weighted mean 10.36, its uncertainty 0.24 (closed form)."""
    slopes, variances = np.array([[-1.0, 1.0]]), np.array([0.09, 0.16])
    found = balances(np.array([1.0]), slopes, variances)
    assert found is not None
    gain = found.gain(np.eye(2))
    after = np.array([10.0, 11.0]) - gain @ found.residual
    assert after == pytest.approx([10.36, 10.36])
    left = np.eye(2) - gain @ slopes
    assert np.sqrt((left**2) @ variances) == pytest.approx([0.24, 0.24])
    assert found.statistic == pytest.approx(1.0 / 0.25)


def test_flow_network() -> None:
    """Five flows, three nodes: the same as a constrained minimum found by SciPy."""
    # Nodes: 1 -> 2 + 3; 2 -> 4; 3 + 4 -> 5.
    incidence = np.array([[1.0, -1, -1, 0, 0], [0, 1, 0, -1, 0], [0, 0, 1, 1, -1]])
    measured = np.array([101.91, 64.45, 34.65, 64.20, 98.88])
    variances = np.array([4.0, 1.0, 2.25, 1.0, 4.0])
    found = balances(incidence @ measured, incidence, variances)
    assert found is not None
    after = measured - found.gain(np.eye(5)) @ found.residual
    assert incidence @ after == pytest.approx(np.zeros(3), abs=1e-10)
    solved = optimize.minimize(  # type: ignore[call-overload]
        lambda x: float(((x - measured) ** 2 / variances).sum()),
        measured,
        method="SLSQP",
        constraints=optimize.LinearConstraint(incidence, 0.0, 0.0),
        tol=1e-12,
    )
    assert after == pytest.approx(solved.x, abs=1e-4)
    assert found.statistic == pytest.approx(solved.fun, abs=1e-6)


def test_gross_error_is_named() -> None:
    """A bias of 10 in the third flow: its likelihood ratio is the largest, its size is found."""
    incidence = np.array([[1.0, -1, -1, 0, 0], [0, 1, 0, -1, 0], [0, 0, 1, 1, -1]])
    truth = np.array([100.0, 64.0, 36.0, 64.0, 100.0])
    biased = truth + np.array([0.0, 0.0, 10.0, 0.0, 0.0])
    found = balances(incidence @ biased, incidence, np.ones(5))
    assert found is not None
    ratios = [found.likelihood_ratio(incidence[:, j]) for j in range(5)]
    assert int(np.argmax([r[0] for r in ratios])) == 2
    assert ratios[2][1] == pytest.approx(10.0)
    assert ratios[2][0] == pytest.approx(found.statistic)


def test_balances_that_repeat_or_cannot_fail_are_left_out() -> None:
    """A copy adds no degree of freedom; a certain balance none either."""
    slopes = np.array([[1.0, -1.0], [2.0, -2.0], [0.0, 0.0]])
    found = balances(np.array([1.0, 2.0, 0.0]), slopes, np.array([1.0, 1.0]))
    assert found is not None
    assert found.degrees == 1
    assert balances(np.zeros(1), np.zeros((1, 2)), np.ones(2)) is None


def test_false_alarms_are_as_rare_as_stated() -> None:
    """Over 20,000 random sets without gross error, the 5 % test fails 5 % of the time."""
    random = np.random.default_rng(5)
    incidence = np.array([[1.0, -1, -1, 0, 0], [0, 1, 0, -1, 0], [0, 0, 1, 1, -1]])
    spread = np.array([2.0, 1.0, 1.5, 1.0, 2.0])
    found = balances(np.zeros(3), incidence, spread**2)
    assert found is not None
    residuals = incidence @ (spread[:, None] * random.standard_normal((5, 20_000)))
    statistics = np.einsum("mn,mk,kn->n", residuals, found.inverse, residuals)
    failed = np.mean([chi_square_tail(s, 3) < 0.05 for s in statistics.tolist()])
    assert failed == pytest.approx(0.05, abs=0.005)
