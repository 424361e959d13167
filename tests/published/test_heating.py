"""Heating against makers' printed tables, published curves, a reference library and closed forms."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from service.physics import heating
from service.reference import performance_maps as maps
from tests.conftest import Assess, visit
from tests.published.heating_tables import (
    OUTDOOR,
    UNIT_A,
    UNIT_B,
    UNIT_B_60,
    UNIT_B_80,
    UNIT_B_SUCTION,
    UNIT_C,
    UNIT_C_DOWNFLOW,
    UNIT_C_SUCTION,
    UNIT_D,
)

#: Btu/h in a watt; value from memory.
WATT = 3.412142
RATED_A = {
    "cooling_capacity": 30000,
    "heating_capacity": 29000,
    "heating_cop": 3.78,
    "heating_capacity_low": 18200,
    "heating_cop_low": 2.55,
}
#: Instruments of a laboratory, for what a document prints without an error.
LABORATORY = {
    "gauges": {"type": "pressure_transducer", "accuracy": {"fixed": 0.1}, "repeatability": 0.05},
    "lines": {"type": "thermistor_pipe_clamp", "accuracy": {"fixed": 0.1}, "repeatability": 0.05},
    "air": {"type": "psychrometer", "accuracy": {"fixed": 0.1}, "repeatability": 0.05},
    "hood": {"type": "airflow_hood", "accuracy": {"percent_of_reading": 0.5}},
    "power": {"type": "power_meter", "accuracy": {"percent_of_reading": 0.5}},
}


def kelvin(degrees: float) -> float:
    return (degrees - 32.0) / 1.8 + 273.15


def heated(
    readings: dict[str, Any], unit: dict[str, Any] | None = None, run: dict[str, Any] | None = None
) -> dict[str, Any]:
    """A heating visit half an hour after a defrost, at sea level, by the instruments of a laboratory."""
    return visit(
        site={"altitude": 0},
        kit=LABORATORY,
        unit={
            "mode": "heating",
            "refrigerant": "R-410A",
            "metering_device": "thermostatic_expansion_valve",
            **(unit or {}),
        },
        run={"minutes_since_defrost": 30, **(run or {})},
        readings=readings,
    )


def air_of(row: tuple[float, ...], blower: float = 380.0) -> dict[str, float]:
    """Readings that a row of unit A's table prints; the blower's part of the power is invented."""
    outdoor, _, rise, power, _ = row
    return {
        "outdoor_air_dry_bulb": outdoor,
        "return_air_dry_bulb": 70.0,
        "supply_air_dry_bulb": 70.0 + rise,
        "airflow": 1050.0,
        "outdoor_unit_power": 1000.0 * power - blower,
        "indoor_unit_power": blower,
    }


def value(answer: dict[str, Any], name: str) -> float:
    return float(answer["derived"][name]["value"])


# ---------------------------------------------------------------- capacity and efficiency


@pytest.mark.parametrize("row", UNIT_A, ids=lambda row: str(row[0]))
def test_capacity_and_efficiency_of_every_row(assessed: Assess, row: tuple[float, ...]) -> None:
    """Unit A prints capacity, air rise at its nominal 1,050 cfm, power and COP; any blower share gives them back."""
    _, capacity, _, _, efficiency = row
    answer = assessed(heated(air_of(row)))
    assert value(answer, "delivered_heating_capacity") == pytest.approx(1000.0 * capacity, rel=0.01)
    assert value(answer, "heating_cop") == pytest.approx(efficiency, rel=0.012)
    assert value(answer, "heating_capacity") == pytest.approx(1000.0 * capacity - 380.0 * WATT, rel=0.012)


@pytest.mark.parametrize(("supply", "factor"), [(95.0, 1.031), (105.0, 1.013), (115.0, 0.995)])
def test_airflow_measured_in_the_supply(assessed: Assess, supply: float, factor: float) -> None:
    """The factor 1.08 Btu/(h cfm °F) at 70 °F becomes smaller with the density of the supply air (perfect-gas law)."""
    readings = {
        "return_air_dry_bulb": 70.0,
        "supply_air_dry_bulb": supply,
        "airflow": 1000.0,
        "outdoor_unit_power": 2000.0,
        "indoor_unit_power": 400.0,
    }
    answer = assessed(heated(readings, run={"airflow_measured_at": "supply"}))
    assert value(answer, "delivered_heating_capacity") == pytest.approx(1000.0 * factor * (supply - 70.0), rel=0.01)


def by_hand(**changes: float | None) -> dict[str, Any]:
    """1,100 cfm warmed by 44 °F with 9.6 kW of strips and a blower of 0.45 kW, at 47 °F outdoors."""
    readings = {
        "outdoor_air_dry_bulb": 47.0,
        "return_air_dry_bulb": 70.0,
        "supply_air_dry_bulb": 114.0,
        "airflow": 1100.0,
        "outdoor_unit_power": 1337.0,
        "indoor_unit_power": 450.0,
        **changes,
    }
    body = heated({name: number for name, number in readings.items() if number is not None})
    two = "two_standard_deviations"
    # One standard deviation of 5 % in airflow and 2 % in power.
    body["kit"]["hood"]["accuracy"] = {"percent_of_reading": 10.0, "coverage": two}
    body["kit"]["power"]["accuracy"] = {"percent_of_reading": 4.0, "coverage": two}
    return body


def test_strips_are_subtracted_with_their_uncertainty(assessed: Assess) -> None:
    """52,272 - 32,757 - 1,535 = 17,980 Btu/h, of which 5 % of the air's heat and 2 % of the strips leave 15 %."""
    answer = assessed(by_hand(auxiliary_heat_power=9600.0))
    found = answer["derived"]["heating_capacity"]
    assert found["value"] == pytest.approx(17_980, rel=0.02)
    shares = found["variance_shares"]
    kept = (shares["hood"] + shares["power"]) ** 0.5
    assert kept * found["standard_uncertainty"] / found["value"] == pytest.approx(0.15, abs=0.015)
    assert value(answer, "heating_cop") == pytest.approx((17_980 + 1_535) / WATT / 1787.0, rel=0.02)
    assert "auxiliary_heat_on" in {notice["code"] for notice in answer["usability"]["notices"]}


