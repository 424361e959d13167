"""Readings that look like something else: another mode, wire, probe, clamp, unit or refrigerant.

Pressures of R-410A and R-22 in the cases are those of usual saturation temperatures (40 and 105 °F: 118 and
342 psig, 68.5 and 211 psig, as charts print them); what is usual in operation is common practice, no source.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import psychrolib
import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

import schemas.examples
from schemas.assessments import AssessmentRequest
from schemas.diagnoses import DiagnosisRequest
from service.assess.pipeline import assess
from service.faults.diagnosis import diagnose
from service.intake.refusals import RefusedError
from tests.benchmarks.diagnosis_study import request
from tests.benchmarks.simulated_visits import visits
from tests.conftest import Assess, visit
from tests.unit.assess.test_assessment import VALVE, codes, finding, healthy

MISTAKES = {
    "heating_suspected",
    "cooling_suspected",
    "air_probes_swapped_suspected",
    "clamp_on_wrong_wire_suspected",
    "currents_of_one_wire_suspected",
    "currents_exchanged_suspected",
    "unit_slip_suspected",
    "not_credible",
    "wrong_refrigerant_suspected",
    "line_clamps_swapped_suspected",
    "wet_bulb_too_low",
    "humidity_very_low",
}


def notice(answer: dict[str, Any], code: str) -> dict[str, Any]:
    return next(dict(n) for n in answer["usability"]["notices"] if n["code"] == code)


def example(kind: str, name: str) -> dict[str, Any]:
    folder = Path(schemas.examples.__file__).parent
    return dict(json.loads((folder / kind / f"{name}.json").read_text("utf-8")))


# ---------------------------------------------------------------- no mistake, no word


@pytest.mark.parametrize("kind", ["no_fault", "low_charge", "condenser_heat_transfer", "compressor_leakage"])
def test_units_sound_and_faulty_are_no_mistakes(assessed: Assess, kind: str) -> None:
    """By a simulator that shares nothing with the service; a plate whose rated-load amps are 1.1 to 1.6
    times what the sound unit drew (common practice, no source), with all readings and with pressures alone."""
    for place, made in enumerate(visits(6, 77, kind, "good")):
        body = request(made, with_baseline=False)
        readings = body["run"]["readings"]
        factor = 1.1 + 0.1 * place
        body["unit"].setdefault("nameplate", {})["compressor_rated_load_amps"] = round(
            factor * made.baseline["compressor_common_current"], 1
        )
        few = {name: value for name, value in readings.items() if name.endswith("pressure")}
        for given_ in (readings, few):
            answer = assessed({**body, "run": {**body["run"], "readings": given_}})
            assert not codes(answer) & MISTAKES


# ---------------------------------------------------------------- wires


def with_currents(common: float, start: float | None = None, **changes: Any) -> dict[str, Any]:  # noqa: ANN401
    """The healthy visit with currents of a compressor of 16.2 rated-load amps."""
    body = healthy(compressor_common_current=common, compressor_start_winding_current=start, **changes)
    body["unit"]["nameplate"] |= {"compressor_rated_load_amps": 16.2, "frequency": 60}
    return body


def test_start_winding_current_given_as_common_is_asked_about(assessed: Assess) -> None:
    """45 µF at 352 V and 60 Hz pass 2πfCV = 5.97 A, 37 % of 16.2 A; at 124 and 352 psig a compressor draws
    some 12 A (common practice, no source)."""
    answer = assessed(with_currents(5.97))
    found = notice(answer, "clamp_on_wrong_wire_suspected")
    assert "is the clamp on the wrong wire?" in found["sentence"]
    assert "common practice" in found["source"]
    assert answer["usability"]["grade"] == "usable_with_reservations"
    for limit in ("compressor_current_rating", "compressor_current_stalled"):
        row = finding(answer, limit)
        assert row["grade"] == "not_assessed"
        assert "clamp on the wrong wire" in row["sentence"]
    assert finding(answer, "subcooling_nameplate")["grade"] == "conforming"


@pytest.mark.parametrize(
    ("amps", "changes"),
    [
        (12.0, {}),
        (9.0, {}),
        # A mild day: less lift, less current.
        (
            7.5,
            {
                "suction_pressure": 118,
                "liquid_pressure": 235,
                "liquid_line_temperature": 75,
                "outdoor_air_dry_bulb": 68,
                "suction_line_temperature": 52,
            },
        ),
        # Hardly any lift: what a compressor that does not pump draws is not known.
        (
            5.97,
            {
                "suction_pressure": 200,
                "liquid_pressure": 240,
                "suction_line_temperature": 75,
                "liquid_line_temperature": 92,
            },
        ),
        # Pressures not read: nothing says how much the compressor has to do.
        (5.97, {"suction_pressure": None, "liquid_pressure": None}),
    ],
)
def test_a_current_that_its_load_explains_is_graded(assessed: Assess, amps: float, changes: dict[str, Any]) -> None:
    """Common practice, no source."""
    answer = assessed(with_currents(amps, **changes))
    assert "clamp_on_wrong_wire_suspected" not in codes(answer)
    assert finding(answer, "compressor_current_rating")["grade"] == "conforming"


@pytest.mark.parametrize("control", ["two_stage", "variable_speed"])
def test_a_small_current_of_a_unit_that_may_run_slow_is_no_mistake(assessed: Assess, control: str) -> None:
    """At low stage or low speed the pressures look alike and the current is small."""
    body = with_currents(5.97)
    body["unit"]["capacity_control"] = control
    assert "clamp_on_wrong_wire_suspected" not in codes(assessed(body))


@pytest.mark.parametrize(
    ("common", "start", "code"),
    [
        (5.97, 5.97, "currents_of_one_wire_suspected"),
        (12.1, 12.0, "currents_of_one_wire_suspected"),
        (5.97, 12.4, "currents_exchanged_suspected"),
    ],
)
def test_two_currents_that_no_motor_has(assessed: Assess, common: float, start: float, code: str) -> None:
    """The common wire carries both windings' currents, which are up to a quarter of a cycle apart: more
    than either (circuit theory).  Neither the current nor the capacitor is graded from them."""
    body = with_currents(common, start, capacitor_voltage={"compressor": 352}, line_voltage=236)
    body["unit"]["nameplate"]["capacitors"] = {"compressor": {"microfarads": 45}}
    answer = assessed(body)
    assert code in codes(answer)
    for limit in ("compressor_current_rating", "compressor_run_capacitor_marking"):
        assert finding(answer, limit)["grade"] == "not_assessed"


def test_both_currents_of_a_healthy_motor_are_graded(assessed: Assess) -> None:
    """12.4 A common, 5.97 A in the start winding's wire: 45.0 µF (circuit theory)."""
    body = with_currents(12.4, 5.97, capacitor_voltage={"compressor": 352}, line_voltage=236)
    body["unit"]["nameplate"]["capacitors"] = {"compressor": {"microfarads": 45}}
    answer = assessed(body)
    assert not codes(answer) & MISTAKES
    for limit in ("compressor_current_rating", "compressor_run_capacitor_marking"):
        assert finding(answer, limit)["grade"] == "conforming"


