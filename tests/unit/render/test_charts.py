"""Charts of changes, of fault probabilities and of trends: positions follow the numbers, words are there.

What is expected follows from each chart's definition; positions are read against the chart's own axis texts
and zone edges, as a reader would.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import sqrt

import numpy as np
import pytest

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.examples import comparison_examples, diagnosis_examples, trend_examples
from schemas.trends import TrendRequest
from service.compare.comparison import compare
from service.compare.trend import trend as trend_of
from service.faults.diagnosis import diagnose
from service.intake.refusals import RefusedError
from service.render import changes_chart, fault_probabilities, trend_chart
from service.render.drawing import MARGIN, Drawing, text_width, wrapped
from service.render.pictures import Asked, picture
from tests.answers import Loose, untyped
from tests.drawn import HOSTILE, Seen, corners, inside, number

YEAR = 365.25 * 86400.0


@pytest.fixture(scope="module")
def comparisons() -> Loose:
    return {name: compare(ComparisonRequest.model_validate(body)) for name, body in comparison_examples().items()}


@pytest.fixture(scope="module")
def diagnoses() -> Loose:
    return {name: diagnose(DiagnosisRequest.model_validate(body)) for name, body in diagnosis_examples().items()}


@pytest.fixture(scope="module")
def five_summers() -> Loose:
    return untyped(trend_of(TrendRequest.model_validate(trend_examples()["five_summers"])))


# ---------------------------------------------------------------- changes


def change(value: float, half: float, verdict: str | None = "inconclusive", **others: object) -> Loose:
    """One derived value that changed, of which 3 matters."""
    return {
        "unit": "delta_degF",
        "difference_unit": "delta_degF",
        "before": 10.0,
        "after": 10.0 + value,
        "at_common_conditions": {
            "value": value,
            "standard_uncertainty": half / 1.96,
            "band": {"low": value - half, "high": value + half, "coverage": 0.95},
        },
        "verdict": verdict,
        "smallest_detectable": 4.5,
        "smallest_that_matters": 3.0,
        "sentence": "...",
    } | others


def comparison(rows: Loose, **system: object) -> Loose:
    """An answer with these changes, and nothing told of the system."""
    return {
        "system": {
            "verdict": "inconclusive",
            "sentence": "Cannot tell. Whole sentence.",
            "efficiency_change_percent": None,
            "capacity_change_percent": None,
            "power_change_percent": None,
            "smallest_detectable_percent": None,
            "smallest_that_matters_percent": 5.0,
        }
        | system,
        "conditions": {
            "comparable": "yes",
            "sentence": "The runs were made under similar conditions.",
        },
        "changes": rows,
    }


def relative(value: float, low: float, high: float) -> Loose:
    return {"value": value, "band": {"low": low, "high": high, "coverage": 0.95}}


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_change_of_what_matters_lies_on_the_edge_of_the_zone(sign: float) -> None:
    """The axis is the change over the smallest that matters; the zone is where that is under one."""
    seen = Seen(changes_chart.draw(comparison({"superheat": change(sign * 3.0, 1.5, "improved")})))
    (zone,) = seen.all("rect", "matterless")
    left, width = number(zone, "x"), number(zone, "width")
    edge = left + width if sign > 0 else left
    # One mark in the row's text, one on the axis.
    _, mark = seen.all("circle", "mark-good")
    assert number(mark, "cx") == pytest.approx(edge, abs=0.02)
    # The band of half what matters reaches a quarter of the zone to either side.
    band = seen.all("line", "line-good")[0]
    assert [number(band, "x1"), number(band, "x2")] == pytest.approx([edge - width / 4, edge + width / 4], abs=0.03)
    # What would show, 1.5 times what matters, is ticked on both sides.
    middle = left + width / 2
    assert [number(e, "x1") for e in seen.all("line", "curve")] == pytest.approx(
        [middle - 0.75 * width, middle + 0.75 * width], abs=0.03
    )


def test_zero_lies_in_the_middle_of_the_zone() -> None:
    seen = Seen(changes_chart.draw(comparison({"superheat": change(0.0, 1.0)})))
    (zone,) = seen.all("rect", "matterless")
    assert seen.tick("too small to matter", "x") == pytest.approx(
        number(zone, "x") + number(zone, "width") / 2, abs=0.02
    )


def test_claimed_changes_come_before_the_rest_and_the_system_first() -> None:
    rows = {
        "superheat": change(0.1, 0.2, "no_material_change"),
        "subcooling": change(4.0, 1.0, "worsened"),
        "airflow": change(0.1, 0.2, "neither"),
        "temperature_split": change(-4.0, 1.0, "improved"),
        "suction_pressure_absolute": change(0.0, 5.0, None),
        "discharge_temperature": change(0.0, 5.0, "inconclusive"),
        "return_air_wet_bulb": change(0.0, 1.0) | {"at_common_conditions": None},
    }
    answer = comparison(rows, efficiency_change_percent=relative(7.0, 3.0, 11.0))
    seen = Seen(changes_chart.draw(answer))
    order = [
        "Efficiency",
        "Subcooling",
        "Temperature split",
        "Superheat",
        "Airflow",
        "Absolute suction pressure",
        "Discharge line temperature",
    ]
    lines = [e.text for e in seen.texts if e.get("class") == "text"]
    assert lines == order
    for word in ("improved", "worsened", "no material change", "neither", "inconclusive", "not judged"):
        assert f"{word}" in seen.words
        assert f"{word}" in seen.description
    # Each state has a mark of its own, not only a colour.
    marks = {(shape, style) for shape, style, *_ in changes_chart.VERDICTS.values()}
    assert len(marks) == len(changes_chart.VERDICTS)


def test_what_is_beyond_ends_in_an_arrowhead_at_the_edge() -> None:
    """Six times what matters is off an axis that ends at four; so is one end of a wide band."""
    wide = change(0.0, 0.0, "inconclusive", smallest_detectable=None)
    wide["at_common_conditions"]["band"] = {"low": -30.0, "high": 3.0, "coverage": 0.95}
    rows = {
        "superheat": change(18.0, 1.5, "worsened", smallest_detectable=None),
        "subcooling": wide,
    }
    seen = Seen(changes_chart.draw(comparison(rows)))
    (zone, _) = seen.all("rect", "matterless")
    middle, half = number(zone, "x") + number(zone, "width") / 2, number(zone, "width") / 2
    right, left = middle + 4 * half, middle - 4 * half
    tips = {
        style: [corners(e)[1] for e in seen.all("path", style) if "Z" not in e.get("d", "")]
        for style in ("line-bad", "line-open")
    }
    assert [x for x, _ in tips["line-bad"]] == pytest.approx([right])
    assert [x for x, _ in tips["line-open"]] == pytest.approx([left])
    # Heads point outward.
    (head,) = (e for e in seen.all("path", "line-bad"))
    assert corners(head)[0][0] < right
    # The mark off the axis is in the text only; the caps of the cut ends are not drawn.
    assert len(seen.all("path", "mark-bad")) == 1
    assert len(seen.all("line", "line-bad")) == 1
    assert len(seen.all("line", "line-open")) == 2
    assert "Arrowhead" in seen.words
    assert "+18.0 °F" in seen.words
    near = Seen(changes_chart.draw(comparison({"superheat": change(1.0, 1.0)})))
    assert "Arrowhead" not in near.words
    assert not [e for e in near.all("path") if "Z" not in e.get("d", "")]


def test_the_headline_never_leaves_the_axis() -> None:
    """Efficiency up by 22 % where 5 % matters: its mark and its band are drawn, and nothing is cut."""
    answer = comparison({"superheat": change(30.0, 1.0)}, efficiency_change_percent=relative(22.0, 16.0, 28.0))
    seen = Seen(changes_chart.draw(answer))
    zone = seen.all("rect", "matterless")[0]
    middle, half = number(zone, "x") + number(zone, "width") / 2, number(zone, "width") / 2
    band = seen.all("line", "line-quiet")
    ends = sorted(number(e, "x1") for e in band if number(e, "x1") == number(e, "x2"))
    assert [middle + half * size for size in (16.0 / 5, 28.0 / 5)] == pytest.approx(
        [e for e in ends if e > middle][:2], abs=0.03
    )
    assert "matters from 5.0 %" in seen.words


def test_one_state_is_drawn_once() -> None:
    """Saturation temperature, evaporating temperature and pressure of the suction side are one row."""
    rows = {
        name: change(0.5, 1.0)
        for name in ("suction_saturation_temperature", "suction_pressure_absolute", "evaporating_temperature")
    }
    lines = [e.text for e in Seen(changes_chart.draw(comparison(rows))).texts if e.get("class") == "text"]
    assert lines == ["Suction saturation temperature"]


def test_relative_changes_count_by_what_matters_of_their_own(
    comparisons: Loose,
) -> None:
    """Capacity that matters from a tenth: a change of a tenth lies on the edge."""
    answer = copy.deepcopy(comparisons["coil_cleaned"])
    row = answer["changes"]["cooling_capacity"]
    row["smallest_that_matters"] = 0.1 * row["before"]
    answer["system"]["capacity_change_percent"] = relative(10.0, 9.0, 11.0)
    answer["system"]["efficiency_change_percent"] = relative(5.0, 4.0, 6.0)
    answer["system"]["power_change_percent"] = None
    row["verdict"] = "worsened"
    seen = Seen(changes_chart.draw(answer, most=2))
    zone = seen.all("rect", "matterless")[0]
    edge = number(zone, "x") + number(zone, "width")
    efficiency = seen.all("circle", "mark-good")[1]
    assert number(efficiency, "cx") == pytest.approx(edge, abs=0.02)
    capacity = np.mean([x for x, _ in corners(seen.all("path", "mark-bad")[1])])
    assert capacity == pytest.approx(edge, abs=0.02)
    assert "+10.0 % (+9.0 to +11.0 %)" in seen.words


def test_rows_beyond_most_are_counted(comparisons: Loose) -> None:
    answer = comparisons["coil_cleaned"]
    whole = len(Seen(changes_chart.draw(answer, most=100)).all("rect", "matterless"))
    seen = Seen(changes_chart.draw(answer, most=4))
    assert len(seen.all("rect", "matterless")) == 4
    assert f"Not drawn: {whole - 4} more" in seen.words
    assert f"{whole - 4} more changes are not drawn" in seen.description


def test_a_value_of_the_system_is_drawn_once(comparisons: Loose) -> None:
    seen = Seen(changes_chart.draw(comparisons["coil_cleaned"]))
    lines = [e.text for e in seen.texts if e.get("class") == "text"]
    assert lines[:3] == ["Efficiency", "Cooling capacity", "Total power"]
    assert len(lines) == len(set(lines))
    assert "Energy efficiency ratio" not in lines
    assert "Btu/(W h)" in seen.words


def test_the_sentence_is_short_in_the_picture_and_whole_for_a_reader() -> None:
    seen = Seen(changes_chart.draw(comparison({"superheat": change(0.0, 1.0)})))
    assert "Cannot tell." in seen.words
    assert "Whole sentence." not in seen.words
    assert "Cannot tell. Whole sentence." in seen.description


def test_nothing_in_like_weather_is_said() -> None:
    rows = {"superheat": change(1.0, 1.0) | {"at_common_conditions": None, "verdict": None}}
    answer = comparison(rows, sentence="No verdict: the runs were made in weather too far apart.")
    seen = Seen(changes_chart.draw(answer))
    assert "weather too far apart" in seen.words
    assert not seen.all("rect", "matterless")
    assert Seen(changes_chart.draw(comparison({}))).description


@pytest.mark.parametrize(
    "others",
    [
        {"smallest_detectable": None},
        {"before": 0.0},
        {"smallest_that_matters": None},
        {"smallest_that_matters": 0.0},
        {"smallest_that_matters": 1e-300},
        {"smallest_that_matters": 1e300},
        {"verdict": None},
    ],
)
def test_odd_changes_are_drawn_or_left_out(others: Loose) -> None:
    rows = {name: change(1.0, 2.0) | others for name in ("superheat", "eer", "total_power")}
    answer = comparison(
        rows,
        efficiency_change_percent=relative(0.0, 0.0, 0.0),
        power_change_percent=relative(-1e9, -1e12, 1e12),
    )
    inside(changes_chart.draw(answer))


# ---------------------------------------------------------------- fault probabilities


def bars(seen: Seen) -> list[tuple[str, float]]:
    """Class of each bar and its share of the whole width."""
    (whole,) = {number(e, "width") for e in seen.all("rect", "ground")}
    return [
        (e.get("class", ""), number(e, "width") / whole)
        for e in seen.all("rect")
        if e.get("class", "").startswith("bar-")
    ]


def test_bars_are_as_long_as_the_probabilities(diagnoses: Loose) -> None:
    answer = diagnoses["charge_lost"]
    seen = Seen(fault_probabilities.draw(answer))
    expected = [
        (f"bar-{one['status']}", one["probability"]) for one in answer["hypotheses"] if one["fault"] != "no_fault"
    ]
    found = [bar for bar in bars(seen) if bar[0] != "bar-sound"]
    assert [style for style, _ in found] == [style for style, _ in expected]
    assert [share for _, share in found] == pytest.approx([p for _, p in expected], abs=1e-4)


def test_lines_stand_where_a_fault_is_possible_and_where_it_is_found(
    diagnoses: Loose,
) -> None:
    seen = Seen(fault_probabilities.draw(diagnoses["charge_lost"], most=1))
    (ground,) = seen.all("rect", "ground")
    start, width = number(ground, "x"), number(ground, "width")
    assert [number(e, "x1") for e in seen.all("line", "curve")] == pytest.approx(
        [start + 0.1 * width, start + 0.9 * width], abs=0.02
    )
    assert seen.tick("0.1", "x") == pytest.approx(start + 0.1 * width, abs=0.02)
    assert seen.tick("0.9", "x") == pytest.approx(start + 0.9 * width, abs=0.02)
    for word in ("possible from", "found from", "Fault found", "Not drawn: 8 more"):
        assert word in seen.words


def test_a_found_fault_says_what_it_costs_and_an_unlikely_one_does_not(
    diagnoses: Loose,
) -> None:
    answer = diagnoses["charge_lost"]
    seen = Seen(fault_probabilities.draw(answer))
    found = next(h for h in answer["hypotheses"] if h["fault"] == "low_charge")
    cost = found["cost"]["efficiency_percent"]
    middle, low, high = (
        f"{value:.0f}".replace("-", "\N{MINUS SIGN}")
        for value in (cost["value"], cost["band"]["low"], cost["band"]["high"])
    )
    assert f"found, probability {found['probability']:.2f}; efficiency {middle} % ({low} to {high} %)" in seen.words
    other = next(h for h in answer["hypotheses"] if h["status"] == "unlikely" and h["cost"])
    assert f"unlikely, probability {other['probability']:.2f}" in seen.words
    assert seen.words.count("; efficiency ") == 1


def test_nothing_wrong_is_a_row_by_its_probability(diagnoses: Loose) -> None:
    """In a sound unit it comes first, and is not called a fault that is possible."""
    answer = copy.deepcopy(diagnoses["sound_unit"])
    healthy = next(j["probability"] for j in answer["combinations"] if not j["faults"])
    seen = Seen(fault_probabilities.draw(answer))
    style, share = bars(seen)[0]
    assert style == "bar-sound"
    assert share == pytest.approx(healthy, abs=1e-4)
    assert "Nothing wrong" in seen.words
    assert len([b for b in bars(seen) if b[0] == "bar-sound"]) == 1
    assert len(bars(seen)) == len(answer["hypotheses"])
    answer["combinations"][0]["probability"] = 0.05
    shares = [share for _, share in bars(Seen(fault_probabilities.draw(answer)))]
    assert shares == sorted(shares, reverse=True)
    assert Seen(fault_probabilities.draw(answer)).all("rect", "bar-sound")


def test_each_status_has_its_word_and_its_bar(diagnoses: Loose) -> None:
    answer = copy.deepcopy(diagnoses["charge_lost"])
    one = answer["hypotheses"][1]
    one["status"], one["probability"] = "possible", 0.5
    answer["found"] = [answer["hypotheses"][0]["fault"], one["fault"]]
    seen = Seen(fault_probabilities.draw(answer))
    assert {style for style, _ in bars(seen)} >= {"bar-found", "bar-possible", "bar-unlikely"}
    for word in ("found, probability", "possible, probability 0.50", "unlikely, probability"):
        assert word in seen.words
    assert "found together with a fault that looks like it" in seen.words


def test_no_diagnosis_says_why_and_what_would_unlock_it(diagnoses: Loose) -> None:
    answer = diagnoses["charge_lost"] | {
        "verdict": "not_enough_to_tell",
        "sentence": "The refrigerant is not stated.",
        "hypotheses": [],
        "combinations": [],
        "found": [],
        "missing": ["unit.refrigerant", "run.readings.suction_pressure"],
    }
    seen = Seen(fault_probabilities.draw(answer))
    assert not seen.all("rect", "ground")
    for text in (seen.words, seen.description):
        assert "refrigerant is not stated" in text
        assert "add: the unit's refrigerant; suction pressure" in text
    assert "Not enough to tell" in seen.words


# ---------------------------------------------------------------- trend


def series(
    values: list[float],
    half: float = 1.0,
    first: datetime = datetime(2020, 1, 1, tzinfo=UTC),
    apart: timedelta = timedelta(days=365.25),
    **others: object,
) -> Loose:
    """A series of values a year apart; its line is their mean, to within half a band."""
    ends = [(first + k * apart).isoformat() for k in (0, len(values) - 1)]
    return {
        "unit": "delta_degF",
        "difference_unit": "delta_degF",
        "at_common_conditions": True,
        "points": [
            {
                "taken_at": (first + k * apart).isoformat(),
                "value": value,
                "band": {"low": value - half, "high": value + half, "coverage": 0.95},
                "weight": 4.0 / 3.0,
            }
            for k, value in enumerate(values)
        ],
        "shape": "steady",
        "fitted": [piece(ends, float(np.mean(values)), half / 1.96)],
        "drift_per_year": sized(0.0, 0.1),
        "probability_rising": 0.5,
        "step": None,
        "odd_runs": [],
        "crossing": None,
        "sentence": "What it does.",
    } | others


def piece(ends: list[str], level: float, own: float, slope: tuple[float, float] = (0.0, 0.0)) -> Loose:
    """A straight piece of a line, best known at its start."""
    start, end = ends
    return {
        "start": start,
        "end": end,
        "at": start,
        "level": level,
        "level_standard_uncertainty": own,
        "slope_per_year": slope[0],
        "slope_standard_uncertainty": slope[1],
    }


def sized(value: float, own: float) -> Loose:
    return {
        "value": value,
        "standard_uncertainty": own,
        "band": {"low": value - 1.96 * own, "high": value + 1.96 * own, "coverage": 0.95},
    }


def answer_of(**quantities: Loose) -> Loose:
    return {"units": "imperial", "runs": [], "quantities": quantities, "sentence": "..."}


def crossing(bound: float, expected: str | None, earliest: str | None = None) -> Loose:
    return {
        "limit": "condensing_over_ambient_usual",
        "source": "...",
        "bound": bound,
        "expected": expected,
        "earliest": earliest,
        "latest": None,
    }


def test_a_run_lies_at_its_date_and_value() -> None:
    """The first of January 2022 lies on its tick; a value of 20 on the tick of 20."""
    row = series([10.0, 15.0, 20.0, 25.0, 30.0])
    row["points"][2]["taken_at"] = "2022-01-01T00:00:00+00:00"
    seen = Seen(trend_chart.draw(answer_of(superheat=row)))
    marks = seen.all("circle", "mark-point")
    assert len(marks) == 5
    assert number(marks[2], "cx") == pytest.approx(seen.tick("2022", "x"), abs=0.02)
    assert number(marks[2], "cy") == pytest.approx(seen.tick("20", "y"), abs=0.02)
    # Evenly spaced values are evenly spaced, higher ones higher.
    steps = [number(b, "cy") - number(a, "cy") for a, b in pairwise(marks)]
    assert steps == pytest.approx([steps[0]] * 4, abs=0.03)
    assert steps[0] < 0
    # The whisker of a point of 20 with 1 to either side.
    up = (seen.tick("30", "y") - seen.tick("10", "y")) / 20.0
    whisker = seen.all("line", "whisker")[6]
    assert number(whisker, "x1") == number(marks[2], "cx")
    assert [number(whisker, "y1"), number(whisker, "y2")] == pytest.approx(
        [seen.tick("20", "y") + up, seen.tick("20", "y") - up], abs=0.03
    )


def value_at(seen: Seen, y: float, low: str, high: str) -> float:
    """The value that the axis gives to a height."""
    a, b = seen.tick(low, "y"), seen.tick(high, "y")
    return float(low) + (y - a) / (b - a) * (float(high) - float(low))


def test_a_drift_is_the_line_of_the_answer_with_its_band() -> None:
    """20 at the first run, 2 a year; the band widens from there as u² + (0.3 t)²: the answer's own formula."""
    row = series([20.0, 22.0, 24.0, 26.0, 28.0], shape="drift")
    ends = [row["points"][k]["taken_at"] for k in (0, -1)]
    row["fitted"] = [piece(ends, 20.0, 0.5, (2.0, 0.3))]
    seen = Seen(trend_chart.draw(answer_of(superheat=row)))
    marks = seen.all("circle", "mark-point")
    x0, x1 = number(marks[0], "cx"), number(marks[-1], "cx")

    def expected(x: float) -> tuple[float, float]:
        year = (x - x0) / (x1 - x0) * 4.0
        return 20.0 + 2.0 * year, 1.96 * sqrt(0.5**2 + (0.3 * year) ** 2)

    (drawn,) = seen.all("path", "line-trend")
    for x, y in corners(drawn):
        assert value_at(seen, y, "20", "28") == pytest.approx(expected(x)[0], abs=0.01)
    outline = corners(seen.all("path", "spread-trend")[0])
    half = len(outline) // 2
    for sign, part in ((1.0, outline[:half]), (-1.0, outline[half:])):
        for x, y in part:
            level, reach = expected(x)
            assert value_at(seen, y, "20", "28") == pytest.approx(level + sign * reach, abs=0.01)


