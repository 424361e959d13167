"""What must hold for every visit, whatever its readings."""

from __future__ import annotations

from typing import Any

import orjson
import pytest
from fastapi.testclient import TestClient
from hypothesis import assume, given
from hypothesis import strategies as st

from schemas.readings import READINGS
from service.reference.units import conversion
from tests.conftest import Assess, visit

REFRIGERANT = st.sampled_from(["R-22", "R-410A", "R-32", "R-454B", "R-407C", "R-448A"])
SUCTION = st.floats(40, 150)
LIQUID = st.floats(180, 450)
LINE = st.floats(30, 90)
DRY_BULB = st.floats(60, 90)


def charge_visit(
    refrigerant: str,
    suction: float,
    liquid: float,
    line: float,
    **more: Any,  # noqa: ANN401
) -> dict[str, Any]:
    return visit(
        unit={"refrigerant": refrigerant},
        readings={
            "suction_pressure": suction,
            "liquid_pressure": liquid,
            "suction_line_temperature": line,
            "liquid_line_temperature": line + 40,
            **more,
        },
    )


def in_si(row: dict[str, Any], kind: str) -> float:
    return conversion(kind, row["unit"]).to_si(row["value"])


@given(REFRIGERANT, SUCTION, LIQUID, LINE)
def test_the_unit_system_changes_nothing(
    assessed: Assess, refrigerant: str, suction: float, liquid: float, line: float
) -> None:
    """The same readings in imperial and in metric give the same superheat, band and all."""
    imperial = assessed(charge_visit(refrigerant, suction, liquid, line))
    psi, degf = conversion("pressure", "psi"), conversion("temperature", "degF")
    metric = assessed(
        visit(
            "metric",
            unit={"refrigerant": refrigerant},
            readings={
                "suction_pressure": psi.to_si(suction) / 1e3,
                "liquid_pressure": {"value": psi.to_si(liquid) / 1e5, "unit": "bar"},
                "suction_line_temperature": degf.to_si(line) - 273.15,
                "liquid_line_temperature": {"value": degf.to_si(line + 40), "unit": "K"},
            },
        )
    )
    for name in ("superheat", "subcooling"):
        if name in imperial["derived"]:
            one, other = (a["derived"][name] for a in (imperial, metric))
            assert in_si(one, "temperature_difference") == pytest.approx(
                in_si(other, "temperature_difference"), abs=1e-5
            )
            assert one["standard_uncertainty"] / 1.8 == pytest.approx(other["standard_uncertainty"], rel=1e-4)


@given(REFRIGERANT, SUCTION, LIQUID, LINE, DRY_BULB)
def test_a_reading_leaves_bands_alone_that_do_not_depend_on_it(
    assessed: Assess, refrigerant: str, suction: float, liquid: float, line: float, dry: float
) -> None:
    """Adding a reading never widens a band that does not depend on it.  A clamp errs toward the air around,
    so outdoor air is read in both."""
    outdoor = {"outdoor_air_dry_bulb": dry + 10}
    few = assessed(charge_visit(refrigerant, suction, liquid, line, **outdoor))
    many = assessed(
        charge_visit(
            refrigerant,
            suction,
            liquid,
            line,
            return_air_dry_bulb=dry,
            return_air_wet_bulb=dry - 9,
            line_voltage=238,
            **outdoor,
        )
    )
    for name, row in few["derived"].items():
        assert many["derived"][name]["from"] == row["from"]
        old, new = (a["band"]["high"] - a["band"]["low"] for a in (row, many["derived"][name]))
        assert new == pytest.approx(old, rel=1e-5, abs=1e-6)


@given(st.floats(0.1, 4.0), st.floats(1.05, 4.0))
def test_a_better_instrument_never_widens_a_band(assessed: Assess, percent: float, factor: float) -> None:
    """Bands shrink when an instrument improves."""

    def band(accuracy: float) -> float:
        body = charge_visit("R-410A", 120, 340, 55)
        body["kit"] = {"gauges": {"type": "pressure_transducer", "accuracy": {"percent_of_reading": accuracy}}}
        found = assessed(body)["derived"]["superheat"]["band"]
        return float(found["high"] - found["low"])

    assert band(percent) < band(percent * factor)


