"""The readings of a log as channels on one even grid, and where a channel jumps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: What a channel shows of the unit: its electrical input, its high and low side, the air of the room, another air, a
#: line, or none of these.
Role = Literal["electrical", "high", "low", "room", "air", "line", "other"]

#: Step of the grid [s]: a shorter one would show nothing that lasts.
_STEP = 5.0
#: Time on either side of a jump over which a channel is averaged, and the share of its sensor's lag by which it grows
#: [s, 1].
_SIDE, _OF_LAG = 30.0, 1.0
#: A jump is this many robust standard deviations of the channel's other changes.
_STANDS_OUT = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """One reading of a log: ``values`` (N,) in SI, not-a-number where missing.

    ``quantity`` is what it is in, so that sides are compared that can be.  ``jump`` is the smallest sudden change that
    means something, ``lag`` the time constant of its sensor [s], ``moves`` whether a running unit moves it, ``around``
    the channel of the air around its probe.
    """

    name: str
    values: FloatArray
    role: Role
    jump: float
    lag: float
    resolution: float = 0.0
    moves: bool = True
    around: str | None = None
    quantity: str = ""


@dataclass(frozen=True, slots=True)
class Jump:
    """A sudden change of a channel: when [s], and its levels before and after."""

    channel: Channel
    at: float
    before: float
    after: float

    @property
    def size(self) -> float:
        """After less before."""
        return self.after - self.before


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Channels (C, B) at even times from ``first`` [s]; not-a-number where a channel has none."""

    first: float
    step: float
    values: FloatArray

    def at(self, place: float) -> float:
        """The time [s] at which a block begins."""
        return self.first + self.step * place

    def place(self, time: float) -> int:
        """The block of a time [s]."""
        return int(np.clip(round((time - self.first) / self.step), 0, self.values.shape[1]))


def gridded(times: FloatArray, channels: Sequence[Channel]) -> Grid:
    """Means of channels in blocks of at least five seconds."""
    step = max(_STEP, float(np.median(np.diff(times))))
    of = ((times - times[0]) / step + 1e-9).astype(np.intp)
    count = int(of[-1]) + 1
    found = np.full((len(channels), count), np.nan)
    for row, one in enumerate(channels):
        there = np.isfinite(one.values)
        numbers = np.bincount(of[there], minlength=count)
        sums = np.bincount(of[there], one.values[there], count)
        found[row] = np.where(numbers > 0, sums / np.maximum(numbers, 1), np.nan)
    return Grid(float(times[0]), step, found)


def jumps(grid: Grid, row: int, channel: Channel) -> list[Jump]:
    """Where a channel changes far more between two neighbouring stretches than it does just before and after.

    A smooth approach to a level, or the swing of a valve, changes as much in the neighbouring stretches; a jump does
    not.
    """
    values = _filled(grid.values[row])
    side = max(2, round((_SIDE + _OF_LAG * channel.lag) / grid.step))
    lag = round(0.5 * channel.lag / grid.step)
    if len(values) < 2 * side + lag + 2:
        return []
    sums = np.concatenate([[0.0], np.cumsum(values - values[0])])
    means = (sums[side:] - sums[:-side]) / side  # of the stretch that begins at each block
    changes = means[side + lag :] - means[: -side - lag]  # from the stretch before to the one after
    reach = side + lag
    # Nothing is known of what came before: a start that begins the log is no jump.
    padded = np.pad(np.pad(np.abs(changes), (reach, 0), mode="edge"), (0, reach))
    excess = np.abs(changes) - np.maximum(padded[: len(changes)], padded[2 * reach :])
    if excess.max() < channel.jump:
        return []  # as nearly always
    scale = 1.4826 * float(np.median(np.abs(changes - np.median(changes))))
    least = max(channel.jump, _STANDS_OUT * scale)
    found: list[Jump] = []
    for place in np.argsort(-excess):
        if excess[place] < least:
            break
        edge = int(place) + side
        if all(abs(edge - grid.place(one.at)) > 2 * reach for one in found):
            found.append(Jump(channel, grid.at(_edge(values, edge, reach)), *_levels(values, edge, side, lag)))
    return sorted(found, key=lambda one: one.at)


def _edge(values: FloatArray, edge: int, reach: int) -> int:
    """The block near a change at which the steepest step is made."""
    low, high = max(edge - reach, 1), min(edge + reach, len(values) - 1)
    return low + int(np.argmax(np.abs(np.diff(values[low - 1 : high]))))


def _levels(values: FloatArray, edge: int, side: int, lag: int) -> tuple[float, float]:
    before, after = values[max(edge - side, 0) : edge], values[edge + lag : edge + lag + side]
    return float(np.median(before)), float(np.median(after))


def _filled(values: FloatArray) -> FloatArray:
    """Gaps hold the last number before them, or the first one."""
    there = np.flatnonzero(np.isfinite(values))
    if not len(there):
        return np.zeros_like(values)
    last = np.searchsorted(there, np.arange(len(values)), side="right") - 1
    return np.asarray(values[there[np.maximum(last, 0)]])
