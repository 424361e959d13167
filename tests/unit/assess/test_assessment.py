"""Judgement on whole visits: usability, findings, cautions, what is missing."""

from __future__ import annotations

import json
from typing import Any

import pytest

from schemas.assessments import AssessmentRequest
from schemas.examples import examples
from schemas.readings import READINGS
from service.assess.pipeline import assess
from tests.conftest import Assess, visit

VALVE = {"refrigerant": "R-410A", "metering_device": "thermostatic_expansion_valve"}
KIT = {
    "gauges": {"type": "pressure_transducer", "accuracy": {"percent_of_reading": 1.0}},
    "clamps": {"type": "thermistor_pipe_clamp"},
    "air": {"type": "psychrometer"},
}
HEALTHY: dict[str, Any] = {
    "suction_pressure": 124,
    "liquid_pressure": 352,
    "suction_line_temperature": 55.5,
    "liquid_line_temperature": 97.0,
    "outdoor_air_dry_bulb": 89.0,
    "return_air_dry_bulb": 76.2,
    "return_air_wet_bulb": 63.5,
    "supply_air_dry_bulb": 57.0,
}


def healthy(**changes: Any) -> dict[str, Any]:  # noqa: ANN401
    """A healthy expansion-valve visit (invented), with readings changed, None to leave one out."""
    readings = {k: v for k, v in {**HEALTHY, **changes}.items() if v is not None}
    return visit(unit={**VALVE, "nameplate": {"subcooling": 9}}, kit=dict(KIT), readings=readings)


def codes(answer: dict[str, Any]) -> set[str]:
    return {notice["code"] for notice in answer["usability"]["notices"]}


def finding(answer: dict[str, Any], limit: str) -> dict[str, Any]:
    for row in answer["findings"]:
        if row["limit"] is not None and row["limit"]["id"] == limit:
            return dict(row)
    raise AssertionError(f"no finding on {limit}")


# ---------------------------------------------------------------- published verdicts


def test_a_boundary_case_of_the_published_procedure(assessed: Assess) -> None:
    """R-22, outdoor 95, return wet bulb 67, suction 68.5 psig, line 58.0 °F, fixed orifice.

    Dew 39.96 °F (direct CoolProp call), target 12.0 °F (RA3 table, value from memory): 6.04 °F over
    target, outside the installer's ±5 °F (RA3-2008, p. RA3-14). Ordinary gauges (±3.5 psi) and a
    ±1.3 °F thermometer cannot decide by so little, and the finding must not claim they do.
    """
    answer = assessed(
        visit(
            unit={"refrigerant": "R-22", "metering_device": "fixed_orifice"},
            kit={
                "gauges": {"type": "analog_gauge"},
                "probe": {"type": "digital_thermometer"},
                "air": {"type": "psychrometer"},
            },
            readings={
                "suction_pressure": 68.5,
                "suction_line_temperature": 58.0,
                "outdoor_air_dry_bulb": {"value": 95, "instrument": "air"},
                "return_air_dry_bulb": {"value": 80, "instrument": "air"},
                "return_air_wet_bulb": 67,
            },
        )
    )
    derived = answer["derived"]
    assert derived["suction_saturation_temperature"]["value"] == pytest.approx(39.96, abs=0.01)
    assert derived["superheat"]["value"] == pytest.approx(18.04, abs=0.01)
    assert derived["target_superheat"]["value"] == pytest.approx(12.0, abs=0.1)
    row = finding(answer, "superheat_target_fixed")
    assert row["grade"] == "inconclusive"
    assert 0.05 < row["probability_conforming"] < 0.5
    assert "cannot" in row["sentence"] or "by less than these instruments can decide" in row["sentence"]


def test_a_capacitor_that_passes_by_less_than_the_meter_can_decide(assessed: Assess) -> None:
    """5.00 A, 348.2 V, 60 Hz: 38.1 µF; 40 µF ±6 % spans 37.6 to 42.4 (common practice, no source)."""
    answer = assessed(
        visit(
            unit={
                "nameplate": {
                    "frequency": 60,
                    "capacitors": {"compressor": {"microfarads": 40, "tolerance_percent": 6}},
                }
            },
            kit={
                "meter": {
                    "type": "clamp_meter",
                    "accuracy": {"percent_of_reading": 2, "resolution": 0.01},
                }
            },
            readings={
                "compressor_start_winding_current": 5.00,
                "capacitor_voltage": {"compressor": 348.2},
            },
        )
    )
    row = finding(answer, "compressor_run_capacitor_marking")
    assert row["limit"]["lower"] == pytest.approx(37.6)
    assert row["limit"]["upper"] == pytest.approx(42.4)
    assert answer["derived"]["compressor_run_capacitance"]["value"] == pytest.approx(38.1, abs=0.05)
    assert row["grade"] == "inconclusive"
    assert 0.5 < row["probability_conforming"] < 0.95
    assert "within the range 37.60 to 42.40 µF, by less than these instruments can decide" in (row["sentence"])


# ---------------------------------------------------------------- structure of errors