def test_strips_by_volts_and_amps(assessed: Assess) -> None:
    """10 kW at 240 V are 7.51 kW at 208 V: 36.1 A (a resistor, definition)."""
    amps = 10_000.0 / 240.0 * 208.0 / 240.0
    answer = assessed(by_hand(auxiliary_heat_current=amps, line_voltage=208.0))
    assert value(answer, "auxiliary_heat_power") == pytest.approx(7510, rel=0.002)


def test_strips_of_unknown_power_leave_no_capacity(assessed: Assess) -> None:
    """Nothing is derived for the heat pump, and the answer names what is missing."""
    for body in (by_hand(), by_hand(auxiliary_heat_current=40.0)):
        body["run"]["auxiliary_heat_on"] = True
        answer = assessed(body)
        assert not {"heating_capacity", "heating_cop", "delivered_heating_capacity"} & set(answer["derived"])
        row = next(row for row in answer["missing"] if row["quantity"] == "heating_capacity")
        added = {path for way in row["unlock"] for path in way["add"]}
        assert {"run.readings.auxiliary_heat_power", "run.readings.line_voltage"} & added


@pytest.mark.parametrize("outdoor", [47.0, 30.0, 65.0, None])
def test_heat_of_strips_is_no_efficiency(assessed: Assess, outdoor: float | None) -> None:
    """52,272 Btu/h on 1,787 W would be a COP of 8.57: twice what any row of unit A's table reaches."""
    answer = assessed(by_hand(outdoor_air_dry_bulb=outdoor))
    apparent = 52_272 / WATT / 1787.0
    assert apparent == pytest.approx(8.57, abs=0.01)
    assert "heating_cop" not in answer["derived"]
    codes = {notice["code"] for notice in answer["usability"]["notices"]}
    assert "more_heat_than_possible" in codes
    assert not [f for f in answer["findings"] if "share_of_rated" in f["quantity"] and f["grade"] != "not_assessed"]


