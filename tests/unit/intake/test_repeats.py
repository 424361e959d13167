"""Readings given as repeats: the mean, what shrinks, what does not, and what is refused.

Expected uncertainties are closed forms of JCGM 100:2008: equations 3 to 5 for mean and scatter, 4.3.7
for a rectangular error (half-width over the root of three), 5.1.2 for the sum.  The weight of a stated
repeatability (5 degrees of freedom) is common practice, no source.
"""

from __future__ import annotations

from math import sqrt
from statistics import mean, stdev
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from schemas.readings import READING_GROUPS, READINGS
from service.derive.derivations import QUANTITIES
from service.reference.conditions import REPEATABILITY_WORTH
from service.uncertainty.error_terms import SensorErrors
from service.uncertainty.repeats import averaged, is_unsteady, pooled_deviation, repeats_of
from tests.conftest import Assess, visit

UNIT = {"refrigerant": "R-410A"}


def gauges(repeatability: float = 0.3, **accuracy: float) -> dict[str, Any]:
    """A kit of one gauge set whose every error is stated, in psi."""
    stated = {"fixed": 0.0, "resolution": 0.0, "unit": "psi", **accuracy}
    return {
        "gauges": {
            "type": "pressure_transducer",
            "accuracy": stated,
            "repeatability": repeatability,
        }
    }


def suction(given: Any, kit: dict[str, Any] | None = None) -> dict[str, Any]:  # noqa: ANN401
    return visit(unit=UNIT, kit=gauges() if kit is None else kit, readings={"suction_pressure": given})


def uncertainty(answer: dict[str, Any], name: str = "suction_pressure") -> float:
    return float(answer["instruments"][name]["standard_uncertainty"])


def notices(answer: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {row["code"]: row for row in answer["usability"]["notices"]}


def pooled(values: list[float], repeatability: float) -> float:
    """Standard uncertainty of the mean from the two formulas, nothing of ours."""
    n, s = len(values), stdev(values)
    return sqrt((5.0 * repeatability**2 + (n - 1) * s**2) / (5.0 + n - 1) / n)


# ---------------------------------------------------------------- what shrinks


def test_the_mean_is_used_and_the_scatter_pooled(assessed: Assess) -> None:
    """Random error alone: u = sqrt((5 r² + (n - 1) s²) / (n + 4) / n)."""
    values = [118.0, 118.6, 117.9]
    answer = assessed(suction({"values": values, "unit": "psi", "instrument": "gauges"}))
    assert uncertainty(answer) == pytest.approx(pooled(values, 0.3), rel=1e-6)
    plain = assessed(suction(mean(values)))
    for name, row in plain["derived"].items():
        assert answer["derived"][name]["value"] == pytest.approx(row["value"], rel=1e-6)
    assert "scatter_of_repeats" not in notices(answer)


@pytest.mark.parametrize("count", [2, 4, 9, 100])
def test_random_errors_shrink_with_the_root_of_the_number_and_calibration_never(assessed: Assess, count: int) -> None:
    """Scatter equal to r: u² = r² / n + (1 psi)² / 3, the limits of error of the calibration."""
    pairs = count // 2
    half = 0.3 * sqrt((count - 1) / (2 * pairs))  # so that s is 0.3 psi
    values = [118.0 + half, 118.0 - half] * pairs + [118.0] * (count % 2)
    assert stdev(values) == pytest.approx(0.3)
    answer = assessed(suction(values, gauges(fixed=1.0)))
    assert uncertainty(answer) == pytest.approx(sqrt(0.3**2 / count + 1.0 / 3.0), rel=1e-6)


def test_percent_of_reading_is_of_the_mean_and_never_shrinks(assessed: Assess) -> None:
    """2 % of 120 psi, rectangular, beside a vanishing random part."""
    answer = assessed(suction([119.9, 120.1] * 50, gauges(1e-6, percent_of_reading=2.0)))
    random = stdev([119.9, 120.1] * 50) / 10.0
    assert uncertainty(answer) == pytest.approx(sqrt(2.4**2 / 3.0 + random**2), rel=1e-6)


def test_placement_never_shrinks(assessed: Assess) -> None:
    """A clamp stays where it is: its default ±0.75 K, beside ±0.2 K of calibration, and 2.4 % of the 18 K that
    the air around is usually warmer."""
    kit = {"clamps": {"type": "thermistor_pipe_clamp", "repeatability": 0.1}}
    values = [55.4, 55.6] * 50
    answer = assessed(visit(kit=kit, readings={"suction_line_temperature": values}))
    random = pooled(values, 0.1) / 1.8
    step = 0.05 / 1.8 / 10.0  # half of 0.1 °F, over the root of a hundred
    expected = sqrt((0.75**2 + (0.024 * 18.0) ** 2 + 0.2**2 + step**2) / 3.0 + random**2)
    assert uncertainty(answer, "suction_line_temperature") / 1.8 == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("values", "divisor"),
    [
        ([118.0] * 4, 1.0),  # every repeat hides the same part of a step
        ([118.0] * 9 + [119.0], 1.0),  # one flicker tells next to nothing
        ([118.0, 119.0] * 8, 4.0),  # dither
    ],
)
def test_resolution_shrinks_only_where_repeats_move_over_steps(
    assessed: Assess, values: list[float], divisor: float
) -> None:
    """A display in whole psi: ±0.5 psi, rectangular."""
    answer = assessed(suction(values, gauges(0.2, resolution=1.0)))
    n, s = len(values), stdev(values)
    random = sqrt((5.0 * 0.2**2 + (n - 1) * s**2) / (n + 4) / n)
    assert uncertainty(answer) == pytest.approx(sqrt(0.5**2 / 3.0 / divisor**2 + random**2), rel=1e-6)


