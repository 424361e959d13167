"""A unit with two refrigerant circuits: one is assessed at a time, and what belongs to both is left out."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.examples import comparison_examples, examples
from schemas.readings import READINGS
from service.compare.comparison import compare
from service.derive.derivations import QUANTITIES
from service.faults.diagnosis import diagnose
from service.reference.circuits import NOT_OF_ONE_CIRCUIT, OF_THE_WHOLE_UNIT
from tests.conftest import Assess

#: What air, meters and rating of both circuits would say about one.
OF_BOTH = {
    "cooling_capacity",
    "sensible_capacity",
    "eer",
    "total_power",
    "cooling_capacity_share_of_rating",
    "eer_share_of_rating",
    "airflow_for_rated_capacity",
    "temperature_split_deviation",
    "refrigerant_mass_flow_from_rating",
}


def example(circuits: int) -> dict[str, Any]:
    body: dict[str, Any] = deepcopy(dict(examples()["r410a_capacity"]))
    body["unit"]["circuits"] = circuits
    return body


def test_names_exist() -> None:
    """Of derived values, and of readings by their paths."""
    assert set(QUANTITIES) >= OF_THE_WHOLE_UNIT
    for name in NOT_OF_ONE_CIRCUIT:
        assert name in QUANTITIES or name.removeprefix("run.readings.") in READINGS


def test_what_belongs_to_both_circuits_is_not_said_of_one(assessed: Assess) -> None:
    """Pressures, superheat and subcooling are the circuit's own (definition); the rest has its reason."""
    one, two = assessed(example(1)), assessed(example(2))
    assert set(one["derived"]) & OF_BOTH
    assert not set(two["derived"]) & OF_BOTH
    assert not {row["quantity"] for row in two["findings"]} & OF_BOTH
    for name in ("superheat", "subcooling", "compression_ratio"):
        assert two["derived"][name]["value"] == one["derived"][name]["value"]
    reasons = [row["sentence"] for row in two["usability"]["notices"] if row["code"] == "several_circuits"]
    assert len(reasons) == 1
    assert not [row for row in two["reconciliation"]["balances"] if "capacity" in str(row)]


def test_a_circuit_is_diagnosed_and_compared_by_its_own_readings() -> None:
    """From its refrigerant side, as a unit whose rating is not known."""
    body = example(2)
    answer = diagnose(DiagnosisRequest.model_validate(body))
    assert answer["expected_from"] in (None, "class")
    assert not {"airflow_measured", "outdoor_unit_power_measured", "temperature_split"} & set(answer["expected"])
    pair: dict[str, Any] = deepcopy(dict(comparison_examples()["nothing_to_tell"]))
    pair["unit"]["circuits"] = 2
    system = compare(ComparisonRequest.model_validate(pair))["system"]
    assert system["verdict"] not in ("improved", "worsened")
