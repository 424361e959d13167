"""Derived values against limits: conformity decisions."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Finding, Limit
from service.assess.notices import Notice
from service.derive.derivations import QUANTITIES, UnitKind
from service.derive.shares import Shares
from service.intake.paths import CURVES, RATED
from service.intake.visit import Visit
from service.physics.refrigerant import SaturationCurves
from service.reference.limits import (
    LIMITS,
    Bound,
    LimitRow,
    OfEfficiency,
    OfNameplate,
    OfSaturation,
)
from service.reference.performance_maps import HIGH_EFFICIENCY
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.uncertainty.conformity import (
    DECISION_PROBABILITY,
    Grade,
    decide,
    matched,
    probabilities_within,
)
from service.uncertainty.propagation import Summary
from service.words import assessment as words
from service.words.phrases import first_sentence

FloatArray = NDArray[np.float64]

#: Quantities that some limit judges.
LIMITED = frozenset(row.quantity for row in LIMITS.values())

_PRIORITIES = ("safety", "act", "look_closer", "better_instrument", "none")
_GRADES = ("nonconforming", "inconclusive", "conforming", "not_assessed")


Bounds = tuple[float | None, float | None]
Judgement = Grade | Literal["not_assessed"]
Priority = Literal["safety", "act", "look_closer", "better_instrument", "none"]


@dataclass(frozen=True, slots=True)
class Known:
    """The derived values that limits may judge, in SI.

    ``rows`` are their places in the statistics, ``within`` the probability of
    conforming to each limit that has its bounds (:func:`probabilities`).
    """

    rows: Mapping[str, int]
    within: Mapping[str, float]
    summary: Summary

    def nominal(self, name: str) -> float:
        """A value without its draws."""
        return float(self.summary.value[self.rows[name]])


@dataclass(frozen=True, slots=True)
class Stopped:
    """What keeps limits from being applied, by their group and by their quantity."""

    groups: Mapping[str, Notice]
    quantities: Mapping[str, Notice]

    def by(self, row: LimitRow) -> Notice | None:
        """What stops a limit; None where nothing does.  Some protect people and machine whatever is doubted."""
        found = self.groups.get(row.group)
        return self.quantities.get(row.quantity) if found is None and row.group != "unstopped" else found


class Judged(NamedTuple):
    """A limit held against a visit: all that a finding says, in SI and without words.

    Where nothing was assessed there is no ``probability`` of conforming, and the numbers mean nothing.
    ``bounds`` are missing where the nameplate does not give them, or where there is no value.  ``condition`` is what
    the limit's published procedure asks for and was not met, in words.
    """

    row: LimitRow
    grade: Judgement = "not_assessed"
    priority: Priority = "none"
    bounds: Bounds | None = None
    probability: float | None = None
    condition: str | None = None
    nominal: float = 0.0
    low: float = 0.0
    high: float = 0.0
    inside: bool = False
    low_side: bool = False
    on_target: bool = False

    @property
    def shown_probability(self) -> float | None:
        """The probability of conforming, to the digits that an answer shows."""
        return None if self.probability is None else round(self.probability, 4)

    @property
    def order(self) -> tuple[int, int, bool, float]:
        """Most pressing first."""
        return (
            _PRIORITIES.index(self.priority),
            _GRADES.index(self.grade),
            self.row.concern == "performance",
            self.shown_probability or 0.0,
        )


@lru_cache(maxsize=256)
def _rows_for(unit: UnitKind) -> tuple[LimitRow, ...]:
    """The limits that concern a kind of unit."""
    return tuple(
        row
        for row in LIMITS.values()
        if unit.within(row.modes, row.devices, row.phases, row.running) and QUANTITIES[row.quantity].concerns(unit)
    )


def judge(
    unit: UnitKind,
    visit: Visit,
    known: Known,
    absent: Container[str],
    stopped: Stopped,
    unmet: Mapping[str, str],
) -> list[Judged]:
    """Every limit that concerns a visit held against it, most pressing first.

    Parameters
    ----------
    unit
        The kind of unit.
    visit
        The intake of the request.
    known
        Derived values.
    absent
        Quantities that could not be derived, though the answer mentions them.
    stopped
        What keeps limits from being applied.
    unmet
        Groups of limits of which a condition of the published procedure is not met, with that condition.
    """
    rows = [row for row in _rows_for(unit) if row.quantity in known.rows or row.quantity in absent]
    bounds = {row.id: bounds_of(row, visit) for row in rows if row.quantity in known.rows}
    applied = [(row, found) for row in rows if (found := bounds.get(row.id)) is not None and stopped.by(row) is None]
    held = {row.id: graded(row, limits, known.within[row.id], known, _condition(row, unmet)) for row, limits in applied}
    judged = [held.get(row.id) or Judged(row, bounds=bounds.get(row.id)) for row in rows]
    return sorted(judged, key=lambda one: one.order)


def probabilities(
    unit: UnitKind,
    visits: Sequence[Visit],
    positions: Mapping[str, int],
    stack: FloatArray,
    summary: Summary,
) -> list[dict[str, float]]:
    """Probability of conforming to each limit that has its bounds, for each of several visits.

    Parameters
    ----------
    unit
        The kind of unit that all of them are.
    visits
        The intake of the requests.
    positions
        Rows of the quantities by name.
    stack : FloatArray, shape (visits, Q, N + 1)
        Draws of the quantities.
    summary
        Their statistics: the draws are first adjusted to the exact mean and spread.
    """
    limits = [row for row in _rows_for(unit) if row.quantity in positions]
    found: list[dict[str, float]] = [{} for _ in visits]
    applied = [
        (place, row, bounds)
        for place, visit in enumerate(visits)
        for row in limits
        for bounds in _possible_bounds(row, visit)
        if summary.reliable[place, positions[row.quantity]]
    ]
    if not applied:
        return found
    names = list(dict.fromkeys(row.quantity for row in limits))
    rows = [positions[name] for name in names]
    draws = matched(stack[:, rows, 1:], summary.centre[:, rows], summary.standard_uncertainty[:, rows])
    column = {name: place for place, name in enumerate(names)}
    chances = probabilities_within(
        draws[[place for place, *_ in applied], [column[row.quantity] for _, row, _ in applied]],
        np.array([-np.inf if lower is None else lower for *_, (lower, _) in applied]),
        np.array([np.inf if upper is None else upper for *_, (_, upper) in applied]),
    )
    several: dict[tuple[int, str], list[float]] = {}
    for (place, row, _), chance_ in zip(applied, chances, strict=True):
        several.setdefault((place, row.id), []).append(chance_)
    for (place, name), own in several.items():
        found[place][name] = own[0] if len(own) == 1 else sum(own) / len(own)
    return found


def _condition(row: LimitRow, unmet: Mapping[str, str]) -> str | None:
    return unmet.get(row.group) if row.basis == "published_procedure" else None


def graded(row: LimitRow, bounds: Bounds, probability: float, known: Known, condition: str | None = None) -> Judged:
    """A limit with its bounds held against a value, by the probability of conforming; ``condition`` was not met."""
    summary, place = known.summary, known.rows[row.quantity]
    nominal = float(summary.value[place])
    low, high = float(summary.low[place]), float(summary.high[place])
    lower, upper = bounds
    grade = decide(probability)
    on_target = grade == "inconclusive" and _on_target(nominal, high - low, lower, upper)
    inside = (lower is None or nominal >= lower) and (upper is None or nominal <= upper)
    low_side = lower is not None and (nominal < lower or (inside and _nearer(nominal, lower, upper)))
    priority = "better_instrument" if on_target else _priority(grade, row, low_side=low_side)
    if condition is not None and priority == "act":
        priority = "look_closer"
    return Judged(row, grade, priority, bounds, probability, condition, nominal, low, high, inside, low_side, on_target)


def worded(
    judged: Sequence[Judged],
    visit: Visit,
    known: Known,
    absent: Mapping[str, str],
    stopped: Stopped,
    shares: Shares,
) -> list[Finding]:
    """The findings as an answer shows them, each with its sentence.

    ``absent`` and ``stopped`` are those of :func:`judge`, the first with reasons; ``shares`` say what contributes to
    the uncertainty.
    """
    return [_finding(one, visit, known, absent, stopped, shares) for one in judged]


def _is_efficient(visit: Visit) -> bool | None:
    """Whether a unit's rating makes it one of high efficiency; None without a rating."""
    for name, least in HIGH_EFFICIENCY.items():
        value = visit.constants.get(RATED + name)
        if value is not None:
            return float(value) >= least
    return None


