"""The maker's table as the healthy unit of a diagnosis, and as the weather's map of a comparison.

Published rows (heating_tables): a unit that reads as its own chart says is healthy, and one that departs from it as
the handbook's signs say has that fault, however usual its readings are for other units.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from numpy.typing import NDArray

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.examples import comparison_examples, diagnosis_examples, plan_examples
from schemas.plans import PlanRequest
from service.compare.comparison import compare
from service.compare.plan import plan
from service.faults.diagnosis import diagnose
from service.faults.expectation import Expectation, expectation
from service.faults.weighing import examined
from service.uncertainty.asking import done
from service.unit.evidence import evidence
from service.unit.model import FOUND_IN_SECOND_WEATHER
from tests.answers import untyped
from tests.published.heating_tables import (
    OUTDOOR,
    UNIT_B,
    UNIT_B_SUCTION,
    UNIT_C,
    UNIT_C_DOWNFLOW,
    UNIT_C_SUCTION,
    UNIT_D,
)

Body = dict[str, Any]
CLAIMS = ("fault_found", "fault_not_told_apart")
UNITS = {
    "B": (UNIT_B[1000], UNIT_B_SUCTION),
    "C": (UNIT_C, UNIT_C_SUCTION),
    "C downflow": (UNIT_C_DOWNFLOW, UNIT_C_SUCTION),
}
KIT = {"gauges": {"type": "pressure_transducer"}, "clamps": {"type": "thermistor_pipe_clamp"}}


@cache
def saturation(psig: float, quality: int) -> float:
    """Saturation temperature [°F] of R-410A by CoolProp: dew point at 1, bubble point at 0."""
    return float(PropsSI("T", "P", (psig + 14.696) * 6_894.757, "Q", quality, "R410A")) * 1.8 - 459.67


def chart(name: str) -> list[Body]:
    """A published chart as a request gives it."""
    high, suction = UNITS[name]
    return [
        {"outdoor_air_dry_bulb": at, "suction_pressure": low, "liquid_pressure": liquid, "subcooling": subcooling}
        for at, low, (liquid, subcooling) in zip(OUTDOOR, suction, high, strict=True)
    ]


def winter(
    table: list[Body] | None, outdoor: float, suction: float, liquid: float, subcooling: float, **more: float
) -> Body:
    """A heat pump whose superheat is 9 °F, read as stated."""
    readings = {
        "suction_pressure": suction,
        "suction_line_temperature": round(saturation(suction, 1) + 9.0, 1),
        "liquid_pressure": liquid,
        "liquid_line_temperature": round(saturation(liquid, 0) - subcooling, 1),
        "outdoor_air_dry_bulb": outdoor,
        "return_air_dry_bulb": 70.0,
        **more,
    }
    return {
        "units": "imperial",
        "unit": {
            "mode": "heating",
            "refrigerant": "R-410A",
            "metering_device": "thermostatic_expansion_valve",
            **({"performance_table": table} if table else {}),
        },
        "kit": KIT,
        "run": {"minutes_running": 30, "minutes_since_defrost": 40, "readings": readings},
    }


def diagnosed(body: Body) -> Body:
    return untyped(diagnose(DiagnosisRequest.model_validate(body)))


def chance(answer: Body, fault: str) -> float:
    return next((float(row["probability"]) for row in answer["hypotheses"] if row["fault"] == fault), 0.0)


@pytest.mark.parametrize("name", UNITS)
def test_a_unit_that_reads_as_its_own_chart_is_not_condemned(name: str) -> None:
    high, suction = UNITS[name]
    for place in (1, 6):
        liquid, subcooling = high[place]
        answer = diagnosed(winter(chart(name), OUTDOOR[place], suction[place], liquid, subcooling))
        assert answer["verdict"] not in CLAIMS, (OUTDOOR[place], answer["sentence"])
        assert answer["expected_by_table"] == ["suction_pressure", "liquid_pressure", "subcooling"]
        healthy = answer["expected"]["subcooling"]
        assert healthy["band"]["low"] < subcooling < healthy["band"]["high"]


def test_what_is_usual_for_others_is_low_on_refrigerant_for_this_unit() -> None:
    """Low side, high side and subcooling fall with the charge (ACCA and ASHRAE handbooks; unit D's charge line)."""
    low = {"suction": 88.0, "liquid": 331.0, "subcooling": 13.0}
    without = diagnosed(winter(None, 47.0, **low))
    by_chart = diagnosed(winter(chart("C downflow"), 47.0, **low))
    assert without["verdict"] not in CLAIMS
    assert chance(by_chart, "low_charge") > chance(without, "low_charge") + 0.2
    assert chance(by_chart, "no_fault") < 0.5 * chance(without, "no_fault")
    assert by_chart["expected"]["subcooling"]["outside"]
    assert "its maker's table" in by_chart["sentence"]
    said = " ".join(step["text"] for step in by_chart["next_steps"])
    assert "needs its own heating chart" not in said
    notices = by_chart["assessment"]["usability"]["notices"]
    assert any(row["code"] == "performance_table_used" for row in notices)


def test_the_ends_of_a_charge_line_point_away_from_each_other() -> None:
    """Unit D: less charge lowers both pressures and heats the discharge; more does the opposite."""
    table = [
        {
            "outdoor_air_dry_bulb": at,
            "suction_pressure": rows[3][0],
            "liquid_pressure": rows[3][1],
            "discharge_line_temperature": rows[3][2],
        }
        for at, rows in UNIT_D.items()
    ]
    low = []
    for place in (0, 3, 6):
        suction, liquid, hot = UNIT_D[20][place]
        body = winter(table, 20, suction, liquid, 10.0, discharge_line_temperature=hot)
        del body["run"]["readings"]["liquid_line_temperature"], body["run"]["readings"]["suction_line_temperature"]
        answer = diagnosed(body)
        assert answer["verdict"] not in CLAIMS, "a charge that the maker lists is not a fault found"
        low.append(chance(answer, "low_charge"))
    assert low[0] > 2.0 * low[1] > 2.0 * low[2]


# ---------------------------------------------------------------- in cooling


def summer(table: list[Body] | None) -> Body:
    """The example of a healthy unit, with the subcooling [°F] that the readings show (9 to 10)."""
    body: Body = diagnosis_examples()["sound_unit"]
    return {**body, "unit": {**body["unit"], **({"performance_table": table} if table else {})}}


def test_in_cooling_the_table_replaces_the_nameplate() -> None:
    """A unit whose table asks for 20 °F of subcooling is low on refrigerant with 9 (common practice: ±3 °F)."""
    rows = [{"outdoor_air_dry_bulb": at, "subcooling": 20} for at in (75, 95)]
    healthy, low = diagnosed(summer(None)), diagnosed(summer(rows))
    assert healthy["verdict"] == "healthy"
    assert chance(low, "low_charge") > 0.3 > chance(healthy, "low_charge")
    assert low["verdict"] != "healthy"


# ---------------------------------------------------------------- what a table may never do


def set_against(body: Body) -> Expectation:
    visit = done(examined(DiagnosisRequest.model_validate(body))).visit
    found = done(expectation(visit, evidence(visit), None))
    assert found is not None
    return found


def as_the_class_has_it(of: Expectation) -> list[Body]:
    """The table of a unit in the middle of its class, a row at the outdoor air that was read."""
    outputs, _ = of.model.linear(of.sound.parameters, of.steps, [FOUND_IN_SECOND_WEATHER])
    value = {name: float(row[0]) for name, row in outputs[0].items()}
    pascal = {"unit": "kPa", "reference": "absolute"}
    return [
        {
            "outdoor_air_dry_bulb": {"value": round(value["outdoor_air_dry_bulb"] * 1.8 - 459.67, 2), "unit": "degF"},
            "capacity": {"value": value[of.model.layout.capacity], "unit": "W"},
            "power": {"value": value["total_power"], "unit": "W"},
            "suction_pressure": {"value": value["suction_pressure_absolute"] / 1e3, **pascal},
            "liquid_pressure": {"value": value["high_side_pressure_absolute"] / 1e3, **pascal},
            "subcooling": {"value": value["subcooling"], "unit": "delta_degC"},
            "discharge_line_temperature": {"value": value["discharge_temperature"] - 273.15, "unit": "degC"},
        }
    ]


def deviations(of: Expectation) -> NDArray[np.float64]:
    _, _, spread = of.in_this_weather()
    return np.sqrt(np.diagonal(spread))


@pytest.mark.parametrize(
    "body",
    [
        winter(None, 47.0, 99.0, 310.0, 13.0, discharge_line_temperature=150.0),
        winter(None, 12.0, 50.0, 262.0, 17.0),
        summer(None),
    ],
    ids=["heating", "heating in the cold", "cooling, rated"],
)
def test_a_table_that_says_what_the_class_says_never_widens(body: Body) -> None:
    alone = set_against(body)
    table = as_the_class_has_it(alone)
    by_table = set_against({**body, "unit": {**body["unit"], "performance_table": table}})
    assert len(by_table.of_the_table()) == 6
    assert (deviations(by_table) <= 1.01 * deviations(alone)).all()
    _, rest, spread = alone.in_this_weather()
    _, there, _ = by_table.in_this_weather()
    assert np.abs(there - rest).max() < 0.35 * np.sqrt(np.diagonal(spread)).max()


# ---------------------------------------------------------------- comparisons


def test_a_comparison_follows_the_weather_by_the_table() -> None:
    """Two runs 15 °F apart whose powers and capacities are those of the table: nothing changed, as the table has it."""
    body: Body = comparison_examples()["far_apart"]
    first, second = (body["runs"][name]["readings"] for name in ("before", "after"))

    def number(of: Body, name: str) -> float:
        return float(of[name]["value"] if isinstance(of[name], dict) else of[name])

    powers = [number(one, "outdoor_unit_power") + number(one, "indoor_unit_power") for one in (first, second)]
    at = [number(one, "outdoor_air_dry_bulb") for one in (first, second)]
    rows = [{"outdoor_air_dry_bulb": t, "power": p, "capacity": 53000} for t, p in zip(at, powers, strict=True)]
    steeper = [rows[0], {**rows[1], "power": 1.15 * powers[1]}]
    changes = []
    for table in (rows, steeper):
        request = {**body, "unit": {**body["unit"], "performance_table": table}}
        answer = untyped(compare(ComparisonRequest.model_validate(request)))
        changes.append(answer["system"]["efficiency_change_percent"])
    # By the steeper table the same second run took 15 % less than it should, so the unit is the more efficient.
    assert 3.0 < changes[1]["value"] - changes[0]["value"] < 20.0


def test_a_plan_in_other_weather_is_sharper_with_the_table() -> None:
    """What is known of how the unit follows the weather cannot make a change harder to find."""
    body: Body = plan_examples()["cleaning_planned"]
    body = {**body, "conditions": {**body["conditions"], "outdoor_difference": 15}}
    rows = [
        {"outdoor_air_dry_bulb": at, "capacity": 36000 - 200 * (at - 95), "power": 3500 + 35 * (at - 95)}
        for at in (75, 95, 115)
    ]
    smallest = [
        float(plan(PlanRequest.model_validate({**body, "unit": unit}))["smallest_detectable_percent"] or np.inf)
        for unit in (body["unit"], {**body["unit"], "performance_table": rows})
    ]
    assert smallest[1] < smallest[0]
