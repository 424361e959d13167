"""What a healthy unit would show under a visit's conditions, and how a fault would move it.

The lumped cycle model of the comparisons, with the spreads of healthy units: about the unit's own baseline
run where there is one, its rating and nameplate where they are known, and its class otherwise.  A healthy
unit is fitted to all but the visit's own readings of it, which tells what it would show; and the unit with
any change allowed to all readings, about which point hypotheses are weighed as a linear problem.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from service.derive.examined import Derived, Examined
from service.derive.rated_efficiency import Rating, rated_efficiency, rating
from service.intake.line_set import superheat_of_lines
from service.intake.paths import FULL_STAGE_SUBCOOLING, NAMEPLATE, PHASES, RATED, SHARE_OF_FULL, SITE_PRESSURE
from service.physics.charge_targets import target_superheat
from service.reference.assumptions import ASSUMPTIONS
from service.reference.capacity_control import EFFICIENCY_OF_SHARE, SET_BY_ITSELF, TARGET_RUNNING, Running
from service.reference.healthy_units import (
    COOL_OUTDOOR,
    DUCTLESS,
    HEALTHY,
    HEALTHY_MEANS,
    LEAST_TARGET,
    OF_THE_RATING,
    RATED_CAPACITY,
    RATED_SIZE,
    STAGED_EFFICIENCY,
    STARVED_IN_COOL,
    SUBCOOLING_OF_TARGET,
    SUPERHEAT_OF_TARGET,
    USUAL_EFFICIENCY,
    VALVE_SUPERHEAT,
)
from service.reference.metering_devices import EXPANSION_VALVES, FIXED_DEVICES
from service.reference.model_outputs import AIR_CONDITIONS, CONDITIONS
from service.reference.performance_maps import RATING_CONDITIONS
from service.reference.unit_model import PARAMETERS
from service.uncertainty.least_squares import Fit, Prior, fit
from service.unit.evidence import Evidence, as_pair, joint_errors, relative
from service.unit.model import (
    CHANGES,
    FOUND_AT_RATING,
    INDEX,
    LIQUID_START,
    PLACES,
    RUNS,
    SUCTION_START,
    Health,
    Outputs,
    Pairing,
    UnitModel,
    freed,
)
from service.unit.predictor import Predictor, Row

FloatArray = NDArray[np.float64]
Basis = Literal["baseline", "rating", "class"]

#: How much freer a change is where only the point is sought about which hypotheses are weighed, so that it
#: also reaches a unit that is far gone.
FREE = 4.0
#: Spread of a condition that is known beforehand [K, 1]: next to none.
_PINNED = 0.01


@dataclass(frozen=True, slots=True)
class Expectation:
    """The visit as a linear problem about the fitted point: M rows, P parameters, C changes.

    ``fitted`` is the unit with any change allowed, ``sound`` a healthy one fitted to all but the visit's own
    readings of it.  ``rest`` (M,) are readings less what a healthy unit would show; ``spread`` (M, M) is the
    covariance of that for a healthy unit (its kind, its conditions, the instruments); ``changes`` (M, C) how
    the rows follow the changes; all about ``fitted``.
    """

    basis: Basis
    model: UnitModel
    rows: tuple[Row, ...]
    readings: FloatArray
    errors: FloatArray
    prior: Prior
    steps: FloatArray
    fitted: Fit
    starts: dict[Pairing, FloatArray]
    sound: Fit
    parts: tuple[Evidence, Evidence]
    rest: FloatArray
    spread: FloatArray
    changes: FloatArray
    known: dict[Pairing, Outputs] = field(default_factory=dict)

    def outputs(self, health: Health) -> Outputs:
        """All outputs in the weather of the visit at the fitted point, with their gradients; computed
        once, of the unit as found and as left together."""
        if not self.known:
            states: list[Pairing] = [("after", one) for one in RUNS]
            found, _ = self.model.linear(
                self.fitted.parameters,
                self.steps,
                states,
                [self.starts.get(state) for state in states],
            )
            self.known.update(zip(states, found, strict=True))
        return self.known["after", health]

    def tells_of(self, output: str) -> float:
        """Share of the variance of an output's change that the readings take away from what was not known
        of it before any was made; zero where no air temperature was read, as there is then no weather to
        tell it in."""
        if not any(self.parts[1].place(name) is not None for name in AIR_CONDITIONS):
            return 0.0
        found, sound = (self.outputs(health)[output] for health in ("after", "before"))
        with np.errstate(invalid="ignore", divide="ignore"):
            slopes = found[1:] / found[0] - sound[1:] / sound[0]
        usual = self.prior.covariance.copy()
        usual[PLACES, PLACES] = [PARAMETERS[name].spread ** 2 for name in CHANGES]
        before = float(slopes @ usual @ slopes)
        jacobian = self.fitted.jacobian
        shared = jacobian @ usual @ slopes
        seen = float(shared @ np.linalg.solve(jacobian @ usual @ jacobian.T + self.errors, shared))
        return seen / before if before > 0.0 else 0.0

    def of_the_rating(self) -> list[int]:
        """Positions of the rows that are ratings, not readings."""
        return [place for place, row in enumerate(self.rows) if row.weather == "rating"]

    def of_the_visit(self) -> list[int]:
        """Positions of the rows that are readings of the visit itself."""
        return [place for place, row in enumerate(self.rows) if row.weather == "after"]

    def with_changes(self, means: FloatArray) -> FloatArray:
        """What the visit would show of a healthy unit with changes (K, C), less without: (K, M), zero for
        rows of other runs; as the model has it, not linear."""
        count = len(means)
        columns = np.repeat(self.sound.parameters[:, None], count + 1, axis=1)
        columns[PLACES] += np.concatenate([np.zeros((1, means.shape[1])), means]).T
        state: Pairing = ("after", "after")
        start = self.starts.get(state, np.array([SUCTION_START, LIQUID_START]))
        outputs = self.model.at(columns, state, start)
        offsets = np.zeros((count, len(self.rows)))
        for place in self.of_the_visit():
            row = self.rows[place]
            value = outputs[row.output]
            with np.errstate(invalid="ignore", divide="ignore"):
                value = np.log(value) if row.logarithmic else value
            offsets[:, place] = value[1:] - value[0]
        return offsets

    def in_this_weather(self) -> tuple[list[int], FloatArray, FloatArray]:
        """The visit's readings of the unit itself, given its conditions, the baseline and the rating.

        Returns
        -------
        list of int
            Positions of the V rows.
        FloatArray, shapes (V,), (V, V)
            Readings less what a healthy unit would show, and the covariance of that.
        """
        whole, covariance = _linear(self.sound, self.readings, self.errors, self.prior)
        own = [p for p in self.of_the_visit() if self.rows[p].output not in CONDITIONS]
        rest = [p for p in range(len(self.rows)) if p not in own]
        gain = np.linalg.solve(covariance[np.ix_(rest, rest)], covariance[np.ix_(rest, own)]).T
        return (
            own,
            whole[own] - gain @ whole[rest],
            covariance[np.ix_(own, own)] - gain @ covariance[np.ix_(rest, own)],
        )


def _linear(about: Fit, readings: FloatArray, errors: FloatArray, prior: Prior) -> tuple[FloatArray, FloatArray]:
    """Readings less what a healthy unit would show (M,), and their covariance (M, M), about a point."""
    rest = readings - about.predicted + about.jacobian @ (about.parameters - prior.mean)
    fixed = _without_changes(prior).covariance
    return rest, about.jacobian @ fixed @ about.jacobian.T + errors


def not_possible(visit: Derived, read: Evidence) -> str | None:
    """Why no cycle can be set against what was read; None where one can."""
    if visit.unit.mode != "cooling":
        return "faults can be diagnosed in cooling only; the unit is heating"
    if PHASES not in visit.visit.leaves:
        return "the refrigerant is not stated"
    if not read.tells_of_the_unit:
        return "no reading shows the state of the unit itself"
    return None


def expectation(visit: Examined, read: Evidence, baseline: Evidence | None) -> Expectation | None:
    """What was read at the visit, and at a baseline, set against what a healthy unit would show; None
    where the model has no such state."""
    leaves = visit.visit.leaves
    rated_capacity = rating(leaves, "cooling_capacity")
    capacity = None if rated_capacity is None else rated_capacity.value
    efficiency = rated_efficiency(leaves, visit.unit.control)
    share = leaves.get(SHARE_OF_FULL, 1.0)
    model = UnitModel.of(leaves[PHASES], visit.unit.device, float(leaves[SITE_PRESSURE][0]), capacity, share)
    parts = as_pair(_nothing() if baseline is None else baseline, read)
    readings, given = relative(parts)
    rows = [
        Row(f.output, f.logarithmic, (run, run), f.source)
        for run, part in zip(RUNS, parts, strict=True)
        for f in part.features
    ]
    own = []
    if rated_capacity is not None:
        rows.append(Row("cooling_capacity", True, FOUND_AT_RATING, RATED + "cooling_capacity"))
        own.append((np.log(rated_capacity.value), np.hypot(RATED_CAPACITY, rated_capacity.spread)))
    if efficiency is not None:
        rows.append(Row("eer", True, FOUND_AT_RATING, efficiency.basis))
        own.append((efficiency.logarithm, efficiency.spread))
    errors = np.zeros((len(rows), len(rows)))
    count = len(readings)
    errors[:count, :count] = joint_errors(parts)
    errors[range(count, len(rows)), range(count, len(rows))] = [one[1] ** 2 for one in own]
    readings = np.concatenate([readings, [one[0] for one in own]])
    prior, steps = _Known(
        model,
        visit,
        given,
        has_baseline=baseline is not None,
        rated=rated_capacity,
        efficiency=None if efficiency is None else efficiency.logarithm - _gain_at(visit.unit.running, share),
    ).prior()
    healthy = _healthy(model, rows, readings, errors, prior, steps)
    if healthy is None:
        return None
    sound, starts = healthy
    found = fit(Predictor(model, rows, steps), readings, errors, prior, start=sound.parameters)
    if found is None:
        return None
    rest, spread = _linear(found, readings, errors, prior)
    rated = capacity is not None or efficiency is not None
    return Expectation(
        "baseline" if baseline is not None else "rating" if rated else "class",
        model,
        tuple(rows),
        readings,
        errors,
        prior,
        steps,
        found,
        starts,
        sound,
        parts,
        rest,
        spread,
        found.jacobian[:, PLACES],
    )


#: Spread [1, K] that stands for no change at all, so that matrices keep their inverse.
_NO_CHANGE = 1e-3


def _without_changes(prior: Prior) -> Prior:
    covariance = prior.covariance.copy()
    covariance[:, PLACES] = 0.0
    covariance[PLACES, :] = 0.0
    covariance[PLACES, PLACES] = _NO_CHANGE**2
    return Prior(prior.mean, covariance)


def _healthy(
    model: UnitModel,
    rows: list[Row],
    readings: FloatArray,
    errors: FloatArray,
    prior: Prior,
    steps: FloatArray,
) -> tuple[Fit, dict[Pairing, FloatArray]] | None:
    """A healthy unit fitted to the baseline, the rating and the visit's conditions, seen by all rows."""
    seen = [place for place, row in enumerate(rows) if row.weather != "after" or row.output in CONDITIONS]
    pinned = _without_changes(prior)
    start = prior.mean
    if seen:
        own = Predictor(model, [rows[place] for place in seen], steps)
        found = fit(own, readings[seen], errors[np.ix_(seen, seen)], pinned)
        if found is None:
            return None
        start = found.parameters
    everywhere = Predictor(model, rows, steps)
    predicted, jacobian = everywhere(start)
    if not (np.isfinite(predicted).all() and np.isfinite(jacobian).all()):
        return None
    return (
        Fit(start, prior.covariance, predicted, jacobian, 0.0, converged=True),
        everywhere.last,
    )


