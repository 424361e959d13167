"""No diagnosis contradicts itself, whatever was read."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import orjson
import pytest
from hypothesis import given, reject
from hypothesis import strategies as st

from schemas.diagnoses import DiagnosisRequest
from schemas.examples import diagnosis_examples
from service.faults.diagnosis import diagnose, diagnosed
from service.intake.refusals import RefusedError
from service.render.summary import of_visit
from tests.benchmarks.published_cases import cases, request
from tests.properties.cases import slow_cases
from tests.properties.consistency import Answer, contradictions
from tests.properties.visits import bodies


def answered(body: dict[str, Any]) -> Answer:
    found: Answer = orjson.loads(orjson.dumps(diagnose(DiagnosisRequest.model_validate(body))))
    return found


@slow_cases(in_ci=12)
@given(bodies(("single_speed", "single_speed", "single_speed", "two_stage", "variable_speed")))
def test_any_visit_gets_one_consistent_answer(body: dict[str, Any]) -> None:
    """Any state of the cycle, any subset of the readings, any device and refrigerant; and a summary."""
    try:
        found = diagnosed(DiagnosisRequest.model_validate(body))
    except RefusedError:
        reject()
    assert contradictions(orjson.loads(orjson.dumps(found.answer))) == []
    for sentence in of_visit(found, "customer").sentences:
        assert sentence.strip(".")


@slow_cases(in_ci=10)
@given(
    case=st.integers(0, 100_000),
    baseline=st.booleans(),
    dropped=st.sets(st.integers(0, 14), max_size=5),
)
def test_published_faults_get_consistent_answers(case: int, dropped: set[int], *, baseline: bool) -> None:
    """Readings that hang together as those of a machine do: published fault cases, some of their readings
    left out."""
    every = cases()
    one = every[case % len(every)]
    body = request(one, with_baseline=baseline and one.baseline is not None)
    readings = body["run"]["readings"]
    for place, name in enumerate(sorted(readings)):
        if place in dropped:
            del readings[name]
    try:
        answer = answered(body)
    except RefusedError:
        reject()
    assert contradictions(answer) == []


def first(answer: Answer, fault: str) -> dict[str, Any]:
    return next(row for row in answer["hypotheses"] if row["fault"] == fault)


PLANTED: dict[str, Callable[[Answer], object]] = {
    "found and not lost": lambda a: a.update(
        probability_costly=0.02,
        efficiency_percent={"value": 14.0, "band": {"low": 9.0, "high": 20.0, "coverage": 0.95}},
    ),
    "found without a step": lambda a: a.update(next_steps=[]),
    "found by the verdict alone": lambda a: first(a, "low_charge").update(status="possible"),
    "healthy and found": lambda a: a.update(verdict="healthy"),
    "nothing found": lambda a: a.update(found=[]),
    "two probabilities": lambda a: a["combinations"].append({"faults": [], "probability": 0.3}),
    "another probability in words": lambda a: a.update(
        sentence=a["sentence"]
        .replace("probability 0.", "probability 0.0")
        .replace("probability over 0.99", "probability 0.80")
    ),
    "certain": lambda a: a.update(sentence=a["sentence"] + " Probability of no fault 0.00: (1.00)."),
    "a circuit opened in vain": lambda a: a["next_steps"].append(
        {"stage": "open_circuit", "text": "...", "faults": ["overcharge"], "cautions": []}
    ),
    "the fan stands": lambda a: a["hypotheses"].append(
        copy.deepcopy(a["hypotheses"][-1])
        | {"fault": "outdoor_fan_stopped", "probability": 0.0019, "status": "possible"}
    ),
}


@pytest.mark.parametrize("name", PLANTED)
def test_a_planted_contradiction_is_seen(name: str) -> None:
    """The rules can fail: each of these breaks one of an answer that breaks none."""
    answer = answered(copy.deepcopy(dict(diagnosis_examples()["charge_lost"])))
    assert contradictions(answer) == []
    PLANTED[name](answer)
    assert contradictions(answer) != []


@pytest.mark.parametrize("name", diagnosis_examples())
def test_examples_are_consistent(name: str) -> None:
    """Every example body."""
    assert contradictions(answered(copy.deepcopy(dict(diagnosis_examples()[name])))) == []