def test_a_doubted_current_is_no_evidence_of_a_fault() -> None:
    """A sound unit, and start-winding current as its compressor's: no worn compressor."""
    body = example("diagnoses", "sound_unit")
    plain = diagnose(DiagnosisRequest.model_validate(body))
    body["kit"].pop("meter", None)
    body["unit"]["nameplate"]["compressor_rated_load_amps"] = 16.2
    body["run"]["readings"] |= {"compressor_common_current": 5.6, "line_voltage": 230}
    answer = diagnose(DiagnosisRequest.model_validate(body))
    assert answer["found"] == plain["found"] == []
    worn, before = (
        next((h["probability"] for h in one["hypotheses"] if h["fault"] == "compressor_leakage"), 0.0)
        for one in (answer, plain)
    )
    assert worn < before + 0.02


# ---------------------------------------------------------------- mode and probes

#: A heat pump in heating at 38 °F outdoors (invented, usual values): evaporating near 19 °F, condensing
#: near 100 °F.
HEATING: dict[str, Any] = {
    "suction_pressure": 75,
    "liquid_pressure": 320,
    "suction_line_temperature": 35,
    "liquid_line_temperature": 88,
    "outdoor_air_dry_bulb": 38,
    "return_air_dry_bulb": 68,
    "return_air_wet_bulb": None,
    "supply_air_dry_bulb": 95,
}


