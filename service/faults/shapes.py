"""The parts of a diagnosis in the shapes of the contract, in the caller's units."""

from __future__ import annotations

from collections.abc import Iterable
from math import exp
from typing import Literal, cast

import numpy as np

from schemas.assessments import Assessment, Caution
from schemas.diagnoses import (
    Cost,
    ExpectedValue,
    FaultLevel,
    FaultName,
    Hypothesis,
    Joint,
    NextStep,
    NextToRead,
    Outcome,
    StageFound,
)
from schemas.readings import READINGS
from service.assess.cautions import caution_answer
from service.compare.quantities import ENDS, band, percent_of_change, rounded, share
from service.derive.derivations import QUANTITIES
from service.faults.decision import CAPACITY, EFFICIENCY, Decision
from service.faults.grounds import Shown, evidence_of, for_health, moves, of_symptoms
from service.faults.next_reading import Candidate
from service.faults.posterior import Posterior
from service.faults.verdict import Verdict
from service.faults.weighing import Case, Cycle
from service.intake.paths import READING
from service.reference.capacity_control import BETWEEN_SPEEDS
from service.reference.cautions import CAUTIONS
from service.reference.faults import CONFUSED, FAULTS, FOUND, LISTED, SUSPECTED, Fault
from service.reference.sources import source
from service.reference.units import Conversion, conversion, system_unit
from service.uncertainty.mixture import Normals, find_quantiles
from service.words import diagnosis as words
from service.words.numbers import Estimate
from service.words.phrases import phrase

#: How many of the explanations, outcomes and culprits are shown.
_SHOWN = 8
_OUTCOMES = 5
_QUOTED_OUTCOMES = 3
_CULPRITS = 3


def hypotheses(case: Case, decision: Decision, rows: list[Shown]) -> list[Hypothesis]:
    """All hypotheses worth mentioning, most probable first."""
    answer = of_direct(case, decision)
    if isinstance(case.cycle, Cycle):
        answer = _of_cycle(case, case.cycle, decision, rows) + answer
    return sorted(answer, key=lambda item: -item["probability"])


def _of_cycle(case: Case, cycle: Cycle, decision: Decision, rows: list[Shown]) -> list[Hypothesis]:
    left, system, chances = cycle.left, case.visit.visit.system, decision.of_cycle
    listed = [name for name, own in chances.items() if own >= LISTED or name == "no_fault"]
    in_cycle = [name for name in listed if FAULTS[name].shown == "cycle" and name != "no_fault"]
    # What no stage but the most probable one leaves room for has no signs of its own there.
    in_cycle = [name for name in in_cycle if cycle.at_its_stage.of_any((name,)) > 0.0]
    moved = moves(in_cycle, cycle.expected, cycle.at_its_stage) if in_cycle else {}
    levels = {name: left.level(name) for name in moved}
    costs = {name: (left.cost(EFFICIENCY, name), left.cost(CAPACITY, name)) for name in moved}
    find_quantiles([*levels.values(), *(one for both in costs.values() for one in both)], ENDS)
    answer: list[Hypothesis] = []
    for name in listed:
        if name in moved:
            for_it, against = evidence_of(name, moved[name], rows, system)
            quoted, contrary = of_symptoms(name, case.visit, cycle.baseline)
            for_it, against = quoted + for_it, contrary + against
        elif name == "no_fault":
            for_it, against = for_health(rows, system)
        else:
            for_it, against = _of_mistakes(name, left), []
        row = _hypothesis(case.faults[name], chances[name], for_it, against, decision.verdict)
        if name in moved:
            row |= {
                "form": left.form(name) or None,
                "level": _level(FAULTS[name], levels[name], system),
                "cost": _cost(*costs[name], left.costly(EFFICIENCY, name)),
            }
        answer.append(row)
    return answer


