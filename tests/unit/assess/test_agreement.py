"""Readings that check each other, through the whole service."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from schemas.assessments import AssessmentRequest
from service.assess import agreement
from service.assess.examination import derive_visit
from service.derive.computation import compute
from service.derive.examined import unit_kind
from service.derive.reconcile import Candidate, residual
from service.intake.take_in import take_in
from service.uncertainty.reconciliation import chi_square_tail
from tests.conftest import Assess, visit
from tests.simulated import State, request, truth


def disturbed(**changes: float) -> dict[str, Any]:
    """The simulated visit with gross errors: added to temperatures, else factors."""
    readings = truth()
    for name, change in changes.items():
        added = "temperature" in name or "bulb" in name
        readings[name] = readings[name] + change if added else readings[name] * change
    return request(readings)


@pytest.mark.parametrize(
    ("changes", "first", "alone"),
    [
        ({"return_air_wet_bulb": 5.0}, "return_air_wet_bulb", True),
        ({"supply_air_dry_bulb": 8.0}, "supply_air_dry_bulb", False),
        ({"airflow": 0.6}, "airflow", True),
        ({"outdoor_unit_power": 0.6}, "outdoor_unit_power", True),
        ({"compressor_common_current": 0.5}, "compressor_common_current", False),
        ({"discharge_line_temperature": -25.0}, "discharge_line_temperature", False),
    ],
)
def test_reading_that_does_not_fit_is_named(
    assessed: Assess, changes: dict[str, float], first: str, *, alone: bool
) -> None:
    """A dry wick, a probe in the wrong place, a leaking hood, a clamp on the wrong wire, a bare clamp.

    It is reported, its correction is about right, the answer without it is near the truth, and the
    bands with it are honestly wide.
    """
    found = truth()
    answer = assessed(disturbed(**changes))
    part = answer["reconciliation"]
    assert part["verdict"] == "inconsistent"
    suspect = part["suspects"][0]
    assert suspect["name"] == first
    assert suspect["tells_apart"] is alone
    assert "known cause" in suspect["sentence"]
    notice = next(n for n in answer["usability"]["notices"] if n["code"] == "readings_disagree")
    assert first in notice["readings"]
    assert first.replace("_", " ") in notice["sentence"]
    (change,) = changes.values()
    added = "temperature" in first or "bulb" in first
    wanted = -change if added else found[first] * (1.0 - change)
    assert suspect["correction"] == pytest.approx(wanted, rel=0.45)
    capacity = part["quantities"]["cooling_capacity"]
    assert capacity["without_suspect"]["value"] == pytest.approx(found["capacity"], rel=0.02)
    band = answer["derived"]["cooling_capacity"]["band"]
    assert band["low"] < found["capacity"] < band["high"]
    assert capacity["reconciled"]["value"] == answer["derived"]["cooling_capacity"]["value"]


def test_gross_disagreement_is_not_averaged(assessed: Assess) -> None:
    """A current of half the true one: values stay as read, and limits on efficiency are not applied."""
    answer = assessed(disturbed(compressor_common_current=0.5))
    part = answer["reconciliation"]
    assert part["widened_by"] > 5.0
    assert part["readings"] == {}
    for row in part["quantities"].values():
        assert row["reconciled"] == row["as_read"]
    assert "values stay as read" in part["sentence"]
    finding = next(f for f in answer["findings"] if f["quantity"] == "eer_share_of_rating")
    assert finding["grade"] == "not_assessed"
    mild = assessed(disturbed(airflow=0.6))["reconciliation"]
    assert 1.0 < mild["widened_by"] < 5.0
    assert mild["readings"]


def test_saturation_temperature_off_a_gauge_stays_a_temperature(assessed: Assess) -> None:
    """Its error is the gauge's, in pressure, but it is read, reconciled and corrected in degrees."""
    body = disturbed(discharge_line_temperature=-25.0)
    body["kit"]["gauges"]["accuracy"] = {"fixed": 15.0, "unit": "psi"}
    readings = body["run"]["readings"]
    del readings["suction_pressure"], readings["liquid_pressure"]
    readings |= {"suction_saturation_temperature": 45.0, "liquid_saturation_temperature": 112.0}
    part = assessed(body)["reconciliation"]
    read = part["readings"]["suction_saturation_temperature"]
    assert read["unit"] == "degF"
    assert read["as_read"] == pytest.approx(45.0)
    # Half of its error would take 26 °F, over seven standard uncertainties: such a gauge there is not.
    assert "suction_saturation_temperature" not in {s["name"] for s in part["suspects"]}
    one = Candidate("run.readings.suction_saturation_temperature", 1.0, 5.0, 2.0, "", False)
    suspect = agreement._suspect(take_in(AssessmentRequest.model_validate(body)), one)
    assert suspect["unit"] == "delta_degF"
    assert suspect["correction"] == pytest.approx(9.0)