def test_one_probe_moved_knows_a_difference_better_than_two_probes(assessed: Assess) -> None:
    """Shared calibration cancels in a split; two probes do not share it: ±0.5 K each, evenly spread, in °F."""

    def spread(**kit: Any) -> float:  # noqa: ANN401
        instruments = {"return_air_dry_bulb": "one", "supply_air_dry_bulb": kit.pop("second")}
        readings = {
            k: {"value": v, "instrument": instruments[k]}
            for k, v in (("return_air_dry_bulb", 76), ("supply_air_dry_bulb", 57))
        }
        answer = assessed(visit(kit=kit["kit"], readings=readings))
        return float(answer["derived"]["temperature_split"]["standard_uncertainty"])

    one = {"one": {"type": "psychrometer"}}
    two = {**one, "two": {"type": "psychrometer"}}
    apart = {"one": {"type": "psychrometer", "shares_calibration": False}}
    together, alone = spread(kit=one, second="one"), spread(kit=two, second="two")
    assert alone**2 - together**2 == pytest.approx(2.0 * 0.9**2 / 3.0, rel=0.02)
    assert spread(kit=apart, second="one") == pytest.approx(spread(kit=two, second="two"), rel=0.01)


def test_current_and_voltage_of_one_meter_do_not_cancel(assessed: Assess) -> None:
    """They are separate circuits: a ratio of the two is no better known for being one meter."""
    kit = {"meter": {"type": "clamp_meter"}}
    body = visit(
        unit={"nameplate": {"frequency": 60}},
        kit=kit,
        readings={
            "compressor_start_winding_current": 20.0,
            "capacitor_voltage": {"compressor": 370.0},
        },
    )
    row = assessed(body)["derived"]["compressor_run_capacitance"]
    relative = row["standard_uncertainty"] / row["value"]
    # ±(2 % + 5 counts of 0.01 A) and ±(1 % + 3 counts of 0.1 V): rectangular, in quadrature.
    assert relative == pytest.approx(((0.0225**2 + 0.0108**2) / 3) ** 0.5, rel=0.03)


@pytest.mark.parametrize(
    ("coverage", "divisor"),
    [("limits", 3**0.5), ("two_standard_deviations", 2.0), ("one_standard_deviation", 1.0)],
)
def test_coverage_statements(assessed: Assess, coverage: str, divisor: float) -> None:
    """±2 A as limits, as two standard deviations, as one (JCGM 100, 4.3)."""
    kit = {
        "meter": {
            "type": "clamp_meter",
            "accuracy": {"fixed": 2, "coverage": coverage, "resolution": 1e-6},
            "repeatability": 0,
        }
    }
    answer = assessed(visit(kit=kit, readings={"compressor_common_current": 50}))
    row = answer["derived"]["compressor_current"]
    assert row["standard_uncertainty"] == pytest.approx(2 / divisor, rel=1e-3)
    factor = 1.6454 if coverage == "limits" else 1.96
    assert row["band"]["high"] - 50 == pytest.approx(factor * 2 / divisor, rel=0.01)


def test_shares_name_the_instrument_that_brings_the_doubt(assessed: Assess) -> None:
    """With a perfect gauge, superheat's variance comes from the clamp, its place and the property model."""
    kit = {
        "gauges": {"type": "pressure_transducer", "accuracy": {"fixed": 1e-6}, "repeatability": 0},
        "clamps": {"type": "thermistor_pipe_clamp"},
    }
    body = healthy()
    body["kit"] = kit
    shares = assessed(body)["derived"]["superheat"]["variance_shares"]
    assert next(iter(shares)) == "clamps"
    of_the_line = shares["clamps"] + shares["placement: suction line clamp"]
    assert of_the_line + shares["refrigerant: property model"] > 0.99


# ---------------------------------------------------------------- usability


def test_a_healthy_visit_is_usable_and_conforms(assessed: Assess) -> None:
    """No reservation but the altitude's note; charge findings conform."""
    answer = assessed(healthy())
    assert answer["usability"]["grade"] == "usable"
    for limit in ("superheat_valve", "subcooling_nameplate", "temperature_split_target"):
        assert finding(answer, limit)["grade"] == "conforming"


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"outdoor_air_dry_bulb": 50, "liquid_pressure": 230}, "outdoor_air_too_cold"),
        ({"return_air_dry_bulb": 66, "return_air_wet_bulb": 58}, "return_air_too_cold"),
        ({"suction_line_temperature": 36}, "suction_line_under_saturation"),
        ({"liquid_line_temperature": 118}, "liquid_line_over_saturation"),
        ({"liquid_line_temperature": 80}, "liquid_line_under_outdoor_air"),
        ({"supply_air_dry_bulb": 90}, "supply_over_return"),
        ({"discharge_line_temperature": 90}, "discharge_under_condensing"),
        ({"suction_line_temperature": 97, "liquid_line_temperature": 55.5}, "line_clamps_swapped_suspected"),
        ({"suction_pressure": 200, "liquid_pressure": 185}, "no_pressure_lift"),
        ({"suction_saturation_temperature": 35}, "pressure_and_saturation_disagree"),
        ({"return_air_relative_humidity": 50}, "humidity_given_twice"),
        ({"return_air_wet_bulb": 76.9}, "wet_bulb_over_dry_bulb"),
        ({}, "sea_level_assumed"),
    ],
)
def test_improbable_readings_are_flagged(assessed: Assess, changes: dict[str, Any], code: str) -> None:
    """And only there: the healthy visit raises none but the note on altitude."""
    assert code in codes(assessed(healthy(**changes)))
    assert codes(assessed(healthy())) == {"sea_level_assumed"}


