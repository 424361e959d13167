"""Plans and trends: what could be seen, and what has been drifting."""

from __future__ import annotations

import copy
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient

from schemas.examples import comparison_examples, examples, plan_examples, trend_examples
from schemas.plans import Plan, PlanRequest
from schemas.trends import Trend, TrendRequest
from service.compare.plan import plan
from service.compare.trend import pieces, trend
from service.intake.refusals import RefusedError
from service.reference.units import conversion
from service.uncertainty.trend_lines import Line, Shape
from tests.answers import conforms, untyped

Body = dict[str, Any]


def planned(body: Body) -> Body:
    answer = plan(PlanRequest.model_validate(body))
    conforms(Plan, answer)
    return untyped(answer)


def followed(body: Body) -> Body:
    answer = trend(TrendRequest.model_validate(body))
    conforms(Trend, answer)
    return untyped(answer)


def plan_body() -> Body:
    return copy.deepcopy(dict(plan_examples()["cleaning_planned"]))


def trend_body() -> Body:
    return copy.deepcopy(dict(trend_examples()["five_summers"]))


# ---------------------------------------------------------------- plans


def test_a_plan_says_whether_the_change_can_be_found() -> None:
    """And agrees with itself: what is detectable is found with a probability of 80 %."""
    answer = planned(plan_body())
    smallest = answer["smallest_detectable_percent"]
    assert answer["can_be_found"] == (smallest <= 5.0)
    body = plan_body()
    body["change_worth_finding"]["efficiency_percent"] = round(smallest, 3)
    row = next(r for r in planned(body)["by_cause"] if r["cause"] == "condenser_heat_transfer")
    assert row["probability_of_finding"] == pytest.approx(0.80, abs=0.01)
    assert sum(answer["limited_by"].values()) == pytest.approx(1.0, abs=0.03)


def test_better_instruments_and_repeats_help_and_never_hurt() -> None:
    """Repeats shrink the random part only; a better thermometer outdoors helps at the condenser."""
    answer = planned(plan_body())
    assert all(row["ratio"] < 1.0 for row in answer["improvements"])
    body = plan_body()
    body["readings"]["outdoor_air_dry_bulb"]["repeats"] = 1
    once = planned(body)["smallest_detectable_percent"]
    body["readings"]["outdoor_air_dry_bulb"]["repeats"] = 20
    often = planned(body)["smallest_detectable_percent"]
    assert often < once
    body["kit"]["air"]["accuracies"] = {"air_temperature": {"fixed": 0.05, "resolution": 0.01}}
    body["kit"]["air"]["repeatability"] = 0.02
    assert planned(body)["smallest_detectable_percent"] < often


def test_what_cannot_be_seen_is_said() -> None:
    """No reading depends on the compressor: no figure, a sentence, and the readings that would show it."""
    body = plan_body()
    del body["change_worth_finding"]["cause"]
    body["readings"] = {
        name: {}
        for name in (
            "suction_pressure",
            "liquid_pressure",
            "suction_line_temperature",
            "liquid_line_temperature",
            "outdoor_air_dry_bulb",
            "return_air_wet_bulb",
        )
    }
    answer = planned(body)
    rows = {row["cause"]: row for row in answer["by_cause"]}
    assert rows["compressor"]["smallest_detectable_percent"] is None
    assert rows["compressor"]["sentence"].startswith("Does not show")
    assert answer["smallest_detectable_percent"] is None
    assert answer["can_be_found"] is False
    assert "the compressor" in answer["sentence"]
    assert "outdoor unit power" in answer["to_halve_it"]
    for row in rows.values():
        assert row["smallest_detectable_percent"] is None or "efficiency then" in row["sentence"]


def test_to_halve_it_names_what_to_do() -> None:
    """In full sentences; where no single step halves it, which steps together do, or how far they come."""
    text = planned(plan_body())["to_halve_it"]
    assert any(
        word in text.lower()
        for word in (
            "reading everything",
            "halving the error",
            "adding",
            "under the same conditions",
        )
    )
    assert text.startswith(("Halved by", "No single step halves it. ", "Even "))


