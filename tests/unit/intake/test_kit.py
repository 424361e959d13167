"""Which instrument makes a reading, and what its errors come to."""

from __future__ import annotations

from typing import Any

import pytest

from schemas.assessments import AssessmentRequest
from service.assess.pipeline import assess
from service.intake.kit import kit_of
from service.intake.refusals import Refusal, RefusedError


def asked(**parts: Any) -> AssessmentRequest:  # noqa: ANN401
    return AssessmentRequest.model_validate({"units": "imperial", **parts})


@pytest.mark.parametrize("line_too", [False, True])
def test_each_reading_has_the_coverage_stated_for_it(line_too: bool) -> None:
    """One thermometer, two statements: ±2 °F as limits is 2/√3 (JCGM 100, 4.3.7), whatever else it reads."""
    readings: dict[str, Any] = {"return_air_dry_bulb": {"values": [60.0, 60.0, 60.0], "instrument": "t"}}
    if line_too:
        readings["suction_line_temperature"] = {"value": 75.0, "instrument": "t"}
    accuracies = {
        "air_temperature": {"fixed": 2.0, "resolution": 0},
        "line_temperature": {"fixed": 2.0, "resolution": 0, "coverage": "one_standard_deviation"},
    }
    kit = {
        "t": {
            "type": "digital_thermometer",
            "shares_calibration": True,
            "repeatability": 0,
            "accuracies": accuracies,
        }
    }
    found = assess(asked(kit=kit, run={"readings": readings}))["instruments"]["return_air_dry_bulb"]
    calibration = 2.0 / 3.0**0.5
    assert calibration <= found["standard_uncertainty"] < 1.06 * calibration


def test_a_perfect_reading_on_its_limit_conforms() -> None:
    """Limits are allowed values: with no error at all, at the limit is within it."""
    exact = {"type": "multimeter", "repeatability": 0, "accuracy": {"fixed": 0, "resolution": 0}}
    for tenth in range(2000, 2100, 7):
        lowest = tenth / 10.0
        answer = assess(
            asked(
                kit={"meter": exact},
                unit={"nameplate": {"voltage": 230, "lowest_voltage": lowest}},
                run={"readings": {"line_voltage": {"value": lowest, "instrument": "meter"}}},
            )
        )
        grades = {f["limit"]["id"]: f["grade"] for f in answer["findings"] if f["limit"]}
        assert grades["supply_voltage_motor"] == "conforming", lowest


def test_a_suspect_may_leave_room_for_an_assumption() -> None:
    """Without the power factor that does not fit, one is assumed: the visit itself does not change."""
    exact, volts = {"fixed": 0, "resolution": 0}, ("l1_l2", "l2_l3", "l3_l1")
    body = asked(
        unit={"mode": "cooling", "refrigerant": "R-410A"},
        kit={
            "analyser": {"type": "power_meter", "accuracies": {"power": exact}, "repeatability": 0},
            "meter": {"type": "clamp_meter"},
            "factor": {
                "type": "power_meter",
                "accuracies": {"ratio": {"fixed": 0.1, "unit": "1"}},
            },
        },
        run={
            "minutes_running": 20,
            "readings": {
                "outdoor_unit_power": {"value": 5200.0, "instrument": "analyser"},
                "line_voltages": {k: {"value": 230.0, "instrument": "meter"} for k in volts},
                "compressor_line_currents": {k: {"value": 12.0, "instrument": "meter"} for k in ("l1", "l2", "l3")},
                "power_factor": {"value": 0.6, "instrument": "factor"},
                "outdoor_fan_current": {"value": 1.2, "instrument": "meter"},
            },
        },
    )
    found = assess(body)["reconciliation"]
    assert found["verdict"] == "inconsistent"
    assert found["suspects"][0]["name"] == "power_factor"


def test_names_that_nobody_has_are_not_kept() -> None:
    """A kit is kept from request to request; what callers think of for names is not."""
    kit = kit_of({}, "imperial", compared=False)
    before = len(kit)
    for number in range(20):
        refused = kit.sensor("line_voltage", "voltage", "voltage", f"meter {number}", "/run")
        assert isinstance(refused, Refusal)
    assert len(kit) == before


#: A van's kit: names that say what each is.
VAN = {
    "clamp_meter": {"type": "clamp_meter"},
    "clamps": {"type": "thermistor_pipe_clamp"},
    "multimeter": {"type": "multimeter"},
    "power_meter": {"type": "power_meter"},
    "sling": {"type": "psychrometer"},
    "thermometer": {"type": "digital_thermometer"},
}


@pytest.mark.parametrize(
    ("reading", "kit", "taken"),
    [
        # Common practice, no source: what each is made for.
        ("suction_line_temperature", ("clamps", "thermometer"), "clamps"),
        ("suction_line_temperature", ("thermometer",), "thermometer"),
        ("outdoor_air_dry_bulb", ("clamps", "thermometer"), "thermometer"),
        ("line_voltage", ("clamp_meter", "multimeter", "power_meter"), "multimeter"),
        ("compressor_common_current", ("clamp_meter", "power_meter"), "clamp_meter"),
        ("outdoor_unit_power", ("clamp_meter", "multimeter", "power_meter"), "power_meter"),
        ("return_air_wet_bulb", ("sling", "probe"), "sling"),
        ("return_air_relative_humidity", ("sling", "probe"), "probe"),
        # Two that are made for it, or two that merely could: the reading must say.
        ("suction_line_temperature", ("clamps", "other clamps", "thermometer"), None),
        ("outdoor_air_dry_bulb", ("sling", "thermometer"), None),
        ("line_voltage", ("clamp_meter", "power_meter"), None),
    ],
)
def test_the_instrument_made_for_a_reading_is_taken(reading: str, kit: tuple[str, ...], taken: str | None) -> None:
    """Whatever the order of the kit."""
    more = {"probe": {"type": "hygrometer_probe"}, "other clamps": {"type": "thermocouple_pipe_clamp"}}
    for names in (kit, kit[::-1]):
        body = asked(kit={name: (VAN | more)[name] for name in names}, run={"readings": {reading: 60.0}})
        if taken is None:
            with pytest.raises(RefusedError) as refused:
                assess(body)
            assert refused.value.refusals[0].pointer == f"/run/readings/{reading}"
        else:
            assert assess(body)["instruments"][reading]["instrument"] == taken