def test_wrong_refrigerant_is_suspected_and_named(assessed: Assess) -> None:
    """R-410A pressures under an R-22 nameplate."""
    body = healthy()
    body["unit"]["refrigerant"] = "R-22"
    answer = assessed(body)
    row = next(n for n in answer["usability"]["notices"] if n["code"] == "wrong_refrigerant_suspected")
    assert "R-410A" in row["sentence"]
    assert answer["usability"]["grade"] == "not_usable"
    assert not [f for f in answer["findings"] if f["quantity"] == "superheat" and f["grade"] != "not_assessed"]


def test_too_short_a_run_stops_charge_and_airflow_but_not_electrical(assessed: Assess) -> None:
    """Limits apply where they mean something (RA3-2008: 15 minutes)."""
    body = healthy(line_voltage=230)
    body["unit"]["nameplate"]["voltage"] = 230
    body["run"]["minutes_running"] = 2
    answer = assessed(body)
    assert finding(answer, "subcooling_nameplate")["grade"] == "not_assessed"
    assert finding(answer, "temperature_split_target")["grade"] == "not_assessed"
    assert finding(answer, "supply_voltage_motor")["grade"] == "conforming"
    assert "had run 2 minutes" in finding(answer, "subcooling_nameplate")["sentence"]
    del body["run"]["minutes_running"]
    assert "steady_state_not_shown" in codes(assessed(body))


def test_a_run_of_some_minutes_is_graded_with_what_its_procedure_asks_for(assessed: Assess) -> None:
    """RA3-2008 asks for 15 minutes: before that its limits are graded with that said, and are no reason to act."""
    body = healthy(line_voltage=230, liquid_line_temperature=105)
    body["unit"]["nameplate"]["voltage"] = 230
    body["run"]["minutes_running"] = 12
    answer = assessed(body)
    early = finding(answer, "subcooling_nameplate")
    assert early["grade"] == "nonconforming"
    assert "15 minutes" in early["condition_not_met"]
    assert early["condition_not_met"] in early["sentence"]
    assert early["priority"] == "look_closer"
    # No procedure asks so of a voltage, nor of common practice.
    assert finding(answer, "supply_voltage_motor")["condition_not_met"] is None
    assert finding(answer, "condensing_over_ambient_usual")["condition_not_met"] is None
    body["run"]["minutes_running"] = 15
    settled = finding(assessed(body), "subcooling_nameplate")
    assert (settled["condition_not_met"], settled["priority"]) == (None, "act")


def test_a_gauge_that_was_not_zeroed(assessed: Assess) -> None:
    """4 psi shown open to the air is beyond any accuracy of the transducer."""
    body = healthy()
    for shown, flagged in ((4.0, True), (0.5, False)):
        body["kit"] = {"gauges": {"type": "pressure_transducer", "open_to_air_reading": shown}}
        assert ("gauge_not_zeroed" in codes(assessed(body))) is flagged


def test_a_dial_scale_at_altitude(assessed: Assess) -> None:
    """A temperature read off a dial at 5,000 ft is flagged; at sea level it is not."""
    readings = {"suction_saturation_temperature": 40, "suction_line_temperature": 52}
    for feet, flagged in ((5000, True), (200, False)):
        answer = assessed(visit(unit=VALVE, site={"altitude": feet}, readings=readings))
        assert ("dial_scale_at_altitude" in codes(answer)) is flagged
        assert answer["derived"]["superheat"]["value"] == pytest.approx(12.0)


def test_no_target_outside_the_table(assessed: Assess) -> None:
    """RA3 table, 95 °F outdoors and 63 °F wet bulb: a dash (value from memory)."""
    body = healthy(outdoor_air_dry_bulb=95, return_air_wet_bulb=63)
    body["unit"]["metering_device"] = "fixed_orifice"
    answer = assessed(body)
    assert "no_superheat_target" in codes(answer)
    assert "target_superheat" not in answer["derived"]
    assert any(row["quantity"] == "target_superheat" and not row["unlock"] for row in answer["missing"])


def test_targets_are_for_cooling(assessed: Assess) -> None:
    """In heating nothing is graded against cooling targets."""
    body = healthy()
    body["unit"]["mode"] = "heating"
    answer = assessed(body)
    graded = {f["quantity"] for f in answer["findings"]}
    assert not graded & {"superheat", "subcooling_deviation", "temperature_split_deviation"}
    assert "superheat" in answer["derived"]


# ---------------------------------------------------------------- what reviewers caught


@pytest.mark.parametrize(
    ("readings", "code"),
    [
        ({"outdoor_air_dry_bulb": 55.0}, "outdoor_air_too_cold"),
        ({"return_air_dry_bulb": 70.0}, "return_air_too_cold"),
        ({"outdoor_air_dry_bulb": 115.0}, "outdoor_air_very_hot"),
    ],
)
def test_a_reading_at_the_edge_is_inside(assessed: Assess, readings: dict[str, float], code: str) -> None:
    """55 °F or above means 55 °F too (RA3-2008, p. RA3-9); no dust of conversion decides."""
    name, value = next(iter(readings.items()))
    assert code not in codes(assessed(visit(readings=readings)))
    metric = visit("metric", readings={name: round((value - 32) / 1.8, 2)})
    assert code not in codes(assessed(metric))


