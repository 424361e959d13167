"""A log as given, in JSON or as CSV: what is read, and what is refused at which line and column.

Conversions are definitions (NIST SP 811: 1 psi is 6894.757 Pa; 1 bar is 100 kPa).  RFC 4180 says what CSV is; the
semicolon with a decimal comma is common practice, no source.
"""

from __future__ import annotations

from math import isnan
from typing import Any

import numpy as np
import pytest

from schemas.logs import Log
from service.edge.problems import cannot_be_assessed
from service.intake.log_columns import LogColumns, log_columns
from service.intake.refusals import Refusal, RefusedError

HEAD = "seconds,suction_pressure [psi],line_voltage\n"


def read(system: str = "imperial", **given: Any) -> LogColumns:  # noqa: ANN401
    refusals: list[Refusal] = []
    found = log_columns(Log(**given), system, refusals)
    assert refusals == []
    assert found is not None
    return found


def refused(**given: Any) -> list[dict[str, Any]]:  # noqa: ANN401
    """The errors as the caller reads them."""
    refusals: list[Refusal] = []
    assert log_columns(Log(**given), "imperial", refusals) is None
    return [dict(row) for row in cannot_be_assessed(RefusedError(refusals))["errors"]]


def test_json_and_csv_give_the_same_columns() -> None:
    columns: dict[str, Any] = {
        "suction_pressure": {"values": [131.0, None, 128.4], "unit": "psi"},
        "capacitor_voltage.compressor": {"values": [350, 351, 352]},
    }
    text = "seconds,suction_pressure [psi],capacitor_voltage.compressor\n0,131.0,350\n5,,351\n9.5,128.4,352\n"
    for found in (read(seconds=[0, 5, 9.5], readings=columns), read(csv=text), read(csv="\ufeff" + text)):
        assert found.seconds.tolist() == [0, 5, 9.5]
        by_name = {one.spec.name: one for one in found.columns}
        pressure = by_name["suction_pressure"].values
        assert pressure[0] == pytest.approx(131.0 * 6894.757, rel=1e-6)
        assert isnan(pressure[1])
        assert not by_name["suction_pressure"].absolute
        assert by_name["capacitor_voltage.compressor"].values.tolist() == [350, 351, 352]


@pytest.mark.parametrize(
    "text",
    [
        "seconds;suction_pressure [bar];liquid_line_temperature [°C]\r\n0;8,1;30,5\r\n\r\n2,5;;31\r\n",
        "seconds [s]\tsuction_pressure (Bar)\tliquid_line_temperature ( C )\n0\t8.1\t30.5\n2.5\t\t31\n",
        '"seconds","suction_pressure [bar]","liquid_line_temperature [degC]"\n0,"8.1",30.5\n2.5,,31\n',
    ],
    ids=["decimal commas", "tabs", "quotes"],
)
def test_what_spreadsheets_of_several_countries_write(text: str) -> None:
    found = read(csv=text)
    pressure, line = found.columns
    assert found.seconds.tolist() == [0, 2.5]
    np.testing.assert_allclose(pressure.values, [810_000.0, np.nan])
    np.testing.assert_allclose(line.values, [303.65, 304.15])


def test_numbers_without_a_unit_are_in_the_declared_system() -> None:
    given: dict[str, Any] = {"csv": "seconds,return_air_dry_bulb\n0,25\n1,25\n"}
    assert read("metric", **given).columns[0].values[0] == pytest.approx(298.15)
    assert read("imperial", **given).columns[0].values[0] == pytest.approx((25 - 32) / 1.8 + 273.15)


def test_the_unit_or_the_reference_makes_a_pressure_absolute() -> None:
    values = [100.0, 101.0]
    for said, absolute in (
        ({"unit": "psia"}, True),
        ({"unit": "psi", "reference": "absolute"}, True),
        ({"unit": "psig"}, False),
        ({}, False),
    ):
        (one,) = read(seconds=[0, 1], readings={"suction_pressure": {"values": values, **said}}).columns
        assert one.absolute is absolute
    assert read(csv="seconds,suction_pressure [psia]\n0,100\n1,101\n").columns[0].absolute


