"""What a log says, in sentences: each reading, what was left out, what happened, and when it will have settled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, NamedTuple, Protocol

from service.words.numbers import figure
from service.words.phrases import capital, listed, lowered, phrase, signed_phrase, span, spoken

#: A time within a log is written in seconds up to this [s], else in minutes.
_IN_SECONDS = 120.0
_COVERAGE = 1.96
#: Times shorter than this are none [s].
_A_MOMENT = 10.0
#: Readings of which so large a share is independent need no remark.
_NEARLY_ALL = 0.8

_READING = "run.readings."
_DIFFERENCE = "temperature_difference"


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


class Swing(Protocol):
    """A regular swing: half the distance from low to high in SI, and from high to high [s]."""

    @property
    def amplitude(self) -> float:
        """In SI."""

    @property
    def period(self) -> float:
        """[s]."""


@dataclass(frozen=True, slots=True)
class ReadingFacts:
    """One reading of a log, in SI.

    ``kind`` and ``difference_kind`` are those of the value and of its change; ``uncertainty`` is the standard
    uncertainty without calibration; ``drift`` the change in five minutes; ``settled_for`` the seconds from when it had
    settled to the end, None where it had not; ``added`` what extrapolation added; ``hunting`` a regular swing.
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
    hunting: Swing | None
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
        how = "had not" if one.grade == "not_steady" else "may not have"
        return (
            f"It {how} settled when the log ended (it changed by {drift} in five minutes), so {added} was added to its "
            "last level, which widens the band."
        )
    if one.grade == "steady":
        return f"It was steady over the last {clock(min(one.settled_for, 300.0))}."
    if one.grade == "not_steady":
        return f"It was not steady: it changed by {drift} in five minutes."
    return f"These readings cannot show whether it was steady: it changed by about {drift} in five minutes."


def _swing(one: ReadingFacts) -> str:
    if one.hunting is None:
        return ""
    swing = phrase(one.difference_kind, one.hunting.amplitude, one.system)
    return f"It swung by {swing} either way every {clock(one.hunting.period)}; the value is the middle of the swing."


def _number(one: ReadingFacts) -> str:
    worth = max(1, round(one.effective))
    if worth > _NEARLY_ALL * one.count:
        return ""
    count = figure(one.count, 0)
    return f"Its {count} readings count as about {worth} independent ones, because readings close in time are alike."


def not_used(name: str, reasons: Sequence[str]) -> str:
    """That a reading of a log gave no value; ``reasons`` by the contract's names, empty where it is too short."""
    why = listed(list(dict.fromkeys(LEFT_OUT[one].text for one in reasons))) if reasons else "it has too few readings"
    return f"{capital(spoken(_READING + name))} of the log was not used: {why}."


def followed(
    label: str, change: float, grade: Literal["steady", "not_steady", "cannot_tell"], swing: Swing | None, system: str
) -> str:
    """How a derived temperature difference [K] moved at the end of a log."""
    drift = signed_phrase(_DIFFERENCE, change, system)
    if grade == "cannot_tell":
        text = (
            f"These readings cannot show whether {lowered(label)} was steady: it changed by about {drift} in five "
            "minutes."
        )
    else:
        text = f"{label} was {STEADINESS[grade]} (it changed by {drift} in five minutes)."
    if swing is None:
        return text
    size = phrase(_DIFFERENCE, swing.amplitude, system)
    return f"{text} It swung by {size} either way every {clock(swing.period)}."


def left_out(reason: str, start: float, end: float) -> str:
    """Why a part of a log was not used."""
    return f"{between(start, end)}: {LEFT_OUT[reason].text}."


def event(name: str, at: float, readings: Sequence[str]) -> str:
    """What happened, when, and which readings show it."""
    shown = f" ({listed([spoken(_READING + one) for one in readings])})" if readings else ""
    return f"After {clock(at)} {EVENTS[name]}{shown}."


def more_events(count: int) -> str:
    """That more happened than is reported."""
    return f"{count} more event{'s' if count > 1 else ''} followed."


def settles_in(seconds: float, low: float, high: float) -> str:
    """When the readings will have settled; a few seconds more or less are not worth a word."""
    if high < _A_MOMENT:
        return "The readings have settled."
    if seconds < _A_MOMENT:
        return f"The readings have probably settled. To be sure, keep the unit running for {clock(_tens(high))} more."
    span_ = f"95 %: {between(_tens(low), _tens(high))}"
    return f"The readings will have settled in about {clock(_tens(seconds))} ({span_}). Keep the unit running."


def _tens(seconds: float) -> float:
    """Rounded to ten seconds."""
    return 10.0 * round(seconds / 10.0)


def summary(length: float, unsettled: Sequence[str], drifting: Sequence[str], unused: Sequence[str], count: int) -> str:
    """A whole log of ``count`` readings.

    ``unsettled`` had not settled, ``drifting`` were not steady, ``unused`` gave no value.
    """
    covers = f"The log covers {clock(length)}."
    if len(unused) == count:
        return f"{covers} None of its readings could be used."
    left = f" {capital(names(unused))} could not be used." if unused else ""
    if unsettled:
        every = len(unsettled) + len(unused) == count
        which = "None of the readings had" if every else f"{capital(names(unsettled))} had not"
        return (
            f"{covers} {which} clearly settled. The settled values were extrapolated, and their bands are wider.{left}"
        )
    but = f", but {names(drifting)} {'was' if len(drifting) == 1 else 'were'} not steady" if drifting else ""
    return f"{covers} The {'other ' if unused else ''}readings had settled{but}.{left}"


def names(readings: Sequence[str]) -> str:
    """Readings in a sentence: three, and how many others."""
    few = [spoken(_READING + one) for one in readings[:3]]
    more = len(readings) - len(few)
    return listed([*few, f"{more} other{'s' if more > 1 else ''}"] if more else few)


#: Whether a reading drifted, in a word or two.
STEADINESS: Mapping[str, str] = MappingProxyType(
    {"steady": "steady", "not_steady": "not steady", "cannot_tell": "steadiness not known"}
)