@pytest.mark.parametrize(
    ("reading", "value", "caution"),
    [("outdoor_air_dry_bulb", 90.0, "heat_stress"), ("discharge_line_temperature", 140.0, "hot_surface")],
)
def test_a_caution_is_raised_at_its_edge(assessed: Assess, reading: str, value: float, caution: str) -> None:
    """At 90 °F and 140 °F, not only above."""
    answer = assessed(visit(readings={reading: value}))
    assert caution in {c["id"] for c in answer["cautions"]}


def test_a_hot_discharge_is_reported_whatever_the_gauges_say(assessed: Assess) -> None:
    """A thermometer reading owes nothing to a gauge that was not zeroed."""
    body = healthy(discharge_line_temperature=260)
    body["kit"]["gauges"] = {"type": "pressure_transducer", "open_to_air_reading": 9}
    answer = assessed(body)
    assert "gauge_not_zeroed" in codes(answer)
    row = finding(answer, "discharge_temperature_highest")
    assert (row["grade"], row["priority"]) == ("nonconforming", "safety")
    assert answer["findings"][0] == row


def test_phases_follow_the_readings(assessed: Assess) -> None:
    """Three lines are three phases: √3 in the apparent power, imbalance graded, the worst line
    against the nameplate (circuit theory; NEMA MG 1 definition from memory)."""
    answer = assessed(
        visit(
            unit={"nameplate": {"compressor_rated_load_amps": 10}},
            readings={
                "line_voltages": {"l1_l2": 460, "l2_l3": 460, "l3_l1": 460},
                "compressor_line_currents": {"l1": 8.8, "l2": 11.6, "l3": 8.9},
            },
        )
    )
    power = answer["derived"]["compressor_apparent_power"]["value"]
    assert power == pytest.approx(3**0.5 * 460 * (8.8 + 11.6 + 8.9) / 3, rel=1e-6)
    assert answer["derived"]["compressor_current_share"]["value"] == pytest.approx(116.0)
    assert finding(answer, "compressor_current_rating")["grade"] == "nonconforming"
    assert finding(answer, "current_imbalance_usual")["grade"] == "nonconforming"


THREE_PHASE = {"compressor_rated_load_amps": 20, "phases": 3}


def three_lines(group: str, *values: float, **plate: Any) -> dict[str, Any]:  # noqa: ANN401
    """A three-phase unit of which the line voltages or the line currents were read."""
    parts = ("l1_l2", "l2_l3", "l3_l1") if group == "line_voltages" else ("l1", "l2", "l3")
    return visit(
        unit={"nameplate": {**THREE_PHASE, **plate}},
        readings={group: dict(zip(parts, values, strict=True))},
    )


@pytest.mark.parametrize("lines", [(21, 21, 0), (0, 34, 35), (21, 20, 3)])
def test_a_lost_phase_is_switched_off(assessed: Assess, lines: tuple[float, ...]) -> None:
    """Two lines carry all of the current: single-phasing, safety (common practice, no source).

    A three-phase compressor has no run capacitor, so no word of one.
    """
    answer = assessed(three_lines("compressor_line_currents", *lines))
    row = answer["findings"][0]
    assert row["limit"]["id"] == "current_imbalance_lost_phase"
    assert (row["grade"], row["priority"]) == ("nonconforming", "safety")
    assert "Switch off now" in row["sentence"]
    assert not any("capacitor" in one["sentence"] for one in answer["findings"])


def test_lines_of_a_motor_at_rest_have_no_imbalance(assessed: Assess) -> None:
    """A clamp meter's last digits on three dead wires are noise, not a lost phase."""
    answer = assessed(three_lines("compressor_line_currents", 0.02, 0.0, 0.01))
    assert "current_imbalance" not in answer["derived"]
    assert not [row for row in answer["findings"] if row["priority"] == "safety"]


@pytest.mark.parametrize(
    ("lines", "percent", "priority"),
    [
        ((462, 463, 455), 1.09, "look_closer"),
        ((460, 464, 450), 1.75, "look_closer"),
        ((470, 450, 464), 2.46, "act"),
        ((480, 440, 470), 5.04, "act"),
        ((480, 420, 470), 8.03, "safety"),
        ((480, 240, 240), 50.0, "safety"),
        ((480, 20, 470), 93.81, "safety"),
        ((460, 460, 460), 0.0, "none"),
    ],
)
def test_voltage_imbalance_is_watched_then_put_right_then_stopped(
    assessed: Assess, lines: tuple[float, ...], percent: float, priority: str
) -> None:
    """1 to 2 % watch, over 2 % act (common practice), over 5 % stop (NEMA MG 1, from memory).

    At 5.04 % the meter cannot show that 5 % is passed.
    """
    answer = assessed(three_lines("line_voltages", *lines, voltage=460))
    rows = [row for row in answer["findings"] if row["quantity"] == "voltage_imbalance"]
    assert answer["derived"]["voltage_imbalance"]["value"] == pytest.approx(percent, abs=0.01)
    assert rows[0]["priority"] == priority


def test_words_on_an_overload_follow_the_number_of_phases(assessed: Assess) -> None:
    """One phase: the capacitor is a suspect. Three: the supply's phases are (common practice)."""
    one = visit(
        unit={"nameplate": {"compressor_rated_load_amps": 20}},
        readings={"compressor_common_current": 25},
    )
    sentence = finding(assessed(one), "compressor_current_rating")["sentence"]
    assert "weak capacitor" in sentence
    three = three_lines("compressor_line_currents", 25, 25, 25)
    sentence = finding(assessed(three), "compressor_current_rating")["sentence"]
    assert "a lost phase" in sentence
    assert "capacitor" not in sentence


