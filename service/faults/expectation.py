"""What a healthy unit would show under a visit's conditions, and how a fault would move it.

The lumped cycle model of the comparisons, with the spreads of healthy units: about the unit's own baseline
run where there is one, its rating and nameplate where they are known, and its class otherwise.  A healthy
unit is fitted to all but the visit's own readings of it, which tells what it would show; and the unit with
any change allowed to all readings, about which point hypotheses are weighed as a linear problem.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.derive.derivations import UnitKind
from service.derive.examined import Derived, Examined
from service.derive.rated_efficiency import rated_cop, rated_efficiency, rating
from service.faults.known import KNOWN
from service.intake.paths import PHASES, RATED, TABLE
from service.reference.assumptions import ASSUMPTIONS
from service.reference.capacity_control import EFFICIENCY_OF_SHARE
from service.reference.healthy_units import OF_THE_TABLE, RATED_CAPACITY, RATED_EFFICIENCY
from service.reference.healthy_units_heating import RATED_EFFICIENCY as RATED_COP
from service.reference.model_outputs import AIR_CONDITIONS, CONDITIONS
from service.uncertainty.asking import Asking, ask
from service.uncertainty.least_squares import Fit, Prior, fit
from service.unit.evidence import Evidence, as_pair, joint_errors, relative
from service.unit.layout import LAYOUTS, RUNS, Health
from service.unit.makers_table import own_errors
from service.unit.model import (
    FOUND_AT_LOW_RATING,
    FOUND_AT_RATING,
    FOUND_IN_SECOND_WEATHER,
    SECOND_RUN,
    Outputs,
    Pairing,
    UnitModel,
)
from service.unit.predictor import Predictor, Row
from service.unit.questions import Question
from service.unit.rating import model_of_unit, rated_capacity

FloatArray = NDArray[np.float64]
Basis = Literal["baseline", "rating", "class"]


@dataclass(frozen=True, slots=True)
class Expectation:
    """The visit as a linear problem about the fitted point: M rows, P parameters, C changes.

    ``fitted`` is the unit with any change allowed, ``view`` the model's view of the rows there, ``sound`` a healthy
    unit fitted to all but the visit's own readings of it.  ``rest`` (M,) are readings less what a healthy unit would
    show; ``spread`` (M, M) is the covariance of that for a healthy unit (its kind, its conditions, the instruments);
    ``changes`` (M, C) how the rows follow the changes; all about ``fitted``.  ``outputs`` are all of a healthy unit
    and of this one in the weather of the visit at that point, with their gradients.  ``by_maker`` are the positions of
    the rows that are no readings: what the unit's maker says of a healthy one, in a table and by its rating.
    """

    basis: Basis
    model: UnitModel
    rows: tuple[Row, ...]
    readings: FloatArray
    errors: FloatArray
    prior: Prior
    steps: FloatArray
    fitted: Fit
    view: Predictor
    starts: dict[Pairing, FloatArray]
    sound: Fit
    parts: tuple[Evidence, Evidence]
    by_maker: range
    rest: FloatArray
    spread: FloatArray
    changes: FloatArray
    outputs: Mapping[Health, Outputs]

    def tells_of(self, output: str) -> float:
        """Share of the variance of an output's change that the readings take away from what was not known
        of it before any was made; zero where no air temperature was read, as there is then no weather to
        tell it in."""
        if not any(self.parts[1].place(name) is not None for name in AIR_CONDITIONS):
            return 0.0
        found, sound = (self.outputs[health][output] for health in ("after", "before"))
        with np.errstate(invalid="ignore", divide="ignore"):
            slopes = found[1:] / found[0] - sound[1:] / sound[0]
        usual = self.prior.covariance.copy()
        layout = self.model.layout
        usual[layout.places, layout.places] = [layout.parameters[name].spread ** 2 for name in layout.changes]
        before = float(slopes @ usual @ slopes)
        jacobian = self.fitted.jacobian
        shared = jacobian @ usual @ slopes
        seen = float(shared @ np.linalg.solve(jacobian @ usual @ jacobian.T + self.errors, shared))
        return seen / before if before > 0.0 else 0.0

    def of_the_visit(self) -> list[int]:
        """Positions of the rows that are readings of the visit itself."""
        return [place for place, row in enumerate(self.rows) if row.state == SECOND_RUN]

    def of_the_table(self) -> list[int]:
        """Positions of the rows that the maker's table gives for the conditions of the visit."""
        return [place for place in self.by_maker if self.rows[place].state == FOUND_IN_SECOND_WEATHER]

    def columns_of_table(self) -> list[str]:
        """Names of the table's columns that say what a healthy unit would show under the conditions of the visit."""
        return [self.rows[place].source.removeprefix(TABLE) for place in self.of_the_table()]

    def with_changes(self, means: FloatArray) -> FloatArray:
        """What the visit would show of a healthy unit with changes (K, C), less without: (K, M), zero for
        rows of other runs; as the model has it, not linear."""
        count = len(means)
        columns = np.repeat(self.sound.parameters[:, None], count + 1, axis=1)
        columns[self.model.layout.places] += np.concatenate([np.zeros((1, means.shape[1])), means]).T
        state: Pairing = ("after", "after")
        start = self.starts.get(state)
        if start is None:
            start = self.model.start(None, None)
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
        whole, covariance = _linear(self.sound, self.readings, self.errors, self.prior, self.model.layout.places)
        own = [p for p in self.of_the_visit() if self.rows[p].output not in CONDITIONS]
        rest = [p for p in range(len(self.rows)) if p not in own]
        gain = np.linalg.solve(covariance[np.ix_(rest, rest)], covariance[np.ix_(rest, own)]).T
        return (
            own,
            whole[own] - gain @ whole[rest],
            covariance[np.ix_(own, own)] - gain @ covariance[np.ix_(rest, own)],
        )


