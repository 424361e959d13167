"""A log over time: each reading in a panel of its own, with what was used, what was left out, and where it settles."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, isfinite

import numpy as np
from numpy.typing import NDArray

from schemas.logs import LeftOut, LogAnswer, LoggedReading, Window
from service.render.axes import Frame, Scale, step_of, tick_text, ticks
from service.render.drawing import MARGIN, WIDTH, Drawing, text_width
from service.render.wording import amount, words
from service.words.log import LEFT_OUT, STEADINESS
from service.words.phrases import capital, listed, lowered, unit_word

FloatArray = NDArray[np.float64]

#: Height of a panel, its title above it, and the room below [user units].
_PANEL, _TITLE, _GAP = 62.0, 20.0, 12.0
_MOST_VALUES, _MOST_TIMES = 3, 6
#: Points drawn for one unit of width: the lowest and the highest number.
_BUCKET = 1.5
_COVERAGE = 1.96
#: Numbers outside of these shares of a reading may lie beyond its panel.
_SHARES = (0.01, 0.99)
#: Panels unless the caller asks for more.
MOST = 8
#: Times up to this are in seconds [s].
_IN_SECONDS = 180.0
_SECONDS_STEPS = (60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0)
#: Parts that say nothing of the unit, so that a panel need not hold them.
_OF_THE_SENSOR = frozenset({"dropout", "stuck", "unit_jump", "probe_not_in_place"})


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A run's log in the caller's units: times [s], and numbers over them by reading, NaN for gaps."""

    seconds: FloatArray
    values: Mapping[str, FloatArray]
    answer: LogAnswer


def draw(runs: Mapping[str, Course], *, most: int | None = None, name: str = "course") -> Drawing:
    """The chart of one run, or of several by name.

    Parameters
    ----------
    most
        Panels of each run; those left out are counted.
    """
    drawing = Drawing(name, "Readings over time", " ".join(_described(run, one) for run, one in runs.items()))
    width = WIDTH - 2 * MARGIN
    y = drawing.heading("Readings over time")
    key = "Blue line on the shaded ground: used. Grey line: left out. Dashed: the settled value, with its 95 % band."
    y = drawing.lines(MARGIN, y - 2, key, "small", width) + 4
    for run, one in runs.items():
        if run:
            y = drawing.lines(MARGIN, y + 4, capital(run), "strong", width) + 2
        y = drawing.lines(MARGIN, y, one.answer["sentence"], "text", width) + 4
        y = _run(drawing, one, y, most or MOST)
    drawing.height = y + MARGIN - 6
    return drawing


def _run(drawing: Drawing, course: Course, y: float, most: int) -> float:
    """The panels of a run with their notes; returns the y below."""
    readings = course.answer["readings"]
    shown = _chosen(course, most)
    across, top = _across(course, shown), y
    for name in shown:
        y = _panel(drawing, across, y, name, course)
    _events(drawing, across, course, (top + _TITLE, y - _GAP))
    y = _times(drawing, across, y, since_start=course.answer["start"] == "compressor_on")
    width = WIDTH - 2 * MARGIN
    for text in _notes(course, shown, across):
        y = drawing.lines(MARGIN, y, text, "small", width) + 4
    if len(shown) < len(readings):
        rest = len(readings) - len(shown)
        text = f"Not drawn: {rest} more reading{'s' if rest > 1 else ''} of the log."
        y = drawing.lines(MARGIN, y, text, "small", width) + 4
    return y


def _chosen(course: Course, most: int) -> list[str]:
    """What is drawn, in the order given: where there are too many, first what had not settled or was not steady."""
    readings = course.answer["readings"]

    def calm(name: str) -> tuple[bool, bool]:
        one = readings[name]
        drift = one["drift"]
        return one["settled_from_second"] is not None, drift is None or drift["grade"] == "steady"

    kept = set(sorted(readings, key=calm)[:most])
    return [name for name in readings if name in kept]


def _across(course: Course, shown: Sequence[str]) -> Scale:
    widest = max(
        (text_width(text, "small") for name in shown for _, text in _value_ticks(course, name)[1]), default=0.0
    )
    first, last = float(course.seconds[0]), float(course.seconds[-1])
    return Scale(first, max(last, first + 1.0), MARGIN + widest + 8, WIDTH - MARGIN)


def _value_ticks(course: Course, name: str) -> tuple[tuple[float, float], list[tuple[float, str]]]:
    """The ends of a panel, and the ticks within."""
    low, high = _ends(course.values[name], course.seconds, course.answer["readings"][name])
    step = step_of(high - low, _MOST_VALUES)
    return (low, high), [(value, tick_text(value, step)) for value in ticks(low, high, _MOST_VALUES)]


