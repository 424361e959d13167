"""What happened during a log, the stretches in between, and readings that cannot be trusted.

A plain search for sudden changes of each channel, then a reading of which channels changed together: a change of
input and pressures is another stage, one of the room's air an open door, one of a single clamp a probe that was put
on or knocked off.  What fits nothing keeps the name of a jump.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.series.channels import Channel, Grid, Jump, gridded, jumps

FloatArray = NDArray[np.float64]

EventName = Literal[
    "compressor_start",
    "compressor_stop",
    "stage_change",
    "defrost",
    "door_opened",
    "probe_placed",
    "probe_knocked_off",
    "jump",
]
FlawName = Literal["stuck", "dropout", "unit_jump", "clock_jump", "readings_swapped"]
State = Literal["running", "off", "defrost"]
#: What a stretch begins with.
Cut = EventName | Literal["clock_jump"]

#: Share of the usual level below which input or pressure difference mean that the compressor is off.
_OFF_INPUT, _OFF_LIFT = 0.25, 0.4
#: Changes within this time belong to one event [s].
_TOGETHER = 75.0
#: After a start everything changes [s].
_AFTER_START = 150.0
#: Stretch whose level is compared with another's [s].
_SIDE_OF_MOVE = 60.0
#: Longest defrost [s].
_LONGEST_DEFROST = 900.0
#: Gap of one reading, and step of the clock, that are named [s]; the latter also by so many usual steps.
_LONG_GAP, _CLOCK, _CLOCK_STEPS = 30.0, 60.0, 10.0
#: A display stands still for so long [s] and so many numbers, and by chance with less than this probability.
_STILL_SECONDS, _STILL_COUNT, _BY_CHANCE = 120.0, 20, 1e-6
#: Ratios of units that a logger may have switched between: of pressures (bar, kPa, MPa, psi), and of others (A and mA,
#: W and kW, shares and percent).
_OF_PRESSURES, _OF_OTHERS = np.array([14.5038, 6.89476, 100.0, 10.0, 145.038, 1000.0]), np.array([100.0, 1000.0])
_RATIO_OFF, _SCALE_OFF = 0.06, 2.0
#: Step of a display, as a share of the smallest jump, beyond which it may stand still for long.
_COARSE = 0.1
#: How near one level must come to another, as a share of their distance, to be the same.
_SAME = 0.25


@dataclass(frozen=True, slots=True)
class LogEvent:
    """Something that happened at a time [s], the channels that show it, and when it was over, for a defrost."""

    kind: EventName
    at: float
    readings: tuple[str, ...]
    until: float | None = None


@dataclass(frozen=True, slots=True)
class Flaw:
    """A stretch [s] in which readings cannot be trusted."""

    kind: FlawName
    readings: tuple[str, ...]
    begin: float
    end: float


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch [s] between events; ``began`` is what it began with, None for the first."""

    begin: float
    end: float
    state: State
    began: Cut | None


@dataclass(frozen=True, slots=True)
class Course:
    """All that a log shows of what happened."""

    events: tuple[LogEvent, ...]
    flaws: tuple[Flaw, ...]
    segments: tuple[Segment, ...]


def course(times: FloatArray, channels: Sequence[Channel], *, heating: bool = False) -> Course:
    """What happened during a log.

    Parameters
    ----------
    times : FloatArray, shape (N,)
        Rising [s].
    channels : sequence of Channel
    heating : bool
        Whether the unit may defrost.
    """
    grid = gridded(times, channels)
    found = [jump for row, one in enumerate(channels) for jump in jumps(grid, row, one)]
    units, found = _other_units(found, float(times[-1]))
    untrusted = {name for flaw in units for name in flaw.readings}
    states, events = _running(grid, channels, untrusted, heating=heating)
    known = [at for one in events for at in (one.at, one.until) if at is not None]
    swapped, rest = _swapped(_unexplained(found, known), float(times[-1]))
    events += _events(rest, channels, grid)
    events.sort(key=lambda one: one.at)
    still = [one for one in _stuck(times, channels) if not _explained(one, events, states, grid)]
    flaws = [*_clock_jumps(times, channels), *_gaps(times, channels), *still, *units, *swapped]
    return Course(tuple(events), tuple(flaws), tuple(_segments(times, events, flaws, states, grid)))


