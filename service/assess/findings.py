"""Derived values against limits: conformity decisions, each in a plain sentence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.assess.derivations import QUANTITIES, UnitKind
from service.assess.phrasing import bare, chance, phrase, unit_word
from service.assess.visit import Visit
from service.reference.limits import LIMITS, Bound, LimitRow, OfNameplate
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.uncertainty.conformity import DECISION_PROBABILITY, decide, probability_within

FloatArray = NDArray[np.float64]

#: Quantities that some limit judges.
LIMITED = frozenset(row.quantity for row in LIMITS.values())

_PRIORITIES = ("safety", "act", "look_closer", "better_instrument", "none")
_GRADES = ("nonconforming", "inconclusive", "conforming", "not_assessed")


@dataclass(frozen=True, slots=True)
class Graded:
    """What the findings need to know of one derived value, in SI."""

    draws: FloatArray
    low: float
    high: float
    shares: Mapping[str, float]


def find(
    unit: UnitKind,
    visit: Visit,
    graded: Mapping[str, Graded],
    absent: Mapping[str, str],
    stopped: Mapping[str, str],
) -> list[dict[str, Any]]:
    """All findings, most pressing first.

    Parameters
    ----------
    unit
        The kind of unit.
    visit
        The intake of the request.
    graded : mapping
        Derived values by name.
    absent : mapping
        Why a quantity worth a word could not be derived.
    stopped : mapping
        Groups of limits that usability keeps from being applied, with the reason.
    """
    findings: list[tuple[tuple[int, int, bool, float], dict[str, Any]]] = []

    def add(row: LimitRow, finding: dict[str, Any]) -> None:
        order = (
            _PRIORITIES.index(finding["priority"]),
            _GRADES.index(finding["grade"]),
            row.concern == "performance",
            finding["probability_conforming"] or 0.0,
        )
        findings.append((order, finding))

    for row in LIMITS.values():
        if not unit.within(row.modes, row.devices, row.phases, row.controls):
            continue
        value = graded.get(row.quantity)
        if value is None:
            if row.quantity in absent:
                add(row, _not_assessed(row, visit, absent[row.quantity], None))
            continue
        bounds = bounds_of(row, visit)
        if bounds is None:
            missing = _missing_bound(row, visit)
            reason = f"{missing} is not given, so there is no limit."
            add(row, _not_assessed(row, visit, reason, None))
        elif row.group in stopped:
            add(row, _not_assessed(row, visit, stopped[row.group], bounds))
        else:
            add(row, _finding(row, visit, value, bounds, graded))
    return [finding for _, finding in sorted(findings, key=lambda pair: pair[0])]


def _bound(bound: Bound, visit: Visit) -> float | None:
    if isinstance(bound, OfNameplate):
        value = visit.leaves.get(bound.path)
        return None if value is None else float(value) * bound.factor
    return bound


def bounds_of(row: LimitRow, visit: Visit) -> tuple[float | None, float | None] | None:
    """The bounds of a limit for this unit, in SI; None where its nameplate does not give them."""
    lower, upper = _bound(row.lower, visit), _bound(row.upper, visit)
    for given, found in ((row.lower, lower), (row.upper, upper)):
        if given is not None and found is None:
            return None
    return lower, upper


def _missing_bound(row: LimitRow, visit: Visit) -> str:
    for bound in (row.lower, row.upper):
        if isinstance(bound, OfNameplate) and bound.path not in visit.leaves:
            return bound.path.removesuffix(".lowest").removesuffix(".highest")
    return "the limit"


def limit_answer(
    row: LimitRow, bounds: tuple[float | None, float | None], system: str
) -> dict[str, Any]:
    """A limit in the caller's units."""
    kind = QUANTITIES[row.quantity].kind
    symbol = system_unit(kind, system)
    unit = conversion(kind, symbol)
    lower, upper = (None if b is None else _rounded(unit.from_si(b)) for b in bounds)
    return {
        "id": row.id,
        "lower": lower,
        "upper": upper,
        "unit": symbol,
        "basis": row.basis,
        "source": source(row.source),
    }


def _rounded(value: float) -> float:
    return float(f"{value:.6g}")


def _limits_text(kind: str, bounds: tuple[float | None, float | None], system: str) -> str:
    lower, upper = bounds
    unit = unit_word(system_unit(kind, system))
    if lower is None and upper is not None:
        return f"the limit (at most {phrase(kind, upper, system)})"
    if upper is None and lower is not None:
        return f"the limit (at least {phrase(kind, lower, system)})"
    assert lower is not None
    assert upper is not None
    return f"{bare(kind, lower, system)} to {bare(kind, upper, system)} {unit}".rstrip()


def _label(row: LimitRow) -> str:
    label = QUANTITIES[row.quantity].label
    return f"{label} ({row.aspect})" if row.aspect else label


