"""The assessment, as one readable page.

readings -> intake (SI, draws) -> impossible? -> derived -> reconciled -> usable? -> findings -> answer

What is judged (:func:`_judged`) has no words yet: :func:`report` puts it into sentences, :func:`grades`
gives the numbers and grades alone.  What follows from which readings are given, not from their values,
is worked out once and kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest
from service.assess import agreement, cautions, findings, usability
from service.assess.computation import (
    Computed,
    VisitRows,
    block_inputs,
    compute,
    compute_block,
    dependence,
)
from service.assess.derivations import QUANTITIES, UnitKind
from service.assess.findings import Known
from service.assess.intake import take_in
from service.assess.lacking import Lacking, lacking
from service.assess.paths import READING
from service.assess.resolver import plan
from service.assess.shares import Shares
from service.assess.usability import Notice
from service.assess.visit import Visit
from service.reference.cautions import CautionRow
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
    request, visit, computed = examined.request, examined.visit, examined.computed
    positions = {name: position for position, name in enumerate(examined.names)}
    reconciliation, disagreement = agreement.answer(visit, computed, examined.summary, positions)
    judged = _judged(examined, disagreement)
    numbers = _numbers(examined.names, examined.summary, visit.system)
    origins = _origins(
        computed.given,
        computed.unit,
        computed.reconciled,
        computed.leaves_of_balances(computed.outcome)
        if computed.outcome is not None and computed.reconciled
        else (),
        tuple(visit.depends.items()),
    )
    return {
        "units": request.units,
        "usability": usability.usability_answer(judged.notices),
        "derived": {
            name: _derived(numbers[position], origins[name], examined.shares[position])
            for name, position in examined.kept.items()
        },
        "findings": findings.worded(
            judged.findings,
            visit,
            judged.known,
            judged.lacking.reasons,
            usability.stopped(judged.notices),
        ),
        "cautions": [cautions.caution_answer(row) for row in judged.cautions],
        "reconciliation": reconciliation,
        "missing": [row.answer() for row in judged.lacking.rows],
        "next_readings": [row.answer() for row in judged.lacking.proposals],
        "instruments": _instruments(visit),
        "provenance": {
            "service": SERVICE_VERSION,
            "refrigerant_model": model_of(visit.refrigerant),
            "draws": visit.sample.draws,
            "method": _METHOD,
        },
    }


def grades(examined: Examined) -> dict[str, Any]:
    """The numbers, grades and names of the answer about one visit.

    What :func:`service.assess.grades.grades_of` leaves of :func:`report`, had without making a text.
    """
    outcome = examined.computed.outcome
    judged = _judged(examined, agreement.disagreement(outcome))
    numbers = _numbers(examined.names, examined.summary, examined.visit.system)
    return {
        "units": examined.request.units,
        "usability": {
            "grade": usability.grade_of(judged.notices),
            "notices": [notice.code for notice in judged.notices],
        },
        "derived": {
            name: {
                "value": numbers[position].value,
                "unit": numbers[position].unit,
                "standard_uncertainty": numbers[position].standard_uncertainty,
                "low": numbers[position].low,
                "high": numbers[position].high,
            }
            for name, position in examined.kept.items()
        },
        "findings": [
            {
                "quantity": one.row.quantity,
                "limit": None if one.bounds is None else one.row.id,
                "grade": one.grade,
                "probability_conforming": one.shown_probability,
                "priority": one.priority,
            }
            for one in judged.findings
        ],
        "cautions": [row.id for row in judged.cautions],
        "reconciliation": agreement.verdict(outcome),
        "missing": [row.quantity for row in judged.lacking.rows],
    }


@dataclass(frozen=True, slots=True)
class _Judged:
    """All that is judged of a visit, before any of it is put into words."""

    notices: list[Notice]
    known: Known
    findings: list[findings.Judged]
    cautions: list[CautionRow]
    lacking: Lacking


def _judged(examined: Examined, disagreement: Notice | None) -> _Judged:
    request, visit, unit, computed = (
        examined.request, examined.visit, examined.unit, examined.computed,
    )  # fmt: skip
    notices = usability.check(
        usability.Case(request, visit, computed.shown, computed.dependence.leaves)
    )
    if disagreement is not None:
        notices = usability.by_weight([*notices, disagreement])
    lack = lacking(
        unit,
        computed.given.union(READING + name for name in visit.readings),
        frozenset(examined.kept),
        frozenset(computed.shown),
    )
    known = Known(examined.kept, computed.shown, examined.summary, examined.shares)
    return _Judged(
        notices,
        known,
        findings.judge(unit, visit, known, lack.reasons, usability.stopping(notices)),
        cautions.raised(request, visit, computed.shown),
        lack,
    )


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


@dataclass(frozen=True, slots=True)
class _Origin:
    """Where a derived value comes from: the names shown as ``from``, its method and its source."""

    names: tuple[str, ...]
    method: str
    source: str


@lru_cache(maxsize=512)
def _origins(
    given: frozenset[str],
    unit: UnitKind,
    reconciled: frozenset[str],
    shared: tuple[str, ...],
    depends: tuple[tuple[str, tuple[str, ...]], ...],
) -> Mapping[str, _Origin]:
    """Where each quantity of a plan comes from, worked out once for visits of one shape.

    Parameters
    ----------
    given, unit
        What the plan follows from.
    reconciled
        Quantities that the balances changed, which so come from the leaves ``shared`` by them too.
    depends
        The names that stand for each leaf.
    """
    names = dict(depends)
    steps = plan(given, unit)
    leaves = dependence(steps).depends
    found = {}
    for step in steps:
        name = step.quantity
        if QUANTITIES[name].internal:
            continue
        own = (*leaves[name], *shared) if name in reconciled else leaves[name]
        method = (
            f"{step.method}; reconciled with the balances" if name in reconciled else step.method
        )
        found[name] = _Origin(
            tuple(dict.fromkeys(shown for leaf in own for shown in names[leaf])),
            method,
            source(step.source),
        )
    return found


def _derived(numbers: _Numbers, origin: _Origin, shares: dict[str, float]) -> dict[str, Any]:
    return {
        "value": numbers.value,
        "unit": numbers.unit,
        "standard_uncertainty": numbers.standard_uncertainty,
        "band": {"low": numbers.low, "high": numbers.high, "coverage": COVERAGE},
        "from": list(origin.names),
        "variance_shares": shares,
        "method": origin.method,
        "source": origin.source,
    }


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
