"""All readings of two visits in one likelihood: how the unit changed, at any conditions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.compare.evidence import Evidence, joint
from service.compare.unit_model import (
    CHANGES,
    INDEX,
    RUNS,
    Health,
    UnitModel,
    Weather,
)
from service.reference.unit_model import CAUSES, DRIFT
from service.uncertainty.least_squares import Fit, Prior, fit
from service.uncertainty.mixture import Averaged, Normals, average

FloatArray = NDArray[np.float64]

_CONDITION_OF = {
    "outdoor_air_dry_bulb": "outdoor",
    "return_air_dry_bulb": "dry_bulb",
    "return_air_wet_bulb": "wet_bulb",
    "supply_voltage": "voltage",
}
#: Weight of a condition's prior where the condition was read: next to none.
_READ_SPREAD = 8.0


@dataclass(frozen=True, slots=True)
class Fusion:
    """The fitted model of both visits."""

    model: UnitModel
    evidence: tuple[Evidence, Evidence]
    prior: Prior
    errors: FloatArray
    readings: FloatArray
    found: Fit
    averaged: Averaged
    start: FloatArray

    def shown(
        self, weather: Weather, health: Health, names: Sequence[str], logarithmic: Sequence[bool]
    ) -> tuple[FloatArray, FloatArray]:
        """Outputs (Q,) and their Jacobian (Q, P) at the solution."""
        outputs, _ = self.model.linear(
            self.found.parameters, self.prior.spread, weather, health, self.start
        )
        return _rows(outputs, names, logarithmic)

    def difference(
        self,
        first: tuple[Weather, Health],
        second: tuple[Weather, Health],
        names: Sequence[str],
        logarithmic: Sequence[bool],
    ) -> dict[str, Normals]:
        """Second less first state, as the readings leave it."""
        one, slopes_one = self.shown(*first, names, logarithmic)
        two, slopes_two = self.shown(*second, names, logarithmic)
        slopes = slopes_two - slopes_one
        return {
            name: self.averaged.of(float(value), gradient)
            for name, value, gradient in zip(names, two - one, slopes, strict=True)
        }


def fuse(model: UnitModel, before: Evidence, after: Evidence, *, rated: bool) -> Fusion | None:
    """Fit the unit model to both visits; None where it does not fit into the refrigerant's tables."""
    both = (before, after)
    slopes, variances = joint([e.slopes for e in both], [e.variables for e in both])
    errors = (slopes * variances) @ slopes.T + np.diag(np.concatenate([e.own for e in both]))
    readings = np.concatenate([e.values for e in both])
    given = {}
    for run, part in zip(RUNS, both, strict=True):
        for output, name in _CONDITION_OF.items():
            place = part.place(output)
            if place is not None:
                given[f"{name}_{run}"] = float(part.values[place])
    # A voltage counts against that of the first visit.
    level = next((given[f"voltage_{run}"] for run in RUNS if f"voltage_{run}" in given), 0.0)
    offsets = np.concatenate(
        [np.array([level * (f.output == "supply_voltage") for f in e.features]) for e in both]
    )
    readings = readings - offsets
    given = {n: v - level if n.startswith("voltage") else v for n, v in given.items()}
    prior = model.prior(given, rated=rated)
    spread = prior.spread.copy()
    for name in given:
        spread[INDEX[name]] *= 1.0 if name.startswith("voltage") else _READ_SPREAD
    prior = Prior(prior.mean, spread)
    state: dict[str, FloatArray | None] = {run: None for run in RUNS}

    def predict(parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        values, gradients = [], []
        for run, part in zip(RUNS, both, strict=True):
            begin = state[run]
            outputs, saturation = model.linear(parameters, prior.spread, run, run, begin)
            if np.isfinite(saturation).all():
                state[run] = saturation
            names = [f.output for f in part.features]
            rows = _rows(outputs, names, [f.logarithmic for f in part.features])
            values.append(rows[0])
            gradients.append(rows[1])
        return np.concatenate(values), np.concatenate(gradients)

    found = fit(predict, readings, errors, prior)
    begin = state["before"]
    if found is None or begin is None:
        return None
    return Fusion(model, both, prior, errors, readings, found, _averaged(found, prior), begin)


def _averaged(found: Fit, prior: Prior) -> Averaged:
    places = [INDEX[name] for name in CHANGES]
    drift = np.array([DRIFT[name] for name in CHANGES])
    causes = {}
    for cause in CAUSES.values():
        spread = drift.copy()
        for name, value in cause.changes.items():
            spread[CHANGES.index(name)] = value
        causes[cause.name] = (cause.prior, spread**2)
    return average(
        found.parameters, found.covariance, places, prior.spread[places] ** 2, causes
    )


def _rows(
    outputs: dict[str, FloatArray], names: Sequence[str], logarithmic: Sequence[bool]
) -> tuple[FloatArray, FloatArray]:
    """Values (Q,) and gradients (Q, P), of logarithms where wanted."""
    stack = np.stack([outputs[name] for name in names])
    log = np.asarray(logarithmic, dtype=bool)
    with np.errstate(invalid="ignore", divide="ignore"):
        values = np.where(log, np.log(stack[:, 0]), stack[:, 0])
        gradients = np.where(log[:, None], stack[:, 1:] / stack[:, :1], stack[:, 1:])
    return values, gradients
