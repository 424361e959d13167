"""All hypotheses as an answer: signatures by metering device, and what they do to a usual unit."""

from __future__ import annotations

from functools import cache

import numpy as np

from schemas.catalogues import FaultAnswer, FaultList
from service.physics.refrigerant_enthalpy import single_phase
from service.reference.faults import FAULTS, FOUND, LOOK_ALIKE, SIGNATURE_SPREAD, Fault
from service.reference.faults_by_mode import IN_MODE
from service.reference.metering_devices import EXPANSION_VALVES, FIXED_DEVICES
from service.reference.model_outputs import outputs_of
from service.reference.site import STANDARD_PRESSURE
from service.reference.sources import source
from service.unit.layout import LAYOUTS, RUNS
from service.unit.model import LEFT, UnitModel

_USUAL = "R-410A"


@cache
def faults() -> FaultList:
    """All hypotheses with their signatures, SI units."""
    rows = [_fault(row) for row in FAULTS.values()]
    return {
        "rows": rows,
        "faults": rows,
        "spread": SIGNATURE_SPREAD,
        "found_from": FOUND,
    }


def _fault(row: Fault) -> FaultAnswer:
    alike = [name for group in LOOK_ALIKE if row.id in group for name in sorted(group - {row.id})]
    pairs = [pair for of in IN_MODE.values() for pair in of.pairs if row.id in pair]
    together = list(dict.fromkeys(other for pair in pairs for other in pair if other != row.id))
    rows = [(mode, of.faults[row.id]) for mode, of in IN_MODE.items() if row.id in of.faults]
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
                "mode": LAYOUTS[mode].mode,
                "levels": [
                    {
                        "level": one.level,
                        "changes": {k: round(v, 4) for k, v in getattr(one, side).items()},
                        "readings": _readings(tuple(sorted(getattr(one, side).items())), side, mode),
                    }
                    for one in form.levels
                ],
            }
            for mode, own in rows
            for form in own.forms
            for side, devices in (("valve", EXPANSION_VALVES), ("fixed", FIXED_DEVICES))
        ],
        "limits": list(row.limits),
        "tells_apart": row.separate,
        "look_alikes": alike,
        "together_with": together,
        "steps": list(dict.fromkeys(step.text for _, own in rows for step in own.steps)),
        "source": source(row.source),
    }


@cache
def _model(side: str, mode: str) -> UnitModel:
    device = EXPANSION_VALVES[0] if side == "valve" else FIXED_DEVICES[0]
    return UnitModel.of(single_phase(_USUAL), device, STANDARD_PRESSURE, None, mode=LAYOUTS[mode].mode)


def _readings(changes: tuple[tuple[str, float], ...], side: str, mode: str) -> dict[str, float]:
    """What the changes do to a usual unit at rating conditions: K, or shares."""
    model = _model(side, mode)
    layout = model.layout
    conditions = {f"{name}_{run}": value for name, value in layout.ratings["rating"].items() for run in RUNS}
    prior = model.prior(conditions, rated=True)
    steps = np.sqrt(np.diagonal(prior.covariance))
    moved = prior.mean.copy()
    for name, value in changes:
        if name in layout.changes:
            moved[layout.index[name]] = value
    signature = [(row.name, row.logarithmic) for row in outputs_of(mode) if row.signature]
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
