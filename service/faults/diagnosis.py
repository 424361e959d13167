"""The diagnosis of one visit, as one readable page.

request -> case examined (``weighing``) -> verdict and costs (``decision``) -> sentences (``words``) and
parts of the answer (``shapes``)
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import cast

from schemas.diagnoses import Diagnosis, DiagnosisRequest, FaultName, HealthyStateSource, Joint, NextToRead, StageFound
from service.compare.quantities import percent_change
from service.derive.examined import Examined
from service.faults import shapes
from service.faults.decision import decided, facts
from service.faults.grounds import Shown, shown
from service.faults.next_reading import candidates
from service.faults.next_steps import next_steps
from service.faults.weighing import Case, NotAssessed, examined
from service.reference.settling import SETTLING
from service.uncertainty.asking import Asking, done
from service.words.diagnosis import DiagnosisFacts, sentence

_METHOD = (
    "A lumped cycle model of a healthy unit (its baseline, its maker's table, rating and nameplate, or its class) "
    "compared with all readings in one likelihood; faults as distributions of changes with published signatures, "
    "levels integrated over a prior; readings not taken are left out of the likelihood"
)
#: How many of the readings worth making are shown.
_READINGS = 3


@dataclass(frozen=True, slots=True)
class Diagnosed:
    """An answer, the facts that its sentences say, and the visit that it is about."""

    answer: Diagnosis
    facts: DiagnosisFacts
    visit: Examined


def diagnose(request: DiagnosisRequest) -> Diagnosis:
    """One visit in, what is most probably wrong out.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    return diagnosed(request).answer


def diagnosed(request: DiagnosisRequest) -> Diagnosed:
    """The same, with what was decided, for those who word it for someone else.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    return done(diagnosing(request))


def diagnosing(request: DiagnosisRequest) -> Asking[Diagnosed]:
    """The same as work that asks, so that many can be done side by side."""
    case = yield from examined(request)
    decision, about = decided(case), _about_the_cycle(case)
    stage = "" if about.stage is None else str(about.stage["sentence"])
    said = facts(case, decision, stage, next((row["reading"] for row in about.next_readings), None))
    found = decision.verdict.found
    steps = next_steps(
        decision.worth_a_look,
        found,
        case.visit.unit,
        healthy=said.verdict == "healthy",
        settling=_limited_by_the_start(case.visit),
        chart=case.charge_by_table,
        settle=[one.settle for one in case.settle],
    )
    answer: Diagnosis = {
        "units": request.units,
        "verdict": said.verdict,
        "sentence": sentence(said),
        "found": cast(list[FaultName], found),
        "expected_from": about.expected_from,
        "expected_by_table": about.expected_by_table,
        "probability_costly": decision.costly,
        "efficiency_percent": percent_change(decision.efficiency),
        "capacity_percent": percent_change(decision.capacity),
        "stage": about.stage,
        "hypotheses": shapes.hypotheses(case, decision, about.rows),
        "combinations": about.combinations,
        "next_readings": about.next_readings,
        "next_steps": steps,
        "expected": shapes.expected_values(about.rows, case.visit.visit.system),
        "taken_on_trust": about.taken_on_trust,
        "missing": about.missing,
        "cautions": shapes.cautions(case.assessed, steps),
        "assessment": case.assessed,
        "provenance": case.assessed["provenance"] | {"method": _METHOD},
    }
    return Diagnosed(answer, said, case.visit)


@dataclass(frozen=True, slots=True)
class _OfTheCycle:
    """The parts of the answer that need a cycle, or what would make one possible."""

    expected_from: HealthyStateSource | None = None
    expected_by_table: list[str] = field(default_factory=list)
    rows: list[Shown] = field(default_factory=list)
    stage: StageFound | None = None
    combinations: list[Joint] = field(default_factory=list)
    next_readings: list[NextToRead] = field(default_factory=list)
    taken_on_trust: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)


def _limited_by_the_start(visit: Examined) -> bool:
    """Whether what the start had left contributes most to the uncertainty of superheat or subcooling."""
    shares = (visit.shares.of(visit.kept[name]) for name in ("superheat", "subcooling") if name in visit.kept)
    return any(next(iter(own), None) == SETTLING for own in shares)


def _about_the_cycle(case: Case) -> _OfTheCycle:
    cycle = case.cycle
    if isinstance(cycle, NotAssessed):
        return _OfTheCycle(missing=cycle.missing)
    found = candidates(cycle.expected, cycle.at_its_stage, case.visit)
    return _OfTheCycle(
        cycle.expected.basis,
        cycle.expected.columns_of_table(),
        shown(cycle.expected),
        shapes.stage_found(cycle, test_mode=case.visit.unit.running == "test_mode"),
        shapes.combinations(cycle.left),
        [shapes.to_read(one, case.visit.visit.system) for one in found[:_READINGS]],
        shapes.taken_on_trust(case, cycle),
    )