# ---------------------------------------------------------------- rating and weather


def test_map_at_the_rating_points() -> None:
    """Capacity at 17 over that at 47 °F is 0.626 on average among certified single-speed units (a comment in the
    public code of RESNET's model, from AHRI's directory of April 2024); its map gives 0.633, and 1/COP 1.356."""
    at = (maps.RATING_HEATING_RETURN, maps.RATING_HEATING_OUTDOOR)
    low = (maps.RATING_HEATING_RETURN, maps.RATING_HEATING_LOW_OUTDOOR)
    capacity = float(heating.map_ratio(maps.HEATING_MAP.capacity, *low, at))
    assert capacity == pytest.approx(0.626, abs=0.01)
    assert float(heating.map_ratio(maps.HEATING_MAP.power_over_capacity, *low, at)) == pytest.approx(1.356, abs=0.001)


@pytest.mark.parametrize("row", [row for row in UNIT_A if 5 <= row[0] <= 62], ids=lambda row: str(row[0]))
def test_map_against_a_makers_table(row: tuple[float, ...]) -> None:
    """Within the stated 0.03 of capacity (0.034 at 5 °F) and 0.07 of power (0.074), which holds for the whole range."""
    outdoor, capacity, _, power, _ = row
    place = (maps.RATING_HEATING_RETURN, kelvin(outdoor))
    at = (maps.RATING_HEATING_RETURN, maps.RATING_HEATING_OUTDOOR)
    mapped = float(heating.map_ratio(maps.HEATING_MAP.capacity, *place, at))
    powered = mapped * float(heating.map_ratio(maps.HEATING_MAP.power_over_capacity, *place, at))
    assert mapped == pytest.approx(capacity / 29.0, abs=0.034)
    assert powered == pytest.approx(power / 2.25, abs=0.075)


@pytest.mark.parametrize("way", ["two ratings", "one rating", "table"])
@pytest.mark.parametrize("row", UNIT_A, ids=lambda row: str(row[0]))
def test_a_unit_as_its_table_reaches_its_rating(assessed: Assess, way: str, row: tuple[float, ...]) -> None:
    """Unit A's own rows, held against its ratings at 47 and 17 °F: the truth, 100 %, is in the band, and no row is
    found wanting.  Outside 5 to 62 °F one rating alone says nothing."""
    rated = dict(RATED_A)
    unit: dict[str, Any] = {"rated": rated}
    if way == "one rating":
        del rated["heating_capacity_low"], rated["heating_cop_low"]
    if way == "table":
        unit = {"rated": {"cooling_capacity": 30000}, "performance_table": table_a()}
    answer = assessed(heated(air_of(row), unit))
    if way == "one rating" and not 5 <= row[0] <= 62:
        assert "share_of_rated_heating_capacity" not in answer["derived"]
        return
    for name in ("share_of_rated_heating_capacity", "share_of_rated_heating_power"):
        band = answer["derived"][name]["band"]
        assert band["low"] <= 100.0 <= band["high"], (name, band)
    graded = next(f for f in answer["findings"] if f["quantity"] == "share_of_rated_heating_capacity")
    assert graded["grade"] != "nonconforming"


def table_a() -> list[dict[str, Any]]:
    return [
        {"mode": "heating", "outdoor_air_dry_bulb": outdoor, "capacity": 1000.0 * capacity, "power": 1000.0 * power}
        for outdoor, capacity, _, power, _ in UNIT_A
    ]


