"""The reconciliation part of an answer: do independent ways agree, and which reading does not fit."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import erfc, sqrt
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Balance, Estimate, ReconciledQuantity, ReconciledReading, Reconciliation, Suspect
from schemas.readings import READINGS
from service.assess.notices import Notice, notice
from service.derive.computation import Computed, block_inputs, compute, run_plan
from service.derive.derivations import QUANTITIES
from service.derive.draws import DrawnVisit
from service.derive.reconcile import Candidate, Outcome, candidates, residual
from service.intake.kit import ERROR_KIND
from service.intake.paths import ASSUMED, DIAL_TEMPERATURES, READING
from service.intake.visit import Visit
from service.reference.assumptions import ASSUMPTIONS
from service.reference.balances import (
    COMMON_MISTAKES,
    LARGEST_ASSUMPTION,
    LARGEST_FACTOR,
    LARGEST_MISTAKE,
    LARGEST_PRESSURE_FACTOR,
    LARGEST_WITHOUT_CAUSE,
)
from service.reference.conditions import WET_BULB_EXCESS
from service.reference.units import conversion, system_unit
from service.uncertainty.propagation import COVERAGE, Summary, summarise
from service.words import assessment as words
from service.words.phrases import phrase

FloatArray = NDArray[np.float64]

Verdict = Literal["consistent", "inconsistent", "not_testable"]

#: Quantities shown before and after.
SHOWN = (
    "airflow",
    "cooling_capacity",
    "sensible_capacity",
    "latent_capacity",
    "refrigerant_mass_flow",
    "outdoor_unit_power",
    "total_power",
    "eer",
    "cooling_capacity_share_of_rating",
    "eer_share_of_rating",
)

#: Step of a reading, in its standard uncertainties, by which the balances' slopes are taken.
_STEP = 0.1


def verdict(outcome: Outcome | None) -> Verdict:
    """Whether independent ways agree."""
    if outcome is None:
        return "not_testable"
    return "consistent" if outcome.consistent else "inconsistent"


def disagreement(outcome: Outcome | None, readings: Iterable[str] = (), account: str = "") -> Notice | None:
    """The notice where the balances do not agree; :func:`answer` knows the readings at fault and gives an account."""
    if outcome is None or outcome.consistent:
        return None
    name = "readings_disagree.widened" if outcome.applied else "readings_disagree.not_explained"
    return notice(name, readings, account=account)


def answer(
    computed: Computed,
    summary: Summary,
    positions: dict[str, int],
    beside: Beside | None,
    in_doubt: Collection[str] = (),
) -> tuple[Reconciliation, Notice | None]:
    """The reconciliation, and a notice where the balances do not agree.

    ``beside`` are the statistics of the values that they changed, as read; ``in_doubt`` are readings that are not what
    they are called, which explain a disagreement before any other does.
    """
    visit, outcome = computed.visit, computed.outcome
    if outcome is None:
        return _not_testable(), None
    leaves = computed.leaves_of_balances(outcome)
    known = [name for name in in_doubt if READING + name in leaves]
    suspects = [] if outcome.consistent or known else _suspects(visit, computed, outcome)
    without = None
    if suspects and suspects[0].name.startswith(READING):
        without = compute(visit, computed.given - {suspects[0].name}, computed.unit)
    found = outcome.balances
    sentence = _sentence(visit, outcome, suspects, known)
    names = _changed(computed, summary, positions)
    readings = list(outcome.readings)
    body: Reconciliation = {
        "verdict": verdict(outcome),
        "balances": _balances(outcome),
        "statistic": _short(found.statistic),
        "degrees_of_freedom": found.degrees,
        "probability": _short(found.probability),
        "widened_by": _short(outcome.widened),
        "suspects": [_suspect(visit, one) for one in suspects],
        "quantities": ({} if beside is None else _quantities(visit, names, summary, positions, beside, without)),
        "readings": {} if beside is None else _readings(visit, readings, beside),
        "sentence": sentence,
    }
    at_fault = (one.name.removeprefix(READING) for one in suspects if one.name.startswith(READING))
    return body, disagreement(outcome, at_fault, sentence)


def _not_testable() -> Reconciliation:
    return {
        "verdict": "not_testable",
        "balances": [],
        "statistic": None,
        "degrees_of_freedom": 0,
        "probability": None,
        "widened_by": 1.0,
        "suspects": [],
        "quantities": {},
        "readings": {},
        "sentence": words.NOT_TESTABLE,
    }


def _short(value: float) -> float:
    return float(f"{value:.4g}")


def _balances(outcome: Outcome) -> list[Balance]:
    rows: list[Balance] = []
    deviations = np.sqrt(np.diagonal(outcome.balances.covariance))
    for pair, value, u in zip(outcome.pairs, outcome.balances.residual.tolist(), deviations.tolist(), strict=True):
        rows.append(
            {
                "quantity": pair.quantity,
                "first": pair.first,
                "second": pair.second,
                "difference_percent": _short(100.0 * float(np.expm1(value))),
                "standard_uncertainty_percent": _short(100.0 * u),
                "probability": _short(erfc(abs(value) / u / sqrt(2.0))),
            }
        )
    return rows


def _suspects(visit: DrawnVisit, computed: Computed, outcome: Outcome) -> list[Candidate]:
    """Nudge every reading and assumption behind the balances; see which would explain them."""
    spread = {
        leaf: float(np.std(visit.leaves[leaf][1:]))
        for leaf in computed.leaves_of_balances(outcome)
        if visit.leaf_variables.get(leaf) and leaf.startswith((READING, ASSUMED))
    }
    names = [name for name, value in spread.items() if value > 0.0]
    leaves: dict[str, Any] = {}
    width = len(names) + 1
    for name, value in visit.leaves.items():
        drawn = isinstance(value, np.ndarray) and value.ndim == 1
        leaves[name] = np.full(width, value[0]) if drawn else value
    for column, name in enumerate(names, start=1):
        leaves[name][column] += _STEP * spread[name]
    values = run_plan(leaves, computed.steps, (width,))
    moved = np.stack([residual(pair, values) for pair in outcome.pairs])
    slopes = (moved[:, 1:] - moved[:, :1]) / (_STEP * np.array([spread[name] for name in names]))
    directions = {
        name: slopes[:, column]
        for column, name in enumerate(names)
        if np.isfinite(slopes[:, column]).all() and slopes[:, column].any()
    }
    return candidates(
        outcome,
        directions,
        spread,
        {name: _listed(name) for name in names},
        lambda name, size: _can_be(visit, name, size, spread[name]),
    )


def _can_be(visit: DrawnVisit, name: str, correction: float, spread: float) -> bool:
    """Whether a reading, or what is assumed, can be wrong by so much; all in SI."""
    value = float(visit.leaves[name][0])
    corrected = value + correction
    if name.startswith(ASSUMED):
        return abs(correction) <= LARGEST_ASSUMPTION * spread
    short = name.removeprefix(READING)
    kind = READINGS[short].kind
    if kind == "temperature":
        if short in DIAL_TEMPERATURES:
            return abs(correction) <= LARGEST_MISTAKE["saturation_temperature"]
        place = "line_temperature" if short.endswith("_temperature") else "air_temperature"
        low, high = COMMON_MISTAKES.get(short, ("", ""))
        cause = low if correction > 0.0 else high
        largest = LARGEST_MISTAKE[place] * (1.0 if cause else LARGEST_WITHOUT_CAUSE)
        return abs(correction) <= largest and _bulbs_in_order(visit, short, corrected)
    if short.endswith("relative_humidity"):
        return abs(correction) <= LARGEST_MISTAKE["relative_humidity"] and 0.0 <= corrected <= 1.0
    if corrected * value <= 0.0:
        return False
    factor = LARGEST_PRESSURE_FACTOR if kind == "pressure" else LARGEST_FACTOR
    return 1.0 / factor <= corrected / value <= factor


def _bulbs_in_order(visit: DrawnVisit, name: str, corrected: float) -> bool:
    """Whether a wet bulb stays under its dry bulb when one of the two is corrected."""
    side, found, part = name.rpartition("_air_")
    other = visit.readings.get(f"{side}_air_{'wet' if part == 'dry_bulb' else 'dry'}_bulb")
    if not found or part not in ("dry_bulb", "wet_bulb") or other is None:
        return True
    dry, wet = (corrected, other) if part == "dry_bulb" else (other, corrected)
    return wet <= dry + WET_BULB_EXCESS


def _listed(name: str) -> str:
    """The name under which an answer, and the list of common mistakes, knows a leaf."""
    if name.startswith(ASSUMED):
        return f"assumption: {name.removeprefix(ASSUMED).replace('_', ' ')}"
    return name.removeprefix(READING)


def _kind(name: str) -> str:
    """Kind of an error of a reading; what is assumed is a plain number."""
    if name.startswith(ASSUMED):
        return "ratio"
    kind = READINGS[name.removeprefix(READING)].kind
    return ERROR_KIND.get(kind, kind)


def _suspect(visit: Visit, one: Candidate) -> Suspect:
    kind = _kind(one.name)
    symbol = system_unit(kind, visit.system)
    return {
        "name": _listed(one.name),
        "correction": _short(one.size / conversion(kind, symbol).scale),
        "unit": symbol,
        "deviations": _short(one.deviations),
        "statistic": _short(one.statistic),
        "tells_apart": one.told_apart,
        "sentence": _explained(visit, one),
    }


def _explained(visit: Visit, one: Candidate) -> str:
    if one.name.startswith(ASSUMED):
        row = ASSUMPTIONS[one.name.removeprefix(ASSUMED)]
        return words.assumption_suspected(row, one.size, one.known)
    return words.reading_suspected(
        _listed(one.name).replace("_", " ").replace(".", " "),
        phrase(_kind(one.name), abs(one.size), visit.system),
        "low" if one.size > 0.0 else "high",
        abs(one.deviations),
        one.known,
        one.told_apart,
    )


def _sentence(visit: DrawnVisit, outcome: Outcome, suspects: list[Candidate], known: Sequence[str]) -> str:
    found = outcome.balances
    if outcome.consistent:
        return words.balances_hold(found.degrees, found.probability)
    text = words.balances_fail(found.degrees, found.probability, outcome.widened if outcome.applied else None)
    if known:
        return f"{text} {words.known_suspects(known)}"
    if not suspects:
        return f"{text} {words.NO_SUSPECT}"
    first = suspects[0]
    return f"{text} {words.first_suspect(_listed(first.name))} {_explained(visit, first)}"


@dataclass(frozen=True, slots=True)
class Beside:
    """Statistics shown next to the answer's own values: quantities as read or without a suspect,
    readings as reconciled.  ``rows`` are their places by name."""

    rows: Mapping[str, int]
    summary: Summary


def _changed(computed: Computed, summary: Summary, positions: Mapping[str, int]) -> list[str]:
    """Quantities that an answer shows before and after."""
    return [name for name in SHOWN if name in computed.concerned and summary.reliable[positions[name]]]


def beside(
    computed: Sequence[Computed],
    summary: Summary,
    positions: Mapping[str, int],
) -> list[Beside | None]:
    """The statistics shown next to the answers about visits of one kind; None where the balances change
    nothing.

    ``summary`` is theirs, with the rows at ``positions``.
    """
    found: list[Beside | None] = [None] * len(computed)
    alike: dict[tuple[tuple[str, ...], tuple[str, ...]], list[int]] = {}
    for place, one in enumerate(computed):
        if one.outcome is None:
            continue
        names = tuple(_changed(one, summary.of(place), positions))
        readings = tuple(one.outcome.readings)
        if names or readings:
            alike.setdefault((names, readings), []).append(place)
    for (names, readings), places in alike.items():
        first = computed[places[0]]
        assert first.outcome is not None
        masks = [first.masks[name] for name in names]
        masks += [first.masks[name] | first.outcome.touched for name in readings]
        stack = np.stack(
            [
                np.stack(
                    [
                        *(computed[place].as_read[name] for name in names),
                        *(outcome.readings[name] for name in readings),
                    ]
                )
                for place in places
                if (outcome := computed[place].outcome) is not None
            ]
        )
        inputs = block_inputs([computed[place].visit for place in places])
        own = summarise(stack, inputs, np.stack(masks))
        rows = {name: row for row, name in enumerate((*names, *readings))}
        for row, place in enumerate(places):
            found[place] = Beside(rows, own.of(row))
    return found


def _without(computed: Computed, names: list[str]) -> Beside:
    """Statistics of quantities derived without a suspect."""
    summary = summarise(
        np.stack([computed.shown[name] for name in names]),
        computed.visit.inputs,
        np.stack([computed.mask(name) for name in names]),
    )
    return Beside({name: row for row, name in enumerate(names)}, summary)


def _estimates(names: list[str], visit: DrawnVisit, beside: Beside) -> dict[str, Estimate]:
    """Value and band of each quantity that is reliable, in the caller's units, by name."""
    return {
        name: _estimate(QUANTITIES[name].kind, visit, beside.summary, beside.rows[name])
        for name in names
        if beside.summary.reliable[beside.rows[name]]
    }


