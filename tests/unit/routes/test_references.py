"""The reference lists over HTTP."""

from __future__ import annotations

import csv
import io

import pytest
from fastapi.testclient import TestClient

from service.reference.refrigerants import REFRIGERANTS


def test_refrigerants_list(client: TestClient) -> None:
    """Every refrigerant asked for, with composition adding up to one."""
    rows = client.get("/v1/refrigerants", params={"units": "imperial"}).json()["refrigerants"]
    names = {row["designation"] for row in rows}
    assert names == set(REFRIGERANTS)
    assert names >= {
        "R-22",
        "R-410A",
        "R-32",
        "R-454B",
        "R-407C",
        "R-134a",
        "R-404A",
        "R-507A",
        "R-448A",
        "R-449A",
        "R-513A",
        "R-290",
        "R-421A",
        "R-422D",
        "R-427A",
        "R-438A",
    }
    for row in rows:
        assert sum(part["mass_fraction"] for part in row["composition"]) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("name", "group"),
    # ANSI/ASHRAE Standard 34 (values from memory). R-513A is A1, though a page was seen to say A2L.
    [
        ("R-22", "A1"),
        ("R-410A", "A1"),
        ("R-32", "A2L"),
        ("R-454B", "A2L"),
        ("R-290", "A3"),
        ("R-513A", "A1"),
        ("R-1234yf", "A2L"),
        ("R-600a", "A3"),
        ("R-448A", "A1"),
    ],
)
def test_safety_groups(client: TestClient, name: str, group: str) -> None:
    """Of one refrigerant."""
    row = client.get(f"/v1/refrigerants/{name}", params={"units": "metric"}).json()
    assert row["safety_group"] == group


@pytest.mark.parametrize("spelling", ["R-410A", "r410a", "R410A", "410a", "R 410A"])
def test_spellings(client: TestClient, spelling: str) -> None:
    """As people write it."""
    row = client.get(f"/v1/refrigerants/{spelling}", params={"units": "imperial"}).json()
    assert row["designation"] == "R-410A"


def test_pressure_temperature_table_as_json_and_csv(client: TestClient) -> None:
    """R-454B at 40 °F: dew 107.49 psig, at 105 °F bubble 325.37 (direct CoolProp 8 calls)."""
    address = "/v1/refrigerants/R-454B/saturation"
    query: dict[str, str | float] = {"units": "imperial", "from": 40, "to": 105, "step": 32.5}
    table = client.get(address, params=query).json()
    cold, _, hot = table["rows"]
    assert cold["dew_pressure_gauge"] == pytest.approx(107.49, abs=0.02)
    assert hot["bubble_pressure_gauge"] == pytest.approx(325.37, abs=0.02)
    for how in (
        {"params": {**query, "format": "csv"}},
        {"params": query, "headers": {"Accept": "text/csv"}},
    ):
        answer = client.get(address, **how)
        assert answer.headers["content-type"].startswith("text/csv")
        rows = list(csv.DictReader(io.StringIO(answer.text)))
        assert float(rows[0]["dew_pressure_gauge [psi]"]) == cold["dew_pressure_gauge"]


def test_table_at_altitude(client: TestClient) -> None:
    """R-410A reads lower on a gauge... and 118 psig means 38.75 °F at 5,000 ft (CoolProp)."""
    query: dict[str, str | float] = {
        "units": "imperial",
        "from": 38,
        "to": 39,
        "step": 0.25,
        "altitude": 5000,
    }
    rows = client.get("/v1/refrigerants/R-410A/saturation", params=query).json()["rows"]
    nearest = min(rows, key=lambda row: abs(row["dew_pressure_gauge"] - 118))
    assert nearest["temperature"] == 38.75


@pytest.mark.parametrize("query", [{"from": 300}, {"from": 60, "to": 50}, {"step": 0}, {"units": "si"}])
def test_bad_queries_are_told(client: TestClient, query: dict[str, str | float]) -> None:
    """422, with the parameter and what it may be."""
    answer = client.get("/v1/refrigerants/R-22/saturation", params={"units": "imperial", **query})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"].startswith("query/")


@pytest.mark.parametrize(
    ("units", "altitude", "allowed"),
    [
        ("metric", 5600, "-430 to 5500 m"),
        ("metric", 17783.6, "-430 to 5500 m"),
        ("metric", -500, "-430 to 5500 m"),
        ("imperial", 18000, None),
    ],
)
def test_a_table_is_of_a_place_where_people_live(
    client: TestClient, units: str, altitude: float, allowed: str | None
) -> None:
    """Its bounds are those of feet; beyond the standard atmosphere in metres it had no pressures."""
    query: dict[str, str | float] = {"units": units, "altitude": altitude, "step": 50}
    answer = client.get("/v1/refrigerants/R-22/saturation", params=query)
    if allowed is None:
        assert answer.status_code == 200
        assert answer.json()["air_pressure"] > 0
        return
    assert answer.status_code == 422
    (row,) = answer.json()["errors"]
    assert (row["pointer"], row["allowed"]) == ("query/altitude", allowed)


def test_unknown_refrigerant_suggests_near_ones(client: TestClient) -> None:
    """404 with near matches."""
    answer = client.get("/v1/refrigerants/R-410C", params={"units": "imperial"})
    assert answer.status_code == 404
    assert "R-410A" in answer.json()["errors"][0]["hint"]


def test_reference_lists_can_be_kept(client: TestClient) -> None:
    """A strong tag; asked again with it, nothing is sent."""
    first = client.get("/v1/limits")
    again = client.get("/v1/limits", headers={"If-None-Match": first.headers["etag"]})
    assert again.status_code == 304
    assert again.content == b""


@pytest.mark.parametrize("name", ["instruments", "limits", "cautions"])
def test_rows_name_their_sources(client: TestClient, name: str) -> None:
    """Each row of each list."""
    rows = client.get(f"/v1/{name}").json()[name]
    assert len(rows) > 10
    for row in rows:
        for part in row.get("accuracies", [row]):
            assert part["source"]


def test_pages_for_people(client: TestClient) -> None:
    """The root page and the docs ask no other host."""
    for address, policy in (("/", "default-src 'none'"), ("/docs", "default-src 'self'")):
        page = client.get(address)
        assert page.status_code == 200
        assert "http://" not in page.text.replace("http://www.w3.org", "")
        assert "https://" not in page.text
        assert policy in page.headers["content-security-policy"]
    scripts = client.get("/").headers["content-security-policy"].split("script-src ")[1]
    assert scripts.split(";")[0] == "'self'"
    assert client.get("/page/root.js").headers["content-type"].startswith("text/javascript")
    assert client.get("/page/root.css").headers["content-type"].startswith("text/css")
    assert client.get("/page/pages.py").status_code == 404
    for asset in ("swagger-ui-bundle.js", "swagger-ui.css", "favicon.png"):
        assert client.get(f"/docs/assets/{asset}").status_code == 200


def test_health(client: TestClient) -> None:
    """Live and ready."""
    assert client.get("/health/live").json()["status"] == "live"
    assert client.get("/health/ready").json()["status"] == "ready"
