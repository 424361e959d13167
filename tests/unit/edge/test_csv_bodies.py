"""A log as the whole body, `text/csv`: the same answer as in JSON, and refusals where the caller gave what is wrong."""

from __future__ import annotations

import gzip
from typing import Any

import pytest
from fastapi.testclient import TestClient

TEXT = "seconds,suction_pressure [psi],suction_line_temperature [°F]\n" + "".join(
    f"{5 * row},{120 + row % 2},55.5\n" for row in range(120)
)
QUERY = {"units": "imperial", "refrigerant": "R-410A", "mode": "cooling", "start": "compressor_on"}
BODY = {
    "units": "imperial",
    "unit": {"refrigerant": "R-410A", "mode": "cooling"},
    "run": {"log": {"start": "compressor_on", "csv": TEXT}},
}


def post(client: TestClient, address: str, text: str | bytes, kind: str = "text/csv", **query: str) -> Any:  # noqa: ANN401
    return client.post(address, content=text, params=query, headers={"Content-Type": kind})


@pytest.mark.parametrize("address", ["/v1/assessments", "/v1/diagnoses", "/v1/plots/limits", "/v1/reports"])
def test_a_text_is_answered_as_the_same_log_in_json(client: TestClient, address: str) -> None:
    as_text = post(client, address, TEXT, "text/csv; charset=utf-8", **QUERY)
    assert as_text.status_code == 200, as_text.text
    assert as_text.content == client.post(address, json=BODY).content


def test_a_text_may_be_in_the_encoding_of_a_spreadsheet(client: TestClient) -> None:
    """ISO 8859-1 has the degree sign at B0 (the standard)."""
    text = TEXT.encode("latin-1")
    assert b"\xb0F" in text
    assert post(client, "/v1/assessments", text, "text/csv; charset=iso-8859-1", **QUERY).status_code == 200
    refused = post(client, "/v1/assessments", text, **QUERY).json()["errors"][0]
    assert refused["pointer"] == ""
    assert "UTF-8" in refused["hint"]


@pytest.mark.parametrize(
    ("text", "query", "pointer", "says"),
    [
        (TEXT, {"refrigerant": "R-410A"}, "query/units", "is missing"),
        (TEXT, {"units": "imperal"}, "query/units", "is not one of the allowed values"),
        (TEXT, {"units": "imperial", "refrigerant": "R-41"}, "query/refrigerant", "not in the catalogue"),
        ("", {"units": "imperial"}, "", "is empty"),
        (TEXT.replace("120,", "12O,", 1), {"units": "imperial"}, "", "line 2, column 2 (suction_pressure)"),
    ],
)
def test_what_is_refused_is_named_where_it_was_given(
    client: TestClient, text: str, query: dict[str, str], pointer: str, says: str
) -> None:
    response = post(client, "/v1/assessments", text, **query)
    assert response.status_code == 422
    (error,) = response.json()["errors"]
    assert error["pointer"] == pointer
    assert says in error["detail"]


def test_parameters_of_a_text_do_not_go_with_json(client: TestClient) -> None:
    response = client.post("/v1/assessments", json=BODY, params={"units": "metric"})
    assert response.status_code == 422
    (error,) = response.json()["errors"]
    assert error["pointer"] == "query/units"
    assert "text/csv" in error["detail"]


def test_a_text_in_another_encoding_or_for_two_runs_is_not_taken(client: TestClient) -> None:
    assert post(client, "/v1/assessments", TEXT, "text/csv; charset=utf-16", **QUERY).status_code == 415
    assert post(client, "/v1/comparisons", TEXT).status_code == 415


def test_a_text_may_be_compressed(client: TestClient) -> None:
    headers = {"Content-Type": "text/csv", "Content-Encoding": "gzip"}
    packed = client.post("/v1/assessments", content=gzip.compress(TEXT.encode()), params=QUERY, headers=headers)
    assert packed.status_code == 200, packed.text
    assert packed.content == post(client, "/v1/assessments", TEXT, **QUERY).content