def test_a_step_is_two_levels() -> None:
    """10 before, 16 after; between them nothing but a guess."""
    row = series([10.0, 10.0, 10.0, 16.0, 16.0], shape="step")
    dates = [point["taken_at"] for point in row["points"]]
    row["step"] = {"after": dates[2], "before": dates[3], "size": sized(6.0, 0.6)}
    row["fitted"] = [piece([dates[0], dates[2]], 10.0, 0.3), piece(dates[3:], 16.0, 0.5)]
    seen = Seen(trend_chart.draw(answer_of(superheat=row)))
    before, after = (corners(e) for e in seen.all("path", "line-trend"))
    for level, text in ((before, "10"), (after, "16")):
        height = seen.tick(text, "y")
        assert [y for _, y in level] == pytest.approx([height, height], abs=0.02)
    marks = [number(e, "cx") for e in seen.all("circle", "mark-point")]
    assert marks[2] <= before[-1][0] < after[0][0] <= marks[3]
    for outline, own in zip(seen.all("path", "spread-trend"), (0.3, 0.5), strict=True):
        heights = [value_at(seen, y, "10", "16") for _, y in corners(outline)]
        assert max(heights) - min(heights) == pytest.approx(2 * 1.96 * own, abs=0.02)
    assert "levels before and after the step" in seen.words