@given(DRY_BULB, st.floats(0, 25), st.floats(0, 8000))
def test_wet_bulb_lies_between_dew_point_and_dry_bulb(
    assessed: Assess, dry: float, depression: float, altitude: float
) -> None:
    """For every state of moist air that the readings allow."""
    answer = assessed(
        visit(
            site={"altitude": altitude},
            readings={"return_air_dry_bulb": dry, "return_air_wet_bulb": dry - depression},
        )
    )["derived"]
    assume("return_air_dew_point" in answer)
    assert answer["return_air_dew_point"]["value"] <= dry - depression + 1e-4
    assert 0 < answer["return_air_relative_humidity"]["value"] <= 100 + 1e-3


@given(DRY_BULB, st.floats(5, 100))
def test_wet_bulb_and_humidity_are_two_ways_to_say_one_thing(assessed: Assess, dry: float, humidity: float) -> None:
    """Relative humidity to wet bulb and back."""
    forth = assessed(visit(readings={"return_air_dry_bulb": dry, "return_air_relative_humidity": humidity}))["derived"][
        "return_air_wet_bulb"
    ]["value"]
    assume(forth > 33)  # below freezing the wick may be ice or water
    back = assessed(visit(readings={"return_air_dry_bulb": dry, "return_air_wet_bulb": forth}))["derived"][
        "return_air_relative_humidity"
    ]["value"]
    assert back == pytest.approx(humidity, abs=0.01)


@given(REFRIGERANT, SUCTION, st.floats(0, 8000), st.floats(100, 2000))
def test_saturation_temperature_falls_with_altitude(
    assessed: Assess, refrigerant: str, suction: float, altitude: float, climb: float
) -> None:
    """The same gauge reading means a lower absolute pressure higher up."""

    def saturation(feet: float) -> float:
        body = visit(
            unit={"refrigerant": refrigerant},
            site={"altitude": feet},
            readings={"suction_pressure": suction},
        )
        derived = assessed(body)["derived"]
        return float(derived["suction_saturation_temperature"]["value"])

    assert saturation(altitude + climb) < saturation(altitude)


@given(REFRIGERANT, SUCTION)
def test_gauge_and_absolute_are_two_ways_to_say_one_thing(assessed: Assess, refrigerant: str, suction: float) -> None:
    """psi gauge plus the air pressure is psi absolute."""
    site = {"barometric_pressure": 13.0}
    gauge, absolute = (
        assessed(visit(unit={"refrigerant": refrigerant}, site=site, readings={"suction_pressure": p}))
        for p in ({"value": suction}, {"value": suction + 13.0, "unit": "psia"})
    )
    one, other = (a["derived"]["suction_saturation_temperature"]["value"] for a in (gauge, absolute))
    assert one == pytest.approx(other, abs=1e-4)


@given(st.floats(2.0, 300.0), st.lists(st.floats(0.95, 1.05), min_size=3, max_size=3))
def test_balanced_lines_never_show_a_lost_phase(assessed: Assess, amps: float, lines: list[float]) -> None:
    """A motor whose lines agree within 5 % of their mean has all its phases."""
    l1, l2, l3 = (round(amps * line, 2) for line in lines)
    answer = assessed(
        visit(
            unit={"nameplate": {"compressor_rated_load_amps": round(amps, 2)}},
            readings={"compressor_line_currents": {"l1": l1, "l2": l2, "l3": l3}},
        )
    )
    assert not [row for row in answer["findings"] if row["priority"] == "safety"]