def test_metric_gives_the_same(assessed: Assess) -> None:
    """Capacity in W, efficiency in W/W, airflow in m3/h."""
    imperial = assessed(disturbed())["derived"]
    body = disturbed()
    body["units"] = "metric"
    units = {"pressure": "psi", "bulb": "degF", "temperature": "degF", "static": "inH2O"}
    for name, given in body["run"]["readings"].items():
        value = given if isinstance(given, dict) else {"value": given}
        for part, unit in units.items():
            if part in name:
                value["unit"] = unit
        if name == "airflow":
            value["unit"] = "cfm"
        body["run"]["readings"][name] = value
    body["site"]["altitude"] = {"value": 0, "unit": "ft"}
    body["unit"]["rated"]["cooling_capacity"] = {"value": 36000, "unit": "Btu/h"}
    body["unit"]["nameplate"]["subcooling"] = {"value": 10, "unit": "delta_degF"}
    for row in body["unit"]["blower_table"]:
        row["airflow"] = {"value": row["airflow"], "unit": "cfm"}
        row["external_static_pressure"] = {
            "value": row["external_static_pressure"],
            "unit": "inH2O",
        }
    metric = assessed(body)["derived"]
    for name, scale in (
        ("cooling_capacity", 1055.05585262 / 3600),
        ("eer", 1055.05585262 / 3600),
        ("airflow", 0.3048**3 * 60),
        ("refrigerant_mass_flow", 0.45359237),
        ("eer_share_of_rating", 1.0),
    ):
        assert metric[name]["value"] == pytest.approx(imperial[name]["value"] * scale, rel=1e-5)


def test_agreement_narrows_bands(assessed: Assess) -> None:
    """Redundant readings that agree make capacity better known than by the air side alone."""
    part = assessed(disturbed())["reconciliation"]
    assert part["verdict"] == "consistent"
    assert part["degrees_of_freedom"] == len(part["balances"]) == 5
    assert part["widened_by"] == 1.0
    for name in ("cooling_capacity", "eer", "airflow"):
        before, after = (part["quantities"][name][way]["band"] for way in ("as_read", "reconciled"))
        assert after["high"] - after["low"] < 0.9 * (before["high"] - before["low"])
    for reading in part["readings"].values():
        assert reading["reconciled"]["value"] == pytest.approx(reading["as_read"], rel=0.01)


def test_sums_add_up_after_reconciliation(assessed: Assess) -> None:
    """Total is sensible plus latent; EER is capacity over power; readings disturbed on purpose."""
    derived = assessed(disturbed(return_air_wet_bulb=1.5, airflow=0.93))["derived"]
    value = {name: row["value"] for name, row in derived.items()}
    assert value["sensible_capacity"] + value["latent_capacity"] == pytest.approx(value["cooling_capacity"], rel=1e-6)
    assert value["outdoor_unit_power"] + value["indoor_unit_power"] == pytest.approx(value["total_power"], rel=1e-6)
    assert value["cooling_capacity"] / value["total_power"] == pytest.approx(value["eer"], rel=1e-6)


def test_without_a_second_way_nothing_is_tested(assessed: Assess) -> None:
    """And the answer says so."""
    part = assessed(visit(readings={"airflow": 1200}))["reconciliation"]
    assert part["verdict"] == "not_testable"
    assert part["probability"] is None