def test_a_steady_series_is_a_level_with_a_band() -> None:
    """A standard uncertainty of 0.5 is drawn as 1.96 times that to either side."""
    row = series([20.0] * 6, half=1.96)
    ends = [row["points"][k]["taken_at"] for k in (0, -1)]
    row["fitted"] = [piece(ends, 20.0, 0.5)]
    seen = Seen(trend_chart.draw(answer_of(superheat=row)))
    (drawn,) = seen.all("path", "line-trend")
    height = seen.tick("20.0", "y")
    assert [y for _, y in corners(drawn)] == pytest.approx([height, height], abs=0.02)
    heights = [value_at(seen, y, "19.0", "21.0") for _, y in corners(seen.all("path", "spread-trend")[0])]
    assert max(heights) - min(heights) == pytest.approx(2 * 1.96 * 0.5, abs=0.02)


def test_an_odd_run_is_a_cross_with_a_word() -> None:
    row = series([20.0, 20.0, 30.0, 20.0, 20.0])
    row["odd_runs"] = [row["points"][2]["taken_at"]]
    row["points"][2]["weight"] = 0.05
    seen = Seen(trend_chart.draw(answer_of(superheat=row)))
    assert len(seen.all("circle", "mark-point")) == 4
    strokes = seen.all("line", "line-bad")
    assert len(strokes) == 2
    x = (number(strokes[0], "x1") + number(strokes[0], "x2")) / 2
    y = (number(strokes[0], "y1") + number(strokes[0], "y2")) / 2
    assert x == pytest.approx(seen.tick("2022", "x"), abs=0.5)
    assert y == pytest.approx(seen.tick("30", "y"), abs=0.02)
    (word,) = [e for e in seen.texts if e.text == "odd"]
    assert number(word, "x") == pytest.approx(x, abs=0.02)
    assert ", odd" in seen.description
    assert "odd" not in Seen(trend_chart.draw(answer_of(superheat=series([20.0] * 3)))).words


