"""Which part of a log is used, of all readings and of each, and why the rest is not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.reference.steadiness import FIRST_MINUTE, LONG_ENOUGH, LONGEST_WINDOW
from service.uncertainty.series.channels import Channel
from service.uncertainty.series.segments import Course, Cut, Flaw, Segment

FloatArray = NDArray[np.float64]

LeftOutReason = Literal[
    "settling",
    "compressor_off",
    "defrost",
    "before_stage_change",
    "door_opened",
    "probe_not_in_place",
    "stuck",
    "dropout",
    "unit_jump",
    "clock_jump",
    "readings_swapped",
    "jump",
    "outside_window",
]

#: After these the unit settles again.
_STARTS_AGAIN = ("compressor_start", "stage_change", "defrost", "door_opened")
#: What comes after a part tells why it is not used; anything else leaves it outside the window.
_BEFORE: dict[Cut, LeftOutReason] = {"stage_change": "before_stage_change", "door_opened": "door_opened"}
#: A probe that was moved reads its place after so many time constants and seconds.
_MOVED_LAGS, _MOVED_SECONDS = 3.0, 20.0


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A part of a log [s] that is not used, and why."""

    begin: float
    end: float
    reason: LeftOutReason


@dataclass(frozen=True, slots=True)
class Part:
    """The part of a log that is used [s]; ``start`` is when what it settles from began, ``since_start`` whether that
    was a start of the compressor or is counted from one, ``left_out`` the parts of the log before and after."""

    begin: float
    end: float
    start: float
    since_start: float | None
    left_out: tuple[LeftOut, ...]


def since_stated(course: Course, started: float | None) -> Course:
    """The same, where the compressor is known to have started: it ran from then on, though the first readings do not
    show that yet."""
    first, *rest = course.segments
    if started is None or first.state != "off" or not rest or rest[0].began != "compressor_start":
        return course
    if not started <= first.end <= started + FIRST_MINUTE:
        return course
    events = tuple(one for one in course.events if one.kind != "compressor_start" or one.at > first.end)
    return replace(course, events=events, segments=(replace(rest[0], begin=first.begin, began=None), *rest[1:]))


def used_part(course: Course, started: float | None) -> Part | None:
    """The longest stretch of running that serves, the later one of equals; None where the unit never ran.

    Parameters
    ----------
    course : Course
    started : float or None
        When the compressor started before the log's first stop [s], where that is known.
    """
    segments = _since(course.segments, started)
    running = [(one, place) for place, one in enumerate(segments) if one.state == "running"]
    if not running:
        return None
    segment, place = max(running, key=lambda item: (min(item[0].end - item[0].begin, LONG_ENOUGH), item[1]))
    again = segment.began in _STARTS_AGAIN
    known = again or (place == 0 and started is not None)
    first = max(segment.begin, segment.end - LONGEST_WINDOW)
    start = segment.begin if again or place else (segment.begin if started is None else min(started, segment.begin))
    begin = first
    if known and begin < start + FIRST_MINUTE:
        begin = min(start + FIRST_MINUTE, segment.begin + 0.5 * (segment.end - segment.begin))
    left = [_of_segment(segments, number) for number in range(len(segments)) if number != place]
    if first > segment.begin:
        left.append(LeftOut(segment.begin, first, "outside_window"))
    elif begin > segment.begin:
        left.append(LeftOut(segment.begin, begin, "settling"))
    return Part(begin, segment.end, start, _compressor(segments, place, started), tuple(left))


def _since(segments: tuple[Segment, ...], started: float | None) -> tuple[Segment, ...]:
    """The stretches, with what was logged before the start as one of a unit at rest, even if no reading shows that."""
    first = segments[0]
    if started is None or first.state != "running" or not first.begin < started < first.end:
        return segments
    before = Segment(first.begin, started, "off", None)
    return before, replace(first, begin=started, began="compressor_start"), *segments[1:]


def _of_segment(segments: Sequence[Segment], place: int) -> LeftOut:
    one = segments[place]
    reason: LeftOutReason = "outside_window"
    if one.state != "running":
        reason = "defrost" if one.state == "defrost" else "compressor_off"
    elif place + 1 < len(segments):
        reason = _BEFORE.get(segments[place + 1].began or "jump", "outside_window")
    return LeftOut(one.begin, one.end, reason)


def _compressor(segments: Sequence[Segment], place: int, started: float | None) -> float | None:
    """When the compressor started that runs in a segment [s]; None where the log does not show it."""
    for one in reversed(segments[: place + 1]):
        if one.began == "compressor_start":
            return one.begin
        if one.began == "clock_jump":
            return None
    return started


class Usable(NamedTuple):
    """Values of a channel (N,) with not-a-number where they cannot be trusted, and those parts."""

    values: FloatArray
    left_out: tuple[LeftOut, ...]


def usable(times: FloatArray, channel: Channel, course: Course) -> Usable:
    """What can be trusted of a channel."""
    last = float(times[-1])
    left = [
        LeftOut(flaw.begin, flaw.end, flaw.kind)
        if flaw.kind in ("stuck", "dropout", "clock_jump")
        else LeftOut(float(times[0]), last, flaw.kind)
        for flaw in course.flaws
        if channel.name in flaw.readings
    ]
    for event in course.events:
        if event.readings != (channel.name,):
            continue
        settled = event.at + _MOVED_LAGS * channel.lag + _MOVED_SECONDS
        if event.kind == "probe_placed":
            left.append(LeftOut(float(times[0]), min(settled, last), "probe_not_in_place"))
        elif event.kind == "probe_knocked_off":
            left.append(LeftOut(event.at - _MOVED_SECONDS, last, "probe_not_in_place"))
        elif event.kind == "jump":
            # Nobody knows which side is right: neither is used.
            left.append(LeftOut(float(times[0]), last, "jump"))
    values = channel.values.copy()
    for one in left:
        if one.reason not in ("dropout", "clock_jump"):
            values[(times >= one.begin) & (times <= one.end)] = np.nan
    return Usable(values, tuple(left))


__all__ = ["Flaw", "LeftOut", "LeftOutReason", "Part", "usable", "used_part"]
