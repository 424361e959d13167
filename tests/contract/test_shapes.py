"""One shape for a band, one key for a list, one word for a cause, a sample for each status; what is deprecated."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from fastapi.testclient import TestClient

from schemas.examples import comparison_examples, examples
from schemas.problems import Problem
from service.edge.deprecations import DEPRECATIONS
from service.edge.samples import samples
from service.reference import unit_model, unit_model_heating
from service.reference.faults import FAULTS
from tests.answers import conforms
from tests.contract import release

#: That of faults costs five seconds, and is made as the others are.
LISTS = ("refrigerants", "instruments", "limits", "cautions")


def properties() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Every field of the contract."""
    for model, schema in release.current()["components"]["schemas"].items():
        for name, field in schema.get("properties", {}).items():
            yield model, name, field


def test_every_band_has_one_shape() -> None:
    """A field named `band` holds `low`, `high`, `coverage`; any other name of a band is deprecated."""
    schemas = release.current()["components"]["schemas"]
    seen = 0
    for model, name, field in properties():
        if name == "band":
            seen += 1
            ends = schemas[field["$ref"].rpartition("/")[2]]["properties"].keys()
            assert ends == {"low", "high", "coverage"}, model
        elif name.endswith("_band"):
            assert field.get("deprecated"), (model, name)
    assert seen > 10


@pytest.mark.parametrize("name", LISTS)
def test_lists_have_one_key_and_keep_the_old_one(client: TestClient, name: str) -> None:
    """RFC 9745: the date as structured field, and a link to what is deprecated."""
    response = client.get(f"/v1/{name}", params={"units": "imperial"} if name == "refrigerants" else {})
    found = response.json()
    assert found["rows"] == found[name]
    since = datetime.fromtimestamp(int(response.headers["deprecation"].removeprefix("@")), UTC)
    assert since == DEPRECATIONS[f"{name}_key"].since
    assert response.headers["link"] == '</deprecations>; rel="deprecation"; type="application/json"'
    listed = client.get("/deprecations").json()["rows"]
    assert any(f"GET /v1/{name}" in row["what"] for row in listed)


def test_only_what_is_used_is_said_to_be_deprecated(client: TestClient) -> None:
    """A comparison with a price holds the old band of the payback; one without does not, nor do pictures' lists."""
    body = comparison_examples()["coil_cleaned"]
    priced = client.post("/v1/comparisons", json=body)
    worth = priced.json()["worth"]
    assert [worth["payback"]["band"]["low"], worth["payback"]["band"]["high"]] == worth["payback_band"]
    assert "deprecation" in priced.headers
    without = {**body, "service": {key: value for key, value in body["service"].items() if key != "price"}}
    assert "deprecation" not in client.post("/v1/comparisons", json=without).headers
    assert "deprecation" not in client.get("/v1/plots").headers


def test_what_is_deprecated_names_what_to_use() -> None:
    """In the description of its field, for those who read the contract only."""
    found = [(model, name, field) for model, name, field in properties() if field.get("deprecated")]
    assert len(found) >= len(DEPRECATIONS)
    for model, name, field in found:
        assert "use" in field["description"].lower(), (model, name)


def test_a_cause_has_the_names_of_a_diagnosis() -> None:
    """Each cause of a change that a diagnosis knows, in both modes, by the diagnosis's own names."""
    for layout in (unit_model, unit_model_heating):
        for name, cause in layout.CAUSES.items():
            assert set(cause.faults) <= set(FAULTS), name
            assert bool(cause.faults) == (name not in ("nothing", "several")), name
    texts: dict[str, str] = {}
    for cause in (*unit_model.CAUSES.values(), *unit_model_heating.CAUSES.values()):
        assert "condenser" not in cause.text
        assert "evaporator" not in cause.text
        assert texts.setdefault(cause.name, cause.text) == cause.text


def test_each_status_has_its_own_sample(client: TestClient) -> None:
    """In the contract, as a problem of that status; those that a request can raise are what it gets."""
    known = samples()
    assert len({json.dumps(sample) for sample in known.values()}) == len(known)
    for status, sample in known.items():
        conforms(Problem, sample)
        assert sample["status"] == status
    for path, operations in release.current()["paths"].items():
        for operation in operations.values():
            for status, response in operation["responses"].items():
                content = response.get("content", {}).get("application/problem+json")
                if content is not None:
                    assert content["example"] == known[404 if status == "4XX" else int(status)], path
    asked: dict[int, Any] = {
        400: {"content": b'{"units": imperial}', "headers": {"Content-Type": "application/json"}},
        413: {"content": b" " * 300_000, "headers": {"Content-Type": "application/json"}},
        415: {"content": b"{}", "headers": {"Content-Type": "text/plain"}},
        422: {"json": {"units": "imperial", "run": {"readings": {"low_side_pressure": 118}}}},
    }
    for status, named in asked.items():
        answer = client.post("/v1/assessments", **named).json()
        assert {**answer, "instance": None} == {**known[status], "instance": None}
    missing = client.post("/v1/assesments", json=next(iter(examples().values()))).json()
    assert missing["detail"] == known[404]["detail"]


def test_the_contract_says_that_no_licence_is_chosen() -> None:
    """Without an identifier or address, which the docs page would show as a link."""
    assert release.current()["info"]["license"] == {"name": "No licence has been chosen yet"}
