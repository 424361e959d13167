"""Where readings are not what they are called, a diagnosis says that first and proposes no work on the circuit."""

from __future__ import annotations

from typing import Any

import pytest

from service.reference.notices import NOTICES
from service.words.diagnosis import what
from tests.unit.assess.test_credible import COOLING, celsius
from tests.unit.faults.test_one_answer import asked

#: Work that a wrong reading must not lead to: it may make a sound charge wrong.
ON_THE_CIRCUIT = {"charge", "open_circuit"}


@pytest.mark.parametrize(
    ("readings", "code"),
    [
        ({"suction_line_temperature": 100.5, "liquid_line_temperature": 56.0}, "line_clamps_swapped_suspected"),
        (
            {"return_air_dry_bulb": 57, "return_air_wet_bulb": 55, "supply_air_dry_bulb": 76},
            "air_probes_swapped_suspected",
        ),
        (celsius(COOLING), "temperatures_in_another_unit"),
        ({"suction_pressure": 9.0, "liquid_pressure": 25.2}, "not_credible"),
    ],
)
def test_misread_readings_come_first_and_no_fault_is_claimed(readings: dict[str, Any], code: str) -> None:
    """Common practice, no source: make sure of the readings before any work."""
    found = asked(readings)
    answer = found.answer
    # A customer's page holds no words of the trade.
    told = what(found.facts, "customer")
    assert not any(word in told for word in ("clamp", "probe", "°F", "cycle", "psi")), told
    notices = {row["code"]: row["sentence"] for row in answer["assessment"]["usability"]["notices"]}
    assert answer["sentence"].startswith(notices[code])
    assert "Closest known fault" not in answer["sentence"]
    assert answer["found"] == [], answer["hypotheses"]
    steps = answer["next_steps"]
    settle = {row.settle for row in NOTICES.values() if row.code == code}
    assert steps[0]["text"] in settle
    assert not ON_THE_CIRCUIT & {step["stage"] for step in steps}


def test_a_reading_that_was_left_out_comes_first_and_the_rest_is_weighed() -> None:
    answer = asked({"airflow": 34}).answer
    assert answer["sentence"].startswith("The airflow of 34 cfm cannot be right")
    assert answer["next_steps"][0]["text"].startswith("Read the airflow again")
    assert answer["hypotheses"]
    assert not ON_THE_CIRCUIT & {step["stage"] for step in answer["next_steps"]}


def test_a_table_of_subcooling_alone_is_no_measure_of_efficiency() -> None:
    """It says nothing of capacity, power or pressures."""
    rows = [{"outdoor_air_dry_bulb": at, "subcooling": degrees} for at, degrees in ((85, 11), (95, 10), (105, 9))]
    answer = asked({}, performance_table=rows).answer
    assert answer["expected_by_table"] == ["subcooling"]
    assert "table" not in answer["sentence"]
