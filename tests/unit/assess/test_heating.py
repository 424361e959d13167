"""Checks of a heating run: defrost, frost, auxiliary heat, the hot line, the maker's table.

What is usual in operation is common practice, no source, unless a line names one.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from pydantic import ValidationError

from schemas.assessments import AssessmentRequest
from service.intake.refusals import RefusedError
from tests.conftest import Assess, visit
from tests.unit.assess.test_assessment import codes, finding, healthy

#: An invented healthy heat pump at 47 °F outdoors, with saturation and pressures of a maker's chart (suction 99,
#: liquid 310 psi gauge at 1,000 cfm).
READINGS: dict[str, Any] = {
    "suction_pressure": 99,
    "liquid_pressure": 310,
    "suction_line_temperature": 42,
    "evaporator_outlet_temperature": 41,
    "liquid_line_temperature": 85,
    "discharge_line_temperature": 152,
    "vapour_line_temperature": 145,
    "outdoor_air_dry_bulb": 47,
    "outdoor_air_wet_bulb": 39,
    "outdoor_coil_leaving_air_dry_bulb": 41,
    "return_air_dry_bulb": 70,
    "supply_air_dry_bulb": 95.6,
    "airflow": 1050,
    "outdoor_unit_power": 1870,
    "indoor_unit_power": 380,
}
RATED = {
    "cooling_capacity": 30000,
    "heating_capacity": 29000,
    "heating_cop": 3.78,
    "heating_capacity_low": 18200,
    "heating_cop_low": 2.55,
}
KIT = {
    "gauges": {"type": "pressure_transducer"},
    "clamps": {"type": "thermistor_pipe_clamp"},
    "air": {"type": "psychrometer"},
    "hood": {"type": "airflow_hood"},
    "power": {"type": "power_meter"},
}


def winter(run: dict[str, Any] | None = None, unit: dict[str, Any] | None = None, **changes: Any) -> dict[str, Any]:  # noqa: ANN401
    """The healthy heating visit, changed; None removes a reading."""
    readings = {name: number for name, number in {**READINGS, **changes}.items() if number is not None}
    return visit(
        site={"altitude": 300},
        kit=KIT,
        unit={
            "mode": "heating",
            "refrigerant": "R-410A",
            "metering_device": "thermostatic_expansion_valve",
            "rated": RATED,
            **(unit or {}),
        },
        run={"minutes_since_defrost": 40, **(run or {})},
        readings=readings,
    )


def test_a_healthy_winter_visit_passes(assessed: Assess) -> None:
    """Usable, nothing to act on, and each side of the cycle judged."""
    answer = assessed(winter())
    assert answer["usability"]["grade"] == "usable"
    assert codes(answer) == {"heating_not_graded"}
    assert {f["priority"] for f in answer["findings"]} <= {"none", "look_closer", "better_instrument"}
    assert not [f for f in answer["findings"] if f["grade"] == "nonconforming"]
    for name in (
        "condensing_over_return_usual",
        "evaporating_under_outdoor_usual",
        "discharge_superheat_flooding_heating",
        "high_pressure_cut_out_heating",
    ):
        assert finding(answer, name)["grade"] == "conforming"


# ---------------------------------------------------------------- defrost and frost


@pytest.mark.parametrize(
    ("run", "code", "grade"),
    [
        ({"defrosting": True, "minutes_since_defrost": None}, "defrosting", "not_usable"),
        # The first five minutes count as defrost (10 CFR 430 subpart B appendix M, older edition).
        ({"minutes_since_defrost": 4.9}, "defrost_just_ended", "not_usable"),
        ({"minutes_since_defrost": 5}, "soon_after_defrost", "usable_with_reservations"),
        ({"minutes_since_defrost": 14}, "soon_after_defrost", "usable_with_reservations"),
        ({"minutes_since_defrost": 15}, None, "usable"),
        ({"frost_on_outdoor_coil": True}, "frost_on_coil", "usable_with_reservations"),
    ],
)
def test_defrost_and_frost(assessed: Assess, run: dict[str, Any], code: str | None, grade: str) -> None:
    """Not usable, with reservation, or without a word; what stops also keeps the unit from being judged."""
    answer = assessed(winter(run))
    assert codes(answer) - {"heating_not_graded"} == ({code} if code else set())
    assert answer["usability"]["grade"] == grade
    judged = {f["grade"] for f in answer["findings"] if f["limit"] and f["limit"]["id"].endswith("_usual")}
    stopped = code in ("defrosting", "defrost_just_ended", "frost_on_coil")
    assert ("not_assessed" in judged) == stopped
    if stopped:
        assert finding(answer, "heating_capacity_rating")["grade"] == "not_assessed"
        assert finding(answer, "discharge_superheat_flooding_heating")["grade"] == "not_assessed"


def test_a_defrost_is_asked_for_where_units_defrost(assessed: Assess) -> None:
    """Below 40 °F outdoors; a run in milder air needs none, and "not defrosting" does not say when one ended."""
    unsaid: dict[str, Any] = {"minutes_since_defrost": None}
    cold: dict[str, Any] = {
        "outdoor_air_dry_bulb": 35,
        "outdoor_air_wet_bulb": 33,
        "outdoor_coil_leaving_air_dry_bulb": 30,
    }
    assert "defrost_not_stated" in codes(assessed(winter(unsaid, **cold, suction_pressure=78)))
    assert "defrost_not_stated" not in codes(assessed(winter(unsaid)))


def test_frost_that_forms_is_a_note(assessed: Assess) -> None:
    """Evaporating at 17 °F in air whose dew point is 31 °F; not where the technician saw a clear coil."""
    frosty: dict[str, Any] = {
        "outdoor_air_dry_bulb": 34,
        "outdoor_air_wet_bulb": 33,
        "outdoor_coil_leaving_air_dry_bulb": 29,
        "suction_pressure": 73,
    }
    assert "frost_forms" in codes(assessed(winter(**frosty)))
    assert "frost_forms" not in codes(assessed(winter({"frost_on_outdoor_coil": False}, **frosty)))
    dry: dict[str, Any] = {**frosty, "outdoor_air_wet_bulb": 22.5}
    assert "frost_forms" not in codes(assessed(winter(**dry)))


# ---------------------------------------------------------------- auxiliary heat


@pytest.mark.parametrize(
    "more", [{"auxiliary_heat_power": 5000}, {"auxiliary_heat_current": 21, "line_voltage": 238}, {}]
)
def test_the_heat_pump_is_not_judged_with_strips_on(assessed: Assess, more: dict[str, Any]) -> None:
    """5 kW raise the supply air by another 15 °F; refrigerant limits stay, as the strips follow the coil."""
    given = {name: {"value": number, "instrument": "power"} for name, number in more.items()}
    answer = assessed(winter({} if more else {"auxiliary_heat_on": True}, supply_air_dry_bulb=110.7, **given))
    assert "auxiliary_heat_on" in codes(answer)
    assert finding(answer, "condensing_over_return_usual")["grade"] == "conforming"
    assert [f["grade"] for f in answer["findings"] if f["quantity"].startswith("share_of_rated")] in (
        ["not_assessed"],
        [],
    )
    assert ("heating_capacity_air_side" in answer["derived"]) == bool(more)
    said = next(n["sentence"] for n in answer["usability"]["notices"] if n["code"] == "auxiliary_heat_on")
    assert ("refrigerant side alone" in said) != bool(more)


def test_strips_of_zero_watts_are_off(assessed: Assess) -> None:
    assert "auxiliary_heat_on" not in codes(assessed(winter(auxiliary_heat_power=0)))


@pytest.mark.parametrize(
    ("stated", "readings"),
    [
        (True, {"auxiliary_heat_power": 0}),
        (False, {"auxiliary_heat_power": 5000}),
        (False, {"auxiliary_heat_current": {"value": 20, "instrument": "power"}}),
    ],
)
def test_strips_that_contradict_their_reading_are_refused(
    assessed: Assess, stated: bool, readings: dict[str, Any]
) -> None:
    with pytest.raises(RefusedError) as refused:
        assessed(winter({"auxiliary_heat_on": stated}, **readings))
    assert refused.value.refusals[0].pointer == "/run/auxiliary_heat_on"


def test_a_meter_that_sees_the_strips_is_named(assessed: Assess) -> None:
    """10 kW are no blower: 441 W per 1,000 cfm is the usual default."""
    answer = assessed(winter(indoor_unit_power=10_000, supply_air_dry_bulb=124))
    assert "indoor_unit_power_too_large" in codes(answer)
    assert finding(answer, "heating_capacity_rating")["grade"] == "not_assessed"
    assert "indoor_unit_power_too_large" not in codes(assessed(winter(indoor_unit_power=700)))


# ---------------------------------------------------------------- the hot line, and the other mode


def test_the_vapour_line_is_not_the_suction_line(assessed: Assess) -> None:
    """The large line is the usual place of the suction clamp, and is hot in heating."""
    answer = assessed(winter(suction_line_temperature=146, compressor_inlet_temperature=42))
    assert "vapour_line_as_suction_line" in codes(answer)
    assert "not_credible" not in codes(answer)
    assert answer["usability"]["grade"] == "not_usable"


def test_the_port_of_the_vapour_line_is_no_suction_port(assessed: Assess) -> None:
    """Both gauges on the high side; no notice says that the compressor does not pump."""
    answer = assessed(winter(suction_pressure=318))
    found = codes(answer)
    assert "suction_gauge_on_vapour_line" in found
    assert not found & {"not_pumping_suspected", "no_pressure_lift", "evaporating_over_outdoor_air", "not_credible"}
    assert finding(answer, "evaporating_under_outdoor_usual")["grade"] == "not_assessed"


def test_a_difference_that_no_heat_pump_has_is_shown_as_one(assessed: Assess) -> None:
    """R-410A condenses near 150 °F at 620 psig (a common chart): some 105 °F over return air at 45 °F."""
    answer = assessed(winter(liquid_pressure=620, return_air_dry_bulb=45, supply_air_dry_bulb=75))
    said = next(n["sentence"] for n in answer["usability"]["notices"] if n["code"] == "not_credible")
    found = re.search(r"a condensing temperature over return air of ([\d.]+) °F", said)
    assert found is not None
    assert float(found.group(1)) == pytest.approx(105, abs=4)


def test_a_stopped_heat_pump_is_no_wrong_port(assessed: Assess) -> None:
    """Pressures equal at the saturation of the outdoor air."""
    found = codes(assessed(winter(suction_pressure=132, liquid_pressure=134, discharge_line_temperature=60)))
    assert "suction_gauge_on_vapour_line" not in found
    assert "not_pumping_suspected" in found


@pytest.mark.parametrize(
    ("run", "more"),
    [
        ({}, {"vapour_line_temperature": 140}),
        ({}, {"outdoor_coil_leaving_air_dry_bulb": 78, "outdoor_air_dry_bulb": 89}),
        ({"minutes_since_defrost": 30}, {}),
        ({}, {"auxiliary_heat_power": 9000}),
    ],
)
def test_heating_under_cooling_is_named(assessed: Assess, run: dict[str, Any], more: dict[str, Any]) -> None:
    """A reading or a statement that only heating has."""
    body = healthy(**more)
    body["run"] |= run
    answer = assessed(body)
    found = next(n for n in answer["usability"]["notices"] if n["code"] == "heating_suspected")
    assert "Set it to heating" in found["sentence"]
    assert answer["usability"]["grade"] == "not_usable"


@pytest.mark.parametrize(
    "more",
    [
        {"outdoor_coil_leaving_air_dry_bulb": 106},
        {"condenser_leaving_air_dry_bulb": 106},
        {"vapour_line_temperature": 52, "liquid_line_temperature": 97},
    ],
)
def test_cooling_under_heating_is_named(assessed: Assess, more: dict[str, Any]) -> None:
    """At 89 °F outdoors, where no coil defrosts."""
    readings = {"outdoor_air_dry_bulb": 89, "suction_pressure": 126, "liquid_pressure": 352, **more}
    answer = assessed(visit(unit={"mode": "heating", "refrigerant": "R-410A"}, readings=readings))
    found = next(n for n in answer["usability"]["notices"] if n["code"] == "cooling_suspected")
    assert "Set it to cooling" in found["sentence"]


def test_a_defrost_at_the_outdoor_unit_is_not_taken_for_cooling(assessed: Assess) -> None:
    """In a defrost the outdoor coil is the hot one, at 35 °F outdoors."""
    more: dict[str, Any] = {
        "outdoor_coil_leaving_air_dry_bulb": 50,
        "outdoor_air_dry_bulb": 35,
        "vapour_line_temperature": 45,
    }
    found = codes(assessed(winter(**more, outdoor_air_wet_bulb=33)))
    assert "cooling_suspected" not in found
    assert "outdoor_coil_leaving_air_over_outdoor" in found


# ---------------------------------------------------------------- limits


@pytest.mark.parametrize(
    ("changes", "limit"),
    [
        ({"liquid_pressure": 560}, "high_pressure_near_cut_out_heating"),
        ({"liquid_pressure": 480, "liquid_line_temperature": 115}, "condensing_over_return_usual"),
        (
            {"suction_pressure": 62, "evaporator_outlet_temperature": 25, "suction_line_temperature": 26},
            "evaporating_under_outdoor_usual",
        ),
        ({"suction_line_temperature": 55, "evaporator_outlet_temperature": 41}, "reversing_valve_rise_usual"),
        ({"discharge_line_temperature": 105, "vapour_line_temperature": 102}, "discharge_superheat_flooding_heating"),
        ({"vapour_line_temperature": 262, "discharge_line_temperature": 275}, "vapour_line_temperature_highest"),
        ({"supply_air_dry_bulb": 86, "outdoor_unit_power": 1300}, "heating_capacity_rating"),
    ],
)
def test_what_is_wrong_is_found(assessed: Assess, changes: dict[str, Any], limit: str) -> None:
    """Values far beyond each limit."""
    assert finding(assessed(winter(**changes)), limit)["grade"] == "nonconforming"


def test_the_net_of_condensing_follows_the_airflow(assessed: Assess) -> None:
    """45 °F over return air is usual at two thirds of the rated airflow, not at the rated one."""
    grades = [
        finding(assessed(winter(airflow=flow, liquid_pressure=460)), "condensing_over_return_usual")["grade"]
        for flow in (650, 1150)
    ]
    assert grades[0] == "conforming"
    assert grades[1] != "conforming"


# ---------------------------------------------------------------- the maker's table and the design load

ROW = {"mode": "heating", "outdoor_air_dry_bulb": 47, "capacity": 29000, "power": 2250}


def test_a_table_outside_its_rows_is_not_used(assessed: Assess) -> None:
    """The ratings serve in its place, and the answer says why."""
    colder = [{**ROW, "outdoor_air_dry_bulb": 17, "capacity": 18200}, {**ROW, "outdoor_air_dry_bulb": 30}]
    answer = assessed(winter(unit={"performance_table": colder}))
    row = next(n for n in answer["usability"]["notices"] if n["code"] == "performance_table_not_used")
    assert "the outdoor air dry bulb is outside the table's range" in row["sentence"]
    assert "table_capacity" not in answer["derived"]
    assert "share_of_rated_heating_capacity" in answer["derived"]


@pytest.mark.parametrize(
    ("table", "why"),
    [
        ([{**ROW, "mode": "cooling"}], "none of its rows is for the mode"),
        ([{**ROW, "airflow": 900}, {**ROW, "airflow": 1200, "capacity": 30000}], "airflow, which is not given"),
    ],
)
def test_a_table_that_does_not_apply_says_so(assessed: Assess, table: list[dict[str, Any]], why: str) -> None:
    answer = assessed(winter(unit={"performance_table": table}, airflow=None))
    row = next(n for n in answer["usability"]["notices"] if n["code"] == "performance_table_not_used")
    assert why in row["sentence"]


@pytest.mark.parametrize(
    ("unit", "pointer"),
    [
        ({"performance_table": [{"outdoor_air_dry_bulb": 47}]}, "/unit/performance_table/0"),
        ({"performance_table": [ROW, {**ROW, "capacity": 30000}]}, "/unit/performance_table"),
        (
            {"design_load": {"heat_loss": 30000, "outdoor_air_dry_bulb": 66}},
            "/unit/design_load/outdoor_air_dry_bulb",
        ),
        # In thousands of Btu/h, and in kilowatts.
        ({"performance_table": [{"outdoor_air_dry_bulb": 47, "capacity": 34}]}, "/unit/performance_table/0/capacity"),
        ({"performance_table": [{"outdoor_air_dry_bulb": 47, "power": 2.85}]}, "/unit/performance_table/0/power"),
        ({"design_load": {"heat_loss": 38, "outdoor_air_dry_bulb": 12}}, "/unit/design_load/heat_loss"),
        ({"rated": {"heating_capacity": 34000, "heating_capacity_low": 36000}}, "/unit/rated/heating_capacity_low"),
        ({"rated": {"heating_cop": 2.4, "heating_cop_low": 3.5}}, "/unit/rated/heating_cop_low"),
    ],
)
def test_tables_and_loads_that_cannot_be_are_refused(assessed: Assess, unit: dict[str, Any], pointer: str) -> None:
    """A row that says nothing, two values for one place, a design temperature at which nothing is heated."""
    with pytest.raises(RefusedError) as refused:
        assessed(winter(unit=unit))
    assert pointer in {one.pointer for one in refused.value.refusals}


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"outdoor_air_dry_bulb": 85, "outdoor_air_wet_bulb": 70}, "outdoor_air_warm_for_heating"),
        # A coil at 20 °F cannot cool air of 58 °F to 27 °F by more than a usual net of 25 °F allows.
        (
            {"outdoor_air_dry_bulb": 58, "outdoor_air_wet_bulb": None, "outdoor_coil_leaving_air_dry_bulb": 27},
            "not_credible",
        ),
        # The refrigerant condenses at 95 °F.
        ({"supply_air_dry_bulb": 119}, "supply_air_over_condensing"),
        ({"auxiliary_heat_power": 12000}, "auxiliary_heat_over_air"),
    ],
)
def test_what_no_heat_pump_shows_is_not_judged(assessed: Assess, changes: dict[str, Any], code: str) -> None:
    """Common practice, no source; the second law for supply air against the refrigerant."""
    answer = assessed(winter(**changes))
    assert code in codes(answer)
    assert answer["usability"]["grade"] == "not_usable"


def test_what_settles_a_doubt_is_read_next(assessed: Assess) -> None:
    """A notice that asks for an entry, and the list of what to add, agree; what is given is not asked for again."""
    body = winter(outdoor_air_dry_bulb=36.0, outdoor_air_wet_bulb=None)
    del body["run"]["minutes_since_defrost"]
    answer = assessed(body)
    assert any(row["code"] == "defrost_not_stated" for row in answer["usability"]["notices"])
    assert answer["next_readings"][0] == {"add": ["run.minutes_since_defrost"], "unlocks": []}
    on = assessed(winter({"auxiliary_heat_on": True}))
    ways = [way["add"] for row in on["missing"] for way in row["unlock"]] + [row["add"] for row in on["next_readings"]]
    assert ["run.readings.auxiliary_heat_power"] in ways
    assert not any("run.auxiliary_heat_on" in way for way in ways)


def test_an_hspf_is_no_cop() -> None:
    """No heat pump is rated over 7 at 47 °F; an HSPF of 8.2 is a COP of about 3.6 (resdx, title 24)."""
    with pytest.raises(ValidationError):
        AssessmentRequest.model_validate(winter(unit={"rated": {"heating_cop": 8.2}}))


def test_an_outdoor_wet_bulb_over_its_dry_bulb_is_refused(assessed: Assess) -> None:
    with pytest.raises(RefusedError) as refused:
        assessed(winter(outdoor_air_wet_bulb=60))
    assert refused.value.refusals[0].pointer == "/run/readings/outdoor_air_wet_bulb"


def test_the_table_is_the_door_chart_in_cooling_too(assessed: Assess) -> None:
    """Its subcooling replaces the nameplate's as target, and its capacity the rating brought to the weather."""
    table = [
        {
            "outdoor_air_dry_bulb": outdoor,
            "return_air_wet_bulb": wet,
            "capacity": 36000 - 150 * (outdoor - 95) + 400 * (wet - 67),
            "power": 2900 + 30 * (outdoor - 95),
            "subcooling": 12 + (95 - outdoor) / 10,
        }
        for outdoor in (75, 85, 95, 105)
        for wet in (59, 63, 67)
    ]
    body = healthy(
        airflow=1180, supply_air_wet_bulb=55.5, outdoor_unit_power=2500, indoor_unit_power=420, outdoor_air_dry_bulb=90
    )
    body["unit"]["rated"] = {"cooling_capacity": 36000, "eer": 11.4}
    plain = assessed(body)
    body["unit"]["performance_table"] = table
    answer = assessed(body)
    assert answer["derived"]["target_subcooling"]["value"] == pytest.approx(12.5)
    printed = 36000 - 150 * (90 - 95) + 400 * (63.5 - 67)
    assert answer["derived"]["table_capacity"]["value"] == pytest.approx(printed, rel=1e-6)
    share = answer["derived"]["cooling_capacity_share_of_rating"]["value"]
    assert share == pytest.approx(100 * answer["derived"]["cooling_capacity"]["value"] / printed, rel=1e-6)
    assert share != pytest.approx(plain["derived"]["cooling_capacity_share_of_rating"]["value"], rel=1e-3)


def test_every_unlock_is_a_field_to_add(assessed: Assess) -> None:
    """No leaf that the intake prepares, and no table that a caller need not have."""
    for body in (winter(), winter(airflow=None, outdoor_unit_power=None), visit(unit={"mode": "heating"})):
        for row in assessed(body)["missing"]:
            for way in row["unlock"]:
                assert not [path for path in way["add"] if "table." in path or "heating_map" in path or "off" in path]
