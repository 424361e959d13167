"""Readings that do not fit each other: one grossly wrong, another refrigerant than stated, or none known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.readings import READINGS
from service.assess.intake import Visit
from service.assess.paths import PHASES, READING
from service.assess.pipeline import Examined
from service.faults.expectation import Expectation
from service.faults.hypotheses import components
from service.faults.inference import density, shifted
from service.physics.refrigerant import saturation_curves
from service.physics.refrigerant_enthalpy import SinglePhase
from service.reference.faults import (
    CONFUSED,
    FAULTS,
    GROSS,
    MISTAKEN_REFRIGERANT,
    UNKNOWN_KELVINS,
    UNKNOWN_RELATIVE,
)
from service.reference.refrigerants import REFRIGERANTS
from service.uncertainty.propagation import slopes_of

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Mistake:
    """One way for readings to mislead: whose, logarithms of its prior and of the readings' density."""

    fault: str
    culprit: str
    prior: float
    evidence: float


def mistakes(expected: Expectation, visit: Examined) -> list[Mistake]:
    """All of them, on the scale of :func:`service.faults.inference.weigh`."""
    drift = components(expected.model.device, expected.basis == "baseline").covariances[0]
    sound = expected.spread + expected.changes @ drift @ expected.changes.T
    prior = FAULTS["measurement_mistake"].prior
    found = []
    gross = list(_gross(expected, visit.visit))
    others = list(_other_refrigerants(expected, visit))
    alone = prior * (1.0 - MISTAKEN_REFRIGERANT if others else 1.0)
    for name, move in gross:
        chance = alone / len(gross)
        wrong = sound + np.outer(move, move)
        found.append(
            Mistake(
                "measurement_mistake", READING + name, float(np.log(chance)),
                density(expected.rest, wrong, expected.spread),
            )
        )  # fmt: skip
    for name, shift in others:
        chance = prior * MISTAKEN_REFRIGERANT / len(others)
        found.append(
            Mistake(
                "measurement_mistake", name, float(np.log(chance)),
                shifted(expected.rest, shift, sound, expected.spread),
            )
        )  # fmt: skip
    unknown = sound + np.diag(
        [
            (UNKNOWN_RELATIVE if row.logarithmic else UNKNOWN_KELVINS) ** 2
            if row.weather == "after"
            else 0.0
            for row in expected.rows
        ]
    )
    found.append(
        Mistake(
            "none_of_these", "", float(np.log(FAULTS["none_of_these"].prior)),
            density(expected.rest, unknown, expected.spread),
        )
    )  # fmt: skip
    return found


def _gross(expected: Expectation, visit: Visit) -> Iterator[tuple[str, FloatArray]]:
    """For each reading of the visit that the model sees: how one gross mistake would move the rows (M,)."""
    own = expected.of_the_visit()
    slopes = expected.parts[1].slopes
    for name in visit.readings:
        spec = READINGS.get(name)
        places = [
            place for place in visit.leaf_variables.get(READING + name, ())
            if visit.variables[place].variance > 0.0
        ]  # fmt: skip
        if spec is None or spec.kind not in GROSS or not places:
            continue
        leaf = np.asarray(visit.leaves[READING + name])
        if leaf.ndim != 1:
            continue
        mask = np.zeros((1, len(visit.variables)), dtype=bool)
        mask[0, places] = True
        of_leaf = slopes_of(leaf[None, :], visit.variables, mask)[0]
        place = max(places, key=lambda one: abs(float(of_leaf[one])))
        if of_leaf[place] == 0.0:
            continue
        size = GROSS[spec.kind]
        if spec.kind not in ("temperature", "fraction"):
            size *= abs(float(leaf[0]))
        move = np.zeros(len(expected.rows))
        move[own] = slopes[:, place] / of_leaf[place] * size
        if np.abs(move).max() > 0.0:
            yield name, move


def _other_refrigerants(expected: Expectation, visit: Examined) -> Iterator[tuple[str, FloatArray]]:
    """How far the rows would move, were the circuit filled with a refrigerant that is taken for this."""
    stated = visit.visit.refrigerant
    if stated is None:
        return
    phases = visit.visit.leaves[PHASES]
    assert isinstance(phases, SinglePhase)
    values = {row.output: expected.readings[place]
              for place, row in enumerate(expected.rows) if row.weather == "after"}  # fmt: skip
    for other in CONFUSED.get(stated.designation, ()):
        if other not in REFRIGERANTS:
            continue
        curves = saturation_curves(other)
        shifts: dict[str, float] = {}
        for output, read, of, to in (
            ("suction_saturation_temperature", phases.curves.dew_pressure,
             curves.dew_temperature, "superheat"),
            ("liquid_saturation_temperature", phases.curves.bubble_pressure,
             curves.bubble_temperature, "subcooling"),
        ):  # fmt: skip
            if output not in values:
                continue
            pressure = read(np.array([values[output]]))
            change = float(of(pressure)[0]) - values[output]
            shifts[output] = change
            # Superheat is read over saturation, subcooling under it.
            shifts[to] = -change if to == "superheat" else change
        move = np.array(
            [shifts.get(row.output, 0.0) if row.weather == "after" else 0.0
             for row in expected.rows]
        )  # fmt: skip
        if np.isfinite(move).all() and np.abs(move).max() > 0.0:
            yield other, move