@pytest.mark.parametrize(
    ("plate", "volts", "presumed", "lowest", "worst"),
    [
        ({}, 203, "reservation", 197, "none"),
        ({}, 216, "reservation", 197, "none"),
        ({"nominal_supply_voltage": 208}, 208, "note", 197, "none"),
        ({"nominal_supply_voltage": 208}, 190, "note", 197, "safety"),
        ({"nominal_supply_voltage": 240}, 203, "reservation", 197, "act"),
        ({"lowest_voltage": 207}, 203, None, 207, "safety"),
        ({"frequency": 50}, 203, None, 207, "safety"),
        ({}, 238, None, 207, "none"),
        ({}, 180, None, 207, "safety"),
    ],
)
def test_a_plate_of_230_volts_on_a_supply_of_208(
    assessed: Assess,
    plate: dict[str, Any],
    volts: float,
    presumed: str | None,
    lowest: float,
    worst: str,
) -> None:
    """208/230 V units are marked 197 to 253 V (value from memory); 230 V alone is ±10 % (NEMA MG 1).

    A nominal supply of 240 V still says that 203 V is under its ordinary range (ANSI C84.1, from memory).
    Units for 50 Hz have no such plate.
    """
    answer = assessed(visit(unit={"nameplate": {"voltage": 230, **plate}}, readings={"line_voltage": volts}))
    found = {n["code"]: n["weight"] for n in answer["usability"]["notices"]}
    assert found.get("dual_voltage_plate_presumed") == presumed
    row = finding(answer, "supply_voltage_motor")
    assert (row["limit"]["lower"], row["limit"]["upper"]) == (lowest, pytest.approx(253))
    about = [r for r in answer["findings"] if r["quantity"].startswith("supply_voltage")]
    assert about[0]["priority"] == worst


def test_a_gain_error_adds_across_zero(assessed: Assess) -> None:
    """Total external static from -0.3 and +0.3 in. w.c. with a 10 % manometer: the gain errors add.

    In closed form u = 10 % of 0.6 over the root of three, as one sensor made both.
    """
    kit = {"m": {"type": "manometer", "accuracy": {"percent_of_reading": 10, "resolution": 1e-6}, "repeatability": 0}}
    readings = {"return_static_pressure": -0.3, "supply_static_pressure": 0.3}
    row = assessed(visit(kit=kit, readings=readings))["derived"]["total_external_static_pressure"]
    placement = 3.0 / 249.0889 * 2**0.5
    assert row["standard_uncertainty"] == pytest.approx(((0.06**2 + placement**2) / 3) ** 0.5, rel=0.01)


def test_starvation_is_not_called_a_wrong_refrigerant(assessed: Assess) -> None:
    """Low suction and high superheat from one cause: the charge findings must stand."""
    answer = assessed(
        healthy(suction_pressure=62, suction_line_temperature=70, liquid_pressure=310, liquid_line_temperature=96)
    )
    assert "wrong_refrigerant_suspected" not in codes(answer)
    assert finding(answer, "superheat_valve")["grade"] == "nonconforming"


def test_floodback_is_graded_whatever_the_device(assessed: Assess) -> None:
    """Superheat of half a degree on an orifice with no tabulated target (common practice)."""
    body = healthy(suction_line_temperature=42.8, return_air_wet_bulb=57)
    body["unit"]["metering_device"] = "fixed_orifice"
    row = finding(assessed(body), "superheat_floodback")
    assert row["grade"] == "nonconforming"
    assert row["priority"] == "act"


@pytest.mark.parametrize(
    ("units", "readings", "code", "says"),
    [
        ("metric", {"suction_pressure": 9.2, "suction_line_temperature": 14}, "not_credible", "in bar"),
        (
            "metric",
            {
                "suction_pressure": 124,
                "suction_line_temperature": 13,
                "liquid_pressure": 350,
                "liquid_line_temperature": 36,
            },
            "not_credible",
            "in psi",
        ),
        (
            "imperial",
            {
                "suction_pressure": 124,
                "suction_line_temperature": 13,
                "liquid_pressure": 350,
                "liquid_line_temperature": 36,
            },
            "temperatures_in_another_unit",
            "in °C",
        ),
    ],
)
def test_slips_of_unit_are_named_and_nothing_is_diagnosed(
    assessed: Assess, units: str, readings: dict[str, float], code: str, says: str
) -> None:
    """Bar for kPa, psi for kPa, °C for °F."""
    unit = {**VALVE, "nameplate": {"subcooling": 5}}
    answer = assessed(visit(units, unit=unit, readings=readings))
    notice = next(n for n in answer["usability"]["notices"] if n["code"] == code)
    assert says in notice["sentence"]
    assert not [f for f in answer["findings"] if f["priority"] in ("act", "safety")]


