"""One visit examined: what its readings show by themselves, and its refrigerant cycle weighed against a
healthy unit; or why the cycle is not assessed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from schemas.diagnoses import DiagnosisRequest
from service.assess.examination import Assessed, derive_visit, with_statistics
from service.assess.pipeline import report
from service.compare.comparison import in_run, unusable, visit_request
from service.derive.examined import Derived, Examined
from service.faults.direct import Direct, direct
from service.faults.expectation import Expectation, expectation, not_possible
from service.faults.posterior import Posterior, settled
from service.intake.paths import PHASES, READING
from service.intake.refusals import Refusal, RefusedError
from service.reference.faults import EXPLAINS_ALL, FOUND, Fault
from service.reference.faults_by_mode import IN_MODE
from service.unit.evidence import Evidence, evidence
from service.words import diagnosis as words


@dataclass(frozen=True, slots=True)
class Cycle:
    """The cycle set against a healthy unit, and what the readings leave of the hypotheses; the baseline that
    was used, or why it was ``dropped``."""

    expected: Expectation
    left: Posterior
    baseline: Derived | None
    dropped: str | None


class NotAssessed(NamedTuple):
    """Why no cycle is set against the readings, and what would make it possible."""

    reason: str
    missing: list[str]


@dataclass(frozen=True, slots=True)
class Case:
    """A visit, its assessment, the faults that show in one value by themselves, and its cycle."""

    visit: Examined
    assessed: dict[str, Any]
    beside: list[Direct]
    cycle: Cycle | NotAssessed

    @property
    def faults(self) -> Mapping[str, Fault]:
        """The hypotheses of the unit's mode."""
        return IN_MODE[self.visit.unit.mode].faults


def examined(request: DiagnosisRequest) -> Case:
    """Everything that the verdict follows from.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    visit, baseline = _runs(request)
    assessed = report(visit)
    beside = direct(visit, {row["code"] for row in assessed["usability"]["notices"]})
    cycle = _weighed(visit, baseline)
    if isinstance(cycle, Cycle) and _explained(beside) and _unlike_any(cycle.left) > 1.0 - FOUND:
        cycle = NotAssessed("the model of the cycle holds no state so far from a running unit", [])
    return Case(visit, assessed, beside, cycle)


def _weighed(visit: Examined, baseline: Derived | None) -> Cycle | NotAssessed:
    """The cycle, with the baseline where it can be used."""
    read = evidence(visit)
    obstacle = _obstacle(visit, read)
    if obstacle is not None:
        return obstacle
    before, dropped = None, None
    if baseline is not None:
        before = evidence(baseline)
        dropped = unusable(baseline) or not_possible(baseline, before)
        if dropped is not None:
            before = baseline = None
    expected = expectation(visit, read, before)
    if expected is None:
        return NotAssessed("the readings fit no state that the refrigerant's tables hold", [])
    cycle = Cycle(*settled(expected, visit, baseline), baseline, dropped)
    if baseline is not None and _doubt(cycle.left) >= FOUND:
        return _alone(visit, read) or cycle
    return cycle


def _obstacle(visit: Examined, read: Evidence) -> NotAssessed | None:
    """What keeps the cycle from being assessed; what would help is asked for only where it could."""
    reason = not_possible(visit, read)
    unsettled = visit.unit.unsettled
    if unsettled is not None:
        reason = f"{unsettled.reason} {unsettled.remedy}"
    if reason is not None:
        return NotAssessed(reason, _missing(visit, read))
    reason = unusable(visit)
    return None if reason is None else NotAssessed(reason, [])


def _alone(visit: Examined, read: Evidence) -> Cycle | None:
    """The visit without a baseline that does not fit, where it fits a unit of its rating by itself."""
    expected = expectation(visit, read, None)
    if expected is None:
        return None
    cycle = Cycle(*settled(expected, visit, None), None, words.another_unit())
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


def _runs(request: DiagnosisRequest) -> tuple[Assessed, Derived | None]:
    """The visit examined, and the baseline as derived; refusals name their run."""
    refusals: list[Refusal] = []
    sides: list[Derived | None] = []
    for name, run in (("run", request.run), ("baseline", request.baseline)):
        if run is None:
            sides.append(None)
            continue
        alone = visit_request(request, run, request.usage, request.options)
        try:
            sides.append(derive_visit(alone, compared=True))
        except RefusedError as error:
            sides.append(None)
            refusals += [in_run(refusal, f"/{name}") for refusal in error.refusals]
    if refusals:
        raise RefusedError(list({(r.pointer, r.detail): r for r in refusals}.values()))
    visit = sides[0]
    assert visit is not None
    return with_statistics(visit), sides[1]


def _missing(visit: Examined, read: Evidence) -> list[str]:
    """Readings that would make a diagnosis possible; nothing is asked for that could not help."""
    if not visit.unit.capacity_is_known:
        return []
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
