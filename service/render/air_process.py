"""Return and supply air on a psychrometric chart at the pressure of the site."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, log

import numpy as np

from service.assess.states import AIR_STATES, State
from service.physics import moist_air
from service.reference.units import conversion, system_unit
from service.render.axes import Frame, Scale, step_of, tick_text, ticks
from service.render.drawing import MARGIN, WIDTH, Drawing
from service.render.runs import LINES, MARKS, SPREADS, key, outline, styles
from service.render.wording import amount, figure

_LEFT, _RIGHT, _HEIGHT = MARGIN + 4, WIDTH - 60.0, 300.0
_HUMIDITIES = (0.2, 0.4, 0.6, 0.8, 1.0)
#: Room about the states [K] and over the most humid one.
_SIDES, _ABOVE = 6.0, 1.45


@dataclass(frozen=True, slots=True)
class AirOfRun:
    """The air of one run: the states known, and dry bulbs [K] whose humidity was not read."""

    states: Mapping[str, State]
    dry_only: Mapping[str, float]
    pressure: float


def draw(runs: Mapping[str, AirOfRun], system: str, *, name: str = "air-process") -> Drawing:
    """The chart; ``runs`` by name, one alone named ``""``.

    Each state is a point with the region that holds it in 95 % of all cases.  Air whose humidity was
    not read stands as an upright dashed line at its dry bulb.
    """
    pressure = next(iter(runs.values())).pressure
    title = "Air through the indoor coil"
    drawing = Drawing(name, title, _described(runs, system))
    y = drawing.heading(title, key(runs, "point: as read, in its 95 % region"))
    frame = _frame(runs, system, y + 36)
    _background(drawing, frame, pressure, system)
    for air, style in zip(runs.values(), styles(runs), strict=True):
        _process(drawing, frame, air, system, style)
    y = frame.up.start + 46
    for text in [*_legend(runs, system), _at(pressure, system)]:
        y = drawing.lines(MARGIN, y, text, "small", WIDTH - 2 * MARGIN) + 2
    drawing.height = y + MARGIN - 6
    return drawing


def _unit(kind: str, system: str) -> tuple[str, float, float]:
    symbol = system_unit(kind, system)
    unit = conversion(kind, symbol)
    return symbol, unit.scale, unit.offset


def _shown(kind: str, value: float, system: str) -> float:
    return conversion(kind, system_unit(kind, system)).from_si(value)


def _frame(runs: Mapping[str, AirOfRun], system: str, y: float) -> Frame:
    states = [state for air in runs.values() for state in air.states.values()]
    dry = [float(s.first[0]) for s in states]
    dry += [value for air in runs.values() for value in air.dry_only.values()]
    ratios = [float(np.quantile(s.second, 0.99)) for s in states]
    low, high = min(dry) - _SIDES, max(dry) + _SIDES
    return Frame(
        Scale(
            _shown("temperature", low, system), _shown("temperature", high, system), _LEFT, _RIGHT
        ),
        Scale(0.0, _shown("humidity_ratio", _ABOVE * max(ratios), system), y + _HEIGHT, y),
    )


def _background(drawing: Drawing, frame: Frame, pressure: float, system: str) -> None:
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
        for wet in ticks(frame.across.low - 45, frame.across.high, 12):
            _wet_bulb(drawing, frame, wet * scale + offset, pressure, system)
        for humidity in _HUMIDITIES:
            ratios = moist_air.humidity_ratio_from_relative_humidity(
                grid * scale + offset, humidity, pressure
            )
            points = [
                frame.point(t, _shown("humidity_ratio", w, system))
                for t, w in zip(grid.tolist(), ratios.tolist(), strict=True)
            ]
            drawing.path(points, "curve" if humidity == 1.0 else "rule")
            labels.append((humidity, points))
    for humidity, points in labels:
        _humidity_label(drawing, frame, humidity, points)


def _wet_bulb(drawing: Drawing, frame: Frame, wet: float, pressure: float, system: str) -> None:
    """A line of one wet bulb, from saturation downward."""
    dry = np.linspace(wet, wet + 45.0, 24)
    ratios = moist_air.humidity_ratio_from_wet_bulb(dry, wet, pressure)
    drawing.path(
        [
            frame.point(_shown("temperature", t, system), _shown("humidity_ratio", w, system))
            for t, w in zip(dry.tolist(), ratios.tolist(), strict=True)
            if w >= 0.0
        ],
        "faint",
    )


def _humidity_label(
    drawing: Drawing, frame: Frame, humidity: float, points: list[tuple[float, float]]
) -> None:
    """Its percentage where the curve leaves the frame: at the top or at the right."""
    x, y, width, _ = frame.box
    inside = [(a, b) for a, b in points if b >= y]
    if not inside:
        return
    at, up = inside[-1]
    text = f"{100 * humidity:.0f} %"
    if at < x + width - 1:
        drawing.text(min(at, x + width - 16), y - 5, text, "small", "middle")
    elif up > y + 12:
        drawing.text(x + width - 4, up - 5, text, "small", "end")


def _process(drawing: Drawing, frame: Frame, air: AirOfRun, system: str, style: int) -> None:
    at = {}
    x, y, width, height = frame.box
    for side, dry in air.dry_only.items():
        across = frame.across(_shown("temperature", dry, system))
        drawing.line(across, y, across, y + height, "line-guess")
        drawing.text(across + 4, y + height - 20, side, "small")
    with drawing.clipped(x, y, width, height):
        for side, state in air.states.items():
            centre, ((a, b), (_, d)) = state.spread()
            points = [
                frame.point(
                    _shown("temperature", t, system), _shown("humidity_ratio", exp(w), system)
                )
                for t, w in outline(centre[0], log(centre[1]), a, b, d)
            ]
            drawing.path(points, SPREADS[style], closed=True)
            at[side] = frame.point(
                _shown("temperature", centre[0], system),
                _shown("humidity_ratio", centre[1], system),
            )
        if len(at) == len(AIR_STATES):
            drawing.path([at[side] for side in AIR_STATES], LINES[style])
    for side, (across, up) in at.items():
        drawing.mark(across, up, "circle", MARKS[style], 3.2)
        if style == len(LINES) - 1:
            drawing.text(
                across + (14 if side == "return" else -14), up + (-14 if side == "return" else 22),
                side, "strong", "start" if side == "return" else "end",
            )  # fmt: skip


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
    temperature = system_unit("temperature", system)
    state = air.states.get(side)
    if state is None:
        dry = air.dry_only.get(side)
        if dry is None:
            return ""
        shown = amount(_shown("temperature", dry, system), temperature, "evaporating_temperature")
        return f"{shown}, humidity not read"
    dry, ratio = float(state.first[0]), float(state.second[0])
    share = float(moist_air.relative_humidity(dry, ratio, air.pressure))
    ratio_unit = system_unit("humidity_ratio", system)
    return (
        f"{amount(_shown('temperature', dry, system), temperature, 'evaporating_temperature')}, "
        f"{amount(_shown('humidity_ratio', ratio, system), ratio_unit, 'return_air_humidity_ratio')}, "
        f"{figure(100 * share, 0)} % relative humidity"
    )


def _at(pressure: float, system: str) -> str:
    kind = "absolute_pressure"
    symbol = system_unit(kind, system)
    places = 2 if symbol == "psia" else 1
    shown = f"{figure(_shown(kind, pressure, system), places)} {symbol}"
    return (
        f"At an air pressure of {shown}. Curves: relative humidity; the topmost is saturated air. Dotted: wet "
        "bulb."
    )


def _described(runs: Mapping[str, AirOfRun], system: str) -> str:
    return "Psychrometric chart at the site's air pressure. " + " ".join(_legend(runs, system))
