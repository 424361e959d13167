"""The sentences of an assessment: findings, what is missing, and whether the readings agree.

Each is a function of what was judged, in SI; the caller's unit system is an argument.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from service.reference.assumptions import Assumption
from service.reference.limits import LimitRow, OfEfficiency
from service.reference.settling import SETTLING
from service.reference.units import system_unit
from service.words.phrases import bare, chance, listed, phrase, spoken, unit_word

Bounds = tuple[float | None, float | None]

# ---------------------------------------------------------------- findings


class Held(Protocol):
    """A limit held against a value, with its grade; numbers in SI."""

    @property
    def row(self) -> LimitRow:
        """The limit."""

    @property
    def grade(self) -> str:
        """The grade."""

    @property
    def nominal(self) -> float:
        """The value."""

    @property
    def low(self) -> float:
        """Lower end of its band."""

    @property
    def high(self) -> float:
        """Upper end of its band."""

    @property
    def inside(self) -> bool:
        """Whether the value itself is within the limit."""

    @property
    def low_side(self) -> bool:
        """Whether the lower bound is the one in question."""

    @property
    def on_target(self) -> bool:
        """Whether it is undecided only because the band is as wide as the limits."""


def limited(row: LimitRow, label: str) -> str:
    """The name of a quantity under a limit; ``label`` is that of the quantity."""
    return f"{label} ({row.aspect})" if row.aspect else label


def limits_text(kind: str, bounds: Bounds, system: str) -> str:
    """The bounds of a limit: both, or the one that there is."""
    lower, upper = bounds
    if lower is None:
        assert upper is not None
        return f"the upper limit of {phrase(kind, upper, system)}"
    if upper is None:
        return f"the lower limit of {phrase(kind, lower, system)}"
    unit = unit_word(system_unit(kind, system))
    return f"{bare(kind, lower, system)} to {bare(kind, upper, system)} {unit}".rstrip()


def not_graded(name: str, reason: str) -> str:
    """A finding without a grade; ``reason`` is a sentence."""
    return f"{name} was not graded. {reason}"


def value_and_band(name: str, kind: str, one: Held, behind: tuple[float, float] | None, system: str) -> str:
    """The value and its band; ``behind`` a deviation are the actual value and its target [K]."""
    context = ""
    if behind is not None:
        actual, target = (phrase("temperature_difference", value, system) for value in behind)
        context = f" ({actual} against a target of {target})"
    return (
        f"{name} is {phrase(kind, one.nominal, system)}{context}, 95 % band "
        f"{bare(kind, one.low, system)} to {bare(kind, one.high, system)}."
    )


def held_against(one: Held, bounds: Bounds, limits: str, probability: float, decision: float, phases: int) -> str:
    """Where a value is relative to its limit, and what to do about it.

    ``limits`` is the text of the bounds, ``probability`` that of conforming, ``decision`` the probability
    from which it is decided.
    """
    shown = f"probability of conforming {chance(probability, 3)}"
    needed = f"{shown}; {decision:g} is needed to decide"
    span = limits if None in bounds else f"the range {limits}"
    if one.grade == "conforming":
        return f"It is {_side(bounds, inside=True)} {span} ({shown})."
    if one.grade == "nonconforming":
        side = "below" if one.low_side else "above"
        return f"It is {side} {span} ({shown}). {one.row.advice(low_side=one.low_side, phases=phases)}"
    if one.on_target:
        return (
            f"It is in the middle of {span}, but its band is as wide as the range, so these instruments "
            f"cannot confirm it ({needed})."
        )
    side = _side(bounds, inside=one.inside)
    return f"It is {side} {span}, by less than these instruments can decide ({needed})."


def _side(bounds: Bounds, *, inside: bool) -> str:
    lower, upper = bounds
    if lower is None:
        return "below" if inside else "above"
    if upper is None:
        return "above" if inside else "below"
    return "within" if inside else "outside"


def main_uncertainty(shares: Mapping[str, float]) -> str:
    """What contributes most to the uncertainty; empty where nothing does.

    ``shares`` of the variance by owner, the largest first.
    """
    if not shares:
        return ""
    owner, share = next(iter(shares.items()))
    part = "Most" if share > 0.5 else "The largest part"
    return f"{part} of the uncertainty comes from {contributor(owner)}."


def contributor(owner: str) -> str:
    """What contributes to an uncertainty: an instrument of the kit in quotes, all else in words."""
    if owner == SETTLING:
        return "reading before the unit had settled"
    if owner.startswith("assumed:"):
        return "the assumed " + owner.removeprefix("assumed:").replace("_", " ")
    if owner.startswith("assumption: "):
        return "the assumed " + owner.removeprefix("assumption: ")
    if owner.startswith("placement: "):
        return f"where the probe is placed ({owner.removeprefix('placement: ')})"
    return f'"{owner}"' if ": " not in owner else f"the {owner.replace(':', chr(39) + 's')}"


def without_rating(bound: OfEfficiency, kind: str, system: str) -> str:
    """Which limit was applied where it depends on a rating that is not given."""
    usual, high, either = (phrase(kind, value, system) for value in (bound.usual, bound.high, bound.either))
    return (
        "No rated efficiency is given, so this is the widest limit, and values above "
        f"{either} stay undecided. The unit's own limit is about {high} if its efficiency is high and about "
        f"{usual} otherwise. Give the rated SEER or EER."
    )


def no_limit(path: str | None) -> str:
    """Why there is no limit: the field that sets it is not given."""
    missing = "What sets the limit" if path is None else spoken(path)
    return f"{missing[0].upper()}{missing[1:]} is not given, so there is no limit."


# ---------------------------------------------------------------- what is missing

#: Why a quantity has no value though its readings are given.
UNDEFINED = "The readings are given, but they are outside the range in which this value is defined."

#: Why the start-winding current is of no use for the compressor's draw.
NOT_THE_DRAW = (
    "The start-winding current that was given is the capacitor's current, not the compressor's draw, and "
    "cannot replace it."
)

#: Why an airflow that follows from a rule of thumb is not judged.
NOT_MEASURED = "Airflow was not measured, and a rule of thumb is not graded."


def needs(ways: Sequence[Sequence[str]]) -> str:
    """What a quantity still needs, by the first ways to it; each is a set of paths."""
    return f"It needs {', or else '.join(_all(way) for way in ways)}."


def _all(paths: Sequence[str]) -> str:
    *first, last = (spoken(path) for path in paths)
    return f"{', '.join(first)} and {last}" if first else last


# ---------------------------------------------------------------- do the readings agree

#: Where nothing can check anything else.
NOT_TESTABLE = (
    "These readings do not give any quantity in two independent ways, so they cannot check each other. A "
    "second way to airflow, capacity or power would allow it."
)


#: Where no single mistake explains a disagreement.
NO_SUSPECT = (
    "No single reading can be wrong by as much as this would take. Either several readings are wrong, or the "
    "unit is not the one described."
)


def first_suspect(name: str) -> str:
    """What to check first: a reading or an assumption, as an answer lists it."""
    found = name.replace("_", " ").replace("assumption: ", "assumed ")
    return f"Check the {found} first."


def known_suspects(names: Sequence[str]) -> str:
    """Where readings that are doubted by themselves take part in a disagreement."""
    return f"Settle the notice on these first: {listed([spoken(f'run.readings.{name}') for name in names])}."


def assumption_suspected(row: Assumption, size: float, known: str | None) -> str:
    """That an assumption, not a reading, would explain a disagreement; ``size`` is its correction [SI]."""
    return (
        f"This is an assumption, not a reading. The balances would hold if the {row.text} were "
        f"{row.value + size:.3g} instead of {row.value:.3g}." + _known_cause(known)
    )


def reading_suspected(
    name: str, correction: str, side: str, deviations: float, known: str | None, told_apart: bool
) -> str:
    """By how much a reading would have to be wrong to explain a disagreement.

    ``correction`` is its size with a unit, ``deviations`` the same in standard uncertainties.
    """
    return (
        f"To explain the disagreement, the {name} would have to read {correction} too {side}, "
        f"{deviations:.1f} times its stated standard uncertainty."
        + _known_cause(known)
        + ("" if told_apart else " The balances alone cannot separate it from other causes.")
    )


def _known_cause(known: str | None) -> str:
    return f" A known cause: {known}." if known else ""


def balances_hold(count: int, probability: float) -> str:
    """That the readings agree, by so many independent balances."""
    return (
        f"{_balances(count)} between the readings hold{'s' if count == 1 else ''} within the stated accuracies "
        f"(probability {chance(probability)}), which narrows the bands of the values involved."
    )


def balances_fail(count: int, probability: float, widened: float | None) -> str:
    """That the readings disagree; ``widened`` is the factor on the bands, None where nothing was done."""
    text = (
        f"The readings do not agree with each other. {_balances(count)} fail{'s' if count == 1 else ''} by more "
        f"than the stated accuracies explain (probability {probability:.2g}). "
    )
    if widened is None:
        return text + (
            "Accuracy cannot explain this: a reading is wrong. All values stay as read, and limits on "
            "airflow, capacity and efficiency were not applied."
        )
    return text + (f"The bands of the values involved were widened by a factor of {widened:.2g}. Nothing was left out.")


def _balances(count: int) -> str:
    return "One independent balance" if count == 1 else f"{count} independent balances"


# ---------------------------------------------------------------- readings that cannot be right


def with_the(of: tuple[str, float] | None, kind: str, system: str) -> str:
    """On what unit a reading cannot be right: by a path with its value [SI]."""
    return "on a unit that runs" if of is None else f"with {spoken(of[0])} of {phrase(kind, of[1], system)}"


def about(kind: str, bounds: tuple[float, float], value: float, system: str) -> str:
    """The bound [SI] that a value is beyond."""
    low, high = bounds
    return (
        f"at least about {phrase(kind, low, system)}" if value < low else f"at most about {phrase(kind, high, system)}"
    )


def cause_of(meant: str, hint: str) -> str:
    """What may have gone wrong with a reading: the unit meant, else the usual cause."""
    return f"It would be possible in {meant}. " if meant else f"{hint} " if hint else ""


def disputed(column: str, kind: str, printed: float, rated: float, system: str) -> str:
    """A value of the maker's table next to the rating's [SI]."""
    return f"{column} {phrase(kind, printed, system)} in the table, {phrase(kind, rated, system)} rated"
