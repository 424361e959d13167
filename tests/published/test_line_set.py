"""What a line set adds to superheat, against a heat balance made by hand."""

from __future__ import annotations

from math import log, pi
from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI
from fastapi.testclient import TestClient

from schemas.examples import diagnosis_examples
from service.intake.line_set import superheat_of_lines
from service.intake.paths import LINE_SET

#: Outer radius of a 3/4 in. tube, half an inch of foam [m]; its conductivity [W/(m K)] and films
#: [W/(m2 K)] are common practice, no source.
RADIUS, FOAM, CONDUCTIVITY, FILM = 0.0095, 0.0127, 0.038, 9.0
COLDER = 22.0  # K
FLOW = 10_550.0 / 165_000.0  # kg/s: 36,000 Btu/h by 165 kJ/kg


def rise(*, insulated: bool) -> float:
    """K/m by the heat that the gas takes up, heat capacity by CoolProp at 7 °C saturation and 12 °C."""
    pressure = PropsSI("P", "T", 280.15, "Q", 1, "R410A")
    heat = PropsSI("C", "T", 285.15, "P", pressure, "R410A")
    outer = RADIUS + (FOAM if insulated else 0.0)
    resistance = 1.0 / (FILM * 2.0 * pi * outer)
    if insulated:
        resistance += log(outer / RADIUS) / (2.0 * pi * CONDUCTIVITY)
    return float(COLDER / resistance / (FLOW * heat))


def added(feet: float, **more: Any) -> tuple[float, float]:  # noqa: ANN401
    """Of a line of a length."""
    leaves = {LINE_SET + "length": feet * 0.3048} | {LINE_SET + k: v for k, v in more.items()}
    return superheat_of_lines(leaves)


def test_a_longer_line_adds_what_its_heat_balance_says() -> None:
    """75 ft in place of 25: the gain of heat, and up to 0.05 K/m more by the loss of pressure."""
    more = 50.0 * 0.3048
    mean, spread = added(75.0)
    assert more * rise(insulated=True) < mean < more * (rise(insulated=True) + 0.05)
    assert 0.0 < spread < mean


def test_a_bare_line_adds_more() -> None:
    """What its heat balance says, up to twice the heat where water condenses on it, and the loss of
    pressure."""
    mean, _ = added(50.0, insulated=False)
    bare, usual = 50.0 * 0.3048, 25.0 * 0.3048 * rise(insulated=True)
    gain = rise(insulated=False)
    assert bare * gain - usual < mean < bare * (2.0 * gain + 0.05) - usual


def test_a_usual_line_adds_nothing() -> None:
    """25 ft is what ratings are for; where nothing is said it is the middle of what houses have, 13 to 100 ft."""
    mean, spread = superheat_of_lines({})
    assert mean == 0.0
    assert added(25.0)[1] < spread < added(100.0)[0]
    assert added(25.0)[0] == pytest.approx(0.0, abs=0.02)


def test_more_superheat_is_expected_behind_a_long_line(client: TestClient) -> None:
    """And no more at a fixed orifice, whose target is for the outdoor unit."""
    body = diagnosis_examples()["sound_unit"]

    def expected(device: str, **line: Any) -> float:  # noqa: ANN401
        unit = body["unit"] | {"metering_device": device} | ({"line_set": line} if line else {})
        answer = client.post("/v1/diagnoses", json=body | {"unit": unit})
        assert answer.status_code == 200, answer.text
        band = answer.json()["expected"]["superheat"]["band"]
        return float(0.5 * (band["low"] + band["high"]))

    valve, orifice = "thermostatic_expansion_valve", "fixed_orifice"
    bare = expected(valve, length={"value": 30, "unit": "m"}, insulated=False, lift=-6)
    assert bare > expected(valve, length=100) + 3.0 > expected(valve) + 4.0
    assert expected(orifice, length=100) == expected(orifice)