def test_stated_accuracies_alone_fail_the_test_one_time_in_twenty() -> None:
    """Draws of a visit's own errors, put back into the balances: 5 % fail, within 1.5 %."""
    body = AssessmentRequest.model_validate({**disturbed(), "options": {"draws": 4096}})
    taken = take_in(body)
    found = compute(taken, taken.given, unit_kind(body, taken))
    assert found.outcome is not None
    rows = np.stack([residual(pair, found.as_read) for pair in found.outcome.pairs])[:, 1:]
    statistics = np.einsum("mn,mk,kn->n", rows, found.outcome.balances.inverse, rows)
    failed = np.mean([chi_square_tail(s, len(rows)) < 0.05 for s in statistics.tolist()])
    assert failed == pytest.approx(0.05, abs=0.015)


# ---------------------------------------------------------------- airflow and efficiency


def test_airflow_methods_and_their_preference(assessed: Assess) -> None:
    """Each method has its own band; the rule of thumb is only taken alone, and is wide."""
    rated = {"cooling_capacity": 36000}
    alone = assessed(visit(unit={"rated": rated}))["derived"]["airflow"]
    assert alone["value"] == pytest.approx(1200)
    width = alone["band"]["high"] - alone["band"]["low"]
    assert width > 700
    body = visit(
        unit={
            "rated": rated,
            "coil_pressure_drop_rating": {"airflow": 1200, "pressure_drop": 0.22},
        },
        readings={"coil_pressure_drop": 0.22},
    )
    coil = assessed(body)["derived"]["airflow"]
    assert coil["band"]["high"] - coil["band"]["low"] < 0.8 * width


def test_heat_test_counts_only_at_the_cooling_speed(assessed: Assess) -> None:
    """10 kW and a rise of 30 °F are about 1,050 cfm (common practice, no source)."""
    body = visit(
        readings={
            "heat_test_entering_air_dry_bulb": 70,
            "heat_test_leaving_air_dry_bulb": 100,
            "heat_test_electric_power": 10000,
        },
    )
    derived = assessed(body)["derived"]
    assert derived["airflow_in_heat_test"]["value"] == pytest.approx(1053, rel=0.04)
    assert "airflow" not in derived
    body["run"]["heat_test_at_cooling_speed"] = True
    assert assessed(body)["derived"]["airflow"]["value"] == pytest.approx(1053, rel=0.04)


def test_power_from_volts_and_amps_carries_its_power_factor(assessed: Assess) -> None:
    """240 V and 12.0 A are 2,880 VA; a measured power factor of 0.92 makes 2,650 W (closed form)."""
    readings = {"line_voltage": 240, "compressor_common_current": 11.0, "outdoor_fan_current": 1.0}
    assumed = assessed(visit(readings=readings))["derived"]["outdoor_unit_power"]
    assert "assumption: power factor single phase" in assumed["variance_shares"]
    read = assessed(visit(readings={**readings, "power_factor": 0.92}))["derived"]
    known = read["outdoor_unit_power"]
    assert known["value"] == pytest.approx(2650, rel=1e-3)
    assert known["standard_uncertainty"] < assumed["standard_uncertainty"]


def test_missing_power_says_which_reading_gives_it(assessed: Assess) -> None:
    """Cheapest first."""
    readings = truth()
    for name in ("outdoor_unit_power", "compressor_common_current", "line_voltage"):
        readings.pop(name)
    missing = {row["quantity"]: row for row in assessed(request(readings))["missing"]}
    assert missing["eer"]["unlock"][0]["add"] == ["run.readings.outdoor_unit_power"]


def test_share_of_rating_is_never_made_of_the_rating(assessed: Assess) -> None:
    """Gauges and rating alone give a capacity, but no share and no verdict on it."""
    readings = {
        k: v for k, v in truth().items() if k.endswith(("_pressure", "line_temperature")) or k.startswith("outdoor_air")
    }
    for name in ("discharge_line_temperature", "total_external_static_pressure"):
        readings.pop(name)
    answer = assessed(request(readings))
    assert "assumes a healthy compressor" in answer["derived"]["cooling_capacity"]["method"]
    assert "cooling_capacity_share_of_rating" not in answer["derived"]


def test_distance_from_the_rating_point_widens(assessed: Assess) -> None:
    """The share of rated efficiency is less sure far from 95 °F outdoors, none outside the map."""

    def width(outdoor: float) -> float:
        readings = {**truth(), "outdoor_air_dry_bulb": outdoor}
        row = assessed(request(readings))["derived"]["eer_share_of_rating"]
        return float(row["standard_uncertainty"] / row["value"])

    assert width(95.0) < width(87.0) < width(76.0)
    cold = assessed(request({**truth(), "outdoor_air_dry_bulb": 70.0}))
    assert "eer_share_of_rating" not in cold["derived"]
    reason = next(r for r in cold["missing"] if r["quantity"] == "eer_share_of_rating")["reason"]
    assert "outside the range" in reason


