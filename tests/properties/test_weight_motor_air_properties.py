"""Charge by weight, motors and air delivery: what holds whatever the numbers."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas.capacitors import read_marking
from service.physics import duct_delivery, line_charge, room_charge, windings
from service.reference.line_contents import FLAMMABILITY_LIMITS, RELEASE_HEIGHTS, TUBES
from tests.checks import check
from tests.properties.cases import slow_cases

OUNCES_IN_KILOGRAM, FEET_IN_METRE = 1 / 0.028349523125, 1 / 0.3048


def ounces(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "oz"}


def weighed(length: float, **more: Any) -> dict[str, Any]:  # noqa: ANN401
    """A charge for lines of a length [ft]."""
    lines = {"length": length, "liquid_line": "3/8", "vapour_line": "3/4"}
    parts: dict[str, Any] = {
        "unit": {"refrigerant": "R-410A"},
        "nameplate_charge": ounces(104),
        "factory_allowance": ounces(9),
        "lines": lines,
    }
    return parts | more


@slow_cases(8)
@given(st.floats(5.0, 300.0), st.floats(0.0, 8.0))
def test_units_do_not_matter(feet: float, accessories: float) -> None:
    """The same lines and parts in feet and ounces, and in metres and kilograms."""
    parts = [{"name": "drier", "charge": ounces(accessories)}] if accessories else []
    imperial = check("charge-by-weight", **weighed(feet, accessories=parts))
    metric = check(
        "charge-by-weight",
        "metric",
        unit={"refrigerant": "R-410A"},
        nameplate_charge=104 / OUNCES_IN_KILOGRAM,
        factory_allowance=9 / OUNCES_IN_KILOGRAM,
        accessories=[{"name": "drier", "charge": accessories / OUNCES_IN_KILOGRAM}] if accessories else [],
        lines={
            "length": feet / FEET_IN_METRE,
            "length_uncertainty": 2 / FEET_IN_METRE,
            "liquid_line": "3/8",
            "vapour_line": "3/4",
        },
    )
    assert metric["verdict"] == imperial["verdict"]
    for end in ("value", "standard_uncertainty"):
        pounds, kilograms = (one["derived"]["charge"][end] for one in (imperial, metric))
        assert kilograms == pytest.approx(pounds * 0.45359237, rel=1e-5, abs=1e-6)


@slow_cases(8)
@given(st.floats(10.0, 200.0), st.floats(0.0, 2.0), st.floats(0.01, 2.0))
def test_a_better_scale_never_widens_the_band(feet: float, fixed: float, worse: float) -> None:
    """Of the charge as weighed; that of the charge itself does not change at all."""

    def answered(size: float) -> list[float]:
        scale = {"type": "refrigerant_scale", "accuracy": {"fixed": size, "resolution": 0.1, "unit": "oz"}}
        derived = check("charge-by-weight", **weighed(feet, kit={"scale": scale}))["derived"]
        return [derived[name]["standard_uncertainty"] for name in ("charge", "charge_as_weighed")]

    good, bad = answered(fixed), answered(fixed + worse)
    assert good[0] == bad[0] <= good[1] <= bad[1]


@given(st.floats(0.0, 100.0), st.floats(0.0, 100.0), st.floats(0.0, 1.0), st.floats(0.0, 2.0), st.floats(0.0, 1.0))
def test_more_line_never_needs_less_charge(
    length: float, more: float, per_length: float, allowance: float, accessories: float
) -> None:
    """And what the factory charge holds is taken off once."""
    own = [float(line_charge.adjustment(per_length, feet, allowance, accessories)) for feet in (length, length + more)]
    assert own[0] <= own[1] + 1e-12
    zero = float(line_charge.adjustment(per_length, length, 0.0, accessories))
    assert zero - own[0] == pytest.approx(allowance, abs=1e-9)


def test_a_larger_tube_holds_more() -> None:
    """In the order in which they are listed."""
    held = [float(line_charge.content_per_length(tube.inside, 1000.0)) for tube in TUBES.values()]
    assert held == sorted(held)


@given(
    st.sampled_from(sorted(FLAMMABILITY_LIMITS)),
    st.sampled_from(sorted(RELEASE_HEIGHTS)),
    st.floats(1.0, 500.0),
    st.floats(0.01, 20.0),
)
def test_a_newer_edition_is_never_laxer_and_a_smaller_room_never_takes_more(
    refrigerant: str, installation: str, area: float, charge: float
) -> None:
    """Of the two formulas as published."""
    limit, height = FLAMMABILITY_LIMITS[refrigerant].value, RELEASE_HEIGHTS[installation]
    old, new = (
        float(formula(limit, height, area)) for formula in (room_charge.largest_charge, room_charge.largest_charge_2018)
    )
    assert new <= old
    assert float(room_charge.largest_charge_2018(limit, height, 0.5 * area)) <= new
    least = float(room_charge.smallest_area_2018(limit, height, charge))
    assert least >= float(room_charge.smallest_area(limit, height, charge))
    assert float(room_charge.largest_charge_2018(limit, height, least)) == pytest.approx(charge)


@slow_cases(6)
@given(st.floats(2.0, 400.0), st.floats(0.3, 5.0))
def test_the_shown_numbers_of_a_room_err_on_the_safe_side(area: float, charge: float) -> None:
    """Rounded to what is shown, never above the formula's charge nor below its area."""
    found = check(
        "charge-by-weight",
        "metric",
        unit={"refrigerant": "R-32"},
        nameplate_charge=charge,
        factory_allowance=0,
        lines={"length": 1, "length_uncertainty": 0, "allowance": {"value": 0.2, "unit": "g/m"}},
        room={"floor_area": {"value": area, "unit": "m2"}, "installation": "wall"},
    )
    rows = {row["id"]: row["value"] for row in found["information"]}
    total = charge + 0.0002
    # To the four digits that are shown.
    assert rows["room_charge_largest_1"] <= float(room_charge.largest_charge(0.306, 1.8, area)) * 1.0005
    assert rows["room_area_smallest_1"] >= float(room_charge.smallest_area(0.306, 1.8, total)) * 0.9995


