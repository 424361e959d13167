"""What the log of a run says, as an answer shows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import SettlesIn
from schemas.logs import Drift, Extrapolation, FollowedValue, Hunting, LeftOut, LogAnswer, LogEvent, LoggedReading
from service.derive.derivations import QUANTITIES
from service.intake import logged
from service.intake.visit import Visit
from service.reference.units import conversion, system_unit
from service.uncertainty.propagation import COVERAGE
from service.uncertainty.series import segments, settled, windows
from service.words import log as words

FloatArray = NDArray[np.float64]

#: Kinds whose changes are of a kind of their own.
_DIFFERENCES = {"temperature": "temperature_difference", "absolute_pressure": "pressure"}
_DERIVED = "temperature_difference"


def answer(visit: Visit) -> LogAnswer | None:
    """What the log of a run says; None where it has none."""
    run = visit.logged
    if run is None:
        return None
    used = {name: one.settled for name, one in run.readings.items() if one.settled is not None}
    moments = [one.at for one in used.values()]
    first, last = float(run.seconds[0]), float(run.seconds[-1])
    return {
        "start": run.start,
        "from_second": first,
        "to_second": last,
        "rows": len(run.seconds),
        "at_second": _rounded(moments[0]) if moments else None,
        "events": [_event(one) for one in run.course.events],
        "readings": {name: _reading(one, run, visit.system) for name, one in run.readings.items()},
        "derived": {name: _followed(name, one, visit.system) for name, one in run.derived.items()},
        "sentence": words.summary(
            last - first,
            [name for name, one in used.items() if one.settled_from is None],
            [name for name, one in used.items() if one.settled_from is not None and one.drift.grade == "not_steady"],
            [name for name in run.readings if name not in used],
            len(run.readings),
        ),
    }


def values(visit: Visit) -> dict[str, FloatArray]:
    """The readings of a log over time as shown, in the caller's units; not-a-number for gaps."""
    found = {}
    for name, one in ({} if visit.logged is None else visit.logged.readings).items():
        kind = _kind(one)
        unit = conversion(kind, system_unit(kind, visit.system))
        found[name] = (one.values - unit.offset) / unit.scale
    return found


def _kind(one: logged.LoggedReading) -> str:
    return "absolute_pressure" if one.absolute else one.kind


def settles_in(visit: Visit) -> SettlesIn | None:
    """When the readings of a log will have settled; None where they do not settle toward anything."""
    run = visit.logged
    found = None if run is None else run.settles_in
    # A log that does not end while the unit runs says nothing of what comes.
    if run is None or found is None or run.part is None or run.part.end < float(run.seconds[-1]):
        return None
    seconds, low, high = found
    return {
        "seconds": _rounded(seconds),
        "band": {"low": _rounded(low), "high": _rounded(high), "coverage": COVERAGE},
        "sentence": words.settles_in(seconds, low, high),
    }


def _rounded(value: float) -> float:
    return float(f"{value:.7g}")


def _event(one: segments.LogEvent) -> LogEvent:
    return {
        "event": one.kind,
        "at_second": _rounded(one.at),
        "until_second": None if one.until is None else _rounded(one.until),
        "readings": list(one.readings),
        "sentence": words.event(one.kind, one.at, one.readings),
    }


def _left_out(parts: Sequence[windows.LeftOut]) -> list[LeftOut]:
    """Parts as an answer shows them; those that touch and have one reason are one."""
    joined: list[windows.LeftOut] = []
    for one in parts:
        before = joined[-1] if joined else None
        if before is not None and before.reason == one.reason and one.begin <= before.end:
            joined[-1] = replace(before, end=max(before.end, one.end))
        else:
            joined.append(one)
    return [
        {
            "from_second": _rounded(one.begin),
            "to_second": _rounded(one.end),
            "reason": one.reason,
            "sentence": words.left_out(one.reason, one.begin, one.end),
        }
        for one in joined
    ]


def _reading(one: logged.LoggedReading, run: logged.LoggedRun, system: str) -> LoggedReading:
    kind = _kind(one)
    unit, found = conversion(kind, system_unit(kind, system)), one.settled
    parts = _left_out(one.left_out)
    if found is None:
        return {
            "value": None,
            "unit": system_unit(kind, system),
            "standard_uncertainty": None,
            "window": None,
            "settled_from_second": None,
            "readings": 0,
            "effective_number": 0.0,
            "drift": None,
            "hunting": None,
            "extrapolation": None,
            "time_constant_seconds": None,
            "left_out": parts,
            "sentence": words.not_used(
                one.name, ["compressor_off"] if run.part is None else [part.reason for part in one.left_out]
            ),
        }
    since = found.settled_from
    facts = words.ReadingFacts(
        one.name,
        kind,
        _DIFFERENCES.get(kind, kind),
        found.value,
        found.uncertainty,
        found.count,
        found.effective,
        found.drift.change,
        found.drift.grade,
        None if since is None else found.window[1] - since,
        found.extrapolation.added,
        found.hunting,
        system,
    )
    constant = found.time_constant
    return {
        "value": _rounded(unit.from_si(found.value)),
        "unit": system_unit(kind, system),
        "standard_uncertainty": _rounded(found.uncertainty / unit.scale),
        "window": {"from_second": _rounded(found.window[0]), "to_second": _rounded(found.window[1])},
        "settled_from_second": None if since is None else _rounded(since),
        "readings": found.count,
        "effective_number": _rounded(found.effective),
        "drift": _drift(found.drift, facts.difference_kind, system),
        "hunting": _swing(found, facts.difference_kind, system),
        "extrapolation": _extrapolation(found.extrapolation, facts.difference_kind, system),
        "time_constant_seconds": None if constant is None else _rounded(constant[0]),
        "left_out": parts,
        "sentence": words.reading(facts),
    }


def _drift(one: settled.Drift, kind: str, system: str) -> Drift:
    symbol = system_unit(kind, system)
    scale = conversion(kind, symbol).scale
    return {
        "grade": one.grade,
        "change": _rounded(one.change / scale),
        "standard_uncertainty": _rounded(one.uncertainty / scale),
        "limit": _rounded(one.limit / scale),
        "unit": symbol,
    }


def _swing(found: settled.SettledSeries, kind: str, system: str) -> Hunting | None:
    if found.hunting is None:
        return None
    symbol = system_unit(kind, system)
    return {
        "amplitude": _rounded(found.hunting.amplitude / conversion(kind, symbol).scale),
        "period_seconds": _rounded(found.hunting.period),
        "unit": symbol,
    }


def _extrapolation(one: settled.Extrapolation, kind: str, system: str) -> Extrapolation:
    symbol = system_unit(kind, system)
    scale = conversion(kind, symbol).scale
    return {
        "added": _rounded(one.added / scale),
        "standard_uncertainty": _rounded(one.uncertainty / scale),
        "unit": symbol,
    }


def _followed(name: str, one: settled.SettledSeries, system: str) -> FollowedValue:
    label = QUANTITIES[name].label
    return {
        "drift": _drift(one.drift, _DERIVED, system),
        "hunting": _swing(one, _DERIVED, system),
        "sentence": words.followed(label, one.drift.change, one.drift.grade, one.hunting, system),
    }
