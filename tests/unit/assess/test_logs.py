"""Visits with logs through every resource, and what an answer says about each reading.

The unit is invented: its settled values are those of `tests/logs.py`, the answers' own are not taken for granted.
"""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import orjson
import pytest
from fastapi.testclient import TestClient

from schemas.assessments import Assessment
from schemas.comparisons import Comparison
from schemas.details import Grades
from schemas.diagnoses import Diagnosis
from schemas.trends import Trend
from service.batches.answers import answer_chunk
from tests.answers import conforms
from tests.logs import SLOW, UNIT, as_csv, log, readings, troubled, visit


def assessed(client: TestClient, body: dict[str, Any], query: str = "") -> Any:  # noqa: ANN401
    response = client.post(f"/v1/assessments{query}", json=body)
    assert response.status_code == 200, response.text
    return response.json()


@pytest.fixture(scope="module")
def usual(client: TestClient) -> Any:  # noqa: ANN401
    """20 minutes from the start."""
    found = assessed(client, visit(log(*readings(20))))
    conforms(Assessment, found)
    return found


def test_each_reading_of_a_log_has_its_account(usual: Any) -> None:  # noqa: ANN401
    """The settled level lies within the band, which is far narrower than what the start moved."""
    told = usual["log"]
    assert list(told["readings"]) == list(UNIT)  # the contract's order
    assert (told["start"], told["from_second"], told["to_second"], told["rows"]) == ("compressor_on", 0, 1200, 241)
    for name, one in told["readings"].items():
        level, fast, slow, noise = UNIT[name]
        # Three standard uncertainties, as nine readings are checked.
        assert one["value"] == pytest.approx(level, abs=3.0 * one["standard_uncertainty"]), name
        assert one["standard_uncertainty"] < max(0.1 * (abs(fast) + abs(slow)), 2.0 * noise), name
        assert one["drift"]["grade"] == "steady", name
        assert 0.0 < one["effective_number"] <= one["readings"] <= 241
        assert one["settled_from_second"] is not None
        assert one["window"]["to_second"] == 1200
        assert one["sentence"].startswith(name.replace("_", " ").capitalize())
        # What was left out ends where the window that counts begins.
        if fast:
            assert one["left_out"][-1]["reason"] == "settling"
            assert one["left_out"][-1]["to_second"] == one["settled_from_second"]
    # The instrument's calibration comes on top, once.
    for name, one in told["readings"].items():
        assert usual["instruments"][name]["standard_uncertainty"] > one["standard_uncertainty"], name
    assert usual["usability"]["settles_in"]["seconds"] == 0


def test_a_growing_log_says_when_it_will_have_settled(client: TestClient) -> None:
    """By the closed form of one exponential the slow part is a hundredth of a degree-step of 1 °F after τ ln(step)."""
    said = []
    for minutes in (3, 6, 20):
        found = assessed(client, visit(log(*readings(minutes))), "?detail=grades")
        conforms(Grades, found)
        said.append(found["usability"]["settles_in"])
    # The liquid line is 6 °F off at the start, and 1 °F counts as settled (common practice, no source).
    from_the_end_of_three = SLOW * np.log(6.0) - 180.0
    assert 0.0 < said[0] < 4.0 * from_the_end_of_three
    assert said[0] > said[1] >= said[2] == 0.0
    stopped = assessed(client, visit(troubled()["short_cycling"]))
    assert stopped["usability"]["settles_in"] is None


def test_readings_taken_once_stand_next_to_a_log(client: TestClient) -> None:
    body = visit(log(*readings(20)))
    body["run"]["readings"] = {"line_voltage": 238}
    found = assessed(client, body)
    assert {"line_voltage", "suction_pressure"} <= found["instruments"].keys()
    assert "line_voltage" not in found["log"]["readings"]
    body["run"]["readings"]["suction_pressure"] = 118
    (error,) = client.post("/v1/assessments", json=body).json()["errors"]
    assert error["pointer"] == "/run/log/readings/suction_pressure"


def test_a_run_without_a_log_says_so_with_nulls(client: TestClient) -> None:
    found = assessed(client, {"units": "metric", "run": {"readings": {}}})
    assert found["log"] is None
    assert found["usability"]["settles_in"] is None
    (error,) = client.post("/v1/assessments", json={"units": "metric", "run": {}}).json()["errors"]
    assert (error["pointer"], error["detail"]) == ("/run/readings", "is missing")


def test_metric_units_and_absolute_pressures_are_converted_once(client: TestClient) -> None:
    """1 psi is 6.894757 kPa (NIST SP 811); the standard atmosphere 101.325 kPa (its definition)."""
    times, values = readings(20)
    body = visit(log(times, values), site={"altitude": 0})
    absolute = copy.deepcopy(body)
    row = absolute["run"]["log"]["readings"]["suction_pressure"]
    row |= {"unit": "kPa", "reference": "absolute", "values": [one * 6.894757 + 101.325 for one in row["values"]]}
    one, other = (assessed(client, each) for each in (body, absolute))
    assert other["derived"]["superheat"]["value"] == pytest.approx(one["derived"]["superheat"]["value"], abs=0.1)
    shown = other["log"]["readings"]["suction_pressure"]
    assert (shown["unit"], shown["value"]) == ("psia", pytest.approx(118.0 + 14.696, abs=1.0))