def _estimate(kind: str, visit: DrawnVisit, summary: Summary, row: int, shift: float = 0.0) -> Estimate:
    """Value and band in the caller's unit; ``shift`` [SI] is added to each first."""
    unit = conversion(kind, system_unit(kind, visit.system))
    value, low, high = (
        float(f"{unit.from_si(float(part[row]) + shift):.7g}") for part in (summary.value, summary.low, summary.high)
    )
    return {"value": value, "band": {"low": low, "high": high, "coverage": COVERAGE}}


def _quantities(
    visit: DrawnVisit,
    names: list[str],
    summary: Summary,
    positions: dict[str, int],
    beside: Beside,
    without: Computed | None,
) -> dict[str, ReconciledQuantity]:
    as_read = _estimates(names, visit, beside)
    other: dict[str, Estimate] = {}
    if without is not None:
        left = [name for name in names if name in without.shown]
        if left:
            other = _estimates(left, visit, _without(without, left))
    return {
        name: {
            "unit": system_unit(QUANTITIES[name].kind, visit.system),
            "as_read": as_read[name],
            "reconciled": _estimate(QUANTITIES[name].kind, visit, summary, positions[name]),
            "without_suspect": other.get(name),
        }
        for name in names
        if name in as_read
    }


def _readings(visit: DrawnVisit, names: list[str], beside: Beside) -> dict[str, ReconciledReading]:
    answer: dict[str, ReconciledReading] = {}
    for name in names:
        short = name.removeprefix(READING)
        kind = READINGS[short].kind
        symbol = system_unit(kind, visit.system)
        read = visit.readings[short]
        # A pressure is kept absolute inside; the answer shows it as it was given.
        shift = read - float(visit.leaves[name][0])
        answer[short] = {
            "unit": symbol,
            "as_read": float(f"{conversion(kind, symbol).from_si(read):.7g}"),
            "reconciled": _estimate(kind, visit, beside.summary, beside.rows[name], shift),
        }
    return answer
