"""Readings that cannot be right: in another unit, or impossible on a unit of this rating.

The visits are invented: ordinary readings of a 3-ton unit (common practice, no source), typed as the name of each case
says.
"""

from __future__ import annotations

from typing import Any

import pytest

from schemas.assessments import AssessmentRequest
from service.assess.examination import derive_visit
from service.intake.refusals import RefusedError
from service.intake.take_in import take_in

Body = dict[str, Any]

COOLING = {
    "suction_pressure": 131,
    "liquid_pressure": 366,
    "suction_line_temperature": 56.0,
    "liquid_line_temperature": 100.5,
    "discharge_line_temperature": 176.0,
    "outdoor_air_dry_bulb": 95.0,
    "return_air_dry_bulb": 80.0,
    "return_air_wet_bulb": 67.0,
    "supply_air_dry_bulb": 59.5,
    "supply_air_wet_bulb": 57.8,
    "airflow": 1200,
    "outdoor_unit_power": 2640,
    "indoor_unit_power": 430,
}
HEATING = {
    "suction_pressure": 87,
    "liquid_pressure": 330,
    "suction_line_temperature": 33.5,
    "liquid_line_temperature": 90.0,
    "discharge_line_temperature": 160.0,
    "vapour_line_temperature": 154.0,
    "outdoor_air_dry_bulb": 38.0,
    "return_air_dry_bulb": 70.0,
    "supply_air_dry_bulb": 94.0,
}
UNIT = {
    "refrigerant": "R-410A",
    "metering_device": "thermostatic_expansion_valve",
    "rated": {"cooling_capacity": 36000, "eer": 11.7},
    "nameplate": {"compressor_rated_load_amps": 16, "outdoor_fan_full_load_amps": 1.2, "voltage": 230},
}
HEAT = {"mode": "heating"}


def visit(readings: Body, units: str = "imperial", **unit: Any) -> AssessmentRequest:  # noqa: ANN401
    body = {"units": units, "unit": UNIT | unit, "run": {"minutes_running": 20, "readings": readings}}
    return AssessmentRequest.model_validate(body)


def celsius(readings: Body, *names: str) -> Body:
    """The same with temperatures as numbers in °C: those named, else all."""
    chosen = names or tuple(name for name in readings if name.endswith(("temperature", "bulb")))
    return readings | {name: round((readings[name] - 32) / 1.8, 1) for name in chosen}


def left_out(request: AssessmentRequest) -> list[tuple[tuple[str, ...], str | None]]:
    return [(one.readings, one.meant) for one in take_in(request).left_out]


def temperatures(readings: Body) -> set[str]:
    return {name for name in readings if name.endswith(("temperature", "bulb"))}


@pytest.mark.parametrize(
    ("readings", "unit"),
    [
        (COOLING, {}),
        (COOLING, {"mode": "cooling"}),
        ({n: v for n, v in COOLING.items() if "pressure" not in n}, {}),
        (HEATING, HEAT),
        (HEATING, {}),
        ({n: v for n, v in HEATING.items() if "pressure" not in n}, HEAT),
        # Low on refrigerant: little subcooling, much superheat.
        (COOLING | {"suction_pressure": 105, "suction_line_temperature": 70, "liquid_pressure": 330}, {}),
    ],
)
def test_all_temperatures_in_celsius_are_recognised(readings: Body, unit: Body) -> None:
    assert left_out(visit(readings, **unit)) == []
    ((names, meant),) = left_out(visit(celsius(readings), **unit))
    assert (set(names), meant) == (temperatures(readings), "degC")


