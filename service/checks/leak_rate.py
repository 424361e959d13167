"""Refrigerant added over time, as an annual leak rate by both published methods, and what it warms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from schemas.assessments import Missing, Notice
from schemas.checks import CheckAnswer
from schemas.checks.common import CheckStep, Information
from schemas.checks.leak_rate import LeakRateRequest
from service.checks.taking import Reading, ask, begin, drawn, take
from service.checks.workings import Outcome, Quantity, Question, Workings, answer, notice, steps
from service.intake.entry import Entry
from service.intake.equipment import take_refrigerant
from service.intake.refusals import Refusal
from service.reference.assumptions import ASSUMPTIONS
from service.reference.leak_rates import (
    MOST_ADDED,
    POTENTIALS,
    THRESHOLDS,
    YEAR_DAYS,
    Threshold,
    potential,
    regulated_from,
)
from service.reference.sources import source
from service.reference.units import in_system, system_unit
from service.uncertainty.conformity import DECISION_PROBABILITY
from service.uncertainty.error_terms import ErrorTerm, assumption_dimension
from service.words import checks as words
from service.words.phrases import span

#: Least time between two additions [days]: that of `days_since_previous_addition`; common practice, no source.
SHORTEST_INTERVAL = 1.0
ADDED = Reading("additions.mass", "mass", "mass", 1e-4, 300.0, 0)
CHARGE = "unit.full_charge"

ANNUALIZED = Quantity(
    "annual_rate_annualizing",
    "annual_rate",
    "The annual rate by the annualizing method",
    "last addition over full charge, times 365 over the days since the one before (at most 365)",
    "leak_rate_methods",
)
ROLLING = Quantity(
    "annual_rate_rolling",
    "annual_rate",
    "The annual rate by the rolling-average method",
    "additions of the last 365 days, or since the last repair if that is less, over full charge",
    "leak_rate_methods",
)
MASS = Quantity(
    "annual_loss", "annual_mass", "The loss a year", "annual rate times full charge, no more", "leak_rate_methods"
)
_RATES = frozenset({ANNUALIZED.name, ROLLING.name, MASS.name})


@dataclass(frozen=True)
class Recorded:
    """A record of additions worked out, in SI; ``main`` is the rate that answers speak of first."""

    request: LeakRateRequest
    workings: Workings
    days: float | None
    main: str
    charge: float
    added: tuple[float, ...]


def recorded(request: LeakRateRequest) -> Recorded:
    """A record of additions worked out.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a mass is impossible, or the additions are not in order.
    """
    entry = begin(request)
    take_refrigerant(entry)
    rows = request.additions
    _in_order(entry, [row.days_ago for row in rows])
    _fitting(entry, request)
    leaves = [take(entry, ADDED, row.mass, f"/additions/{place}/mass", place) or "" for place, row in enumerate(rows)]
    charge = entry.to_si(request.unit.full_charge, "mass")
    if entry.inside(charge, (0.02, 5000.0), "mass", "/unit/full_charge", request.unit.full_charge):
        ask(entry, CHARGE, request.unit.full_charge)
        row = ASSUMPTIONS["full_charge"]
        percent = request.unit.full_charge_uncertainty_percent
        spread = row.spread if percent is None else percent / 100.0
        term = ErrorTerm(assumption_dimension(list(ASSUMPTIONS).index(row.name)), "normal", charge * spread)
        owner = "assumption: full charge" if percent is None else "full charge"
        entry.leaves.register(CHARGE, charge, (term,) if spread else (), owner, (CHARGE,))
    return _worked_out(request, Workings(drawn(entry), entry.questions), leaves)


def _in_order(entry: Entry, days: list[float]) -> None:
    """Refuse additions that are not listed from the last one back."""
    for place, ago in enumerate(days):
        expected = (
            "0, as the last addition comes first"
            if place == 0
            else f"at least {days[place - 1] + SHORTEST_INTERVAL:g}, a day before the addition above"
        )
        if (place == 0 and ago != 0.0) or (place > 0 and ago < days[place - 1] + SHORTEST_INTERVAL):
            entry.refusals.append(
                Refusal(
                    f"/additions/{place}/days_ago",
                    ago,
                    expected,
                    "is not in order",
                    "List the last addition first, with days_ago 0, and go back in time. Add up those of one day.",
                )
            )


def _fitting(entry: Entry, request: LeakRateRequest) -> None:
    """Refuse an interval longer than the record allows."""
    days = request.days_since_previous_addition
    if days is not None and len(request.additions) > 1 and days > request.additions[1].days_ago:
        most = request.additions[1].days_ago
        entry.refusals.append(
            Refusal(
                "/days_since_previous_addition",
                days,
                f"at most {most:g}",
                "contradicts the second addition",
                "Leave it out, and the record gives it, or correct days_ago.",
            )
        )


def _worked_out(request: LeakRateRequest, workings: Workings, leaves: list[str]) -> Recorded:
    charge = workings.leaf(CHARGE)
    ago = [row.days_ago for row in request.additions]
    days = request.days_since_previous_addition
    if days is None and len(ago) > 1:
        days = ago[1]
    if days is not None:
        rate = workings.leaf(leaves[0]) / charge * (YEAR_DAYS / min(days, YEAR_DAYS))
        workings.add(ANNUALIZED, rate, [leaves[0], CHARGE])
    window = min(YEAR_DAYS, request.days_since_repair or YEAR_DAYS)
    within = [leaf for leaf, since in zip(leaves, ago, strict=True) if since < window]
    total = sum((workings.leaf(leaf) for leaf in within[1:]), workings.leaf(within[0]))
    workings.add(ROLLING, total / charge, [*within, CHARGE])
    main = ANNUALIZED.name if days is not None else ROLLING.name
    lost = workings.add(MASS, workings.draws[main] * charge, workings.leaves[main])
    refrigerant = workings.visit.refrigerant
    for of in POTENTIALS if refrigerant is not None else ():
        assert refrigerant is not None
        warms = Quantity(
            f"annual_co2_equivalent_{of.name}",
            "annual_mass",
            "The loss a year as carbon dioxide",
            f"loss a year times {potential(refrigerant, of):.5g}, by {of.edition}",
            of.source,
        )
        workings.add(warms, lost * potential(refrigerant, of), [*workings.leaves[main], "unit.refrigerant"])
    added = tuple(float(workings.leaf(leaf)[0]) for leaf in leaves)
    return Recorded(request, workings, days, main, float(charge[0]), added)


def leak_rate(request: LeakRateRequest) -> CheckAnswer:
    """The answer about refrigerant added over time.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a mass is impossible, or the additions are not in order.
    """
    found = recorded(request)
    too_much = _too_much(found)
    if too_much is not None and max(found.added) > MOST_ADDED * found.charge:
        found.workings.questions.append(Question(too_much, quantities=_RATES, step="check_the_masses"))
    return answer(
        request,
        found.workings,
        Outcome(
            "leak-rate",
            "computed" if found.workings.doubt(found.main) is None else "cannot_tell",
            _sentence(found),
            frozenset({"charge_adjustment"}),
            notices=list(_notices(found)),
            information=[_information(found, row) for row in THRESHOLDS],
            missing=_missing(found),
            next_steps=_next_steps(found),
        ),
    )


def _sentence(found: Recorded) -> str:
    say, workings = found.workings.say, found.workings
    doubt = workings.doubt(found.main)
    if doubt is not None:
        return words.not_judged(doubt)
    low, high = workings.band(found.main)
    return words.leak_rate(
        workings.rows[found.main].label,
        say("annual_rate", workings.value(found.main)),
        span("annual_rate", low, high, found.request.units),
        say("annual_mass", workings.value(MASS.name)),
    )


def _information(found: Recorded, row: Threshold) -> Information:
    system = found.request.units
    return {
        "id": f"threshold_{row.id}",
        "value": float(f"{in_system('annual_rate', row.rate, system):.7g}"),
        "unit": system_unit("annual_rate", system),
        "sentence": words.leak_threshold(
            found.workings.say("annual_rate", row.rate), row.concerns, _applies(found, row.rate)
        ),
        "source": source(row.source),
    }


def _applies(found: Recorded, rate: float) -> str:
    """Whether a threshold concerns this charge, and if so whether it is exceeded."""
    workings, refrigerant = found.workings, found.workings.visit.refrigerant
    least = regulated_from(refrigerant)
    if least is None:
        return words.threshold_of_others("" if refrigerant is None else refrigerant.designation)
    charge = workings.leaf(CHARGE)[1:]
    reached, said = float(np.mean(charge >= least)), (workings.say("mass", found.charge), workings.say("mass", least))
    if reached < 1.0 - DECISION_PROBABILITY:
        return words.threshold_of_larger(*said)
    if reached < DECISION_PROBABILITY:
        return words.threshold_near(*said)
    if workings.doubt(found.main) is not None:
        return ""
    return words.threshold_exceeded(workings.probability(found.main, rate, None))


def _too_much(found: Recorded) -> Notice | None:
    """That more was added at once than the unit holds."""
    added = max(found.added)
    if added <= found.charge:
        return None
    say = found.workings.say
    return notice("more_than_full", (ADDED.name, CHARGE), added=say("mass", added), full=say("mass", found.charge))


def _notices(found: Recorded) -> Iterator[Notice]:
    too_much = _too_much(found)
    if too_much is not None and not found.workings.questions:
        yield too_much
    if found.days is not None and found.days < 30.0:
        yield notice("short_interval", ("days_since_previous_addition",), days=f"{found.days:g}")
    if found.request.unit.full_charge_uncertainty_percent is None:
        yield notice("full_charge_assumed", (CHARGE,))


def _missing(found: Recorded) -> list[Missing]:
    rows: list[Missing] = []
    if found.days is None:
        add = ["days_since_previous_addition"]
        rows.append({"quantity": ANNUALIZED.name, "reason": words.NO_DAYS, "unlock": [{"add": add}]})
    if found.workings.visit.refrigerant is None:
        name = "annual_co2_equivalent_ar4"
        rows.append({"quantity": name, "reason": words.NO_REFRIGERANT, "unlock": [{"add": ["unit.refrigerant"]}]})
    return rows


def _next_steps(found: Recorded) -> list[CheckStep]:
    if found.workings.doubt(found.main) is not None:
        return []
    return steps(("look_for_the_leak", "keep_records", "ask_the_authority"), words.NEXT_STEPS)
