"""The simulated starts are what they say: same seed same log, and a known settled value behind it."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.settled_values import KINDS, Kind, result, simulated


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_simulated_start_comes_near_its_settled_value(kind: Kind) -> None:
    """After 40 minutes a slow part of at most seven minutes has left a third of a percent of its step."""
    rng = np.random.default_rng(3)
    starts = [simulated(rng, kind, 40.0, 10.0) for _ in range(6)]
    for start in starts:
        assert abs(start.quiet[-1] - start.settled[-1]) < 0.15 * kind.step
        assert abs(start.quiet[0] - start.settled[0]) > 0.15 * kind.step
        assert start.values == pytest.approx(np.round(start.values / kind.resolution) * kind.resolution)
    assert len({start.hunting for start in starts}) > 1


def test_the_same_seed_makes_the_same_log() -> None:
    one, other = (simulated(np.random.default_rng(4), KINDS[0], 5.0, 5.0) for _ in range(2))
    assert np.array_equal(one.values, other.values)


@pytest.mark.slow
def test_bands_hold_the_settled_value() -> None:
    """Of 60 starts at 8 minutes a band of 95 % misses more than 9 once in a thousand (binomial)."""
    rng = np.random.default_rng(5)
    found = [result(simulated(rng, KINDS[number % len(KINDS)], 8.0, 5.0)) for number in range(60)]
    assert sum(not one.held for one in found) <= 9
    assert np.median([one.deviation for one in found]) < 1.0
