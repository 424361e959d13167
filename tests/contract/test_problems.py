"""Errors as their recipient reads them: RFC 9457, each field by pointer, with what to do."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient

from schemas.problems import Problem
from service.app import create_app
from service.edge.problems import PROBLEM_TYPES
from service.edge.settings import Settings
from tests.answers import conforms
from tests.conftest import visit

JSON = {"Content-Type": "application/json"}


def problem(response: Any, status: int, name: str) -> Problem:  # noqa: ANN401
    """Assert the form that every problem has."""
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    found = conforms(Problem, response.json())
    assert found["type"] == f"/problems/{name}"
    assert found["status"] == status
    assert found["title"] == PROBLEM_TYPES[name].title
    assert found.get("instance") == f"urn:request:{response.headers['x-request-id']}"
    assert "Traceback" not in response.text
    return found


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('{"units": "imperial"', "delimiter"),
        ("", "Expecting value"),
        ('{"units": "imp', "Unterminated string starting at line 1, column 11."),
        ("\ufeff{}", "The body begins with a byte-order mark."),
        ('{"units": NaN}', "NaN"),
        ('{"units": Infinity}', "Infinity"),
        ('{"units": 1e999}', "1e999"),
        ('{"units": ' + "9" * 5000 + "}", "999"),
        ('{"units": "metric", "units": "imperial"}', "appears twice"),
        ("[" * 5000, "nested deeper"),
        ('{"a":' * 5000, "nested deeper"),
    ],
)
def test_what_is_not_strict_json(client: TestClient, text: str, says: str) -> None:
    """400, with the place or the key."""
    response = client.post("/v1/assessments", content=text, headers=JSON)
    if text == "":
        assert problem(response, 422, "invalid-request")["errors"]
        return
    found = problem(response, 400, "invalid-json")
    assert says in found["detail"] + found["errors"][0]["detail"]


def test_a_near_field_is_one_that_the_body_has(client: TestClient) -> None:
    """And never the very name that was refused."""
    told: dict[str, str] = {}
    for address, body in (
        ("comparisons", {"units": "metric", "run": {}}),
        ("assessments", {"units": "metric", "runs": {}}),
        ("assessments", {"units": "metric", "kit": {"gauges": {"typ": "manometer"}}, "run": {}}),
        ("assessments", {"units": "metric", "run": {"suction_pressure": 800}}),
        ("reports", {"units": "metric", "run": {"readings": {"suction_presure": 800}}}),
    ):
        found = problem(client.post(f"/v1/{address}", json=body), 422, "invalid-request")
        told |= {row["pointer"]: row["hint"] for row in found["errors"] if "Did you mean" in row["hint"]}
    assert {where: hint.split("?")[0] for where, hint in told.items()} == {
        "/run": "Did you mean runs",
        "/runs": "Did you mean run",
        "/kit/gauges/typ": "Did you mean type",
        "/run/suction_pressure": "Did you mean run.readings.suction_pressure",
        "/run/readings/suction_presure": "Did you mean suction_pressure",
    }


def test_brackets_inside_text_do_not_count_as_nesting(client: TestClient) -> None:
    """A strange instrument name is refused for what it is, not for its brackets."""
    body = visit(kit={"[" * 50: {"type": "manometer"}})
    assert client.post("/v1/assessments", json=body).status_code == 200


def test_not_utf8(client: TestClient) -> None:
    """Latin-1 text."""
    problem(
        client.post("/v1/assessments", content=b'{"units": "\xe9"}', headers=JSON),
        400,
        "invalid-json",
    )


def test_unknown_address_and_method(client: TestClient) -> None:
    """404 and 405; the latter keeps Allow."""
    problem(client.get("/v1/nothing"), 404, "not-found")
    response = client.put("/v1/assessments", json={})
    problem(response, 405, "method-not-allowed")
    assert response.headers["allow"] == "POST"


@pytest.mark.parametrize("given", ["text/plain", "application/x-www-form-urlencoded", None])
def test_media_type(client: TestClient, given: str | None) -> None:
    """415, also where none is stated."""
    headers = {"Content-Type": given} if given else {}
    found = problem(client.post("/v1/assessments", content=b"{}", headers=headers), 415, "unsupported-media-type")
    assert "application/json" in found["errors"][0]["allowed"]


def chunks() -> Iterator[bytes]:
    for _ in range(100):
        yield b" " * 100_000


def test_ten_megabytes(client: TestClient) -> None:
    """413, whether the length is stated or the body comes in chunks."""
    for content in (b" " * 10_000_000, chunks()):
        found = problem(client.post("/v1/assessments", content=content, headers=JSON), 413, "too-large")
        assert "262144 bytes" in found["detail"]


def test_the_limit_is_a_setting() -> None:
    """And it is honoured."""
    with TestClient(create_app(Settings(maximum_body_bytes=1024))) as small:
        content = b" " * 1025
        problem(small.post("/v1/assessments", content=content, headers=JSON), 413, "too-large")


# Each: a change to the first example, the pointer that must be named, words that must be there.
REFUSED: list[tuple[str, dict[str, Any], str, str]] = [
    ("no unit system", {"units": None}, "/units", "There is no default"),
    ("unknown field", {"run.readings.suction_presure": 118}, "/run/readings/suction_presure", "spelling"),
    ("boolean", {"run.readings.suction_pressure": True}, "/run/readings/suction_pressure", "number"),
    ("quoted", {"run.readings.suction_pressure": "124"}, "/run/readings/suction_pressure", "no quotes"),
    (
        "wrong unit",
        {"run.readings.suction_pressure": {"value": 1, "unit": "degF"}},
        "/run/readings/suction_pressure/unit",
        "'psi'",
    ),
    ("too high", {"run.readings.suction_pressure": 950}, "/run/readings/suction_pressure", "400 psi"),
    (
        "too high in bar",
        {"run.readings.suction_pressure": {"value": 60, "unit": "bar"}},
        "/run/readings/suction_pressure",
        "27.58 bar",
    ),
    ("below vacuum", {"run.readings.suction_pressure": -20}, "/run/readings/suction_pressure", "-14.7"),
    ("no saturation there", {"run.readings.liquid_pressure": 790}, "/run/readings/liquid_pressure", "R-410A"),
    ("unknown refrigerant", {"unit.refrigerant": "R-401A"}, "/unit/refrigerant", "R-410A"),
    ("not carried", {"unit.refrigerant": "R744"}, "/unit/refrigerant", "critical temperature"),
    (
        "wet bulb over dry bulb",
        {"run.readings.return_air_wet_bulb": 82},
        "/run/readings/return_air_wet_bulb",
        "swapped",
    ),
    (
        "unknown instrument",
        {"run.readings.suction_pressure": {"value": 124, "instrument": "none"}},
        "/run/readings/suction_pressure/instrument",
        "not in the kit",
    ),
    (
        "instrument that cannot",
        {"run.readings.suction_pressure": {"value": 124, "instrument": "air"}},
        "/run/readings/suction_pressure/instrument",
        "psychrometer",
    ),
    (
        "psia as gauge",
        {"run.readings.suction_pressure": {"value": 140, "unit": "psia", "reference": "gauge"}},
        "/run/readings/suction_pressure/reference",
        "contradicts",
    ),
    ("accuracy unit", {"kit.gauges.accuracy": {"fixed": 1, "unit": "V"}}, "/kit/gauges/accuracy/unit", "psi"),
    ("span without percent", {"kit.gauges.accuracy": {"span": 500}}, "/kit/gauges/accuracy", "together"),
    (
        "accuracy of nothing it measures",
        {"kit.gauges.accuracies": {"voltage": {"fixed": 1}}},
        "/kit/gauges/accuracies/voltage",
        "pressure",
    ),
    (
        "two instruments could have",
        {
            "kit.spare": {"type": "analog_gauge"},
            "run.readings.discharge_pressure": 350,
            "kit.gauges.type": "analog_gauge",
        },
        "/run/readings/discharge_pressure",
        "gauges or spare",
    ),
    ("enumeration", {"unit.metering_device": "txv"}, "/unit/metering_device", "'thermostatic_expansion_valve'"),
    (
        "typo is guessed",
        {"run.readings.suction_presure": 118},
        "/run/readings/suction_presure",
        "Did you mean suction_pressure?",
    ),
    (
        "trade word",
        {"unit.metering_device": "TXV"},
        "/unit/metering_device",
        "Did you mean thermostatic_expansion_valve?",
    ),
    (
        "unit in capitals",
        {"run.readings.suction_pressure": {"value": 118, "unit": "PSI"}},
        "/run/readings/suction_pressure/unit",
        "Did you mean psi?",
    ),
    (
        "beyond any unit",
        {"run.readings.suction_line_temperature": 900},
        "/run/readings/suction_line_temperature",
        "-60 to 200 degF",
    ),
    (
        "one phase with three lines",
        {"run.readings.line_voltages": {"l1_l2": 230}},
        "/unit/nameplate/phases",
        "contradicts line_voltages",
    ),
    ("epoch", {"run.taken_at": 5}, "/run/taken_at", "ISO 8601"),
    ("epoch in quotes", {"run.taken_at": "1752503100"}, "/run/taken_at", "ISO 8601"),
    ("frequency", {"unit.nameplate.frequency": 55}, "/unit/nameplate/frequency", "50 or 60"),
    ("altitude", {"site.altitude": 19500}, "/site/altitude", "ft"),
    (
        "altitude beside a barometer",
        {"site.altitude": {"value": 12000, "unit": "m"}, "site.barometric_pressure": 14.2},
        "/site/altitude",
        "5500 m",
    ),
    ("stage of a single-speed unit", {"run.stage": "low"}, "/run/stage", "two-stage"),
    (
        "speed of a two-stage unit",
        {"unit.capacity_control": "two_stage", "run.speed_percent": 60},
        "/run/speed_percent",
        "variable-speed",
    ),
    ("test mode of a single-speed unit", {"run.test_mode": True}, "/run/test_mode", "variable-speed"),
    (
        "rating of a stage that the unit lacks",
        {"unit.rated": {"cooling_capacity": 36000, "low_stage": {"cooling_capacity": 26000}}},
        "/unit/rated/low_stage",
        "two-stage",
    ),
    (
        "target of a stage that the unit lacks",
        {"unit.nameplate.low_stage": {"subcooling": 7}},
        "/unit/nameplate/low_stage",
        "two-stage",
    ),
    (
        "stages exchanged",
        {
            "unit.capacity_control": "two_stage",
            "unit.rated": {"cooling_capacity": 26000, "low_stage": {"cooling_capacity": 36000}},
        },
        "/unit/rated/low_stage/cooling_capacity",
        "exchanged",
    ),
    ("control character in a name", {"kit.a\x06": {"type": "clamp_meter"}}, "/kit/a\x06", "not allowed"),
]


def change(body: dict[str, Any], path: str, value: object) -> None:
    *parents, last = path.split(".")
    node = body
    for parent in parents:
        node = node[parent]
    if value is None:
        del node[last]
    else:
        node[last] = value


@pytest.mark.parametrize(("changes", "where", "says"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_refused_fields(
    client: TestClient, body: dict[str, Any], changes: dict[str, Any], where: str, says: str
) -> None:
    """422: pointer, value, allowed range, and a hint that helps."""
    for path, value in changes.items():
        change(body, path, copy.deepcopy(value))
    response = client.post("/v1/assessments", json=body)
    assert response.status_code == 422, response.text
    found = conforms(Problem, response.json())
    rows = [row for row in found["errors"] if row["pointer"] == where]
    assert rows, found["errors"]
    assert any(says in f"{row['allowed']} {row['detail']} {row['hint']}" for row in rows), rows
    assert all(row["allowed"] and row["detail"] and row["hint"] for row in found["errors"])


def test_valid_enumerations_and_dates_are_not_refused(client: TestClient, body: dict[str, Any]) -> None:
    """Strictness about numbers must not reach them; a whole number is a number."""
    body["run"]["taken_at"] = "2026-07-14T14:05:00Z"
    body["unit"]["metering_device"] = "capillary_tube"
    body["run"]["readings"]["suction_pressure"] = 124
    assert client.post("/v1/assessments", json=body).status_code == 200


def test_a_long_value_is_shortened(client: TestClient, body: dict[str, Any]) -> None:
    """An error does not echo a novel."""
    body["unit"]["metering_device"] = "x" * 5000
    text = client.post("/v1/assessments", json=body).text
    assert len(text) < 2000


def test_internal_errors_reveal_nothing(
    client: TestClient, body: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """500: a problem with the request id, no detail of the fault."""
    from service.routes import assessments

    def broken(_: object) -> None:
        raise RuntimeError("secret detail")

    monkeypatch.setattr(assessments, "assess", broken)
    found = problem(client.post("/v1/assessments", json=body), 500, "internal")
    assert "secret" not in found["detail"]


def test_each_type_of_problem_has_a_page(client: TestClient) -> None:
    """The address in ``type`` answers."""
    for name, row in PROBLEM_TYPES.items():
        page = client.get(f"/problems/{name}").json()
        assert page["title"] == row.title
        assert page["action"] == row.action
    problem(client.get("/problems/none"), 404, "not-found")


def test_request_id_is_kept_if_plain(client: TestClient) -> None:
    """A caller's id comes back; one that could forge a header does not."""
    for given, kept in (("visit-7", True), ("a b", False)):
        response = client.get("/health/live", headers={"X-Request-Id": given})
        assert (response.headers["x-request-id"] == given) is kept
