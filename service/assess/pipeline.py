"""The assessment, as one readable page.

readings -> intake (SI, draws) -> impossible? -> derived -> reconciled -> usable? -> findings -> answer
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest
from service.assess import agreement, cautions, findings, usability
from service.assess.computation import Computed, VisitRows, block_inputs, compute, compute_block
from service.assess.derivations import QUANTITIES, Derivation, UnitKind
from service.assess.findings import LIMITED, Graded
from service.assess.intake import take_in
from service.assess.paths import READING
from service.assess.phrasing import spoken
from service.assess.resolver import effort, unlocks
from service.assess.visit import Visit
from service.reference.refrigerants import Refrigerant
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.reference.versions import COOLPROP_VERSION, SERVICE_VERSION
from service.uncertainty.propagation import COVERAGE, Summary, summarise

FloatArray = NDArray[np.float64]

_METHOD = (
    "Propagation of distributions (JCGM 101:2008) on a scrambled Sobol' sample; bands are "
    "probabilistically symmetric; instruments' calibration errors are shared by their readings"
)


@dataclass(frozen=True, slots=True)
class Derived:
    """A visit with all that was derived from it."""

    request: AssessmentRequest
    visit: Visit
    unit: UnitKind
    computed: Computed


@dataclass(frozen=True, slots=True)
class Examined(Derived):
    """A visit with all that was derived from it, and the statistics of that.

    ``names`` are the rows of ``summary`` and ``shares``; ``kept`` the positions of those that an answer
    shows.
    """

    names: list[str]
    summary: Summary
    shares: Shares
    kept: dict[str, int]


def assess(request: AssessmentRequest) -> dict[str, Any]:
    """One visit in, its graded assessment out.

    Raises
    ------
    service.assess.refusals.RefusedError
        If the request holds something impossible.
    """
    return report(examine(request))


def examine(
    request: AssessmentRequest,
    *,
    compared: bool = False,
    planned: Mapping[str, int] | None = None,
) -> Examined:
    """Everything derived from a visit with its statistics; see :func:`derive_visit`.

    Raises
    ------
    service.assess.refusals.RefusedError
        If the request holds something impossible.
    """
    return with_statistics(derive_visit(request, compared=compared, planned=planned))


def derive_visit(
    request: AssessmentRequest,
    *,
    compared: bool = False,
    planned: Mapping[str, int] | None = None,
) -> Derived:
    """Everything derived from a visit; ``compared`` where it is to be set against another.

    ``planned`` are numbers of repeats, where the readings stand for some that are yet to be made.

    Raises
    ------
    service.assess.refusals.RefusedError
        If the request holds something impossible.
    """
    visit = take_in(request, compared=compared, planned=planned)
    usability.refuse_impossible(request, visit)
    unit = unit_kind(request, visit)
    return Derived(request, visit, unit, compute(visit, visit.given, unit))


def with_statistics(derived: Derived) -> Examined:
    """The same with the statistics of all that was derived."""
    return with_statistics_block([derived])[0]


def examine_block(requests: Sequence[AssessmentRequest], visits: Sequence[Visit]) -> list[Examined]:
    """Everything derived from visits of one kind (:attr:`Visit.kind` and :func:`unit_kind`), with
    statistics, as arrays of visits by draws."""
    unit = unit_kind(requests[0], visits[0])
    computed = compute_block(visits, visits[0].given, unit)
    return with_statistics_block(
        [
            Derived(request, visit, unit, own)
            for request, visit, own in zip(requests, visits, computed, strict=True)
        ]
    )


def with_statistics_block(derived: Sequence[Derived]) -> list[Examined]:
    """The same for visits of one kind, together where their balances took in the same."""
    alike: dict[tuple[bytes, ...], list[int]] = {}
    for place, one in enumerate(derived):
        outcome = one.computed.outcome
        key = (
            (b"",) if outcome is None else (outcome.touched.tobytes(), b"applied" * outcome.applied)
        )
        alike.setdefault((*key, repr(sorted(one.computed.reconciled)).encode()), []).append(place)
    found: dict[int, Examined] = {}
    for places in alike.values():
        some = [derived[place] for place in places]
        found.update(zip(places, _examined(some), strict=True))
    return [found[place] for place in range(len(derived))]


def _examined(derived: Sequence[Derived]) -> list[Examined]:
    names, summary, shares = _statistics(derived)
    positions = {name: position for position, name in enumerate(names)}
    found = []
    for place, one in enumerate(derived):
        own = summary.of(place)
        reliable = own.reliable.tolist()
        kept = {
            name: positions[name]
            for name in QUANTITIES
            if name in positions and reliable[positions[name]]
        }
        found.append(
            Examined(
                one.request, one.visit, one.unit, one.computed, names, own, shares[place], kept
            )
        )
    return found


def report(examined: Examined) -> dict[str, Any]:
    """The answer about one visit."""
    request, visit, unit, computed = (
        examined.request, examined.visit, examined.unit, examined.computed,
    )  # fmt: skip
    names, summary, shares, kept = (
        examined.names, examined.summary, examined.shares, examined.kept,
    )  # fmt: skip
    positions = {name: position for position, name in enumerate(names)}
    given = computed.given
    values, on = computed.shown, computed.dependence
    reconciliation, disagreement = agreement.answer(visit, computed, summary, positions)
    notices = usability.check(usability.Case(request, visit, values, on.depends))
    if disagreement is not None:
        notices = usability.by_weight([*notices, disagreement])
    read = given | {READING + name for name in visit.readings}
    missing = _missing(unit, read, kept, values)
    graded = {
        name: Graded(
            summary.matched(position, values[name]) if name in LIMITED else values[name],
            float(summary.low[position]),
            float(summary.high[position]),
            shares[position],
        )
        for name, position in kept.items()
    }
    absent = {row["quantity"]: row["reason"] for row in missing}
    by_quantity = {step.quantity: step for step in computed.steps}
    numbers = _numbers(names, summary, visit.system)
    sources = computed.sources()
    return {
        "units": request.units,
        "usability": usability.usability_answer(notices),
        "derived": {
            name: _derived(
                numbers[position],
                by_quantity[name],
                sources[name],
                shares[position],
                visit,
                reconciled=name in computed.reconciled,
            )
            for name, position in kept.items()
        },
        "findings": findings.find(unit, visit, graded, absent, usability.stopped(notices)),
        "cautions": cautions.raised(request, visit, values),
        "reconciliation": reconciliation,
        "missing": missing,
        "next_readings": next_readings(missing),
        "instruments": _instruments(visit),
        "provenance": {
            "service": SERVICE_VERSION,
            "refrigerant_model": model_of(visit.refrigerant),
            "draws": visit.sample.draws,
            "method": _METHOD,
        },
    }


def unit_kind(request: AssessmentRequest, visit: Visit) -> UnitKind:
    """What of the unit decides which quantities and limits concern it."""
    return UnitKind(
        request.unit.mode,
        request.unit.metering_device,
        visit.phases,
        request.unit.capacity_control,
    )


def _statistics(
    derived: Sequence[Derived],
) -> tuple[list[str], Summary, list[Shares]]:
    """Names, statistics, and for each visit and quantity the share of variance by instrument."""
    first = derived[0]
    visits = [one.visit for one in derived]
    names = list(first.computed.shown)
    stack = _stack(names, [one.computed.shown for one in derived], first.visit.sample.draws + 1)
    variables = first.visit.variables
    mask = (
        np.stack([first.computed.mask(name) for name in names])
        if names
        else np.zeros((0, len(variables)), dtype=bool)
    )
    summary = summarise(stack, block_inputs(visits), mask)
    labels = list(dict.fromkeys(v.owner for v in variables))
    owners = np.array([[float(v.owner == label) for label in labels] for v in variables])
    by_owner = summary.variance_by_variable @ owners.reshape(len(variables), len(labels))
    total = by_owner.sum(axis=-1, keepdims=True)
    shares = np.divide(by_owner, total, out=np.zeros_like(by_owner), where=total > 0)
    return names, summary, [Shares(own, labels) for own in shares]


def _stack(names: list[str], shown: Sequence[Mapping[str, FloatArray]], width: int) -> FloatArray:
    """Draws of the quantities of visits, shape (visits, Q, width)."""
    stack = np.empty((len(shown), len(names), width))
    blocks = {id(own.block): own for own in shown if isinstance(own, VisitRows)}
    if len(blocks) == 1 and next(iter(blocks.values())).count == len(shown):
        block = next(iter(blocks.values())).block
        for row, name in enumerate(names):
            stack[:, row] = block[name]
    else:
        for rows, own in zip(stack, shown, strict=True):
            for row, name in zip(rows, names, strict=True):
                row[:] = own[name]
    return stack


class Shares:
    """Of each quantity of a visit, the share of its variance by who brings it, largest first."""

    __slots__ = ("_labels", "_shares")

    def __init__(self, shares: FloatArray, labels: list[str]) -> None:
        self._shares, self._labels = shares, labels

    def __getitem__(self, quantity: int) -> dict[str, float]:
        return _by_size(self._shares[quantity].tolist(), self._labels)


def _by_size(row: list[float], labels: list[str]) -> dict[str, float]:
    """Shares worth a word, largest first."""
    pairs = [(share, label) for share, label in zip(row, labels, strict=True) if share >= 5e-4]
    pairs.sort(key=lambda pair: (-pair[0], pair[1]))
    return {label: float(f"{share:.3g}") for share, label in pairs}


@dataclass(frozen=True, slots=True)
class _Numbers:
    """The numbers of one derived value in the caller's unit."""

    unit: str
    value: float
    standard_uncertainty: float
    low: float
    high: float