def test_one_value_repeated_keeps_the_stated_repeatability_in_mind(assessed: Assess) -> None:
    """Same numbers, a narrower band, never none: u = r sqrt(5 / (n + 4) / n)."""
    plain, repeated = assessed(suction(118.3)), assessed(suction([118.3, 118.3, 118.3]))
    for name, row in plain["derived"].items():
        assert repeated["derived"][name]["value"] == row["value"]
        assert repeated["derived"][name]["from"] == row["from"]
    assert uncertainty(repeated) == pytest.approx(0.3 * sqrt(5.0 / 7.0 / 3.0), rel=1e-6)
    assert set(notices(repeated)) == set(notices(plain))


# ---------------------------------------------------------------- unsteady


def test_scatter_beyond_the_instrument_is_a_reservation_and_stands_alone(assessed: Assess) -> None:
    """s² / r² = 100 at two degrees of freedom, where 6.9 is the 99.9 % point: u = s / sqrt(n)."""
    answer = assessed(suction([115.0, 118.0, 121.0]))
    row = notices(answer)["scatter_of_repeats"]
    assert row["weight"] == "reservation"
    assert row["readings"] == ["suction_pressure"]
    for words in ("3 repeats", "suction pressure", "3 psi", "0.3 psi"):
        assert words in row["sentence"]
    assert uncertainty(answer) == pytest.approx(3.0 / sqrt(3.0), rel=1e-6)


@pytest.mark.parametrize(
    # 99.9 % points of chi-square at 1, 2, 4 and 9 degrees of freedom, from printed tables.
    ("count", "point"),
    [(2, 10.828), (3, 13.816), (5, 18.467), (10, 27.877)],
)
def test_the_bound_is_the_printed_point_of_chi_square(count: int, point: float) -> None:
    """Just under it nothing is said; just over it something is. Resolution counts too."""
    for repeatability, resolution in ((2.0, 0.0), (0.0, 4.0), (sqrt(2.0), sqrt(8.0))):
        errors = SensorErrors(0.0, 0.0, "normal", 0.0, repeatability, resolution)
        for factor, expected in ((0.999, False), (1.001, True)):
            deviation = sqrt(4.0 * point / (count - 1)) * factor
            spread = [0.0] * (count - 2) + [1.0, -1.0]
            scale = deviation / stdev(spread)
            assert is_unsteady(errors, repeats_of([scale * v for v in spread])) is expected