@given(st.floats(0.01, 100.0), st.floats(200.0, 400.0), st.floats(200.0, 400.0))
def test_copper_there_and_back(ohms: float, one: float, other: float) -> None:
    """At one temperature nothing changes; there and back neither; hotter copper resists more."""
    assert float(windings.copper_resistance(ohms, one, one)) == pytest.approx(ohms)
    moved = float(windings.copper_resistance(ohms, one, other))
    assert float(windings.copper_resistance(moved, other, one)) == pytest.approx(ohms)
    assert (moved >= ohms) == (other >= one) or moved == pytest.approx(ohms)


@given(st.floats(0.1, 50.0), st.floats(0.1, 50.0), st.floats(0.1, 10.0))
def test_windings_in_series_and_alike(start: float, run: float, scale: float) -> None:
    """Their sum departs by nothing; three alike have no spread, and no scale changes a spread."""
    assert float(windings.series_departure(start + run, start, run)) == pytest.approx(0.0, abs=1e-9)
    three = np.array([[start], [run], [run]])
    assert windings.spread(three * scale) == pytest.approx(windings.spread(three))
    assert windings.spread(np.full((3, 1), start)) == pytest.approx([0.0], abs=1e-12)


@given(st.floats(0.1, 499.0), st.floats(0.1, 499.0))
def test_two_sections_in_series_read_less_than_either(one: float, other: float) -> None:
    """And in the same way whichever comes first."""
    both = float(windings.capacitors_in_series(one, other))
    assert both < min(one, other)
    assert both == pytest.approx(float(windings.capacitors_in_series(other, one)))


@given(st.integers(1, 499), st.integers(1, 499))
def test_a_marking_says_both_sections(one: int, other: int) -> None:
    """In the order of the can."""
    found = read_marking(f"{one}/{other} MFD")
    assert found is not None
    assert found.sections == (one, other)


@slow_cases(6)
@given(st.sampled_from((0.3, 1.0, 3.0)), st.floats(38.0, 52.0))
def test_a_better_meter_never_unsettles_a_capacitor(percent: float, microfarads: float) -> None:
    """What a poor meter decides, a better one with the same reading decides alike."""

    def graded(accuracy: float) -> str:
        meter = {"type": "capacitance_meter", "accuracy": {"percent_of_reading": accuracy, "resolution": 0.01}}
        cans = [{"marking": "45 uF", "terminals": microfarads}]
        return str(check("motor", kit={"meter": meter}, capacitors=cans)["findings"][0]["grade"])

    poor, better = graded(percent), graded(percent / 3.0)
    assert poor in ("inconclusive", better)


SHARE = st.floats(0.5, 1.0)


@given(SHARE, SHARE, SHARE, SHARE, st.floats(0.0, 30.0), st.floats(0.0, 30.0), st.floats(10.0, 40.0), SHARE)
def test_worse_ducts_never_deliver_more(
    kept: float, left: float, kept_back: float, left_back: float, one: float, other: float, rise: float, worse: float
) -> None:
    """In heating, where all zones are colder than the rooms: nothing over one, and less with each loss."""

    def delivered(a: float, b: float, c: float, d: float) -> float:
        return float(duct_delivery.heating_delivery((a, b), (c, d), (one, other), rise))

    whole = delivered(kept, left, kept_back, left_back)
    assert whole <= 1.0 + 1e-12
    assert delivered(kept, left, kept_back * worse, left_back) <= whole + 1e-12
    assert delivered(kept, left, kept_back, left_back * worse) <= whole + 1e-12
    assert delivered(1.0, 1.0, 1.0, 1.0) == pytest.approx(1.0)


@slow_cases(6)
@given(st.floats(40.0, 300.0), st.floats(52.0, 62.0), st.floats(70.0, 95.0), st.floats(0.1, 0.9))
def test_two_registers_deliver_what_one_with_the_same_air_does(
    airflow: float, dry: float, humidity: float, part: float
) -> None:
    """However the air is split."""
    air = {"dry_bulb": dry, "relative_humidity": humidity}
    room = {"dry_bulb": 76, "relative_humidity": 52}
    splits = ((1.0,), (part, 1.0 - part))
    one, two = (
        check(
            "air-delivery",
            mode="cooling",
            room=room,
            registers=[{"airflow": airflow * share, **air} for share in shares],
        )["derived"]
        for shares in splits
    )
    for name in ("delivered_capacity", "delivered_sensible_capacity", "delivered_airflow"):
        assert two[name]["value"] == pytest.approx(one[name]["value"], rel=1e-5)