def segments(times: FloatArray, channels: Sequence[Channel], *, heating: bool = False) -> tuple[Segment, ...]:
    """The stretches of a log between stops, starts, stages, defrosts and open doors; see :func:`course`."""
    return course(times, channels, heating=heating).segments


def faults_of_log(times: FloatArray, channels: Sequence[Channel]) -> tuple[Flaw, ...]:
    """Stretches that cannot be trusted; see :func:`course`."""
    return course(times, channels).flaws


# ---------------------------------------------------------------- what cannot be trusted


def _clock_jumps(times: FloatArray, channels: Sequence[Channel]) -> list[Flaw]:
    steps = np.diff(times)
    beyond = np.flatnonzero(steps > max(_CLOCK, _CLOCK_STEPS * float(np.median(steps))))
    names = tuple(one.name for one in channels)
    return [Flaw("clock_jump", names, float(times[place]), float(times[place + 1])) for place in beyond]


def _gaps(times: FloatArray, channels: Sequence[Channel]) -> list[Flaw]:
    found = []
    for one in channels:
        there = np.flatnonzero(np.isfinite(one.values))
        if not len(there):
            found.append(Flaw("dropout", (one.name,), float(times[0]), float(times[-1])))
            continue
        edges = [(-1, there[0]), *pairwise(there), (there[-1], len(times))]
        for before, after in edges:
            if after - before < 2:
                continue
            begin, end = float(times[max(before, 0)]), float(times[min(after, len(times) - 1)])
            if end - begin >= _LONG_GAP:
                found.append(Flaw("dropout", (one.name,), begin, end))
    return found


def _stuck(times: FloatArray, channels: Sequence[Channel]) -> list[Flaw]:
    """Channels that flickered, and then show one number for far longer than that allows."""
    found = []
    for one in channels:
        there = np.flatnonzero(np.isfinite(one.values))
        if not one.moves or len(there) < _STILL_COUNT:
            continue
        changed = np.diff(one.values[there]) != 0.0
        edges = np.concatenate([[-1], np.flatnonzero(changed), [len(there) - 1]])
        longest = int(np.argmax(np.diff(edges)))
        first, last = int(edges[longest]) + 1, int(edges[longest + 1])
        begin, end = float(times[there[first]]), float(times[there[last]])
        if end - begin < _STILL_SECONDS or last - first < _STILL_COUNT:
            continue
        # Just before it froze, or just after: once settled, a quiet reading changes seldom.
        beside = (
            changed[max(first - _STILL_COUNT, 0) : first] if first >= _STILL_COUNT else changed[last:][:_STILL_COUNT]
        )
        steps = np.abs(np.diff(one.values[there]))[changed]
        if len(beside) < _STILL_COUNT or steps.min() > _COARSE * one.jump:
            frozen = _others_move(one, channels, slice(int(there[first]), int(there[last]) + 1))
        else:
            frozen = (1.0 - min(float(beside.mean()), 0.999)) ** (last - first) < _BY_CHANCE
        if frozen:
            found.append(Flaw("stuck", (one.name,), begin, end))
    return found


def _others_move(still: Channel, channels: Sequence[Channel], part: slice) -> bool:
    """Whether most of the other channels that a running unit moves change by much in a part of a log."""
    moved = [
        bool(np.nanmax(values) - np.nanmin(values) > 3.0 * one.jump)
        for one in channels
        if one is not still and one.moves and np.isfinite(values := one.values[part]).any()
    ]
    return len(moved) >= 2 and sum(moved) > len(moved) / 2