@pytest.mark.parametrize(
    "changes",
    [
        {},
        # Both gauges on hot lines, and the clamp on the hot vapour line.
        {"suction_pressure": 325, "suction_line_temperature": 150},
        {
            "suction_pressure": None,
            "liquid_pressure": None,
            "suction_line_temperature": None,
            "liquid_line_temperature": None,
            "outdoor_air_dry_bulb": None,
        },
        {"return_air_dry_bulb": None, "supply_air_dry_bulb": None, "suction_line_temperature": 150},
        # A heat pump in deep cold: lukewarm supply air, nothing else read.
        {
            "suction_pressure": None,
            "liquid_pressure": None,
            "suction_line_temperature": None,
            "liquid_line_temperature": None,
            "outdoor_air_dry_bulb": 17,
            "supply_air_dry_bulb": 82,
        },
        # Tested in summer: too hot to be a room's air.
        {
            "outdoor_air_dry_bulb": 80,
            "suction_pressure": 150,
            "liquid_pressure": 420,
            "supply_air_dry_bulb": 108,
            "liquid_line_temperature": 100,
            "suction_line_temperature": 70,
        },
    ],
)
def test_a_heating_run_without_a_mode_names_the_field_to_set(assessed: Assess, changes: dict[str, Any]) -> None:
    """And gives no advice that is for cooling."""
    body = healthy(**{**HEATING, **changes})
    body["unit"].pop("mode", None)
    answer = assessed(body)
    found = notice(answer, "heating_suspected")
    assert "unit.mode is not given" in found["sentence"]
    assert "Set it to heating" in found["sentence"]
    assert answer["usability"]["grade"] == "not_usable"
    said = " ".join(n["sentence"] for n in answer["usability"]["notices"])
    assert not any(word in said for word in ("warm up", "Weigh the charge in", "refrigerant is wrong"))
    about_cooling = {
        "superheat",
        "subcooling_deviation",
        "compression_ratio",
        "condensing_temperature_over_ambient",
        "temperature_split_deviation",
    }
    for row in answer["findings"]:
        assert row["grade"] == "not_assessed" or row["quantity"] not in about_cooling
    body["unit"]["mode"] = "heating"
    assert not codes(assessed(body)) & MISTAKES


def test_cooling_under_heating_names_the_field_to_set(assessed: Assess) -> None:
    """Supply air 19 °F under return air at 89 °F outdoors, where no coil defrosts."""
    body = healthy()
    body["unit"]["mode"] = "heating"
    found = notice(assessed(body), "cooling_suspected")
    assert "Set it to cooling" in found["sentence"]


def test_a_defrost_is_not_taken_for_cooling(assessed: Assess) -> None:
    """Supply air colder than return air at 35 °F outdoors (common practice, no source)."""
    readings = {"return_air_dry_bulb": 69, "supply_air_dry_bulb": 60, "outdoor_air_dry_bulb": 35}
    answer = assessed(visit(unit={"mode": "heating"}, readings=readings))
    assert "cooling_suspected" not in codes(answer)
    assert "defrost" in notice(answer, "supply_under_return_in_heating")["sentence"]