@pytest.mark.parametrize(
    ("text", "place", "says", "hint"),
    [
        (" ", "line 1", "is not a header row", "Begin with a header row"),
        ("0,131\n5,128\n", "line 1", "is not a header row", "Begin with a header row"),
        ("seconds,line_voltage\n0,1\n", "line 1", "too few rows", "Send the rows"),
        ("time,line_voltage\n0,1\n1,1\n", "line 1, column 1", "not a column of seconds", "Name one column seconds"),
        ("line_voltage\n0\n1\n", "line 1", "no column of seconds", "Name one column seconds"),
        ("seconds [min],line_voltage\n0,1\n1,1\n", "line 1, column 1", "times are in seconds", "seconds"),
        ("seconds\n0\n1\n", "line 1", "only times", "header row"),
        ("seconds,line_voltage,line_voltage\n0,1,1\n1,1,1\n", "line 1, column 3", "appears twice", "Keep the one"),
        ("seconds,\n0,1\n1,1\n", "line 1, column 2", "has no name", "Name the column"),
        ("seconds,low side (psig)\n0,1\n1,1\n", "line 1, column 2", "not the name", "Did you mean suction_pressure?"),
        ("seconds,superheat [F]\n0,1\n1,1\n", "line 1, column 2", "not the name", "is derived, not read"),
        ("seconds,suction_presure\n0,1\n1,1\n", "line 1, column 2", "not the name", "Did you mean suction_pressure?"),
        ("seconds,line_voltage [psi]\n0,1\n1,1\n", "line 1, column 2", "not a unit", "psi is a unit of pressure"),
        ("seconds,line_voltage [hogshead]\n0,1\n1,1\n", "line 1, column 2", "not a unit", "one of these units"),
        (HEAD + "0,131,240\n5,128\n", "line 3", "has 2 cells", "Leave a cell empty"),
        (HEAD + "0,131,240\n\n5,12x,240\n", "line 4, column 2 (suction_pressure)", "not a number", "Leave the cell"),
        (HEAD + "0,131,240\n5,nan,240\n", "line 3, column 2", "not a number", "Leave the cell empty"),
        (HEAD + "0,131,240\n5,1_0,240\n", "line 3, column 2", "not a number", "Leave the cell empty"),
        (HEAD + "0,131,240\n5,1e999,240\n", "line 3, column 2", "not a number", "Leave the cell empty"),
        (HEAD + "0,131,240\n0:05,128,240\n", "line 3, column 1 (seconds)", "not a number", "not a time of day"),
        (HEAD + "0,131,240\n,128,240\n", "line 3, column 1 (seconds)", "is empty", "Every row needs its time"),
        (HEAD + "0,131,240\n5,128,9999\n", "line 3, column 3 (line_voltage)", "out of range", "gave none"),
        (HEAD + "0,131,240\n5,128,240\n5,128,240\n", "line 4, column 1 (seconds)", "does not rise", "clock"),
        ("seconds;line_voltage\n0;240,5\n1;1.240,5\n", "line 3, column 2", "not a number", "decimal comma"),
        ('seconds,"line_voltage\n0,1\n', "line 2", "cannot be read as CSV", "quotes"),
    ],
)
def test_a_fault_of_a_text_is_named_by_line_and_column(text: str, place: str, says: str, hint: str) -> None:
    (error,) = refused(csv=text)
    assert error["pointer"] == "/run/log/csv"
    assert error["detail"].startswith(place)
    assert says in error["detail"]
    assert hint in error["hint"]


@pytest.mark.parametrize(
    ("given", "pointer", "says"),
    [
        ({"seconds": [0, 1]}, "/run/log/readings", "is missing"),
        ({"readings": {"line_voltage": {"values": [1]}}}, "/run/log/seconds", "is missing"),
        ({"csv": HEAD + "0,1,1\n1,1,1\n", "seconds": [0, 1]}, "/run/log/seconds", "next to csv"),
        ({"seconds": [0, 1], "readings": {"line_voltage": {"values": [1]}}}, "/line_voltage/values", "holds 1 values"),
        ({"seconds": [0, 5, 4], "readings": {"line_voltage": {"values": [1, 1, 1]}}}, "/seconds/2", "does not rise"),
        ({"seconds": [0, 5], "readings": {"line_volts": {"values": [1, 1]}}}, "/readings/line_volts", "not the name"),
        ({"seconds": [0, 5], "readings": {"line_voltage": {"values": [1, 2000]}}}, "/values/1", "out of range"),
        ({"seconds": [0, 5], "readings": {"line_voltage": {"values": [1, 1], "unit": "A"}}}, "/unit", "not a unit"),
        (
            {"seconds": [0, 5], "readings": {"line_voltage": {"values": [1, 1], "reference": "gauge"}}},
            "/line_voltage/reference",
            "another quantity",
        ),
        (
            {
                "seconds": [0, 5],
                "readings": {"suction_pressure": {"values": [1, 1], "unit": "psia", "reference": "gauge"}},
            },
            "/suction_pressure/reference",
            "contradicts the unit",
        ),
    ],
)
def test_a_fault_of_arrays_is_named_by_its_pointer(given: dict[str, Any], pointer: str, says: str) -> None:
    (error,) = refused(**given)
    assert error["pointer"].startswith("/run/log/")
    assert error["pointer"].endswith(pointer)
    assert says in error["detail"]


def test_a_text_wrong_in_every_row_is_not_repeated_for_each() -> None:
    errors = refused(csv="seconds,line_voltage\n" + "".join(f"{n},x\n" for n in range(500)))
    assert len(errors) == 20


def test_names_and_numbers_are_refused_in_one_go() -> None:
    """A name first: what it names may not be numbers at all."""
    errors = refused(csv="seconds,comment,line_voltage\n0,started,240\n5,,24O\n")
    assert [error["detail"].split(":")[0] for error in errors] == [
        "line 1, column 2 (comment)",
        "line 2, column 2 (comment)",
        "line 3, column 3 (line_voltage)",
    ]
