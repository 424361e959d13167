"""Every row of the table of notices is raised by a visit, and its text and the check's values agree.

The visits are invented: the fewest readings that raise a row.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from string import Formatter
from typing import Any

import pytest

from schemas.assessments import AssessmentRequest
from service.assess import notices
from service.assess.pipeline import assess
from service.reference.notices import ITEMS, NOTICES, ORDERS
from tests.logs import troubled, visit
from tests.unit.assess.test_heating import ROW, winter

Body = dict[str, Any]

R410A = {"refrigerant": "R-410A"}
HEATING = {**R410A, "mode": "heating"}
PLATE = {"compressor_rated_load_amps": 16.2}
BLOWER = [{"external_static_pressure": a, "airflow": b} for a, b in ((0.3, 1310), (0.5, 1200), (0.8, 1030))]


def read(readings: Body, unit: Body | None = None, units: str = "imperial", **parts: Any) -> Body:  # noqa: ANN401
    """A visit; ``run`` adds to its readings, the rest stands next to it."""
    run = {"readings": readings, **parts.pop("run", {})}
    return {"units": units, "unit": unit or {}, "run": run, **parts}


#: A visit that raises each row.
VISITS: Mapping[str, Body] = {
    **{name: visit(log) for name, log in troubled().items()},
    "steady_state_not_shown": read({}),
    "little_subcooling": read({"liquid_pressure": 350, "liquid_line_temperature": 104}, R410A),
    "not_steady": read({}, run={"minutes_running": 2}),
    "still_settling.early": read({}, run={"minutes_running": 5}),
    "still_settling.late": read({}, run={"minutes_running": 12}),
    "gauge_not_zeroed": read({}, kit={"gauges": {"type": "pressure_transducer", "open_to_air_reading": 4}}),
    "scatter_of_repeats": read({"suction_pressure": [115, 118, 121]}),
    "nothing_derived": read({}),
    "readings_not_used": read({"condensate_rate": 6}),
    "readings_disagree.widened": read(
        {"airflow": 900, "total_external_static_pressure": 0.5}, {"blower_table": BLOWER}
    ),
    "readings_disagree.not_explained": read(
        {"return_air_dry_bulb": 76, "return_air_relative_humidity": 92, "return_air_wet_bulb": 63.5}
    ),
    "outdoor_air_too_cold.mode_given": read({"outdoor_air_dry_bulb": 50}, {"mode": "cooling"}),
    "outdoor_air_too_cold.mode_assumed": read({"outdoor_air_dry_bulb": 50}),
    "outdoor_air_very_hot": read({"outdoor_air_dry_bulb": 118}),
    "test_range_not_shown": read({"liquid_pressure": 350}),
    "return_air_too_cold.mode_given": read({"return_air_dry_bulb": 66}, {"mode": "cooling"}),
    "return_air_too_cold.mode_assumed": read({"return_air_dry_bulb": 66}),
    "no_superheat_target.dash": read(
        {"outdoor_air_dry_bulb": 95, "return_air_wet_bulb": 63}, {"metering_device": "fixed_orifice"}
    ),
    "no_superheat_target.outside": read(
        {"outdoor_air_dry_bulb": 95, "return_air_wet_bulb": 45}, {"metering_device": "fixed_orifice"}
    ),
    "stage_not_known": read({}, {"capacity_control": "two_stage"}),
    "variable_speed": read({}, {"capacity_control": "variable_speed"}),
    "several_circuits": read({}, {"circuits": 2}),
    "stage_not_known.heating": read({}, {"capacity_control": "two_stage", "mode": "heating"}),
    "variable_speed.heating": read({}, {"capacity_control": "variable_speed", "mode": "heating"}),
    "low": read({}, {"capacity_control": "two_stage"}, run={"stage": "low"}),
    "test_mode": read({}, {"capacity_control": "variable_speed"}, run={"test_mode": True}),
    "part_speed": read({}, {"capacity_control": "variable_speed"}, run={"speed_percent": 50}),
    "ductless": read({}, {"ducted": False}),
    "heating_not_graded": read({}, {"mode": "heating"}),
    "outdoor_air_warm_for_heating": read({"outdoor_air_dry_bulb": 85}, HEATING),
    "auxiliary_heat_over_air": winter(auxiliary_heat_power=12000),
    "defrosting": read({}, HEATING, run={"defrosting": True}),
    "frost_on_coil": read({}, HEATING, run={"frost_on_outdoor_coil": True}),
    "defrost_just_ended": read({}, HEATING, run={"minutes_since_defrost": 4}),
    "soon_after_defrost": read({}, HEATING, run={"minutes_since_defrost": 12}),
    "defrost_not_stated": read({"outdoor_air_dry_bulb": 30}, HEATING),
    "frost_forms": winter(suction_pressure=73, outdoor_air_dry_bulb=34, outdoor_air_wet_bulb=33),
    "auxiliary_heat_on.subtracted": winter(auxiliary_heat_power=5000),
    "auxiliary_heat_on.refrigerant_side": winter({"auxiliary_heat_on": True}),
    "auxiliary_heat_on.not_derived": read({}, HEATING, run={"auxiliary_heat_on": True}),
    "more_heat_than_possible.auxiliary_heat_on": winter(supply_air_dry_bulb=140, auxiliary_heat_power=500),
    "more_heat_than_possible.not_stated": winter(supply_air_dry_bulb=140),
    "indoor_unit_power_too_large": winter(indoor_unit_power=10_000),
    "vapour_line_as_suction_line": read({"suction_line_temperature": 146}, HEATING),
    "suction_gauge_on_vapour_line": winter(suction_pressure=318),
    "discharge_superheat_in_cold": winter(outdoor_air_dry_bulb=20, outdoor_air_wet_bulb=18),
    "performance_table_not_used": winter(unit={"performance_table": [{**ROW, "mode": "cooling"}]}),
    "speed_over_any": winter({"speed_percent": 150}, {"capacity_control": "variable_speed"}),
    "performance_table_disputed": winter(unit={"performance_table": [ROW | {"capacity": 20000}]}),
    "performance_table_used": winter(unit={"performance_table": [ROW]}),
    "metering_device_not_given": read({"suction_pressure": 124, "suction_line_temperature": 52}, R410A),
    "sea_level_assumed": read({"liquid_pressure": 350}),
    "sea_level_assumed.with_effect": read({"suction_pressure": 124}, R410A),
    "altitude_and_barometer_disagree": read(
        {}, site={"altitude": 5000, "barometric_pressure": {"value": 29.92, "unit": "inHg"}}
    ),
    "dial_scale_at_altitude": read({"suction_saturation_temperature": 40}, site={"altitude": 5000}),
    "split_target_at_altitude": read({"return_air_dry_bulb": 76, "return_air_wet_bulb": 63}, site={"altitude": 8000}),
    "dry_coil": read(
        {
            "airflow": 1200,
            "outdoor_air_dry_bulb": 92,
            "return_air_dry_bulb": 80,
            "return_air_wet_bulb": 55,
            "supply_air_dry_bulb": 58,
            "supply_air_wet_bulb": 46,
        },
        {"rated": {"cooling_capacity": 36000}},
    ),
    "humidity_given_twice": read({"return_air_relative_humidity": 50, "return_air_wet_bulb": 63.5}),
    "humidity_very_low.read": read({"return_air_relative_humidity": 3}),
    "humidity_very_low.from_wet_bulb": read({"return_air_dry_bulb": 77, "return_air_wet_bulb": 48}),
    "wet_bulb_too_low": read({"return_air_dry_bulb": 77, "return_air_wet_bulb": 46.5}),
    "wet_bulb_and_humidity_disagree": read(
        {"return_air_dry_bulb": 76, "return_air_relative_humidity": 92, "return_air_wet_bulb": 63.5}
    ),
    "wet_bulb_over_dry_bulb": read({"return_air_dry_bulb": 76.2, "return_air_wet_bulb": 76.9}),
    "return_static_pressure_positive": read({"return_static_pressure": 0.35}),
    "nearly_empty_suspected": read(
        {
            "suction_pressure": 59,
            "suction_line_temperature": 63,
            "return_air_dry_bulb": 80,
            "supply_air_dry_bulb": 73,
        },
        R410A,
    ),
    "heat_not_rejected.hot": read({"liquid_pressure": 540, "outdoor_air_dry_bulb": 85}, R410A),
    "heat_not_rejected.near_cut_out": read({"liquid_pressure": 392}, {"refrigerant": "R-22"}),
    "not_pumping_suspected.wrong_way_round": read({"suction_pressure": 200, "liquid_pressure": 185}),
    "not_pumping_suspected.hardly_any_lift": read({"suction_pressure": 155, "liquid_pressure": 170}),
    "no_current": read({"compressor_common_current": 0}),
    "unit_is_off": read({"compressor_common_current": 0, "outdoor_fan_current": 0}),
    "motor_not_running": read({"outdoor_fan_current": 0}),
    "motor_not_running.both": read({"outdoor_fan_current": 0, "indoor_blower_current": 0}),
    "currents_of_one_wire_suspected": read(
        {"compressor_common_current": 5.97, "compressor_start_winding_current": 5.97}
    ),
    "currents_exchanged_suspected": read({"compressor_common_current": 5.97, "compressor_start_winding_current": 12.4}),
    "clamp_on_wrong_wire_suspected.one_phase": read(
        {"compressor_common_current": 5.97, "suction_pressure": 124, "liquid_pressure": 352},
        {**R410A, "nameplate": PLATE},
    ),
    "clamp_on_wrong_wire_suspected.three_phases": read(
        {"compressor_common_current": 5.97, "suction_pressure": 124, "liquid_pressure": 352},
        {**R410A, "nameplate": {**PLATE, "phases": 3}},
    ),
    "start_winding_current_is_not_the_draw": read({"compressor_start_winding_current": 5.6}),
    "capacitor_voltage_like_line": read(
        {"capacitor_voltage": {"compressor": 238}, "compressor_start_winding_current": 6, "line_voltage": 238}
    ),
    "capacitor_tolerance_assumed": read({}, {"nameplate": {"capacitors": {"compressor": {"microfarads": 45}}}}),
    "dual_voltage_plate_presumed.by_line_voltage": read({"line_voltage": 203}, {"nameplate": {"voltage": 230}}),
    "dual_voltage_plate_presumed.by_supply": read({}, {"nameplate": {"voltage": 230, "nominal_supply_voltage": 208}}),
    "heating_suspected.mode_given": read({"return_air_dry_bulb": 68, "supply_air_dry_bulb": 95}, {"mode": "cooling"}),
    "heating_suspected.mode_assumed": read({"return_air_dry_bulb": 68, "supply_air_dry_bulb": 95}),
    "cooling_suspected": read(
        {"outdoor_air_dry_bulb": 89, "return_air_dry_bulb": 76, "supply_air_dry_bulb": 57}, {"mode": "heating"}
    ),
    "air_probes_swapped_suspected.in_cooling": read({"return_air_dry_bulb": 57, "supply_air_dry_bulb": 76}),
    "air_probes_swapped_suspected.in_heating": read(
        {"return_air_dry_bulb": 95, "supply_air_dry_bulb": 68}, {"mode": "heating"}
    ),
    "line_clamps_swapped_suspected": read(
        {
            "suction_pressure": 124,
            "liquid_pressure": 352,
            "suction_line_temperature": 97,
            "liquid_line_temperature": 55.5,
        },
        R410A,
    ),
    "wrong_refrigerant_suspected.or_charge_lost": read({"suction_pressure": 68.5, "liquid_pressure": 211}, R410A),
    "wrong_refrigerant_suspected.or_overloaded": read(
        {"suction_pressure": 118, "liquid_pressure": 342}, {"refrigerant": "R-22"}
    ),
    "wrong_refrigerant_suspected.implausible": read(
        {"suction_pressure": 118, "suction_line_temperature": 52, "liquid_pressure": 342}, {"refrigerant": "R-22"}
    ),
    "not_credible": read({"suction_pressure": 130, "suction_line_temperature": 52}, {"refrigerant": "R-22"}),
    "not_credible.unit_of_pressures": read({"suction_pressure": 8}, R410A, "metric"),
    "not_credible.unit_of_lines": read({"suction_pressure": 118, "suction_line_temperature": 16}, R410A),
    "temperatures_in_another_unit.several": read(
        {"suction_pressure": 124, "suction_line_temperature": 13, "liquid_line_temperature": 36}, R410A
    ),
    "temperatures_in_another_unit.one": read({"return_air_dry_bulb": 76, "supply_air_dry_bulb": 14}),
    "value_not_possible": read(
        {
            "suction_pressure": 125,
            "liquid_pressure": 352,
            "suction_line_temperature": 60,
            "discharge_line_temperature": 140,
        },
        R410A,
    ),
    "reading_not_possible": read({"airflow": 34}, {"rated": {"cooling_capacity": 36000}}),
    "unit_slip_suspected.unit_of_pressures": read({"suction_pressure": 8.14}, R410A),
    "unit_slip_suspected.unit_of_lines": read({"suction_pressure": 92, "suction_line_temperature": 6}, R410A),
    "saturation_given_twice": read({"suction_pressure": 118, "suction_saturation_temperature": 40}, R410A),
    "pressure_and_saturation_disagree.is_absolute": read(
        {"suction_pressure": 132.7, "suction_saturation_temperature": 40}, R410A
    ),
    "pressure_and_saturation_disagree.is_gauge": read(
        {"suction_pressure": {"value": 118, "unit": "psia"}, "suction_saturation_temperature": 40}, R410A
    ),
    "pressure_and_saturation_disagree.at_altitude": read(
        {"suction_pressure": 68.5, "suction_saturation_temperature": 40},
        {"refrigerant": "R-22"},
        site={"altitude": 14000},
    ),
    "pressure_and_saturation_disagree.in_another_unit": read(
        {"suction_pressure": 8.14, "suction_saturation_temperature": 40}, R410A
    ),
    "pressure_and_saturation_disagree.on_another_scale": read(
        {"suction_pressure": 68.5, "suction_saturation_temperature": 40}, R410A
    ),
    "pressure_and_saturation_disagree.not_explained": read(
        {"suction_pressure": 118, "suction_saturation_temperature": 50}, R410A
    ),
}


def fields(text: str) -> set[str]:
    """The values that a text names."""
    return {field for _, field, _, _ in Formatter().parse(text) if field is not None}


class Strict(str):
    """A text that refuses values which it does not name, and keeps what it was worded as."""

    worded: list[str]

    def format_map(self, values: Any, /) -> str:  # noqa: ANN401
        assert set(values) == fields(self), (self, values)
        self.worded.append(super().format_map(values))
        return self.worded[-1]


@pytest.fixture
def strict(monkeypatch: pytest.MonkeyPatch) -> Mapping[str, Strict]:
    """The table with strict texts, in place of the service's."""
    texts = {name: Strict(row.text) for name, row in NOTICES.items()}
    for text in texts.values():
        text.worded = []
    rows = {name: replace(row, text=texts[name]) for name, row in NOTICES.items()}
    monkeypatch.setattr(notices, "NOTICES", rows)
    return texts