def test_a_cool_house_is_still_a_cool_house(assessed: Assess) -> None:
    """Return air at 66 °F with a unit that cools: the notice stays, and names the mode as a way out."""
    body = healthy(return_air_dry_bulb=66, return_air_wet_bulb=58, supply_air_dry_bulb=49)
    answer = assessed(body)
    assert "heating_suspected" not in codes(answer)
    assert "set unit.mode to heating" in notice(answer, "return_air_too_cold")["sentence"]
    body["unit"]["mode"] = "cooling"
    assert "unit.mode" not in notice(assessed(body), "return_air_too_cold")["sentence"]


def test_a_diagnosis_of_a_heating_run_does_not_warm_the_house() -> None:
    """It says that the readings look like heating, and offers no step for a cool house."""
    body = example("diagnoses", "sound_unit")
    body["unit"].pop("mode", None)
    readings = body["run"]["readings"]
    for name, value in HEATING.items():
        readings.pop(name, None)
        if value is not None:
            readings[name] = value
    readings.pop("supply_air_wet_bulb", None)
    answer = diagnose(DiagnosisRequest.model_validate(body))
    assert answer["sentence"].startswith("These readings look like heating")
    assert not any("Warm the house" in step["text"] for step in answer["next_steps"])
    assert not [h for h in answer["hypotheses"] if h["fault"] == "low_load"]


@pytest.mark.parametrize(
    ("mode", "changes"),
    [
        ("cooling", {"return_air_dry_bulb": 57.0, "supply_air_dry_bulb": 76.2, "return_air_wet_bulb": None}),
        (
            "cooling",
            {
                "return_air_dry_bulb": 57.0,
                "supply_air_dry_bulb": 76.2,
                "return_air_wet_bulb": 55.5,
                "supply_air_wet_bulb": 63.5,
            },
        ),
        ("heating", {**HEATING, "return_air_dry_bulb": 95, "supply_air_dry_bulb": 68}),
    ],
)
def test_swapped_air_probes_are_asked_about(assessed: Assess, mode: str, changes: dict[str, Any]) -> None:
    """The healthy visit, and heating, with supply and return exchanged."""
    body = healthy(**changes)
    body["unit"]["mode"] = mode
    answer = assessed(body)
    found = notice(answer, "air_probes_swapped_suspected")
    assert found["sentence"].startswith("Were the supply and return probes swapped?")
    assert not codes(answer) & {
        "return_air_too_cold",
        "supply_over_return",
        "heating_suspected",
        "cooling_suspected",
        "supply_under_return_in_heating",
    }


def test_a_unit_that_does_not_cool_is_no_swap(assessed: Assess) -> None:
    """Compressor off, the supply duct warmed by an attic (common practice, no source)."""
    answer = assessed(visit(readings={"return_air_dry_bulb": 73, "supply_air_dry_bulb": 80}))
    assert "air_probes_swapped_suspected" not in codes(answer)
    assert "not cooling" in notice(answer, "supply_over_return")["sentence"]


def test_a_comparison_asks_about_swapped_probes_not_about_the_weather(client: TestClient) -> None:
    """The example of a cleaned coil, its second run with the air probes exchanged."""
    body = example("comparisons", "coil_cleaned")
    readings = body["runs"]["after"]["readings"]
    for part in ("dry_bulb", "wet_bulb"):
        names = (f"return_air_{part}", f"supply_air_{part}")
        readings[names[0]], readings[names[1]] = readings[names[1]], readings[names[0]]
    answer = client.post("/v1/comparisons", json=body).json()
    for sentence in (answer["conditions"]["sentence"], answer["system"]["sentence"]):
        assert "supply and return probes swapped" in sentence
        assert "too far apart" not in sentence


# ---------------------------------------------------------------- units and refrigerants


