"""A whole visit against CoolProp, PsychroLib and a general uncertainty library.

``tests/benchmarks/usual_way.py`` computes 49 values without the service, from the same readings and
accuracies.  What differs on purpose: it propagates to first order, where the service propagates
distributions; and it does not bring independent ways to agreement, so those values are compared as read.
"""

from __future__ import annotations

from itertools import islice
from typing import Any

import pytest

from schemas.examples import examples
from tests.benchmarks.fleet_visits import visits
from tests.benchmarks.usual_way import (
    Linear,
    LinearReused,
    MonteCarlo,
    derived,
    differences,
    within_reach,
)
from tests.conftest import Assess


def _complete() -> list[Any]:
    """The example, and visits of the fleet that have all of its readings and refrigerant."""
    return [examples()["r410a_capacity"], *islice(within_reach(visits(2000, seed=1)), 3)]


@pytest.mark.parametrize("body", _complete(), ids=["example", "first", "second", "third"])
def test_values_and_uncertainties_are_those_of_general_libraries(body: dict[str, Any], assessed: Assess) -> None:
    """Values within a fiftieth of their standard uncertainty, these within 1.5 %.

    A fiftieth is room for the tables that stand in for CoolProp; 1.5 % for what first order leaves
    out (most where a clamp on the discharge line errs by its spot) and for 256 draws.  A band as read
    is that of its true distribution: between a normal one
    (1.96) and, where one limit of error dominates, a rectangular one (0.95 of it, so 1.96 standard
    uncertainties are 1.19 times wider).
    """
    rows = differences(derived(body, Linear()), assessed(body))
    assert len(rows) >= 45
    for row in rows:
        assert abs(row.value) < 0.02, row
        if row.as_read:
            assert 0.97 < row.uncertainty < 1.20, row
        else:
            assert row.uncertainty == pytest.approx(1.0, abs=0.015), row


def test_a_kept_state_gives_the_same() -> None:
    """The faster way that the benchmark also times computes the same numbers."""
    body = examples()["r410a_capacity"]
    plain, reused = derived(body, Linear()), derived(body, LinearReused())
    assert plain.keys() == reused.keys()
    for name, value in plain.items():
        assert reused[name].nominal_value == pytest.approx(value.nominal_value, rel=1e-9), name
        assert reused[name].std_dev == pytest.approx(value.std_dev, rel=1e-4), name


@pytest.mark.slow
def test_bands_are_those_of_a_plain_monte_carlo(assessed: Assess) -> None:
    """1,024 pseudo-random draws know a standard uncertainty within 2.2 % (one in 100: 6 %).

    PsychroLib refuses a wet bulb over its dry bulb; draws that come there are left out, which narrows
    the humidity of nearly saturated supply air and what is made of it by up to 10 % more.
    """
    body = examples()["r410a_capacity"]
    for row in differences(derived(body, MonteCarlo()), assessed(body)):
        assert abs(row.value) < 0.02, row
        if not row.as_read:
            assert row.uncertainty == pytest.approx(1.0, abs=0.12), row