@given(st.floats(2.0, 300.0), st.floats(0.8, 1.25), st.sampled_from(["l1", "l2", "l3"]))
def test_a_dead_line_is_always_a_lost_phase(assessed: Assess, amps: float, other: float, dead: str) -> None:
    """Whichever line it is, and whatever the other two carry."""
    lines = dict(zip(("l1", "l2", "l3"), (amps, round(amps * other, 2), amps), strict=True))
    answer = assessed(visit(readings={"compressor_line_currents": {**lines, dead: 0.0}}))
    assert answer["findings"][0]["limit"]["id"] == "current_imbalance_lost_phase"
    assert answer["findings"][0]["priority"] == "safety"


def any_reading(name: str) -> st.SearchStrategy[float | list[float]]:
    low, high = READINGS[name].imperial
    ends = st.sampled_from([low, high])
    once = st.one_of(st.floats(low, high).map(lambda value: round(value, 2)), ends)
    return st.one_of(once, once, once, st.lists(once, min_size=2, max_size=5))


SOME_READINGS = st.lists(
    st.sampled_from([name for name in READINGS if "." not in name]), unique=True, max_size=20
).flatmap(lambda names: st.fixed_dictionaries({name: any_reading(name) for name in names}))


POINT = {"airflow": 1200, "pressure_drop": 0.2}
SOME_RATINGS = st.fixed_dictionaries(
    {},
    optional={
        "rated": st.just({"cooling_capacity": 36000, "eer": 11.0}),
        "blower_table": st.just(
            [
                {"external_static_pressure": pressure, "airflow": flow}
                for pressure, flow in ((0.1, 1400), (0.5, 1200), (1.0, 800))
            ]
        ),
        "coil_pressure_drop_rating": st.just(POINT),
        "filter_pressure_drop_rating": st.just(POINT),
        "indoor_unit": st.sampled_from(["furnace_with_coil", "air_handler"]),
        "furnace_efficiency": st.just(0.8),
        "capacity_control": st.sampled_from(["single_speed", "two_stage", "variable_speed"]),
        "compressor_map": st.just(
            {
                "mass_flow": [300, 5, -0.5, 0.02, 0, 0, 0, 0, 0, 0],
                "mass_flow_unit": "lb/h",
                "temperature_unit": "degF",
                "suction_temperature": 65,
            }
        ),
    },
)


@given(
    st.one_of(st.none(), REFRIGERANT),
    SOME_READINGS,
    SOME_RATINGS,
    st.sampled_from(["cooling", "heating"]),
    st.floats(-1000, 15000),
)
def test_any_readings_get_an_answer_or_a_reason(
    client: TestClient,
    refrigerant: str | None,
    readings: dict[str, float | list[float]],
    ratings: dict[str, Any],
    mode: str,
    altitude: float,
) -> None:
    """Never a 500; what is answered is ordered, finite, and the same bytes each time."""
    unit = {"refrigerant": refrigerant, "mode": mode, **ratings}
    body = visit(unit=unit, site={"altitude": altitude}, readings=readings)
    body["usage"] = {"cooling_hours": 1000, "energy_price": 0.2}
    first, again = (client.post("/v1/assessments", json=body) for _ in range(2))
    assert first.status_code in (200, 422)
    if first.status_code == 422:
        assert first.json()["errors"]
        return
    assert first.content == again.content
    answer = orjson.loads(first.content)
    for row in answer["derived"].values():
        # What is not a number would come as null.
        assert all(isinstance(row["band"][end], float) for end in ("low", "high"))
        slack = 1e-6 * abs(row["value"]) + 1e-9  # seven digits are shown
        assert row["band"]["low"] <= row["value"] + slack
        assert row["value"] <= row["band"]["high"] + slack
        assert row["standard_uncertainty"] >= 0
        total = sum(row["variance_shares"].values())
        assert total == pytest.approx(1.0, abs=0.02) or row["variance_shares"] == {}
    for side in ("return", "supply"):
        humidity = answer["derived"].get(f"{side}_air_relative_humidity")
        assert humidity is None or humidity["value"] >= 0.0
    derived = set(answer["derived"])
    assert not derived & {row["quantity"] for row in answer["missing"]}
    assert answer["cautions"][-1]["id"] == "general"
