"""What the log of a run says: for answers, pictures and notices.  SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from service.reference.steadiness import SHORT_RUN
from service.uncertainty.series.segments import Course
from service.uncertainty.series.settled import SettledSeries
from service.uncertainty.series.windows import LeftOut, Part

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class LoggedReading:
    """One reading of a log: its ``kind`` and the ``unit`` it was given in, ``values`` (N,) in SI as shown (a gauge
    pressure stays one unless ``absolute``), what it settles at, None where it cannot be used, and the parts that
    are left out."""

    name: str
    kind: str
    unit: str
    values: FloatArray
    absolute: bool
    settled: SettledSeries | None
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True, eq=False)
class LoggedRun:
    """The log of a run: ``seconds`` (N,), what happened, the part that is used (None where the unit never ran), each
    reading, and ``derived`` values that are followed over time (superheat, subcooling)."""

    start: Literal["compressor_on", "unknown"]
    seconds: FloatArray
    course: Course
    part: Part | None
    readings: Mapping[str, LoggedReading]
    derived: Mapping[str, SettledSeries]

    @property
    def minutes_running(self) -> float | None:
        """Minutes from the start of the compressor to the end of what is used; None where the log does not tell."""
        if self.part is None or self.part.since_start is None:
            return None
        return max(self.part.end - self.part.since_start, 0.0) / 60.0

    @property
    def runs(self) -> tuple[float, ...]:
        """Lengths [s] of the runs that begin and end within the log."""
        begun, found = None, []
        for one in self.course.events:
            if one.kind == "compressor_start":
                begun = one.at
            elif one.kind == "compressor_stop" and begun is not None:
                found.append(one.at - begun)
                begun = None
        return tuple(found)

    @property
    def cycles_short(self) -> bool:
        """Whether the unit ran for too short a time before it stopped."""
        return any(run < SHORT_RUN for run in self.runs)

    @property
    def has_settled(self) -> bool:
        """Whether it shows that all of its readings had settled, however short a time the unit had run."""
        settles = self.settles_in
        return settles is not None and settles[0] == 0.0

    @property
    def settles_in(self) -> tuple[float, float, float] | None:
        """Seconds from the end of what is used until the last reading has settled, with a 95 % band."""
        found = [one.settled.settles_in for one in self.readings.values() if one.settled is not None]
        if not found:
            return None
        middle, low, high = (max(part) for part in zip(*found, strict=True))
        if any(one.settled is not None and one.settled.drift.grade == "not_steady" for one in self.readings.values()):
            # What still drifts has not settled, however small the start's own part in that may be.
            middle = high
        return middle, low, high