@pytest.mark.parametrize("name", NOTICES)
def test_every_row_is_raised_with_the_values_that_it_names(strict: Mapping[str, Strict], name: str) -> None:
    """A row that nothing raises would never be shown; a value without its place is a mistake in either."""
    answer = assess(AssessmentRequest.model_validate(VISITS[name]))
    said = strict[name].worded
    assert said
    for text in said:
        assert not set("{}_") & set(text.replace("unit.mode", "")), text
        assert "not known" not in text or "not known" in NOTICES[name].text, text
        assert text == text.strip()
    raised = next(row for row in answer["usability"]["notices"] if row["sentence"] in said)
    assert (raised["code"], raised["weight"]) == (NOTICES[name].code, NOTICES[name].weight)


def test_names_of_rows_are_their_own() -> None:
    """Two rows of one name would hide each other; variants of one code tell them apart."""
    codes = {row.code for row in NOTICES.values()} & {row.code for row in ORDERS}
    assert not codes
    assert len(NOTICES) == len({(row.code, row.variant) for row in NOTICES.values()})
    assert all(fields(text) <= {"value"} for text in ITEMS.values())


def test_limits_that_are_not_applied_are_named_in_the_text() -> None:
    """A reader sees why a finding is missing: most rows that stop limits say which."""
    for name, row in NOTICES.items():
        if row.weight == "disqualifying" and row.stops and "{account}" not in row.text:
            assert re.search(r"[Ll]imits .*were not applied\.$", row.text), name