def of_direct(case: Case, decision: Decision) -> list[Hypothesis]:
    """Faults that show in one value against its limit."""
    rows = []
    for one in sorted(case.beside, key=lambda item: -share(item.probability)):
        quoted, likely = [one.sentence], one.probability >= 0.5
        for_it, against = (quoted, []) if likely else ([], quoted)
        row = case.faults[one.fault]
        rows.append(_hypothesis(row, one.probability, for_it, against, decision.verdict))
    return rows


def _hypothesis(row: Fault, probability: float, for_it: list[str], against: list[str], decided: Verdict) -> Hypothesis:
    probability = share(probability)
    return {
        "fault": cast(FaultName, row.id),
        "text": row.text,
        "probability": probability,
        "status": _status(row.id, probability, decided),
        "form": None,
        "level": None,
        "cost": None,
        "evidence_for": for_it,
        "evidence_against": against,
        "tells_apart": row.separate,
        "source": source(row.source),
    }


def _status(name: str, probability: float, decided: Verdict) -> Literal["found", "possible", "unlikely"]:
    if probability >= FOUND and _may_be_found(name, decided):
        return "found"
    return "possible" if probability >= SUSPECTED else "unlikely"


def _may_be_found(name: str, decided: Verdict) -> bool:
    """Whether the verdict lets a hypothesis be called found."""
    if name == "no_fault":
        return decided.name in ("healthy", "fault_found")
    if FAULTS[name].shown == "readings":
        return decided.name == "readings_doubted"
    return name in decided.found


def _of_mistakes(name: str, left: Posterior) -> list[str]:
    """Which wrong reading, or which other refrigerant, would explain the readings."""
    rows = sorted(
        (
            (float(own), one.culprit)
            for one, own in zip(left.mistakes, left.mistake_chances, strict=True)
            if one.fault == name and one.culprit and one.credible
        ),
        reverse=True,
    )
    return [
        words.would_explain(culprit, probability) for probability, culprit in rows[:_CULPRITS] if probability >= LISTED
    ]


def _level(row: Fault, found: Normals | None, system: str) -> FaultLevel | None:
    if found is None:
        return None
    scale, symbol = 1.0, "1"
    if row.unit == "K":
        symbol = system_unit("temperature_difference", system)
        scale = conversion("temperature_difference", symbol).scale
    return {
        "value": rounded(found.mean / scale),
        "band": band(*(max(found.quantile(end), 0.0) / scale for end in ENDS)),
        "unit": symbol,
        "text": row.level_text,
    }


def _cost(efficiency: Normals | None, capacity: Normals | None, costly: float) -> Cost | None:
    if efficiency is None or capacity is None:
        return None
    return {
        "efficiency_percent": percent_of_change(efficiency),
        "capacity_percent": percent_of_change(capacity),
        "probability_over_five_percent": share(costly),
    }


def stage_found(cycle: Cycle, *, test_mode: bool) -> StageFound | None:
    """What the readings say about the stage or the speed; None where it was stated.

    ``test_mode``: whether the maker's test mode held the speed."""
    stages = cycle.stages
    if not stages:
        return None
    if "low" in stages or "high" in stages:
        low = share(stages.get("low", 0.0))
        return {
            "low": low,
            "high": share(1.0 - low),
            "speed_percent": None,
            "sentence": words.stage_sentence(low),
        }
    speeds = np.array(list(stages), dtype=np.float64)
    about = Normals(np.array(list(stages.values())), speeds, BETWEEN_SPEEDS * speeds)
    find_quantiles([about], ENDS)
    ends = [about.quantile(end) for end in ENDS]
    return {
        "low": None,
        "high": None,
        "speed_percent": {"value": rounded(about.mean), "band": band(*ends)},
        "sentence": words.speed_sentence(Estimate(about.mean, *ends), test_mode=test_mode),
    }