def test_energy_and_money_are_marked_as_estimates(assessed: Assess) -> None:
    """Present and rated efficiency, same load; a unit at half its efficiency uses twice as much."""
    body = request(truth())
    body["usage"] = {"cooling_hours": 1000, "energy_price": 0.2}
    derived = assessed(body)["derived"]
    for name in ("seasonal_energy", "seasonal_cost", "seasonal_energy_over_rated"):
        assert "estimate" in derived[name]["method"]
    energy, rated = (derived[n] for n in ("seasonal_energy", "seasonal_energy_at_rated_efficiency"))
    assert derived["seasonal_cost"]["value"] == pytest.approx(0.2 * energy["value"], rel=1e-5)
    share = derived["eer_share_of_rating"]["value"] / 100.0
    assert rated["value"] / energy["value"] == pytest.approx(share, rel=0.02)
    # 36,000 Btu/h for 1,000 h over an EER of about 13 at 82 °F and 0.9: 3,080 kWh.
    assert energy["value"] == pytest.approx(36_000 / derived["eer_at_mild_rating_conditions"]["value"] / 0.9, rel=0.03)


def test_heat_rejection_side(assessed: Assess) -> None:
    """3,000 cfm warmed by 15 °F carry off 48,600 Btu/h (1.08, common practice, no source).

    Less 2,800 W and 450 W that is 37,500 Btu/h of cooling, and about 1,200 cfm times 37.5/34.7.
    """
    found = truth()
    readings = {
        name: found[name]
        for name in ("return_air_dry_bulb", "return_air_wet_bulb", "supply_air_dry_bulb", "supply_air_wet_bulb")
    }
    readings |= {
        "condenser_airflow": 3000,
        "outdoor_air_dry_bulb": 92,
        "condenser_leaving_air_dry_bulb": 107,
        "outdoor_unit_power": 2800,
        "indoor_unit_power": 450,
    }
    body = visit(site={"altitude": 0}, readings=readings)
    derived = assessed(body)["derived"]
    # Air of 92 °F is 4 % thinner than the standard air of the factor 1.08.
    assert derived["heat_rejection"]["value"] == pytest.approx(48_600, rel=0.05)
    net = derived["heat_rejection"]["value"] - 3250 * 3.412142
    assert derived["cooling_capacity"]["value"] == pytest.approx(net, rel=1e-4)
    assert derived["airflow"]["value"] == pytest.approx(1200 * net / found["capacity"], rel=0.01)


def test_heating_capacity(assessed: Assess) -> None:
    """1,000 cfm warmed by 20 °F are 21,600 Btu/h (1.08 factor, common practice, no source), 400 W of which come
    from the blower (definition)."""
    derived = assessed(
        visit(
            unit={"mode": "heating"},
            site={"altitude": 0},
            readings={
                "airflow": 1000,
                "return_air_dry_bulb": 70,
                "supply_air_dry_bulb": 90,
                "outdoor_unit_power": 2000,
                "indoor_unit_power": 400,
            },
        )
    )["derived"]
    assert derived["delivered_heating_capacity"]["value"] == pytest.approx(21_600, rel=0.02)
    assert derived["heating_capacity"]["value"] == pytest.approx(21_600 - 400 * 3.412142, rel=0.02)
    assert derived["heating_cop"]["value"] == pytest.approx(21_600 / 3.412142 / 2400, rel=0.02)


@pytest.mark.parametrize(
    ("unit", "pointer"),
    [
        (
            {
                "blower_table": [
                    {"external_static_pressure": 0.5, "airflow": 1200},
                    {"external_static_pressure": 0.3, "airflow": 1300},
                ]
            },
            "/unit/blower_table",
        ),
        (
            {"compressor_map": {"mass_flow": [1] * 10, "mass_flow_unit": "lb/h", "temperature_unit": "degF"}},
            "/unit/compressor_map",
        ),
        ({"rated": {"cooling_capacity": 0}}, "/unit/rated/cooling_capacity"),
    ],
)
def test_ratings_that_cannot_be(client: Any, unit: dict[str, Any], pointer: str) -> None:  # noqa: ANN401
    """Refused with the field and what to do."""
    answer = client.post("/v1/assessments", json=visit(unit=unit))
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["pointer"] == pointer
    assert error["hint"]