def test_a_limit_near_ahead_is_drawn_to_the_date_of_its_crossing() -> None:
    """The axis is extended to the first of January 2028, where the limit of 30 is reached."""
    row = series([20.0, 21.0, 22.0, 23.0, 24.0], shape="drift", drift_per_year=sized(1.0, 0.1))
    row["crossing"] = crossing(30.0, "2028-01-01T00:00:00Z", "2027-01-01T00:00:00Z")
    seen = Seen(trend_chart.draw(answer_of(superheat=row)))
    (limit,) = seen.all("line", "line-limit")
    assert number(limit, "y1") == number(limit, "y2")
    assert number(limit, "y1") == pytest.approx(seen.tick("30", "y"), abs=0.02)
    (mark,) = seen.all("path", "mark-open")
    assert np.mean([x for x, _ in corners(mark)]) == pytest.approx(seen.tick("2028", "x"), abs=0.03)
    band = seen.all("line", "line-open")[0]
    span = seen.tick("2028", "x") - seen.tick("2026", "x")
    assert number(band, "x1") == pytest.approx(seen.tick("2028", "x") - span / 2, abs=0.2)
    # The latest date is unknown: an arrowhead at the edge.
    (head,) = seen.all("path", "line-open")
    assert corners(head)[1][0] == number(limit, "x2")
    # On a rim of paper, so that no line of the grid runs through its letters.
    assert "limit 30.0 °F" in [e.text for e in seen.all("text", "tag-small")]
    assert "about 2028-01 (95 %: 2027-01 to more than 20 years ahead)" in seen.words


