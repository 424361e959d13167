"""The capacity at which the unit ran, as the request states it, and contradictions in what it states."""

from __future__ import annotations

from typing import NamedTuple

from schemas.assessments import AssessmentRequest
from service.intake.entry import Entry
from service.intake.refusals import Refusal, pointer
from service.reference.capacity_control import HIGHEST_SPEED, RATED_SPEED, Running


def running(request: AssessmentRequest) -> Running:
    """How the unit ran; ``unknown`` where its kind leaves that open and it is not stated, or as no unit runs."""
    unit, run = request.unit, request.run
    if unit.capacity_control == "single_speed":
        return "full"
    if unit.capacity_control == "two_stage":
        return {"high": "full", "low": "low"}.get(run.stage or "", "unknown")  # type: ignore[return-value]
    if run.speed_percent is None:
        return "test_mode" if run.test_mode else "unknown"
    if run.speed_percent > HIGHEST_SPEED:
        return "unknown"
    low, high = RATED_SPEED
    return "full" if low <= run.speed_percent <= high else "part_speed"


class _Bound(NamedTuple):
    """A field that belongs to one kind of capacity control only."""

    path: tuple[str, ...]
    given: object
    control: str


def take_running(entry: Entry) -> None:
    """How the unit ran; what contradicts its kind of capacity control is refused."""
    entry.running = running(entry.request)
    unit, run = entry.request.unit, entry.request.run
    rated, plate = unit.rated, unit.nameplate
    for path, given, control in (
        _Bound(("run", "stage"), run.stage, "two_stage"),
        _Bound(("run", "speed_percent"), run.speed_percent, "variable_speed"),
        _Bound(("run", "test_mode"), run.test_mode or None, "variable_speed"),
        _Bound(("unit", "rated", "low_stage"), rated and rated.low_stage, "two_stage"),
        _Bound(("unit", "nameplate", "low_stage"), plate and plate.low_stage, "two_stage"),
    ):
        if given is None or unit.capacity_control == control:
            continue
        kind, stated = (name.replace("_", "-") for name in (control, unit.capacity_control))
        entry.refusals.append(
            Refusal(
                pointer(*path),
                given if isinstance(given, str | float | bool) else None,
                f"no value, or unit.capacity_control {control!r}",
                f"belongs to a {kind} unit, but unit.capacity_control says {stated}",
                f"If the unit is {kind}, set unit.capacity_control to {control!r}; else leave this field out.",
            )
        )
