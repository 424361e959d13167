"""The check of a motor: worked values through the whole check, guard bands, refusals."""

from __future__ import annotations

from typing import Any

import pytest

from schemas.checks import CheckAnswer
from schemas.checks.motor import MotorRequest
from service.checks.motor import motor
from service.intake.refusals import RefusedError
from tests.answers import conforms

METERS = {"meter": {"type": "multimeter"}, "tester": {"type": "insulation_tester"}}


def answered(**parts: Any) -> CheckAnswer:  # noqa: ANN401
    return conforms(CheckAnswer, motor(MotorRequest.model_validate({"units": "imperial", "kit": METERS, **parts})))


def single(across: float, start: float, run: float) -> dict[str, float]:
    return {"start_to_run": across, "common_to_start": start, "common_to_run": run}


def grades(answer: CheckAnswer) -> dict[str, str]:
    found: dict[str, str] = {}
    for row in answer["findings"]:
        found.setdefault(row["quantity"], row["grade"])
    return found


def codes(answer: CheckAnswer) -> set[str]:
    return {row["code"] for row in answer["notices"]}


def test_windings_in_series_add_up() -> None:
    """3.0 and 0.5 ohms are a service procedure's good motor; half an ohm too much is no series circuit."""
    assert grades(answered(single_phase_windings=single(3.5, 3.0, 0.5)))["winding_departure"] == "conforming"
    bad = answered(single_phase_windings=single(4.2, 3.0, 0.5))
    assert grades(bad)["winding_departure"] == "nonconforming"
    assert bad["verdict"] == "fault_shown"
    ratio = bad["information"][0]
    assert ratio["value"] == pytest.approx(6.0)
    assert "maker's table decides" in ratio["sentence"]


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        # The two terminals that read highest are start and run (a refrigeration textbook, 2022).
        ((3.0, 3.5, 0.5), "the terminal marked R is the common one"),
        ((0.5, 3.0, 3.5), "the terminal marked S is the common one"),
        ((3.5, 0.5, 3.0), "start and run were mixed up"),
    ],
)
def test_letters_that_were_mixed_up(readings: tuple[float, float, float], said: str) -> None:
    """The odd terminal is named."""
    answer = answered(single_phase_windings=single(*readings))
    assert any(said in row["sentence"] for row in answer["notices"] if row["code"] == "terminals_mixed")


def test_an_open_winding() -> None:
    """Kilohms are no winding; a warm compressor's overload may have opened."""
    answer = answered(single_phase_windings=single(9000.0, 9000.0, 0.5))
    assert "winding_open" in codes(answer)
    assert answer["verdict"] == "fault_shown"


def test_copper_at_the_temperature_of_data_sheets() -> None:
    """0.800 ohms at 75 °F are 0.843 at 100 °F (by hand, value from memory): so 0.843 at 100 °F are 0.803 at 77 °F."""
    answer = answered(single_phase_windings=single(3.5, 2.657, 0.843), winding_temperature=100)
    assert answer["derived"]["common_to_run_at_25_celsius"]["value"] == pytest.approx(0.8034, abs=5e-4)


def test_three_windings_are_alike() -> None:
    """1.00, 1.00 and 1.20: mean 1.067, furthest 12.5 % from it (by hand)."""
    alike = answered(three_phase_windings={"l1_l2": 5.02, "l2_l3": 5.01, "l3_l1": 5.03})
    assert alike["verdict"] == "nothing_found"
    odd = answered(three_phase_windings={"l1_l2": 5.0, "l2_l3": 5.0, "l3_l1": 6.0})
    assert odd["derived"]["winding_spread"]["value"] == pytest.approx(12.5, abs=0.01)
    assert odd["verdict"] == "fault_shown"
    assert "leads_decide" in codes(answered(three_phase_windings={"l1_l2": 0.42, "l2_l3": 0.41, "l3_l1": 0.42}))


