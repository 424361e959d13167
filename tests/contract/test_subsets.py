"""No choice of readings makes any resource fail: a sample of what ``tests.nightly.subsets`` sends whole."""

from __future__ import annotations

import random

import pytest
from fastapi.testclient import TestClient

from schemas.readings import READINGS
from tests.contract.subsets import RESOURCES, UNITS, count, failures, subsets

#: Sizes of the sample by the number of readings.
SAMPLE = {1: 3, 2: 6, 3: 6, 4: 8}


def sample() -> list[tuple[str, ...]]:
    rng = random.Random(23)
    chosen = [tuple(rng.sample(list(READINGS), size)) for size, many in SAMPLE.items() for _ in range(many)]
    return [(), *chosen]


def test_all_choices_are_counted() -> None:
    """Of few readings by hand: none, each, each pair."""
    assert len(list(subsets(2))) == count(2) == 1 + len(READINGS) + len(READINGS) * (len(READINGS) - 1) // 2


@pytest.mark.parametrize("place", range(len(sample())))
def test_any_choice_of_readings_is_answered(client: TestClient, place: int) -> None:
    """By six of the resources, in turn."""
    turn = [RESOURCES[(place * 6 + k) % len(RESOURCES)] for k in range(6)]
    assert failures(client, sample()[place], UNITS[place % len(UNITS)], turn) == []


@pytest.mark.parametrize("path", sorted({path for path, _ in RESOURCES}))
def test_ordinary_visits_of_few_readings_are_answered(client: TestClient, path: str) -> None:
    """Liquid side, outdoor air and static pressure, as many visits are; no fault stands out then, and
    there is nothing to list."""
    names = ("liquid_pressure", "liquid_line_temperature", "outdoor_air_dry_bulb", "total_external_static_pressure")
    resources = [row for row in RESOURCES if row[0] == path]
    for unit in UNITS:
        assert failures(client, names, unit, resources) == []
