"""Two published ways to diagnose, on examples worked by hand."""

from __future__ import annotations

from math import exp

import pytest

from tests.benchmarks.published_cases import (
    FEATURES,
    ORIFICE,
    TARGET_SUPERHEAT,
    TARGET_TEMPERATURE_SPLIT,
    VALVE,
    cases,
)
from tests.benchmarks.published_rules import (
    OWN_DEVIATIONS,
    chart,
    classifier_answer,
    features_of,
    field_protocol,
    log_mass,
    normal_probability,
    protocol_answer,
    statistical_rules,
    target_superheat,
    target_temperature_split,
    usual_state,
)


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8 + 273.15


def test_targets_are_the_cells_of_the_tables() -> None:
    """95 °F outdoors, 80/67 °F indoors: 12.0 and 18.3 °F; 95/62 °F and 80/55 °F are dashes (from memory)."""
    assert target_superheat(kelvin(95), kelvin(67)) == pytest.approx(12.0 / 1.8)
    assert target_superheat(kelvin(95.3), kelvin(66.8)) == pytest.approx(TARGET_SUPERHEAT)
    assert target_superheat(kelvin(95), kelvin(62)) is None
    assert target_temperature_split(kelvin(80), kelvin(67)) == pytest.approx(18.3 / 1.8)
    assert target_temperature_split(kelvin(80), kelvin(67)) == TARGET_TEMPERATURE_SPLIT
    assert target_temperature_split(kelvin(80), kelvin(55)) is None


@pytest.mark.parametrize(
    ("device", "split", "superheat", "subcooling", "expected"),
    [
        # Orifice: target superheat 12.0 °F, tolerance 5; target split 18.3 °F, tolerance 3.
        (ORIFICE, 18.0, 12.0, 9.0, "no_fault"),
        (ORIFICE, 18.0, 16.9, 0.0, "no_fault"),
        (ORIFICE, 18.0, 17.1, 9.0, "low_charge"),
        (ORIFICE, 18.0, 6.9, 9.0, "overcharge"),
        (ORIFICE, 21.4, 17.1, 9.0, "evaporator_airflow"),
        (ORIFICE, 21.2, 12.0, 9.0, "no_fault"),
        (ORIFICE, 15.2, 12.0, 9.0, "no_diagnosis"),
        (ORIFICE, 15.2, 20.0, 9.0, "low_charge"),
        # Valve: nameplate 10 °F, tolerance 3; superheat 4 to 25 °F.
        (VALVE, 18.0, 12.0, 10.0, "no_fault"),
        (VALVE, 18.0, 12.0, 6.9, "low_charge"),
        (VALVE, 18.0, 12.0, 13.1, "overcharge"),
        (VALVE, 18.0, 26.0, 10.0, "no_diagnosis"),
        (VALVE, 18.0, 3.0, 10.0, "no_diagnosis"),
        (VALVE, 18.0, 26.0, 2.0, "low_charge"),
    ],
)
def test_field_protocol(device: str, split: float, superheat: float, subcooling: float, expected: str) -> None:
    """Tolerances of RA3 (2008), at 95 °F outdoors, 80/67 °F indoors; differences in °F."""
    answer = field_protocol(
        device,
        outdoor=kelvin(95),
        return_dry_bulb=kelvin(80),
        return_wet_bulb=kelvin(67),
        supply_dry_bulb=kelvin(80 - split),
        superheat=superheat / 1.8,
        subcooling=subcooling / 1.8,
        target_subcooling=10.0 / 1.8,
    )
    assert answer == expected


@pytest.mark.parametrize(
    ("outdoor", "wet_bulb"),
    [(None, kelvin(67)), (kelvin(95), None), (kelvin(50), kelvin(67)), (kelvin(95), kelvin(62))],
)
def test_field_protocol_needs_its_conditions(outdoor: float | None, wet_bulb: float | None) -> None:
    """No wet bulb, no outdoor air, under 55 °F, or a dash in the table: nothing can be said."""
    answer = field_protocol(
        ORIFICE,
        outdoor=outdoor,
        return_dry_bulb=kelvin(80),
        return_wet_bulb=wet_bulb,
        supply_dry_bulb=kelvin(60),
        superheat=6.0,
        subcooling=5.0,
        target_subcooling=None,
    )
    assert answer == "no_response"


def test_the_chart_of_an_orifice() -> None:
    """Row by row as published: Te, SH, Tc, SC, discharge, condenser air, evaporator air."""
    published = {
        "low_charge": "-+--+--",
        "compressor_leakage": "+------",
        "liquid_line_restriction": "-+-++--",
        "condenser_heat_transfer": "+-+-++-",
        "evaporator_airflow": "------+",
    }
    found = {
        fault: "".join("+" if signs[name] > 0 else "-" for name in FEATURES) for fault, signs in chart(ORIFICE).items()
    }
    assert found == published


