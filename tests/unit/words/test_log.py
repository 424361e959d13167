"""Sentences about a log say what happened, in seconds or minutes as a person would."""

from __future__ import annotations

from dataclasses import replace

import pytest

from schemas.logs import LeftOutReason, LogEventName, Steadiness
from service.words import log as words
from tests.unit.test_names import of

STEADY = words.ReadingFacts(
    name="suction_line_temperature",
    kind="temperature",
    difference_kind="temperature_difference",
    value=285.928,  # 55 °F
    uncertainty=0.2834646,  # half a band of 1 °F, over 1.96
    count=120,
    effective=12.2,
    drift=0.1,
    grade="steady",
    settled_for=400.0,
    added=0.0,
    hunting=None,
    system="imperial",
)


def test_every_name_of_the_contract_has_its_words() -> None:
    assert words.LEFT_OUT.keys() == of(LeftOutReason)
    assert words.EVENTS.keys() == of(LogEventName)
    assert words.STEADINESS.keys() == of(Steadiness)


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0, "0 s"), (95, "95 s"), (150, "2.5 min"), (480, "8 min"), (497, "8.3 min"), (1234, "21 min")],
)
def test_times_are_written_as_a_person_would(seconds: float, said: str) -> None:
    assert words.clock(seconds) == said


def test_a_unit_comes_once_where_it_is_the_same() -> None:
    assert words.between(0, 60) == "0 to 60 s"
    assert words.between(300, 900) == "5 to 15 min"
    assert words.between(45, 300) == "45 s to 5 min"
    assert words.between(0, 300) == "0 to 5 min"


def test_a_steady_reading() -> None:
    said = words.reading(STEADY)
    assert said.startswith("Suction line temperature settles at 55.0 °F (95 %: 54.0 to 56.0 °F, before calibration).")
    assert "It was steady over the last 5 min." in said
    assert "Its 120 readings count as about 12 independent ones" in said
    assert "independent" not in words.reading(replace(STEADY, effective=110.0))


def test_a_reading_that_had_not_settled_says_what_was_added() -> None:
    said = words.reading(replace(STEADY, settled_for=None, grade="not_steady", drift=-2.0, added=-0.5))
    assert "It had not settled when the log ended (it changed by −3.6 °F in five minutes)" in said
    assert "so −0.9 °F was added to its last level" in said
    assert "may not have settled" in words.reading(replace(STEADY, settled_for=None, grade="cannot_tell"))


def test_when_it_will_have_settled() -> None:
    assert words.settles_in(0.0, 0.0, 0.0) == "The readings have settled."
    assert words.settles_in(0.0, 0.0, 163.0).startswith("The readings have probably settled. To be sure,")
    assert "in about 3 min (95 %: 60 s to 7 min)" in words.settles_in(183.0, 62.0, 421.0)


def test_a_whole_log_names_three_readings_and_counts_the_rest() -> None:
    names = ["suction_pressure", "liquid_pressure", "supply_air_dry_bulb", "line_voltage", "airflow"]
    assert words.summary(1200, [], [], [], 5) == "The log covers 20 min. The readings had settled."
    assert "None of the readings had clearly settled." in words.summary(200, names, [], [], 5)
    some = words.summary(200, names[:4], [], [], 5)
    assert "Suction pressure, liquid pressure, supply air dry bulb and 1 other had not clearly settled." in some
    assert "but airflow was not steady" in words.summary(900, [], ["airflow"], [], 5)
    assert words.summary(900, [], [], ["airflow"], 5).endswith(
        "The other readings had settled. Airflow could not be used."
    )
    assert words.summary(900, [], [], names, 5).endswith("None of its readings could be used.")
