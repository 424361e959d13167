"""CSV and JSON, and the form that the `Accept` header requests."""

from __future__ import annotations

import csv
import io
import re
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
        findings = [f for f in answer["findings"] if f["quantity"] == row["quantity"]]
        assert row["grade"] == (findings[0]["grade"] if findings else "")
        if findings and findings[0]["limit"] and findings[0]["limit"]["upper"] is not None:
            assert float(row["limit_upper"]) == findings[0]["limit"]["upper"]
    asked = client.post("/v1/assessments", json=body, headers={"Accept": "text/csv"})
    assert asked.content == response.content
    forced = client.post("/v1/assessments?format=json", json=body, headers={"Accept": "text/csv"})
    assert forced.json() == answer


def test_changes_as_csv_are_those_of_the_answer(client: TestClient) -> None:
    body = comparison_examples()["coil_cleaned"]
    answer = client.post("/v1/comparisons", json=body).json()
    found = rows(client.post("/v1/comparisons?format=csv", json=body).text)
    system, found = found[:3], found[3:]
    percent = answer["system"]["efficiency_change_percent"]
    assert system[0]["quantity"] == "system: efficiency"
    assert system[0]["verdict"] == answer["system"]["verdict"]
    assert float(system[0]["change_in_like_weather_low"]) == percent["band"]["low"]
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
    text = written(("a", "b"), [("=1+1", -2.5), ("@x", None), ("+3", True), ('"quoted", said', "-x")])
    found = rows(text)
    assert [row["a"] for row in found] == ["'=1+1", "'@x", "'+3", '"quoted", said']
    assert [row["b"] for row in found] == ["-2.5", "", "true", "'-x"]


def test_an_unknown_form_is_refused_by_name(client: TestClient) -> None:
    answer = client.post("/v1/assessments?format=xml", json=examples()["r410a_capacity"])
    assert answer.status_code == 422
    (row,) = answer.json()["errors"]
    assert (row["pointer"], row["allowed"]) == ("query/format", "'json' or 'csv'")


def test_unknown_parameters_are_refused_by_name(client: TestClient) -> None:
    """None is guessed or ignored, nor is one that appears twice."""
    body = examples()["r410a_capacity"]
    for address, name in (
        ("/v1/assessments?formt=csv", "formt"),
        ("/v1/plots/limits?colour=red", "colour"),
        ("/v1/reports?theme=dark", "theme"),
        ("/v1/diagnoses?format=csv", "format"),
        ("/v1/plots/limits?theme=dark&theme=light", "theme"),
        ("/v1/plots/air_process?most=3", "most"),
        ("/v1/plots/limits?quantity=eer", "quantity"),
    ):
        answer = client.post(address, json=body)
        assert answer.status_code == 422, address
        assert [row["pointer"] for row in answer.json()["errors"]] == [f"query/{name}"]
    assert client.get("/v1/limits?units=metric").status_code == 422


def test_a_body_of_no_kind_learns_the_kinds(client: TestClient) -> None:
    """A plan, nothing at all, or both at once."""
    plan = client.get("/examples/plans/cleaning_planned.json").json()
    for body in (plan, {}, {"units": "metric", "run": {}, "runs": {}}):
        answer = client.post("/v1/reports", json=body).json()
        assert "runs with before and after" in answer["errors"][0]["allowed"]
        assert "a plan has no picture" in answer["errors"][0]["hint"]


def test_pictures_and_examples_are_listed(client: TestClient) -> None:
    """Every address that a list gives is one that answers."""
    for row in client.get("/examples").json()["examples"]:
        assert client.get(row["address"]).status_code == 200
    plots = client.get("/v1/plots").json()["rows"]
    contract = client.get("/openapi.json").json()
    operation = contract["paths"]["/v1/plots/{plot}"]["post"]
    schema = next(p for p in operation["parameters"] if p["name"] == "plot")["schema"]
    named = contract["components"]["schemas"][schema["$ref"].rpartition("/")[2]]["enum"]
    assert [row["plot"] for row in plots] == named


def test_ids_of_two_pictures_on_one_page_can_differ(client: TestClient) -> None:
    body = comparison_examples()["coil_cleaned"]
    plain = client.post("/v1/plots/refrigerant_cycle", json=body).text
    other = client.post("/v1/plots/refrigerant_cycle?prefix=second-", json=body).text
    ids = [set(re.findall(r' id="([^"]+)"', text)) for text in (plain, other)]
    assert ids[0]
    assert not ids[0] & ids[1]
    for text, own in zip((plain, other), ids, strict=True):
        for pointed in re.findall(r"url\(#([^)]+)\)", text):
            assert pointed in own
        assert set(re.findall(r'aria-labelledby="([^"]+)"', text)[0].split()) <= own
    assert client.post('/v1/plots/limits?prefix="x', json=examples()["r410a_capacity"]).status_code == 422


def test_an_svg_has_the_width_asked_for(client: TestClient) -> None:
    text = client.post("/v1/plots/limits?width=960", json=examples()["r410a_capacity"]).text
    assert ' width="960" ' in text
    assert 'viewBox="0 0 400 ' in text


def test_half_a_character_is_refused_as_json(client: TestClient) -> None:
    """A lone surrogate in a value or a key, wherever; a whole pair is a character like others."""
    for body in (
        b'{"units": "\\ud800x", "run": {"readings": {}}}',
        b'{"units": "metric", "\\uDC00": 1, "run": {"readings": {}}}',
    ):
        answer = client.post("/v1/reports", content=body, headers={"Content-Type": "application/json"})
        assert answer.status_code == 400
        assert answer.json()["errors"][0]["detail"] == "holds a lone surrogate"
    whole = b'{"units": "metric", "labels": {"unit": "\\ud83d\\ude00"}, "run": {"readings": {}}}'
    answer = client.post("/v1/reports", content=whole, headers={"Content-Type": "application/json"})
    assert answer.status_code == 200
    assert "\U0001f600" in answer.text


def test_a_name_that_looks_assumed_is_refused(client: TestClient) -> None:
    """Answers name what was assumed by that prefix; a caller's instrument must not pass for it."""
    body = {
        "units": "metric",
        "kit": {"assumed:gauge": {"type": "analog_gauge"}},
        "run": {"readings": {}},
    }
    answer = client.post("/v1/assessments", json=body)
    assert answer.status_code == 422
    assert "assumed:" in answer.json()["errors"][0]["allowed"]