def test_a_limit_far_ahead_is_told_in_words() -> None:
    """Over eight years ahead the axis ends at the runs; a limit far off is not drawn either."""
    row = series([20.0, 21.0, 22.0, 23.0, 24.0], shape="drift", drift_per_year=sized(1.0, 0.1))
    row["crossing"] = crossing(30.0, "2035-01-01T00:00:00Z")
    seen = Seen(trend_chart.draw(answer_of(superheat=row)))
    assert len(seen.all("line", "line-limit")) == 1
    assert not seen.all("path", "mark-open")
    assert "2026" not in [e.text for e in seen.texts]
    assert "about 2035-01" in seen.words
    row["crossing"] = crossing(300.0, None)
    far = Seen(trend_chart.draw(answer_of(superheat=row)))
    assert not far.all("line", "line-limit")
    assert "far above what is drawn" in far.words
    assert "more than 20 years ahead" in far.words


def test_which_quantity_is_drawn_by_default() -> None:
    """Toward a limit; else the clearest; else efficiency; else the first."""

    def moving(own: float, toward: Loose | None = None) -> Loose:
        return series([1.0, 2.0, 3.0], shape="drift", drift_per_year=sized(1.0, own), crossing=toward)

    still = series([1.0, 1.0, 1.0])
    nearing = moving(0.4, crossing(9.0, "2030-01-01T00:00:00Z"))
    later = moving(0.1, crossing(9.0, None))
    for expected, quantities in (
        ("airflow", {"eer": still, "subcooling": moving(0.1), "superheat": later, "airflow": nearing}),
        ("subcooling", {"eer": still, "airflow": moving(0.3), "subcooling": moving(0.2)}),
        ("eer", {"airflow": still, "eer": still}),
        ("airflow", {"airflow": still, "superheat": still}),
    ):
        assert trend_chart.chosen(answer_of(**quantities), None) == expected
    assert trend_chart.chosen(answer_of(eer=still, airflow=nearing), "eer") == "eer"