@lru_cache(maxsize=256)
def _bubble_pressure(curves: SaturationCurves, temperature: float) -> float:
    return float(curves.bubble_pressure(np.array([temperature]))[0])


def _bound(bound: Bound, visit: Visit) -> float | None:
    if isinstance(bound, OfEfficiency):
        efficient = _is_efficient(visit)
        return bound.wide if efficient is None else bound.high if efficient else bound.usual
    if isinstance(bound, OfSaturation):
        curves = visit.constants.get(CURVES)
        return None if curves is None else _bubble_pressure(curves, bound.temperature)
    if isinstance(bound, OfNameplate):
        value = visit.constants.get(bound.path)
        return None if value is None else float(value) * bound.factor
    return bound


def bounds_of(row: LimitRow, visit: Visit) -> Bounds | None:
    """The bounds of a limit for this unit, in SI; None where its nameplate does not give them."""
    lower, upper = _bound(row.lower, visit), _bound(row.upper, visit)
    for given, found in ((row.lower, lower), (row.upper, upper)):
        if given is not None and found is None:
            return None
    return lower, upper


def _possible_bounds(row: LimitRow, visit: Visit) -> list[Bounds]:
    """The bounds that may be this unit's, equally probable: two where its rating decides and is not given."""
    bounds = bounds_of(row, visit)
    if bounds is None:
        return []
    if isinstance(row.upper, OfEfficiency) and _is_efficient(visit) is None:
        return [bounds, (bounds[0], row.upper.either)]
    return [bounds]


