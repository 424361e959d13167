"""CSV beside JSON, and which form the `Accept` header asks for."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from fastapi.testclient import TestClient

from schemas.examples import comparison_examples, examples, trend_examples
from service.edge.negotiation import chosen
from service.render.spreadsheet import written

OFFERED = {"application/json": "json", "text/csv": "csv"}


@pytest.mark.parametrize(
    ("accept", "form"),
    [
        # RFC 9110, 12.5.1: weights, parameters, case, spaces; absent means anything.
        (None, "json"),
        ("", "json"),
        ("*/*", "json"),
        ("text/csv", "csv"),
        ("TEXT/CSV", "csv"),
        ("text/csv; charset=utf-8", "csv"),
        ("text/*", "csv"),
        ("application/json;q=0.5, text/csv;q=0.9", "csv"),
        ("text/csv;q=0.5, application/json", "json"),
        ("text/csv, application/json", "json"),
        ("text/csv;q=0, */*", "json"),
        ("text/csv, */*;q=0.1", "csv"),
        ("text/html", "json"),
        ("text/csv;q=nonsense", "json"),
        ("text/csv;q=nan", "json"),
        (",;,text/csv", "csv"),
    ],
)
def test_accept_is_read_as_the_standard_says(accept: str | None, form: str) -> None:
    assert chosen(accept, OFFERED, "json") == form


def rows(text: str) -> list[dict[str, str]]:
    assert text.endswith("\r\n")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_derived_values_as_csv_are_those_of_the_answer(client: TestClient) -> None:
    """Every value, its unit, uncertainty and band, number for number."""
    body = examples()["r410a_capacity"]
    answer = client.post("/v1/assessments", json=body).json()
    response = client.post("/v1/assessments?format=csv", json=body)
    assert response.headers["content-type"] == "text/csv; charset=utf-8"
    found = rows(response.text)
    assert [row["quantity"] for row in found] == list(answer["derived"])
    for row in found:
        value = answer["derived"][row["quantity"]]
        assert float(row["value"]) == value["value"]
        assert float(row["standard_uncertainty"]) == value["standard_uncertainty"]
        assert float(row["low"]) == value["band"]["low"]
        assert float(row["high"]) == value["band"]["high"]
        assert row["unit"] == value["unit"]
        assert row["from"].split("; ") == value["from"]
    asked = client.post("/v1/assessments", json=body, headers={"Accept": "text/csv"})
    assert asked.content == response.content
    forced = client.post("/v1/assessments?format=json", json=body, headers={"Accept": "text/csv"})
    assert forced.json() == answer


def test_changes_as_csv_are_those_of_the_answer(client: TestClient) -> None:
    body = comparison_examples()["coil_cleaned"]
    answer = client.post("/v1/comparisons", json=body).json()
    found = rows(client.post("/v1/comparisons?format=csv", json=body).text)
    assert [row["quantity"] for row in found] == list(answer["changes"])
    for row in found:
        change = answer["changes"][row["quantity"]]
        assert float(row["change_as_read"]) == change["as_read"]["value"]
        like = change["at_common_conditions"]
        assert row["change_in_like_weather"] == ("" if like is None else str(like["value"]))
        assert row["verdict"] == (change["verdict"] or "")


def test_series_as_csv_are_those_of_the_answer(client: TestClient) -> None:
    body = trend_examples()["five_summers"]
    answer = client.post("/v1/trends", json=body).json()
    found = rows(client.post("/v1/trends?format=csv", json=body).text)
    assert len(found) == sum(len(row["points"]) for row in answer["quantities"].values())
    first: dict[str, Any] = answer["quantities"][found[0]["quantity"]]["points"][0]
    assert found[0]["taken_at"] == first["taken_at"]
    assert float(found[0]["value"]) == first["value"]


def test_no_cell_is_a_formula() -> None:
    """Texts that a spreadsheet would run are put behind an apostrophe; numbers stay numbers."""
    text = written(
        ("a", "b"), [("=1+1", -2.5), ("@x", None), ("+3", True), ('"quoted", said', "-x")]
    )
    found = rows(text)
    assert [row["a"] for row in found] == ["'=1+1", "'@x", "'+3", '"quoted", said']
    assert [row["b"] for row in found] == ["-2.5", "", "true", "'-x"]


def test_an_unknown_form_is_refused_by_name(client: TestClient) -> None:
    answer = client.post("/v1/assessments?format=xml", json=examples()["r410a_capacity"])
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "query/format"