def _beyond_the_table(mean: FloatArray, spread: float) -> float:
    """Spread [1] of how a fixed device's superheat follows the wet bulb: near the end of the table of targets
    liquid may come back, and how much no thermometer shows."""
    outdoor, wet, before = (mean[INDEX[name]] for name in ("outdoor_after", "wet_bulb_after", "wet_bulb_before"))
    short = LEAST_TARGET - float(target_superheat(np.array([outdoor]), np.array([wet]))[0])
    if not short > 0.0:
        return spread
    return float(np.hypot(spread, short / max(abs(wet - before), 1.0)))


def _short_of_head(mean: FloatArray, spread: float) -> float:
    """Spread [1] of how a valve's superheat follows outdoor air: in cool weather the head pressure may not drive
    enough through it, however far it opens."""
    outdoor, before = (mean[INDEX[name]] for name in ("outdoor_after", "outdoor_before"))
    short = COOL_OUTDOOR - outdoor
    if not short > 0.0:
        return spread
    return float(np.hypot(spread, STARVED_IN_COOL * short / max(abs(outdoor - before), 1.0)))


def about(expected: Expectation, mean: FloatArray, variance: FloatArray) -> Expectation:
    """The same problem, linear about the point that fits best under changes with this mean and variance (C,);
    as it was where none does."""
    prior = Prior(expected.prior.mean.copy(), expected.prior.covariance.copy())
    prior.mean[PLACES] = mean
    prior.covariance[PLACES, PLACES] = variance
    seen = Predictor(expected.model, list(expected.rows), expected.steps)
    found = fit(seen, expected.readings, expected.errors, prior, start=expected.fitted.parameters)
    if found is None:
        return expected
    rest, spread = _linear(found, expected.readings, expected.errors, expected.prior)
    return replace(
        expected,
        fitted=found,
        rest=rest,
        spread=spread,
        changes=found.jacobian[:, PLACES],
        known={},
    )