def _ends(values: FloatArray, seconds: FloatArray, one: LoggedReading) -> tuple[float, float]:
    """What a panel shows: all that was used, and nearly all else; a sensor's dropout may lie beyond it."""
    of_the_unit = np.isfinite(values)
    for part in one["left_out"]:
        if part["reason"] in _OF_THE_SENSOR:
            of_the_unit &= ~_within(seconds, part)
    known = values[of_the_unit]
    ends = list(_band(one) or ())
    if known.size:
        ends += [float(np.quantile(known, share)) for share in _SHARES]
    if (window := one["window"]) is not None:
        used = values[_within(seconds, window) & of_the_unit]
        ends += [float(used.min()), float(used.max())] if used.size else []
    low, high = min(ends, default=0.0), max(ends, default=0.0)
    least = max(2e-3 * max(abs(low), abs(high)), 1e-6)
    pad = max(0.08 * (high - low), least)
    return low - pad, high + pad


def _band(one: LoggedReading) -> tuple[float, float] | None:
    """The 95 % band of the settled value, without calibration; None where there is none."""
    value, uncertainty = one["value"], one["standard_uncertainty"]
    if value is None or uncertainty is None:
        return None
    return value - _COVERAGE * uncertainty, value + _COVERAGE * uncertainty


def _within(seconds: FloatArray, part: Window) -> NDArray[np.bool_]:
    return (seconds >= part["from_second"]) & (seconds <= part["to_second"])


def _panel(drawing: Drawing, across: Scale, y: float, name: str, course: Course) -> float:
    """One reading; returns the y below."""
    one = course.answer["readings"][name]
    unit = unit_word(one["unit"])
    title = f"{capital(words(name).replace('.', ' '))}{', ' if unit else ''}{unit}"
    drawing.text(MARGIN, y + 13, title, "small")
    drawing.text(WIDTH - MARGIN, y + 13, _status(one), "tag-small", "end")
    (low, high), values = _value_ticks(course, name)
    frame = Frame(across, Scale(low, high, y + _TITLE + _PANEL, y + _TITLE))
    left, top, width, height = frame.box
    if (window := one["window"]) is not None:
        start = one["settled_from_second"]
        begin = window["from_second"] if start is None else start
        _ground(drawing, frame, begin, window["to_second"], "inside")
    for part in one["left_out"]:
        _ground(drawing, frame, part["from_second"], part["to_second"], "ground")
    for value, text in values:
        at = frame.up(value)
        drawing.line(left, at, left + width, at, "rule")
        drawing.text(left - 6, at + 4.5, text, "small", "end")
    with drawing.clipped(left, top, width, height):
        _lines(drawing, frame, course, one, name)
    drawing.line(left, top + height, left + width, top + height, "axis")
    drawing.line(left, top, left, top + height, "axis")
    _tags(drawing, frame, one)
    return y + _TITLE + _PANEL + _GAP


def _status(one: LoggedReading) -> str:
    if one["value"] is None or one["drift"] is None:
        return "not used"
    state = "not settled" if one["settled_from_second"] is None else STEADINESS[one["drift"]["grade"]]
    return f"{amount(one['value'], one['unit'])}, {state}"


def _ground(drawing: Drawing, frame: Frame, start: float, end: float, style: str) -> None:
    left, right = frame.across.held(start), frame.across.held(end)
    drawing.rectangle(left, frame.up.end, right - left, frame.up.start - frame.up.end, style)


def _lines(drawing: Drawing, frame: Frame, course: Course, one: LoggedReading, name: str) -> None:
    """The numbers, and where they settle."""
    band, window = _band(one), one["window"]
    start, end = (inf, -inf) if window is None else (window["from_second"], window["to_second"])
    begin = start if one["settled_from_second"] is None else one["settled_from_second"]
    if band is not None:
        left, top, bottom = frame.across(begin), frame.up(band[1]), frame.up(band[0])
        drawing.rectangle(left, top, frame.across(end) - left, bottom - top, "spread-trend")
    seconds, values = course.seconds, course.values[name]
    used = (seconds >= begin) & (seconds <= end)
    for part in one["left_out"]:
        used &= ~_within(seconds, part)
    # Both lines meet at the edge of what was used.
    beside = ~used | np.append(~used[1:], False) | np.append(False, ~used[:-1])
    drawing.path(_thinned(frame, seconds, np.where(beside, values, np.nan)), "curve")
    drawing.path(_thinned(frame, seconds, np.where(used, values, np.nan)), "line-trend")
    if one["value"] is not None:
        at = frame.up(one["value"])
        drawing.line(frame.across(begin), at, frame.across(end), at, "line-first")


