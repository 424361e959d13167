"""Capacitors as they are read off the can, in the nameplate of a visit."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from schemas.capacitors import ONE_SECTION, TWO_SECTIONS, read_marking


# Forms as printed on cans: common practice, no source.
@pytest.mark.parametrize(
    ("text", "sections", "tolerance"),
    [
        ("45/5", (45, 5), None),
        ("45+5", (45, 5), None),
        ("45/5 MFD", (45, 5), None),
        ("45/5 uF ±6%", (45, 5), 6),
        ("45/7.5 µF +/-6% 370/440VAC", (45, 7.5), 6),
        ("45 uF", (45,), None),
        ("5 uF ±5 % 440 V", (5,), 5),
        ("0.5", (0.5,), None),
        ("45/5 uF 440 VAC 50/60Hz", (45, 5), None),
        ("45/5 MFD 5%", (45, 5), 5),
        ("40 MFD ±6% 370VAC", (40,), 6),
        ("45/5 µF", (45, 5), None),
        ("45+5uF 440VAC 50/60Hz ±5%", (45, 5), 5),
        ("45/5 Mfd 440 Vac", (45, 5), None),
    ],
)
def test_markings(text: str, sections: tuple[float, ...], tolerance: float | None) -> None:
    """Microfarads of each section, and the tolerance where it is marked."""
    found = read_marking(text)
    assert found is not None
    assert found.sections == sections
    assert found.tolerance_percent == tolerance


@pytest.mark.parametrize(
    "text", ["", "0", "45/", "/5", "45/5/5", "45-5", "0/5", "600", "45 kF", "±6%", "370/440VAC 45", "455%", "45/55%"]
)
def test_what_is_no_marking(text: str) -> None:
    """Nothing is guessed."""
    assert read_marking(text) is None


@given(st.from_regex(f"(?:{TWO_SECTIONS})|(?:{ONE_SECTION})", fullmatch=True))
def test_what_the_contract_publishes_is_understood(text: str) -> None:
    """Every text of the published pattern has a value within the bounds of a capacitance."""
    found = read_marking(text)
    assert found is not None
    assert all(0.1 <= section <= 500.0 for section in found.sections)


def body(capacitors: object) -> dict[str, Any]:
    """A compressor whose capacitor reads 40.2 µF: 5.00 A at 330 V and 60 Hz, I / (2 pi f V)."""
    return {
        "units": "imperial",
        "unit": {"nameplate": {"frequency": 60, "capacitors": capacitors}},
        "run": {
            "readings": {"compressor_start_winding_current": 5.00, "capacitor_voltage": {"compressor": 330}},
        },
    }


def test_the_marking_says_what_its_parts_say(client: TestClient) -> None:
    """The larger section is the compressor's, whichever is printed first."""
    answers = [
        client.post("/v1/assessments", json=body(form)).json()
        for form in (
            {
                "compressor": {"microfarads": 45, "tolerance_percent": 6},
                "outdoor_fan": {"microfarads": 5, "tolerance_percent": 6},
            },
            "45/5 MFD ±6% 440 VAC",
            "5/45 MFD ±6%",
            {"compressor": "45 uF ±6%", "outdoor_fan": "5 uF ±6%"},
        )
    ]
    limits = [
        next(f["limit"] for f in answer["findings"] if f["quantity"] == "compressor_run_capacitance")
        for answer in answers
    ]
    assert (limits[0]["lower"], limits[0]["upper"]) == (pytest.approx(42.3), pytest.approx(47.7))
    assert all(limit == limits[0] for limit in limits)


@pytest.mark.parametrize(
    ("form", "where"),
    [
        ("45", "/unit/nameplate/capacitors"),
        ("forty-five", "/unit/nameplate/capacitors"),
        ({"compressor": "45/5"}, "/unit/nameplate/capacitors/compressor"),
    ],
)
def test_another_text_is_refused_with_an_example(client: TestClient, form: object, where: str) -> None:
    """Field, value, what is allowed, and how to write it."""
    answer = client.post("/v1/assessments", json=body(form))
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["pointer"] == where
    assert '"45' in error["allowed"]
    assert '"45/5"' in error["hint"] if where.endswith("capacitors") else '"45 uF ±6%"' in error["hint"]


def test_a_marking_in_the_motor_check_is_refused_with_its_own_field(client: TestClient) -> None:
    """The nameplate's fields are not there."""
    can = {"marking": "45-5", "herm_to_common": 44}
    (error,) = client.post("/v1/checks/motor", json={"units": "imperial", "capacitors": [can]}).json()["errors"]
    assert error["pointer"] == "/capacitors/0/marking"
    assert "`marking`" in error["hint"]
    assert "compressor" not in error["hint"]