def _numbers(names: list[str], summary: Summary, system: str) -> list[_Numbers]:
    """All numbers at once: conversion, then seven significant digits.

    Seven are far below any uncertainty and free of conversion dust.
    """
    symbols = [system_unit(QUANTITIES[name].kind, system) for name in names]
    units = [
        conversion(QUANTITIES[name].kind, symbol)
        for name, symbol in zip(names, symbols, strict=True)
    ]
    scale = np.array([unit.scale for unit in units])
    offset = np.array([unit.offset for unit in units])
    rows = np.stack(
        [
            (summary.value - offset) / scale,
            summary.standard_uncertainty / scale,
            (summary.low - offset) / scale,
            (summary.high - offset) / scale,
        ],
        axis=1,
    ).reshape(len(names), 4)
    return [
        _Numbers(symbol, *numbers)
        for symbol, numbers in zip(symbols, significant(rows).tolist(), strict=True)
    ]


def significant(values: FloatArray, digits: int = 7) -> FloatArray:
    """Values rounded to significant digits; zeros and what is not a number stay."""
    size = np.abs(values)
    usual = np.isfinite(size) & (size > 0.0)
    power = digits - 1 - np.floor(np.log10(np.where(usual, size, 1.0)))
    # Two factors, as a tiny value's power of ten would overflow.
    up, down = 10.0 ** np.maximum(power, 0.0), 10.0 ** np.maximum(-power, 0.0)
    rounded: FloatArray = np.where(usual, np.round(values * up / down) * down / up, values)
    return rounded


