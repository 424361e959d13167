"""Hints: forty names that callers use, and what the contract calls them (common practice, no source)."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.batches.answers import answer_lines
from tests.conftest import visit

MOTOR = {"units": "imperial", "winding_to_ground": 5}
LEAK = {"units": "imperial", "unit": {"full_charge": 8}, "additions": [{"mass": 1, "days_ago": 0}]}

# Each: a name among the readings, and every field that its hint must suggest, in this order.
FORTY: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("data_log", ("run.log",)),
    ("low_side_pressure", ("suction_pressure",)),
    ("suction_psi", ("suction_pressure",)),
    ("vapor_pressure", ("suction_pressure",)),
    ("head_pressure", ("liquid_pressure", "discharge_pressure")),
    ("high_side_pressure", ("liquid_pressure", "discharge_pressure")),
    ("discharge_psi", ("discharge_pressure", "liquid_pressure")),
    ("compressor_amps", ("compressor_common_current",)),
    ("comp_amps", ("compressor_common_current",)),
    ("rla_amps", ("compressor_common_current",)),
    ("start_amps", ("compressor_start_winding_current",)),
    ("fan_amps", ("outdoor_fan_current", "indoor_blower_current")),
    ("blower_amps", ("indoor_blower_current",)),
    ("volts", ("line_voltage",)),
    ("L1_L2", ("line_voltages.l1_l2",)),
    ("watts", ("outdoor_unit_power", "indoor_unit_power")),
    ("capacitor_uf", ("unit.nameplate.capacitors",)),
    ("seer", ("unit.rated.seer",)),
    ("eer", ("unit.rated.eer",)),
    ("hspf", ("unit.rated.hspf",)),
    ("tons", ("unit.rated.cooling_capacity",)),
    ("return_wb", ("return_air_wet_bulb",)),
    ("rdb", ("return_air_dry_bulb",)),
    ("return_rh", ("return_air_relative_humidity",)),
    ("supply_db", ("supply_air_dry_bulb",)),
    ("suction_temp", ("suction_line_temperature",)),
    ("liquid_temp", ("liquid_line_temperature",)),
    ("discharge_temp", ("discharge_line_temperature",)),
    ("sst", ("suction_saturation_temperature",)),
    ("slt", ("suction_line_temperature",)),
    ("llt", ("liquid_line_temperature",)),
    ("ambient", ("outdoor_air_dry_bulb",)),
    ("oat", ("outdoor_air_dry_bulb",)),
    ("odt", ("outdoor_air_dry_bulb",)),
    ("tesp", ("total_external_static_pressure",)),
    ("static", ("total_external_static_pressure",)),
    ("cfm", ("airflow",)),
    ("aux_heat_kw", ("auxiliary_heat_power",)),
    ("strip_kw", ("auxiliary_heat_power",)),
    ("stage", ("run.stage",)),
    ("defrost", ("run.defrosting", "run.minutes_since_defrost")),
    ("mode", ("unit.mode",)),
)

# Each: a name of what the service derives, and the readings that give it.
DERIVED = (
    ("superheat", "suction_pressure and suction_line_temperature"),
    ("subcooling", "liquid_pressure and liquid_line_temperature"),
    ("delta_t", "return_air_dry_bulb and supply_air_dry_bulb"),
    ("charge", "suction_pressure, suction_line_temperature, liquid_pressure and liquid_line_temperature"),
)


def hints(client: TestClient, body: dict[str, Any], address: str = "assessments") -> dict[str, str]:
    """The hint for each refused field of a body."""
    response = client.post(f"/v1/{address}", json=body)
    assert response.status_code == 422, response.text
    return {row["pointer"]: row["hint"] for row in response.json()["errors"]}


def test_forty_names(client: TestClient) -> None:
    """Each suggests its fields and no other."""
    assert len(FORTY) >= 40
    names = [name for name, _ in FORTY]
    found = hints(client, visit(readings=dict.fromkeys(names, 70)))
    for name, fields in FORTY:
        hint = found[f"/run/readings/{name}"]
        assert hint.startswith("Did you mean "), (name, hint)
        asked = hint.removeprefix("Did you mean ").partition("?")[0]
        assert tuple(asked.replace(" or ", ", ").split(", ")) == fields, name


@pytest.mark.parametrize(("name", "readings"), DERIVED)
def test_what_is_derived(client: TestClient, name: str, readings: str) -> None:
    """The hint names the readings that give it."""
    hint = hints(client, visit(readings={name: 10}))[f"/run/readings/{name}"]
    assert f"is derived, not read: give {readings}." in hint


def test_the_start_winding_is_not_the_draw(client: TestClient) -> None:
    """Said with the suggestion, as the two are often confused."""
    hint = hints(client, visit(readings={"start_amps": 5}))["/run/readings/start_amps"]
    assert "the capacitor's current, not the compressor's draw" in hint


@pytest.mark.parametrize(
    ("parts", "where", "example"),
    [
        ({"readings": {"capacitor_voltage": 345}}, "/run/readings/capacitor_voltage", '{"compressor": 345}'),
        ({"unit": {"nameplate": {"capacitors": {"compressor": 45}}}}, "/unit/nameplate/capacitors/compressor", "45}"),
        ({"unit": {"line_set": 50}}, "/unit/line_set", '{"length": 50}'),
        ({"unit": {"rated": 36000}}, "/unit/rated", '{"cooling_capacity": 36000}'),
        ({"site": 980}, "/site", '{"altitude": 980}'),
        ({"unit": {"blower_table": 5}}, "/unit/blower_table", '[{"airflow": 1310, "external_static_pressure": 0.3}'),
        ({"kit": {"gauges": {}}}, "/kit/gauges/type", '"type": "pressure_transducer"'),
    ],
)
def test_the_shape_is_shown(client: TestClient, parts: dict[str, Any], where: str, example: str) -> None:
    """A bare number in place of an object comes back inside it; else an example of the contract."""
    assert example in hints(client, visit(**parts))[where]


def test_a_bare_number_shown_as_an_object_is_accepted(client: TestClient) -> None:
    """What the hint shows is a valid body."""
    body = visit(readings={"capacitor_voltage": {"compressor": 345}}, unit={"line_set": {"length": 50}})
    assert client.post("/v1/assessments", json=body).status_code == 200


def test_a_missing_run(client: TestClient) -> None:
    """The hint shows a small one, of one run or of two."""
    assert '"run": {"readings": {"suction_pressure": ' in hints(client, {"units": "imperial"})["/run"]
    found = hints(client, {"units": "imperial"}, "comparisons")["/runs"]
    assert '"runs": {"before": {"readings": {"suction_pressure": ' in found
    assert '"after": {"readings": ' in found


def test_the_body_of_another_resource(client: TestClient) -> None:
    """The hint names the resource."""
    run = visit()["run"]
    pair = {"before": run, "after": run}
    assert "POST /v1/comparisons" in hints(client, {"units": "metric", "runs": pair})["/runs"]
    assert "POST /v1/comparisons" in hints(client, {"units": "metric", "runs": pair}, "diagnoses")["/runs"]
    assert "POST /v1/trends" in hints(client, {"units": "metric", "runs": [run, run]})["/runs"]
    assert "POST /v1/assessments" in hints(client, {"units": "metric", "run": run}, "comparisons")["/run"]
    assert "POST /v1/assessments" in hints(client, {"units": "metric", "run": run}, "plans")["/run"]
    assert "POST /v1/comparisons" in hints(client, {"units": "metric", "runs": pair}, "trends")["/runs"]
    assert "POST /v1/comparisons" in hints(client, {"units": "metric", "before": run, "after": run})["/before"]
    assert "POST /v1/trends" in hints(client, {"units": "metric", "runs": [run, run]}, "comparisons")["/runs"]
    assert "by itself" in hints(client, {"assessment": visit()})["/assessment"]


@pytest.mark.parametrize("field", ["cooling_capacity", "heating_capacity"])
def test_a_rating_in_tons(client: TestClient, field: str) -> None:
    """12,000 Btu/h a ton (definition)."""
    hint = hints(client, visit(unit={"rated": {field: 3.5}}))[f"/unit/rated/{field}"]
    assert "3.5 tons are 42,000 Btu/h" in hint
    metric = hints(client, visit("metric", unit={"rated": {field: 3.5}}))[f"/unit/rated/{field}"]
    assert "tons" not in metric


def test_a_percentage_in_place_of_a_share(client: TestClient) -> None:
    """80 % is 0.8."""
    assert "80 % is 0.8." in hints(client, visit(unit={"furnace_efficiency": 80}))["/unit/furnace_efficiency"]
    assert "92 % is 0.92." in hints(client, visit(readings={"power_factor": 92}))["/run/readings/power_factor"]
    assert "%" not in hints(client, visit(unit={"furnace_efficiency": 800}))["/unit/furnace_efficiency"]


def test_a_slash_at_the_end(client: TestClient, body: dict[str, Any]) -> None:
    """The address answers in place: a redirect would lose the body with some clients."""
    plain = client.post("/v1/assessments", json=copy.deepcopy(body))
    slashed = client.post("/v1/assessments/", json=body, follow_redirects=False)
    assert (slashed.status_code, slashed.content) == (200, plain.content)
    assert client.get("/v1/limits/", follow_redirects=False).status_code == 200
    assert client.get("/docs/assets/", follow_redirects=False).status_code == 404


@pytest.mark.parametrize(
    ("given", "meant"),
    [
        ("/v1/assesment", "/v1/assessments"),
        ("/assessments", "/v1/assessments"),
        ("/v1/diagnosis", "/v1/diagnoses"),
        ("/v1/compare", "/v1/comparisons"),
        ("/v1/refrigerant/R-22", "/v1/refrigerants/R-22"),
        ("/plots/limits", "/v1/plots/limits"),
        ("/doc", "/docs"),
        ("/health", "/health/ready"),
        ("/V1/assessments", "/v1/assessments"),
        ("/v2/assessments", "/v1/assessments"),
        ("/api/v1/comparisons", "/v1/comparisons"),
        ("/v1/checks/evacuation", "/v1/checks/vacuum-rise"),
        ("/v1/docs", "/docs"),
        ("/openapi.yaml", "/openapi.json"),
    ],
)
def test_an_unknown_address_names_the_nearest(client: TestClient, given: str, meant: str) -> None:
    """By name, without the version, or with a part misspelled."""
    assert f"Did you mean {meant}?" in client.get(given).json()["detail"]


@pytest.mark.parametrize("given", ["/v1/nothing", "/", "/v1/x/y/z", "/wp-login.php", "/v1/" + "a" * 3000])
def test_an_address_that_is_near_to_none(client: TestClient, given: str) -> None:
    """Nothing is guessed."""
    assert "Did you mean" not in client.get(given).text


@pytest.mark.parametrize(
    ("pressure", "said"),
    [
        ({"value": 29.9, "unit": "inHg"}, "vacuum gauge"),
        ({"value": 300, "unit": "mTorr"}, "1 mTorr is 1 micron"),
        ({"value": [300], "unit": ["umHg"]}, ""),
        (-14.2, "never negative"),
    ],
)
def test_a_vacuum_in_another_unit(client: TestClient, pressure: Any, said: str) -> None:  # noqa: ANN401
    """Units of vacuum gauges and of compound gauges (definitions)."""
    readings = [{"minutes": at, "pressure": pressure} for at in (0, 10)]
    found = hints(client, {"units": "imperial", "readings": readings}, "checks/vacuum-rise")
    assert any(said in hint for hint in found.values())


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ({"assessment": visit(), "check": {"motor": MOTOR}}, ('{"assessment": {...}}', '{"check": {...}}')),
        ({"check": {"motor": MOTOR, "leak-rate": LEAK}}, ('{"check": {"motor": {...}}}', '{"check": {"leak-rate": {')),
    ],
)
def test_a_line_with_two_bodies(line: dict[str, Any], said: tuple[str, ...]) -> None:
    """Both are named, and what to do with them."""
    (answer,) = answer_lines([json.dumps(line).encode()])
    (error,) = json.loads(answer)["problem"]["errors"]
    assert all(text in error["hint"] for text in said)