def test_to_ground() -> None:
    """Any reading by an ohmmeter shows a path (a refrigeration textbook, 2022); none proves nothing."""
    bad = answered(winding_to_ground={"value": 40, "unit": "kohm"})
    assert grades(bad)["resistance_to_ground"] == "nonconforming"
    assert bad["findings"][0]["priority"] == "safety"
    assert bad["next_steps"][0]["action"] == "keep_it_off"
    none = answered(winding_to_ground_over_range=True)
    assert "ground_beyond_range" in codes(none)
    assert none["verdict"] == "cannot_tell"


def test_insulation() -> None:
    """1 MΩ and another per kilovolt (value from memory): 1.23 MΩ at 230 V; the maker's limit replaces it."""
    rule = answered(rated_voltage=230, insulation={"after_60_seconds": 240})
    finding = next(row for row in rule["findings"] if row["limit"] and row["limit"]["id"] == "insulation_simple_rule")
    assert finding["limit"] is not None
    assert finding["limit"]["lower"] == pytest.approx(1.23)
    assert "memory" in finding["limit"]["source"]
    assert finding["grade"] == "conforming"
    maker = answered(rated_voltage=230, insulation={"after_60_seconds": 1.8, "least": 0.5})
    assert maker["findings"][0]["limit"] is not None
    assert maker["findings"][0]["limit"]["id"] == "insulation_maker"
    assert maker["findings"][0]["grade"] == "conforming"
    unknown = answered(insulation={"after_60_seconds": 240})
    assert {row["grade"] for row in unknown["findings"]} == {"conforming"}
    assert unknown["missing"][0]["quantity"] == "insulation_resistance"


def test_a_large_motor_has_a_published_rule() -> None:
    """A maker's chiller manual: at least 50 MΩ after 10 and 60 seconds, the second not below the first."""
    good = {"after_10_seconds": 150, "after_60_seconds": 190, "motor": "large_hermetic"}
    assert set(grades(answered(insulation=good)).values()) == {"conforming"}
    moist = grades(answered(insulation=good | {"after_60_seconds": 100}))
    assert moist == {
        "insulation_resistance": "conforming",
        "insulation_resistance_10_seconds": "conforming",
        "insulation_ratio": "nonconforming",
    }
    assert grades(answered(insulation=good | {"after_60_seconds": 30}))["insulation_resistance"] == "nonconforming"


def test_a_dual_capacitor_as_it_is_marked() -> None:
    """Sections of 45 and 5 µF; ±6 % is assumed where none is marked, and the answer says so."""
    answer = answered(capacitors=[{"marking": "45/5", "herm_to_common": 40.0, "fan_to_common": 5.0}])
    limits = {row["quantity"]: row["limit"] for row in answer["findings"]}
    herm, fan = limits["capacitance_1_compressor"], limits["capacitance_1_outdoor_fan"]
    assert herm is not None
    assert fan is not None
    assert [herm["lower"], herm["upper"]] == pytest.approx([42.3, 47.7])
    assert [fan["lower"], fan["upper"]] == pytest.approx([4.7, 5.3])
    assert grades(answer) == {"capacitance_1_compressor": "nonconforming", "capacitance_1_outdoor_fan": "conforming"}
    assert "tolerance_assumed" in codes(answer)
    marked = answered(capacitors=[{"marking": "45/5 MFD ±10%", "herm_to_common": 42.0, "fan_to_common": 5.0}])
    assert marked["verdict"] == "nothing_found"
    assert "stored_charge" in {row["id"] for row in answer["cautions"]}


def test_the_meter_s_error_is_a_guard_band() -> None:
    """9.45 of 10 µF ±5 % is within the marking, but not by more than 2 % of meter; a better meter decides."""
    near = [{"marking": "10 uF ±5%", "terminals": 9.6}]
    assert answered(capacitors=near)["verdict"] == "cannot_tell"
    fine = {"bridge": {"type": "capacitance_meter", "accuracy": {"percent_of_reading": 0.2}}}
    request = MotorRequest.model_validate({"units": "imperial", "kit": fine, "capacitors": near})
    assert motor(request)["verdict"] == "nothing_found"