def test_calibration_alone_does_not_limit_a_change() -> None:
    """With one instrument in both runs a ten times worse calibration costs almost nothing (JCGM 100
    5.2: shared errors drop out of a difference); a ten times worse repeatability does."""
    body = plan_body()
    gauges = body["kit"]["gauges"]
    base = {"percent_of_reading": 0.3}
    gauges["accuracy"] = base
    gauges["repeatability"] = 0.2
    usual = planned(body)["quantities"]["suction_saturation_temperature"]["smallest_detectable"]
    gauges["accuracy"] = {"percent_of_reading": 3.0}
    biased = planned(body)["quantities"]["suction_saturation_temperature"]["smallest_detectable"]
    gauges["accuracy"] = base
    gauges["repeatability"] = 2.0
    noisy = planned(body)["quantities"]["suction_saturation_temperature"]["smallest_detectable"]
    assert biased == pytest.approx(usual, rel=0.05)
    assert noisy > 1.3 * usual


def test_a_capacitor_has_its_own_smallest_change() -> None:
    """Repeatability of current and voltage, twice: 2.80 sqrt(2) times that of one reading (closed form
    of a two-sided test at 95 % with 80 % power)."""
    body = plan_body()
    body["unit"]["nameplate"]["capacitors"] = {"compressor": {"microfarads": 45}}
    body["kit"]["clamp meter"] = {
        "type": "clamp_meter",
        "accuracies": {
            "current": {"percent_of_reading": 2.0, "resolution": 0.0001},
            "voltage": {"percent_of_reading": 1.0, "resolution": 0.0001},
        },
        "repeatability": 0.05,
    }
    body["readings"] = {
        "compressor_start_winding_current": {"instrument": "clamp meter"},
        "capacitor_voltage.compressor": {"instrument": "clamp meter"},
    }
    answer = planned(body)
    row = answer["quantities"]["compressor_run_capacitance"]
    # C = I / (2 pi f V): with the example readings the current's 0.05 A dominates.
    from schemas.readings import READINGS

    current, volts = (READINGS[n].example for n in ("compressor_start_winding_current", "capacitor_voltage.compressor"))
    expected = 2.8016 * np.sqrt(2.0) * 0.05 / (2 * np.pi * 60.0 * volts) * 1e6
    assert row["smallest_detectable"] == pytest.approx(expected, rel=0.03)
    assert row["limited_by"] == "clamp meter"
    assert current > 0
    assert answer["can_be_found"] is None
    assert answer["improvements"][0]["way"] == "added_reading"


def test_weather_apart_costs() -> None:
    """The answer says how much the same weather in both runs would gain."""
    body = plan_body()
    body["conditions"]["outdoor_difference"] = 12.0
    answer = planned(body)
    ways = {row["way"]: row for row in answer["improvements"]}
    assert ways["like_weather"]["ratio"] < 1.0
    body["conditions"]["outdoor_difference"] = 0.0
    assert planned(body)["smallest_detectable_percent"] < answer["smallest_detectable_percent"]


@pytest.mark.parametrize(
    ("spoil", "pointer"),
    [
        (lambda b: b["readings"].update(suction_presure={}), "/readings/suction_presure"),
        (
            lambda b: b["readings"]["suction_pressure"].update(instrument="none"),
            "/readings/suction_pressure/instrument",
        ),
        (lambda b: b["conditions"].update(outdoor_difference=80.0), "/conditions/outdoor_difference"),
        (lambda b: b.update(readings={}), "/readings"),
        (lambda b: b["readings"]["suction_pressure"].update(repeats=0), "/readings/suction_pressure/repeats"),
        (lambda b: b["readings"]["suction_pressure"].update(repeats=2.5), "/readings/suction_pressure/repeats"),
    ],
)
def test_plans_refuse_plainly(client: TestClient, spoil: Callable[[Body], object], pointer: str) -> None:
    """With the field's pointer and what to do."""
    body = plan_body()
    spoil(body)
    answer = client.post("/v1/plans", json=body)
    assert answer.status_code == 422, answer.text
    assert [e["pointer"] for e in answer.json()["errors"]] == [pointer]


def test_a_whole_number_may_be_written_with_a_point() -> None:
    """As 3.0: JSON has one kind of number (RFC 8259, 6)."""
    plain, pointed = plan_body(), plan_body()
    plain["readings"]["suction_pressure"]["repeats"] = 3
    pointed["readings"]["suction_pressure"]["repeats"] = 3.0
    assert planned(pointed) == planned(plain)


# ---------------------------------------------------------------- trends