@pytest.mark.parametrize(
    ("mode", "readings"),
    [
        (
            "cooling",
            {
                "suction_pressure": 218,
                "liquid_pressure": 255,
                "suction_line_temperature": 78,
                "liquid_line_temperature": 84,
                "outdoor_air_dry_bulb": 80,
            },
        ),
        (
            "cooling",
            {
                "suction_pressure": 245,
                "liquid_pressure": 246,
                "suction_line_temperature": 80,
                "liquid_line_temperature": 80,
                "outdoor_air_dry_bulb": 80,
            },
        ),
        ("heating", {"suction_pressure": 155, "liquid_pressure": 170, "outdoor_air_dry_bulb": 47}),
    ],
)
def test_a_compressor_that_does_not_pump_is_no_low_charge(
    assessed: Assess, mode: str, readings: dict[str, float]
) -> None:
    """Nobody may be told to add refrigerant to it."""
    unit = {**VALVE, "mode": mode, "nameplate": {"subcooling": 9}}
    answer = assessed(visit(unit=unit, readings=readings))
    assert "not_pumping_suspected" in codes(answer)
    assert answer["usability"]["grade"] == "not_usable"
    assert not [f for f in answer["findings"] if f["priority"] in ("act", "safety")]


def test_a_mild_day_is_no_failure_to_pump(assessed: Assess) -> None:
    """62 °F outdoors: a small ratio, but the air is cooled (an invented healthy visit)."""
    answer = assessed(
        healthy(
            outdoor_air_dry_bulb=62,
            suction_pressure=128,
            liquid_pressure=215,
            liquid_line_temperature=65,
            suction_line_temperature=55,
        )
    )
    assert not codes(answer) & {
        "not_pumping_suspected",
        "not_credible",
        "wrong_refrigerant_suspected",
    }


def test_an_open_capacitor_on_a_stalled_compressor(assessed: Assess) -> None:
    """No current at line voltage is graded, the fan's capacitor too, and the stall is a safety
    matter (locked-rotor current of four to seven times the rating; value from memory)."""
    part = {"microfarads": 45, "tolerance_percent": 6}
    fan = {"microfarads": 5, "tolerance_percent": 6}
    answer = assessed(
        visit(
            unit={
                "nameplate": {
                    "frequency": 60,
                    "compressor_rated_load_amps": 17.9,
                    "capacitors": {"compressor": part, "outdoor_fan": fan},
                }
            },
            readings={
                "compressor_common_current": 60,
                "line_voltage": 235,
                "compressor_start_winding_current": 0.0,
                "outdoor_fan_capacitor_current": 0.71,
                "capacitor_voltage": {"compressor": 238, "outdoor_fan": 378},
            },
        )
    )
    assert finding(answer, "compressor_run_capacitor_marking")["grade"] == "nonconforming"
    assert finding(answer, "outdoor_fan_run_capacitor_marking")["grade"] != "not_assessed"
    assert answer["findings"][0]["limit"]["id"] == "compressor_current_stalled"
    assert answer["findings"][0]["priority"] == "safety"


def test_on_target_with_instruments_too_coarse_is_no_alarm(assessed: Assess) -> None:
    """Dead on target with a ±14 psi gauge: the instruments are the matter, not the machine."""
    body = healthy(liquid_line_temperature=98.0)
    body["kit"] = {"gauges": {"type": "analog_gauge", "accuracy": {"fixed": 14, "unit": "psi"}}}
    row = finding(assessed(body), "subcooling_nameplate")
    assert (row["grade"], row["priority"]) == ("inconclusive", "better_instrument")
    assert "cannot confirm" in row["sentence"]


def test_one_assumed_meter_reads_all_three_lines(assessed: Assess) -> None:
    """Its gain error cancels in the imbalance: 399/401/402 V (0.42 % by definition)."""
    lines = {"l1_l2": 399, "l2_l3": 401, "l3_l1": 402}
    answer = assessed(visit(readings={"line_voltages": lines}))
    assert finding(answer, "voltage_imbalance_rated")["grade"] == "conforming"
    assert answer["derived"]["voltage_imbalance"]["value"] == pytest.approx(0.416, abs=0.001)


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (visit(readings={"compressor_common_current": 0}), "no_current"),
        (
            visit(readings={"return_static_pressure": 0.35, "supply_static_pressure": 0.4}),
            "return_static_pressure_positive",
        ),
        (
            visit(site={"altitude": 5000, "barometric_pressure": {"value": 29.92, "unit": "inHg"}}),
            "altitude_and_barometer_disagree",
        ),
        (
            visit("metric", readings={"return_air_dry_bulb": 26, "return_air_relative_humidity": 0.52}),
            "reading_not_possible",
        ),
        (visit(), "nothing_derived"),
        (visit(unit=VALVE, readings={"suction_pressure": 124, "suction_line_temperature": 55}), "test_range_not_shown"),
        (visit(readings={"condensate_rate": 6}), "readings_not_used"),
        (visit(unit={"mode": "heating"}), "heating_not_graded"),
        (
            visit(unit={"mode": "heating"}, readings={"supply_air_dry_bulb": 60, "return_air_dry_bulb": 70}),
            "supply_under_return_in_heating",
        ),
        (visit(unit={"ducted": False}), "ductless"),
        (visit(unit={"capacity_control": "variable_speed"}), "variable_speed"),
        (
            visit(
                readings={
                    "line_voltage": 238,
                    "capacitor_voltage": {"compressor": 238},
                    "compressor_start_winding_current": 6,
                }
            ),
            "capacitor_voltage_like_line",
        ),
        (healthy(condenser_leaving_air_dry_bulb=80), "condenser_leaving_air_under_outdoor"),
        (healthy(condenser_leaving_air_dry_bulb=118), "condenser_leaving_air_over_condensing"),
        (healthy(supply_air_dry_bulb=36), "supply_air_under_evaporating"),
        (healthy(discharge_pressure=310), "discharge_pressure_under_liquid"),
        (healthy(metering_device_inlet_temperature=105), "liquid_line_warms_on_its_way"),
        (healthy(return_air_relative_humidity=92), "wet_bulb_and_humidity_disagree"),
        (healthy(supply_air_relative_humidity=100, supply_air_dry_bulb=68), "supply_air_moister"),
    ],
)
def test_more_doubts_are_told(assessed: Assess, body: dict[str, Any], code: str) -> None:
    """Each raises its notice."""
    assert code in codes(assessed(body))