@pytest.mark.parametrize(
    ("units", "suction", "liquid", "says"),
    [
        ("metric", 8, 26, "in bar, but were taken to be in kPa"),
        ("metric", 118, 342, "in psi, but were taken to be in kPa"),
        ("metric", 0.81, 2.36, "in MPa, but were taken to be in kPa"),
        ("imperial", 8, 26, "in bar, but were taken to be in psi"),
        ("imperial", {"value": 8, "unit": "kPa"}, {"value": 26, "unit": "kPa"}, "in bar, but were taken to be in kPa"),
    ],
)
def test_pressures_alone_show_a_slip_of_unit(
    assessed: Assess,
    units: str,
    suction: float | dict[str, Any],
    liquid: float | dict[str, Any],
    says: str,
) -> None:
    """R-410A at 8 and 26 bar evaporates near 4 °C and condenses near 45 °C; in kPa it would be at -50 °C.
    A compressor that does not pump is no explanation of such pressures."""
    readings = {"suction_pressure": suction, "liquid_pressure": liquid}
    answer = assessed(visit(units, unit=VALVE, readings=readings))
    assert answer["usability"]["grade"] == "not_usable"
    said = [n["sentence"] for n in answer["usability"]["notices"] if says in n["sentence"]]
    assert len(said) == 1
    assert "not_pumping_suspected" not in codes(answer)
    assert finding(answer, "compression_ratio_usual")["grade"] == "not_assessed"


@pytest.mark.parametrize(
    ("stated", "suction", "liquid", "meant"),
    [("R-410A", 68.5, 211, "R-22"), ("R-22", 118, 342, "R-410A"), ("R-22", 130, 392, "R-410A")],
)
def test_pressures_of_another_refrigerant_are_asked_about(
    assessed: Assess, stated: str, suction: float, liquid: float, meant: str
) -> None:
    """40 to 45 °F and 105 to 115 °F of one, sent as the other: two pressures cannot decide, lines can."""
    unit = {**VALVE, "refrigerant": stated}
    readings: dict[str, float] = {"suction_pressure": suction, "liquid_pressure": liquid}
    found = notice(assessed(visit(unit=unit, readings=readings)), "wrong_refrigerant_suspected")
    assert found["weight"] == "reservation"
    assert meant in found["sentence"]
    readings |= {"suction_line_temperature": 52, "liquid_line_temperature": 95}
    answer = assessed(visit(unit=unit, readings=readings))
    found = notice(answer, "wrong_refrigerant_suspected")
    assert (found["weight"], answer["usability"]["grade"]) == ("disqualifying", "not_usable")
    assert meant in found["sentence"]


def test_pressures_that_move_apart_are_not_another_refrigerant(assessed: Assess) -> None:
    """A high low side and a low high side: a worn compressor (common practice), not a wrong plate."""
    answer = assessed(visit(unit=VALVE, readings={"suction_pressure": 180, "liquid_pressure": 235}))
    assert "wrong_refrigerant_suspected" not in codes(answer)


# ---------------------------------------------------------------- read twice


def test_a_saturation_temperature_that_agrees_with_its_pressure(assessed: Assess) -> None:
    """118 psig of R-410A and 40 °F, as charts print it: used, agreed, and nothing missing."""
    answer = assessed(healthy(suction_pressure=118, suction_saturation_temperature=40))
    assert "They agree. The pressure was used" in notice(answer, "saturation_given_twice")["sentence"]
    assert not codes(answer) & {"readings_not_used", "pressure_and_saturation_disagree"}


@pytest.mark.parametrize(
    ("pressure", "read", "says"),
    [
        # 118 psig is 132.7 psia.
        (132.7, 40, "if the pressure is absolute"),
        ({"value": 118, "unit": "psia"}, 40, "if the pressure is gauge"),
        # 68.5 psig is 40 °F on the scale of R-22.
        (68.5, 40, "on the scale of R-22"),
        (8.14, 40, "if the pressure is in bar, not in psi"),
        (118, 50, "read both values again"),
    ],
)
def test_a_saturation_temperature_that_contradicts_its_pressure(
    assessed: Assess,
    pressure: float | dict[str, Any],
    read: float,
    says: str,
) -> None:
    """Points of printed charts; both readings are named, with what would bring them to agreement."""
    answer = assessed(
        visit(
            unit=VALVE,
            readings={"suction_pressure": pressure, "suction_saturation_temperature": read},
        )
    )
    found = notice(answer, "pressure_and_saturation_disagree")
    assert says in found["sentence"]
    assert found["readings"] == ["suction_pressure", "suction_saturation_temperature"]
    assert "readings_not_used" not in codes(answer)