def _missing_bound(row: LimitRow, visit: Visit) -> str | None:
    """The field that a limit still needs, as a path; None where it is not one field."""
    for bound in (row.lower, row.upper):
        if isinstance(bound, OfNameplate) and bound.path not in visit.constants:
            return bound.path.removesuffix(".lowest").removesuffix(".highest")
        if isinstance(bound, OfSaturation):
            return "unit.refrigerant"
    return None


@dataclass(frozen=True, slots=True)
class _Limit:
    """A limit in the caller's units, as an answer shows it and as a sentence says it."""

    lower: float | None
    upper: float | None
    unit: str
    text: str


@lru_cache(maxsize=1024)
def limit_in_units(kind: str, bounds: Bounds, system: str) -> _Limit:
    """The bounds of a limit in the units of a system."""
    symbol = system_unit(kind, system)
    unit = conversion(kind, symbol)
    lower, upper = (None if b is None else _rounded(unit.from_si(b)) for b in bounds)
    return _Limit(lower, upper, symbol, words.limits_text(kind, bounds, system))


def limit_answer(row: LimitRow, limit: _Limit) -> Limit:
    """A limit as an answer shows it."""
    return {
        "id": row.id,
        "lower": limit.lower,
        "upper": limit.upper,
        "unit": limit.unit,
        "basis": row.basis,
        "source": source(row.source),
    }


def _rounded(value: float) -> float:
    return float(f"{value:.6g}")


