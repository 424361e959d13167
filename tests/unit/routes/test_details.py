"""`?detail=`: an answer cut down says nothing that the full one does not say, and says which form it is."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

import orjson
import pytest
from fastapi.testclient import TestClient

from schemas.assessments import AssessmentRequest, AssessmentVerdicts
from schemas.batches import BatchAnswerLine
from schemas.comparisons import ComparisonVerdicts
from schemas.details import DiagnosisGrades, Grades, TrendGrades, Verdicts
from schemas.diagnoses import DiagnosisVerdicts
from schemas.examples import comparison_examples, diagnosis_examples, examples, trend_examples
from schemas.trends import TrendVerdicts
from service.assess.grades import without_values
from service.assess.pipeline import assess
from service.batches.answered import Tally
from service.batches.answers import answer_chunk
from service.routes.forms import GRADES_TYPE, VERDICTS_TYPE
from tests.answers import conforms
from tests.unit.compare.test_verdicts import leaves

#: Names at which a cut form has a word in place of an object with an id, code or time of its own.
_BY_NAME = {"notices": "code", "cautions": "id", "missing": "quantity", "runs": "taken_at"}


class Resource(NamedTuple):
    """A resource, one body, the models of its cut forms, and what `verdicts` leaves out."""

    body: Mapping[str, Any]
    verdicts: type
    grades: type
    left_out: frozenset[str]


@cache
def resources() -> dict[str, Resource]:
    return {
        "assessments": Resource(
            examples()["r410a_capacity"],
            AssessmentVerdicts,
            Grades,
            frozenset({"derived", "reconciliation", "missing", "log", "instruments"}),
        ),
        "comparisons": Resource(
            comparison_examples()["coil_cleaned"], ComparisonVerdicts, Verdicts, frozenset({"assessments"})
        ),
        "diagnoses": Resource(
            diagnosis_examples()["stage_not_stated"], DiagnosisVerdicts, DiagnosisGrades, frozenset({"assessment"})
        ),
        "trends": Resource(trend_examples()["five_summers"], TrendVerdicts, TrendGrades, frozenset()),
    }


def is_within(grades: dict[str, Any], full: dict[str, Any]) -> None:
    """Every number and name is in the full answer, at the same names; the ends of a band are in `band` there."""
    whole, cut = leaves(full), dict(grades)
    cut.pop("assessment", None)
    for path, value in leaves(cut).items():
        *above, last = path
        places = [
            path,
            (*above, "band", last),
            (*path, _BY_NAME.get(path[0], "")),
            (*above[:2], "cost", *above[2:], last),  # what a hypothesis costs
            (*above[:2], "cost", *above[2:], "band", last),
        ]
        missing_cost = value is None and path[0] == "hypotheses"
        assert missing_cost or value in [whole[place] for place in places if place in whole], path


@pytest.mark.parametrize("name", resources())
def test_each_form_is_a_part_of_the_full_answer(client: TestClient, name: str) -> None:
    """Letter for letter; of a band its ends.  Without the parameter the answer is the full one, as ever."""
    resource, address = resources()[name], f"/v1/{name}"
    plain = client.post(address, json=resource.body)
    assert plain.headers["content-type"] == "application/json"
    whole = plain.json()

    response = client.post(address, json=resource.body, params={"detail": "verdicts"})
    assert response.headers["content-type"] == VERDICTS_TYPE
    verdicts = response.json()
    conforms(resource.verdicts, verdicts)
    assert set(whole) - set(verdicts) == resource.left_out
    if name == "trends":
        for quantity, row in whole["quantities"].items():
            del row["points"], row["fitted"]
            assert verdicts["quantities"][quantity] == row
    else:
        assert verdicts == {field: whole[field] for field in verdicts}

    response = client.post(address, json=resource.body, headers={"Accept": f"{GRADES_TYPE}, */*;q=0.1"})
    assert response.headers["content-type"] == GRADES_TYPE
    grades = response.json()
    conforms(resource.grades, grades)
    assert "sentence" not in response.text
    if name in ("diagnoses", "trends"):  # the cut forms of the other two have tests of their own
        is_within(grades, whole)
    assert len(response.content) < len(plain.content) * (0.5 if name == "trends" else 0.25)


def test_a_table_is_whole_and_an_unknown_detail_is_refused(client: TestClient) -> None:
    body = examples()["r22_fixed_orifice"]
    table = client.post("/v1/assessments", json=body, params={"format": "csv", "detail": "grades"})
    assert table.content == client.post("/v1/assessments", json=body, params={"format": "csv"}).content
    unknown = client.post("/v1/assessments", json=body, params={"detail": "short"}).json()
    assert "verdicts" in unknown["errors"][0]["allowed"]


def test_a_batch_gives_the_same_forms() -> None:
    visit, pair = resources()["assessments"].body, resources()["comparisons"].body
    lines = [orjson.dumps({"assessment": visit}), orjson.dumps({"comparison": pair})]
    answered = answer_chunk(lines, "verdicts", 0)
    first, second = map(orjson.loads, answered.content.splitlines())
    assert first["assessment_verdicts"] == orjson.loads(
        orjson.dumps(without_values(assess(AssessmentRequest.model_validate(visit))))
    )
    assert set(second["comparison_verdicts"]) == ComparisonVerdicts.__annotations__.keys()
    assert answered.tally == Tally(1, 1, 0)
    for row in (first, second):
        conforms(BatchAnswerLine, row)