def test_the_split_target_is_not_applied_high_up(assessed: Assess) -> None:
    """In thinner air a healthy split is larger (common practice, no source)."""
    body = healthy()
    body["site"] = {"altitude": 7000}
    body["run"]["readings"]["suction_pressure"] = 127
    answer = assessed(body)
    assert finding(answer, "temperature_split_target")["grade"] == "not_assessed"


def test_supply_is_judged_by_the_nominal_system(assessed: Assess) -> None:
    """A 208/230 V unit on 208 V: 204 V is in order by its nameplate range and by ANSI C84.1
    (187 to 218 V; values from memory), where a 240 V system would be low."""
    plate = {"voltage": 230, "lowest_voltage": 197, "highest_voltage": 253, "frequency": 60}
    for nominal, grade in ((208, "conforming"), (240, "nonconforming")):
        unit = {"nameplate": {**plate, "nominal_supply_voltage": nominal}}
        answer = assessed(visit(unit=unit, readings={"line_voltage": 204}))
        assert finding(answer, "supply_voltage_motor")["grade"] == "conforming"
        assert finding(answer, "supply_voltage_utilization")["grade"] == grade


def test_a_dial_reading_needs_the_refrigerant_and_says_so(assessed: Assess) -> None:
    """The gauge errs in pressure, so its error in temperature depends on the refrigerant."""
    readings = {"suction_saturation_temperature": 44, "suction_line_temperature": 55}
    answer = assessed(visit(readings=readings))
    row = next(m for m in answer["missing"] if m["quantity"] == "superheat")
    assert row["unlock"][0]["add"] == ["unit.refrigerant"]


def test_next_readings_unlock_most_first(assessed: Assess) -> None:
    """One supply humidity brings all that hangs on it; following the advice unlocks it."""
    body = healthy()
    first = assessed(body)["next_readings"]
    advice = next(row for row in first if "run.readings.supply_air_relative_humidity" in row["add"])
    assert {"supply_air_wet_bulb", "supply_air_enthalpy", "air_enthalpy_drop"} <= set(advice["unlocks"])
    body["run"]["readings"]["supply_air_relative_humidity"] = 88
    assert [path for path in advice["add"] if path.startswith("run.")] == ["run.readings.supply_air_relative_humidity"]
    body["unit"]["rated"] = {"cooling_capacity": 36000, "airflow": 1200}
    assert set(advice["unlocks"]) <= set(assessed(body)["derived"])


# ---------------------------------------------------------------- missing


def test_start_winding_current_is_never_the_compressor_s_draw(assessed: Assess) -> None:
    """The answer says so, and says what to measure."""
    answer = assessed(
        visit(
            unit={"nameplate": {"compressor_rated_load_amps": 16, "voltage": 230, "frequency": 60}},
            readings={"compressor_start_winding_current": 5.0, "line_voltage": 236},
        )
    )
    assert "start_winding_current_is_not_the_draw" in codes(answer)
    assert not {
        "compressor_current",
        "compressor_apparent_power",
        "compressor_current_share",
    } & set(answer["derived"])
    row = next(m for m in answer["missing"] if m["quantity"] == "compressor_apparent_power")
    assert "capacitor's current" in row["reason"]
    assert row["unlock"][0]["add"] == ["run.readings.compressor_common_current"]


def test_what_unlocks_a_missing_value_unlocks_it(assessed: Assess) -> None:
    """Follow each first advice, and the value is there; cheapest first means nameplate first."""
    body = visit(unit=VALVE, readings={"suction_pressure": 124})
    before = assessed(body)
    advice = {row["quantity"]: row["unlock"] for row in before["missing"]}
    assert advice["superheat"][0]["add"] == ["run.readings.suction_line_temperature"]
    body["run"]["readings"]["suction_line_temperature"] = 55.5
    after = assessed(body)
    assert "superheat" in after["derived"]
    assert "superheat" not in {row["quantity"] for row in after["missing"]}


@pytest.mark.parametrize("given", [(), ("suction_pressure", "suction_line_temperature")])
def test_no_way_to_a_missing_value_holds_another(assessed: Assess, given: tuple[str, ...]) -> None:
    """What one way asks for is never a part of what another asks for, and the easier comes first."""
    answer = assessed(visit(unit=VALVE, readings={name: HEALTHY[name] for name in given}))
    several = [row for row in answer["missing"] if len(row["unlock"]) > 1]
    assert several
    for row in several:
        ways = [frozenset(way["add"]) for way in row["unlock"]]
        assert not any(one <= other for one in ways for other in ways if one is not other), row
        efforts = [
            sum(READINGS[path.removeprefix("run.readings.")].effort for path in way if path.startswith("run.readings."))
            for way in ways
        ]
        assert efforts == sorted(efforts), row