# ---------------------------------------------------------------- impossible humidity


def air(dry: float, wet: float, altitude: float = 0.0) -> dict[str, Any]:
    return visit(
        site={"altitude": altitude},
        readings={"return_air_dry_bulb": dry, "return_air_wet_bulb": wet},
    )


@pytest.mark.parametrize("wet", [45.0, 32.05, 10.0])
def test_a_wet_bulb_under_that_of_dry_air_is_refused(client: TestClient, wet: float) -> None:
    """Dry air of 77 °F has a wet bulb of 46.9 °F (PsychroLib, heat balance of ASHRAE Fundamentals)."""
    answer = client.post("/v1/assessments", json=air(77, wet))
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["pointer"] == "/run/readings/return_air_wet_bulb"
    assert error["value"] == wet
    psychrolib.SetUnitSystem(psychrolib.IP)
    lowest = psychrolib.GetTWetBulbFromRelHum(77.0, 0.0, 14.696)
    assert float(error["allowed"].split(" to ")[0]) == pytest.approx(lowest, abs=0.05)
    assert "77 degF" in error["allowed"]
    assert error["hint"]


@given(st.floats(55, 100), st.floats(0, 8000))
def test_the_lowest_wet_bulb_follows_air_pressure(dry: float, altitude: float) -> None:
    """2 °F under that of dry air is refused, 2 °F over it is answered, at any altitude (PsychroLib)."""
    psychrolib.SetUnitSystem(psychrolib.IP)
    pressure = psychrolib.GetStandardAtmPressure(altitude)
    lowest = psychrolib.GetTWetBulbFromRelHum(dry, 0.0, pressure)
    with pytest.raises(RefusedError):
        assess(AssessmentRequest.model_validate(air(dry, lowest - 2.0, altitude)))
    answer = assess(AssessmentRequest.model_validate(air(dry, lowest + 2.0, altitude)))
    humidity = answer["derived"]["return_air_relative_humidity"]
    assert 0.0 <= humidity["band"]["low"] <= humidity["value"] <= humidity["band"]["high"]


def test_a_wet_bulb_within_the_error_of_dry_air_is_noted(assessed: Assess) -> None:
    """46.5 °F at 77 °F, 0.4 °F under what is possible: noted, and no humidity derived."""
    answer = assessed(air(77, 46.5))
    assert "wet_bulb_too_low" in codes(answer)
    assert "return_air_relative_humidity" not in answer["derived"]
    assert "return_air_enthalpy" not in answer["derived"]


def test_humidity_that_follows_is_checked_like_one_that_was_read(assessed: Assess) -> None:
    """Under 5 %, by a hygrometer or by a wet bulb: no house is so dry (common practice, no source)."""
    assert "humidity_very_low" in codes(assessed(air(77, 48)))
    read = visit(readings={"return_air_dry_bulb": 77, "return_air_relative_humidity": 2.5})
    assert "humidity_very_low" in codes(assessed(read))
    assert not codes(assessed(air(77, 54))) & MISTAKES


def test_a_value_lies_within_its_band(assessed: Assess) -> None:
    """Three equal lines: the largest deviation is zero, its least, and no error makes it smaller."""
    lines = {"l1_l2": 460, "l2_l3": 460, "l3_l1": 460}
    row = assessed(visit(readings={"line_voltages": lines}))["derived"]["voltage_imbalance"]
    assert row["value"] == row["band"]["low"] == 0.0
    assert row["band"]["high"] > 0.0