def test_leads_on_the_wrong_terminals() -> None:
    """45 and 5 µF in series read 4.50 µF (circuit theory)."""
    wrong = answered(capacitors=[{"marking": "45/5", "herm_to_common": 4.5, "fan_to_common": 5.0}])
    assert "series_reading" in codes(wrong)
    odd = [{"marking": "45/5", "herm_to_common": 45.0, "fan_to_common": 5.0, "herm_to_fan": 3.0}]
    assert "series_disagrees" in codes(answered(capacitors=odd))
    odd[0]["herm_to_fan"] = 4.52
    assert "series_disagrees" not in codes(answered(capacitors=odd))


@pytest.mark.parametrize(
    ("parts", "where", "word"),
    [
        ({}, "", "no reading"),
        (
            {"winding_to_ground": 5, "winding_to_ground_over_range": True},
            "/winding_to_ground_over_range",
            "contradicts",
        ),
        ({"capacitors": [{"marking": "45/5", "terminals": 45}]}, "/capacitors/0/terminals", "does not fit"),
        ({"capacitors": [{"marking": "45", "fan_to_common": 5}]}, "/capacitors/0/fan_to_common", "does not fit"),
        ({"winding_temperature": 600, "winding_to_ground": 5}, "/winding_temperature", "possible range"),
    ],
)
def test_refusals_name_field_and_hint(parts: dict[str, Any], where: str, word: str) -> None:
    """Each with what is allowed and what to do."""
    with pytest.raises(RefusedError) as refused:
        answered(**parts)
    assert [row.pointer for row in refused.value.refusals] == [where]
    assert word in refused.value.refusals[0].detail
    assert refused.value.refusals[0].hint


def test_a_supply_of_480_volts_warns_of_arc_flash() -> None:
    """At 230 V it does not."""
    windings = {"l1_l2": 5.02, "l2_l3": 5.01, "l3_l1": 5.03}
    for volts, warned in ((460, True), (230, False)):
        answer = answered(three_phase_windings=windings, rated_voltage=volts)
        assert ("arc_flash" in {row["id"] for row in answer["cautions"]}) is warned


GOOD = single(3.5, 3.0, 0.5)


def test_the_floor_of_the_simple_rule_always_applies() -> None:
    """1 MΩ without a rated voltage (value from memory); below 20 MΩ trade tables say poor (value from memory)."""
    failing = answered(single_phase_windings=GOOD, insulation={"after_60_seconds": 0.2})
    assert failing["verdict"] == "fault_shown"
    for megohms in (10, 19.9):
        poor = answered(single_phase_windings=GOOD, insulation={"after_60_seconds": megohms})
        assert poor["verdict"] == "cannot_tell"
        assert "Poor" in poor["sentence"]
    assert answered(single_phase_windings=GOOD, insulation={"after_60_seconds": 240})["verdict"] == "nothing_found"


def test_zero_is_a_reading() -> None:
    """A dead ground is judged; a ratio of zeros is left out, and the rest is judged (arithmetic)."""
    assert answered(winding_to_ground=0)["verdict"] == "fault_shown"
    zeros = {"after_60_seconds": 0, "after_10_seconds": 0, "motor": "large_hermetic"}
    assert answered(insulation=zeros)["verdict"] == "fault_shown"


def test_a_shorted_winding() -> None:
    """A winding of 0 ohms adds up, and is a short (common practice, no source)."""
    answer = answered(single_phase_windings=single(3.0, 3.0, 0.0))
    assert grades(answer)["winding_common_to_run"] == "nonconforming"
    assert answer["verdict"] == "fault_shown"


def test_stored_charge_comes_with_every_motor() -> None:
    """A run capacitor or a DC bus is there whether it was read or not (common practice, no source)."""
    assert "stored_charge" in {row["id"] for row in answered(single_phase_windings=GOOD)["cautions"]}


def test_the_early_reading_of_a_large_motor() -> None:
    """A maker's chiller manual: at least 50 MΩ after 10 seconds too."""
    answer = answered(insulation={"after_10_seconds": 30, "after_60_seconds": 190, "motor": "large_hermetic"})
    assert grades(answer)["insulation_resistance_10_seconds"] == "nonconforming"


def test_a_number_to_ground_is_never_nothing() -> None:
    """Any number on an ohmmeter is a path (a refrigeration textbook, 2022): 5 MΩ calls for an insulation test."""
    answer = answered(winding_to_ground={"value": 5, "unit": "Mohm"})
    assert answer["verdict"] == "cannot_tell"
    assert [row["action"] for row in answer["next_steps"]] == ["test_the_insulation"]