def _linear(
    about: Fit, readings: FloatArray, errors: FloatArray, prior: Prior, places: list[int]
) -> tuple[FloatArray, FloatArray]:
    """Readings less what a healthy unit would show (M,), and their covariance (M, M), about a point."""
    rest = readings - about.predicted + about.jacobian @ (about.parameters - prior.mean)
    fixed = _without_changes(prior, places).covariance
    return rest, about.jacobian @ fixed @ about.jacobian.T + errors


def not_possible(visit: Derived, read: Evidence) -> str | None:
    """Why no cycle can be set against what was read; None where one can."""
    if PHASES not in visit.visit.leaves:
        return "the refrigerant is not stated"
    if not read.tells_of_the_unit:
        return "no reading shows the state of the unit itself"
    return None


def expectation(visit: Examined, read: Evidence, baseline: Evidence | None) -> Asking[Expectation | None]:
    """What was read at the visit, and at a baseline, set against what a healthy unit would show; None
    where the model has no such state."""
    leaves = visit.visit.leaves
    rated = rated_capacity(leaves, visit.unit)
    model = model_of_unit(leaves, visit.unit, rated)
    ratings = _ratings(visit)
    parts = as_pair(_nothing() if baseline is None else baseline, read)
    readings, given = relative(parts)
    rows = [
        Row(f.output, f.logarithmic, (run, run), f.source)
        for run, part in zip(RUNS, parts, strict=True)
        for f in part.features
    ]
    by_maker = _by_maker(parts, ratings)
    rows += by_maker.rows
    errors = by_maker.errors
    readings = np.concatenate([readings, by_maker.values])
    efficiency = next((one for one in ratings if one.row.output == model.layout.efficiency), None)
    known = KNOWN[model.mode](
        model,
        visit,
        given,
        has_baseline=baseline is not None,
        rated=rated,
        efficiency=None if efficiency is None else efficiency.logarithm - _gain_at(visit.unit, model.share),
    )
    prior, steps = known.prior()
    healthy = yield from _healthy(model, rows, readings, errors, prior, steps)
    if healthy is None:
        return None
    sound, view = healthy
    starts = dict(view.last)
    known_there = sound.predicted, sound.jacobian
    found = yield from fit(view, readings, errors, prior, start=sound.parameters, there=known_there)
    if found is None:
        return None
    rest, spread = _linear(found, readings, errors, prior, model.layout.places)
    return Expectation(
        "baseline" if baseline is not None else "rating" if by_maker.rows else "class",
        model,
        tuple(rows),
        readings,
        errors,
        prior,
        steps,
        found,
        view,
        starts,
        sound,
        parts,
        range(len(rows) - len(by_maker.rows), len(rows)),
        rest,
        spread,
        found.jacobian[:, model.layout.places],
        (yield from _outputs(model, found, steps, starts)),
    )


