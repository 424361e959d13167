"""What comes before charge, and limits by what the unit is: judgement on whole visits."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI

from schemas.assessments import AssessmentRequest
from service.assess import usability
from service.assess.before_charge import signs_of_starvation
from service.assess.findings import bounds_of
from service.assess.pipeline import assess
from service.intake.take_in import take_in
from service.reference.faults import FAULTS
from service.reference.limits import LIMITS
from tests.answers import untyped
from tests.conftest import Assess, visit
from tests.simulated import State, request, truth

PSI = 6894.757293168361
FLUIDS = {"R-410A": "R410A", "R-22": "R22", "R-32": "R32", "R-134a": "R134a", "R-290": "R290"}
VALVE = "thermostatic_expansion_valve"
#: A fine kit, so that what is decided is the limit.
KIT = {
    "gauges": {"type": "pressure_transducer", "accuracy": {"percent_of_reading": 0.5}},
    "clamps": {"type": "thermistor_pipe_clamp"},
    "air": {"type": "psychrometer"},
}


def kelvin(degf: float) -> float:
    return (degf - 32.0) / 1.8 + 273.15


def gauge(refrigerant: str, degf: float, quality: int) -> float:
    """Gauge pressure [psi] at saturation, straight from CoolProp."""
    found = PropsSI("P", "T", kelvin(degf), "Q", quality, FLUIDS[refrigerant])
    return float(found - 101325.0) / PSI


def cooling(
    evaporating: float = 45.0,
    condensing: float = 112.0,
    superheat: float = 10.0,
    refrigerant: str = "R-410A",
    device: str = VALVE,
    rated: dict[str, float] | None = None,
    **readings: float,
) -> dict[str, Any]:
    """A visit at 95/80/67 °F from its cycle, saturation from CoolProp; readings [°F, psig] override."""
    found = {
        "suction_pressure": gauge(refrigerant, evaporating, 1),
        "liquid_pressure": gauge(refrigerant, condensing, 0),
        "suction_line_temperature": evaporating + superheat,
        "liquid_line_temperature": max(condensing - 10.0, 96.0),
        "outdoor_air_dry_bulb": 95.0,
        "return_air_dry_bulb": 80.0,
        "return_air_wet_bulb": 67.0,
        "supply_air_dry_bulb": 61.0,
    } | readings
    unit: dict[str, Any] = {
        "refrigerant": refrigerant,
        "metering_device": device,
        "nameplate": {"subcooling": 10},
    }
    if rated is not None:
        unit["rated"] = rated
    return visit(unit=unit, kit=dict(KIT), site={"altitude": 0}, readings=found)


def codes(answer: dict[str, Any]) -> list[str]:
    return [notice["code"] for notice in answer["usability"]["notices"]]


def finding(answer: dict[str, Any], limit: str) -> dict[str, Any]:
    return next(dict(f) for f in answer["findings"] if f["limit"] is not None and f["limit"]["id"] == limit)


# ---------------------------------------------------------------- nearly empty

#: Suction and liquid [psig] of a complaint from the field, with superheats and splits [°F] as such a unit
#: shows them (R-410A, 95/80/67 °F; common practice, no source).
NEARLY_EMPTY = [(65.0, 285.0, 30.0, 10.0), (45.0, 240.0, 60.0, 6.0), (40.0, 215.0, 85.0, 4.0)]


@pytest.mark.parametrize(("suction", "liquid", "superheat", "split"), NEARLY_EMPTY)
def test_a_nearly_empty_circuit_comes_first_and_stops_the_compressor(
    assessed: Assess, suction: float, liquid: float, superheat: float, split: float
) -> None:
    """It is said before a gauge is doubted, and the visit can be used."""
    evaporating = float(PropsSI("T", "P", suction * PSI + 101325.0, "Q", 1, "R410A")) * 1.8 - 459.67
    answer = assessed(
        cooling(
            suction_pressure=suction,
            liquid_pressure=liquid,
            suction_line_temperature=evaporating + superheat,
            liquid_line_temperature=96.0,
            supply_air_dry_bulb=80.0 - split,
        )
    )
    assert answer["usability"]["grade"] == "usable_with_reservations"
    first = answer["usability"]["notices"][0]
    assert first["code"] == "nearly_empty_suspected"
    words = first["sentence"]
    assert words.index("most of the charge is gone") < words.index("Stop the compressor")
    assert words.index("Stop the compressor") < words.index("suspect a gauge")
    assert "starved_compressor" in {caution["id"] for caution in answer["cautions"]}
    top = answer["findings"][0]
    assert top["priority"] == "safety"
    assert top["quantity"] == "evaporating_temperature"
    assert "Stop the compressor" in top["sentence"]
    # A coil that freezes for want of refrigerant is not sent after filter and blower.
    assert finding(answer, "evaporating_temperature_freezing")["grade"] == "not_assessed"


@pytest.mark.parametrize("refrigerant", list(FLUIDS))
@pytest.mark.parametrize("device", [VALVE, "fixed_orifice", "capillary_tube"])
def test_nearly_empty_whatever_the_refrigerant_and_the_device(assessed: Assess, refrigerant: str, device: str) -> None:
    """The same state in temperatures: 8 °F, 5 °F under outdoor air, 55 °F of superheat, a split of 7 °F."""
    answer = assessed(
        cooling(8.0, 90.0, 55.0, refrigerant, device, supply_air_dry_bulb=73.0, liquid_line_temperature=96.0)
    )
    assert codes(answer)[0] == "nearly_empty_suspected"
    assert answer["usability"]["grade"] == "usable_with_reservations"
    assert answer["findings"][0]["priority"] == "safety"


@pytest.mark.parametrize(
    "changes",
    [
        {"supply_air_dry_bulb": 60.0},  # the air is cooled as ever: a gauge is wrong
        {"suction_line_temperature": 18.0},  # the gas is cold: an iced coil, no air
        {"liquid_pressure": 380.0},  # a full head: restricted or starved device
        {"suction_pressure": 100.0},  # a suction as usual
        {"liquid_pressure": 12.0},  # bar for psi
    ],
)
def test_one_sign_missing_is_no_empty_circuit(assessed: Assess, changes: dict[str, float]) -> None:
    """All signs have to agree (common practice, no source)."""
    body = cooling(8.0, 90.0, 55.0, supply_air_dry_bulb=73.0, liquid_line_temperature=96.0)
    assert "nearly_empty_suspected" in codes(assessed(body))
    body["run"]["readings"] |= changes
    assert "nearly_empty_suspected" not in codes(assessed(body))


def test_supply_air_warmer_than_return_air_is_said_so(assessed: Assess) -> None:
    """Not as a condensing temperature: a blower warms air that nothing cools."""
    body = cooling(8.0, 90.0, 55.0, supply_air_dry_bulb=80.5, liquid_line_temperature=96.0)
    sentence = assessed(body)["usability"]["notices"][0]["sentence"]
    assert "supply air 0.5 °F warmer than the return air" in sentence
    assert sentence.count("condensing temperature") == 1


def test_two_signs_beside_the_suction_are_needed() -> None:
    """A suction gauge that reads nothing makes superheat by itself."""
    body = cooling(8.0, 90.0, 55.0)
    for name in ("outdoor_air_dry_bulb", "supply_air_dry_bulb"):
        del body["run"]["readings"][name]
    assert "nearly_empty_suspected" not in codes(untyped(assess(AssessmentRequest.model_validate(body))))
    assert signs_of_starvation({}) == {}


def test_real_r22_under_an_r410a_plate_is_no_empty_circuit(assessed: Assess) -> None:
    """A healthy R-22 unit (68.5 psig is 40 °F, common charts) read on the R-410A scale."""
    body = cooling(
        suction_pressure=68.5,
        liquid_pressure=gauge("R-22", 115.0, 0),
        suction_line_temperature=50.0,
        liquid_line_temperature=105.0,
    )
    found = codes(assessed(body))
    assert "nearly_empty_suspected" not in found
    assert "wrong_refrigerant_suspected" in found


# ---------------------------------------------------------------- heat that is not rejected


@pytest.mark.parametrize("pressure", [560.0, 590.0])
def test_a_dead_outdoor_fan_comes_before_charge(assessed: Assess, pressure: float) -> None:
    """0 A, condensing 48 to 52 °F over outdoor air: fan and pressure first, no word of overcharge."""
    answer = assessed(
        cooling(50.0, 110.0, 12.0, liquid_pressure=pressure, liquid_line_temperature=122.0, outdoor_fan_current=0.0)
    )
    top = [f for f in answer["findings"] if f["priority"] in ("safety", "act")]
    assert top[0]["quantity"] == "outdoor_fan_current"
    assert top[0]["priority"] == "safety"
    assert {f["quantity"] for f in top} == {"outdoor_fan_current", "high_side_pressure_absolute"}
    for name in ("subcooling_deviation", "superheat"):
        charge = [f for f in answer["findings"] if f["quantity"] == name and f["limit"]["id"] != "superheat_floodback"]
        assert {f["grade"] for f in charge} == {"not_assessed"}
        assert "draws no current" in charge[0]["sentence"]
    assert {"motor_not_running", "heat_not_rejected"} <= set(codes(answer))
    assert answer["usability"]["grade"] == "usable_with_reservations"


@pytest.mark.parametrize(
    ("refrigerant", "pressure", "limit", "grade"),
    [
        # Switches open at 600 to 660 psig with R-410A and 400 to 450 psig with R-22 (value from memory).
        ("R-410A", 660.0, "high_pressure_cut_out", "nonconforming"),
        ("R-410A", 620.0, "high_pressure_cut_out", "nonconforming"),
        ("R-22", 450.0, "high_pressure_cut_out", "nonconforming"),
        ("R-22", 400.0, "high_pressure_cut_out", "nonconforming"),
        ("R-410A", 560.0, "high_pressure_cut_out", "conforming"),
        ("R-410A", 560.0, "high_pressure_near_cut_out", "nonconforming"),
        # A hot day's ordinary head: 25 °F over 110 °F outdoors.
        ("R-410A", 500.0, "high_pressure_near_cut_out", "conforming"),
        ("R-22", 310.0, "high_pressure_near_cut_out", "conforming"),
    ],
)
def test_high_pressure_near_the_usual_cut_out(
    assessed: Assess, refrigerant: str, pressure: float, limit: str, grade: str
) -> None:
    """For each refrigerant by the same saturation temperature."""
    body = cooling(
        50.0,
        110.0,
        12.0,
        refrigerant,
        liquid_pressure=pressure,
        outdoor_air_dry_bulb=110.0,
        liquid_line_temperature=122.0,
    )
    row = finding(assessed(body), limit)
    assert row["grade"] == grade
    if grade == "nonconforming":
        assert row["priority"] == ("safety" if limit == "high_pressure_cut_out" else "act")


@pytest.mark.parametrize(("refrigerant", "pressure"), [("R-410A", 50.0), ("R-22", 25.0)])
def test_low_pressure_at_the_usual_cut_out(assessed: Assess, refrigerant: str, pressure: float) -> None:
    """Where low-pressure switches open (value from memory)."""
    row = finding(
        assessed(cooling(refrigerant=refrigerant, suction_pressure=pressure)),
        "evaporating_temperature_lowest",
    )
    assert row["grade"] == "nonconforming"
    assert row["priority"] == "safety"


def test_a_unit_that_is_off_has_no_standing_motor(assessed: Assess) -> None:
    """Neither the compressor nor the fan draws current: nothing is said of the fan."""
    answer = assessed(visit(readings={"compressor_common_current": 0.0, "outdoor_fan_current": 0.0}))
    row = finding(answer, "outdoor_fan_running")
    assert row["grade"] == "not_assessed"
    assert "the unit is off" in row["sentence"]
    running = assessed(visit(readings={"outdoor_fan_current": 0.9, "indoor_blower_current": 3.0}))
    for name in ("outdoor_fan_running", "indoor_blower_running"):
        assert finding(running, name)["grade"] == "conforming"


def test_a_standing_fan_in_heating_may_be_a_defrost(assessed: Assess) -> None:
    """Common practice: the outdoor fan stands still while the coil defrosts."""
    answer = assessed(visit(unit={"mode": "heating"}, readings={"outdoor_fan_current": 0.0}))
    assert not [f for f in answer["findings"] if f["priority"] in ("safety", "act")]


# ---------------------------------------------------------------- where a technician alarms


@pytest.mark.parametrize(("refrigerant", "at"), [("R-410A", 101.6), ("R-22", 57.7)])
def test_a_coil_about_to_freeze(assessed: Assess, refrigerant: str, at: float) -> None:
    """101.6 and 57.7 psig are published for 32 °F; charts differ by 1 psi."""

    def found(suction: float) -> dict[str, Any]:
        return assessed(cooling(refrigerant=refrigerant, suction_pressure=suction, suction_line_temperature=45.0))

    derived = found(at)["derived"]["evaporating_temperature"]
    assert derived["value"] == pytest.approx(32.0, abs=0.35)
    low = finding(found(at - 4.0), "evaporating_temperature_freezing")
    assert (low["grade"], low["priority"]) == ("nonconforming", "act")
    assert finding(found(at + 4.0), "evaporating_temperature_freezing")["grade"] == "conforming"


@pytest.mark.parametrize(
    ("superheat", "grade"), [(5.0, "nonconforming"), (15.0, "nonconforming"), (55.0, "conforming")]
)
def test_flooding_shows_at_the_discharge(assessed: Assess, superheat: float, grade: str) -> None:
    """Under 20 to 25 °F of discharge superheat (value from memory), where suction superheat cannot decide."""
    body = cooling(45.0, 112.0, 3.5, discharge_line_temperature=112.0 + superheat)
    body["kit"]["clamps"] = {"type": "thermocouple_pipe_clamp"}
    answer = assessed(body)
    assert finding(answer, "superheat_floodback")["grade"] == "inconclusive"
    row = finding(answer, "discharge_superheat_flooding")
    assert row["grade"] == grade
    assert row["priority"] == ("act" if grade == "nonconforming" else "none")


@pytest.mark.parametrize(("isentropic", "grade"), [(0.68, "conforming"), (0.35, "nonconforming")])
def test_isentropic_efficiency_far_under_a_healthy_one(assessed: Assess, isentropic: float, grade: str) -> None:
    """A simulated compressor (CoolProp); healthy ones reach 0.6 to 0.75 (common practice, no source)."""
    row = finding(assessed(request(truth(State(isentropic=isentropic)))), "isentropic_efficiency_usual")
    assert row["grade"] == grade
    assert row["priority"] != "act"


# ---------------------------------------------------------------- limits by what the unit is


@pytest.mark.parametrize(
    ("over", "rated", "grade"),
    [
        # About 30 °F over outdoor air for usual units, 20 °F for those of high efficiency (common practice).
        (26.0, {"eer": 12.0}, "nonconforming"),
        (16.0, {"eer": 12.0}, "conforming"),
        (24.0, {"eer": 9.0}, "conforming"),
        (33.0, {"eer": 9.0}, "nonconforming"),
        # Without a rating neither the narrow nor the wide limit is the unit's.
        (19.0, None, "conforming"),
        (29.0, None, "inconclusive"),
        (39.0, None, "nonconforming"),
    ],
)
def test_condensing_over_ambient_follows_the_rating(
    assessed: Assess, over: float, rated: dict[str, float] | None, grade: str
) -> None:
    """A foul condenser is not cleared by a limit for another kind of unit."""
    row = finding(assessed(cooling(condensing=95.0 + over, rated=rated)), "condensing_over_ambient_usual")
    assert row["grade"] == grade
    assert ("No rated efficiency is given" in row["sentence"]) is (rated is None)
    assert row["priority"] != "act"


@pytest.mark.parametrize(
    ("name", "rating", "upper"),
    [
        ("seer", 14.0, 20.0),
        ("seer", 10.0, 30.0),
        ("seer2", 13.4, 20.0),
        ("seer2", 9.5, 30.0),
        ("eer2", 11.7, 20.0),
        ("eer2", 8.6, 30.0),
        ("eer", 11.7, 20.0),
    ],
)
def test_any_rated_efficiency_sets_the_limit(name: str, rating: float, upper: float) -> None:
    """SEER 14 and 10 units, and what goes with them in SEER2 (0.95) and EER2 (value from memory)."""
    taken = take_in(AssessmentRequest.model_validate(cooling()))
    rated = {f"unit.rated.{name}": rating / 3.412142}  # Btu/(W h), as EER is kept
    taken = replace(taken, constants={**taken.constants, **rated})
    bounds = bounds_of(LIMITS["condensing_over_ambient_usual"], taken)
    assert bounds is not None
    assert bounds[1] == pytest.approx(upper / 1.8)


def test_a_condenser_with_much_less_air_does_not_pass(assessed: Assess) -> None:
    """40 % less air raises condensing by 10 °F (5.7 K; recommended sizes of published fits): 19 to 29 °F over."""
    row = finding(assessed(cooling(condensing=95.0 + 19.0 + 10.0)), "condensing_over_ambient_usual")
    assert row["probability_conforming"] < 0.9


@pytest.mark.parametrize(
    ("drop", "total", "rated", "grade"),
    [
        (0.05, 0.12, 0.5, "conforming"),  # a clean filter in easy ducts
        (0.17, 0.90, 0.5, "nonconforming"),  # a dirty one in hard ducts
        (0.17, 0.50, 1.0, "conforming"),  # a blower rated for more
        (0.05, 0.12, None, "conforming"),
        (0.17, 0.90, None, "nonconforming"),
    ],
)
def test_filter_is_judged_by_the_rated_static_pressure(
    assessed: Assess, drop: float, total: float, rated: float | None, grade: str
) -> None:
    """Up to 20 % of it (common practice); 0.5 in. w.c. is the usual rating (value from memory)."""
    unit: dict[str, Any] = {"indoor_unit": "furnace_with_coil"}
    if rated is not None:
        unit["nameplate"] = {"maximum_external_static_pressure": rated}
    readings = {"filter_pressure_drop": drop, "total_external_static_pressure": total}
    row = finding(assessed(visit(unit=unit, readings=readings)), "filter_share_usual")
    assert row["grade"] == grade


def test_a_share_of_the_rating_never_asks_to_act(assessed: Assess) -> None:
    """A tolerance of the laboratory is no limit of the field."""
    answer = assessed(request(truth(State(mass_flow=0.036, airflow=800.0))))
    for name in ("cooling_capacity_rating", "eer_rating"):
        assert LIMITS[name].basis == "common_practice"
        assert finding(answer, name)["priority"] in ("look_closer", "none", "better_instrument")
    row = finding(answer, "cooling_capacity_rating")
    assert row["grade"] == "nonconforming"
    assert row["limit"]["lower"] == pytest.approx(90.0)


# ---------------------------------------------------------------- a dry coil


def _at(dry: float, wet: float) -> dict[str, Any]:
    body = request(truth(State(return_dry_bulb=dry, return_wet_bulb=wet, supply_humidity=0.6)))
    for name in ("return_air_relative_humidity", "supply_air_relative_humidity"):
        del body["run"]["readings"][name]
    return body


def test_a_dry_climate_gets_a_share_of_the_rating(assessed: Assess) -> None:
    """80/55 °F is drier than tests C and D of AHRI 210/240 (80/57 °F or less): the coil is dry in both,
    so wet bulb does not matter any more."""
    answer = assessed(_at(80.0, 55.0))
    assert "cooling_capacity_share_of_rating" in answer["derived"]
    assert "dry_coil" in codes(answer)
    factors = [
        assessed(_at(80.0, wet))["derived"]["cooling_capacity_at_rating_conditions"]["value"]
        / assessed(_at(80.0, wet))["derived"]["cooling_capacity"]["value"]
        for wet in (55.0, 56.0, 57.0)
    ]
    # The unit of these visits is the same machine at the same state, so is its factor.
    assert factors[0] == pytest.approx(factors[2], rel=0.003)
    assert factors[1] == pytest.approx(factors[2], rel=0.003)
    assert "dry_coil" not in codes(assessed(_at(80.0, 63.0)))


def test_a_dry_coil_far_from_the_rating_dry_bulb_gets_none(assessed: Assess) -> None:
    """A dry coil follows the dry bulb, of which the map knows nothing."""
    assert "cooling_capacity_share_of_rating" not in assessed(_at(66.0, 50.0))["derived"]


# ---------------------------------------------------------------- harm of overcharge


def test_overcharge_harms_a_unit_with_a_fixed_device() -> None:
    """An expansion valve holds superheat, so no liquid comes back for that reason (common practice)."""
    row = FAULTS["overcharge"]
    assert row.harm_with(VALVE) == ""
    assert "liquid" in row.harm_with("fixed_orifice")
    assert "liquid" in row.harm_with(None)
    assert FAULTS["evaporator_airflow"].harm_with(VALVE)


def test_before_charge_is_asked_first() -> None:
    """What is found there comes before a reading is doubted."""
    names = [check.__module__ for check in usability.CHECKS]
    assert names[0].endswith("before_charge")


def test_no_refrigerant_side_of_a_liquid_line_that_may_carry_vapour(assessed: Assess) -> None:
    """Under about 1 K of subcooling a liquid line may carry vapour (common practice, no source), so neither its
    enthalpy nor a capacity by the refrigerant follows from its temperature.  R-410A at 380 psig: bubble point
    112.7 °F by CoolProp."""
    full, flashing = (assessed(cooling(liquid_pressure=380.0, liquid_line_temperature=line)) for line in (100.0, 112.0))
    assert "refrigerating_effect" in full["derived"]
    assert "refrigerating_effect" not in flashing["derived"]


@pytest.mark.parametrize("line", [310.0, 326.0])
def test_a_discharge_line_as_hot_as_a_nearly_empty_system_makes_it(assessed: Assess, line: float) -> None:
    """310 to 326 °F are shown by a nearly empty system (an independent simulation): taken, and over the limit of
    oil and insulation."""
    answer = assessed(cooling(discharge_line_temperature=line))
    assert finding(answer, "discharge_temperature_highest")["priority"] == "safety"
