"""Readings that do not fit each other: one grossly wrong, another refrigerant than stated, or none known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.readings import READINGS
from service.assess.intake import Visit
from service.assess.paths import PHASES, READING
from service.assess.pipeline import Examined
from service.compare.evidence import OF_THE_VISIT
from service.compare.predictor import Row
from service.faults.expectation import Expectation
from service.faults.hypotheses import components
from service.faults.inference import density
from service.physics.refrigerant import saturation_curves
from service.physics.refrigerant_enthalpy import SinglePhase, single_phase
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

#: Work that heats the gas, over the ideal: a usual compressor less what its shell loses.
_WORK = 1.42
#: What is not known of a circuit with another refrigerant: [K], and relative.
_UNLIKE = {"discharge_temperature": 5.0, "temperature_split": 1.0}
_UNLIKE_RELATIVE = 0.08


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
    # Another refrigerant moves capacity, power and discharge by what is not reckoned here.
    unlike = np.diag([_unlike(row) ** 2 for row in expected.rows])
    for name, shift in others:
        chance = prior * MISTAKEN_REFRIGERANT / len(others)
        found.append(
            Mistake(
                "measurement_mistake", name, float(np.log(chance)),
                density(expected.rest, sound + unlike, expected.spread, shift),
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


def _unlike(row: Row) -> float:
    if row.weather != "after" or row.output in OF_THE_VISIT:
        return 0.0
    return _UNLIKE_RELATIVE if row.logarithmic else _UNLIKE.get(row.output, 0.0)


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
        of_leaf = slopes_of(leaf[None, :], visit.inputs, mask)[0]
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
        if "discharge_temperature" in values and {
            "suction_saturation_temperature", "liquid_saturation_temperature", "superheat",
        } <= values.keys():  # fmt: skip
            # The same compression heats another gas to another temperature.
            own, its = (_discharge(one, values, phases) for one in (phases, single_phase(other)))
            if np.isfinite(own) and np.isfinite(its):
                shifts["discharge_temperature"] = own - its
        move = np.array(
            [shifts.get(row.output, 0.0) if row.weather == "after" else 0.0
             for row in expected.rows]
        )  # fmt: skip
        if np.isfinite(move).all() and np.abs(move).max() > 0.0:
            yield other, move


def _discharge(gas: SinglePhase, values: Mapping[str, float], stated: SinglePhase) -> float:
    """Temperature [K] after a usual compression of a gas between the pressures that were read."""
    suction, liquid = (values[f"{side}_saturation_temperature"] for side in ("suction", "liquid"))
    low = stated.curves.dew_pressure(np.array([suction]))
    high = stated.curves.bubble_pressure(np.array([liquid]))
    inlet = gas.vapour(low, np.array([suction + values["superheat"]]))
    ideal = gas.enthalpy_at_entropy(high, inlet.entropy)
    hot = inlet.enthalpy + (ideal - inlet.enthalpy) * _WORK
    grid = gas.curves.dew_temperature(high) + np.linspace(0.0, 80.0, 81)
    along = gas.vapour_enthalpy(np.full(81, high[0]), grid)
    known = np.isfinite(along)
    if not known.any() or not np.isfinite(hot[0]):
        return float("nan")
    return float(np.interp(hot[0], along[known], grid[known]))