@pytest.mark.parametrize("rated", [{"hspf": 8.2}, {"heating_cop": 0.3225 * 8.2 + 0.9099}])
def test_energy_of_a_heating_season(assessed: Assess, rated: dict[str, float]) -> None:
    """1,500 full-load hours of 29,000 Btu/h at 8.2 Btu/(W h) are 5,305 kWh (definition of HSPF), 902 at 0.17 a
    kilowatt-hour; a coefficient of performance leads back to its HSPF (rules of California's energy code)."""
    body = heated(air_of(UNIT_A[4]), {"rated": {"heating_capacity": 29_000, **rated}})
    answer = assessed({**body, "usage": {"heating_hours": 1500, "energy_price": 0.17}})
    assert value(answer, "seasonal_heating_energy") == pytest.approx(29.0 * 1500 / 8.2, rel=0.005)
    assert value(answer, "seasonal_heating_cost") == pytest.approx(29.0 * 1500 / 8.2 * 0.17, rel=0.005)


def test_two_ratings_say_more_than_one(assessed: Assess) -> None:
    """At 17 °F the unit's own rating leaves the tolerance of production alone."""
    row = next(row for row in UNIT_A if row[0] == 17)
    one = {name: number for name, number in RATED_A.items() if not name.endswith("_low")}
    both = assessed(heated(air_of(row), {"rated": RATED_A}))["derived"]["share_of_rated_heating_power"]
    alone = assessed(heated(air_of(row), {"rated": one}))["derived"]["share_of_rated_heating_power"]
    assert both["standard_uncertainty"] < 0.6 * alone["standard_uncertainty"]
    assert both["value"] == pytest.approx(100.0, abs=1.0)


def test_low_stage_in_heating(assessed: Assess) -> None:
    """A two-stage unit's low stage delivers 0.712 of its capacity for 0.850 of 1/COP (RESNET's model, as in the public
    code of resdx): unit A with that share of capacity and power is as rated; with its stage unknown nobody knows."""
    row = next(row for row in UNIT_A if row[0] == 47)
    readings = air_of((47, 29.0 * 0.712, row[2], row[3] * 0.712 * 0.850, 0.0)) | {"airflow": 1050.0 * 0.712}
    rated = {name: RATED_A[name] for name in ("heating_capacity", "heating_cop")}
    unit = {"capacity_control": "two_stage", "rated": rated}
    low = assessed(heated(readings, unit, {"stage": "low"}))
    assert value(low, "share_of_rated_heating_capacity") == pytest.approx(100.0, abs=1.5)
    assert value(low, "share_of_rated_heating_power") == pytest.approx(100.0, abs=1.5)
    unknown = assessed(heated(readings, unit))
    assert not [name for name in unknown["derived"] if name.startswith("share_of_rated")]
    assert not [f for f in unknown["findings"] if f["grade"] == "nonconforming"]


@pytest.mark.parametrize(
    ("load", "point", "strips"), [(36_000, 30.32, 5.95), (30_000, 26.04, 4.19), (24_000, 20.56, 2.43)]
)
def test_balance_points(assessed: Assess, load: float, point: float, strips: float) -> None:
    """A heat loss at 10 °F that is nil at 65 °F against unit A's capacity, linear between its rows (closed form)."""
    row = next(row for row in UNIT_A if row[0] == 47)
    unit = {
        "performance_table": table_a(),
        "design_load": {"heat_loss": load, "outdoor_air_dry_bulb": 10.0, "zero_load_temperature": 65.0},
    }
    answer = assessed(heated(air_of(row), unit))
    assert value(answer, "balance_point") == pytest.approx(point, abs=0.05)
    assert value(answer, "auxiliary_heat_at_design") == pytest.approx(1000.0 * strips, abs=15.0)
    # The line through the two ratings passes within 2.4 % of the rows between them.
    unit = {"rated": RATED_A, "design_load": unit["design_load"]}
    by_ratings = assessed(heated(air_of(row), unit))["derived"]["balance_point"]
    assert by_ratings["value"] == pytest.approx(point, abs=1.0)
    # Those rows, not the line, are the unit: the band holds them, to a tenth of a degree.
    assert by_ratings["band"]["low"] - 0.1 <= point <= by_ratings["band"]["high"] + 0.1