def _derived(
    numbers: _Numbers,
    step: Derivation,
    leaves: tuple[str, ...],
    shares: dict[str, float],
    visit: Visit,
    *,
    reconciled: bool,
) -> dict[str, Any]:
    shown = dict.fromkeys(shown for leaf in leaves for shown in visit.depends[leaf])
    return {
        "value": numbers.value,
        "unit": numbers.unit,
        "standard_uncertainty": numbers.standard_uncertainty,
        "band": {"low": numbers.low, "high": numbers.high, "coverage": COVERAGE},
        "from": list(shown),
        "variance_shares": shares,
        "method": f"{step.method}; reconciled with the balances" if reconciled else step.method,
        "source": source(step.source),
    }


def _missing(
    unit: UnitKind,
    given: frozenset[str],
    kept: Mapping[str, int],
    values: Mapping[str, FloatArray],
) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    for name, quantity in QUANTITIES.items():
        if name in kept or quantity.internal or quantity.optional or not quantity.concerns(unit):
            continue
        if quantity.expected_with and not any(path in given for path in quantity.expected_with):
            continue
        if name in values:
            rows.append(
                {
                    "quantity": name,
                    "reason": "The readings are given, but lie outside the range in which this "
                    "value is defined.",
                    "unlock": [],
                }
            )
            continue
        ways = unlocks(name, given, unit)
        if not ways:
            continue
        rows.append(
            {
                "quantity": name,
                "reason": _reason(name, ways, given),
                "unlock": [{"add": list(way)} for way in ways],
            }
        )
    return rows


def _reason(name: str, ways: tuple[tuple[str, ...], ...], given: frozenset[str]) -> str:
    needed = "; or instead ".join(" and ".join(spoken(path) for path in way) for way in ways[:2])
    reason = f"Not given: {needed}."
    if name in ("compressor_current", "compressor_apparent_power", "compressor_current_share") and (
        READING + "compressor_start_winding_current" in given
        and READING + "compressor_common_current" not in given
    ):
        reason += (
            " The start-winding current that was given is the capacitor's current, not the "
            "compressor's draw, and cannot stand in for it."
        )
    return reason


def next_readings(missing: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What to add next: sets of fields by what they unlock for their effort, five at the most.

    What a limit judges counts ten times what none does.  A set unlocks every quantity
    one of whose ways lies within it.
    """
    ways = {row["quantity"]: [frozenset(way["add"]) for way in row["unlock"]] for row in missing}
    found = []
    for candidate in {way for options in ways.values() for way in options}:
        unlocked = [name for name, options in ways.items() if any(w <= candidate for w in options)]
        worth = sum(10 if name in LIMITED else 1 for name in unlocked)
        found.append((-worth / (1 + effort(candidate)), sorted(candidate), unlocked))
    found.sort(key=lambda row: row[:2])
    chosen: list[dict[str, Any]] = []
    covered: set[str] = set()
    for _, add, unlocked in found:
        if len(chosen) < 5 and not set(unlocked) <= covered:
            chosen.append({"add": add, "unlocks": unlocked})
            covered |= set(unlocked)
    return chosen


def _instruments(visit: Visit) -> dict[str, Any]:
    answer = {}
    for name, used in visit.instruments.items():
        symbol = system_unit(used.kind, visit.system)
        answer[name] = {
            "instrument": used.name,
            "type": used.type,
            "standard_uncertainty": float(
                f"{used.standard_uncertainty / conversion(used.kind, symbol).scale:.7g}"
            ),
            "unit": symbol,
            "source": used.source if " " in used.source else source(used.source),
        }
    return answer


def model_of(refrigerant: Refrigerant | None) -> str | None:
    """The property model behind a refrigerant."""
    return None if refrigerant is None else f"CoolProp {COOLPROP_VERSION}: {refrigerant.model}"
