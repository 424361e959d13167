"""Every notice of the checks is raised by some check (invented scenarios)."""

from __future__ import annotations

from collections.abc import Mapping
from string import Formatter
from typing import Any

import pytest

from service.reference.check_notices import CHECK_NOTICES
from tests.checks import check
from tests.unit.checks.test_checks import RAISES

Body = dict[str, Any]

OUNCES = {"nameplate_charge": {"value": 104, "unit": "oz"}, "factory_allowance": {"value": 9, "unit": "oz"}}
SHORT: Body = {**OUNCES, "lines": {"length": 10, "allowance": 0.6}}
WINDINGS = {"start_to_run": 3.5, "common_to_start": 3.0, "common_to_run": 0.5}
DRY = {"dry_bulb": 75, "wet_bulb": 60}
COLD = {"dry_bulb": 56, "wet_bulb": 52}
COOL_RUN = {
    "surface": 300,
    "insulation": 6,
    "leakage_to_outside": 20,
    "zone_temperature": 45,
    "zone_relative_humidity": 25,
}
COOL_DUCTS = {"supply_side": COOL_RUN, "return_side": COOL_RUN}


def can(**read: float) -> Body:
    return {"capacitors": [{"marking": "45/5", **read}]}


def aired(equipment: Body) -> Body:
    register = {"airflow": 900, "dry_bulb": 58, "relative_humidity": 85}
    room = {"dry_bulb": 75, "relative_humidity": 50}
    return {"mode": "cooling", "room": room, "registers": [register], "equipment": equipment}


def charged(lines: Body) -> Body:
    return {**OUNCES, "unit": {"refrigerant": "R-410A"}, "lines": lines}


#: A check that raises each notice of the charge by weight, of the motor and of air delivery.
MORE: Mapping[str, tuple[str, Body]] = {
    "long_line_set": ("charge-by-weight", {**OUNCES, "lines": {"length": 90, "allowance": 0.6}}),
    "charge_removal": ("charge-by-weight", SHORT),
    "charge_removal.forbidden": ("charge-by-weight", SHORT | {"removal_allowed": False}),
    "allowance_unlikely": (
        "charge-by-weight",
        {
            **OUNCES,
            "unit": {"refrigerant": "R-410A"},
            "lines": {"length": 40, "liquid_line": "3/8", "allowance": {"value": 0.6, "unit": "g/m"}},
        },
    ),
    "line_sizes_unlikely": ("charge-by-weight", charged({"length": 35, "liquid_line": "3/4", "vapour_line": "3/8"})),
    "line_sizes_unlikely.liquid": ("charge-by-weight", charged({"length": 35, "liquid_line": "7/8"})),
    "lines_hold_more": ("charge-by-weight", charged({"length": 250, "liquid_line": "3/8"})),
    "charge_unlikely": (
        "charge-by-weight",
        {**SHORT, "nameplate_charge": {"value": 104, "unit": "lb"}, "unit": {"rated_cooling_capacity": 36000}},
    ),
    "mass_unlikely": ("charge-by-weight", {**SHORT, "weighed_in": {"value": 15, "unit": "lb"}}),
    "mass_unlikely.unit": ("charge-by-weight", {**SHORT, "weighed_in": {"value": 101, "unit": "lb"}}),
    "terminals_mixed": ("motor", {"single_phase_windings": WINDINGS | {"start_to_run": 0.5, "common_to_run": 3.5}}),
    "terminals_mixed.start_and_run": (
        "motor",
        {"single_phase_windings": WINDINGS | {"common_to_start": 0.5, "common_to_run": 3.0}},
    ),
    "winding_open": ("motor", {"single_phase_windings": WINDINGS | {"start_to_run": 5000.0}}),
    "leads_decide": ("motor", {"three_phase_windings": {"l1_l2": 0.4, "l2_l3": 0.4, "l3_l1": 0.4}}),
    "insulation_conditions": ("motor", {"insulation": {"after_60_seconds": 200}}),
    "ground_beyond_range": ("motor", {"winding_to_ground_over_range": True}),
    "sections_swapped": ("motor", can(herm_to_common=4.9, fan_to_common=44.0)),
    "overload_open": ("motor", {"single_phase_windings": WINDINGS | {"common_to_start": 9e3, "common_to_run": 9e3}}),
    "series_reading": ("motor", can(herm_to_common=4.5)),
    "series_disagrees": ("motor", can(herm_to_common=45.0, fan_to_common=5.0, herm_to_fan=3.0)),
    "tolerance_assumed": ("motor", can(herm_to_common=45.0)),
    "delivered_more_than_made": (
        "air-delivery",
        {
            "mode": "heating",
            "room": {"dry_bulb": 70},
            "registers": [{"airflow": 1000, "dry_bulb": 110}],
            "equipment": {"capacity": 12000},
        },
    ),
    "delivered_more_than_made.air": ("air-delivery", aired({"airflow": 500, "entering": DRY, "leaving": COLD})),
    "airflow_units_differ": ("air-delivery", aired({"airflow": 1700, "entering": DRY, "leaving": COLD})),
    "furnace_reversed": (
        "air-delivery",
        {"mode": "heating", "furnace": {"entering": 125, "leaving": 68, "lowest_rise": 35, "highest_rise": 65}},
    ),
    "equipment_reversed": ("air-delivery", aired({"airflow": 1000, "entering": COLD, "leaving": DRY})),
    "registers_reversed": ("air-delivery", aired({"capacity": 30000}) | {"mode": "heating"}),
    "leakage_over_airflow": ("air-delivery", aired({"airflow": 1000}) | {"duct_test": {"leakage": 1100}}),
    "effectiveness_over_one": ("air-delivery", aired({"airflow": 1000, "capacity": 30000}) | {"ducts": COOL_DUCTS}),
    "airflow_unlikely": ("air-delivery", aired({"airflow": 500, "capacity": 36000})),
    "moisture_added": (
        "air-delivery",
        {"mode": "cooling", "equipment": {"airflow": 900, "entering": DRY, "leaving": DRY | {"wet_bulb": 74}}},
    ),
    "sensible_only": (
        "air-delivery",
        {"mode": "cooling", "room": {"dry_bulb": 75}, "registers": [{"airflow": 90, "dry_bulb": 56}]},
    ),
    "test_not_operation": ("air-delivery", {"mode": "cooling", "duct_test": {"leakage": 60}}),
}


#: Verdicts with which no finding may disagree.
FINE = {"nothing_found", "within_limits", "charge_complete"}


@pytest.mark.parametrize("name", MORE)
def test_a_check_raises_it(name: str) -> None:
    """With no value of its text left open, and with no verdict that forgets it (a question decides nothing)."""
    kind, body = MORE[name]
    row = CHECK_NOTICES[name]
    beginning = row.text.partition("{")[0]
    answer = check(kind, **body)
    found = [one["sentence"] for one in answer["notices"] if one["code"] == row.code]
    if answer["verdict"] in FINE:
        assert {one["grade"] for one in answer["findings"]} <= {"conforming", "inconclusive"}
    if row.weight == "disqualifying" and row.code != "winding_open":
        assert answer["verdict"] == "cannot_tell"
        assert "nonconforming" not in {one["grade"] for one in answer["findings"]}
    assert any(sentence.startswith(beginning) for sentence in found)
    assert not [field for sentence in found for _, field, _, _ in Formatter().parse(sentence) if field]


def test_none_is_left_out() -> None:
    """Of the table."""
    assert set(CHECK_NOTICES) == {*RAISES, *MORE}