def _other_units(found: Sequence[Jump], last: float) -> tuple[list[Flaw], list[Jump]]:
    """Jumps to another unit, at which nothing else jumps; and the other jumps."""
    flaws: list[Flaw] = []
    rest: list[Jump] = []
    for one in found:
        beside = [other for other in found if abs(other.at - one.at) <= _TOGETHER]
        if all(_another_unit(other) for other in beside):
            flaws.append(Flaw("unit_jump", (one.channel.name,), one.at, last))
        else:
            rest.append(one)
    return flaws, rest


def _swapped(found: Sequence[Jump], last: float) -> tuple[list[Flaw], list[Jump]]:
    """Channels that change places; and the other jumps."""
    flaws: list[Flaw] = []
    left = list(found)
    for one, other in combinations(found, 2):
        if one in left and other in left and _change_places(one, other):
            names = (one.channel.name, other.channel.name)
            flaws.append(Flaw("readings_swapped", names, min(one.at, other.at), last))
            left = [jump for jump in left if jump not in (one, other)]
    return flaws, left


def _another_unit(one: Jump) -> bool:
    """Whether both levels are one value in two units."""
    before, after = one.before, one.after
    if one.channel.role in ("room", "air", "line") and before > 150.0 and after > 150.0:
        if abs(after - before) < 10.0:
            return False
        celsius, later = before - 273.15, after - 273.15
        return any(
            abs(later - shown) < _SCALE_OFF + 0.03 * abs(shown)
            for shown in (1.8 * celsius + 32.0, (celsius - 32.0) / 1.8)
        )
    if min(abs(before), abs(after)) <= 0.0 or before * after < 0.0:
        return False
    ratio = max(abs(before), abs(after)) / min(abs(before), abs(after))
    ratios = _OF_PRESSURES if one.channel.role in ("high", "low") else _OF_OTHERS
    return bool((np.abs(ratio / ratios - 1.0) < _RATIO_OFF).any())


def _change_places(one: Jump, other: Jump) -> bool:
    """Whether two channels take each other's level at the same time."""
    if abs(one.at - other.at) > _TOGETHER or one.size * other.size >= 0.0:
        return False
    apart = abs(one.before - other.before)
    return max(abs(one.after - other.before), abs(other.after - one.before)) < _SAME * apart


# ---------------------------------------------------------------- what happened


def _running(
    grid: Grid, channels: Sequence[Channel], untrusted: Set[str], *, heating: bool
) -> tuple[list[State], list[LogEvent]]:
    """The state of each block, and where it changes."""
    input_, lift = _input(grid, channels, untrusted), _lift(grid, channels, untrusted)
    states: list[State] = ["running"] * grid.values.shape[1]
    events: list[LogEvent] = []
    shown = input_ if input_ is not None else lift
    if shown is None:
        return states, events
    roles = ("electrical",) if input_ is not None else ("high", "low")
    readings = tuple(one.name for one in channels if one.role in roles)
    for begin, end in _stretches(~_above(shown, _OFF_LIFT if input_ is None else _OFF_INPUT)):
        begun = begin if input_ is not None else _fall(shown, begin, grid.step)
        states[begun:end] = ["off"] * (end - begun)
        if begin > 0:
            events.append(LogEvent("compressor_stop", grid.at(begun), readings))
        if end < len(states):
            events.append(LogEvent("compressor_start", grid.at(_rise(shown, end)), readings))
    if heating and input_ is not None and lift is not None:
        events += _defrosts(grid, lift, states, tuple(one.name for one in channels if one.role in ("high", "low")))
    return states, events


