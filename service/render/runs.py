"""How one or two runs look in one picture: the first open and dashed, the last full and solid."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import cos, pi, sin, sqrt

#: Of the first of two runs, and of the last or only one.
LINES = ("line-first", "line-good")
MARKS = ("mark-first", "mark-good")
SPREADS = ("spread-first", "spread-good")

#: Square root of the 95 % point of chi-square with two degrees of freedom.
_RADIUS = sqrt(5.991465)
_CORNERS = 48
#: Distance under which two states share one name.
_NEAR = 26.0


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


def key(runs: Collection[str], more: str, without: Sequence[str] = ()) -> str:
    """What tells the runs apart, and which of them are not drawn, for the line under a heading."""
    names = list(runs)
    sentences = []
    if len(names) > 1:
        sentences += [f"Dashed, open: {names[0]}.", f"Solid, full: {names[-1]}."]
    elif without:
        sentences.append(
            f"Drawn: {names[0]}. Not drawn: {' and '.join(without)}, whose readings tell no state."
        )
    return " ".join([*sentences, f"{more[0].upper()}{more[1:]}."])


@dataclass(frozen=True, slots=True)
class Box:
    """What a state takes of the picture: its region, or its point alone."""

    left: float
    top: float
    right: float
    bottom: float

    @classmethod
    def about(cls, points: Collection[tuple[float, float]]) -> Box:
        """The smallest that holds some points."""
        across, up = [x for x, _ in points], [y for _, y in points]
        return cls(min(across), min(up), max(across), max(up))

    def near(self, other: Box) -> bool:
        """Whether a name beside one would touch the other."""
        return (
            self.left - _NEAR < other.right
            and other.left - _NEAR < self.right
            and self.top - _NEAR < other.bottom
            and other.top - _NEAR < self.bottom
        )

    def joined(self, other: Box) -> Box:
        """The smallest that holds both."""
        return Box(
            min(self.left, other.left), min(self.top, other.top),
            max(self.right, other.right), max(self.bottom, other.bottom),
        )  # fmt: skip


def named(boxes: Sequence[Mapping[str, Box]]) -> list[tuple[str, Box]]:
    """What bears a name: each state of each run, those of one state that lie close as one."""
    found: list[tuple[str, Box]] = []
    for name in dict.fromkeys(name for run in boxes for name in run):
        ofs = [run[name] for run in boxes if name in run]
        if len(ofs) == 2 and ofs[0].near(ofs[1]):
            ofs = [ofs[0].joined(ofs[1])]
        found += [(name, box) for box in ofs]
    return found
