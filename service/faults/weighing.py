"""One visit examined: what its readings show by themselves, and its refrigerant cycle weighed against a
healthy unit; or why the cycle is not assessed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log
from typing import NamedTuple

import numpy as np

from schemas.assessments import Assessment
from schemas.diagnoses import DiagnosisRequest
from service.assess import usability
from service.assess.examination import Assessed, Examination, examined_together
from service.assess.notices import Notice, case_of
from service.assess.pipeline import report
from service.compare.capacity import unsettled_between
from service.compare.comparison import in_run, unusable, visit_request
from service.derive.examined import Derived, Examined
from service.faults.direct import Direct, direct
from service.faults.expectation import Expectation, expectation, not_possible
from service.faults.posterior import Posterior, mixed, settled
from service.intake.paths import PHASES, READING
from service.intake.refusals import Refusal, RefusedError
from service.reference.capacity_control import SPEEDS, STAGES, Running, Stage
from service.reference.faults import EXPLAINS_ALL, FOUND, Fault
from service.reference.faults_by_mode import EXPLAINED, IN_MODE
from service.uncertainty.asking import Asking, together
from service.unit.evidence import Evidence, evidence
from service.words import diagnosis as words


@dataclass(frozen=True, slots=True)
class Cycle:
    """The cycle set against a healthy unit, and what the readings leave of the hypotheses; the baseline that
    was used, or why it was ``dropped``.

    Where nobody stated the stage or the speed, ``stages`` are those weighed with their probabilities, and
    ``left`` is over all of them.  ``expected`` and ``at_its_stage`` are of the most probable one.
    """

    expected: Expectation
    left: Posterior
    baseline: Derived | None
    dropped: str | None
    at_its_stage: Posterior
    stages: Mapping[Stage, float]

    @classmethod
    def of(cls, expected: Expectation, left: Posterior, baseline: Derived | None, dropped: str | None) -> Cycle:
        """At a stage or speed that is known."""
        return cls(expected, left, baseline, dropped, left, {})


class NotAssessed(NamedTuple):
    """Why no cycle is set against the readings, and what would make it possible."""

    reason: str
    missing: list[str]


@dataclass(frozen=True, slots=True)
class Case:
    """A visit, its assessment, the faults that show in one value by themselves, and its cycle; what has to be settled
    first, as readings are not what they are called."""

    visit: Examined
    assessed: Assessment
    beside: list[Direct]
    cycle: Cycle | NotAssessed
    settle: Sequence[Notice] = ()

    @property
    def faults(self) -> Mapping[str, Fault]:
        """The hypotheses of the unit's mode."""
        return IN_MODE[self.visit.unit.mode].faults

    @property
    def charge_by_table(self) -> bool:
        """Whether the maker's table says what the charge of a healthy unit shows here."""
        columns = self.cycle.expected.columns_of_table() if isinstance(self.cycle, Cycle) else []
        return not {"subcooling", "suction_pressure", "liquid_pressure"}.isdisjoint(columns)