def test_a_fouling_condenser_is_seen_to_drift() -> None:
    """The simulated condenser loses 5.5 % of its conductance a year and nothing else changes: in the same
    weather condensing over outdoor air rises by about 0.5 to 0.6 K a year (K G = Q, 5.5 % of 11 K)."""
    answer = followed(trend_body())
    row = answer["quantities"]["condensing_temperature_over_ambient"]
    assert row["shape"] == "drift"
    band = row["drift_per_year"]["band"]
    assert band["low"] < 0.6 * 1.8 < band["high"]
    assert row["probability_rising"] > 0.99
    assert row["crossing"]["limit"] == "condensing_over_ambient_usual"
    assert row["crossing"]["earliest"] < row["crossing"]["expected"]
    assert answer["quantities"]["superheat"]["shape"] == "steady"
    assert answer["quantities"]["airflow"]["shape"] == "steady"
    assert not row["odd_runs"]


def test_one_bad_visit_is_named_and_does_not_decide() -> None:
    """A liquid gauge 40 psi off in the third summer."""
    body = trend_body()
    body["runs"][2]["readings"]["liquid_pressure"] += 40.0
    row = followed(body)["quantities"]["condensing_temperature_over_ambient"]
    assert row["odd_runs"] == [body["runs"][2]["taken_at"]]
    assert "does not fit" in row["sentence"]
    assert row["drift_per_year"]["band"]["low"] < 1.1 < row["drift_per_year"]["band"]["high"]


def test_order_of_the_runs_does_not_matter() -> None:
    """They are sorted by their dates."""
    body = trend_body()
    body["runs"].reverse()
    assert followed(body) == followed(trend_body())


def test_a_run_in_other_weather_is_left_out_of_what_follows_it() -> None:
    """And stays in what does not."""
    body = trend_body()
    body["runs"][1]["readings"]["outdoor_air_dry_bulb"]["value"] = 55.0
    answer = followed(body)
    assert answer["runs"][1]["comparable"] == "no"
    points = answer["quantities"]["condensing_temperature_over_ambient"]["points"]
    assert len(points) == 4


def test_a_unit_without_refrigerant_still_has_what_needs_none() -> None:
    """Static pressure from three visits."""
    body = {
        "units": "imperial",
        "kit": {"manometer": {"type": "manometer"}},
        "unit": {"nameplate": {"maximum_external_static_pressure": 0.8}},
        "runs": [
            {
                "taken_at": f"202{year}-06-01T12:00:00Z",
                "readings": {"total_external_static_pressure": 0.40 + 0.06 * year},
            }
            for year in range(1, 6)
        ],
    }
    answer = followed(body)
    row = answer["quantities"]["total_external_static_pressure"]
    assert not row["at_common_conditions"]
    assert row["drift_per_year"]["value"] == pytest.approx(0.06, abs=0.005)
    assert row["shape"] == "drift"
    # 0.8 less 0.7 in. w.c. at 0.06 a year: 1.7 years on.
    assert row["crossing"]["expected"].startswith("2027")


@pytest.mark.parametrize(
    ("spoil", "pointer"),
    [
        (lambda b: b["runs"][0].pop("taken_at"), "/runs/0/taken_at"),
        (lambda b: b["runs"][3].update(taken_at="2026-07-01T10:00:00"), "/runs/3/taken_at"),
        (lambda b: b["runs"][4].update(taken_at=b["runs"][0]["taken_at"]), "/runs/4/taken_at"),
        (lambda b: b["runs"][2]["readings"].update(liquid_pressure=5000.0), "/runs/2/readings/liquid_pressure"),
        (lambda b: b.update(runs=b["runs"][:2]), "/runs"),
    ],
)
def test_trends_refuse_plainly(client: TestClient, spoil: Callable[[Body], object], pointer: str) -> None:
    """With the run's place in the request, whatever the order of dates."""
    body = trend_body()
    spoil(body)
    answer = client.post("/v1/trends", json=body)
    assert answer.status_code == 422, answer.text
    assert [e["pointer"] for e in answer.json()["errors"]] == [pointer]


# ---------------------------------------------------------------- repeats


def test_repeats_sharpen_a_comparison() -> None:
    """Means of four readings in each run: the band of the change as read shrinks by half where
    repeatability is all (JCGM 100 4.2.3)."""
    from schemas.comparisons import ComparisonRequest
    from service.compare.comparison import compare

    body = copy.deepcopy(dict(comparison_examples()["nothing_to_tell"]))
    body["kit"]["gauges"] = {
        "type": "pressure_transducer",
        "accuracy": {"percent_of_reading": 1.0, "resolution": 0.001},
        "repeatability": 1.0,
    }
    spreads = []
    for times in (1, 4):
        for run in body["runs"].values():
            value = run["readings"]["suction_pressure"]
            value = value if isinstance(value, float) else float(np.mean(value["values"]))
            swing = 1.0 * np.sqrt(3.0) / 2.0  # four values at +-swing scatter by exactly 1 psi
            if times == 4:
                run["readings"]["suction_pressure"] = {
                    "values": [value - swing, value + swing, value - swing, value + swing]
                }
        answer = compare(ComparisonRequest.model_validate(body))
        spreads.append(answer["changes"]["suction_pressure_absolute"]["as_read"]["standard_uncertainty"])
    assert spreads[1] == pytest.approx(spreads[0] / 2.0, rel=0.05)


