"""The table of the trade's words names only what the contract has, and each word once."""

from __future__ import annotations

import re
from collections import Counter
from typing import get_args

import pytest

from schemas.assessments import AssessmentRequest, InstrumentTypeName
from schemas.checks import CHECKS
from schemas.comparisons import ComparisonRequest
from schemas.plans import PlanRequest
from schemas.trends import TrendRequest
from service.edge.addresses import near_address
from service.edge.near_names import _paths, _phrase, meant_by, near_value
from service.reference.trade_words import ADDRESS_WORDS, CHECK_WORDS, TRADE_WORDS

READINGS = ("run", "readings")


def test_every_field_of_the_table_is_in_the_contract() -> None:
    """Also each name that a note mentions."""
    paths = {".".join(path) for path in _paths(AssessmentRequest)}
    names = {path.rsplit(".", 1)[-1] for path in paths}
    assert len(paths) > 100
    assert {field for row in TRADE_WORDS for field in row.fields} <= paths
    mentioned = {name for row in TRADE_WORDS for name in re.findall(r"[a-z]+(?:_[a-z]+)+", row.note)}
    assert mentioned <= names
    assert {path for row in TRADE_WORDS for path in re.findall(r"unit\.[a-z_.]+[a-z]", row.note)} <= paths


def test_each_word_has_one_meaning() -> None:
    """Two rows with the same word would hide one another."""
    counted = Counter(phrase for row in TRADE_WORDS for phrase in {_phrase(word) for word in row.words})
    assert [phrase for phrase, number in counted.items() if number > 1] == []


def test_no_word_contradicts_a_name_of_the_contract() -> None:
    """Where a word is a name of the contract too, the row has that field (common practice, no source)."""
    # The names of a compressor's map hold inside it only, where they come before the table.
    for path in (path for path in _paths(AssessmentRequest) if "compressor_map" not in path):
        for row in (row for row in TRADE_WORDS if not row.derived):
            if _phrase(path[-1]) in {_phrase(word) for word in row.words}:
                near = [field for field in row.fields if field.endswith("." + path[-1]) or field in ".".join(path)]
                assert near, (path, row.words)


def test_the_addresses_of_the_table_exist() -> None:
    """Each word of an address leads to one; so does each sentence that names one."""
    for word, name in ADDRESS_WORDS.items():
        assert near_address(f"/{word}") == f"/v1/{name}"
    for word, name in CHECK_WORDS.items():
        assert near_address(f"/v1/checks/{word}") == f"/v1/checks/{name}"
    named = [address for row in TRADE_WORDS for address in re.findall(r"/v1/checks/([a-z-]+)", row.instead)]
    assert set(named) <= CHECKS.keys()
    assert len(named) == sum(bool(row.instead) for row in TRADE_WORDS)


TYPES = str(list(get_args(InstrumentTypeName.__value__)))


@pytest.mark.parametrize(
    ("given", "allowed", "meant"),
    [
        ("anemometer", TYPES, None),  # no typing error of manometer
        ("pipe_clamp", TYPES, "thermistor_pipe_clamp or thermocouple_pipe_clamp"),
        ("manifold", TYPES, "pressure_transducer or analog_gauge"),
        ("micron gauge", TYPES, "vacuum_gauge"),
        ("Clampmeter", TYPES, "clamp_meter"),
        ("psycrometer", TYPES, "psychrometer"),
        ("cap_tube", "'fixed_orifice' or 'capillary_tube'", "capillary_tube"),
        ("2-stage", "'single_speed' or 'two_stage'", "two_stage"),
        ("first", "'low' or 'high'", "low"),
        ("PSIG", "'psi', 'psig' or 'psia'", "psig"),
        ("heatpump", "'cooling' or 'heating'", None),
        ("°F", "'degF' or 'degC'", "degF"),
    ],
)
def test_values_by_the_trade_s_words(given: str, allowed: str, meant: str | None) -> None:
    """Common practice, no source; spelling alone decides typing errors only."""
    assert near_value(given, allowed) == meant