@pytest.mark.parametrize("repeatability", [0.004, 0.3, 40.0])
def test_errors_of_the_mean_in_any_unit(repeatability: float) -> None:
    """The two formulas at a size under and over one, pascals as well as kelvins."""
    values = [5.0 + repeatability * step for step in (0.0, 0.9, -0.4, 0.3)]
    stated = SensorErrors(0.1, 0.2, "normal", 0.7, repeatability, 0.01 * repeatability)
    found = averaged(stated, repeats_of(values))
    assert found.repeatability == pytest.approx(pooled(values, repeatability))
    assert found.resolution == pytest.approx(0.01 * repeatability / 2.0)
    assert (found.offset, found.gain, found.placement) == (0.1, 0.2, 0.7)


def test_mean_and_scatter_of_repeats() -> None:
    """Against Python's statistics; equal ones have exactly none."""
    values = [118.0, 118.6, 117.9, 118.25]
    found = repeats_of(values)
    assert found.count == 4
    assert found.mean == pytest.approx(mean(values), rel=1e-15)
    assert found.deviation == pytest.approx(stdev(values))
    assert repeats_of([0.1, 0.1, 0.1]).deviation == 0.0


def test_a_display_that_flickers_by_half_a_step_dithers() -> None:
    """From a scatter of half a step averaging tells more than one look (JCGM 100, F.2.2.1), not under it."""
    errors = SensorErrors(0.0, 0.0, "normal", 0.0, 1.0, 2.0)
    moving, still = ([0.0, 2.0 * s, s] for s in (1.0, 0.99))
    assert stdev(moving) == pytest.approx(1.0)
    assert averaged(errors, repeats_of(moving)).resolution == pytest.approx(2.0 / sqrt(3.0))
    assert averaged(errors, repeats_of(still)).resolution == 2.0


@pytest.mark.parametrize("resolution", [0.0, 0.1])
@pytest.mark.parametrize("values", [[118.0, 118.0], [118.0, 118.1], [118.0, 118.1] * 50])
def test_no_stated_repeatability(assessed: Assess, values: list[float], resolution: float) -> None:
    """Nothing divides by zero, a flickering last digit is no scatter, and s stands alone."""
    answer = assessed(suction(values, gauges(0.0, resolution=resolution)))
    n, s = len(values), stdev(values)
    step = resolution / 2.0 / (sqrt(n) if s else 1.0)
    assert uncertainty(answer) == pytest.approx(sqrt(s**2 / n + step**2 / 3.0), rel=1e-6)
    assert "scatter_of_repeats" not in notices(answer)


def test_the_worth_of_a_stated_repeatability_is_what_the_tests_take() -> None:
    """The one number without a source."""
    assert REPEATABILITY_WORTH == 5.0


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=100), st.floats(0, 1e3), st.floats(0, 1e3))
def test_repeats_never_make_a_reading_of_steady_kind_worse(
    values: list[float], repeatability: float, resolution: float
) -> None:
    """Finite, never over the stated error unless the scatter shows more, calibration untouched."""
    errors = SensorErrors(1.0, 0.5, "rectangular", 0.25, repeatability, resolution)
    repeats = repeats_of(values)
    assert min(values) <= repeats.mean <= max(values)
    found = averaged(errors, repeats)
    assert (found.offset, found.gain, found.placement) == (1.0, 0.5, 0.25)
    assert 0.0 <= found.resolution <= resolution
    largest = max(repeatability, repeats.deviation)
    assert 0.0 <= found.repeatability <= largest / sqrt(len(values)) * (1 + 1e-9)
    assert pooled_deviation(errors, repeats) <= largest * (1 + 1e-9)


# ---------------------------------------------------------------- everywhere


def _three(name: str) -> tuple[float, list[float]]:
    """A reading's example, and three repeats about it."""
    example = READINGS[name].example
    return example, [example, example * 1.001, example * 0.999]


@pytest.mark.parametrize("name", READINGS)
def test_every_reading_takes_repeats(client: TestClient, name: str) -> None:
    """Bare and with `values`; the answer's value is as of one number."""
    example, repeats = _three(name)
    answers = []
    for given_as in (example, repeats, {"values": repeats}):
        group, _, part = name.partition(".")
        readings = {group: {part: given_as}} if group in READING_GROUPS else {group: given_as}
        response = client.post("/v1/assessments", json=visit(unit=UNIT, readings=readings))
        assert response.status_code == 200, response.text
        answers.append(response.json())
    once, bare, with_values = answers
    assert bare == with_values
    assert set(bare["derived"]) == set(once["derived"]) <= set(QUANTITIES)
    for label, row in once["derived"].items():
        assert bare["derived"][label]["value"] == pytest.approx(row["value"], rel=1e-5)
        assert bare["derived"][label]["from"] == row["from"]