def test_answers_share_nothing() -> None:
    """Whatever a caller does to one answer, the next to the same visit is as the first was."""
    request = AssessmentRequest.model_validate(examples()["r410a_capacity"])
    first = assess(request)
    text = json.dumps(first)
    spoil(first)
    assert json.dumps(first) != text
    assert json.dumps(assess(request)) == text


def spoil(part: Any) -> None:  # noqa: ANN401
    """Empty every object and list, from within."""
    for value in part.values() if isinstance(part, dict) else part:
        if isinstance(value, dict | list):
            spoil(value)
    part.clear()


def test_an_empty_visit_is_an_answer(assessed: Assess) -> None:
    """Nothing derived, everything missing, the general caution."""
    answer = assessed(visit())
    assert answer["derived"] == {}
    assert len(answer["missing"]) > 15
    assert [c["id"] for c in answer["cautions"]] == ["general"]


# ---------------------------------------------------------------- cautions


@pytest.mark.parametrize(
    ("change", "raised"),
    [
        ({"readings": {"line_voltage": 230}}, {"live_voltage"}),
        ({"readings": {"capacitor_voltage": {"compressor": 350}}}, {"live_voltage", "stored_charge"}),
        ({"unit": {"refrigerant": "R-32"}}, {"flammable_a2l"}),
        ({"unit": {"refrigerant": "R-290"}}, {"flammable_a3"}),
        ({"site": {"outdoor_unit_on_roof": True}}, {"work_at_height"}),
        ({"readings": {"outdoor_air_dry_bulb": 96}}, {"heat_stress"}),
        ({"readings": {"discharge_line_temperature": 190}}, {"hot_surface"}),
        ({"unit": {"mode": "heating"}, "readings": {"vapour_line_temperature": 150}}, {"hot_surface"}),
        ({"unit": {"mode": "heating"}, "readings": {"auxiliary_heat_power": 9600}}, {"live_voltage"}),
        (
            {"readings": {"liquid_pressure": 560}},
            {"high_pressure", "refrigerant_under_pressure", "refrigerant_release"},
        ),
        ({"run": {"work": ["coil_cleaning"]}}, {"coil_cleaner"}),
        ({"run": {"work": ["charge_adjustment"]}}, {"refrigerant_under_pressure", "refrigerant_release"}),
        ({"run": {"work": ["capacitor_replacement"]}}, {"live_voltage", "stored_charge"}),
        ({"run": {"work": ["gas_heat"]}}, {"carbon_monoxide", "burner_heat"}),
        ({"run": {"work": ["brazing"]}}, {"hot_work", "oxygen_never", "displaced_air", "refrigerant_release"}),
        (
            {"run": {"work": ["pressure_testing"]}},
            {"nitrogen_under_pressure", "oxygen_never", "displaced_air", "refrigerant_release"},
        ),
        ({"run": {"work": ["evacuation"]}}, {"motor_in_vacuum", "refrigerant_release"}),
        ({"run": {"work": ["recovery"]}}, {"displaced_air", "refrigerant_release"}),
        ({"readings": {"line_voltage": 482}}, {"live_voltage", "arc_flash"}),
        (
            {"unit": {"nameplate": {"voltage": 460}}, "run": {"work": ["electrical_repair"]}},
            {"live_voltage", "arc_flash"},
        ),
        # Nobody opens an electrical panel for a filter.
        ({"unit": {"nameplate": {"voltage": 460}}, "run": {"work": ["filter_change"]}}, set()),
    ],
)
def test_cautions_follow_the_content(assessed: Assess, change: dict[str, Any], raised: set[str]) -> None:
    """Those and no others, the general one always last."""
    answer = assessed(visit(**change))
    ids = [c["id"] for c in answer["cautions"]]
    assert set(ids) == raised | {"general"}
    assert ids[-1] == "general"
    assert all(c["deferral"] and c["source"] for c in answer["cautions"])


# ---------------------------------------------------------------- units of the answer


def test_the_mirror_slip_of_refrigerant_is_named(assessed: Assess) -> None:
    """R-22 pressures declared as R-410A."""
    answer = assessed(healthy(suction_pressure=70, liquid_pressure=235, suction_line_temperature=52))
    row = next(n for n in answer["usability"]["notices"] if n["code"] == "wrong_refrigerant_suspected")
    assert "R-22" in row["sentence"]


@pytest.mark.parametrize("name", examples())
def test_answers_come_in_the_caller_s_units(assessed: Assess, name: str) -> None:
    """No degF in a metric answer and no degC in an imperial one."""
    answer = assessed(examples()[name])
    units = {row["unit"] for row in answer["derived"].values()}
    units |= {f["limit"]["unit"] for f in answer["findings"] if f["limit"]}
    foreign = {"imperial": {"degC", "delta_degC", "kPa"}, "metric": {"degF", "delta_degF", "psia"}}
    assert not units & foreign[answer["units"]]


def test_a_difference_is_not_a_temperature(assessed: Assess) -> None:
    """Nameplate subcooling of 10 °F is 5.6 K, not -12 °C."""
    body = healthy()
    body["unit"]["nameplate"]["subcooling"] = {"value": 5.0, "unit": "K"}
    assert assessed(body)["derived"]["target_subcooling"]["value"] == pytest.approx(9.0)
