"""Ratings and targets at the stage or speed that ran, against published ratios of stages.

Low over full stage, net of the blower: cooling capacity 0.728 at 0.869 of the power for each unit of capacity
(RESNET's model of two-stage equipment, published).
"""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from schemas.examples import examples
from tests.conftest import Assess

LOW_CAPACITY, LOW_POWER_OVER_CAPACITY = 0.728, 0.869
CAPACITY, EFFICIENCY = "cooling_capacity_share_of_rating", "eer_share_of_rating"
TARGETS_OF_FULL_STAGE = {"superheat_deviation", "temperature_split_deviation"}


def asked(control: str, **run: Any) -> dict[str, Any]:  # noqa: ANN401
    """A visit with capacity, power and airflow measured, as that of a unit of some capacity control."""
    body: dict[str, Any] = deepcopy(dict(examples()["r410a_capacity"]))
    body["unit"] |= {"capacity_control": control}
    body["unit"]["rated"] = {"cooling_capacity": 36000, "eer": 11.0}
    body["unit"]["nameplate"] = body["unit"].get("nameplate", {}) | {"subcooling": 9}
    body["run"] |= run
    return body


def value(answer: dict[str, Any], name: str) -> float:
    return float(answer["derived"][name]["value"])


def graded(answer: dict[str, Any]) -> set[str]:
    return {row["quantity"] for row in answer["findings"] if row["grade"] != "not_assessed"}


def test_low_stage_is_held_against_its_own_share_of_the_rating(assessed: Assess) -> None:
    """The same readings are 1/0.728 of the share of capacity, and 0.869 of the share of efficiency."""
    single, high, low = (
        assessed(body)
        for body in (asked("single_speed"), asked("two_stage", stage="high"), asked("two_stage", stage="low"))
    )
    # The map of a two-stage unit is its own, within a hundredth or two of the other.
    assert value(high, CAPACITY) == pytest.approx(value(single, CAPACITY), rel=0.02)
    assert value(low, CAPACITY) == pytest.approx(value(high, CAPACITY) / LOW_CAPACITY, rel=1e-3)
    assert value(low, EFFICIENCY) == pytest.approx(value(high, EFFICIENCY) * LOW_POWER_OVER_CAPACITY, rel=1e-3)
    for name in (CAPACITY, EFFICIENCY):
        spreads = [a["derived"][name]["standard_uncertainty"] / value(a, name) for a in (high, low)]
        assert spreads[1] > spreads[0] + 0.005
        assert "run.stage" in low["derived"][name]["from"]


def test_a_rating_of_the_stage_replaces_the_ratio(assessed: Assess) -> None:
    """As the maker states it, without the spread between units."""
    body = asked("two_stage", stage="low")
    body["unit"]["rated"]["low_stage"] = {"cooling_capacity": 27000, "eer": 12.1}
    high, low = assessed(asked("two_stage", stage="high")), assessed(body)
    assert value(low, CAPACITY) == pytest.approx(value(high, CAPACITY) * 36.0 / 27.0, rel=1e-6)
    assert value(low, EFFICIENCY) == pytest.approx(value(high, EFFICIENCY) * 11.0 / 12.1, rel=1e-6)
    assert value(low, "airflow_for_rated_capacity") == pytest.approx(
        value(high, "airflow_for_rated_capacity") * 36.0 / 27.0, rel=1e-6
    )


def test_targets_of_full_stage_are_not_applied_in_low_stage(assessed: Assess) -> None:
    """The nameplate's subcooling and the published target tables are for full stage (value from memory)."""
    low = assessed(asked("two_stage", stage="low"))
    assert not graded(low) & {*TARGETS_OF_FULL_STAGE, "subcooling_deviation"}
    assert {"superheat", "compression_ratio"} & graded(low)
    assert "low" in {notice["code"] for notice in low["usability"]["notices"]}
    wanted = next(row for row in low["missing"] if row["quantity"] == "subcooling_deviation")
    assert ["unit.nameplate.low_stage.subcooling"] in [way["add"] for way in wanted["unlock"]]
    body = asked("two_stage", stage="low")
    body["unit"]["nameplate"]["low_stage"] = {"subcooling": 7}
    stated = assessed(body)
    assert "subcooling_deviation" in graded(stated)
    assert value(stated, "target_subcooling") == pytest.approx(7.0)


def test_nothing_is_held_against_a_rating_where_the_capacity_is_not_known(assessed: Assess) -> None:
    """Without a statement, in test mode and at part speed; near the rated speed the rating applies."""
    for control, run in (
        ("two_stage", {}),
        ("variable_speed", {}),
        ("variable_speed", {"test_mode": True}),
        ("variable_speed", {"speed_percent": 60}),
    ):
        answer = assessed(asked(control, **run))
        assert not {CAPACITY, EFFICIENCY, "airflow_for_rated_capacity"} & set(answer["derived"])
        assert not graded(answer) & TARGETS_OF_FULL_STAGE
        assert ("subcooling_deviation" in graded(answer)) == bool(run.get("test_mode"))
        assert {"cooling_capacity", "eer"} <= set(answer["derived"])
    full = assessed(asked("variable_speed", speed_percent=100))
    single = assessed(asked("single_speed"))
    assert value(full, CAPACITY) == pytest.approx(value(single, CAPACITY), rel=1e-6)
    spreads = [a["derived"][CAPACITY]["standard_uncertainty"] for a in (single, full)]
    assert spreads[1] > spreads[0]


def test_the_season_is_that_of_the_whole_unit(assessed: Assess) -> None:
    """A load of rated capacity times full-load hours does not shrink with the stage that was read: energy is that
    load over the efficiency, so it moves with the efficiency alone."""
    energies = []
    for stage in ("high", "low"):
        body = asked("two_stage", stage=stage) | {"usage": {"cooling_hours": 1200}}
        energies.append(value(assessed(body), "seasonal_energy"))
    assert energies[1] == pytest.approx(energies[0], rel=1e-6)
