"""The assessment, as one readable page.

readings -> intake (SI, draws) -> impossible? -> derived -> usable? -> findings -> answer
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest
from service.assess import cautions, findings, usability
from service.assess.derivations import QUANTITIES, Derivation
from service.assess.findings import Graded, applies
from service.assess.intake import CURVES, READING, SITE_PRESSURE, Visit, take_in
from service.assess.resolver import plan, unlocks
from service.reference.refrigerants import Refrigerant
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.reference.versions import COOLPROP_VERSION, SERVICE_VERSION
from service.uncertainty.propagation import COVERAGE, Summary, gather, summarise

FloatArray = NDArray[np.float64]

_METHOD = (
    "Propagation of distributions (JCGM 101:2008) on a scrambled Sobol' sample; bands are "
    "probabilistically symmetric; instruments' calibration errors are shared by their readings"
)


def assess(request: AssessmentRequest) -> dict[str, Any]:
    """One visit in, its graded assessment out.

    Raises
    ------
    service.assess.refusals.RefusedError
        If the request holds something impossible.
    """
    visit = take_in(request)
    usability.refuse_impossible(request, visit)
    given = frozenset(visit.leaves)
    steps = plan(given, request.unit.mode)
    values, depends = derive(visit, steps)
    names, summary, shares = _statistics(values, visit, depends)
    positions = {name: position for position, name in enumerate(names)}
    kept = {
        name: positions[name]
        for name, quantity in QUANTITIES.items()
        if name in positions and summary.reliable[positions[name]] and applies(quantity, request)
    }
    notices = usability.check(usability.Case(request, visit, values))
    missing = _missing(request, given, kept, values)
    graded = {
        name: Graded(
            values[name],
            float(summary.low[position]),
            float(summary.high[position]),
            next(iter(shares[position]), None),
        )
        for name, position in kept.items()
    }
    absent = {row["quantity"]: row["reason"] for row in missing}
    by_quantity = {step.quantity: step for step in steps}
    return {
        "units": request.units,
        "usability": usability.usability_answer(notices),
        "derived": {
            name: _derived(
                name, position, summary, by_quantity[name], depends[name], shares[position], visit
            )
            for name, position in kept.items()
        },
        "findings": findings.find(request, visit, graded, absent, usability.stopped(notices)),
        "cautions": cautions.raised(request, visit),
        "missing": missing,
        "instruments": _instruments(visit),
        "provenance": {
            "service": SERVICE_VERSION,
            "refrigerant_model": _model(visit.refrigerant),
            "draws": visit.sample.draws,
            "method": _METHOD,
        },
    }


def derive(
    visit: Visit, steps: tuple[Derivation, ...]
) -> tuple[dict[str, FloatArray], dict[str, tuple[str, ...]]]:
    """Run the derivations.

    Returns
    -------
    values : dict
        Draws of each quantity, shape (N + 1,), nominal first.
    depends : dict
        The leaves (request paths) that each quantity came from.
    """
    known: dict[str, Any] = dict(visit.leaves)
    leaves: dict[str, tuple[str, ...]] = {name: (name,) for name in visit.leaves}
    values: dict[str, FloatArray] = {}
    width = visit.sample.draws + 1
    for step in steps:
        value = np.asarray(step.compute(*(known[need] for need in step.needs)), dtype=np.float64)
        if value.ndim == 0:
            value = np.full(width, float(value))
        known[step.quantity] = values[step.quantity] = value
        leaves[step.quantity] = tuple(
            dict.fromkeys(leaf for need in step.needs for leaf in leaves[need])
        )
    return values, {name: leaves[name] for name in values}


def _statistics(
    values: Mapping[str, FloatArray], visit: Visit, depends: Mapping[str, tuple[str, ...]]
) -> tuple[list[str], Summary, list[dict[str, float]]]:
    """Names, statistics, and for each quantity the share of variance by instrument."""
    names = list(values)
    stack = np.empty((len(names), visit.sample.draws + 1))
    mask = np.zeros((len(names), len(visit.variables)), dtype=bool)
    for row, used, name in zip(stack, mask, names, strict=True):
        row[:] = values[name]
        for leaf in depends[name]:
            used[list(visit.leaf_variables.get(leaf, ()))] = True
    if not visit.variables:
        return names, summarise(stack), [{} for _ in names]
    summary = summarise(stack, gather(list(visit.variables), visit.sample), mask)
    labels = list(dict.fromkeys(visit.variables.values()))
    owners = np.array([[owner == label for label in labels] for owner in visit.variables.values()])
    by_owner = summary.variance_by_variable @ owners
    total = by_owner.sum(axis=1, keepdims=True)
    shares = np.divide(by_owner, total, out=np.zeros_like(by_owner), where=total > 0)
    return names, summary, [_by_size(row, labels) for row in shares.tolist()]


def _by_size(row: list[float], labels: list[str]) -> dict[str, float]:
    """Shares worth a word, largest first."""
    pairs = [(share, label) for share, label in zip(row, labels, strict=True) if share >= 5e-4]
    pairs.sort(key=lambda pair: (-pair[0], pair[1]))
    return {label: float(f"{share:.3g}") for share, label in pairs}


def _derived(
    name: str,
    position: int,
    summary: Summary,
    step: Derivation,
    leaves: tuple[str, ...],
    shares: dict[str, float],
    visit: Visit,
) -> dict[str, Any]:
    symbol = system_unit(QUANTITIES[name].kind, visit.system)
    unit = conversion(QUANTITIES[name].kind, symbol)
    shown = dict.fromkeys(shown for leaf in leaves for shown in visit.depends[leaf])
    return {
        "value": _rounded(unit.from_si(float(summary.value[position]))),
        "unit": symbol,
        "standard_uncertainty": _rounded(
            float(summary.standard_uncertainty[position]) / unit.scale
        ),
        "band": {
            "low": _rounded(unit.from_si(float(summary.low[position]))),
            "high": _rounded(unit.from_si(float(summary.high[position]))),
            "coverage": COVERAGE,
        },
        "from": list(shown),
        "variance_shares": shares,
        "method": step.method,
        "source": source(step.source),
    }


def _rounded(value: float) -> float:
    """Seven significant digits: far below any uncertainty, and free of conversion dust."""
    return float(f"{value:.7g}")


def _missing(
    request: AssessmentRequest,
    given: frozenset[str],
    kept: Mapping[str, int],
    values: Mapping[str, FloatArray],
) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    for name, quantity in QUANTITIES.items():
        if name in kept or not applies(quantity, request):
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
        ways = unlocks(name, given, request.unit.mode)
        if not ways:
            continue
        rows.append(
            {
                "quantity": name,
                "reason": _reason(name, ways[0], given),
                "unlock": [{"add": list(way)} for way in ways],
            }
        )
    return rows


def _reason(name: str, way: tuple[str, ...], given: frozenset[str]) -> str:
    needed = " and ".join(path.removeprefix(READING) for path in way)
    reason = f"Needs {needed}."
    if name in ("compressor_current", "compressor_apparent_power", "compressor_current_share") and (
        READING + "compressor_start_winding_current" in given
        and READING + "compressor_common_current" not in given
    ):
        reason += (
            " The start-winding current that was given is the capacitor's current, not the "
            "compressor's draw, and cannot stand in for it."
        )
    return reason


def _instruments(visit: Visit) -> dict[str, Any]:
    answer = {}
    for name, used in visit.instruments.items():
        symbol = system_unit(used.kind, visit.system)
        answer[name] = {
            "instrument": used.name,
            "type": used.type,
            "standard_uncertainty": _rounded(
                used.standard_uncertainty / conversion(used.kind, symbol).scale
            ),
            "unit": symbol,
            "source": used.source if " " in used.source else source(used.source),
        }
    return answer


def _model(refrigerant: Refrigerant | None) -> str | None:
    return None if refrigerant is None else f"CoolProp {COOLPROP_VERSION}: {refrigerant.model}"


__all__ = ["CURVES", "SITE_PRESSURE", "assess", "derive"]