@pytest.mark.parametrize(
    ("outdoor", "capacity", "power"),
    [
        (45, 1.0, 1.0),
        (35, 0.948, 0.991),
        (30, 0.921, 0.987),
        (25, 0.894, 0.982),
        (20, 0.867, 0.978),
        (10, 0.856, 0.976),
    ],
)
def test_what_defrosting_takes(assessed: Assess, outdoor: float, capacity: float, power: float) -> None:
    """RESNET's model as in the public code of resdx: factors of capacity and power."""
    answer = assessed(heated({"outdoor_air_dry_bulb": outdoor}))
    assert 1.0 - value(answer, "defrost_share_of_heating_capacity") / 100.0 == pytest.approx(capacity, abs=6e-4)
    assert 1.0 - value(answer, "defrost_share_of_heating_power") / 100.0 == pytest.approx(power, abs=6e-4)


def test_defrost_has_the_spread_of_two_models(assessed: Assess) -> None:
    """NIST TN 1848, as the same code carries it, takes 0.085 at 17 °F and 0.094 at 35 °F: both within the band."""
    for outdoor, lost in ((17, 8.5), (35, 9.4)):
        band = assessed(heated({"outdoor_air_dry_bulb": outdoor}))["derived"]["defrost_share_of_heating_capacity"][
            "band"
        ]
        assert band["low"] - 1.0 <= lost <= band["high"] + 1.0


# EN 14511 rating points of air/air heating, dry and wet bulb in °C, and the relative humidity that goes with
# them: values from memory.
@pytest.mark.parametrize(
    ("dry", "wet", "humidity"), [(7.0, 6.0, 87.0), (2.0, 1.0, 84.0), (-7.0, -8.0, 75.0), (12.0, 11.0, 89.0)]
)
def test_outdoor_air_of_the_european_rating_points(assessed: Assess, dry: float, wet: float, humidity: float) -> None:
    """A wet bulb gives the humidity from which frost is judged, above and below freezing."""
    body = heated({"outdoor_air_dry_bulb": dry, "outdoor_air_wet_bulb": wet}) | {"units": "metric"}
    assert value(assessed(body), "outdoor_air_relative_humidity") == pytest.approx(humidity, abs=3.0)


# ---------------------------------------------------------------- pressures


def cycle(
    outdoor: float, suction: float, liquid: float, subcooling: float | None = None, inside: float = 70.0, **more: float
) -> dict[str, float]:
    """Readings of a row; the liquid line follows from the printed subcooling."""
    found = {
        "outdoor_air_dry_bulb": outdoor,
        "return_air_dry_bulb": inside,
        "suction_pressure": suction,
        "liquid_pressure": liquid,
        **more,
    }
    if subcooling is not None:
        bubble = PropsSI("T", "P", (liquid + 14.696) * 6894.757, "Q", 0, "R410A")
        found["liquid_line_temperature"] = (bubble - 273.15) * 1.8 + 32.0 - subcooling
    return found