@pytest.mark.parametrize(
    ("name", "readings", "unit"),
    [
        ("outdoor_air_dry_bulb", COOLING, {}),
        ("return_air_dry_bulb", {n: v for n, v in COOLING.items() if "wet" not in n}, {}),
        ("supply_air_dry_bulb", {n: v for n, v in COOLING.items() if "wet" not in n}, {}),
        ("suction_line_temperature", COOLING, {}),
        ("liquid_line_temperature", COOLING, {}),
        ("discharge_line_temperature", COOLING, {}),
        ("return_air_dry_bulb", HEATING, HEAT),
        ("liquid_line_temperature", HEATING, HEAT),
    ],
)
def test_one_temperature_in_celsius_is_recognised(name: str, readings: Body, unit: Body) -> None:
    assert left_out(visit(celsius(readings, name), **unit)) == [((name,), "degC")]


def test_one_instrument_set_to_celsius_is_recognised() -> None:
    clamps = ("suction_line_temperature", "liquid_line_temperature", "discharge_line_temperature")
    ((names, _),) = left_out(visit(celsius(COOLING, *clamps)))
    assert set(names) == set(clamps)


def test_a_temperature_in_kelvin_is_in_no_other_unit() -> None:
    air = {"return_air_dry_bulb": 80.0, "outdoor_air_dry_bulb": {"value": 308, "unit": "K"}}
    assert left_out(visit(air | {"supply_air_dry_bulb": 59.5})) == []
    assert left_out(visit(air | {"supply_air_dry_bulb": 15.3})) == [(("supply_air_dry_bulb",), "degC")]


def test_fahrenheit_in_a_metric_request_is_recognised_or_refused_with_its_unit() -> None:
    lines = {n: v for n, v in COOLING.items() if n.endswith(("line_temperature", "pressure"))}
    lines |= {"suction_pressure": 903, "liquid_pressure": 2523}
    assert left_out(visit(celsius(lines), "metric")) == []
    lines["suction_line_temperature"], lines["liquid_line_temperature"] = 56, 100.5
    lines["discharge_line_temperature"] = 176
    # 176 °C is over the range of no line: that of the clamps together is recognised, that of the air refused.
    with pytest.raises(RefusedError) as error:
        take_in(visit({"return_air_dry_bulb": 80}, "metric"))
    assert "possible in degF" in error.value.refusals[0].hint
    lines.pop("discharge_line_temperature")
    ((names, meant),) = left_out(visit(lines, "metric"))
    assert (set(names), meant) == ({"suction_line_temperature", "liquid_line_temperature"}, "degF")


@pytest.mark.parametrize(
    ("readings", "unit"),
    [
        # A cold house in heating: the heat pump starts at 42 °F indoors, with and without pressures.
        (
            HEATING
            | {
                "return_air_dry_bulb": 42,
                "supply_air_dry_bulb": 62,
                "liquid_line_temperature": 58,
                "liquid_pressure": 215,
            }
            | {"outdoor_air_dry_bulb": 20, "suction_line_temperature": 15, "suction_pressure": 62}
            | {"discharge_line_temperature": 125, "vapour_line_temperature": 115},
            HEAT,
        ),
        ({"return_air_dry_bulb": 28, "supply_air_dry_bulb": 48, "outdoor_air_dry_bulb": 10}, HEAT),
        ({"return_air_dry_bulb": 40, "supply_air_dry_bulb": 62, "outdoor_air_dry_bulb": 25}, HEAT),
        # Hard frost.
        ({"return_air_dry_bulb": 68, "supply_air_dry_bulb": 88, "outdoor_air_dry_bulb": -5}, HEAT),
        # A heating run whose mode nobody stated, and cooling on a cool day.
        (HEATING, {}),
        (COOLING | {"outdoor_air_dry_bulb": 58, "liquid_pressure": 240, "liquid_line_temperature": 68}, {}),
        # Liquid that floods back, a clamp without contact, a nearly empty circuit, a fan that stands.
        (COOLING | {"suction_line_temperature": 44, "discharge_line_temperature": 112}, {}),
        (COOLING | {"discharge_line_temperature": 98}, {}),
        (COOLING | {"suction_pressure": 40, "liquid_pressure": 300, "suction_line_temperature": 78}, {}),
        (COOLING | {"liquid_pressure": 590, "liquid_line_temperature": 132}, {}),
    ],
)
def test_unusual_visits_are_not_in_another_unit(readings: Body, unit: Body) -> None:
    """Common practice, no source."""
    assert left_out(visit(readings, **unit)) == []


