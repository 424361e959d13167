"""Readings of a test over time, with the curves that explain them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from service.render.axes import Frame, Scale, step_of, tick_text, ticks
from service.render.drawing import MARGIN, WIDTH, Drawing, text_width
from service.render.palette import SIZES

_HEIGHT = 230.0
_MOST_VALUES, _MOST_TIMES = 8, 8


@dataclass(frozen=True, slots=True)
class Point:
    """A reading: its time, its value, and half of its 95 % band."""

    time: float
    value: float
    half: float = 0.0


@dataclass(frozen=True, slots=True)
class Curve:
    """A curve over time: its points, its class of line, and what it is called."""

    points: Sequence[tuple[float, float]]
    style: str
    label: str


@dataclass(frozen=True, slots=True)
class Chart:
    """What is drawn: names of the picture, texts of the axes, readings, curves, and levels (value and name).

    A level is drawn only where it is among the values, so that one far away does not flatten the rest.
    """

    name: str
    title: str
    under: str
    description: str
    across: str
    up: str
    points: Sequence[Point]
    curves: Sequence[Curve] = ()
    levels: Sequence[tuple[float, str]] = ()
    of_point: str = "reading, with its 95 % band"


def draw(chart: Chart) -> Drawing:
    """The picture of a test."""
    drawing = Drawing(chart.name, chart.title, chart.description)
    top = drawing.heading(chart.title, chart.under) + 18
    values = [v for p in chart.points for v in (p.value - p.half, p.value + p.half)]
    values += [y for curve in chart.curves for _, y in curve.points if isfinite(y)]
    low, high = min(values), max(values)
    levels = [one for one in chart.levels if low <= one[0] <= high]
    pad = 0.08 * (high - low) or max(abs(high), 1.0) * 0.01
    low, high = low - pad, high + pad
    step = step_of(high - low, _MOST_VALUES)
    texts = [(value, tick_text(value, step)) for value in ticks(low, high, _MOST_VALUES)]
    left = max(text_width(text, "small") for _, text in texts)
    times = [point.time for point in chart.points]
    every = [x for curve in chart.curves for x, _ in curve.points] + times
    start, end = min(every), max(every)
    room = 0.03 * (end - start) or 1.0
    frame = Frame(
        Scale(start - room, end + room, MARGIN + left + 8, WIDTH - MARGIN), Scale(low, high, top + _HEIGHT, top)
    )
    stride = step_of(end - start or 1.0, _MOST_TIMES)
    marks = [(at, tick_text(at, stride)) for at in ticks(start, end, _MOST_TIMES)]
    frame.grid(drawing, marks, texts, (chart.across, chart.up))
    x, _, width, _ = frame.box
    for value, name in levels:
        at = frame.up(value)
        drawing.line(x, at, x + width, at, "line-limit")
        drawing.text(x + 8, at - 6, name, "tag-small")
    for curve in chart.curves:
        drawing.path([frame.point(*point) for point in curve.points], curve.style)
    for point in chart.points:
        _point(drawing, frame, point)
    drawing.height = _legend(drawing, chart, top + _HEIGHT + 44) + MARGIN
    return drawing


def _point(drawing: Drawing, frame: Frame, point: Point) -> None:
    x, y = frame.point(point.time, point.value)
    top, bottom = frame.up(point.value + point.half), frame.up(point.value - point.half)
    if bottom - top > 2.0:
        drawing.line(x, top, x, bottom, "whisker")
        for end in (top, bottom):
            drawing.line(x - 3.5, end, x + 3.5, end, "whisker")
    drawing.mark(x, y, "circle", "mark-point", 4.0)


def _legend(drawing: Drawing, chart: Chart, y: float) -> float:
    """What each mark and line is, one below the other; returns the y below."""
    drawing.mark(MARGIN + 14, y + SIZES["small"] * 0.6, "circle", "mark-point", 4.0)
    y = drawing.lines(MARGIN + 34, y, chart.of_point, "small", WIDTH - 2 * MARGIN - 34)
    for curve in chart.curves:
        middle = y + SIZES["small"] * 0.65
        drawing.path([(MARGIN, middle), (MARGIN + 28, middle)], curve.style)
        y = drawing.lines(MARGIN + 34, y, curve.label, "small", WIDTH - 2 * MARGIN - 34)
    return y