def rows_of_b_and_c() -> list[tuple[dict[str, float], float]]:
    """Readings of every row of the charts of units B and C, and their nominal airflow."""
    found = []
    for flow, rows in UNIT_B.items():
        for outdoor, suction, row in zip(OUTDOOR, UNIT_B_SUCTION, rows, strict=True):
            found.append((cycle(outdoor, suction, *row, airflow=flow), 1000.0))
    for inside, rows in ((60.0, UNIT_B_60), (80.0, UNIT_B_80)):
        for outdoor, suction, row in zip(OUTDOOR, UNIT_B_SUCTION, rows, strict=True):
            found.append((cycle(outdoor, suction, *row, inside=inside, airflow=1000.0), 1000.0))
    for rows in (UNIT_C, UNIT_C_DOWNFLOW):
        for outdoor, suction, row in zip(OUTDOOR, UNIT_C_SUCTION, rows, strict=True):
            found.append((cycle(outdoor, suction, *row, airflow=1400.0), 1400.0))
    return found


@pytest.mark.parametrize("with_airflow", [True, False])
def test_no_printed_row_of_a_healthy_unit_is_condemned(assessed: Assess, *, with_airflow: bool) -> None:
    """Neither for its pressures nor for its subcooling, which runs from 12 to 36 °F in these charts."""
    for readings, rated in rows_of_b_and_c():
        given = dict(readings)
        if not with_airflow:
            del given["airflow"]
        body = heated(given, {"rated": {"airflow": rated}, "nameplate": {"subcooling": 10}})
        answer = assessed(body)
        assert "subcooling" in answer["derived"]
        assert not [f for f in answer["findings"] if f["grade"] == "nonconforming"], readings
        assert not [f for f in answer["findings"] if "subcooling" in f["quantity"]]
        assert answer["usability"]["grade"] == "usable", answer["usability"]


def test_airflow_moves_the_condensing_temperature(assessed: Assess) -> None:
    """Unit B: +6.7 and -4.4 °F at 47 °F outdoors for 750 and 1,250 cfm.  Brought to its rated airflow, every row of one
    outdoor temperature means the same within 2 °F (3 °F at 10 °F and below, where the chart itself is uneven)."""
    raw, brought = "condensing_temperature_over_return_air", "condensing_temperature_over_return_air_at_rated_airflow"
    for place, outdoor in enumerate(OUTDOOR):
        found = {}
        for flow, rows in UNIT_B.items():
            readings = cycle(outdoor, UNIT_B_SUCTION[place], *rows[place], airflow=flow)
            answer = assessed(heated(readings, {"rated": {"airflow": 1000}}))
            found[flow] = (value(answer, raw), value(answer, brought))
        if outdoor == 47:
            assert found[750][0] - found[1000][0] == pytest.approx(6.7, abs=0.2)
            assert found[1250][0] - found[1000][0] == pytest.approx(-4.4, abs=0.2)
        assert found[1000][0] == pytest.approx(found[1000][1], abs=0.01)
        for flow in (750, 1250):
            assert abs(found[flow][1] - found[1000][1]) < (2.0 if outdoor > 10 else 3.0), (outdoor, flow, found)


def test_return_air_moves_the_condensing_temperature_with_it(assessed: Assess) -> None:
    """Unit B at 60, 70 and 80 °F of return air: within 3 °F of one value over it at 47 °F outdoors, and the suction
    unmoved (printed: 98, 99 and 101 psi gauge)."""
    found = [
        value(
            assessed(heated(cycle(47, 99, *rows[1], inside=inside))),
            "condensing_temperature_over_return_air",
        )
        for inside, rows in ((60.0, UNIT_B_60), (70.0, UNIT_B[1000]), (80.0, UNIT_B_80))
    ]
    assert max(found) - min(found) < 3.0


@pytest.mark.parametrize(
    ("outdoor", "suction", "under"),
    [(60, 114, 21.9), (47, 99, 16.0), (17, 57, 10.5), (0, 41, 5.9)],
)
def test_evaporating_below_outdoor_air(assessed: Assess, outdoor: float, suction: float, under: float) -> None:
    """Unit B, saturation by CoolProp."""
    answer = assessed(heated(cycle(outdoor, suction, 300.0)))
    assert value(answer, "evaporating_temperature_under_outdoor_air") == pytest.approx(under, abs=0.15)