def _not_assessed(
    row: LimitRow, visit: Visit, reason: str, bounds: tuple[float | None, float | None] | None
) -> dict[str, Any]:
    return {
        "quantity": row.quantity,
        "grade": "not_assessed",
        "probability_conforming": None,
        "limit": None if bounds is None else limit_answer(row, bounds, visit.system),
        "priority": "none",
        "sentence": f"{_label(row)} was not graded. {reason}",
    }


def _context(row: LimitRow, visit: Visit, graded: Mapping[str, Graded]) -> str:
    """For a deviation from a target: the two values behind it."""
    pairs = {
        "superheat_deviation": ("superheat", "target_superheat"),
        "subcooling_deviation": ("subcooling", "target_subcooling"),
        "temperature_split_deviation": ("temperature_split", "target_temperature_split"),
    }
    pair = pairs.get(row.quantity)
    if pair is None or any(name not in graded for name in pair):
        return ""
    actual, target = (float(graded[name].draws[0]) for name in pair)
    kind = "temperature_difference"
    return (
        f" ({phrase(kind, actual, visit.system)} against a target of "
        f"{phrase(kind, target, visit.system)})"
    )


def _finding(
    row: LimitRow,
    visit: Visit,
    value: Graded,
    bounds: tuple[float | None, float | None],
    graded: Mapping[str, Graded],
) -> dict[str, Any]:
    kind, system = QUANTITIES[row.quantity].kind, visit.system
    nominal = float(value.draws[0])
    lower, upper = bounds
    probability = probability_within(value.draws[1:], lower, upper)
    grade = decide(probability)
    on_target = grade == "inconclusive" and _on_target(nominal, value, lower, upper)
    inside = (lower is None or nominal >= lower) and (upper is None or nominal <= upper)
    low_side = lower is not None and (
        nominal < lower or (inside and _nearer(nominal, lower, upper))
    )
    limits = _limits_text(kind, bounds, system)
    number = phrase(kind, nominal, system)
    band = f"{bare(kind, value.low, system)} to {bare(kind, value.high, system)} at 95 %"
    reading = f"{_label(row)} is {number}{_context(row, visit, graded)}, band {band}"
    advice = row.below if low_side else row.above
    if grade == "conforming":
        tail = f"within {limits} (probability {chance(probability, 3)})."
    elif grade == "nonconforming":
        side = "below" if low_side else "above"
        span = limits if lower is None or upper is None else f"the range {limits}"
        tail = f"{side} {span} (probability of conforming {chance(probability, 3)}). {advice}"
    elif on_target:
        tail = (
            f"in the middle of {limits}, but the band is as wide as the limits, so these instruments "
            f"cannot confirm it (probability of conforming {chance(probability, 3)}, "
            f"{DECISION_PROBABILITY:g} needed).{_doubt(value.shares)}"
        )
    else:
        one_sided = lower is None or upper is None
        side = ("right side of" if inside else "wrong side of") if one_sided else ""
        where = f"on the {side}" if one_sided else ("inside" if inside else "outside")
        tail = (
            f"{where} {limits} by a margin smaller than these instruments can decide (probability "
            f"of conforming {chance(probability, 3)}, "
            f"{DECISION_PROBABILITY:g} needed to say either way).{_doubt(value.shares)}"
        )
    return {
        "quantity": row.quantity,
        "grade": grade,
        "probability_conforming": round(probability, 4),
        "limit": limit_answer(row, bounds, system),
        "priority": "better_instrument" if on_target else _priority(grade, row, low_side=low_side),
        "sentence": f"{reading}: {tail}".rstrip(),
    }


def _on_target(nominal: float, value: Graded, lower: float | None, upper: float | None) -> bool:
    """In the middle third of two limits that the band is too wide to fit between comfortably."""
    if lower is None or upper is None:
        return False
    width = upper - lower
    return abs(nominal - (lower + upper) / 2) <= width / 6 and value.high - value.low > 0.6 * width


def _doubt(shares: Mapping[str, float]) -> str:
    if not shares:
        return ""
    owner, share = next(iter(shares.items()))
    part = "Most" if share > 0.5 else "The largest part"
    return f" {part} of the doubt comes from {_named(owner)}."


def _named(owner: str) -> str:
    """An instrument of the kit in quotes, an assumed type in words."""
    if owner.startswith("assumed:"):
        return "the assumed " + owner.removeprefix("assumed:").replace("_", " ")
    if owner.startswith("assumption: "):
        return "the assumed " + owner.removeprefix("assumption: ")
    return f'the instrument "{owner}"' if ": " not in owner else owner.replace(":", "'s")


def _nearer(value: float, lower: float, upper: float | None) -> bool:
    return upper is None or value - lower <= upper - value


def _priority(grade: str, row: LimitRow, *, low_side: bool) -> str:
    """Common practice alone asks for a closer look, unless people or the machine are at risk."""
    if grade == "conforming":
        return "none"
    if grade == "inconclusive":
        return "look_closer"
    if row.concern == "safety":
        return "safety"
    soft = row.basis == "common_practice" and row.concern == "performance"
    return "look_closer" if soft or (low_side and row.measure_again_below) else "act"