def test_others_that_move_are_named() -> None:
    drifting = series([1.0, 2.0, 3.0], shape="drift", drift_per_year=sized(1.0, 0.2))
    answer = answer_of(eer=series([9.0] * 3), airflow=drifting, subcooling=series([9.0] * 3))
    seen = Seen(trend_chart.draw(answer, "eer"))
    assert "Drifting: Airflow." in seen.words
    assert "Subcooling" not in seen.words


def test_an_unknown_quantity_and_an_empty_series_are_refused() -> None:
    with pytest.raises(RefusedError) as unknown:
        trend_chart.draw(answer_of(eer=series([9.0] * 3), airflow=series([9.0] * 3)), "superheat")
    (refusal,) = unknown.value.refusals
    assert (refusal.pointer, refusal.value) == ("query/quantity", "superheat")
    assert refusal.allowed == "one of eer, airflow"
    for quantity in (None, "eer"):
        with pytest.raises(RefusedError) as empty:
            trend_chart.draw(answer_of(), quantity)
        (refusal,) = empty.value.refusals
        assert refusal.pointer == "/runs"
        assert "suction_pressure" in refusal.hint


@pytest.mark.parametrize(
    "apart",
    [timedelta(seconds=s) for s in (1, 600, 7200, 86400, 5 * 86400, 30 * 86400, 40 * YEAR)],
    ids=str,
)
@pytest.mark.parametrize("shape", ["steady", "drift"])
def test_any_spacing_of_runs_has_dates_that_do_not_touch(apart: timedelta, shape: str) -> None:
    drawing = trend_chart.draw(answer_of(superheat=series([20.0, 21.0, 22.0, 23.0], apart=apart, shape=shape)))
    inside(drawing)
    seen = Seen(drawing)
    base = max(number(e, "y") for e in seen.texts if e.get("text-anchor") == "middle")
    dates = [e for e in seen.texts if number(e, "y") == base]
    assert len(dates) >= 2
    for a, b in pairwise(dates):
        taken = (text_width(a.text or "", "small") + text_width(b.text or "", "small")) / 2
        assert number(b, "x") - number(a, "x") > taken