@pytest.mark.parametrize(
    ("changes", "meant"),
    [
        ({"airflow": 34}, None),  # m3/min
        ({"outdoor_unit_power": 2.64}, "kW"),
        ({"indoor_unit_power": 0.43}, "kW"),
        ({"compressor_common_current": 230}, None),  # volts
        ({"outdoor_fan_current": 23}, None),
        ({"total_external_static_pressure": {"value": 0.5, "unit": "Pa"}}, "inH2O"),
        ({"return_air_wet_bulb": None, "return_air_relative_humidity": 0.52}, None),
        ({"condensate_rate": 180}, None),
    ],
)
def test_readings_far_outside_what_a_unit_can_have_are_left_out(changes: Body, meant: str | None) -> None:
    """The first suspects of any disagreement: slips of unit of a thousand, sixty or thirty-five times."""
    readings = {name: value for name, value in (COOLING | changes).items() if value is not None}
    (name,) = (name for name, value in changes.items() if value is not None)
    assert left_out(visit(readings)) == [((name,), meant)]


@pytest.mark.parametrize(
    "changes",
    [
        {"airflow": 300},  # an iced coil, 100 cfm a ton
        {"airflow": 2100},
        {"outdoor_unit_power": 400},  # an inverter at its lowest speed
        {"outdoor_unit_power": 5200},
        {"indoor_unit_power": 60},
        {"compressor_common_current": 90},  # a locked rotor
        {"compressor_common_current": 0},
        {"total_external_static_pressure": 0.1},
        {"total_external_static_pressure": 1.6},
        {"condensate_rate": 12},
        {"outdoor_fan_current": 0},
    ],
)
def test_readings_of_units_in_bad_condition_are_kept(changes: Body) -> None:
    """Common practice, no source."""
    assert left_out(visit(COOLING | changes)) == []


def test_the_sentence_names_value_rating_and_unit(assessed: Any) -> None:  # noqa: ANN401
    body = visit(COOLING | {"airflow": 34}).model_dump(mode="json", exclude_unset=True)
    answer = assessed(body)
    (notice,) = (one for one in answer["usability"]["notices"] if one["code"] == "reading_not_possible")
    assert "34 cfm" in notice["sentence"]
    assert "120 cfm" in notice["sentence"]
    assert "No single reading" not in answer["reconciliation"]["sentence"]
    assert "airflow_measured" not in answer["derived"]


def test_temperatures_of_a_log_in_celsius_are_recognised() -> None:
    """A log whose columns claim °F."""
    seconds = list(range(0, 1200, 20))
    columns = {
        name: {"values": [value] * len(seconds)}
        for name, value in celsius(COOLING).items()
        if name.endswith(("temperature", "bulb", "pressure"))
    }
    body = {"units": "imperial", "unit": UNIT, "run": {"log": {"seconds": seconds, "readings": columns}}}
    ((names, meant),) = left_out(AssessmentRequest.model_validate(body))
    assert (set(names), meant) == (temperatures(COOLING), "degC")


def test_temperatures_in_celsius_make_no_claim_of_mode(assessed: Any) -> None:  # noqa: ANN401
    answer = assessed(visit(celsius(COOLING)).model_dump(mode="json", exclude_unset=True))
    codes = {one["code"] for one in answer["usability"]["notices"]}
    assert "temperatures_in_another_unit" in codes
    assert not codes & {"heating_suspected", "outdoor_air_too_cold", "discharge_under_condensing"}
    judged = {row["quantity"] for row in answer["findings"] if row["grade"] != "not_assessed"}
    assert not judged - {"high_side_pressure_absolute"}


