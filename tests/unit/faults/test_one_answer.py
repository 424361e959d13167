"""What stands first in a diagnosis, and what must wait: urgent faults, cool return air, honest headlines."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from typing import Any, get_args

import numpy as np
import pytest

from schemas.diagnoses import DiagnosisRequest
from schemas.examples import diagnosis_examples
from service.faults.diagnosis import Diagnosed, diagnose, diagnosed
from service.faults.mistakes import Mistake
from service.faults.verdict import Verdict, verdict
from service.reference.faults import FAULTS, LOOK_ALIKE
from service.render.summary import of_visit
from service.uncertainty.mixture import Normals
from service.words.diagnosis import Audience, DiagnosisFacts, heading, what
from service.words.phrases import chance
from tests.answers import untyped
from tests.properties.consistency import contradictions

Answer = dict[str, Any]

VALVE = "thermostatic_expansion_valve"
UNIT: dict[str, Any] = {
    "refrigerant": "R-410A",
    "metering_device": VALVE,
    "rated": {"cooling_capacity": 36000, "eer": 11.0},
    "nameplate": {"voltage": 230, "subcooling": 10, "compressor_rated_load_amps": 16},
}
#: 95 °F outdoors, 80/67 °F indoors: evaporating near 45 °F, condensing 18 °F over the outdoor air, 10 °F of
#: subcooling, a split of 20 °F (common practice, no source).
USUAL: dict[str, float] = {
    "suction_pressure": 130,
    "liquid_pressure": 360,
    "suction_line_temperature": 57,
    "liquid_line_temperature": 99,
    "outdoor_air_dry_bulb": 95,
    "return_air_dry_bulb": 80,
    "return_air_wet_bulb": 67,
    "supply_air_dry_bulb": 60,
}
#: The pressures of a unit at rest: both at saturation between indoor and outdoor air.
EQUAL = {"suction_pressure": 220, "liquid_pressure": 222}
HOT = {"liquid_pressure": 560, "liquid_line_temperature": 122, "suction_pressure": 150}


def asked(readings: Mapping[str, float], **unit: Any) -> Diagnosed:  # noqa: ANN401
    found = diagnosed(
        DiagnosisRequest.model_validate(
            {
                "units": "imperial",
                "unit": copy.deepcopy(UNIT) | unit,
                "run": {"minutes_running": 20, "readings": {**USUAL, **readings}},
            }
        )
    )
    assert contradictions(untyped(found.answer)) == []
    return found


def told(readings: Mapping[str, float], **unit: Any) -> Answer:  # noqa: ANN401
    return untyped(asked(readings, **unit).answer)


# ---------------------------------------------------------------- compressor


@pytest.mark.parametrize(
    ("amps", "fault"),
    [
        # A stalled motor draws four to seven times its rated-load amps (value from memory).
        (85.0, "compressor_stalled"),
        (15.0, "compressor_not_pumping"),
    ],
)
def test_equal_pressures_with_current_are_a_compressor_fault(amps: float, fault: str) -> None:
    """Switch off first; nothing of charge."""
    found = asked({**EQUAL, "compressor_common_current": amps})
    answer = found.answer
    assert answer["verdict"] == "fault_found"
    assert answer["found"] == [fault]
    assert answer["next_steps"][0]["stage"] == "switch_off"
    assert "live_voltage" in {row["id"] for row in answer["cautions"]}
    assert answer["sentence"].startswith("Found: ")
    assert "Switch it off now" in answer["sentence"]
    assert of_visit(found, "technician").sentences[2].startswith("Switch the unit off now")


def test_equal_pressures_without_current_are_a_unit_at_rest_or_worse() -> None:
    """With no current the unit is off (no fault of a compressor); with none read, that is asked for first."""
    off = told({**EQUAL, "compressor_common_current": 0.0})
    assert off["found"] == []
    assert off["next_steps"] == []
    unread = told(EQUAL)
    assert unread["found"] == []
    assert unread["next_steps"][0]["faults"] == ["compressor_not_pumping"]
    # 124 and 352 psi the wrong way round are swapped gauges.
    swapped = told({"suction_pressure": 352, "liquid_pressure": 124})
    assert not {row["fault"] for row in swapped["hypotheses"]} & {"compressor_not_pumping"}


# ---------------------------------------------------------------- outdoor fan


def test_a_dead_outdoor_fan_comes_before_charge() -> None:
    """0 A and 560 psig: the fan and its motor, then the coil; neither charge nor gas."""
    answer = told({**HOT, "outdoor_fan_current": 0.0})
    assert answer["found"] == ["outdoor_fan_stopped"]
    assert [step["stage"] for step in answer["next_steps"]][:3] == [
        "switch_off",
        "electrical",
        "outdoor_coil",
    ]
    for text in ("overcharge", "non-condensable gas"):
        assert text not in answer["sentence"]
        assert not any(text in step["text"] for step in answer["next_steps"])


def test_a_fan_that_nobody_read_is_looked_at_first() -> None:
    """590 psig and no current: not found, and first."""
    answer = told({**HOT, "liquid_pressure": 590})
    assert "outdoor_fan_stopped" not in answer["found"]
    assert answer["next_steps"][0]["faults"] == ["outdoor_fan_stopped"]
    assert "an outdoor fan that is not turning" in answer["sentence"]


def test_a_fan_that_draws_current_turns() -> None:
    """The same pressures: then coil and charge are looked at as ever; 0 A beside a cool condenser is a clamp
    around the wrong wire."""
    running = told({**HOT, "outdoor_fan_current": 1.1})
    assert "outdoor_fan_stopped" not in {row["fault"] for row in running["hypotheses"]}
    clamp = told({"outdoor_fan_current": 0.0})
    row = next(h for h in clamp["hypotheses"] if h["fault"] == "outdoor_fan_stopped")
    assert row["status"] == "unlikely"
    assert "wrong wire" in row["evidence_against"][0]


# ---------------------------------------------------------------- return air


@pytest.mark.parametrize("device", [VALVE, "fixed_orifice"])
def test_a_house_at_68_degrees_gets_one_answer(device: str) -> None:
    """A valve's charge is judged by subcooling, which asks for no warm return air; a fixed device's by
    superheat, whose published table begins at 70 °F (RA3), and is then not called healthy."""
    answer = told(
        {
            "suction_pressure": 118,
            "liquid_pressure": 300,
            "suction_line_temperature": 50,
            "liquid_line_temperature": 86,
            "outdoor_air_dry_bulb": 82,
            "return_air_dry_bulb": 68,
            "return_air_wet_bulb": 58,
            "supply_air_dry_bulb": 50,
        },
        metering_device=device,
    )
    cool = "Return air this cool" in answer["sentence"]
    assert cool == (device == "fixed_orifice")
    assert answer["verdict"] == ("not_enough_to_tell" if cool else "healthy")
    assert not {"low_charge", "overcharge"} & set(answer["found"])


# ---------------------------------------------------------------- headlines


def _chances(**given: float) -> dict[str, float]:
    names = [name for name, row in FAULTS.items() if row.shown != "direct"]
    return dict.fromkeys(names, 0.0) | given


def _verdict(chances: dict[str, float], loss: tuple[float, float] | None, *, objected: bool = False) -> Verdict:
    change = None
    if loss is not None:
        change = Normals(np.ones(1), np.array([loss[0]]), np.array([0.02])), loss[1]
    return verdict(chances, dict.fromkeys(LOOK_ALIKE, 0.0), {}, change, objected=objected)


def test_a_fault_that_costs_is_not_found_where_nothing_is_lost() -> None:
    """+13 % of efficiency and no loss beside a compressor at 1.00: the two contradict each other."""
    chances = _chances(compressor_leakage=1.0)
    denied = _verdict(chances, (0.13, 0.0))
    assert (denied.name, denied.found) == ("not_enough_to_tell", [])
    assert denied.contradicted == ("compressor_leakage",)
    assert _verdict(chances, (-0.13, 0.98)).found == ["compressor_leakage"]
    # Too much feed harms the compressor whatever it costs.
    assert _verdict(_chances(expansion_overfeeding=0.95), (0.01, 0.0)).name == "fault_found"


def test_a_unit_is_not_healthy_while_its_assessment_asks_for_action() -> None:
    """Whatever the cycle shows."""
    chances = _chances(no_fault=0.97)
    assert _verdict(chances, (0.0, 0.01)).name == "healthy"
    assert _verdict(chances, (0.0, 0.01), objected=True).name == "not_enough_to_tell"
    assert _verdict(chances, None).name == "not_enough_to_tell"


def test_one_candidate_is_an_answer() -> None:
    """A condenser in poor air: named as most likely, once, with the same probability on the page."""
    found = asked({"liquid_pressure": 428, "liquid_line_temperature": 111, "outdoor_fan_current": 1.1})
    answer = found.answer
    assert answer["verdict"] == "fault_not_told_apart"
    row = max(answer["hypotheses"], key=lambda one: one["probability"])
    assert row["probability"] >= 0.5
    for text in (answer["sentence"], of_visit(found, "customer").sentences[0]):
        assert "Most likely it is" in text
        assert row["text"].removesuffix(")") in text
        assert f"{chance(row['probability'])})" in text
        assert "do not show what" not in text


def test_the_headline_says_what_is_known() -> None:
    """No fault all but ruled out, and nothing named: something is wrong or misread, not "not enough"."""
    facts = DiagnosisFacts("not_enough_to_tell", {"no_fault": 0.002, "low_charge": 0.3})
    assert heading(facts.verdict, 0.002) == "Something is wrong or misread"
    for audience in get_args(Audience):
        assert what(facts, audience).startswith("Something is wrong or misread")


# ---------------------------------------------------------------- probabilities in words


@pytest.mark.parametrize(
    ("probability", "shown"),
    [
        (0.0, "under 0.01"),
        (0.004, "under 0.01"),
        (0.006, "0.01"),
        (0.0951, "0.09"),
        (0.0999, "0.09"),
        (0.1, "0.10"),
        (0.796, "0.79"),
        (0.8, "0.80"),
        (0.896, "0.89"),
        (0.9, "0.90"),
        (0.947, "0.94"),
        (0.994, "0.99"),
        (0.996, "over 0.99"),
        (1.0, "over 0.99"),
        (0.0502, "0.06"),
        (0.05, "0.05"),
    ],
)
def test_a_probability_is_rounded_once_and_never_across_a_decision(probability: float, shown: str) -> None:
    """By hand: two digits, kept on its side of 0.05, 0.1, 0.8, 0.9 and 0.95, and never certain."""
    assert chance(probability) == shown


def test_every_probability_of_the_examples_is_printed_by_that_rule() -> None:
    """No 0.00 and no 1.00 in any sentence of a diagnosis."""
    for body in diagnosis_examples().values():
        answer = diagnose(DiagnosisRequest.model_validate(copy.deepcopy(dict(body))))
        texts = [answer["sentence"], *(t for h in answer["hypotheses"] for t in h["evidence_for"])]
        assert not any(re.search(r"(?:probability|\()\s*(?:0\.00|1\.00)", text) for text in texts)


def test_a_correction_that_no_instrument_can_have_names_no_reading() -> None:
    """Three deviations of a gross mistake: 18 K of a thermometer, a quarter of a pressure."""
    assert Mistake("measurement_mistake", "run.readings.suction_pressure", 0.0, 0.0, 2.9).credible
    assert not Mistake("measurement_mistake", "run.readings.suction_pressure", 0.0, 0.0, -3.1).credible
