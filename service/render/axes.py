"""Scales, ticks, and a frame with both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log, log10

from service.render.drawing import MARGIN, WIDTH, Anchor, Drawing
from service.words.numbers import with_minus

#: Steps that people count in.
_STEPS = (1.0, 2.0, 5.0, 10.0)


@dataclass(frozen=True, slots=True)
class Scale:
    """Values between ``low`` and ``high`` laid over coordinates from ``start`` to ``end``."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool = False

    def __call__(self, value: float) -> float:
        """The coordinate of a value."""
        if self.logarithmic:
            share = log(value / self.low) / log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def held(self, value: float) -> float:
        """The coordinate of a value, or of the nearer end."""
        return self(min(max(value, self.low), self.high))

    def __contains__(self, value: float) -> bool:
        """Whether a value lies on the scale."""
        return self.low <= value <= self.high


def band_within(
    drawing: Drawing, scale: Scale, low: float, high: float, y: float, style: str, cap: float = 4.0
) -> None:
    """A horizontal band along a scale: caps at its ends, an arrowhead where it goes on beyond it."""
    start, end = scale.held(low), scale.held(high)
    if low > scale.high:
        # A band wholly beyond the scale still shows, as a short arrow at its edge.
        start = scale.end - 3 * cap
    if high < scale.low:
        end = scale.start + 3 * cap
    drawing.line(start, y, end, y, style)
    if low in scale:
        drawing.line(start, y - cap, start, y + cap, style)
    if high in scale:
        drawing.line(end, y - cap, end, y + cap, style)
    if low < scale.low:
        drawing.arrowhead(scale.start, y, -1.0, style)
    if high > scale.high:
        drawing.arrowhead(scale.end, y, 1.0, style)


def step_of(span: float, most: int) -> float:
    """The smallest step that people count in which gives at most so many intervals."""
    rough = span / most
    power = 10.0 ** floor(log10(rough))
    return power * next(step for step in _STEPS if step * power >= rough * (1 - 1e-9))


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round values within a range."""
    step = step_of(high - low, most)
    first = ceil(low / step - 1e-9)
    last = floor(high / step + 1e-9)
    return [round(k * step, 10) for k in range(first, last + 1)]


def logarithmic_ticks(low: float, high: float, most: int = 7) -> list[float]:
    """Round values within a range that is drawn in logarithms."""
    for digits in (
        (1, 1.5, 2, 3, 4, 5, 6, 7, 8, 9),
        (1, 1.5, 2, 3, 4, 6, 8),
        (1, 2, 3, 5, 7),
        (1, 2, 5),
        (1, 3),
        (1,),
    ):
        found = [
            digit * 10.0**power
            for power in range(floor(log10(low)), ceil(log10(high)) + 1)
            for digit in digits
            if low <= digit * 10.0**power <= high
        ]
        if len(found) <= most:
            break
    return [round(value, 10) for value in found]


def tick_text(value: float, step: float) -> str:
    """A tick's number with the decimals that its step needs."""
    decimals = max(0, -floor(log10(step) + 1e-9)) if step < 1 else 0
    return with_minus(f"{value:.{decimals}f}")


@dataclass(frozen=True, slots=True)
class Frame:
    """A rectangle with a scale along it and one up it."""

    across: Scale
    up: Scale

    @property
    def box(self) -> tuple[float, float, float, float]:
        """x, y, width, height."""
        return (
            self.across.start,
            self.up.end,
            self.across.end - self.across.start,
            self.up.start - self.up.end,
        )

    def point(self, x: float, y: float) -> tuple[float, float]:
        """Coordinates of a pair of values."""
        return self.across(x), self.up(y)

    def grid(
        self,
        drawing: Drawing,
        across: Sequence[tuple[float, str]],
        up: Sequence[tuple[float, str]],
        labels: tuple[str, str],
        *,
        right: bool = False,
    ) -> None:
        """Lines at the ticks, their texts, and what both axes show; the upright one at the left or right."""
        x, y, width, height = self.box
        for value, text in across:
            at = self.across(value)
            drawing.line(at, y, at, y + height, "rule")
            drawing.text(at, y + height + 16, text, "small", "middle")
        for value, text in up:
            at = self.up(value)
            drawing.line(x, at, x + width, at, "rule")
            if right:
                drawing.text(x + width + 6, at + 4.5, text, "small")
            else:
                drawing.text(x - 6, at + 4.5, text, "small", "end")
        side = x + width if right else x
        drawing.path([(x, y + height), (x + width, y + height)], "axis")
        drawing.line(side, y, side, y + height, "axis")
        drawing.text(x + width, y + height + 34, labels[0], "small", "end")
        edge: tuple[float, Anchor] = (WIDTH - MARGIN, "end") if right else (MARGIN, "start")
        drawing.text(edge[0], y - (24 if right else 11), labels[1], "small", edge[1])