class _Rating(NamedTuple):
    """A rating as a row of the model, with its logarithm and the spread of that."""

    row: Row
    logarithm: float
    spread: float


class _ByMaker(NamedTuple):
    """What the unit's maker says, as rows of the model of a healthy unit; ``errors`` are those of all rows, of the
    readings before them too."""

    rows: list[Row]
    values: FloatArray
    errors: FloatArray


def _by_maker(parts: tuple[Evidence, Evidence], ratings: list[_Rating]) -> _ByMaker:
    """The maker's table under the conditions of each run, and the ratings."""
    tables = [part.table for part in parts]
    printed = [
        Row(one.output, one.logarithmic, (run, "before"), TABLE + one.column)
        for run, table in zip(RUNS, tables, strict=True)
        for one in table.columns
    ]
    rows = printed + [one.row for one in ratings]
    count, first = sum(len(part.features) for part in parts), len(rows) - len(ratings)
    errors = np.zeros((count + len(rows), count + len(rows)))
    errors[: count + first, : count + first] = joint_errors(parts, with_tables=True)
    errors[count : count + first, count : count + first] += own_errors(tables, OF_THE_TABLE)
    for place, one in enumerate(ratings, start=first):
        errors[count + place, count + place] = one.spread**2
        alike = sum(other.row.output == one.row.output for other in ratings)
        for other, row in enumerate(printed):
            # A unit that departs from its table departs from its rating too: one piece of knowledge, not two.
            shared = _OF_THE_RATING.get((row.source, one.row.output), 0.0) / alike
            errors[count + place, count + other] = errors[count + other, count + place] = shared
    values = [*(table.values for table in tables), np.array([one.logarithm for one in ratings])]
    return _ByMaker(rows, np.concatenate(values), errors)


#: Covariance of how far a healthy unit departs from a column of its table and from a rating: power is capacity over
#: efficiency.
_OF_THE_RATING = {
    **{(TABLE + "capacity", layout.capacity): RATED_CAPACITY**2 for layout in LAYOUTS.values()},
    **{(TABLE + "power", layout.efficiency): -(RATED_EFFICIENCY**2) for layout in LAYOUTS.values()},
}


def _ratings(visit: Examined) -> list[_Rating]:
    """What the unit is rated for in its mode, as readings of a healthy unit at rating conditions."""
    leaves, mode, found = visit.visit.leaves, visit.unit.mode, []
    capacity = rated_capacity(leaves, visit.unit)
    layout = LAYOUTS[mode]
    if capacity is not None:
        row = Row(layout.capacity, True, FOUND_AT_RATING, capacity.path)
        spread = float(np.hypot(RATED_CAPACITY, capacity.spread))
        found.append(_Rating(row, float(np.log(capacity.value)), spread))
    if mode == "cooling":
        efficiency = rated_efficiency(leaves, visit.unit.control)
        if efficiency is not None:
            row = Row(layout.efficiency, True, FOUND_AT_RATING, efficiency.basis)
            found.append(_Rating(row, efficiency.logarithm, efficiency.spread))
        return found
    cop = rated_cop(leaves, visit.unit.control)
    if cop is not None:
        found.append(_Rating(Row(layout.efficiency, True, FOUND_AT_RATING, cop.basis), cop.logarithm, cop.spread))
    for name, output, state, spread in (
        ("heating_capacity_low", layout.capacity, FOUND_AT_LOW_RATING, RATED_CAPACITY),
        ("heating_cop_low", layout.efficiency, FOUND_AT_LOW_RATING, RATED_COP),
    ):
        given = rating(leaves, name)
        if given is not None:
            row = Row(output, True, state, RATED + name)
            found.append(_Rating(row, float(np.log(given.value)), float(np.hypot(spread, given.spread))))
    return found


