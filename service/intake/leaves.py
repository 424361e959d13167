"""What the paths of a request amount to, and the structure of their errors, while they are taken in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.intake.kit import Sensor, standard_uncertainty
from service.intake.paths import ASSUMED, READING
from service.reference.assumptions import ASSUMPTIONS
from service.reference.placements import SPOTS
from service.reference.settling import GROUPS, SETTLING, GroupName, PartName
from service.uncertainty.error_terms import ErrorTerm, assumption_dimension, settling_dimension, spot_dimension
from service.uncertainty.propagation import Variable, variable

FloatArray = NDArray[np.float64]


class Uncertain(NamedTuple):
    """A leaf with errors: its nominal value, and by how much each variable's standard deviation moves it.

    ``then`` is what turns what was drawn into the leaf: a gauge reading takes the site's air pressure, a
    saturation temperature was drawn as a pressure.
    """

    value: float
    positions: tuple[int, ...]
    coefficients: tuple[float, ...]
    then: Callable[[FloatArray], FloatArray] | str | None = None
    shown: float | None = None


@dataclass(slots=True)
class Leaves:
    """Leaves with errors that are being collected, and the independent variables behind them.

    ``depends`` names, for each leaf, the names that an answer's ``from`` shows; ``leaf_variables`` gives the
    positions of its variables, ``sensors`` those of shared calibration errors.
    """

    uncertain: dict[str, Uncertain] = field(default_factory=dict)
    depends: dict[str, tuple[str, ...]] = field(default_factory=dict)
    variables: list[Variable] = field(default_factory=list)
    sensors: dict[int, int] = field(default_factory=dict)
    leaf_variables: dict[str, tuple[int, ...]] = field(default_factory=dict)

    def reads(self, leaf: str, value: float, sensor: Sensor, shown: tuple[str, ...]) -> float:
        """A leaf as its sensor reads it; its standard uncertainty."""
        parts = []
        if sensor.own is not None:
            parts.append((len(self.variables), sensor.own.scale))
            self.variables.append(sensor.own)
        if sensor.calibration is not None:
            position = self._shared(sensor.calibration.dimension, sensor.calibration.variable)
            parts.append((position, sensor.calibration_at(value)))
        self._settle(leaf, value, parts, shown)
        return standard_uncertainty(*(size for _, size in parts))

    def register(
        self,
        leaf: str,
        value: float,
        terms: tuple[ErrorTerm, ...],
        owner: str,
        shown: tuple[str, ...],
        *,
        lasting: int | None = None,
    ) -> float:
        """A leaf with any errors: its value, the shared ones of its sensor, and what is its own.

        ``lasting`` tells whose a shared error is: the same for one error that acts at another visit
        too; None for one that does not.  Returns the standard uncertainty.
        """
        parts = []
        alone = [[term] for term in terms if term.apart and not term.shared]
        own = [term for term in terms if not (term.shared or term.apart)]
        for group in (own, *alone):
            if group:
                error = variable(group, owner)
                parts.append((len(self.variables), error.scale))
                self.variables.append(error)
        for term in terms:
            if term.shared:
                key = None if lasting is None else term.dimension + lasting
                # Its own scale, not that of whoever named the sensor first: coverages may differ.
                error = variable([term.unit()], owner, key)
                position = self._shared(term.dimension, error)
                parts.append((position, term.scale * error.scale))
        self._settle(leaf, value, parts, shown)
        return standard_uncertainty(*(size for _, size in parts))

    def assume(self, leaf: str) -> None:
        """A leaf that was not read: the assumption of its name, with one error."""
        value, label, term, error = _assumption(leaf)
        if term.shared:
            position, size = self._shared(term.dimension, error), term.scale * error.scale
        else:
            position, size = len(self.variables), error.scale
            self.variables.append(error)
        self._settle(leaf, value, [(position, size)], (label,))

    def scaled(self, leaf: str, value: float, assumption: str, shown: tuple[str, ...]) -> None:
        """A leaf that is a known number times an assumption of its name, with that assumption's error."""
        ratio, label, term, error = _assumption(ASSUMED + assumption)
        position = self._shared(term.dimension, error)
        size = value * term.scale * error.scale
        self._settle(leaf, value * ratio, [(position, size)], (*shown, label))

    def sits(self, reading: str, spot: str, difference: float) -> float:
        """A reading errs by where its probe sits: by the spot's share of a difference, in SI.

        Returns that error's standard uncertainty.
        """
        leaf = READING + reading
        term, error = _spot(spot)
        size = term.scale * error.scale * difference
        position = self._shared(term.dimension, error)
        before = self.uncertain[leaf]
        self.uncertain[leaf] = before._replace(
            positions=(*before.positions, position), coefficients=(*before.coefficients, size)
        )
        self.leaf_variables[leaf] += (position,)
        return size

    def settles(self, leaf: str, errors: Iterable[tuple[GroupName, PartName, bool, float]]) -> float:
        """A leaf errs by what a start has left: by group and part, whether it is the unit's own at every visit, and
        its standard deviation, in the unit in which the leaf is drawn.

        Returns the standard uncertainty of these errors.
        """
        positions, sizes = [], []
        for group, part, lasting, size in errors:
            positions.append(self._shared(*_settling(group, part, lasting)))
            sizes.append(size)
        before = self.uncertain[leaf]
        self.uncertain[leaf] = before._replace(
            positions=(*before.positions, *positions), coefficients=(*before.coefficients, *sizes)
        )
        self.leaf_variables[leaf] += tuple(positions)
        return standard_uncertainty(*sizes)

    def also_errs(self, leaf: str, terms: Sequence[ErrorTerm], owner: str) -> float:
        """A leaf has one more error of its own; returns that error's standard uncertainty."""
        error = variable(terms, owner)
        position = len(self.variables)
        self.variables.append(error)
        before = self.uncertain[leaf]
        self.uncertain[leaf] = before._replace(
            positions=(*before.positions, position), coefficients=(*before.coefficients, error.scale)
        )
        self.leaf_variables[leaf] += (position,)
        return error.scale

    def forget(self, leaf: str) -> None:
        """Take out a leaf; its variables stay, and move nothing."""
        for table in (self.uncertain, self.depends, self.leaf_variables):
            table.pop(leaf, None)

    def _shared(self, dimension: int, error: Variable) -> int:
        """Position of a sensor's calibration error, which all its readings share."""
        position = self.sensors.setdefault(dimension, len(self.variables))
        if position == len(self.variables):
            self.variables.append(error)
        return position

    def _settle(self, leaf: str, value: float, parts: list[tuple[int, float]], shown: tuple[str, ...]) -> None:
        positions = tuple([position for position, _ in parts])
        self.leaf_variables[leaf] = positions
        self.uncertain[leaf] = Uncertain(value, positions, tuple([size for _, size in parts]))
        self.depends[leaf] = shown


