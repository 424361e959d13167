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
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Assessment, AssessmentRequest, DerivedValue, InstrumentUsed
from schemas.details import Grades
from service.assess import agreement, cautions, findings, log, usability
from service.assess.examination import Assessed, examine
from service.assess.findings import Known, Stopped
from service.assess.lacking import Lacking, lacking, proposals
from service.assess.notices import Notice, case_of
from service.derive.computation import (
    dependence,
)
from service.derive.derivations import QUANTITIES, UnitKind
from service.derive.examined import Numbers
from service.derive.resolver import plan
from service.intake.paths import READING
from service.intake.visit import Visit
from service.reference.cautions import CautionRow
from service.reference.notices import SETTLED_BY
from service.reference.refrigerants import Refrigerant
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.reference.versions import COOLPROP_VERSION, SERVICE_VERSION
from service.uncertainty.propagation import COVERAGE

FloatArray = NDArray[np.float64]

#: How every band is made, for an answer.
METHOD = (
    "Propagation of distributions (JCGM 101:2008) on a scrambled Sobol' sample; bands are "
    "probabilistically symmetric; instruments' calibration errors are shared by their readings"
)


def assess(request: AssessmentRequest) -> Assessment:
    """One visit in, its graded assessment out.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    return report(examine(request))


def report(examined: Assessed) -> Assessment:
    """The answer about one visit."""
    request, visit, computed = examined.request, examined.visit, examined.computed
    positions = {name: position for position, name in enumerate(examined.names)}
    notices = usability.check(case_of(examined))
    in_doubt = [name for one in usability.to_settle(notices) for name in one.readings]
    reconciliation, disagreement = agreement.answer(computed, examined.summary, positions, examined.beside, in_doubt)
    judged = _judged(examined, notices, disagreement)
    numbers = examined.numbers
    origins = _origins(
        computed.given,
        computed.unit,
        computed.reconciled,
        computed.leaves_of_balances(computed.outcome) if computed.outcome is not None and computed.reconciled else (),
        tuple(visit.depends.items()),
    )
    return {
        "units": request.units,
        "usability": usability.usability_answer(judged.notices, log.settles_in(visit)),
        "derived": {
            name: _derived(numbers[position], origins[name], examined.shares.of(position))
            for name, position in examined.kept.items()
        },
        "findings": findings.worded(
            judged.findings,
            visit,
            judged.known,
            judged.lacking.reasons,
            judged.stopped,
            examined.shares,
        ),
        "cautions": [cautions.caution_answer(row) for row in judged.cautions],
        "reconciliation": reconciliation,
        "missing": [row.answer() for row in judged.lacking.rows],
        "next_readings": [row.answer() for row in proposals(judged.lacking, _asked_for(request, judged.notices))],
        "log": log.answer(visit),
        "instruments": instruments_of(visit),
        "provenance": {
            "service": SERVICE_VERSION,
            "refrigerant_model": model_of(visit.refrigerant),
            "draws": visit.sample.draws,
            "method": METHOD,
        },
    }


def _asked_for(request: AssessmentRequest, notices: Sequence[Notice]) -> list[str]:
    """Entries that notices ask for and the request does not give, as paths, in the order of the notices."""
    paths = dict.fromkeys(SETTLED_BY[code] for one in notices if (code := one.code.partition(".")[0]) in SETTLED_BY)
    return [path for path in paths if attrgetter(path)(request) is None]


def grades(examined: Assessed) -> Grades:
    """The numbers, grades and names of the answer about one visit.

    The same as :func:`service.assess.grades.grades_of` of :func:`report`, made without any text.
    """
    outcome = examined.computed.outcome
    judged = _judged(examined, usability.check(case_of(examined)), agreement.disagreement(outcome))
    numbers = examined.numbers
    settles = log.settles_in(examined.visit)
    return {
        "units": examined.request.units,
        "usability": {
            "grade": usability.grade_of(judged.notices),
            "notices": [notice.code for notice in judged.notices],
            "settles_in": None if settles is None else settles["seconds"],
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
    stopped: Stopped


def _judged(examined: Assessed, notices: list[Notice], disagreement: Notice | None) -> _Judged:
    request, visit, unit, computed = (
        examined.request,
        examined.visit,
        examined.unit,
        examined.computed,
    )
    if disagreement is not None:
        notices = usability.by_weight([*notices, disagreement])
    lack = lacking(
        unit,
        computed.given.union(READING + name for name in visit.readings),
        frozenset(examined.kept),
        frozenset(computed.shown),
    )
    known = Known(examined.kept, examined.conformity, examined.summary)
    stopped = Stopped(usability.stopping(notices), usability.not_judged(notices, computed))
    return _Judged(
        notices,
        known,
        findings.judge(unit, visit, known, lack.reasons, stopped, usability.unmet(notices)),
        cautions.raised(request, visit, computed.shown),
        lack,
        stopped,
    )


@dataclass(frozen=True, slots=True)
class _Origin:
    """Where a derived value comes from: the names shown as ``from``, its method and its source."""

    names: tuple[str, ...]
    method: str
    source: str


@lru_cache(maxsize=256)
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
        Quantities that the balances changed, which therefore come from the leaves they share too.
    depends
        The names shown for each leaf.
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
        method = f"{step.method}; reconciled with the balances" if name in reconciled else step.method
        found[name] = _Origin(
            tuple(dict.fromkeys(shown for leaf in own for shown in names[leaf])),
            method,
            source(step.source),
        )
    return found


def _derived(numbers: Numbers, origin: _Origin, shares: dict[str, float]) -> DerivedValue:
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


def instruments_of(visit: Visit) -> dict[str, InstrumentUsed]:
    """The instrument behind each reading, as an answer shows it."""
    answer: dict[str, InstrumentUsed] = {}
    for name, used in visit.instruments.items():
        symbol = system_unit(used.kind, visit.system)
        answer[name] = {
            "instrument": used.name,
            "type": used.type,
            "standard_uncertainty": float(f"{used.standard_uncertainty / conversion(used.kind, symbol).scale:.7g}"),
            "unit": symbol,
            "source": used.source if " " in used.source else source(used.source),
        }
    return answer


def model_of(refrigerant: Refrigerant | None) -> str | None:
    """The property model behind a refrigerant."""
    return None if refrigerant is None else f"CoolProp {COOLPROP_VERSION}: {refrigerant.model}"