def test_a_table_is_linear_between_its_rows(assessed: Assess) -> None:
    """Unit B as the unit's own table, at 875 cfm and 43.5 °F: the mean of four printed pressures (closed form)."""
    table = [
        {
            "outdoor_air_dry_bulb": outdoor,
            "airflow": flow,
            "liquid_pressure": liquid,
            "subcooling": subcooling,
            "suction_pressure": suction,
        }
        for flow, rows in UNIT_B.items()
        for outdoor, suction, (liquid, subcooling) in zip(OUTDOOR, UNIT_B_SUCTION, rows, strict=True)
    ]
    readings = cycle(43.5, 92.0, 321.25, 15.0, airflow=875.0)
    answer = assessed(heated(readings, {"performance_table": table}))
    assert value(answer, "table_liquid_pressure") == pytest.approx((341 + 333 + 310 + 301) / 4.0 + 14.696, abs=0.01)
    assert value(answer, "table_subcooling") == pytest.approx((14 + 17 + 13 + 16) / 4.0, abs=0.01)
    assert value(answer, "liquid_pressure_departure_from_table") == pytest.approx(0.0, abs=0.02)
    grades = {f["quantity"]: f["grade"] for f in answer["findings"]}
    assert grades["subcooling_departure_from_table"] == "conforming"
    assert grades["liquid_pressure_departure_from_table"] != "nonconforming"
    # 10 °F more of subcooling than the unit's own chart, and 30 psi more on the high side.
    wrong = assessed(heated(cycle(43.5, 92.0, 351.25, 25.0, airflow=875.0), {"performance_table": table}))
    grades = {f["quantity"]: f["grade"] for f in wrong["findings"]}
    assert grades["subcooling_departure_from_table"] == "nonconforming"
    assert grades["liquid_pressure_departure_from_table"] == "nonconforming"


# ---------------------------------------------------------------- along the charge


@pytest.mark.parametrize("outdoor", UNIT_D)
def test_charge_along_a_printed_line(assessed: Assess, outdoor: int) -> None:
    """Unit D: with more charge suction and high side rise and the discharge gas cools, at every outdoor temperature;
    pressures as printed, so saturation by CoolProp."""
    found = []
    for suction, liquid, discharge in UNIT_D[outdoor]:
        answer = assessed(heated(cycle(outdoor, suction, liquid, discharge_line_temperature=discharge)))
        found.append(
            [
                value(answer, name)
                for name in (
                    "evaporating_temperature_under_outdoor_air",
                    "condensing_temperature_over_return_air",
                    "discharge_superheat",
                )
            ]
        )
        dew = PropsSI("T", "P", (liquid + 14.696) * 6894.757, "Q", 1, "R410A")
        assert found[-1][2] == pytest.approx(discharge - ((dew - 273.15) * 1.8 + 32.0), abs=0.1)
    steps = np.diff(np.array(found), axis=0)
    assert (steps[:, 0] < 0.0).all()
    assert (steps[:, 1] > 0.0).all()
    assert (steps[:, 2] < 0.0).all()
    pressures, lines = (np.array([row[place] for row in UNIT_D[outdoor]]) for place in (1, 2))
    slope = (lines[-1] - lines[0]) / (pressures[-1] - pressures[0])
    assert slope == pytest.approx({50: -0.64, 0: -0.29}.get(outdoor, slope), abs=0.01)


def test_flooding_is_judged_where_tables_allow(assessed: Assess) -> None:
    """Unit D prints "flooded" shading for its last rows.  From 40 °F outdoors the last row is below 20 °F of discharge
    superheat, the first above; below 30 °F the printed line itself is, so nothing is judged there."""

    def grade(outdoor: int, row: int) -> str:
        suction, liquid, discharge = UNIT_D[outdoor][row]
        answer = assessed(heated(cycle(outdoor, suction, liquid, discharge_line_temperature=discharge)))
        return str(next(f for f in answer["findings"] if f["quantity"] == "discharge_superheat")["grade"])

    for outdoor in (40, 50, 60):
        assert grade(outdoor, 0) == "conforming"
        assert grade(outdoor, -1) == "nonconforming"
    for outdoor in (0, 10, 20):
        assert {grade(outdoor, 0), grade(outdoor, -1)} == {"not_assessed"}


