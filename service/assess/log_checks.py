"""What is noticed about a log: parts that cannot be trusted, what happened, and what had not settled."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from service.assess.notices import Case, Notice, named, notice
from service.intake.logged import LoggedRun
from service.reference.conditions import RUNNING_MINUTES
from service.reference.steadiness import HUNTS
from service.words import log as words
from service.words.phrases import capital

_DERIVED = "temperature_difference"


def _without_running(run: LoggedRun, case: Case) -> Iterator[Notice]:
    if run.part is None:
        yield notice("log_without_running", run.readings)


def _not_settled(run: LoggedRun, case: Case) -> Iterator[Notice]:
    """Readings that had not settled, unless the running time says so of them all."""
    found = {name: one.settled for name, one in run.readings.items() if one.settled is not None}
    minutes = case.visit.minutes_running
    unsettled = [name for name, one in found.items() if one.settled_from is None]
    if unsettled and (minutes is None or minutes >= RUNNING_MINUTES):
        yield notice("log_not_settled", unsettled, readings=words.names(unsettled))
    drifting = [name for name, one in found.items() if name not in unsettled and one.drift.grade == "not_steady"]
    if drifting:
        yield notice("log_not_steady", drifting, readings=words.names(drifting))


def _flaws(run: LoggedRun, case: Case) -> Iterator[Notice]:
    """Parts that cannot be trusted."""
    for one in run.course.flaws:
        length, reading = words.clock(one.end - one.begin), capital(named(*one.readings))
        lasting = one.kind in _LASTING
        part = words.between(one.begin, one.end) if lasting else words.clock(one.begin)
        said = {"length": length} if lasting else {}
        if one.kind != "clock_jump":
            said["reading"] = reading
        yield notice(f"log_{one.kind}", one.readings, part=part, **said)


#: Flaws that have an end; the others last to the end of the log.
_LASTING = frozenset({"stuck", "dropout", "clock_jump"})


def _events(run: LoggedRun, case: Case) -> Iterator[Notice]:
    """What happened during the log."""
    changed = [one for one in run.course.events if one.kind in _OF_THE_UNIT]
    if changed:
        said = " ".join(words.event(one.kind, one.at, ()) for one in changed[:_MOST_EVENTS])
        if len(changed) > _MOST_EVENTS:
            said += f" {words.more_events(len(changed) - _MOST_EVENTS)}"
        yield notice("log_changed", dict.fromkeys(name for one in changed for name in one.readings), events=said)
    for one in run.course.events:
        at = words.clock(one.at)
        if one.kind == "jump":
            yield notice("log_jump", one.readings, reading=capital(named(*one.readings)), part=at)
        elif one.kind in _OF_A_PROBE:
            side = f"until {at}" if one.kind == "probe_placed" else f"from {at} on"
            yield notice("log_probe_moved", one.readings, reading=named(*one.readings), part=side)
    if run.cycles_short:
        yield notice("short_cycling", (), length=words.clock(min(run.runs)))


_OF_A_PROBE = frozenset({"probe_placed", "probe_knocked_off"})
_OF_THE_UNIT = frozenset({"compressor_start", "compressor_stop", "stage_change", "defrost", "door_opened"})
#: Events that one notice tells.
_MOST_EVENTS = 3


def _hunting(run: LoggedRun, case: Case) -> Iterator[Notice]:
    found = run.derived.get("superheat")
    swing = None if found is None else found.hunting
    if swing is not None and swing.amplitude >= HUNTS:
        readings = [name for name in _OF_SUPERHEAT if name in run.readings]
        size, period = case.say(_DERIVED, swing.amplitude), words.clock(swing.period)
        yield notice("superheat_hunts", readings, size=size, period=period)


_OF_SUPERHEAT = ("suction_pressure", "suction_line_temperature")
_CHECKS = (_without_running, _not_settled, _flaws, _events, _hunting)


def _of_log(case: Case) -> Iterator[Notice]:
    """Everything noticed about a log."""
    run = case.visit.logged
    if run is not None:
        for check in _CHECKS:
            yield from check(run, case)


CHECKS: tuple[Callable[[Case], Iterator[Notice]], ...] = (_of_log,)