def test_the_chart_of_a_valve() -> None:
    """A compressor leak: +1.0, 0, -0.95, -0.3, +1.2, -0.5, -0.45 K; a dirty condenser, 0.1 K as none."""
    leak = [chart(VALVE)["compressor_leakage"][name] for name in FEATURES]
    assert leak == [1, 0, -1, -1, 1, -1, -1]
    condenser = [chart(VALVE)["condenser_heat_transfer"][name] for name in FEATURES]
    assert condenser == [0, 0, 1, 0, 1, 1, 0]


def test_mass_of_a_quadrant() -> None:
    """Phi(1) = 0.8413, Phi(2) = 0.9772 (normal tables); a feature without a sign brings a half."""
    assert normal_probability(1.0) == pytest.approx(0.8413, abs=5e-5)
    mass = exp(
        log_mass(
            {"evaporating": 1.0, "condensing": -2.0, "superheat": 5.0},
            {"evaporating": 1, "condensing": -1, "superheat": 0},
        )
    )
    assert mass == pytest.approx(0.8413 * 0.9772 * 0.5, abs=1e-4)


UNIT = dict.fromkeys(FEATURES, 1.0)
NOTHING = dict.fromkeys(FEATURES, 0.0)


def test_detection_at_the_chi_square_limit() -> None:
    """Seven degrees of freedom, 99 %: 18.475 (chi-square tables), so 4.29 deviations in one feature pass."""
    assert statistical_rules(ORIFICE, {**NOTHING, "evaporating": 4.29}, NOTHING, UNIT) == "no_fault"
    assert statistical_rules(ORIFICE, {**NOTHING, "evaporating": 4.31}, NOTHING, UNIT) != "no_fault"


@pytest.mark.parametrize("fault", list(chart(ORIFICE)))
def test_a_residual_along_the_signs_is_that_fault(fault: str) -> None:
    """Three deviations in each feature: mass 0.9987^7 there, at most 0.0013 in any other quadrant."""
    along = {name: 3.0 * sign for name, sign in chart(ORIFICE)[fault].items()}
    assert statistical_rules(ORIFICE, along, NOTHING, UNIT) == fault


def test_between_two_quadrants_there_is_no_diagnosis() -> None:
    """Charge loss and a restriction differ in subcooling alone: zero there is even odds."""
    along = {name: 3.0 * sign for name, sign in chart(ORIFICE)["low_charge"].items()}
    assert statistical_rules(ORIFICE, {**along, "subcooling": 0.0}, NOTHING, UNIT) == "no_diagnosis"
    # Odds of 2 to 1 are at Phi(z) = 2/3, z = 0.431.
    assert statistical_rules(ORIFICE, {**along, "subcooling": -0.44}, NOTHING, UNIT) == "low_charge"
    assert statistical_rules(ORIFICE, {**along, "subcooling": -0.42}, NOTHING, UNIT) == "no_diagnosis"


def test_missing_features_are_left_out() -> None:
    """One feature left: one degree of freedom, 6.635 (chi-square tables)."""
    assert statistical_rules(ORIFICE, {"superheat": 2.57}, NOTHING, UNIT) == "no_fault"
    assert statistical_rules(ORIFICE, {"superheat": 2.58}, NOTHING, UNIT) == "no_diagnosis"
    assert statistical_rules(ORIFICE, {}, NOTHING, UNIT) == "no_response"


def test_features_of_a_visit() -> None:
    """Differences of readings; without a saturation temperature there is no superheat."""
    found = features_of(
        {
            "suction_saturation_temperature": 280.0,
            "suction_line_temperature": 286.0,
            "liquid_line_temperature": 315.0,
            "return_air_dry_bulb": 300.0,
            "supply_air_dry_bulb": 289.0,
        }
    )
    assert found == {"evaporating": 280.0, "superheat": 6.0, "evaporator_air_drop": 11.0}


def test_the_usual_state_follows_the_conditions() -> None:
    """Condensing 13 K over outdoors; superheat and split at their targets (from memory)."""
    usual = usual_state(
        ORIFICE,
        outdoor=kelvin(95),
        return_dry_bulb=kelvin(80),
        return_wet_bulb=kelvin(67),
        target_subcooling=None,
    )
    assert usual["condensing"] == pytest.approx(kelvin(95) + 13.0)
    assert usual["superheat"] == pytest.approx(12.0 / 1.8)
    assert usual["evaporator_air_drop"] == pytest.approx(18.3 / 1.8)
    assert set(OWN_DEVIATIONS) == set(usual)


def test_fault_free_cases_within_the_tolerances_pass_the_protocol() -> None:
    """They were made to: superheat, subcooling and split within RA3's limits."""
    healthy = [case for case in cases() if case.truth == "no_fault"]
    assert {protocol_answer(case) for case in healthy} == {"no_fault"}


def test_a_strong_fault_is_named_against_the_own_baseline() -> None:
    """The published signs of an orifice at three times the recommended level."""
    strong = [case for case in cases() if case.source.startswith("sign") and "size 3" in case.name]
    assert len(strong) == 10
    assert all(classifier_answer(case, with_baseline=True) == case.truth for case in strong)
