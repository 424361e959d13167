"""How one or two runs look in one picture: the first open and dashed, the last full and solid."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from math import cos, pi, sin, sqrt

#: Of the first of two runs, and of the last or only one.
LINES = ("line-first", "line-good")
MARKS = ("mark-first", "mark-good")
SPREADS = ("spread-first", "spread-good")

#: Square root of the 95 % point of chi-square with two degrees of freedom.
_RADIUS = sqrt(5.991465)
_CORNERS = 48


def styles(runs: Collection[str]) -> list[int]:
    """Which of the looks each run has."""
    return [len(LINES) - 1] if len(runs) == 1 else list(range(len(runs)))


def outline(
    x: float, y: float, variance: float, covariance: float, other: float
) -> Iterator[tuple[float, float]]:
    """Outline of the region that holds a pair of normal values with 95 % probability."""
    # Cholesky's factor of the covariance maps a circle onto it.
    first = sqrt(max(variance, 0.0))
    slope = covariance / first if first > 0.0 else 0.0
    rest = sqrt(max(other - slope**2, 0.0))
    for corner in range(_CORNERS):
        u = _RADIUS * cos(2.0 * pi * corner / _CORNERS)
        v = _RADIUS * sin(2.0 * pi * corner / _CORNERS)
        yield x + first * u, y + slope * u + rest * v


def key(runs: Collection[str], more: str) -> str:
    """What tells the runs apart, for the line under a heading."""
    names = list(runs)
    if len(names) < 2:
        return f"{more[0].upper()}{more[1:]}."
    return f"Dashed, open: {names[0]}. Solid, full: {names[-1]}. {more[0].upper()}{more[1:]}."