def test_a_fitted_line_has_the_variance_of_its_coefficients() -> None:
    """Level and slope about the mean, correlated: at any time the variance is d C d for d = (1, t - mean)."""
    times = np.array([0.0, 1.0, 4.0])
    covariance = np.array([[0.04, -0.012], [-0.012, 0.01]])
    drift = Line(np.array([20.0, 1.5]), covariance, np.ones(3), 0.0)
    when = [datetime(2020, 1, 1, tzinfo=UTC) + timedelta(days=365.25 * year) for year in times.tolist()]
    unit = conversion("temperature_difference", "K")
    (piece,) = pieces(Shape("drift", drift, drift, None), times, when, unit, 1.0)
    at = (datetime.fromisoformat(piece["at"]) - when[0]) / timedelta(days=365.25)
    for year in (0.0, 2.5, 4.0):
        design = np.array([1.0, year - times.mean()])
        assert piece["level"] + piece["slope_per_year"] * (year - at) == pytest.approx(design @ drift.coefficients)
        variance = piece["level_standard_uncertainty"] ** 2 + (piece["slope_standard_uncertainty"] * (year - at)) ** 2
        assert variance == pytest.approx(design @ covariance @ design, rel=1e-5)


def test_a_step_has_two_levels_with_their_own_variances() -> None:
    """Level before, and step: the level after has the variance of their sum."""
    times = np.arange(4.0)
    found = Line(np.array([10.0, 6.0]), np.array([[0.1, -0.1], [-0.1, 0.3]]), np.ones(4), 0.0)
    when = [datetime(2020 + k, 1, 1, tzinfo=UTC) for k in range(4)]
    unit = conversion("temperature_difference", "K")
    before, after = pieces(Shape("step", found, found, (2, 6.0, 0.5)), times, when, unit, 1.0)
    assert (before["level"], after["level"]) == (10.0, 16.0)
    assert before["level_standard_uncertainty"] ** 2 == pytest.approx(0.1, rel=1e-5)
    assert after["level_standard_uncertainty"] ** 2 == pytest.approx(0.1 - 2 * 0.1 + 0.3, rel=1e-5)
    assert (before["end"], after["start"]) == (when[1].isoformat(), when[2].isoformat())


def winter() -> Body:
    """The example of a winter visit."""
    return copy.deepcopy(dict(examples()["r410a_heat_pump_heating"]))


def test_a_plan_in_heating_is_about_what_changes_there() -> None:
    """The outdoor coil can be planned for; a condenser that is indoors in heating is refused by its field."""
    visit = winter()
    body = {name: visit[name] for name in ("units", "site", "unit", "kit")} | {
        "readings": {name: {} for name in visit["run"]["readings"]},
        "conditions": {"outdoor_air_dry_bulb": 33},
        "change_worth_finding": {"cause": "outdoor_coil"},
    }
    answer = planned(body)
    assert {row["cause"] for row in answer["by_cause"]} >= {"outdoor_coil", "indoor_airflow", "reversing_valve"}
    assert "condenser_heat_transfer" not in {row["cause"] for row in answer["by_cause"]}
    body["change_worth_finding"] = {"cause": "condenser_heat_transfer"}
    with pytest.raises(RefusedError) as refused:
        planned(body)
    assert refused.value.refusals[0].pointer == "/change_worth_finding/cause"


def test_a_series_of_winters_is_followed() -> None:
    """A suction pressure that falls 2 psi a winter: evaporation falls with it (R-410A: about 0.6 °F a psi there)."""
    visit = winter()
    runs = []
    for year in range(4):
        run = copy.deepcopy(visit["run"]) | {"taken_at": f"{2022 + year}-01-15T10:00:00Z"}
        run["readings"]["suction_pressure"] -= 2 * year
        runs.append(run)
    answer = followed({name: visit[name] for name in ("units", "site", "unit", "kit")} | {"runs": runs})
    row = answer["quantities"]["evaporating_temperature_under_outdoor_air"]
    assert row["shape"] == "drift"
    assert row["drift_per_year"]["value"] == pytest.approx(1.2, abs=0.3)
    assert "heating_cop" in answer["quantities"]
