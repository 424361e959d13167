"""From a log to one reading each: its settled value, with the error that scatter, drift and extrapolation leave.

The instrument's calibration is added once, as for any reading.  Errors that come with the unknown slow time constant
are common to readings that settle together, as after a stated time of running.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from schemas.readings import ReadingSpec
from service.intake.entry import Entry
from service.intake.kit import Sensor, standard_uncertainty
from service.intake.log_columns import LogColumn, log_columns
from service.intake.logged import LoggedReading, LoggedRun
from service.intake.paths import CURVES, READING, SITE_PRESSURE
from service.intake.readings import OfLog, Shown, Taken, dial_slope, enter
from service.intake.refusals import Refusal
from service.physics.refrigerant import SaturationCurves
from service.reference.placements import PLACEMENTS
from service.reference.settling import STEPS
from service.reference.site import STANDARD_PRESSURE
from service.reference.steadiness import HIGH_SIDE, INPUTS, LOW_SIDE, OF_DERIVED, ROOM_AIR, steady
from service.reference.units import conversion, system_unit
from service.uncertainty.series.channels import Channel, Role
from service.uncertainty.series.priors import transient_prior
from service.uncertainty.series.segments import course
from service.uncertainty.series.settled import (
    FEWEST_BLOCKS,
    Logged,
    SettledSeries,
    TransientPrior,
    blocks,
    moment,
    settle_all,
)
from service.uncertainty.series.windows import LeftOut, Part, since_stated, usable, used_part

FloatArray = NDArray[np.float64]

_DERIVED = (
    ("superheat", "suction_pressure", "suction_line_temperature", 1.0),
    ("subcooling", "liquid_pressure", "liquid_line_temperature", -1.0),
)

_CLASSES: Mapping[str, Role] = {"line_temperature": "line", "air_temperature": "air", "wet_bulb": "air"}


class _Given(NamedTuple):
    """What a refusal shows of a settled value: the number in the unit system, and who took it."""

    value: float
    instrument: str | None


class _Taken(NamedTuple):
    """A column with its instrument, and what is known of it before it is read."""

    column: LogColumn
    sensor: Sensor
    scatter: float
    resolution: float
    prior: TransientPrior
    channel: Channel

    def logged(self, values: FloatArray) -> Logged:
        """What can be trusted of it (N,), for the fit."""
        return Logged(values, self.scatter, self.resolution, self.prior)


def take_log(entry: Entry) -> None:
    """Readings from the log of the run, each as one value with its errors."""
    if entry.request.run.log is None:
        return
    log = log_columns(entry.request.run.log, entry.system, entry.refusals)
    if log is None:
        return
    taken = [one for column in log.columns if (one := _taken(entry, column)) is not None]
    channels = [one.channel for one in taken]
    started = 0.0 if log.start == "compressor_on" else None
    found = since_stated(course(log.seconds, channels, heating=entry.request.unit.mode == "heating"), started)
    part = used_part(found, started)
    kept = {one.channel.name: usable(log.seconds, one.channel, found) for one in taken}
    fitted = {one.channel.name: one.logged(kept[one.channel.name].values) for one in taken}
    derived = _derived(entry, taken, {name: one.values for name, one in kept.items()})
    settled = _settled(log.seconds, part, fitted | derived)
    for one in taken:
        at = settled.get(one.channel.name)
        if at is not None:
            _enter(entry, one, at)
    entry.logged = LoggedRun(
        log.start,
        log.seconds,
        found,
        part,
        {
            name: _reading(part, one, settled.get(name), kept[name].left_out)
            for one in taken
            for name in (one.channel.name,)
        },
        {name: at for name in derived if (at := settled.get(name)) is not None},
    )


def _taken(entry: Entry, column: LogColumn) -> _Taken | None:
    """A column with its instrument; None where it is refused."""
    spec = column.spec
    if _is_given(entry, spec.name):
        entry.refusals.append(
            Refusal(
                column.where,
                None,
                "a reading either in run.readings or in run.log",
                "is given under run.readings too",
                "Leave it out of one of the two.",
            )
        )
        return None
    sensor = entry.kit.sensor(spec.name, spec.kind, spec.measured_as, column.instrument, column.where)
    if isinstance(sensor, Refusal):
        entry.refusals.append(sensor)
        return None
    known = column.values[np.isfinite(column.values)]
    # Of a running unit, even where the log is mostly of a unit at rest.
    running = known[np.abs(known) >= 0.25 * np.abs(known).max(initial=0.0)]
    level = float(np.median(running)) if len(running) else 0.0
    of_gauge = _of_dial(entry, spec, level) if sensor.kind == "pressure" else 1.0
    scatter, resolution = sensor.errors.repeatability / of_gauge, sensor.errors.resolution / of_gauge
    shown = spec.kind == "pressure" and not column.absolute
    size = abs(level + STANDARD_PRESSURE) if shown else abs(level)
    row, prior = steady(spec.name, spec.measured_as), transient_prior(spec.name, spec.measured_as, size, resolution)
    channel = Channel(
        spec.name,
        column.values,
        _role(spec.name, spec.measured_as),
        row.jump * prior.limit,
        row.lag,
        resolution,
        spec.name in STEPS,
        next((placed.around for placed in PLACEMENTS if placed.reading == spec.name), None),
        spec.kind,
    )
    return _Taken(column, sensor, scatter, resolution, prior, channel)


def _is_given(entry: Entry, name: str) -> bool:
    group, _, part = name.partition(".")
    given = getattr(entry.request.run.readings, group)
    return given is not None and (not part or getattr(given, part) is not None)


def _of_dial(entry: Entry, spec: ReadingSpec, level: float) -> float:
    """How many units of its gauge's errors a unit of the reading is: a saturation temperature is read off a gauge
    that errs in pressure."""
    curves: SaturationCurves | None = entry.constants.get(CURVES)
    if spec.kind == "pressure" or curves is None:
        return 1.0
    slope = dial_slope(curves, spec.name, level)
    return slope if slope > 0.0 else 1.0


def _role(name: str, measured_as: str) -> Role:
    for names, role in ((INPUTS, "electrical"), (HIGH_SIDE, "high"), (LOW_SIDE, "low"), (ROOM_AIR, "room")):
        if name in names:
            return role  # type: ignore[return-value]
    return _CLASSES.get(measured_as, "other")


def _settled(seconds: FloatArray, part: Part | None, fitted: Mapping[str, Logged]) -> dict[str, SettledSeries | None]:
    """What columns settle at, about one moment of the part that is used."""
    if part is None:
        return {}
    within = (seconds >= part.begin) & (seconds <= part.end)
    times = seconds[within]
    if len(times) < FEWEST_BLOCKS:
        return {}
    window = blocks(times, min(part.start, float(times[0])), moment(times))
    columns = [replace(one, values=one.values[within]) for one in fitted.values()]
    return dict(zip(fitted, settle_all(window, columns), strict=True))


def _reading(part: Part | None, one: _Taken, settled: SettledSeries | None, own: tuple[LeftOut, ...]) -> LoggedReading:
    column = one.column
    return LoggedReading(
        column.spec.name,
        column.spec.kind,
        column.unit,
        column.values,
        column.absolute,
        settled,
        _left_out(part, settled, own),
    )


def _left_out(part: Part | None, settled: SettledSeries | None, own: tuple[LeftOut, ...]) -> tuple[LeftOut, ...]:
    """All parts of a log that a reading does not use, in order."""
    parts = [*own, *(() if part is None else part.left_out)]
    if settled is not None and settled.settled_from is not None and settled.settled_from > settled.window[0]:
        parts.append(LeftOut(settled.window[0], settled.settled_from, "settling"))
    return tuple(sorted(parts, key=lambda one: (one.begin, one.end)))


def _enter(entry: Entry, one: _Taken, settled: SettledSeries) -> None:
    """The settled value as a reading: with its own error, and the one in common with what settles together."""
    spec, step = one.column.spec, STEPS.get(one.column.spec.name)
    common = 0.0 if step is None else settled.extrapolation.common
    own = max(settled.uncertainty**2 - common**2, 0.0)
    start = min(max(settled.extrapolation.uncertainty**2 - common**2, 0.0), own)
    errors = OfLog(sqrt(own - start), sqrt(start))
    number = conversion(spec.kind, system_unit(spec.kind, entry.system)).from_si(settled.value)
    shown = (Shown(settled.value, number, one.column.where),)
    column = _Given(number, one.column.instrument)
    enter(
        entry, spec, Taken(settled.value, shown, None, errors), column, one.column.where, absolute=one.column.absolute
    )
    path = READING + spec.name
    leaf = entry.leaves.uncertain.get(path)
    if leaf is None or step is None or common == 0.0:
        return
    if callable(leaf.then):  # drawn as a gauge pressure
        common *= _of_dial(entry, spec, settled.value)
    added = entry.leaves.settles(path, [(step.group, "slow", False, common)])
    used = entry.instruments[spec.name]
    entry.instruments[spec.name] = used._replace(
        standard_uncertainty=standard_uncertainty(used.standard_uncertainty, added)
    )


def _derived(entry: Entry, taken: Sequence[_Taken], kept: Mapping[str, FloatArray]) -> dict[str, Logged]:
    """Superheat and subcooling over time, for their drift and swing, from columns (N,) that can be trusted."""
    curves: SaturationCurves | None = entry.constants.get(CURVES)
    site = entry.leaves.uncertain.get(SITE_PRESSURE)
    by_name = {one.column.spec.name: one for one in taken}
    found: dict[str, Logged] = {}
    for name, pressure, line, sign in _DERIVED:
        if curves is None or not {pressure, line} <= by_name.keys():
            continue
        other = by_name[line]
        air = 0.0 if by_name[pressure].column.absolute else STANDARD_PRESSURE if site is None else site.value
        saturation = curves.dew_temperature if sign > 0.0 else curves.bubble_temperature
        values = sign * (kept[line] - saturation(kept[pressure] + air))
        prior = replace(other.prior, limit=OF_DERIVED, drift=other.prior.drift * OF_DERIVED / other.prior.limit)
        found[name] = Logged(values, other.scatter, other.resolution, prior)
    return found
