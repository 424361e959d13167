"""What a case amounts to: the verdict, its costs, and all that its sentences depend on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from schemas.assessments import Assessment
from service.compare.quantities import ENDS, percents, share
from service.derive.derivations import QUANTITIES
from service.faults.expectation import Expectation
from service.faults.posterior import Posterior
from service.faults.verdict import Verdict, direct_groups, settled_first, verdict
from service.faults.weighing import Case, Cycle, NotAssessed
from service.reference.faults import FAULTS, LOOK_ALIKE, SUSPECTED, TELLS_OF_COST
from service.reference.faults_by_mode import IN_MODE
from service.reference.healthy_units import EFFICIENCY_OF_THE_TABLE
from service.uncertainty.mixture import Normals, find_quantiles
from service.words import diagnosis as words
from service.words.diagnosis import DiagnosisFacts

EFFICIENCY, CAPACITY = 0, 1


@dataclass(frozen=True, slots=True)
class Decision:
    """The verdict with the probabilities it follows from, to the digits that the answer shows.

    ``of_cycle`` are the hypotheses weighed against each other, ``of_direct`` those judged by themselves;
    ``efficiency`` and ``capacity`` are changes of logarithms against a healthy unit, None where the readings
    do not show them; ``nearest`` is the known fault that comes closest where something unknown is at work.
    """

    verdict: Verdict
    of_cycle: Mapping[str, float]
    of_direct: Mapping[str, float]
    efficiency: Normals | None = None
    capacity: Normals | None = None
    costly: float | None = None
    joint: float = 0.0
    objection: str | None = None
    culprit: tuple[str, float] | None = None
    nearest: str | None = None

    @property
    def chances(self) -> dict[str, float]:
        """All probabilities by fault."""
        return {**self.of_cycle, **self.of_direct}

    @property
    def worth_a_look(self) -> dict[str, float]:
        """The faults that steps are for: where something unknown is at work, the closest known one too."""
        worth = {name: chance for name, chance in self.chances.items() if name != "no_fault"}
        if self.nearest is not None:
            worth[self.nearest] = max(worth[self.nearest], SUSPECTED)
        return worth


def decided(case: Case) -> Decision:
    """The verdict on a case."""
    of_direct = {one.fault: share(one.probability) for one in case.beside}
    if isinstance(case.cycle, NotAssessed):
        return _by_itself(of_direct)
    return _by_cycle(case.cycle, of_direct, _objection(case.assessed))


def _by_itself(of_direct: Mapping[str, float]) -> Decision:
    """Where no cycle is assessed: what shows by itself still counts."""
    groups = direct_groups(of_direct)
    found = [name for group in groups for name in group]
    return Decision(
        Verdict("fault_found" if found else "not_enough_to_tell", groups),
        {},
        of_direct,
        joint=max((of_direct[name] for name in found), default=0.0),
    )


def _by_cycle(cycle: Cycle, of_direct: Mapping[str, float], objection: str | None) -> Decision:
    expected, left = cycle.expected, cycle.left
    hypotheses = IN_MODE[expected.model.mode].faults
    of_cycle = {name: share(left.probability(name)) for name, row in hypotheses.items() if row.shown != "direct"}
    outputs = expected.model.layout.of_the_system
    costs = [
        left.cost(row) if expected.tells_of(output) >= TELLS_OF_COST else None for row, output in enumerate(outputs)
    ]
    find_quantiles(costs, ENDS)
    lost, costly = costs[EFFICIENCY], share(left.costly(EFFICIENCY))
    judged = verdict(
        of_cycle,
        {alike: share(left.of_any(alike)) for alike in LOOK_ALIKE},
        of_direct,
        None if lost is None else (lost, costly),
        objected=objection is not None,
    )
    decision = Decision(
        judged,
        of_cycle,
        of_direct,
        joint=_joint(judged.found, {**of_cycle, **of_direct}, left),
        objection=objection if judged.denied else None,
        culprit=_culprit(left),
        nearest=_nearest(left),
    )
    if judged.name == "readings_doubted":
        # Readings that do not fit each other give no cost.
        return decision
    return replace(decision, efficiency=lost, capacity=costs[CAPACITY], costly=None if lost is None else costly)


def _joint(found: list[str], chances: Mapping[str, float], left: Posterior) -> float:
    """Probability that any of the faults found is there."""
    of_cycle = [name for name in found if FAULTS[name].shown == "cycle"]
    together = share(left.of_any(of_cycle)) if of_cycle else 0.0
    return max([together, *(chances[name] for name in found)])


def _objection(assessed: Assessment) -> str | None:
    """Why a unit is not called healthy whatever its cycle shows: what the assessment of the same readings
    does not trust, or asks to have corrected."""
    for notice in assessed["usability"]["notices"]:
        if notice["weight"] == "disqualifying":
            return str(notice["sentence"])
    asked = [row for row in assessed["findings"] if row["priority"] in ("safety", "act")]
    if not asked:
        return None
    labels = dict.fromkeys(QUANTITIES[row["quantity"]].label.lower() for row in asked)
    return words.outside_limits(labels)


def _culprit(left: Posterior) -> tuple[str, float] | None:
    """The reading, or the refrigerant, that is most probably wrong."""
    probability, best = max(zip(left.mistake_chances.tolist(), left.mistakes, strict=True), key=lambda item: item[0])
    if not best.culprit or probability < SUSPECTED or not best.credible:
        return None
    return best.culprit, probability


def _nearest(left: Posterior) -> str | None:
    """The known fault that comes closest, where something unknown is the most probable."""
    if left.probability("none_of_these") < 0.5:
        return None
    return max(
        (name for name in left.components.including if FAULTS[name].shown == "cycle" and name != "no_fault"),
        key=left.probability,
    )


def _basis(expected: Expectation) -> str:
    """What a healthy unit is known from, as the sentences say it."""
    columns = frozenset(expected.columns_of_table())
    by_table = expected.basis == "rating" and any(needed <= columns for needed in EFFICIENCY_OF_THE_TABLE)
    return "table" if by_table else expected.basis


def facts(case: Case, decision: Decision, stage: str, next_reading: str | None) -> DiagnosisFacts:
    """What the sentences of the diagnosis depend on; ``stage`` is the one about a stage that was not stated."""
    judged, cycle, logged = decision.verdict, case.cycle, case.visit.visit.logged
    return DiagnosisFacts(
        verdict=judged.name,
        chances=decision.chances,
        groups=judged.groups,
        contradicted=judged.contradicted,
        waiting=settled_first(decision.chances),
        reason=cycle.reason if isinstance(cycle, NotAssessed) else "",
        basis=_basis(cycle.expected) if isinstance(cycle, Cycle) else "class",
        joint=decision.joint,
        efficiency=None if decision.efficiency is None else percents(decision.efficiency),
        costly=decision.costly or 0.0,
        capacity=None if decision.capacity is None else percents(decision.capacity),
        culprit=decision.culprit,
        nearest=decision.nearest,
        objection=decision.objection,
        next_reading=next_reading,
        stage=stage,
        device=case.visit.unit.device,
        minutes=None if logged is not None and logged.has_settled else case.visit.visit.minutes_running,
        misread=" ".join(one.sentence for one in case.settle if one.weight != "disqualifying"),
    )