def _defrosts(grid: Grid, lift: FloatArray, states: list[State], readings: tuple[str, ...]) -> list[LogEvent]:
    """Pressures that meet while the compressor runs, and part again."""
    found = []
    settling = round(_AFTER_START / grid.step)
    for begin, end in _stretches(~_above(lift, _OFF_LIFT)):
        lately = states[max(begin - settling, 0) : end]
        if begin < settling or "off" in lately or grid.step * (end - begin) > _LONGEST_DEFROST:
            continue
        begun = _fall(lift, begin, grid.step)
        states[begun:end] = ["defrost"] * (end - begun)
        found.append(LogEvent("defrost", grid.at(begun), readings, grid.at(min(end, len(states) - 1))))
    return found


def _input(grid: Grid, channels: Sequence[Channel], untrusted: Set[str]) -> FloatArray | None:
    rows = [row for row, one in enumerate(channels) if one.role == "electrical" and one.name not in untrusted]
    return grid.values[rows[0]] if rows else None


def _lift(grid: Grid, channels: Sequence[Channel], untrusted: Set[str]) -> FloatArray | None:
    """High side less low side, as pressures or as saturation temperatures."""
    low, high = (
        {
            one.quantity: row
            for row, one in reversed([*enumerate(channels)])
            if one.role == role and one.name not in untrusted
        }
        for role in ("low", "high")
    )
    for quantity in sorted(low.keys() & high.keys()):
        return np.asarray(grid.values[high[quantity]] - grid.values[low[quantity]])
    return None


def _above(values: FloatArray, share: float) -> NDArray[np.bool_]:
    """Where a channel is above a share of its usual level; gaps are as the block before."""
    if not np.isfinite(values).any():
        return np.ones(len(values), dtype=bool)
    usual = float(np.nanpercentile(values, 80.0))
    there = np.flatnonzero(np.isfinite(values))
    last = np.maximum(np.searchsorted(there, np.arange(len(values)), side="right") - 1, 0)
    return np.asarray(values[there[last]] > share * usual)


