"""Faults far gone: named, with what to do first, not taken for wrong readings.

Readings of a TXV unit with R-410A at 95/80/67 °F, as complaints from the field show them (common practice, no
source).
"""

from __future__ import annotations

from typing import Any

import pytest

from schemas.diagnoses import DiagnosisRequest
from service.faults.diagnosis import diagnose
from tests.answers import untyped


def told(suction: float, liquid: float, suction_line: float, liquid_line: float, supply: float) -> dict[str, Any]:
    """The diagnosis of one visit (psig, °F) to a unit of 3 tons and an EER of 11."""
    return untyped(
        diagnose(
            DiagnosisRequest.model_validate(
                {
                    "units": "imperial",
                    "unit": {
                        "refrigerant": "R-410A",
                        "metering_device": "thermostatic_expansion_valve",
                        "rated": {"cooling_capacity": 36000, "eer": 11},
                        "nameplate": {"subcooling": 10},
                    },
                    "run": {
                        "minutes_running": 20,
                        "readings": {
                            "suction_pressure": suction,
                            "liquid_pressure": liquid,
                            "suction_line_temperature": suction_line,
                            "liquid_line_temperature": liquid_line,
                            "outdoor_air_dry_bulb": 95,
                            "return_air_dry_bulb": 80,
                            "return_air_wet_bulb": 67,
                            "supply_air_dry_bulb": supply,
                        },
                    },
                }
            )
        )
    )


def most_probable(answer: dict[str, Any]) -> tuple[str, float]:
    row = max(answer["hypotheses"], key=lambda one: one["probability"])
    return row["fault"], row["probability"]


@pytest.mark.parametrize(
    ("suction", "liquid", "suction_line", "supply"),
    [(65, 285, 57, 74), (45, 240, 63, 77), (40, 215, 79, 78)],
)
def test_a_nearly_empty_circuit_is_found_and_switched_off_first(
    suction: float, liquid: float, suction_line: float, supply: float
) -> None:
    """Low suction, low head, much superheat and a small split together."""
    answer = told(suction, liquid, suction_line, 94, supply)
    assert answer["verdict"] == "fault_found"
    assert answer["found"][0] == "circuit_nearly_empty"
    assert answer["next_steps"][0]["stage"] == "switch_off"
    loss = answer["efficiency_percent"]
    assert loss is None or loss["band"]["high"] < 0.0
    assert all(h["fault"] != "no_fault" or h["probability"] < 0.1 for h in answer["hypotheses"])


def test_much_of_the_charge_missing_is_low_charge() -> None:
    answer = told(85, 310, 54, 96, 70)
    fault, probability = most_probable(answer)
    assert fault == "low_charge"
    assert probability > 0.8
    assert answer["efficiency_percent"]["value"] < -15.0


@pytest.mark.parametrize(("suction", "liquid", "suction_line", "supply"), [(165, 320, 69, 68), (180, 300, 73, 73)])
def test_a_worn_out_compressor_is_named(suction: float, liquid: float, suction_line: float, supply: float) -> None:
    """High suction and low head together: no reading is doubted for it."""
    answer = told(suction, liquid, suction_line, 92, supply)
    fault, probability = most_probable(answer)
    assert fault == "compressor_leakage"
    assert probability > 0.8
    assert answer["verdict"] in ("fault_found", "fault_not_told_apart")


def test_hardly_any_airflow_is_named() -> None:
    """A quarter of the airflow: low suction, a very large split, little superheat."""
    answer = told(72, 350, 20, 92, 35)
    assert answer["found"] == ["evaporator_airflow"]