def combinations(left: Posterior) -> list[Joint]:
    """The explanations as a whole, most probable first."""
    totals: dict[tuple[str, ...], float] = {}
    for faults, own in zip(left.components.faults, left.chances.tolist(), strict=True):
        totals[faults] = totals.get(faults, 0.0) + own
    for one, own in zip(left.mistakes, left.mistake_chances.tolist(), strict=True):
        totals[(one.fault,)] = totals.get((one.fault,), 0.0) + own
    ranked = sorted(totals.items(), key=lambda item: -item[1])
    return [
        {"faults": cast(list[FaultName], list(faults)), "probability": share(total)}
        for faults, total in ranked[:_SHOWN]
        if total >= LISTED
    ]


def to_read(one: Candidate, system: str) -> NextToRead:
    """A reading worth making, in the caller's units."""
    quantity = one.reading.output
    known = QUANTITIES.get(quantity)
    kind = known.kind if known is not None else "temperature"
    unit = conversion(kind, system_unit(kind, system))
    outcomes = _outcomes(one, unit)
    said = [(phrase(kind, unit.to_si(row["expected"]), system), row["faults"]) for row in outcomes[:_QUOTED_OUTCOMES]]
    label = known.label if known is not None else quantity.replace("_", " ")
    return {
        "reading": READING + one.reading.name,
        "bits": rounded(one.bits),
        "effort": READINGS[one.reading.name].effort,
        "quantity": quantity,
        "unit": system_unit(kind, system),
        "outcomes": outcomes,
        "sentence": words.reading_outcomes(label, said),
    }


def _outcomes(one: Candidate, unit: Conversion) -> list[Outcome]:
    """What each explanation expects the reading to show, most probable first."""
    outcomes: list[Outcome] = []
    for row in sorted(one.predictions, key=lambda item: -item.chance)[:_OUTCOMES]:
        ends = [row.mean + k * row.deviation for k in (0.0, -1.96, 1.96)]
        if one.reading.logarithmic:
            ends = [exp(end) for end in ends]
        if one.reading.output in ("superheat", "subcooling"):
            # Below zero they mean liquid in the gas or vapour in the liquid: saturation is read.
            ends = [max(end, 0.0) for end in ends]
        middle, low, high = (unit.from_si(end) for end in ends)
        outcomes.append(
            {"faults": cast(list[FaultName], list(row.fault)), "expected": rounded(middle), "band": band(low, high)}
        )
    return outcomes


def expected_values(rows: Iterable[Shown], system: str) -> dict[str, ExpectedValue]:
    """What was read next to what a healthy unit would show, by name."""
    return {one.row.source.removeprefix(READING): _expected(one, system) for one in rows}


def _expected(one: Shown, system: str) -> ExpectedValue:
    compared = one.compared
    symbol = system_unit(compared.kind, system)
    unit = conversion(compared.kind, symbol)
    return {
        "unit": symbol,
        "read": rounded(unit.from_si(compared.read)),
        "healthy": rounded(unit.from_si(compared.healthy)),
        "band": band(unit.from_si(compared.low), unit.from_si(compared.high)),
        "outside": one.outside,
    }


def taken_on_trust(case: Case, cycle: Cycle) -> list[str]:
    """What the readings could not check, and why a baseline was not used."""
    dropped = [] if cycle.dropped is None else [words.baseline_not_used(cycle.dropped)]
    refrigerant = case.visit.visit.refrigerant
    stated = None if refrigerant is None else refrigerant.designation
    others = [
        one.culprit
        for one in cycle.left.mistakes
        if one.culprit in CONFUSED.get(stated or "", ()) and one.evidence > -3.0
    ]
    return dropped + words.on_trust(
        stated,
        others,
        device=case.visit.unit.device is not None,
        baseline=cycle.expected.basis == "baseline",
    )


def cautions(assessed: Assessment, steps: Iterable[NextStep]) -> list[Caution]:
    """Cautions of the assessment and of the next steps, gravest first."""
    wanted = {row["id"] for row in assessed["cautions"]}
    for step in steps:
        wanted.update(step["cautions"])
    return [caution_answer(row) for row in CAUTIONS.values() if row.id in wanted]