@pytest.mark.parametrize(
    ("herm", "fan"),
    [
        ({"herm_to_common": 4.9}, {"fan_to_common": 44.1}),
        ({"herm_to_common": 4.9}, {}),
        ({}, {"fan_to_common": 44.1}),
        ({"herm_to_common": 4.5}, {"fan_to_common": 5.0}),
        ({"herm_to_common": 45.0}, {"fan_to_common": 5.0, "herm_to_fan": 3.0}),
    ],
)
def test_leads_on_other_terminals_show_no_weak_capacitor(herm: dict[str, float], fan: dict[str, float]) -> None:
    """What fits the other section, or both in series (4.5 of 45 and 5 µF, circuit theory), is read again."""
    answer = answered(capacitors=[{"marking": "45/5", **herm, **fan}])
    assert answer["verdict"] == "cannot_tell"
    assert answer["next_steps"][0]["action"] == "read_the_terminals"
    assert "replace_the_capacitor" not in {row["action"] for row in answer["next_steps"]}


def test_a_bleed_resistor_explains_no_high_reading() -> None:
    """A resistor across a capacitor can only lower what a meter shows (common practice, no source)."""
    high = answered(capacitors=[{"marking": "45 uF", "terminals": 50}])
    low = answered(capacitors=[{"marking": "45 uF", "terminals": 38}])
    assert "lift_the_bleed_resistor" not in {row["action"] for row in high["next_steps"]}
    assert "lift_the_bleed_resistor" in {row["action"] for row in low["next_steps"]}


@pytest.mark.parametrize(
    ("readings", "step"),
    [
        (single(3.2, 0.8, 2.4), "mark_the_terminals"),
        (single(2.4, 3.2, 0.8), "mark_the_terminals"),
        (single(3.2, 9000.0, 9000.0), "let_it_cool"),
    ],
)
def test_letters_and_an_open_overload_are_settled_first(readings: dict[str, float], step: str) -> None:
    """The highest is start to run; an open overload opens both windings at common (a refrigeration textbook, 2022)."""
    answer = answered(single_phase_windings=readings)
    assert answer["verdict"] == "cannot_tell"
    assert answer["next_steps"][0]["action"] == step


@pytest.mark.parametrize("ohms", [0.0, 0.02, 0.05])
def test_windings_that_the_meter_cannot_resolve_are_no_fault(ohms: float) -> None:
    """A large motor reads hundredths of an ohm, as leads do; a four-wire meter decides (common practice, no source)."""
    windings = {"l1_l2": ohms, "l2_l3": ohms, "l3_l1": ohms}
    answer = answered(three_phase_windings=windings)
    assert answer["verdict"] == "cannot_tell"
    assert answer["next_steps"][0]["action"] == "use_a_finer_meter"
    if ohms > 0.0:
        finer = answered(kit={"bridge": {"type": "four_wire_ohmmeter"}}, three_phase_windings=windings)
        assert finer["verdict"] == "nothing_found"
    odd = answered(three_phase_windings=windings | {"l2_l3": 4.0, "l3_l1": 4.0})
    assert odd["verdict"] == "fault_shown"


def test_a_fault_is_named_as_one() -> None:
    """3.5 ohms are not the sum of 2.4 and 0.4 (arithmetic)."""
    assert "do not add up" in answered(single_phase_windings=single(3.5, 2.4, 0.4))["sentence"]


def test_windings_that_are_all_in_another_unit_are_a_question() -> None:
    """3.5, 3.0 and 0.5 ohms in milliohms and in kilohms; one open winding among others is none (arithmetic)."""
    for factor in (1000.0, 0.001):
        answer = answered(single_phase_windings=single(3.5 * factor, 3.0 * factor, 0.5 * factor))
        assert answer["verdict"] == "cannot_tell"
        assert answer["next_steps"][0]["action"] == "check_the_unit"
    assert answered(single_phase_windings=single(3500.0, 3500.0, 0.5))["verdict"] == "fault_shown"