@pytest.mark.parametrize("scale", [0.0, 1e-12, 1e12])
def test_huge_and_tiny_values_are_drawn(scale: float) -> None:
    values = [scale, 2 * scale, 3 * scale]
    inside(trend_chart.draw(answer_of(superheat=series(values, half=scale / 2))))
    inside(trend_chart.draw(answer_of(superheat=series(values, half=0.0, shape="drift"))))
    nothing = series(values)
    for point in nothing["points"]:
        point["weight"] = 0.0
    inside(trend_chart.draw(answer_of(superheat=nothing)))


def test_a_step_without_its_runs_is_still_drawn() -> None:
    """Years at the end of the calendar do not stop it either."""
    row = series([1.0, 2.0, 3.0], first=datetime(9998, 1, 1, tzinfo=UTC), apart=timedelta(days=200))
    row |= {"shape": "step", "step": None}
    inside(trend_chart.draw(answer_of(superheat=row)))
    early = series([1.0, 2.0, 3.0], first=datetime(1, 1, 1, tzinfo=UTC), apart=timedelta(hours=3))
    inside(trend_chart.draw(answer_of(superheat=early)))


# ---------------------------------------------------------------- all


def every(comparisons: Loose, diagnoses: Loose, five: Loose) -> list[Callable[[], Drawing]]:
    """Each chart of each example."""
    found: list[Callable[[], Drawing]] = []
    found += [lambda a=a: changes_chart.draw(a) for a in comparisons.values()]  # type: ignore[misc]
    found += [lambda a=a: fault_probabilities.draw(a) for a in diagnoses.values()]  # type: ignore[misc]
    found += [lambda q=q: trend_chart.draw(five, q) for q in five["quantities"]]  # type: ignore[misc]
    return found


