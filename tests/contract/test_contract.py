"""The contract: committed, valid, strict, and true."""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, settings
from openapi_spec_validator import validate
from pydantic import TypeAdapter
from schemathesis.specs.openapi.checks import negative_data_rejection, positive_data_acceptance

from schemas.assessments import Assessment, InstrumentTypeName
from schemas.checks import CHECKS
from schemas.examples import TITLES, answer_example, examples
from service.__main__ import openapi_text
from service.app import create_app
from service.edge.settings import Settings
from service.reference.instruments import INSTRUMENT_TYPES
from tests.answers import conforms
from tests.contract.generated import Run, prepared, sent

COMMITTED = Path(__file__).parents[2] / "schemas" / "openapi.json"


def test_committed_schema_is_what_the_service_serves() -> None:
    """Refresh with ``python -m service openapi`` and review the difference."""
    assert openapi_text() == COMMITTED.read_text("utf-8")


def test_schema_is_valid_openapi_3_1() -> None:
    """By an independent validator."""
    document = json.loads(COMMITTED.read_text("utf-8"))
    assert document["openapi"].startswith("3.1")
    validate(document)


def numbers(node: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:  # noqa: ANN401
    """Every property of every model that is a number, or may be one."""
    if isinstance(node, dict):
        for name, field in node.get("properties", {}).items():
            kinds = [field, *field.get("anyOf", []), *field.get("oneOf", [])]
            kinds += [k for one in kinds for k in (*one.get("oneOf", []), *one.get("anyOf", []))]
            if any(k.get("type") in ("number", "integer") for k in kinds):
                yield f"{path}/{name}", field
        for key, value in node.items():
            yield from numbers(value, f"{path}/{key}")
    elif isinstance(node, list):
        for value in node:
            yield from numbers(value, path)


def test_every_number_has_a_description_unit_and_example() -> None:
    """``x-unit`` beside each."""
    document = json.loads(COMMITTED.read_text("utf-8"))
    rows = list(numbers(document["components"]["schemas"]))
    assert len(rows) > 100
    for path, field in rows:
        text = json.dumps(field)
        assert field.get("description"), path
        assert "examples" in text, path
        if "enum" not in text and "const" not in text:
            assert "x-unit" in text, path


def test_every_field_of_a_request_has_a_description_and_an_example() -> None:
    """What /docs shows."""
    document = json.loads(COMMITTED.read_text("utf-8"))
    for name, model in document["components"]["schemas"].items():
        assert model.get("description"), name
        for field, schema in model.get("properties", {}).items():
            assert schema.get("description") or "$ref" in schema, f"{name}.{field}"
            assert schema.get("examples") or "$ref" in json.dumps(schema), f"{name}.{field}"


def test_what_a_name_of_an_instrument_may_be_is_published() -> None:
    """Where it is named and where it is meant: a pattern behind a function would be left out."""
    models = json.loads(COMMITTED.read_text("utf-8"))["components"]["schemas"]

    def named(part: dict[str, Any]) -> dict[str, Any]:
        return models[part["$ref"].rsplit("/", 1)[1]] if "$ref" in part else part

    kit = named(models["AssessmentRequest"]["properties"]["kit"])
    meant = named(models["PressureReading"]["properties"]["instrument"]["anyOf"][0])
    assert kit["propertyNames"]["pattern"] == meant["pattern"]
    assert "patternProperties" not in kit  # which would say nothing of a name that does not match
    assert kit["additionalProperties"] == {"$ref": "#/components/schemas/Instrument"}


def test_answers_may_get_fields_and_bodies_may_not() -> None:
    """A client that holds answers to an older contract must not trip over a new field."""
    document = json.loads(COMMITTED.read_text("utf-8"))
    models = document["components"]["schemas"]

    def reached(parts: list[Any]) -> set[str]:
        found: set[str] = set()
        while parts:
            names = set(re.findall(r'"#/components/schemas/([^"]+)"', json.dumps(parts.pop()))) - found
            found |= names
            parts += [models[name] for name in names]
        return {name for name in found if "properties" in models[name]}

    operations = [row for path in document["paths"].values() for row in path.values()]
    answers = reached([row["responses"] for row in operations])
    bodies = reached([row.get("requestBody") for row in operations])
    assert len(answers) > 50
    assert len(bodies) > 30
    for name in answers:
        assert models[name].get("additionalProperties") is not False, name
    for name in bodies:
        assert models[name]["additionalProperties"] is False, name


def test_instrument_types_of_the_contract_are_those_of_the_catalogue() -> None:
    """The one list that stands in both."""
    assert set(TypeAdapter(InstrumentTypeName).json_schema()["enum"]) == set(INSTRUMENT_TYPES)


@pytest.mark.parametrize("name", TITLES)
def test_examples_are_served_and_answered(client: TestClient, name: str) -> None:
    """Each is complete: findings of more than one kind, no notice that disqualifies."""
    body = client.get(f"/examples/{name}.json").json()
    assert body == examples()[name]
    answer = client.post("/v1/assessments", json=body)
    assert answer.status_code == 200
    found = answer.json()
    assert found["usability"]["grade"] == "usable"
    assert len({finding["grade"] for finding in found["findings"]}) > 1
    assert len(found["derived"]) > 20
    operation = client.get("/openapi.json").json()["paths"]["/v1/assessments"]["post"]
    offered = operation["requestBody"]["content"]["application/json"]["examples"]
    assert offered[name]["value"] == body


def test_example_answer_of_the_docs_fits_the_contract(client: TestClient) -> None:
    """Every row of it is one that the service gives for the first example, numbers apart."""
    shown = answer_example()
    conforms(Assessment, shown)
    real = client.post("/v1/assessments", json=next(iter(examples().values()))).json()
    assert set(shown) == set(real)
    assert set(shown["derived"]) <= set(real["derived"])
    limits = {f["limit"]["id"]: f["grade"] for f in real["findings"] if f["limit"]}
    for row in shown["findings"]:
        assert limits[row["limit"]["id"]] == row["grade"]


# ---------------------------------------------------------------- generated requests

_APPLICATION = create_app(Settings(batch_processes=0))
schema = schemathesis.openapi.from_asgi("/openapi.json", _APPLICATION)

#: Operations that take tenths of a second: fewer cases of each.
_SLOW = [
    "/v1/comparisons",
    "/v1/diagnoses",
    "/v1/plans",
    "/v1/trends",
    "/v1/plots/{plot}",
    "/v1/reports",
]
#: Bodies of thousands of bounds, names and types: every so manieth case in CI, each at night.
_LARGE = ["/v1/assessments", "/v1/plans", *(f"/v1/checks/{name}" for name in CHECKS)]
_EVERY = 24
bounds = schemathesis.openapi.from_asgi("/openapi.json", _APPLICATION).exclude(
    path=[path for path in _SLOW if path not in _LARGE]
)
bounds.config.phases.update(phases=["coverage"])


@bounds.parametrize()
@settings(max_examples=1, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_bounds_names_and_types(case: schemathesis.Case[Any]) -> None:
    """Each bound, name and type of the schema by itself, kept and broken; wrong methods and media types.

    No 500, every answer as documented (status, media type, schema), what is broken refused, what is kept
    refused only for what it says.
    """
    if case.path in _LARGE and zlib.crc32(json.dumps([case.body, case.query], default=str).encode()) % _EVERY:
        return
    case.call_and_validate(excluded_checks=[positive_data_acceptance, negative_data_rejection])


def _sent(*, examples: int, phases: list[str], **paths: Any) -> Run:  # noqa: ANN401
    asked = schemathesis.openapi.from_asgi("/openapi.json", _APPLICATION)
    prepared(asked, examples=examples, seed=1, phases=phases).config.generation.update(deterministic=True)
    run = sent(asked.include(**paths) if paths else asked)
    assert run.errors == []
    assert run.failures == []
    return run


@pytest.mark.slow
def test_requests_of_chance() -> None:
    """The same of examples and of bodies and parameters drawn at random, well and badly formed."""
    quick = [path for path in schema.raw_schema["paths"] if path not in _SLOW]
    run = _sent(examples=3, phases=["examples", "fuzzing"], path=quick)
    slow = _sent(examples=1, phases=["fuzzing"], path=_SLOW)
    labels = {f"{method.upper()} {path}" for path, row in schema.raw_schema["paths"].items() for method in row}
    assert set(run.operations) | set(slow.operations) == labels
    for label in ("POST /v1/assessments", "POST /v1/batches"):
        assert {200, 422} <= set(run.operations[label].statuses), label


@pytest.mark.slow
def test_sequences_that_follow_links() -> None:
    """From an answer to where its links lead: what was assessed can be diagnosed and reported, and so on."""
    run = _sent(examples=4, phases=["stateful"])
    assert run.followed