# ---------------------------------------------------------------- airflow that nobody measured


def _unmeasured(airflow: float, *leave_out: str) -> dict[str, Any]:
    """The simulated visit at this airflow [cfm], with nothing that would measure it."""
    body = request(truth(State(airflow=airflow)))
    del body["unit"]["blower_table"]
    for name in ("airflow", "total_external_static_pressure", *leave_out):
        del body["run"]["readings"][name]
    return body


@pytest.mark.parametrize("airflow", [750.0, 600.0])
def test_low_airflow_that_was_not_measured_is_found_not_doubted(assessed: Assess, airflow: float) -> None:
    """The truth of the simulated unit (CoolProp and PsychroLib): 250 and 200 cfm/ton, no reading wrong."""
    answer = assessed(_unmeasured(airflow))
    assert answer["reconciliation"]["verdict"] == "consistent"
    assert "readings_disagree" not in {n["code"] for n in answer["usability"]["notices"]}
    share = answer["derived"]["airflow_for_rated_capacity"]
    assert share["value"] == pytest.approx(airflow / 3.0, rel=0.01)
    assert not any("nominal airflow" in name for name in share["variance_shares"])
    row = next(f for f in answer["findings"] if f["quantity"] == "airflow_for_rated_capacity")
    assert row["grade"] == "nonconforming"


@pytest.mark.parametrize("airflow", [1200.0, 600.0])
def test_airflow_by_rule_of_thumb_is_never_graded(assessed: Assess, airflow: float) -> None:
    """Nor what follows from it alone; the value itself stays, with its spread and its method."""
    answer = assessed(_unmeasured(airflow, "discharge_line_temperature"))
    assert answer["reconciliation"]["verdict"] == "consistent"
    assert answer["derived"]["airflow"]["method"].startswith("by rule of thumb")
    rows = {f["quantity"]: f for f in answer["findings"]}
    for name in ("airflow_for_rated_capacity", "cooling_capacity_share_of_rating", "eer_share_of_rating"):
        assert rows[name]["grade"] == "not_assessed"
    assert "Airflow was not measured" in rows["airflow_for_rated_capacity"]["sentence"]


def test_no_balance_comes_from_the_rule_of_thumb() -> None:
    """Neither where airflow is measured nor where it is not (the blower's power is read in both)."""
    for body in (request(truth()), _unmeasured(600.0)):
        computed = derive_visit(AssessmentRequest.model_validate(body)).computed
        assert computed.outcome is not None
        sides = {side for pair in computed.outcome.pairs for side in (pair.first, pair.second)}
        assert sides
        for side in sides:
            assert "assumed.nominal_airflow" not in computed.dependence.depends[side], side


@pytest.mark.parametrize(
    ("name", "correction", "possible"),
    [
        # The three of a real complaint: no instrument is wrong by so much (common practice, no source).
        ("supply_air_dry_bulb", 254.6 / 1.8, False),
        ("suction_pressure", -90.8 * 6894.757, False),
        ("return_air_wet_bulb", 20.0 / 1.8, False),  # over the dry bulb
        ("liquid_line_temperature", 105.3 / 1.8, False),
        ("airflow", -2.0, False),  # against its direction
        # What happens: a dry wick, a bare clamp, a current of one of two wires.
        ("return_air_wet_bulb", -5.0 / 1.8, True),
        ("discharge_line_temperature", 25.0 / 1.8, True),
        ("compressor_common_current", 11.0, True),
        ("suction_pressure", -10.0 * 6894.757, True),
    ],
)
def test_a_suspect_is_an_error_that_an_instrument_can_have(name: str, correction: float, *, possible: bool) -> None:
    """Corrections in SI, of the simulated visit."""
    given = derive_visit(AssessmentRequest.model_validate(request(truth()))).visit
    assert agreement._can_be(given, f"run.readings.{name}", correction, 1.0) is possible