def test_every_chart_stays_in_its_frame_and_repeats_its_bytes(
    comparisons: Loose, diagnoses: Loose, five_summers: Loose
) -> None:
    for draw in every(comparisons, diagnoses, five_summers):
        drawing = draw()
        inside(drawing)
        assert drawing.svg("auto") == draw().svg("auto")
        seen = Seen(drawing)
        assert seen.all("title")[0].text
        assert seen.description
        assert min(number(e, "y") for e in seen.texts) > MARGIN / 2


def test_hostile_strings_stay_text(comparisons: Loose, diagnoses: Loose, five_summers: Loose) -> None:
    answers = copy.deepcopy((comparisons["coil_cleaned"], diagnoses["sound_unit"], five_summers))
    compared, diagnosed, followed = answers
    compared["system"]["sentence"] = compared["conditions"]["sentence"] = HOSTILE
    compared["changes"][HOSTILE] = compared["changes"]["superheat"]
    diagnosed["sentence"] = diagnosed["hypotheses"][1]["text"] = HOSTILE
    diagnosed["missing"] = [HOSTILE]
    row = followed["quantities"]["eer"]
    row["sentence"] = HOSTILE
    followed["quantities"][HOSTILE] = row | {"shape": "drift"}
    for drawing in (
        changes_chart.draw(compared),
        fault_probabilities.draw(diagnosed),
        trend_chart.draw(followed, "eer"),
        trend_chart.draw(followed, HOSTILE),
    ):
        inside(drawing)
        seen = Seen(drawing)
        assert not seen.all("script")
        assert "<script>" not in seen.text
        assert "<script>" in seen.words


def test_lines_are_filled_and_none_is_too_wide() -> None:
    """No line breaks between a number and its sign; words that no line holds are broken."""
    text = "Efficiency under the same conditions rose by 7 % (95 %: 4 to 11 %) and by 5 °F " * 5
    for style in ("small", "heading"):
        lines = wrapped(text, style, 300.0)
        assert all(text_width(one, style) <= 300.0 for one in lines)
        assert all(not one.startswith(("%", "°")) for one in lines)
        # The next word would not have fitted.
        for one, following in pairwise(lines):
            assert text_width(f"{one} {following.split(' ')[0]}", style) > 300.0
        assert " ".join(lines).replace("\N{NO-BREAK SPACE}", " ") == text
    long = "W" * 300
    broken = wrapped(long, "small", 300.0)
    assert "".join(broken) == long
    assert max(text_width(one, "small") for one in broken) <= 300.0


def test_bodies_are_drawn_and_others_refused() -> None:
    compared = ComparisonRequest.model_validate(comparison_examples()["coil_cleaned"])
    visit = DiagnosisRequest.model_validate(diagnosis_examples()["charge_lost"])
    followed = TrendRequest.model_validate(trend_examples()["five_summers"])
    assert "improved" in Seen(picture("changes", compared)).words
    assert "Fault found" in Seen(picture("fault_probabilities", visit)).words
    assert "Airflow over time" in Seen(picture("trend", followed, Asked("airflow"))).words
    for plot, body in (("changes", visit), ("fault_probabilities", followed), ("trend", compared)):
        with pytest.raises(RefusedError):
            picture(plot, body)
