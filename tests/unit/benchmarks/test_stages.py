"""The study of stages: its units are what it says, and a few of them in every kind."""

from __future__ import annotations

import pytest

from tests.benchmarks.stages import CONTROLS, Staged, compared, condemned, diagnosed, units
from tests.nightly import AT_NIGHT


@pytest.fixture(scope="module", params=list(CONTROLS) if AT_NIGHT else list(CONTROLS)[:1])
def some(request: pytest.FixtureRequest) -> list[Staged]:
    """A unit of a kind; of every kind each night."""
    return list(units(1, 1, request.param))


def test_a_healthy_unit_is_neither_condemned_nor_credited(some: list[Staged]) -> None:
    """In cooling and in heating, with the stage or speed stated and not."""
    for one in some:
        for stated in (True, False):
            for place in (0, 1):
                answer = diagnosed(one, place, stated=stated)
                assert not condemned(answer)
                assert answer["stage"] is None or not stated
            assert compared(one, stated=stated)["system"]["verdict"] not in ("improved", "worsened")


def test_units_run_at_the_share_that_they_state(some: list[Staged]) -> None:
    """One run in each stage; speeds between a quarter and a twentieth above the rated one."""
    for one in some:
        stated = [one.stated(place) for place in (0, 1)]
        if one.control == "variable_speed":
            assert all(25.0 <= run["speed_percent"] <= 105.0 for run in stated)
        else:
            assert {run["stage"] for run in stated} == {"low", "high"}


def test_the_same_seed_gives_the_same_units() -> None:
    """Whatever the count."""
    assert next(units(2, 1, "two_stage")) == next(units(1, 1, "two_stage"))