def test_a_saturation_temperature_read_off_a_gauge_scatters_in_pressure(assessed: Assess) -> None:
    """The same scatter as of the pressures that it stands for (R-410A dew, by the service's table)."""
    pressures = [118.0, 118.6, 117.9]
    temperatures = [assessed(suction(p))["derived"]["suction_saturation_temperature"]["value"] for p in pressures]
    read = {"suction_saturation_temperature": {"values": temperatures, "instrument": "gauges"}}
    answer = assessed(visit(unit=UNIT, kit=gauges(), readings=read))
    assert uncertainty(answer, "suction_saturation_temperature") == pytest.approx(pooled(pressures, 0.3), rel=1e-3)
    assert answer["instruments"]["suction_saturation_temperature"]["unit"] == "psi"
    assert answer["derived"]["suction_saturation_temperature"]["value"] == pytest.approx(mean(temperatures), abs=1e-5)


def test_gauge_and_absolute_repeats_are_one_pressure(assessed: Assess) -> None:
    """Unit and reference hold for the whole list."""
    kit = gauges()
    site = {"barometric_pressure": 13.0}
    values = [118.0, 118.6, 117.9]
    shifted = [v + 13.0 for v in values]
    forms: list[Any] = [
        values,
        {"values": shifted, "unit": "psia"},
        {
            "values": [v * 0.06894757293168361 for v in shifted],
            "unit": "bar",
            "reference": "absolute",
        },
    ]
    found = [assessed(visit(unit=UNIT, kit=kit, site=site, readings={"suction_pressure": form})) for form in forms]
    name = "suction_saturation_temperature"
    for answer in found[1:]:
        assert answer["derived"][name]["value"] == pytest.approx(found[0]["derived"][name]["value"], rel=1e-6)
        assert uncertainty(answer) == pytest.approx(uncertainty(found[0]), rel=1e-6)


# ---------------------------------------------------------------- refused

_AT = "/run/readings/suction_pressure"

# Each: readings, the pointer that must be named, the value shown, words that must be there.
REFUSED: list[tuple[str, dict[str, Any], str, Any, str]] = [
    (
        "both",
        {"suction_pressure": {"value": 118, "values": [118, 119]}},
        _AT,
        "(an object)",
        "has both value and values",
    ),
    ("neither", {"suction_pressure": {"unit": "psi"}}, f"{_AT}/value", None, "is missing"),
    ("empty", {"suction_pressure": []}, _AT, "(a list)", "2 to 100 repeats"),
    ("empty values", {"suction_pressure": {"values": []}}, f"{_AT}/values", "(a list)", "2 to 100 repeats"),
    ("one", {"suction_pressure": [118]}, _AT, "(a list)", "Give a single reading as a plain number."),
    (
        "one of values",
        {"suction_pressure": {"values": [118]}},
        f"{_AT}/values",
        "(a list)",
        "Give a single reading as a plain number.",
    ),
    ("too many", {"suction_pressure": [118] * 101}, _AT, "(a list)", "holds too many"),
    ("text", {"suction_pressure": [118, "119"]}, f"{_AT}/1", "119", "no quotes"),
    ("null", {"suction_pressure": {"values": [118, None]}}, f"{_AT}/values/1", None, "leave out what was not read"),
    ("boolean", {"suction_pressure": [True, 118]}, f"{_AT}/0", True, "is not a number"),
    ("nested", {"suction_pressure": [[118, 119], 118]}, f"{_AT}/0", "(a list)", "is not a number"),
    ("no list", {"suction_pressure": {"values": 118}}, f"{_AT}/values", 118, "is not a list"),
    ("list as value", {"suction_pressure": {"value": [118, 119]}}, f"{_AT}/value", "(a list)", "as `values`"),
    (
        "unknown field",
        {"suction_pressure": {"values": [118, 119], "units": "psi"}},
        f"{_AT}/units",
        "psi",
        "is not a field",
    ),
    ("unit", {"suction_pressure": {"values": [118, 119], "unit": "PSI"}}, f"{_AT}/unit", "PSI", "Did you mean psi?"),
    (
        "beyond any unit",
        {"suction_line_temperature": [55, 900]},
        "/run/readings/suction_line_temperature/1",
        900,
        "-60 to 200 degF",
    ),
    (
        "beyond any unit, group",
        {"line_voltages": {"l1_l2": [230, 1900]}},
        "/run/readings/line_voltages/l1_l2/1",
        1900,
        "0 to 700 V",
    ),
    ("out of range", {"suction_pressure": [118, 500]}, f"{_AT}/1", 500, "400 psi"),
    (
        "out of range in bar",
        {"suction_pressure": {"values": [8, 60], "unit": "bar"}},
        f"{_AT}/values/1",
        60,
        "27.58 bar",
    ),
    (
        "group",
        {"capacitor_voltage": {"compressor": {"values": [352, 710]}}},
        "/run/readings/capacitor_voltage/compressor/values/1",
        710,
        "700 V",
    ),
    ("no saturation there", {"liquid_pressure": [350, 790]}, "/run/readings/liquid_pressure/1", 790, "R-410A"),
    (
        "outside the curve",
        {"liquid_saturation_temperature": [107, 189]},
        "/run/readings/liquid_saturation_temperature/1",
        189,
        "saturation curve",
    ),
    ("below vacuum", {"suction_pressure": {"values": [1, -14.65], "unit": "psi"}}, f"{_AT}/values/1", -14.65, ""),
    (
        "contradiction",
        {"suction_pressure": {"values": [140, 141], "unit": "psia", "reference": "gauge"}},
        f"{_AT}/reference",
        "gauge",
        "contradicts",
    ),
    (
        "instrument",
        {"suction_pressure": {"values": [118, 119], "instrument": "none"}},
        f"{_AT}/instrument",
        "none",
        "not in the kit",
    ),
]