def examined(request: DiagnosisRequest) -> Asking[Case]:
    """Everything that the verdict follows from, as work that asks.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    visit, baseline = yield from _runs(request)
    assessed = report(visit)
    settle = usability.to_settle(usability.check(case_of(visit)))
    misread = [name for one in settle for name in one.readings]
    visit = replace(visit, doubted=visit.doubted | visit.computed.doubted_with(misread))
    beside = direct(visit, {row["code"] for row in assessed["usability"]["notices"]})
    cycle = yield from _weighed(visit, baseline, settle)
    if isinstance(cycle, Cycle) and _explained(beside) and _unlike_any(cycle.left) > 1.0 - FOUND:
        cycle = NotAssessed("the model of the cycle holds no state so far from a running unit", [])
    return Case(visit, assessed, beside, cycle, settle)


def _weighed(visit: Examined, baseline: Derived | None, settle: Sequence[Notice]) -> Asking[Cycle | NotAssessed]:
    """The cycle, with the baseline where it can be used."""
    read = evidence(visit)
    obstacle = _obstacle(visit, read, settle)
    if obstacle is not None:
        return obstacle
    before, dropped = None, None
    if baseline is not None:
        before = evidence(baseline)
        unsettled = unsettled_between(visit, baseline)
        dropped = unusable(baseline) or not_possible(baseline, before)
        if dropped is None and unsettled is not None:
            dropped = unsettled.reason
        if dropped is not None:
            before = baseline = None
    if visit.unit.running in _OPEN:
        return (yield from _over_stages(visit, dropped))
    expected = yield from expectation(visit, read, before)
    if expected is None:
        return NotAssessed("the readings fit no state that the refrigerant's tables hold", [])
    cycle = Cycle.of(*(yield from settled(expected, visit, baseline)), baseline, dropped)
    if baseline is not None and _doubt(cycle.left) >= FOUND:
        return (yield from _alone(visit, read)) or cycle
    return cycle


def _obstacle(visit: Examined, read: Evidence, settle: Sequence[Notice]) -> NotAssessed | None:
    """What keeps the cycle from being assessed; what would help is asked for only where it could."""
    barred = next((one.sentence for one in settle if one.weight == "disqualifying"), None)
    if barred is not None:
        return NotAssessed(barred, [])
    reason = not_possible(visit, read)
    if reason is not None:
        return NotAssessed(reason, _missing(visit, read))
    reason = unusable(visit, EXPLAINED)
    return None if reason is None else NotAssessed(reason, [])


#: How a unit ran where its capacity is one more unknown.
_OPEN: tuple[Running, ...] = ("unknown", "test_mode")


def _over_stages(visit: Examined, dropped: str | None) -> Asking[Cycle | NotAssessed]:
    """The visit weighed under each stage or speed at which it may have run."""
    two_stage = visit.unit.control == "two_stage"
    priors = STAGES if two_stage else SPEEDS
    found = []
    stated = [{"stage": stage} if two_stage else {"speed_percent": stage, "test_mode": False} for stage in priors]
    runs = [visit.request.run.model_copy(update=one) for one in stated]
    there = yield from examined_together([visit.request.model_copy(update={"run": run}) for run in runs])
    visits = {}
    for stage, taken in zip(priors, there, strict=True):
        if isinstance(taken, RefusedError):
            raise taken
        visits[stage] = taken, evidence(taken)
    # A reading that one stage puts in doubt is left out of all: densities compare for the same readings alone.
    common = frozenset.intersection(*(frozenset(read.features) for _, read in visits.values()))
    works = [_at_its_stage(there, read.only(common)) for there, read in visits.values()]
    for stage, one in zip(visits, (yield from together(works)), strict=True):
        if one is not None:
            about, left = one
            found.append((stage, log(priors[stage]) + left.evidence, about, left))
    if not found:
        return NotAssessed("the readings fit no state that the refrigerant's tables hold", [])
    logs = np.array([one[1] for one in found])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    best = found[int(weights.argmax())]
    return Cycle(
        best[2],
        mixed([one[3] for one in found], weights),
        None,
        dropped,
        best[3],
        {one[0]: float(weight) for one, weight in zip(found, weights, strict=True)},
    )


def _at_its_stage(visit: Examined, read: Evidence) -> Asking[tuple[Expectation, Posterior] | None]:
    """The visit weighed under one stage or speed; None where the model has no such state."""
    expected = yield from expectation(visit, read, None)
    return None if expected is None else (yield from settled(expected, visit, None))


def _alone(visit: Examined, read: Evidence) -> Asking[Cycle | None]:
    """The visit without a baseline that does not fit, where it fits a unit of its rating by itself."""
    one = yield from _at_its_stage(visit, read)
    if one is None:
        return None
    cycle = Cycle.of(*one, None, words.another_unit())
    return cycle if _doubt(cycle.left) < 1.0 - FOUND else None


def _doubt(left: Posterior) -> float:
    """Probability that the readings are wrong, or something unknown is at work."""
    return left.probability("measurement_mistake") + left.probability("none_of_these")


def _unlike_any(left: Posterior) -> float:
    """Probability that nothing is wrong with the cycle, or nothing that is known."""
    return max(_doubt(left), left.probability("no_fault"))


def _explained(beside: list[Direct]) -> bool:
    """Whether something found by itself explains readings that fit no state of the cycle."""
    return any(one.fault in EXPLAINS_ALL and one.probability >= FOUND for one in beside)


def _runs(request: DiagnosisRequest) -> Asking[tuple[Assessed, Derived | None]]:
    """The visit examined, and the baseline as derived; refusals name their run."""
    runs = {"run": request.run, "baseline": request.baseline}
    asked = [
        Examination(visit_request(request, run, request.usage, request.options), statistics=name == "run")
        for name, run in runs.items()
        if run is not None
    ]
    refusals: list[Refusal] = []
    for name, one in zip(runs, (answers := (yield asked)), strict=False):
        if isinstance(one, RefusedError):
            refusals += [in_run(refusal, f"/{name}") for refusal in one.refusals]
        elif isinstance(one, Exception):
            raise one
    if refusals:
        raise RefusedError(list({(r.pointer, r.detail): r for r in refusals}.values()))
    visit, *baseline = answers
    return visit, baseline[0] if baseline else None


def _missing(visit: Examined, read: Evidence) -> list[str]:
    """Readings that would make a diagnosis possible; nothing is asked for that could not help."""
    found = [] if PHASES in visit.visit.leaves else ["unit.refrigerant"]
    if read.tells_of_the_unit:
        return found
    return found + [
        READING + name
        for name in (
            "suction_pressure",
            "suction_line_temperature",
            "liquid_pressure",
            "liquid_line_temperature",
            "outdoor_air_dry_bulb",
        )
        if name not in visit.visit.readings
    ]