@cache
def _assumption(name: str) -> tuple[float, str, ErrorTerm, Variable]:
    row = ASSUMPTIONS[name.removeprefix(ASSUMED)]
    label = f"assumption: {row.name.replace('_', ' ')}"
    slot = list(ASSUMPTIONS).index(row.name)
    term = ErrorTerm(assumption_dimension(slot), row.distribution, row.spread, row.lasting)
    if row.lasting:
        return row.value, label, term, variable([term.unit()], label, term.dimension)
    return row.value, label, term, variable([term], label)


@cache
def _spot(name: str) -> tuple[ErrorTerm, Variable]:
    row = SPOTS[name]
    dimension = spot_dimension(list(SPOTS).index(name))
    term = ErrorTerm(dimension, row.distribution, row.share, shared=True)
    return term, variable([term.unit()], f"placement: {name.replace('_', ' ')}", dimension)


@cache
def _settling(group: GroupName, part: PartName, lasting: bool) -> tuple[int, Variable]:
    parts = [(row.name, one.name, whose) for row in GROUPS.values() for one in row.parts for whose in (False, True)]
    dimension = settling_dimension(parts.index((group, part, lasting)))
    return dimension, variable([ErrorTerm(dimension, "normal", 1.0)], SETTLING, dimension if lasting else None)