@pytest.mark.parametrize(
    ("model", "where", "hint"),
    [
        (AssessmentRequest, (*READINGS, "suctionPressure"), "Did you mean suction_pressure?"),
        (AssessmentRequest, (*READINGS, "Suction-Pressure (psig)"), "Did you mean suction_pressure?"),
        (AssessmentRequest, (*READINGS, "slt_f"), "Did you mean suction_line_temperature?"),
        (AssessmentRequest, (*READINGS, "return_wb_degf"), "Did you mean return_air_wet_bulb?"),
        (AssessmentRequest, (*READINGS, "odt_c"), "Did you mean outdoor_air_dry_bulb?"),
        (AssessmentRequest, ("suction_pressure",), "Did you mean run.readings.suction_pressure?"),
        (AssessmentRequest, ("run", "units"), "units belongs at the top of the body."),
        (AssessmentRequest, ("unit", "rated", "cfm"), "Did you mean airflow?"),
        (AssessmentRequest, ("unit", "nameplate", "rla"), "Did you mean compressor_rated_load_amps?"),
        (AssessmentRequest, ("unit", "subcooling"), "Did you mean unit.nameplate.subcooling?"),
        (AssessmentRequest, ("unit", "performance_table", 0, "oat"), "Did you mean outdoor_air_dry_bulb?"),
        (AssessmentRequest, ("unit", "compressor_map", "suctionTemp"), "Did you mean suction_temperature?"),
        (AssessmentRequest, (*READINGS, "suctionTemp"), "Did you mean suction_line_temperature?"),
        (ComparisonRequest, ("runs", "after", "readings", "low_side"), "Did you mean suction_pressure?"),
        (
            ComparisonRequest,
            ("runs", "after", "sst"),
            "Did you mean runs.after.readings.suction_saturation_temperature?",
        ),
        (TrendRequest, ("runs", 3, "readings", "stage"), "Did you mean runs.3.stage?"),
        (PlanRequest, ("seer",), "Did you mean unit.rated.seer?"),
        (AssessmentRequest, (*READINGS, "port_psi"), "Readings of pressure: suction_pressure, liquid_pressure, "),
        # A unit at the end that says nothing of the quantity, and a plural.
        (AssessmentRequest, (*READINGS, "power_factor_pct"), "Did you mean power_factor?"),
        (AssessmentRequest, ("site", "altitude_ft"), "Did you mean altitude?"),
        (AssessmentRequest, ("unit", "rated_cfm"), "Did you mean unit.rated.airflow?"),
        (AssessmentRequest, (*READINGS, "suction_pressure", "units"), "Did you mean unit?"),
        (AssessmentRequest, ("label",), "Did you mean labels?"),
        # What stands on the plate is not read, and what is derived is not on the plate.
        (AssessmentRequest, ("unit", "rla"), "Did you mean unit.nameplate.compressor_rated_load_amps?"),
        (AssessmentRequest, ("unit", "voltage"), "Did you mean unit.nameplate.voltage?"),
        (AssessmentRequest, ("unit", "nameplate", "compressor_amps"), "Did you mean compressor_rated_load_amps?"),
        (AssessmentRequest, ("unit", "nameplate", "fan_fla"), "Did you mean outdoor_fan_full_load_amps?"),
        (AssessmentRequest, ("unit", "max_esp"), "Did you mean unit.nameplate.maximum_external_static_pressure?"),
        (AssessmentRequest, ("unit", "two_stage"), "Did you mean capacity_control?"),
        (AssessmentRequest, ("unit", "charge"), "A charge in pounds or kilograms belongs to a check: POST /v1/checks/"),
        (AssessmentRequest, (*READINGS, "nitrogen_pressure"), "A test with nitrogen is a check: POST /v1/checks/"),
        (AssessmentRequest, (*READINGS, "microns"), "A vacuum is read in a check: POST /v1/checks/vacuum-rise."),
        (AssessmentRequest, (*READINGS, "EDB"), "Did you mean return_air_dry_bulb?"),
        (AssessmentRequest, (*READINGS, "LWB"), "Did you mean supply_air_wet_bulb?"),
        (AssessmentRequest, (*READINGS, "blower_cfm"), "Did you mean airflow?"),
        (AssessmentRequest, (*READINGS, "external_static_pressure"), "Did you mean total_external_static_pressure?"),
        (AssessmentRequest, (*READINGS, "discharge_superheat"), "Discharge superheat is derived, not read: give disch"),
        (AssessmentRequest, ("tools",), "Did you mean kit?"),
        (AssessmentRequest, ("unit_system",), "Did you mean units?"),
        (AssessmentRequest, ("run", "time"), "Did you mean taken_at or minutes_running?"),
    ],
)
def test_a_hint_depends_on_the_place(model: object, where: tuple[str | int, ...], hint: str) -> None:
    """The same object first, else the path from the top of that body."""
    assert (meant_by(where, model) or "").startswith(hint)


@pytest.mark.parametrize(
    "where",
    [
        (*READINGS, "suction_pressure_2"),  # a second circuit is no typing error
        (*READINGS, "line_voltages", "l4"),
        (*READINGS, "compressor"),
        (*READINGS, "sat"),  # supply air temperature, or saturation
        (*READINGS, "rpm"),
        (*READINGS, "x" * 5000),
        (*READINGS, ""),
        ("unit", "performance_table", 0, "kw"),
        ("unit", "rated", "eer3"),
        ("unit", "nameplate", "superheat"),  # derived: no plate has it, and a target would be another thing
        ("kit", "gauges", "model"),  # the model of the instrument
        ("kit", "gauges", "airflow"),
    ],
)
def test_nothing_is_guessed(where: tuple[str | int, ...]) -> None:
    """No hint is better than a wrong one."""
    assert meant_by(where, AssessmentRequest) is None


@pytest.mark.parametrize("name", ["charge_psi", "sst_psi", "cfm_f", "start_volts"])
def test_a_unit_that_contradicts_the_word(name: str) -> None:
    """Then the word decides nothing."""
    assert "Did you mean" not in (meant_by((*READINGS, name), AssessmentRequest) or "")