#: Spread [1, K] that stands for no change at all, so that matrices keep their inverse.
_NO_CHANGE = 1e-3


def _without_changes(prior: Prior, places: list[int]) -> Prior:
    covariance = prior.covariance.copy()
    covariance[:, places] = 0.0
    covariance[places, :] = 0.0
    covariance[places, places] = _NO_CHANGE**2
    return Prior(prior.mean, covariance)


def _healthy(
    model: UnitModel,
    rows: list[Row],
    readings: FloatArray,
    errors: FloatArray,
    prior: Prior,
    steps: FloatArray,
) -> Asking[tuple[Fit, Predictor] | None]:
    """A healthy unit fitted to the baseline, the rating and the visit's conditions, seen by all rows."""
    seen = [place for place, row in enumerate(rows) if row.state != SECOND_RUN or row.output in CONDITIONS]
    pinned = _without_changes(prior, model.layout.places)
    start = prior.mean
    if seen:
        own = Predictor(model, [rows[place] for place in seen], steps)
        found = yield from fit(own, readings[seen], errors[np.ix_(seen, seen)], pinned)
        if found is None:
            return None
        start = found.parameters
    everywhere = Predictor(model, rows, steps)
    predicted, jacobian = yield from everywhere(start)
    if not (np.isfinite(predicted).all() and np.isfinite(jacobian).all()):
        return None
    return (
        Fit(start, prior.covariance, predicted, jacobian, 0.0, converged=True),
        everywhere,
    )


def about(expected: Expectation, mean: FloatArray, variance: FloatArray) -> Asking[Expectation]:
    """The same problem, linear about the point that fits best under changes with this mean and variance (C,);
    as it was where none does."""
    prior = Prior(expected.prior.mean.copy(), expected.prior.covariance.copy())
    places = expected.model.layout.places
    prior.mean[places] = mean
    prior.covariance[places, places] = variance
    view, begin = expected.view.again(), expected.fitted
    there = begin.predicted, begin.jacobian
    found = yield from fit(view, expected.readings, expected.errors, prior, start=begin.parameters, there=there)
    if found is None:
        return expected
    rest, spread = _linear(found, expected.readings, expected.errors, expected.prior, places)
    return replace(
        expected,
        fitted=found,
        view=view,
        rest=rest,
        spread=spread,
        changes=found.jacobian[:, places],
        outputs=(yield from _outputs(expected.model, found, expected.steps, expected.starts)),
    )


def _outputs(
    model: UnitModel, found: Fit, steps: FloatArray, starts: Mapping[Pairing, FloatArray]
) -> Asking[Mapping[Health, Outputs]]:
    """All outputs in the weather of the visit at a point, of the unit as found and as left."""
    states: list[Pairing] = [("after", health) for health in RUNS]
    question = Question(model, found.parameters, steps, states, [starts.get(state) for state in states])
    answer = yield from ask(question)
    return dict(zip(RUNS, answer.outputs, strict=True))


def _gain_at(unit: UnitKind, share: float) -> float:
    """Logarithm of the efficiency at the share of capacity at which the unit ran over that at the full one: the
    stage earns it, not the coils."""
    if unit.running == "low":
        name = "low_stage_efficiency" if unit.mode == "cooling" else "low_stage_heating_efficiency"
        return float(np.log(ASSUMPTIONS[name].value))
    return float(EFFICIENCY_OF_SHARE * np.log(share))


def _nothing() -> Evidence:
    empty = np.zeros(0)
    return Evidence((), empty, np.zeros((0, 0)), empty, ())