# ---------------------------------------------------------------- reversing valve


@pytest.mark.parametrize(("rise", "share"), [(1, 1.41), (2, 2.81), (3, 4.21), (5, 6.98), (10, 13.83), (20, 27.2)])
def test_leak_of_the_reversing_valve(assessed: Assess, rise: float, share: float) -> None:
    """Energy balance, enthalpies of CoolProp 8: evaporator outlet 40 °F at 99 psig, discharge 154 °F at 303 psig."""
    readings = {
        "suction_pressure": 99.0,
        "discharge_pressure": 303.0,
        "evaporator_outlet_temperature": 40.0,
        "suction_line_temperature": 40.0 + rise,
        "discharge_line_temperature": 154.0,
        "outdoor_air_dry_bulb": 47.0,
    }
    answer = assessed(heated(readings))
    assert value(answer, "reversing_valve_temperature_rise") == pytest.approx(rise, abs=1e-6)
    assert value(answer, "reversing_valve_leak_share") == pytest.approx(share, abs=0.02 if share < 20 else 0.1)


def test_no_leak_is_derived_from_wet_gas(assessed: Assess) -> None:
    """At 99 psig R-410A boils near 31 °F: gas at that temperature may carry liquid, whose heat nobody knows."""
    readings = {
        "suction_pressure": 99.0,
        "discharge_pressure": 303.0,
        "evaporator_outlet_temperature": 31.0,
        "suction_line_temperature": 36.0,
        "discharge_line_temperature": 154.0,
    }
    answer = assessed(heated(readings))
    assert "reversing_valve_leak_share" not in answer["derived"]
    assert value(answer, "reversing_valve_temperature_rise") == pytest.approx(5.0)


def test_both_sides_of_the_condenser_agree(assessed: Assess) -> None:
    """Heat by the refrigerant, worked by hand with CoolProp's enthalpies, is that of the air: the flow follows from the
    compressor's power (0.93 of the outdoor unit's, of which 0.94 reaches the gas, and 0.97 of the heat the coil: the
    service's assumptions)."""
    low, high = ((psi + 14.696) * 6894.757 for psi in (99.0, 310.0))
    suction = PropsSI("H", "P", low, "T", kelvin(42.0), "R410A")
    hot = PropsSI("H", "P", high, "T", kelvin(154.0), "R410A")
    liquid = PropsSI("H", "P", high, "T", kelvin(86.0), "R410A")
    heat = 1870.0 * 0.93 * 0.94 * 0.97 * (hot - liquid) / (hot - suction)
    readings = {
        "suction_pressure": 99.0,
        "liquid_pressure": 310.0,
        "suction_line_temperature": 42.0,
        "liquid_line_temperature": 86.0,
        "discharge_line_temperature": 154.0,
        "outdoor_air_dry_bulb": 47.0,
        "return_air_dry_bulb": 70.0,
        "outdoor_unit_power": 1870.0,
    }
    answer = assessed(heated(readings))
    assert value(answer, "heating_capacity_refrigerant_side") == pytest.approx(heat * WATT, rel=0.005)
    rise = (heat + 380.0) * WATT / (1.08 * 1050.0)
    more = {**readings, "supply_air_dry_bulb": 70.0 + rise, "airflow": 1050.0, "indoor_unit_power": 380.0}
    answer = assessed(heated(more))
    assert answer["reconciliation"]["verdict"] == "consistent"
    assert "heating_capacity" in {row["quantity"] for row in answer["reconciliation"]["balances"]}
