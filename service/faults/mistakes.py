"""Readings that do not fit each other: one grossly wrong, another refrigerant than stated, or none known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite, log, nan

import numpy as np
from numpy.typing import NDArray

from schemas.readings import READINGS
from service.derive.draws import DrawnVisit
from service.derive.examined import Examined
from service.faults.expectation import Expectation
from service.faults.hypotheses import components
from service.faults.inference import density
from service.intake.paths import PHASES, READING
from service.physics.refrigerant import saturation_curves
from service.physics.refrigerant_enthalpy import SinglePhase, single_phase
from service.reference.faults import (
    COMPRESSION_WORK,
    CONFUSED,
    FAULTS,
    GROSS,
    LARGEST_MISTAKE,
    MISTAKEN_REFRIGERANT,
    UNKNOWN_KELVINS,
    UNKNOWN_RELATIVE,
    UNLIKE_KELVINS,
    UNLIKE_RELATIVE,
)
from service.reference.faults_by_mode import IN_MODE
from service.reference.model_outputs import CONDITIONS
from service.reference.refrigerants import REFRIGERANTS
from service.reference.settling import SETTLING
from service.uncertainty.normal import cumulative
from service.uncertainty.propagation import slopes_of
from service.unit.model import SECOND_RUN
from service.unit.predictor import Row

FloatArray = NDArray[np.float64]


#: Probability under which a mistake is out of the question.
_LEAST = 1e-9


@dataclass(frozen=True, slots=True)
class Mistake:
    """One way for readings to mislead: whose, logarithms of its prior and of the readings' density.

    ``size`` is how far off the reading would have to be, in the deviations of :data:`GROSS`; zero where it
    is no single reading.
    """

    fault: str
    culprit: str
    prior: float
    evidence: float
    size: float = 0.0

    @property
    def credible(self) -> bool:
        """Whether an instrument can be that far off."""
        return abs(self.size) <= LARGEST_MISTAKE


def mistakes(expected: Expectation, visit: Examined) -> list[Mistake]:
    """All of them, on the scale of :func:`service.faults.inference.weigh`."""
    drift = np.diag(components(expected.model.device, expected.basis == "baseline", expected.model.mode).variances[0])
    sound = expected.spread + expected.changes @ drift @ expected.changes.T
    # Another refrigerant moves capacity, power and discharge by what is not modelled here.
    unlike = np.diag([_unlike(row) ** 2 for row in expected.rows])
    unknown = np.diag([_unknown(row) ** 2 for row in expected.rows])
    hypotheses = IN_MODE[expected.model.mode]
    prior = hypotheses.faults["measurement_mistake"].prior
    gross = list(_gross(expected, visit.visit))
    others = list(_other_refrigerants(expected, visit))
    of_readings = prior * (1.0 - MISTAKEN_REFRIGERANT if others else 1.0)
    often = {name: hypotheses.often_wrong.get(name, 1.0) for name, _ in gross}
    still = np.zeros(len(expected.rows))
    # Of each: whose, its probability beforehand, covariance and shift of the rows.
    ways = [
        *(
            (
                "measurement_mistake",
                READING + name,
                of_readings * often[name] / sum(often.values()),
                sound + np.outer(move, move),
                still,
            )
            for name, move in gross
        ),
        *(
            ("measurement_mistake", name, prior * MISTAKEN_REFRIGERANT / len(others), sound + unlike, shift)
            for name, shift in others
        ),
        ("none_of_these", "", FAULTS["none_of_these"].prior, sound + unknown, still),
    ]
    faults, culprits, chances, spreads, shifts = zip(*ways, strict=True)
    told = density(expected.rest, np.stack(spreads), expected.spread, np.stack(shifts))
    sizes = {READING + name: _size(expected.rest, sound, move) for name, move in gross}
    for place, (name, move) in enumerate(gross):
        if name in hypotheses.reads_high:
            told[place] += _above(sizes[READING + name], sound, move)
    return [
        Mistake(fault, culprit, log(chance), evidence, sizes.get(culprit, 0.0))
        for fault, culprit, chance, evidence in zip(faults, culprits, chances, told.tolist(), strict=True)
    ]


def _size(rest: FloatArray, spread: FloatArray, move: FloatArray) -> float:
    """How large a mistake explains the readings best, its own size (a standard deviation of one) counted."""
    gain = np.linalg.solve(spread, move)
    return float(gain @ rest / (1.0 + gain @ move))


def _above(size: float, spread: FloatArray, move: FloatArray) -> float:
    """Logarithm of how much more probable the readings are of a mistake that is never negative, than of one of either
    sign; ``size`` is the one that explains them best."""
    left = 1.0 / np.sqrt(1.0 + float(move @ np.linalg.solve(spread, move)))
    return float(np.log(2.0 * max(float(cumulative(size / left)), _LEAST)))


def _unknown(row: Row) -> float:
    if row.state != SECOND_RUN:
        return 0.0
    return UNKNOWN_RELATIVE if row.logarithmic else UNKNOWN_KELVINS


def _unlike(row: Row) -> float:
    if row.state != SECOND_RUN or row.output in CONDITIONS:
        return 0.0
    return UNLIKE_RELATIVE if row.logarithmic else UNLIKE_KELVINS.get(row.output, 0.0)


def _gross(expected: Expectation, visit: DrawnVisit) -> Iterator[tuple[str, FloatArray]]:
    """For each reading of the visit that the model sees: how one gross mistake would move the rows (M,)."""
    read = expected.parts[1]
    own = [*expected.of_the_visit(), *expected.of_the_table()]
    slopes = np.concatenate([read.slopes, read.table.slopes]) if read.table.columns else read.slopes
    behind = {name: _behind(visit, name) for name in visit.readings}
    names = [name for name, places in behind.items() if places]
    if not names:
        return
    mask = np.zeros((len(names), len(visit.variables)), dtype=bool)
    for row, name in zip(mask, names, strict=True):
        row[behind[name]] = True
    leaves = np.stack([visit.leaves[READING + name] for name in names])
    for name, leaf, of_leaf in zip(names, leaves, slopes_of(leaves, visit.inputs, mask), strict=True):
        place = max(behind[name], key=lambda one: abs(float(of_leaf[one])))
        if of_leaf[place] == 0.0:
            continue
        kind = READINGS[name].kind
        size = GROSS[kind]
        if kind not in ("temperature", "fraction"):
            size *= abs(float(leaf[0]))
        move = np.zeros(len(expected.rows))
        move[own] = slopes[:, place] / of_leaf[place] * size
        if np.abs(move).max() > 0.0:
            yield name, move


def _behind(visit: DrawnVisit, name: str) -> list[int]:
    """Variables that make a reading err by itself; none of one that no gross mistake is modelled for."""
    spec = READINGS.get(name)
    if spec is None or spec.kind not in GROSS:
        return []
    return [
        place
        for place in visit.leaf_variables.get(READING + name, ())
        if visit.variables[place].variance > 0.0 and visit.variables[place].owner != SETTLING
    ]


def _other_refrigerants(expected: Expectation, visit: Examined) -> Iterator[tuple[str, FloatArray]]:
    """How far the rows would move, were the circuit filled with a refrigerant that is taken for this."""
    stated = visit.visit.refrigerant
    if stated is None:
        return
    phases = visit.visit.leaves[PHASES]
    assert isinstance(phases, SinglePhase)
    values = {
        row.output: expected.readings[place] for place, row in enumerate(expected.rows) if row.state == SECOND_RUN
    }
    compressed = {
        "suction_saturation_temperature",
        "liquid_saturation_temperature",
        "superheat",
        "discharge_temperature",
    } <= values.keys()
    usual = _discharge(phases, values, phases) if compressed else nan
    for other in CONFUSED.get(stated.designation, ()):
        if other not in REFRIGERANTS:
            continue
        curves = saturation_curves(other)
        shifts: dict[str, float] = {}
        for output, read, of, to in (
            ("suction_saturation_temperature", phases.curves.dew_pressure, curves.dew_temperature, "superheat"),
            ("liquid_saturation_temperature", phases.curves.bubble_pressure, curves.bubble_temperature, "subcooling"),
        ):
            if output not in values:
                continue
            pressure = read(np.array([values[output]]))
            change = float(of(pressure)[0]) - values[output]
            shifts[output] = change
            # Superheat is read over saturation, subcooling under it.
            shifts[to] = -change if to == "superheat" else change
        if isfinite(usual):
            # The same compression heats another gas to another temperature.
            its = _discharge(single_phase(other), values, phases)
            if isfinite(its):
                shifts["discharge_temperature"] = usual - its
        move = np.array([shifts.get(row.output, 0.0) if row.state == SECOND_RUN else 0.0 for row in expected.rows])
        if np.isfinite(move).all() and np.abs(move).max() > 0.0:
            yield other, move


def _discharge(gas: SinglePhase, values: Mapping[str, float], stated: SinglePhase) -> float:
    """Temperature [K] after a usual compression of a gas between the pressures that were read."""
    suction, liquid = (values[f"{side}_saturation_temperature"] for side in ("suction", "liquid"))
    low = stated.curves.dew_pressure(np.array([suction]))
    high = stated.curves.bubble_pressure(np.array([liquid]))
    inlet = gas.vapour(low, np.array([suction + values["superheat"]]))
    ideal = gas.enthalpy_at_entropy(high, inlet.entropy)
    hot = inlet.enthalpy + (ideal - inlet.enthalpy) * COMPRESSION_WORK
    grid = gas.curves.dew_temperature(high) + np.linspace(0.0, 80.0, 81)
    along = gas.vapour_enthalpy(np.full(81, high[0]), grid)
    known = np.isfinite(along)
    if not known.any() or not np.isfinite(hot[0]):
        return float("nan")
    return float(np.interp(hot[0], along[known], grid[known]))
