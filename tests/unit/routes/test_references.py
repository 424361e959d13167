"""The reference lists over HTTP."""

from __future__ import annotations

import csv
import html
import io
import re
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.edge.settings import Settings
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


LIST_PAGES = ("refrigerants", "instruments", "limits", "faults", "cautions")


def test_pages_for_people(client: TestClient) -> None:
    """They ask no other host; the worksheet and the JSON page run only their own scripts, lists none."""
    pages = {address: client.get(address) for address in ("/", "/json", "/docs", *(f"/{name}" for name in LIST_PAGES))}
    for address, page in pages.items():
        assert page.status_code == 200
        assert "http://" not in page.text.replace("http://www.w3.org", "").replace("http://testserver", "")
        policy = page.headers["content-security-policy"]
        assert policy.startswith("default-src 'self'" if address == "/docs" else "default-src 'none'")
        if address in ("/", "/json"):
            assert policy.split("script-src ")[1].split(";")[0] == "'self'"
        elif address != "/docs":
            assert "script" not in policy
            assert "<script" not in page.text
        if address != "/docs":
            assert not re.search(r" on[a-z]+=|javascript:", page.text)
    for asset in ("swagger-ui-bundle.js", "swagger-ui.css", "favicon.png"):
        assert client.get(f"/docs/assets/{asset}").status_code == 200


def test_files_of_the_pages(client: TestClient) -> None:
    """With their media types and a tag; only the worker may fetch, and it may serve the whole page."""
    for address in (*client.get("/page/files.json").json(), "/page/json.js", "/page/worker.js"):
        found = client.get(address)
        assert found.headers["content-type"].startswith("text/css" if address.endswith("css") else "text/javascript")
        assert client.get(address, headers={"If-None-Match": found.headers["etag"]}).status_code == 304
        assert ("connect-src" in found.headers["content-security-policy"]) == address.endswith("worker.js")
    assert client.get("/page/worker.js").headers["service-worker-allowed"] == "/"
    for address in ("/page/pages.py", "/page/worksheet.html", "/page/list.html", "/page/..%2Fpages.py"):
        assert client.get(address).status_code == 404
    assert client.post("/nothing").status_code == 404


@pytest.mark.parametrize("name", LIST_PAGES)
def test_lists_to_read_show_every_row(client: TestClient, name: str) -> None:
    """Each row of the resource has its place on the page, with its source; nothing is left as a field name."""
    rows = client.get(f"/v1/{name}", params={"units": "metric"} if name == "refrigerants" else {}).json()[name]
    page = client.get(f"/{name}", params={"units": "metric"}).text
    words = html.unescape(re.sub("<[^>]+>", " ", page))
    for row in rows:
        ident = row.get("designation") or row.get("type") or row["id"]
        assert f'id="{ident}"' in page
        for source in (row.get("source"), row.get("composition_source")):
            assert source is None or source in words
    assert not re.search(r"\b(degF|degC|delta_deg|inH2O|None)", words)
    if name in ("instruments", "limits"):
        assert "°F" in html.unescape(client.get(f"/{name}").text)
        assert "°F" not in re.sub(r"\(.*?\)|Source.*?</dd>|<dd>[^<]*\d{4}[^<]*</dd>", "", page, flags=re.DOTALL)


def test_a_pressure_temperature_table_to_read(client: TestClient) -> None:
    """R-410A at 40 °F: 118.5 psi gauge within the rounding of printed tables (value from memory, ±1 psi)."""
    page = client.get("/refrigerants/R-410A", params={"units": "imperial"}).text
    row = re.search(r'<th scope="row">40</th><td>([\d.]+)</td><td>([\d.]+)</td>', page)
    assert row is not None
    assert [float(value) for value in row.groups()] == pytest.approx([118.5, 118.5], abs=1.0)
    assert client.get("/refrigerants/R-999").status_code == 404
    high = client.get("/refrigerants/R-410A", params={"units": "metric", "altitude": 9000})
    assert high.status_code == 422


def test_health(client: TestClient) -> None:
    """Live and ready."""
    assert client.get("/health/live").json()["status"] == "live"
    assert client.get("/health/ready").json()["status"] == "ready"


def test_where_to_report_a_vulnerability() -> None:
    """RFC 9116, 2.5: contacts in the order of preference and one time at which they expire, within a year."""
    with TestClient(create_app(Settings(security_contact="mailto:a@example.com, https://example.com/report"))) as one:
        answer = one.get("/.well-known/security.txt")
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    *contacts, expires = answer.text.splitlines()
    assert contacts == ["Contact: mailto:a@example.com", "Contact: https://example.com/report"]
    ahead = datetime.fromisoformat(expires.removeprefix("Expires: ")) - datetime.now(UTC)
    assert timedelta(days=30) < ahead < timedelta(days=365)


def test_without_a_contact_there_is_no_security_file(client: TestClient) -> None:
    assert client.get("/.well-known/security.txt").status_code == 404
