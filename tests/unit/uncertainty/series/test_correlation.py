"""What correlated readings are worth.

Expected numbers are the exact sum for a first-order process (Bayley and Hammersley 1946), computed outside the
project; the long-series formula n (1 - rho) / (1 + rho) is its limit.
"""

from __future__ import annotations

from math import exp

import numpy as np
import pytest

from service.uncertainty.series.correlation import decaying, effective_number, sample_correlations

TABLE = {
    30: (30.00, 10.47, 3.91, 2.26, 1.57),
    60: (60.00, 20.45, 7.20, 3.75, 2.23),
    180: (180.0, 60.45, 20.51, 10.00, 5.18),
    300: (300.0, 100.5, 33.83, 16.30, 8.23),
}
FIRST = (0.0, 0.5, 0.8, 0.9, 0.95)


@pytest.mark.parametrize(
    ("count", "first", "worth"),
    [(count, first, worth) for count, row in TABLE.items() for first, worth in zip(FIRST, row, strict=True)],
)
def test_effective_numbers_of_a_first_order_process(count: int, first: float, worth: float) -> None:
    assert effective_number(decaying(first, count), count) == pytest.approx(worth, rel=2e-3)


@pytest.mark.parametrize("first", [0.3, 0.7, 0.9])
def test_a_long_series_comes_to_the_limit(first: float) -> None:
    count = 20_000
    assert effective_number(decaying(first, count), count) == pytest.approx(count * (1 - first) / (1 + first), rel=1e-2)


def _first_order(rng: np.random.Generator, count: int, first: float) -> np.ndarray:
    new = rng.normal(size=count) * np.sqrt(1.0 - first**2)
    found = np.empty(count)
    found[0] = rng.normal()
    for place in range(1, count):
        found[place] = first * found[place - 1] + new[place]
    return found


def test_sample_correlations_find_those_of_a_long_series() -> None:
    found = sample_correlations(_first_order(np.random.default_rng(12345), 4000, 0.8))
    assert found[:3] == pytest.approx([0.8, 0.64, 0.512], abs=0.06)


def test_sample_correlations_end_at_the_first_negative_one() -> None:
    # 1, -1, 1, -1 ...: the first autocorrelation is negative, so the readings count as independent.
    rest = np.tile([1.0, -1.0], 20)
    assert not sample_correlations(rest).any()


def test_gaps_do_not_count() -> None:
    rest = _first_order(np.random.default_rng(1), 4000, 0.8)
    gaps = rest.copy()
    gaps[np.random.default_rng(2).random(4000) < 0.3] = np.nan
    assert sample_correlations(gaps)[:3] == pytest.approx(sample_correlations(rest)[:3], abs=0.05)


def test_the_sensor_sets_a_floor() -> None:
    """A clamp of 20 s read every 5 s has a first autocorrelation of e^(-1/4) = 0.779, whatever twelve readings show."""
    least = exp(-5.0 / 20.0)
    assert least == pytest.approx(0.779, abs=5e-4)
    short = np.random.default_rng(3).normal(size=12)
    assert effective_number(sample_correlations(short, least), 12) <= effective_number(decaying(least, 12), 12)