@pytest.mark.parametrize(
    ("readings", "where", "value", "words"),
    [row[1:] for row in REFUSED],
    ids=[row[0] for row in REFUSED],
)
def test_refused_with_the_number_named(
    client: TestClient, readings: dict[str, Any], where: str, value: object, words: str
) -> None:
    """422, one error, its pointer into the list, the value, and what to do."""
    response = client.post("/v1/assessments", json=visit(unit=UNIT, readings=readings))
    assert response.status_code == 422, response.text
    (error,) = response.json()["errors"]
    assert error["pointer"] == where
    assert error["value"] == value
    assert words in " ".join(str(error[part]) for part in ("allowed", "detail", "hint"))
    assert error["hint"]


def test_every_repeat_out_of_range_is_named(client: TestClient) -> None:
    """Not the first alone."""
    body = visit(readings={"suction_pressure": [118, 500, 119, -20]})
    errors = client.post("/v1/assessments", json=body).json()["errors"]
    assert [row["pointer"] for row in errors] == [f"{_AT}/1", f"{_AT}/3"]


def test_not_a_number_is_no_json(client: TestClient) -> None:
    """NaN inside a list, as anywhere."""
    text = '{"units": "imperial", "run": {"readings": {"suction_pressure": [118, NaN]}}}'
    response = client.post("/v1/assessments", content=text, headers={"Content-Type": "application/json"})
    assert response.status_code == 400


@pytest.mark.parametrize(
    ("parts", "where"),
    [
        ({"site": {"altitude": [980, 990]}}, "/site/altitude"),
        ({"site": {"barometric_pressure": [14.1, 14.2]}}, "/site/barometric_pressure"),
        ({"site": {"barometric_pressure": {"values": [14.1, 14.2]}}}, "/site/barometric_pressure"),
        ({"unit": {"nameplate": {"subcooling": [9, 10]}}}, "/unit/nameplate/subcooling"),
        ({"kit": {"g": {"type": "analog_gauge", "open_to_air_reading": [0, 0]}}}, "/kit/g/open_to_air_reading"),
    ],
)
def test_what_is_no_reading_takes_no_repeats(client: TestClient, parts: dict[str, Any], where: str) -> None:
    """One number each."""
    response = client.post("/v1/assessments", json=visit(**parts))
    assert response.status_code == 422
    assert all(row["pointer"].startswith(where) for row in response.json()["errors"])
