"""The measured refrigerant cycle on a pressure-enthalpy diagram, with its uncertainty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.derive.states import REFRIGERANT_STATES, StateDraws
from service.physics.refrigerant_diagram import dome, isotherm
from service.physics.refrigerant_enthalpy import SinglePhase
from service.reference.units import conversion, in_system, system_unit
from service.render.axes import Frame, Scale, logarithmic_ticks, step_of, tick_text, ticks
from service.render.drawing import MARGIN, WIDTH, Drawing
from service.render.runs import LINES, MARKS, SPREADS, Box, key, named, outline, styles
from service.render.wording import decimals, of_kind
from service.words.numbers import figure

States = Mapping[str, StateDraws]

#: Number beside each state, and what it is called.
_NAMES: Mapping[str, tuple[str, str]] = {
    "suction": ("1", "suction gas"),
    "discharge": ("2", "discharge gas"),
    "liquid": ("3", "liquid"),
    "evaporator_inlet": ("4", "evaporator inlet"),
    "ideal_discharge": ("2", "discharge gas, not read (shown for a compression without losses)"),
}
#: Pieces of the cycle: the discharge is the one read, else the ideal one.
_PIECES = (
    ("suction", "discharge"),
    ("suction", "ideal_discharge"),
    ("discharge", "liquid"),
    ("ideal_discharge", "liquid"),
    ("liquid", "evaporator_inlet"),
    ("evaporator_inlet", "suction"),
)
#: On which side of its point a state's number stands, outside the cycle: across and down.
_BESIDE: Mapping[str, tuple[float, float]] = {
    "suction": (1.0, 1.0),
    "discharge": (1.0, -1.0),
    "ideal_discharge": (1.0, -1.0),
    "liquid": (-1.0, -1.0),
    "evaporator_inlet": (-1.0, 1.0),
}
_LEFT, _RIGHT, _HEIGHT = 66.0, WIDTH - MARGIN, 330.0
#: Room about the states, as factors of pressure and shares of the span of enthalpy.
_BELOW, _ABOVE, _SIDES = 0.62, 1.45, 0.16


@dataclass(frozen=True, slots=True)
class _Units:
    """From SI to what the axes show."""

    system: str
    zero: float

    def pressure(self, value: float) -> float:
        return in_system("absolute_pressure", value, self.system)

    def enthalpy(self, value: float) -> float:
        return in_system("specific_enthalpy_difference", value - self.zero, self.system)


def _zero(phases: SinglePhase, system: str) -> float:
    """Enthalpy [J/kg] that the axis counts from.

    Metric: saturated liquid at 0 °C has 200 kJ/kg (International Institute of Refrigeration); imperial:
    saturated liquid at -40 °F has 0 Btu/lb (ASHRAE Handbook Fundamentals, chapter 30).
    """
    temperature, there = (273.15, 200e3) if system == "metric" else (233.15, 0.0)
    liquid = phases.liquid_enthalpy(phases.curves.bubble_pressure(temperature), temperature)
    return float(liquid) - there


def draw(
    runs: Mapping[str, States],
    phases: SinglePhase,
    system: str,
    *,
    name: str = "refrigerant-cycle",
    without: Sequence[str] = (),
) -> Drawing:
    """The diagram; ``runs`` are the states by the name of their run, one alone named ``""``.

    ``without`` names runs whose readings tell no state.

    Each state is a point with the region that holds it in 95 % of all cases (from the draws, so the
    correlation of its pressure and enthalpy shows).  Pressure drops in coils and lines are not drawn.
    """
    designation = phases.curves.designation
    units = _Units(system, _zero(phases, system))
    title = f"Refrigerant cycle, {designation}"
    drawing = Drawing(name, title, _described(runs, units, designation))
    y = drawing.heading(title, key(runs, "point: as read, in its 95 % region", without))
    frame = _frame(runs, units, y + 20)
    _background(drawing, frame, phases, units)
    boxes = [
        _cycle(drawing, frame, states, units, style) for states, style in zip(runs.values(), styles(runs), strict=True)
    ]
    _numbers(drawing, frame, boxes)
    y = frame.up.start + 46
    for text in _legend(runs, units):
        y = drawing.lines(MARGIN, y, text, "small", WIDTH - 2 * MARGIN) + 2
    drawing.height = y + MARGIN - 6
    return drawing


def _frame(runs: Mapping[str, States], units: _Units, y: float) -> Frame:
    states = [state for one in runs.values() for state in one.values()]
    enthalpies = [units.enthalpy(float(s.first[0])) for s in states]
    pressures = [units.pressure(float(s.second[0])) for s in states]
    span = max(max(enthalpies) - min(enthalpies), units.enthalpy(units.zero + 120e3))
    return Frame(
        Scale(min(enthalpies) - _SIDES * span, max(enthalpies) + _SIDES * span, _LEFT, _RIGHT),
        Scale(_BELOW * min(pressures), _ABOVE * max(pressures), y + _HEIGHT, y, logarithmic=True),
    )


def _background(drawing: Drawing, frame: Frame, phases: SinglePhase, units: _Units) -> None:
    across = ticks(frame.across.low, frame.across.high)
    step = step_of(frame.across.high - frame.across.low, 6)
    up = logarithmic_ticks(frame.up.low, frame.up.high)
    pressure = system_unit("absolute_pressure", units.system)
    enthalpy = system_unit("specific_enthalpy_difference", units.system)
    frame.grid(
        drawing,
        [(v, tick_text(v, step)) for v in across],
        [(v, figure(v, 0)) for v in up],
        (
            f"Enthalpy [{enthalpy}]",
            f"Pressure [{pressure}{'' if pressure == 'psia' else ' absolute'}]",
        ),
    )
    x, y, width, height = frame.box
    low, high = (value * conversion("absolute_pressure", pressure).scale for value in (frame.up.low, frame.up.high))
    with drawing.clipped(x, y, width, height):
        labels = _isotherms(drawing, frame, phases, units, (low, high))
        bubble, dew = dome(phases, low * 0.9)
        for pressures, enthalpies in (bubble, dew):
            drawing.path(_points(frame, units, pressures, enthalpies), "curve")
    free = x
    for at, text in sorted(labels):
        if at - 18 < free:
            continue
        free = at + 18
        drawing.text(at, y + height - 5, text, "tag-small", "middle")


def _isotherms(
    drawing: Drawing, frame: Frame, phases: SinglePhase, units: _Units, ends: tuple[float, float]
) -> list[tuple[float, str]]:
    """Draws them, and gives the labels of those that leave the frame at its foot."""
    unit = conversion("temperature", system_unit("temperature", units.system))
    step = 20.0 if units.system == "metric" else 40.0
    labels = []
    for count in range(-3, 12):
        value = count * step
        pressures, enthalpies = isotherm(phases, unit.to_si(value), *ends)
        drawing.path(_points(frame, units, pressures, enthalpies), "faint")
        if len(enthalpies) and np.isfinite(enthalpies[-1]) and pressures[-1] <= ends[0] * 1.001:
            at = frame.across(units.enthalpy(float(enthalpies[-1])))
            if frame.across.start + 14 < at < frame.across.end - 14:
                labels.append((at, figure(value, 0) + "°"))
    return labels


def _points(frame: Frame, units: _Units, pressures: np.ndarray, enthalpies: np.ndarray) -> list[tuple[float, float]]:
    return [
        frame.point(units.enthalpy(h), units.pressure(p))
        for p, h in zip(pressures.tolist(), enthalpies.tolist(), strict=True)
    ]


def _cycle(drawing: Drawing, frame: Frame, states: States, units: _Units, style: int) -> dict[str, Box]:
    """Draws one, and gives what each state takes of the picture."""
    at = {
        name: frame.point(units.enthalpy(float(s.first[0])), units.pressure(float(s.second[0])))
        for name, s in states.items()
    }
    for start, end in _PIECES:
        if start in at and end in at:
            guess = "ideal_discharge" in (start, end)
            drawing.path([at[start], at[end]], "line-guess" if guess else LINES[style])
    boxes = {name: Box.about([point]) for name, point in at.items()}
    for name, state in states.items():
        if name != "ideal_discharge":
            points = [frame.point(units.enthalpy(h), units.pressure(p)) for h, p in outline(state.region())]
            drawing.path(points, SPREADS[style], closed=True)
            drawing.mark(*at[name], "circle", MARKS[style], 2.6)
            boxes[name] = Box.about(points)
    return boxes


def _numbers(drawing: Drawing, frame: Frame, boxes: Sequence[Mapping[str, Box]]) -> None:
    """The number of each state, outside the cycle and clear of its region."""
    left, top, width, height = frame.box
    for name, box in named(boxes):
        across, down = _BESIDE[name]
        x = max(box.right + 8, (box.left + box.right) / 2 + 12)
        if across < 0:
            x = min(box.left - 8, (box.left + box.right) / 2 - 12)
        middle = (box.top + box.bottom) / 2
        y = max(middle + 14, box.bottom + 2) if down > 0 else min(middle - 6, box.top + 6)
        drawing.text(
            min(max(x, left + 6), left + width - 6),
            min(max(y, top + 12), top + height - 4),
            _NAMES[name][0],
            "tag",
            "middle",
        )


def _legend(runs: Mapping[str, States], units: _Units) -> list[str]:
    """One line for each state: what it is, and what was read there."""
    texts = []
    for name, (number, words) in _NAMES.items():
        told = [
            (f"{run} " if run else "") + _told(states[name], units) for run, states in runs.items() if name in states
        ]
        if told:
            texts.append(f"{number} {words}: " + "; ".join(told) + ".")
    for run, states in runs.items():
        lacking = [
            " ".join(_NAMES[name])
            for name in REFRIGERANT_STATES
            if name not in states and f"ideal_{name}" not in states
        ]
        if lacking:
            texts.append(
                f"Not drawn{' of ' + run if run else ''}, as the readings do not tell it: {', '.join(lacking)}."
            )
    degree = "°C" if units.system == "metric" else "°F"
    texts.append(
        f"Curve: saturation dome. Dotted: isotherms in {degree}. Pressures are absolute; their drops in coils "
        "and lines are not drawn."
    )
    return texts


def _told(state: StateDraws, units: _Units) -> str:
    kind = "absolute_pressure"
    symbol = system_unit(kind, units.system)
    places = decimals(symbol, "suction_pressure_absolute")
    text = f"{figure(units.pressure(float(state.second[0])), places)} {symbol}"
    if state.temperature is not None:
        text += f", {of_kind('temperature', state.temperature, units.system)}"
    return text


def _described(runs: Mapping[str, States], units: _Units, designation: str) -> str:
    return (
        f"Pressure-enthalpy diagram of {designation} with the saturation dome, isotherms and the cycle as "
        "read. " + " ".join(_legend(runs, units)[:-1])
    )
