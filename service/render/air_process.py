"""Return and supply air on a psychrometric chart at the pressure of the site."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np

from service.derive.states import AIR_STATES, StateDraws
from service.physics import moist_air
from service.reference.units import conversion, in_system, system_unit
from service.render.axes import Frame, Scale, step_of, tick_text, ticks
from service.render.drawing import MARGIN, WIDTH, Drawing, text_width
from service.render.runs import LINES, MARKS, SPREADS, Box, key, named, outline, styles
from service.render.wording import of_kind
from service.words.numbers import figure

_LEFT, _RIGHT, _HEIGHT = MARGIN + 4, WIDTH - 60.0, 300.0
_HUMIDITIES = (0.2, 0.4, 0.6, 0.8, 1.0)
#: Room about the states [K] and over the most humid one.
_SIDES, _ABOVE = 6.0, 1.45
#: Dry over wet bulb [K] within which a line of one wet bulb meets the foot of any chart drawn.
_WET_SPAN = 45.0


@dataclass(frozen=True, slots=True)
class AirOfRun:
    """The air of one run: the states known, and dry bulbs [K] whose humidity was not read."""

    states: Mapping[str, StateDraws]
    dry_only: Mapping[str, float]
    pressure: float


def draw(
    runs: Mapping[str, AirOfRun],
    system: str,
    *,
    name: str = "air-process",
    without: Sequence[str] = (),
) -> Drawing:
    """The chart; ``runs`` by name, one alone named ``""``; ``without``, runs that tell no state.

    Each state is a point with the region that holds it in 95 % of all cases.  Air whose humidity was
    not read stands as an upright dashed line at its dry bulb.
    """
    pressure = next(iter(runs.values())).pressure
    title = "Air through the indoor coil"
    drawing = Drawing(name, title, _described(runs, system))
    y = drawing.heading(title, key(runs, "point: as read, in its 95 % region", without))
    frame = _frame(runs, system, y + 36)
    curves = _background(drawing, frame, pressure, system)
    _dry_only(drawing, frame, runs, system)
    boxes = [
        _process(drawing, frame, air, system, style) for air, style in zip(runs.values(), styles(runs), strict=True)
    ]
    taken = [box for run in boxes for box in run.values()] + _names(drawing, frame, boxes)
    for humidity, points in curves:
        label = _humidity_label(drawing, frame, humidity, points, taken)
        taken += [label] if label is not None else []
    y = frame.up.start + 46
    for text in [*_legend(runs, system), _at(pressure, system)]:
        y = drawing.lines(MARGIN, y, text, "small", WIDTH - 2 * MARGIN) + 2
    drawing.height = y + MARGIN - 6
    return drawing


def _unit(kind: str, system: str) -> tuple[str, float, float]:
    symbol = system_unit(kind, system)
    unit = conversion(kind, symbol)
    return symbol, unit.scale, unit.offset


def _frame(runs: Mapping[str, AirOfRun], system: str, y: float) -> Frame:
    states = [state for air in runs.values() for state in air.states.values()]
    dry = [float(s.first[0]) for s in states]
    dry += [value for air in runs.values() for value in air.dry_only.values()]
    ratios = [float(np.quantile(s.second, 0.99)) for s in states]
    low, high = min(dry) - _SIDES, max(dry) + _SIDES
    return Frame(
        Scale(
            in_system("temperature", low, system),
            in_system("temperature", high, system),
            _LEFT,
            _RIGHT,
        ),
        Scale(0.0, in_system("humidity_ratio", _ABOVE * max(ratios), system), y + _HEIGHT, y),
    )


def _background(
    drawing: Drawing, frame: Frame, pressure: float, system: str
) -> list[tuple[float, list[tuple[float, float]]]]:
    """Draws all that is not of the readings; returns the curves of humidity, the most humid first."""
    temperature, scale, offset = _unit("temperature", system)
    ratio, *_ = _unit("humidity_ratio", system)
    step, rise = (step_of(s.high - s.low, 6) for s in (frame.across, frame.up))
    frame.grid(
        drawing,
        [(v, tick_text(v, step)) for v in ticks(frame.across.low, frame.across.high)],
        [(v, tick_text(v, rise)) for v in ticks(frame.up.low, frame.up.high)],
        (
            f"Dry bulb [{'°C' if temperature == 'degC' else '°F'}]",
            f"Humidity ratio [{ratio} of dry air]",
        ),
        right=True,
    )
    x, y, width, height = frame.box
    grid = np.linspace(frame.across.low, frame.across.high, 60)
    labels = []
    with drawing.clipped(x, y, width, height):
        # Where one meets the saturation line, the axis under it tells its wet bulb.
        for count in range(floor((frame.across.low - _WET_SPAN / scale) / step), ceil(frame.across.high / step)):
            wet = count * step
            _wet_bulb(drawing, frame, wet * scale + offset, pressure, system)
        for humidity in _HUMIDITIES:
            ratios = moist_air.humidity_ratio_from_relative_humidity(grid * scale + offset, humidity, pressure)
            points = [
                frame.point(t, in_system("humidity_ratio", w, system))
                for t, w in zip(grid.tolist(), ratios.tolist(), strict=True)
            ]
            drawing.path(points, "curve" if humidity == 1.0 else "contour")
            labels.append((humidity, points))
    return labels[::-1]


def _wet_bulb(drawing: Drawing, frame: Frame, wet: float, pressure: float, system: str) -> None:
    """A line of one wet bulb, from saturation downward."""
    dry = np.linspace(wet, wet + _WET_SPAN, 24)
    ratios = moist_air.humidity_ratio_from_wet_bulb(dry, wet, pressure)
    drawing.path(
        [
            frame.point(in_system("temperature", t, system), in_system("humidity_ratio", w, system))
            for t, w in zip(dry.tolist(), ratios.tolist(), strict=True)
        ],
        "faint",
    )


def _humidity_label(
    drawing: Drawing,
    frame: Frame,
    humidity: float,
    points: list[tuple[float, float]],
    taken: Sequence[Box],
) -> Box | None:
    """Its percentage where the curve leaves the frame, at the top or at the right, if the place is free;
    returns the place."""
    x, y, width, _ = frame.box
    inside = [(a, b) for a, b in points if b >= y]
    if not inside:
        return None
    at, up = inside[-1]
    text = f"{100 * humidity:.0f}\N{NO-BREAK SPACE}%"
    half = text_width(text, "tag-small") / 2
    at, up = (min(max(at, x + half), x + width - half), y - 5) if at < x + width - 1 else (x + width - half - 4, up - 5)
    place = Box(at - half - 2, up - 10, at + half + 2, up + 2)
    if y - 5 < up < y + 12 or any(place.touches(other) for other in taken):
        return None
    drawing.text(at, up, text, "tag-small", "middle")
    return place


def _dry_only(drawing: Drawing, frame: Frame, runs: Mapping[str, AirOfRun], system: str) -> None:
    """An upright line for each dry bulb without a humidity, its name beside it."""
    x, y, width, height = frame.box
    up = y + height - 20
    for run, air in runs.items():
        for side, dry in air.dry_only.items():
            across = frame.across(in_system("temperature", dry, system))
            drawing.line(across, y, across, y + height, "line-guess")
            text = f"{side} {run}".rstrip()
            room = across + 4 + text_width(text, "tag-small") < x + width
            drawing.text(across + (4 if room else -4), up, text, "tag-small", "start" if room else "end")
            up -= 18


def _process(drawing: Drawing, frame: Frame, air: AirOfRun, system: str, style: int) -> dict[str, Box]:
    """Draws the air of one run, and gives what each state takes of the picture."""
    at, boxes = {}, {}
    with drawing.clipped(*frame.box):
        for side, state in air.states.items():
            points = [
                frame.point(in_system("temperature", t, system), in_system("humidity_ratio", w, system))
                for t, w in _unsaturated(outline(state.region()), air.pressure)
            ]
            drawing.path(points, SPREADS[style], closed=True)
            boxes[side] = Box.about(points)
            at[side] = frame.point(
                in_system("temperature", float(state.first[0]), system),
                in_system("humidity_ratio", float(state.second[0]), system),
            )
        if len(at) == len(AIR_STATES):
            drawing.path([at[side] for side in AIR_STATES], LINES[style])
    for across, up in at.values():
        drawing.mark(across, up, "circle", MARKS[style], 3.2)
    return boxes


def _unsaturated(region: Iterable[tuple[float, float]], pressure: float) -> list[tuple[float, float]]:
    """A region up to the line of saturated air: beyond it there is no such state."""
    return [(t, min(w, float(moist_air.humidity_ratio_from_relative_humidity(t, 1.0, pressure)))) for t, w in region]


def _names(drawing: Drawing, frame: Frame, boxes: Sequence[Mapping[str, Box]]) -> list[Box]:
    """Return above its region and supply under it, where neither the line between them nor that of
    saturated air passes; returns their places."""
    x, y, width, height = frame.box
    places = []
    for side, box in named(boxes):
        half = text_width(side, "tag") / 2
        at = (box.left + box.right) / 2 + (half - 10 if side == "supply" else 0)
        at = min(max(at, x + half + 2), x + width - half - 2)
        up = box.top - 6 if side == "return" else box.bottom + 15
        up = min(max(up, y + 14), y + height - 6)
        drawing.text(at, up, side, "tag", "middle")
        places.append(Box(at - half, up - 11, at + half, up + 3))
    return places


def _legend(runs: Mapping[str, AirOfRun], system: str) -> list[str]:
    texts = []
    for side in AIR_STATES:
        told = []
        for run, air in runs.items():
            text = _told(air, side, system)
            if text:
                told.append(f"{run} {text}" if run else text)
        if told:
            texts.append(f"{side.capitalize()} air: " + "; ".join(told) + ".")
    return texts


def _told(air: AirOfRun, side: str, system: str) -> str:
    state = air.states.get(side)
    if state is None:
        dry = air.dry_only.get(side)
        if dry is None:
            return ""
        return f"{of_kind('temperature', dry, system)}, humidity not told"
    dry, ratio = float(state.first[0]), float(state.second[0])
    share = float(moist_air.relative_humidity(dry, ratio, air.pressure))
    return (
        f"{of_kind('temperature', dry, system)}, {of_kind('humidity_ratio', ratio, system)}, "
        f"{figure(100 * share, 0)} % relative humidity"
    )


def _at(pressure: float, system: str) -> str:
    kind = "absolute_pressure"
    symbol = system_unit(kind, system)
    places = 2 if symbol == "psia" else 1
    shown = f"{figure(in_system(kind, pressure, system), places)} {symbol}"
    return (
        f"At an air pressure of {shown}. Curves: relative humidity, the topmost of saturated air. "
        "Dotted: wet bulb, in steps as dry bulb."
    )


def _described(runs: Mapping[str, AirOfRun], system: str) -> str:
    return "Psychrometric chart at the site's air pressure. " + " ".join(_legend(runs, system))
