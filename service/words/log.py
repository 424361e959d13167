"""What a log says, in sentences: each reading, what was left out, what happened, and when it will have settled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, NamedTuple

from service.words.numbers import figure
from service.words.phrases import capital, listed, phrase, signed_phrase, span, spoken

#: A time within a log is written in seconds up to this [s], else in minutes.
_IN_SECONDS = 120.0
#: Extrapolated by more than this many standard uncertainties, or of the limit of steadiness, is worth a sentence.
_COVERAGE = 1.96

_READING = "run.readings."


class Why(NamedTuple):
    """A reason for leaving out a part of a log: a word or two on a picture, and the end of a sentence."""

    tag: str
    text: str


#: Why a part of a log was not used, by the contract's name.
LEFT_OUT: Mapping[str, Why] = MappingProxyType(
    {
        "settling": Why("settling", "the unit was still settling"),
        "compressor_off": Why("off", "the compressor was not running"),
        "defrost": Why("defrost", "the outdoor coil was defrosting"),
        "before_stage_change": Why("other stage", "the unit ran in another stage or at another speed"),
        "door_opened": Why("door open", "other air reached the return, as through an open door"),
        "probe_not_in_place": Why("probe off", "the probe was not in place"),
        "stuck": Why("stuck", "the sensor repeated one value"),
        "dropout": Why("no signal", "the sensor gave no value"),
        "unit_jump": Why("other unit", "the values jumped as if the unit had been changed"),
        "clock_jump": Why("clock", "the clock of the logger had jumped"),
        "readings_swapped": Why("swapped", "two readings had changed places"),
        "jump": Why("jump", "the value had jumped without a known cause"),
        "outside_window": Why("not used", "only one part of a log can be used"),
    }
)

#: What happened during a log, by the contract's name; ``{readings}`` show it.
EVENTS: Mapping[str, str] = MappingProxyType(
    {
        "compressor_start": "the compressor started",
        "compressor_stop": "the compressor stopped",
        "stage_change": "the stage or speed changed",
        "defrost": "a defrost began",
        "door_opened": "other air reached the return, as through an open door",
        "probe_placed": "a probe was put in place",
        "probe_knocked_off": "a probe came off",
        "jump": "the value jumped",
    }
)


@dataclass(frozen=True, slots=True)
class ReadingFacts:
    """One reading of a log, in SI.

    ``kind`` and ``difference_kind`` are those of the value and of its change; ``uncertainty`` is the standard
    uncertainty without calibration; ``drift`` the change in five minutes; ``settled_for`` the seconds from when it had
    settled to the end, None where it had not; ``added`` what extrapolation added; ``hunting`` amplitude and period.
    """

    name: str
    kind: str
    difference_kind: str
    value: float
    uncertainty: float
    count: int
    effective: float
    drift: float
    grade: Literal["steady", "not_steady", "cannot_tell"]
    settled_for: float | None
    added: float
    hunting: tuple[float, float] | None
    system: str


def clock(seconds: float) -> str:
    """A time or a length of time within a log."""
    if abs(seconds) < _IN_SECONDS:
        return f"{figure(seconds, 0)} s"
    minutes = seconds / 60.0
    return f"{figure(minutes, 1 if abs(minutes) < 10.0 and abs(minutes - round(minutes)) > 0.05 else 0)} min"


def between(start: float, end: float) -> str:
    """A part of a log: the unit comes once where it is the same."""
    first, last = clock(start), clock(end)
    if start == 0.0 or first[-1] == last[-1]:
        first = first.rpartition(" ")[0]
    return f"{first} to {last}"


def reading(one: ReadingFacts) -> str:
    """What a log says about one reading: the value, how steady it was, and what that rests on."""
    name = capital(spoken(_READING + one.name))
    half = _COVERAGE * one.uncertainty
    band = span(one.kind, one.value - half, one.value + half, one.system)
    value = f"{phrase(one.kind, one.value, one.system)} (95 %: {band}, before calibration)"
    return " ".join(filter(None, (f"{name} settles at {value}.", _steadiness(one), _swing(one), _number(one))))


def _steadiness(one: ReadingFacts) -> str:
    drift = signed_phrase(one.difference_kind, one.drift, one.system)
    if one.settled_for is None:
        added = signed_phrase(one.difference_kind, one.added, one.system)
        return (
            f"It had not settled when the log ended (it changed by {drift} in five minutes), so {added} was added "
            "to its last level, which widens the band."
        )
    last = f"over the last {clock(min(one.settled_for, 300.0))}"
    if one.grade == "steady":
        return f"It was steady {last}."
    if one.grade == "not_steady":
        return f"It was not steady: it changed by {drift} in five minutes."
    return f"These numbers cannot show whether it was steady: it changed by about {drift} in five minutes."


def _swing(one: ReadingFacts) -> str:
    if one.hunting is None:
        return ""
    amplitude, period = one.hunting
    swing = phrase(one.difference_kind, amplitude, one.system)
    return f"It swung by {swing} either way every {clock(period)}, and whole swings were averaged."


def _number(one: ReadingFacts) -> str:
    worth = max(1, round(one.effective))
    if one.count <= 1 or worth >= one.count:
        return ""
    return f"{figure(one.count, 0)} numbers are worth about {worth} independent ones, as those close in time are alike."


def left_out(reason: str, start: float, end: float) -> str:
    """Why a part of a log was not used."""
    return f"{between(start, end)}: {LEFT_OUT[reason].text}."


def event(name: str, at: float, readings: Sequence[str]) -> str:
    """What happened, when, and which readings show it."""
    shown = f" ({listed([spoken(_READING + one) for one in readings])})" if readings else ""
    return f"After {clock(at)} {EVENTS[name]}{shown}."


def settles_in(seconds: float, low: float, high: float) -> str:
    """When the readings will have settled."""
    if high <= 0.0:
        return "The readings have settled."
    if seconds <= 0.0:
        return f"The readings have probably settled. {clock(high)} more would make sure."
    return (
        f"Keep the unit running for about {clock(seconds)} more ({between(low, high)}), then the readings have settled."
    )


def summary(length: float, unsettled: Sequence[str], drifting: Sequence[str], count: int) -> str:
    """A whole log: ``unsettled`` are readings that had not settled, ``drifting`` those that were not steady."""
    covers = f"The log covers {clock(length)}."
    if not count:
        return f"{covers} No reading of it could be used."
    if unsettled:
        which = "No reading" if len(unsettled) == count else capital(_names(unsettled))
        verb = "had" if which == "No reading" else ("has not" if len(unsettled) == 1 else "have not")
        return f"{covers} {which} {verb} settled, so settled values were extrapolated and their bands are wider."
    if drifting:
        verb = "was" if len(drifting) == 1 else "were"
        return f"{covers} The readings had settled, but {_names(drifting)} {verb} not steady."
    return f"{covers} The readings had settled."


def _names(names: Sequence[str]) -> str:
    few = [spoken(_READING + one) for one in names[:3]]
    more = len(names) - len(few)
    return listed([*few, f"{more} other{'s' if more > 1 else ''}"] if more else few)


#: Whether a reading drifted, in a word or two.
STEADINESS: Mapping[str, str] = MappingProxyType(
    {"steady": "steady", "not_steady": "not steady", "cannot_tell": "steadiness not known"}
)