SETTLING = COOLING | {
    "suction_pressure": 125,
    "liquid_pressure": 352,
    "suction_line_temperature": 60,
    "discharge_line_temperature": 140,
}
CAPACITOR = {"capacitor_voltage": {"compressor": 3.7}, "compressor_start_winding_current": 5.6}


@pytest.mark.parametrize(
    ("readings", "impossible", "limited", "named"),
    [
        # Isentropic work is the least (second law): a compressor's efficiency is under 1.
        (SETTLING, "compressor_isentropic_efficiency", "compressor_isentropic_efficiency", "discharge line"),
        # Outlet air as if all heat were taken out twice: no unit doubles its rating.
        (
            {n: v for n, v in COOLING.items() if "pressure" not in n}
            | {"airflow": 2300, "supply_air_dry_bulb": 52, "supply_air_wet_bulb": 51},
            "cooling_capacity_share_of_rating",
            "cooling_capacity_share_of_rating",
            "airflow",
        ),
        # A hundred times the marking: kilovolts or a decimal point.
        (CAPACITOR, "compressor_run_capacitance_deviation", "compressor_run_capacitance", "capacitor voltage"),
    ],
)
def test_an_impossible_value_is_not_graded(
    assessed: Any,  # noqa: ANN401
    readings: Body,
    impossible: str,
    limited: str,
    named: str,
) -> None:
    plate = {"voltage": 230, "frequency": 60, "capacitors": {"compressor": {"microfarads": 45}}}
    answer = assessed(visit(readings, nameplate=plate).model_dump(mode="json", exclude_unset=True))
    assert impossible in answer["derived"]
    sentences = [n["sentence"] for n in answer["usability"]["notices"] if n["code"] == "value_not_possible"]
    assert any(named in sentence for sentence in sentences), sentences
    findings = [row for row in answer["findings"] if row["quantity"] == limited]
    assert findings
    assert {row["grade"] for row in findings} == {"not_assessed"}
    assert all("impossible" in row["sentence"] for row in findings)


def table(capacity: float, power: float) -> list[Body]:
    """A maker's table about 95 °F; capacity falls by 4 to 5 % for 10 °F (common practice, no source)."""
    return [
        {"outdoor_air_dry_bulb": at, "return_air_wet_bulb": 67, "capacity": share * capacity, "power": power / share}
        for at, share in ((85, 1.05), (95, 1.0), (105, 0.95))
    ]


@pytest.mark.parametrize(
    ("capacity", "power", "disputed"),
    [
        (36000, 3077, []),
        (34200, 3000, []),  # net of the blower's heat
        (24000, 3070, ["capacity"]),  # another unit
        (36000, 2000, ["power"]),
    ],
)
def test_a_table_that_contradicts_the_rating_is_questioned(
    assessed: Any,  # noqa: ANN401
    capacity: float,
    power: float,
    disputed: list[str],
) -> None:
    """Common practice, no source: a table of the same match repeats the rating at its conditions."""
    request = visit(COOLING, performance_table=table(capacity, power))
    assert [one.column for one in take_in(request).table_disputed] == disputed
    answer = assessed(request.model_dump(mode="json", exclude_unset=True))
    codes = {one["code"] for one in answer["usability"]["notices"]}
    assert ("performance_table_disputed" in codes) is bool(disputed)
    assert ("performance_table_used" in codes) is not bool(disputed)
    judged = {row["grade"] for row in answer["findings"] if row["quantity"] == "cooling_capacity_share_of_rating"}
    assert (judged == {"not_assessed"}) is bool(disputed)


def test_swapped_clamps_are_left_out_of_comparisons() -> None:
    """What depends on either line says nothing of a change."""
    swapped = {"suction_line_temperature": 100.5, "liquid_line_temperature": 56.0}
    assert not derive_visit(visit(COOLING)).doubted
    doubted = derive_visit(visit(COOLING | swapped)).doubted
    assert {"superheat", "subcooling", "compressor_isentropic_efficiency"} <= doubted
    assert not {"evaporating_temperature", "temperature_split"} & doubted
