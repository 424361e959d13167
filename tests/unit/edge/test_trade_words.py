"""The table of the trade's words names only what the contract has, and each word once."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from schemas.assessments import AssessmentRequest
from schemas.comparisons import ComparisonRequest
from schemas.plans import PlanRequest
from schemas.trends import TrendRequest
from service.edge.addresses import near_address
from service.edge.near_names import _paths, _phrase, meant_by
from service.reference.trade_words import ADDRESS_WORDS, TRADE_WORDS

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
    """Each word of an address leads to one."""
    for word, name in ADDRESS_WORDS.items():
        assert near_address(f"/{word}") == f"/v1/{name}"


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
    ],
)
def test_nothing_is_guessed(where: tuple[str | int, ...]) -> None:
    """No hint is better than a wrong one."""
    assert meant_by(where, AssessmentRequest) is None


@pytest.mark.parametrize("name", ["charge_psi", "sst_psi", "cfm_f", "start_volts"])
def test_a_unit_that_contradicts_the_word(name: str) -> None:
    """Then the word decides nothing."""
    assert "Did you mean" not in (meant_by((*READINGS, name), AssessmentRequest) or "")