def _thinned(frame: Frame, seconds: FloatArray, values: FloatArray) -> list[tuple[float, float]]:
    """Points of a line: all, or of many the lowest and the highest on each bit of the width."""
    if len(seconds) <= 2 * frame.box[2] / _BUCKET:
        return [
            frame.point(x, y) if isfinite(y) else (x, y) for x, y in zip(seconds.tolist(), values.tolist(), strict=True)
        ]
    scale = frame.across
    bucket = ((seconds - scale.low) / (scale.high - scale.low) * (scale.end - scale.start) / _BUCKET).astype(np.int64)
    found: list[tuple[float, float]] = []
    for part in np.split(np.arange(len(seconds)), np.flatnonzero(np.diff(bucket)) + 1):
        here = values[part]
        known = part[np.isfinite(here)]
        if not known.size:
            found.append((float(seconds[part[0]]), np.nan))
            continue
        lowest, highest = known[np.argmin(values[known])], known[np.argmax(values[known])]
        found += [frame.point(float(seconds[at]), float(values[at])) for at in sorted({int(lowest), int(highest)})]
    return found


def _tags(drawing: Drawing, frame: Frame, one: LoggedReading) -> None:
    """A word on each part that was left out and is wide enough for it."""
    for part in one["left_out"]:
        if _has_tag(frame.across, part):
            middle = (frame.across.held(part["from_second"]) + frame.across.held(part["to_second"])) / 2
            drawing.text(middle, frame.up.start - 5, LEFT_OUT[part["reason"]].tag, "tag-small", "middle")


def _has_tag(across: Scale, part: LeftOut) -> bool:
    """Whether a part is wide enough for the word that says why."""
    width = across.held(part["to_second"]) - across.held(part["from_second"])
    return text_width(LEFT_OUT[part["reason"]].tag, "tag-small") + 6 <= width


def _times(drawing: Drawing, across: Scale, y: float, *, since_start: bool) -> float:
    """The axis of times under the last panel; returns the y below."""
    span = across.high - across.low
    unit, scale = ("s", 1.0) if span <= _IN_SECONDS else ("min", 60.0)
    step = next((one for one in _SECONDS_STEPS if span / one <= _MOST_TIMES and scale > 1.0), None)
    step = step_of(span, _MOST_TIMES) if step is None else step
    at = np.ceil(across.low / step - 1e-9) * step
    y -= _GAP
    while at <= across.high * (1.0 + 1e-9):
        drawing.line(across(at), y, across(at), y + 4, "axis")
        text = tick_text(at / scale, step / scale)
        drawing.text(min(across(at), WIDTH - MARGIN - text_width(text, "small") / 2), y + 17, text, "small", "middle")
        at += step
    since = "since the compressor started" if since_start else "of the log"
    drawing.text(across.end, y + 33, f"{unit} {since}", "small", "end")
    return y + 44


def _letters(course: Course) -> list[str]:
    return [chr(ord("A") + place % 26) for place, _ in enumerate(course.answer["events"])]


def _events(drawing: Drawing, across: Scale, course: Course, ends: tuple[float, float]) -> None:
    """A line through the panels for what happened, with a letter; the notes say what."""
    for letter, one in zip(_letters(course), course.answer["events"], strict=True):
        at = across.held(one["at_second"])
        drawing.line(at, ends[0], at, ends[1], "faint")
        drawing.text(at + 3, ends[0] + 12, letter, "tag-small")


def _notes(course: Course, shown: Sequence[str], across: Scale | None = None) -> list[str]:
    """What happened, and what was left out and why, each once with the readings that it is about.

    With the scale ``across``, parts that say so themselves are left out.
    """
    found = [
        f"{letter}: {one['sentence']}" for letter, one in zip(_letters(course), course.answer["events"], strict=True)
    ]
    parts: dict[str, list[str]] = {}
    for name in shown:
        for part in course.answer["readings"][name]["left_out"]:
            if across is None or not _has_tag(across, part):
                parts.setdefault(part["sentence"], []).append(name)
    for sentence, names in parts.items():
        which = "" if len(names) == len(shown) else f"{listed([words(name) for name in names])}, "
        found.append(f"Left out: {which}{lowered(sentence)}")
    return found


def _described(run: str, course: Course) -> str:
    """The whole content, for those who do not see it."""
    parts = [f"{capital(run)}:" if run else "", course.answer["sentence"]]
    parts += [one["sentence"] for one in course.answer["readings"].values()]
    return " ".join(filter(None, (*parts, *_notes(course, list(course.answer["readings"])))))