def test_two_runs_with_logs_are_compared(client: TestClient) -> None:
    """Twelve minutes each: an answer, and no claim of change for an unchanged unit."""
    first, second = (log(*readings(12, seed=seed)) for seed in (1, 2))
    body = visit(first)
    runs = {"before": {"log": first}, "after": {"log": {"start": "compressor_on", "csv": as_csv(second)}}}
    response = client.post("/v1/comparisons", json={**{k: v for k, v in body.items() if k != "run"}, "runs": runs})
    assert response.status_code == 200, response.text
    found = response.json()
    conforms(Comparison, found)
    assert found["system"]["verdict"] in ("inconclusive", "no_material_change")
    assert found["system"]["efficiency_change_percent"] is not None
    assert found["assessments"]["after"]["log"]["rows"] == 145
    runs["after"]["log"] = {"csv": "seconds,low side\n0,118\n5,118\n"}
    response = client.post("/v1/comparisons", json={**{k: v for k, v in body.items() if k != "run"}, "runs": runs})
    (error,) = response.json()["errors"]
    assert error["pointer"] == "/runs/after/log/csv"
    assert "suction_pressure" in error["hint"]


def test_a_diagnosis_takes_a_log_and_a_logged_baseline(client: TestClient) -> None:
    body = visit(log(*readings(20))) | {"baseline": {"log": log(*readings(15, seed=3))}}
    found = client.post("/v1/diagnoses", json=body).json()
    conforms(Diagnosis, found)
    assert found["verdict"] != "fault_found"
    assert found["assessment"]["log"]["rows"] == 241


def test_a_series_and_a_batch_take_logs(client: TestClient) -> None:
    few = {name: values for name, values in readings(15)[1].items() if "liquid" in name or "outdoor_air" in name}
    one = log(readings(15)[0], few)
    runs = [{"taken_at": f"202{year}-07-01T10:00:00Z", "log": one} for year in (4, 5, 6)]
    parts = {name: part for name, part in visit(one).items() if name != "run"}
    found = client.post("/v1/trends", json={**parts, "runs": runs}).json()
    conforms(Trend, found)
    assert {row["shape"] for row in found["quantities"].values()} == {"steady"}
    lines = [orjson.dumps({"assessment": visit(each)}) for each in (one, {**one, "start": "unknown"})]
    answered = [orjson.loads(line) for line in answer_chunk(lines, "full", 0).content.splitlines()]
    assert answered[0]["assessment"] == assessed(client, visit(one))
    assert answered[1]["assessment"]["log"]["start"] == "unknown"


@pytest.mark.parametrize("name", ["log_stuck", "log_unit_jump", "log_readings_swapped", "log_jump", "log_probe_moved"])
def test_what_a_bad_log_shows_is_not_taken_for_a_reading(client: TestClient, name: str) -> None:
    """No value of a reading that cannot be trusted is used; the others are as ever."""
    found = assessed(client, visit(troubled()[name]))
    (row,) = [one for one in found["usability"]["notices"] if one["code"] == name]
    for reading, one in found["log"]["readings"].items():
        level = UNIT[reading][0]
        if one["value"] is not None:
            assert one["value"] == pytest.approx(level, abs=3.0 * one["standard_uncertainty"]), reading
        if reading in row["readings"]:
            assert one["left_out"], reading
        if one["value"] is None:
            assert reading not in found["instruments"]
            assert one["sentence"].endswith(".")


def test_nothing_has_settled_while_a_reading_drifts(client: TestClient) -> None:
    """Whatever is left of the start: zero seconds are said only where no reading is `not_steady` (definition)."""
    for minutes in (4, 8, 12, 20):
        found = assessed(client, visit(log(*readings(minutes))))
        drifts = any(
            one["drift"]["grade"] == "not_steady"
            for one in found["log"]["readings"].values()
            if one["drift"] is not None
        )
        settles = found["usability"]["settles_in"]
        assert not drifts or settles["seconds"] == settles["band"]["high"] > 0.0
    assert not drifts


@pytest.mark.parametrize(("minutes", "most"), [(3, True), (25, False)])
def test_what_the_start_left_counts_as_settling(client: TestClient, minutes: int, most: bool) -> None:
    """Of a log far shorter than the unit takes to settle (four minutes and a fast minute) the extrapolation is most of
    the uncertainty; of one of six time constants hardly anything: exp(-25 / 4) is 0.002."""
    answer = assessed(client, visit(log(*readings(minutes))))
    for name in ("superheat", "subcooling", "evaporating_temperature"):
        share = answer["derived"][name]["variance_shares"].get("settling", 0.0)
        assert (share > 0.5) if most else (share < 0.05), (name, share)


def test_a_log_that_shows_settled_readings_asks_for_no_longer_run(client: TestClient) -> None:
    """Fifteen minutes are a rule for those who cannot see whether readings settled."""
    answer = assessed(client, visit(log(*readings(13))))
    codes = {one["code"] for one in answer["usability"]["notices"]}
    assert answer["usability"]["settles_in"]["seconds"] == 0.0
    assert "log_settled_early" in codes
    assert not codes & {"still_settling", "log_changed"}
