"""How one or two runs look in one picture: the first open and dashed, the last full and solid."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import cos, exp, pi, sin

from service.derive.states import Region

#: Of the first of two runs, and of the last or only one.
LINES = ("line-first", "line-good")
MARKS = ("mark-first", "mark-good")
SPREADS = ("spread-first", "spread-good")

_CORNERS = 48
#: Distance under which two states share one name.
_NEAR = 26.0


def styles(runs: Collection[str]) -> list[int]:
    """Which of the looks each run has."""
    return [len(LINES) - 1] if len(runs) == 1 else list(range(len(runs)))


def outline(region: Region) -> Iterator[tuple[float, float]]:
    """Outline of a region, in the two properties of its state."""
    for corner in range(_CORNERS):
        u, v = cos(2.0 * pi * corner / _CORNERS), sin(2.0 * pi * corner / _CORNERS)
        yield (
            region.first + region.across * u,
            exp(region.logarithm + region.slope * u + region.up * v),
        )


def key(runs: Collection[str], more: str, without: Sequence[str] = ()) -> str:
    """What tells the runs apart, and which of them are not drawn, for the line under a heading."""
    names = list(runs)
    sentences = []
    if len(names) > 1:
        sentences += [f"Dashed, open: {names[0]}.", f"Solid, full: {names[-1]}."]
    elif without:
        sentences.append(f"Drawn: {names[0]}. Not drawn: {' and '.join(without)}, whose readings tell no state.")
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

    def touches(self, other: Box, apart: float = 0.0) -> bool:
        """Whether two lie less than a distance apart both ways."""
        return (
            self.left - apart < other.right
            and other.left - apart < self.right
            and self.top - apart < other.bottom
            and other.top - apart < self.bottom
        )

    def joined(self, other: Box) -> Box:
        """The smallest that holds both."""
        return Box(
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )


def named(boxes: Sequence[Mapping[str, Box]]) -> list[tuple[str, Box]]:
    """What bears a name: each state of each run, those of one state that lie close as one."""
    found: list[tuple[str, Box]] = []
    for name in dict.fromkeys(name for run in boxes for name in run):
        ofs = [run[name] for run in boxes if name in run]
        if len(ofs) == 2 and ofs[0].touches(ofs[1], _NEAR):
            ofs = [ofs[0].joined(ofs[1])]
        found += [(name, box) for box in ofs]
    return found