def _gain_at(running: Running, share: float) -> float:
    """Logarithm of the efficiency at the share of capacity at which the unit ran over that at the full one: the
    stage earns it, not the coils."""
    if running == "low":
        return float(np.log(ASSUMPTIONS["low_stage_efficiency"].value))
    return float(EFFICIENCY_OF_SHARE * np.log(share))


def _nothing() -> Evidence:
    empty = np.zeros(0)
    return Evidence((), empty, np.zeros((0, 0)), empty, ())


@dataclass(frozen=True, slots=True)
class _Known:
    """What is known of a visit before its readings of the unit: ``given`` are the conditions that were
    read, ``efficiency`` the logarithm of the rated one of the full capacity."""

    model: UnitModel
    visit: Examined
    given: Mapping[str, float]
    has_baseline: bool
    rated: Rating | None
    efficiency: float | None

    def prior(self) -> tuple[Prior, FloatArray]:
        """What is known of a healthy unit, its conditions, and of any change; and the scale of steps (P,)."""
        before = {f"{name}_before": value for name, value in RATING_CONDITIONS.items()}
        usual = self.model.prior(
            self.given if self.has_baseline else {**self.given, **before}, rated=self.rated is not None
        )
        steps = np.sqrt(np.diagonal(usual.covariance))
        mean, spread = usual.mean.copy(), steps.copy()
        self._of_the_kind(mean, spread)
        if self.model.device in EXPANSION_VALVES:
            self._of_the_valve(mean, spread)
        self._of_the_nameplate(mean, spread)
        if self.model.device in FIXED_DEVICES:
            _of_the_fixed_device(mean, spread)
        self._of_the_capacity(mean, spread)
        spread = freed(spread, [n for n in self.given if self.has_baseline or not n.endswith("_before")])
        if not self.has_baseline:
            spread[[INDEX[name] for name in before]] = _PINNED
        for name in CHANGES:
            spread[INDEX[name]] = FREE * PARAMETERS[name].spread
        return Prior(mean, np.diag(spread**2)), steps

    def _of_the_kind(self, mean: FloatArray, spread: FloatArray) -> None:
        """A healthy unit of its kind, size and rating."""
        for name, value in HEALTHY_MEANS.items():
            mean[INDEX[name]] = value
        for name, value in HEALTHY.items():
            spread[INDEX[name]] = value
        if not self.visit.unit.ducted:
            for name, (value, deviation) in DUCTLESS.items():
                mean[INDEX[name]], spread[INDEX[name]] = value, deviation
        if self.rated is not None:
            spread[INDEX["ln_size"]] = np.hypot(RATED_SIZE, self.rated.spread)
        better, unsure = 0.0, 0.0
        if self.efficiency is not None:
            better = self.efficiency - float(np.log(USUAL_EFFICIENCY))
        elif self.visit.unit.control != "single_speed":
            better, unsure = float(np.log(STAGED_EFFICIENCY[0] / USUAL_EFFICIENCY)), STAGED_EFFICIENCY[1]
            spread[INDEX["ln_efficiency"]] = np.hypot(spread[INDEX["ln_efficiency"]], 0.5 * unsure)
        for name, slope in OF_THE_RATING.items():
            mean[INDEX[name]] += slope * better
            spread[INDEX[name]] = np.hypot(spread[INDEX[name]], slope * unsure)

    def _of_the_valve(self, mean: FloatArray, spread: FloatArray) -> None:
        """How a valve holds the superheat, read behind the lines."""
        for name, value in VALVE_SUPERHEAT.items():
            spread[INDEX[name]] = value
        spread[INDEX["superheat_outdoor"]] = _short_of_head(mean, spread[INDEX["superheat_outdoor"]])
        added, doubt = superheat_of_lines(self.visit.visit.leaves)
        mean[INDEX["superheat"]] += added
        spread[INDEX["superheat"]] = np.hypot(spread[INDEX["superheat"]], doubt)

    def _of_the_capacity(self, mean: FloatArray, spread: FloatArray) -> None:
        """What the stage or the speed moves, and what a variable-speed unit sets for itself."""
        stated = spread[INDEX["subcooling"]]
        self.model.at_its_share(mean, spread)
        if self.visit.unit.control == "variable_speed":
            for name, value in SET_BY_ITSELF.items():
                spread[INDEX[name]] = np.hypot(spread[INDEX[name]], value)
        if self.visit.unit.running in TARGET_RUNNING and NAMEPLATE + "subcooling" in self.visit.visit.leaves:
            # A target for this stage, or for the test mode, holds as it is.
            spread[INDEX["subcooling"]] = stated
            mean[INDEX["subcooling"]] = float(self.visit.visit.leaves[NAMEPLATE + "subcooling"])

    def _of_the_nameplate(self, mean: FloatArray, spread: FloatArray) -> None:
        leaves = self.visit.visit.leaves
        target = leaves.get(NAMEPLATE + "subcooling", leaves.get(FULL_STAGE_SUBCOOLING))
        if target is not None:
            mean[INDEX["subcooling"]] = float(target)
            spread[INDEX["subcooling"]] = SUBCOOLING_OF_TARGET


def _of_the_fixed_device(mean: FloatArray, spread: FloatArray) -> None:
    """The superheat of the target table at the conditions of the baseline."""
    outdoor, wet = (np.array([mean[INDEX[f"{name}_before"]]]) for name in ("outdoor", "wet_bulb"))
    wanted = float(target_superheat(outdoor, wet)[0])
    if np.isfinite(wanted):
        mean[INDEX["superheat"]] = wanted
    spread[INDEX["superheat"]] = SUPERHEAT_OF_TARGET
    spread[INDEX["superheat_wet_bulb"]] = _beyond_the_table(mean, spread[INDEX["superheat_wet_bulb"]])
