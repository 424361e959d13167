"""The course of a log: positions follow the numbers, what was used and what was left out shows in shape and word.

What is expected follows from the picture's definition; positions are read against its own axis texts.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from service.assess import log as logs
from service.assess.examination import examine
from service.intake.refusals import RefusedError
from service.render.course import Course, draw
from service.render.drawing import Drawing
from service.render.pictures import Asked, picture
from service.render.report import page
from tests.drawn import Seen, corners, inside, number
from tests.logs import log, readings, troubled, visit


def course(body: dict[str, Any]) -> Course:
    examined = examine(DiagnosisRequest.model_validate(body))
    answer = logs.answer(examined.visit)
    assert answer is not None
    assert examined.visit.logged is not None
    return Course(examined.visit.logged.seconds, logs.values(examined.visit), answer)


@pytest.fixture(scope="module")
def usual() -> Course:
    """One quantity, so that the picture has one panel."""
    times, values = readings(20)
    return course(visit(log(times, {"suction_line_temperature": values["suction_line_temperature"]})))


def minutes(seen: Seen, at: float) -> float:
    """The minute at a place, by the axis under the panel."""
    zero, ten = seen.tick("0", "x"), seen.tick("10", "x")
    return (at - zero) / (ten - zero) * 10.0


def test_the_window_is_shaded_and_the_rest_is_named(usual: Course) -> None:
    seen = Seen(draw({"": usual}))
    one = usual.answer["readings"]["suction_line_temperature"]
    assert one["window"] is not None
    assert one["settled_from_second"] is not None
    (shaded,) = seen.all("rect", "inside")
    ends = [number(shaded, "x"), number(shaded, "x") + number(shaded, "width")]
    expected = [one["settled_from_second"] / 60.0, one["window"]["to_second"] / 60.0]
    assert [minutes(seen, end) for end in ends] == pytest.approx(expected, abs=0.03)
    # Not by colour alone: another ground with a word on it, and another line.
    (ground,) = seen.all("rect", "ground")
    assert number(ground, "x") + number(ground, "width") == pytest.approx(ends[0], abs=0.02)
    assert "settling" in seen.words
    used, left = (corners(path) for style in ("line-trend", "curve") for path in seen.all("path", style))
    assert used[0][0] == pytest.approx(ends[0], abs=1.5)
    assert left[-1][0] == pytest.approx(ends[0], abs=1.5)


def test_the_settled_value_lies_where_the_axis_has_it(usual: Course) -> None:
    seen = Seen(draw({"": usual}))
    value = usual.answer["readings"]["suction_line_temperature"]["value"]
    assert value is not None
    sixty, seventy = seen.tick("60", "y"), seen.tick("70", "y")
    (line,) = seen.all("line", "line-first")
    assert number(line, "y1") == pytest.approx(sixty + (value - 60.0) / 10.0 * (seventy - sixty), abs=0.05)
    assert f"{value:.1f} °F, steady" in seen.words


def test_a_long_log_keeps_its_lowest_and_highest_number(usual: Course) -> None:
    """Four hours at one second draw as few points as half an hour."""
    times = np.arange(14_401.0)
    values = np.full(times.size, 55.0)
    values[7000:7200], values[9000:9200] = 40.0, 70.0
    one = usual.answer["readings"]["suction_line_temperature"]
    answer = {**usual.answer, "readings": {"suction_line_temperature": {**one, "window": None, "value": None}}}
    drawing = draw({"": Course(times, {"suction_line_temperature": values}, answer)})  # type: ignore[arg-type]
    seen = Seen(drawing)
    (path,) = seen.all("path", "curve")
    ys = [y for _, y in corners(path)]
    assert max(ys) - min(ys) == pytest.approx(30.0 / 20.0 * abs(seen.tick("60", "y") - seen.tick("40", "y")), abs=0.1)
    assert len(drawing.svg("light")) < 30_000


def test_every_trouble_is_named_in_the_picture() -> None:
    for name, word in (
        ("log_stuck", "stuck"),
        ("log_readings_swapped", "swapped"),
        ("log_changed", "A: After 12 min the stage or speed changed"),
        ("log_without_running", "None of its readings could be used"),
    ):
        drawing = draw({"": course(visit(troubled()[name]))})
        inside(drawing)
        assert word in Seen(drawing).words, name


def test_what_is_not_steady_is_drawn_first_and_the_rest_counted() -> None:
    drawing = draw({"": course(visit(troubled()["log_not_steady"]))}, most=1)
    words = Seen(drawing).words
    assert "Outdoor air dry bulb, °F" in words
    assert "Not drawn: 8 more readings of the log." in words
    # Who does not see it is told of all.
    assert "Suction pressure settles at" in Seen(drawing).description


def test_both_runs_of_a_comparison_are_drawn_and_a_body_without_a_log_is_refused() -> None:
    times, values = readings(20)
    one, other = (log(times, {"suction_pressure": values["suction_pressure"] + more}) for more in (0.0, 4.0))
    body = {"units": "imperial", "runs": {"before": {"log": one}, "after": {"log": other}}}
    words = Seen(draw_of(body)).words
    assert words.index("Before") < words.index("After")
    with pytest.raises(RefusedError) as refused:
        picture("course", DiagnosisRequest.model_validate({"units": "imperial", "run": {"readings": {}}}))
    assert refused.value.refusals[0].pointer == "/run/log"


def draw_of(body: dict[str, Any]) -> Drawing:
    return picture("course", ComparisonRequest.model_validate(body), Asked(most=1))


def test_the_report_of_a_logged_visit_shows_its_course() -> None:
    """For the technician; a customer reads no logs."""
    body = DiagnosisRequest.model_validate(visit(log(*readings(20))))
    assert "Readings over time" in page(body, "technician")
    assert "Readings over time" not in page(body, "customer")