def _stretches(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return [(int(begin), int(end)) for begin, end in edges.reshape(-1, 2)]


def _fall(values: FloatArray, place: int, step: float) -> int:
    """Where the fall began that reached a threshold: within two minutes before."""
    reach = max(1, round(120.0 / step))
    early = max(place - reach, 0)
    level = float(np.nanmedian(values[max(place - 3 * reach, 0) : max(early, 1)]))
    high = np.flatnonzero(values[early:place] > 0.9 * level)
    return early + int(high[-1]) + 1 if len(high) else place


def _rise(values: FloatArray, place: int) -> int:
    """Where the rise began that reached a threshold."""
    reached = place
    while place > 1 and values[place - 1] < values[place] - 0.02 * abs(values[place]):
        place -= 1
    return min(place + 1, reached)


def _unexplained(found: Iterable[Jump], known: Sequence[float]) -> list[Jump]:
    """Jumps that no start, stop or defrost explains, in order."""
    return sorted(
        (one for one in found if not any(-_TOGETHER <= one.at - at <= _AFTER_START + one.channel.lag for at in known)),
        key=lambda one: one.at,
    )


def _explained(flaw: Flaw, events: Sequence[LogEvent], states: Sequence[State], grid: Grid) -> bool:
    """Whether a channel stood still because the unit was off, or its probe not in place."""
    off = sum(state == "off" for state in states[grid.place(flaw.begin) : grid.place(flaw.end)])
    if grid.step * off > 0.5 * (flaw.end - flaw.begin):
        return True
    return any(
        flaw.readings == one.readings
        and (
            (one.kind == "probe_placed" and flaw.begin < one.at)
            or (one.kind == "probe_knocked_off" and flaw.end > one.at)
        )
        for one in events
    )


def _events(left: Sequence[Jump], channels: Sequence[Channel], grid: Grid) -> list[LogEvent]:
    """Events from jumps, those of one time together."""
    rows = {one.name: row for row, one in enumerate(channels)}
    events: list[LogEvent] = []
    while left:
        group = [one for one in left if one.at - left[0].at <= _TOGETHER]
        left = left[len(group) :]
        events += _named(group, channels, rows, grid)
    return events


def _named(group: Sequence[Jump], channels: Sequence[Channel], rows: dict[str, int], grid: Grid) -> list[LogEvent]:
    roles = [one.channel.role for one in group]
    names = tuple(one.channel.name for one in group)
    sides = {"high", "low"} & {*roles}
    if len(sides) == 1:
        # The other side may follow more slowly than a jump.
        other = ({"high", "low"} - sides).pop()
        followed = [one for one in channels if one.role == other and _moved(grid, rows[one.name], group[0].at, one)]
        names += tuple(one.name for one in followed)
        sides |= {one.role for one in followed}
    if ("electrical" in roles and len(names) > 1) or len(sides) == 2:
        first = next((one for one in group if one.channel.role == "electrical"), group[0])
        return [LogEvent("stage_change", first.at, names)]
    if "room" in roles and not sides:
        return [LogEvent("door_opened", group[0].at, names)]
    return [LogEvent(_of_one_probe(one, rows, grid), one.at, (one.channel.name,)) for one in group]


def _moved(grid: Grid, row: int, at: float, channel: Channel) -> bool:
    """Whether a channel has another level two minutes after a time than just before, by more than it drifted."""
    place, reach = grid.place(at), max(2, round(_SIDE_OF_MOVE / grid.step))
    parts = [
        grid.values[row, max(place + shift * reach, 0) : max(place + (shift + 1) * reach, 0)] for shift in (-3, -1, 2)
    ]
    if not all(np.isfinite(part).any() for part in parts):
        return False
    long_before, before, after = (float(np.nanmedian(part)) for part in parts)
    return abs(after - before) - 1.5 * abs(before - long_before) > channel.jump


def _of_one_probe(one: Jump, rows: dict[str, int], grid: Grid) -> EventName:
    """Which side of a jump is that of a probe off its place: the one that shows the air, or no pressure."""
    if one.channel.role in ("high", "low"):
        if not one.before or not one.after:
            low, high = one.before, one.after
        else:
            low, high = abs(one.before), abs(one.after)
        if min(low, high) < 0.05 * max(low, high):
            return "probe_placed" if low < high else "probe_knocked_off"
        return "jump"
    row = rows.get(one.channel.around or "")
    if row is None or one.channel.role not in ("line", "air"):
        return "jump"
    place = grid.place(one.at)
    near = grid.values[row, max(place - 12, 0) : place + 12]
    if not np.isfinite(near).any():
        return "jump"
    air = float(np.nanmedian(near))
    before, after = abs(one.before - air), abs(one.after - air)
    if min(before, after) > _SAME * abs(one.size):
        return "jump"
    return "probe_placed" if before < after else "probe_knocked_off"


def _segments(
    times: FloatArray, events: Sequence[LogEvent], flaws: Sequence[Flaw], states: Sequence[State], grid: Grid
) -> list[Segment]:
    """Stretches between what changes the unit or the room; a probe that moves changes neither."""
    cuts: list[tuple[float, float, Cut, State]] = [
        (one.at, one.at, one.kind, _AFTER[one.kind]) for one in events if one.kind in _AFTER
    ]
    cuts += [(one.until, one.until, "defrost", "running") for one in events if one.until is not None]
    for flaw in flaws:
        if flaw.kind == "clock_jump":
            cuts.append((flaw.begin, flaw.end, "clock_jump", states[min(grid.place(flaw.end), len(states) - 1)]))
    found: list[Segment] = []
    begin, state = float(times[0]), states[0]
    began: Cut | None = None
    for end, after, kind, next_ in sorted(cuts, key=lambda one: one[0]):
        if end > begin:
            found.append(Segment(begin, end, state, began))
        begin, began, state = after, kind, next_
    found.append(Segment(begin, float(times[-1]), state, began))
    return found


_AFTER: dict[EventName, State] = {
    "compressor_start": "running",
    "compressor_stop": "off",
    "stage_change": "running",
    "defrost": "defrost",
    "door_opened": "running",
}