#: For a deviation from a target: the two values behind it.
_BEHIND: Mapping[str, tuple[str, str]] = {
    "superheat_deviation": ("superheat", "target_superheat"),
    "subcooling_deviation": ("subcooling", "target_subcooling"),
    "temperature_split_deviation": ("temperature_split", "target_temperature_split"),
}


def _behind(row: LimitRow, known: Known) -> tuple[float, float] | None:
    """The actual value and its target [K] behind a deviation; None where either is not known."""
    pair = _BEHIND.get(row.quantity)
    if pair is None or any(name not in known.rows for name in pair):
        return None
    return known.nominal(pair[0]), known.nominal(pair[1])


def _finding(
    one: Judged,
    visit: Visit,
    known: Known,
    absent: Mapping[str, str],
    stopped: Stopped,
    shares: Shares,
) -> Finding:
    row, quantity = one.row, QUANTITIES[one.row.quantity]
    limit = None if one.bounds is None else limit_in_units(quantity.kind, one.bounds, visit.system)
    name = words.limited(row, quantity.label)
    if limit is None or one.probability is None:
        sentence = words.not_graded(name, _reason(one, visit, known, absent, stopped))
    else:
        sentence = " ".join(_graded_sentences(one, limit, name, visit, known, shares))
    return {
        "quantity": row.quantity,
        "grade": one.grade,
        "probability_conforming": one.shown_probability,
        "limit": None if limit is None else limit_answer(row, limit),
        "priority": one.priority,
        "condition_not_met": one.condition,
        "sentence": sentence,
    }


def _graded_sentences(
    one: Judged, limit: _Limit, name: str, visit: Visit, known: Known, shares: Shares
) -> Iterator[str]:
    """The value and its band, then what it means, then what to do or to doubt."""
    row, kind = one.row, QUANTITIES[one.row.quantity].kind
    assert one.bounds is not None
    assert one.probability is not None
    yield words.value_and_band(name, kind, one, _behind(row, known), visit.system)
    yield words.held_against(one, one.bounds, limit.text, one.probability, DECISION_PROBABILITY, visit.phases)
    if one.grade == "inconclusive" and (owners := shares.of(known.rows[row.quantity])):
        yield words.main_uncertainty(owners)
    if isinstance(row.upper, OfEfficiency) and _is_efficient(visit) is None:
        yield words.without_rating(row.upper, kind, visit.system)
    if one.condition is not None:
        yield one.condition


def _reason(
    one: Judged,
    visit: Visit,
    known: Known,
    absent: Mapping[str, str],
    stopped: Stopped,
) -> str:
    """Why a limit was not applied."""
    if one.row.quantity not in known.rows:
        return absent[one.row.quantity]
    if one.bounds is None:
        return words.no_limit(_missing_bound(one.row, visit))
    by = stopped.by(one.row)
    assert by is not None
    # Its first sentence is the reason; the rest says what to do, and which limits were left out.
    return first_sentence(by.sentence)


def _on_target(nominal: float, width_of_band: float, lower: float | None, upper: float | None) -> bool:
    """In the middle third of two limits that the band is too wide to fit between comfortably."""
    if lower is None or upper is None:
        return False
    width = upper - lower
    return abs(nominal - (lower + upper) / 2) <= width / 6 and width_of_band > 0.6 * width


def _nearer(value: float, lower: float, upper: float | None) -> bool:
    return upper is None or value - lower <= upper - value


def _priority(grade: Grade, row: LimitRow, *, low_side: bool) -> Priority:
    """Common practice alone asks for a closer look, unless people or the machine are at risk."""
    if grade == "conforming":
        return "none"
    if grade == "inconclusive":
        return "look_closer"
    if row.concern == "safety":
        return "safety"
    soft = row.watch or (row.basis == "common_practice" and row.concern == "performance")
    return "look_closer" if soft or (low_side and row.measure_again_below) else "act"
