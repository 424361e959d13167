"""What readings that are yet to be made could show, in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from math import expm1
from typing import NamedTuple

from schemas.plans import WayName
from service.reference import unit_model, unit_model_heating
from service.reference.capacity_control import Unsettled
from service.words.comparison import Refused
from service.words.phrases import capital, listed, lowered, signed_phrase, spoken

METHOD = (
    "Expected readings by a lumped cycle model; errors of the instruments as in a comparison; smallest "
    "change at 95 % confidence and 80 % power of the test for one cause"
)

_FOUR_OF_FIVE = "in four of five pairs of runs"


def plan_sentence(
    smallest: float | None,
    worth: float,
    cause: str | None,
    hidden: Sequence[str],
    unsettled: Unsettled | None,
    *,
    can_be_found: bool,
) -> str:
    """Whether the change worth finding can be found.

    Parameters
    ----------
    smallest, worth : float
        Smallest change of efficiency that would show, None where none would; the one worth finding [%].
    cause : str or None
        The cause asked for, in words; None for any.
    hidden : sequence of str
        Causes whose change does not show.
    unsettled : Unsettled or None
        What is not known of the unit's capacity.
    """
    if smallest is None:
        text = "These readings do not give a change of efficiency at all."
        return text if unsettled is None else f"{text} {unsettled.reason} {unsettled.remedy}"
    about = "whatever the cause" if cause is None else f"if the cause is {cause}"
    if can_be_found:
        return (
            f"A change of {worth:.3g} % in efficiency can be found: changes from {smallest:.1f} % would show "
            f"{_FOUR_OF_FIVE} ({about})."
        )
    text = f"A change of {worth:.3g} % in efficiency cannot be found with these readings."
    if hidden:
        return (
            f"{text} They would not reveal a change in {' or in '.join(hidden)}. What they would show is "
            "listed by cause."
        )
    return f"{text} It would have to be {smallest:.1f} % to show {_FOUR_OF_FIVE} ({about})."


# ---------------------------------------------------------------- one cause

#: Steps of superheat and subcooling [K], by parameter.
IN_KELVIN = ("superheat_change", "subcooling_change")


def cause_sentence(steps: Sequence[tuple[str, float]], efficiency: float, system: str, *, seen: bool) -> str:
    """How large the change itself must be.

    Parameters
    ----------
    steps : sequence of (str, float)
        Parameters of the unit model with their changes [K, or 1 of the logarithm], the main one first.
    efficiency : float
        The change of efficiency that goes with them [%].
    seen : bool
        Whether a change that happens would show.
    """
    what = " with ".join(_step(name, size, system) for name, size in steps)
    if not seen:
        return f"Does not show: it would take a change of {what}, which is more than happens."
    return f"A change of {what} would show {_FOUR_OF_FIVE}; efficiency then changes by {efficiency:.1f} %."


_TEXTS = {row.name: row.text for of in (unit_model_heating, unit_model) for row in of.PARAMETERS.values()}


def _step(name: str, size: float, system: str) -> str:
    text = _TEXTS[name]
    if name in IN_KELVIN:
        amount = signed_phrase("temperature_difference", size, system)
        return f"{amount} in {text.removesuffix(' [K]')}"
    return f"{100.0 * expm1(abs(size)):.0f} % in {text.removeprefix('ln of ')}"


# ---------------------------------------------------------------- what would help


class Way(NamedTuple):
    """One way to see smaller changes: its name in the contract, and how often or which."""

    way: WayName
    what: str


def way_words(way: Way) -> str:
    """What to do, to go on within a sentence."""
    if way.way == "repeats":
        return f"reading everything {way.what} times in each run"
    if way.way == "better_instrument":
        return f"halving the error of {_instrument(way.what)}"
    if way.way == "added_reading":
        return adding([f"run.readings.{way.what}"])
    if way.way == "longer_run":
        return f"reading each run after {way.what} minutes"
    return "reading both runs under the same conditions"


def adding(paths: Sequence[str]) -> str:
    """Readings to add."""
    return f"adding {listed([spoken(path) for path in paths])} in both runs"


def _instrument(name: str) -> str:
    kind = name.removeprefix("assumed:")
    return f"the assumed {kind.replace('_', ' ')}" if kind != name else f'"{name}"'


def halved_by(ways: Sequence[Way]) -> str:
    """Single steps that halve the smallest change."""
    return f"Halved by {'; or by '.join(way_words(way) for way in ways)}."


def halved_together(ways: Sequence[Way]) -> str:
    """Steps that halve it together."""
    return f"No single step halves it. {_together(ways)} would halve it."


def not_halved(ways: Sequence[Way], reached: float) -> str:
    """Steps that do not halve it, and the smallest change [%] that they bring it to."""
    return (
        f"Even {lowered(_together(ways))} would not halve it: that brings it to {reached:.1f} %. The rest "
        "comes from the unit and the weather, not from the instruments."
    )


NOTHING_HELPS = "Nothing here makes it smaller: an instrument is not what limits it."
NOTHING_TO_HALVE = "These readings do not give a change of efficiency, so there is nothing to halve."
FIRST_IMPROVE = "These readings do not give a change of efficiency; the improvements name what would."


def _together(ways: Sequence[Way]) -> str:
    words = [way_words(way) for way in ways]
    text = listed(words)
    return capital(text) + (" together" if len(words) > 1 else "")


# ---------------------------------------------------------------- refusals


def not_a_reading(near: Sequence[str]) -> Refused:
    """A name that no reading has, with those that are near."""
    return Refused(
        "the name of a reading",
        "is not a reading",
        f"Did you mean {' or '.join(near)}?" if near else "See `run.readings` of an assessment for the names.",
    )


def other_cause(mode: str, causes: Sequence[str]) -> Refused:
    """A cause that no unit has in a mode, with those that it may have."""
    return Refused(
        listed(causes),
        f"does not happen in {mode}",
        "Leave it out to plan for whichever cause is hardest to find.",
    )


def other_weather(value: float, low: float, high: float, unit: str, mode: str) -> Refused:
    """Air in which no unit is tested in a mode; all in the caller's unit."""
    return Refused(
        f"such that the air is {low:.0f} to {high:.0f} {unit}",
        f"puts the air at {value:.0f}",
        f"Plan for weather in which the unit is tested in {mode}.",
    )
