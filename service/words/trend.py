"""What dated runs show over time, in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from service.reference.capacity_control import Unsettled
from service.reference.changes import YEARS_AHEAD
from service.words.comparison import Refused
from service.words.numbers import Estimate, with_minus
from service.words.phrases import phrase, signed_phrase, span, unit_word

METHOD = (
    "Each run is compared with the first in one likelihood about a lumped cycle model, in the weather of the "
    "first; robust lines with Student errors; shapes by the Bayesian information criterion"
)


class StepFacts(NamedTuple):
    """A change of level: its size in SI, the last run before it, the first after it."""

    size: float
    after: datetime
    before: datetime


class CrossingFacts(NamedTuple):
    """A limit in the caller's unit, and the dates of ``when_reached``."""

    bound: float
    unit: str
    expected: str | None
    earliest: str | None
    latest: str | None


@dataclass(frozen=True, slots=True)
class SeriesFacts:
    """What was judged about one value over the runs; ``drift`` a year, in SI, of the difference's ``kind``."""

    label: str
    kind: str
    shape: str
    drift: Estimate
    step: StepFacts | None
    crossing: CrossingFacts | None
    odd: Sequence[datetime]


def series_sentence(facts: SeriesFacts, system: str) -> str:
    """How one value moves, when it reaches its limit, and which runs do not fit."""
    if facts.shape == "step" and facts.step is not None:
        text = _stepped(facts, facts.step, system)
    elif facts.shape == "drift":
        text = _drifts(facts, system) + _reaches(facts.crossing)
    else:
        low, high = facts.drift.low, facts.drift.high
        text = (
            f"{facts.label}: no drift and no step is shown. These readings could hide a drift of "
            f"{span(facts.kind, low, high, system, signed=True)} a year."
        )
    return text + _odd(facts.odd)


def _stepped(facts: SeriesFacts, step: StepFacts, system: str) -> str:
    return (
        f"{facts.label} changed by {signed_phrase(facts.kind, step.size, system)} between "
        f"{step.after:%Y-%m-%d} and {step.before:%Y-%m-%d}, and was steady before and after."
    )


def _drifts(facts: SeriesFacts, system: str) -> str:
    value, low, high = facts.drift
    way = "rises" if value > 0.0 else "falls"
    if low * high > 0.0:
        smaller, larger = sorted((abs(low), abs(high)))
        band = span(facts.kind, smaller, larger, system)
    else:
        band = f"a change of {span(facts.kind, low, high, system, signed=True)}"
    return f"{facts.label} {way} by {phrase(facts.kind, abs(value), system)} a year (95 %: {band})."


def _reaches(crossing: CrossingFacts | None) -> str:
    if crossing is None:
        return ""
    bound, unit, *dates = crossing
    limit = f"{with_minus(f'{bound:.4g}')} {unit_word(unit)}".rstrip()
    return f" At that rate it reaches its limit of {limit} {when_reached(*dates)}."


def when_reached(expected: str | None, earliest: str | None, latest: str | None) -> str:
    """When a drift reaches a limit, with its 95 % band.

    Dates as in an answer (RFC 3339); None is more than ``YEARS_AHEAD`` years ahead.
    """
    far = f"more than {YEARS_AHEAD:.0f} years ahead"
    if expected is None:
        return far if earliest is None else f"{far}, and hardly before {earliest[:7]}"
    early, late = (far if date is None else date[:7] for date in (earliest, latest))
    return f"about {expected[:7]} (95 %: {early} to {late})"


def _odd(dates: Sequence[datetime]) -> str:
    if not dates:
        return ""
    named = ", ".join(f"{date:%Y-%m-%d}" for date in dates)
    return (
        f" The run of {named} does not fit the others."
        if len(dates) == 1
        else f" The runs of {named} do not fit the others."
    )


def trend_sentence(moving: Sequence[str], followed: int, unsettled: Unsettled | None) -> str:
    """What stands out: the sentences of what moves, most important first.

    ``followed`` is the number of values with a series; ``unsettled`` what is not known of the unit's capacity.
    """
    if moving:
        text = " ".join(moving)
    elif followed:
        text = "No value is shown to drift or step."
    else:
        text = "No value appears in at least three runs, so there is no trend to report."
    return text if unsettled is None else f"{unsettled.reason} {text} {unsettled.remedy}"


NO_DATE = Refused(
    "a date and time with its offset from UTC",
    "is missing or has no offset",
    "Give it like 2026-07-14T14:05:00-05:00.",
)
SAME_DATE = Refused(
    "a time of its own",
    "is that of another run",
    "Correct it; repeats within a run are a list of values of one reading.",
)
