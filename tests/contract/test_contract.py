"""The contract: committed, valid, strict, and true."""

from __future__ import annotations

import json
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
from schemas.examples import TITLES, answer_example, examples
from service.__main__ import openapi_text
from service.app import create_app
from service.edge.settings import Settings
from service.reference.instruments import INSTRUMENT_TYPES

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
    Assessment.model_validate(shown)
    real = client.post("/v1/assessments", json=next(iter(examples().values()))).json()
    assert set(shown) == set(real)
    assert set(shown["derived"]) <= set(real["derived"])
    limits = {f["limit"]["id"]: f["grade"] for f in real["findings"] if f["limit"]}
    for row in shown["findings"]:
        assert limits[row["limit"]["id"]] == row["grade"]


@schemathesis.serializer(
    "application/x-ndjson", "application/ndjson", "application/jsonl", "application/x-jsonlines",
    "application/json-lines",
)  # fmt: skip
def lines_as_they_are(_: schemathesis.SerializationContext, value: object) -> bytes:
    """A body of lines is a text."""
    return str(value).encode("utf-8", "replace")


_APPLICATION = create_app(Settings(batch_processes=0))
schema = schemathesis.openapi.from_asgi("/openapi.json", _APPLICATION)
#: Operations that take tenths of a second: fewer cases of each.
_SLOW = [
    "/v1/comparisons", "/v1/diagnoses", "/v1/plans", "/v1/trends", "/v1/plots/{plot}", "/v1/reports",
]  # fmt: skip
slow = schemathesis.openapi.from_asgi("/openapi.json", _APPLICATION).include(path=_SLOW)
slow.config.phases.coverage.enabled = False


@schema.exclude(path=[*_SLOW, "/v1/batches"]).parametrize()
@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_fuzzed_from_its_own_schema(case: schemathesis.Case[Any]) -> None:
    """No 500, and every answer as documented (status, media type, schema).

    One check is left out: that what the schema allows is accepted. A wet bulb above its dry bulb or
    a table outside a refrigerant's curve is well formed and still impossible.
    """
    case.call_and_validate(excluded_checks=[positive_data_acceptance])


@schema.include(path="/v1/batches").parametrize()
@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_batches_fuzzed(case: schemathesis.Case[Any]) -> None:
    """The same for batches, where what is wrong with a line is the answer to that line."""
    case.call_and_validate(excluded_checks=[positive_data_acceptance, negative_data_rejection])


@slow.parametrize()
@settings(max_examples=10, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_slow_operations_fuzzed(case: schemathesis.Case[Any]) -> None:
    """The same for comparisons, diagnoses, plans, series, pictures and reports."""
    case.call_and_validate(excluded_checks=[positive_data_acceptance])
