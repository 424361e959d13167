"""All hypotheses as an answer: signatures by metering device, and what they do to a usual unit."""

from __future__ import annotations

from functools import cache

import numpy as np

from schemas.catalogues import FaultAnswer, FaultList
from service.physics.refrigerant_enthalpy import single_phase
from service.reference.faults import FAULTS, FOUND, LOOK_ALIKE, PAIRS, SIGNATURE_SPREAD, Fault
from service.reference.metering_devices import EXPANSION_VALVES, FIXED_DEVICES
from service.reference.model_outputs import OUTPUTS
from service.reference.performance_maps import RATING_CONDITIONS
from service.reference.site import STANDARD_PRESSURE
from service.reference.sources import source
from service.unit.model import CHANGES, INDEX, LEFT, RUNS, UnitModel

_USUAL = "R-410A"


@cache
def faults() -> FaultList:
    """All hypotheses with their signatures, SI units."""
    return {
        "faults": [_fault(row) for row in FAULTS.values()],
        "spread": SIGNATURE_SPREAD,
        "found_from": FOUND,
    }


def _fault(row: Fault) -> FaultAnswer:
    alike = [name for group in LOOK_ALIKE if row.id in group for name in sorted(group - {row.id})]
    together = [other for pair in PAIRS if row.id in pair for other in pair if other != row.id]
    return {
        "id": row.id,
        "text": row.text,
        "shown": row.shown,
        "prior": row.prior,
        "level_text": row.level_text,
        "level_unit": row.unit,
        "forms": [
            {
                "name": form.name,
                "metering_devices": list(devices),
                "levels": [
                    {
                        "level": one.level,
                        "changes": {k: round(v, 4) for k, v in getattr(one, side).items()},
                        "readings": _readings(tuple(sorted(getattr(one, side).items())), side),
                    }
                    for one in form.levels
                ],
            }
            for form in row.forms
            for side, devices in (("valve", EXPANSION_VALVES), ("fixed", FIXED_DEVICES))
        ],
        "limits": list(row.limits),
        "tells_apart": row.separate,
        "look_alikes": alike,
        "together_with": together,
        "steps": [step.text for step in row.steps],
        "source": source(row.source),
    }


@cache
def _model(side: str) -> UnitModel:
    device = EXPANSION_VALVES[0] if side == "valve" else FIXED_DEVICES[0]
    return UnitModel.of(single_phase(_USUAL), device, STANDARD_PRESSURE, None)


def _readings(changes: tuple[tuple[str, float], ...], side: str) -> dict[str, float]:
    """What the changes do to a usual unit at rating conditions: K, or shares."""
    model = _model(side)
    conditions = {f"{name}_{run}": value for name, value in RATING_CONDITIONS.items() for run in RUNS}
    prior = model.prior(conditions, rated=True)
    steps = np.sqrt(np.diagonal(prior.covariance))
    moved = prior.mean.copy()
    for name, value in changes:
        if name in CHANGES:
            moved[INDEX[name]] = value
    signature = [(row.name, row.logarithmic) for row in OUTPUTS.values() if row.signature]
    (sound, found), _ = model.linear(np.stack([prior.mean, moved]), steps, [LEFT, LEFT])
    return {
        name: round(
            float(found[name][0] / sound[name][0] - 1.0) if relative else float(found[name][0] - sound[name][0]),
            3,
        )
        + 0.0
        for name, relative in signature
        # Far gone, some values have no state in the refrigerant's tables.
        if np.isfinite(found[name][0])
    }
