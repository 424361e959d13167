"""One run of readings in SI: what the intake makes of a request, and its draws."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.intake.kit import Sensor, standard_uncertainty
from service.intake.paths import ASSUMED, NAMEPLATE, READING
from service.reference.assumptions import ASSUMPTIONS
from service.reference.conditions import DualVoltage
from service.reference.placements import SPOTS
from service.reference.refrigerants import Refrigerant
from service.uncertainty.error_terms import ErrorTerm, assumption_dimension, spot_dimension
from service.uncertainty.low_discrepancy import Sample
from service.uncertainty.propagation import Inputs, Variable, gathered, variable

FloatArray = NDArray[np.float64]

#: Numbers of the nameplate that decide what is derived at all: visits that differ in them are of two kinds.
KIND_OF_UNIT = frozenset({NAMEPLATE + "phases"})


class BlowerTable(NamedTuple):
    """Airflow [m3/s] over external static pressure [Pa], ascending."""

    pressures: Any
    airflows: Any


class PresumedPlate(NamedTuple):
    """A dual-voltage nameplate, assumed where only one voltage was given; and what ``shows`` it."""

    plate: DualVoltage
    shows: str


class UsedInstrument(NamedTuple):
    """The instrument behind one reading and the reading's uncertainty, in SI."""

    name: str
    type: str
    kind: str
    standard_uncertainty: float
    source: str


@dataclass(frozen=True, slots=True)
class Scatter:
    """Repeats of a reading that scatter beyond what their instrument explains, in SI."""

    name: str
    kind: str
    count: int
    deviation: float
    repeatability: float


class Uncertain(NamedTuple):
    """A leaf with errors: its nominal value, and by how much each variable's standard deviation moves it.

    ``then`` turns the drawn values into the leaf: a gauge reading adds the site's air pressure, a
    saturation temperature was drawn as a pressure.
    """

    value: float
    positions: tuple[int, ...]
    coefficients: tuple[float, ...]
    then: Callable[[FloatArray], FloatArray] | str | None = None
    shown: float | None = None


@dataclass(slots=True)
class Visit:
    """One run of readings in SI, with draws.

    ``leaves`` maps the paths of the request to draws (shape (N + 1,), nominal first), to plain
    numbers for nameplate values, and to the saturation curves; those with errors, the ``uncertain``, are
    there once they were drawn (:func:`draw`).  ``depends`` names, for each leaf, the names that an answer's
    ``from`` shows.  ``variables`` are the independent random variables in use, ``leaf_variables`` their
    positions by leaf, ``sensors`` those of shared calibration errors.
    """

    system: str
    sample: Sample
    leaves: dict[str, Any] = field(default_factory=dict)
    uncertain: dict[str, Uncertain] = field(default_factory=dict)
    depends: dict[str, tuple[str, ...]] = field(default_factory=dict)
    readings: dict[str, float] = field(default_factory=dict)
    instruments: dict[str, UsedInstrument] = field(default_factory=dict)
    variables: list[Variable] = field(default_factory=list)
    sensors: dict[int, int] = field(default_factory=dict)
    leaf_variables: dict[str, tuple[int, ...]] = field(default_factory=dict)
    refrigerant: Refrigerant | None = None
    phases: int = 1
    assumed_sea_level: bool = False
    presumed_plate: PresumedPlate | None = None
    stated_altitude_pressure: float | None = None
    unzeroed: list[str] = field(default_factory=list)
    #: Whether the visit is to be compared with another: calibrations are then kept apart from what is new
    #: at each visit.
    compared: bool = False
    #: How often each reading that is not made yet is to be repeated.
    planned: Mapping[str, int] = field(default_factory=dict)
    #: Readings and quantities that are not what they are called (:func:`service.assess.mistaken.doubted`).
    doubted: frozenset[str] = frozenset()
    unsteady: list[Scatter] = field(default_factory=list)
    _inputs: Inputs | None = None

    @property
    def inputs(self) -> Inputs:
        """The variables as arrays; gathered again only where more of them have been drawn."""
        if self._inputs is None or self._inputs.basis.count != len(self.variables):
            self._inputs = gathered(self.variables, self.sample.draws)
        return self._inputs

    def copy(self) -> Visit:
        """A copy that can take in more without changing this one."""
        return replace(
            self,
            leaves=dict(self.leaves),
            uncertain=dict(self.uncertain),
            depends=dict(self.depends),
            variables=list(self.variables),
            sensors=dict(self.sensors),
            leaf_variables=dict(self.leaf_variables),
        )

    @property
    def given(self) -> frozenset[str]:
        """The paths of all leaves, drawn or yet to be."""
        return frozenset((*self.leaves, *self.uncertain))

    @property
    def kind(self) -> tuple[object, ...]:
        """What visits must share to be computed together: all but the numbers."""
        return (
            self.sample.draws,
            tuple([(v.mix, v.owner, v.key) for v in self.variables]),
            tuple([(name, u.positions, u.then) for name, u in self.uncertain.items()]),
            tuple(
                [
                    (name, value if name in KIND_OF_UNIT else _form(value))
                    for name, value in self.leaves.items()
                    if name not in self.uncertain
                ]
            ),
        )

    def nominal(self, name: str) -> float | None:
        """A reading's nominal SI value, None where it was not given."""
        return self.readings.get(name)

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
        self, leaf: str, value: float, terms: tuple[ErrorTerm, ...], owner: str,
        shown: tuple[str, ...], *, lasting: int | None = None,
    ) -> float:  # fmt: skip
        """A leaf with any errors: its value, the shared ones of its sensor, and what is its own.

        ``lasting`` identifies a shared error that acts at another visit too; None for one that does
        not.  Returns the standard uncertainty.
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
                # Its own scale, not that of the reading that came first: coverages may differ.
                error = variable([term.unit()], owner, key)
                position = self._shared(term.dimension, error)
                parts.append((position, term.scale * error.scale))
        self._settle(leaf, value, parts, shown)
        return standard_uncertainty(*(size for _, size in parts))

    def assumes(
        self, leaf: str, value: float, label: str, term: ErrorTerm, error: Variable
    ) -> None:
        """A leaf that was not read, with one error."""
        if term.shared:
            position, size = self._shared(term.dimension, error), term.scale * error.scale
        else:
            position, size = len(self.variables), error.scale
            self.variables.append(error)
        self._settle(leaf, value, [(position, size)], (label,))

    def sits(self, reading: str, spot: str, difference: float) -> None:
        """Add the error from where a probe is placed: the spot's share of a difference, in SI."""
        leaf = READING + reading
        term, error = _spot(spot)
        size = term.scale * error.scale * difference
        position = self._shared(term.dimension, error)
        before = self.uncertain[leaf]
        self.uncertain[leaf] = before._replace(
            positions=(*before.positions, position), coefficients=(*before.coefficients, size)
        )
        self.leaf_variables[leaf] += (position,)
        used = self.instruments[reading]
        self.instruments[reading] = used._replace(
            standard_uncertainty=standard_uncertainty(used.standard_uncertainty, size)
        )

    def _shared(self, dimension: int, error: Variable) -> int:
        """Position of a sensor's calibration error, which all its readings share."""
        position = self.sensors.setdefault(dimension, len(self.variables))
        if position == len(self.variables):
            self.variables.append(error)
        return position

    def _settle(
        self, leaf: str, value: float, parts: list[tuple[int, float]], shown: tuple[str, ...]
    ) -> None:
        positions = tuple([position for position, _ in parts])
        self.leaf_variables[leaf] = positions
        self.uncertain[leaf] = Uncertain(value, positions, tuple([size for _, size in parts]))
        self.depends[leaf] = shown


def _form(value: Any) -> object:  # noqa: ANN401
    """What visits must share of a leaf without errors: for numbers and tables of numbers, only the form."""
    if isinstance(value, float):
        return None
    return tuple([_form(part) for part in value]) if isinstance(value, tuple) else value


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


def assume(visit: Visit, names: Iterable[str]) -> None:
    """Take the assumptions named into the visit, each as a leaf."""
    for name in names:
        value, label, term, error = _assumption(name)
        visit.assumes(name, value, label, term, error)


def draw(visits: Sequence[Visit]) -> dict[str, FloatArray]:
    """Draw the uncertain leaves of visits of one kind that are not drawn yet, each visit its own rows.

    Returns them by leaf, shape (visits, N + 1).  Assumptions are the same for all visits, and what follows
    from them alone is drawn once: (1, N + 1).
    """
    assumed = [name for name in visits[0].uncertain if name.startswith(ASSUMED)]
    common = _drawn(visits[:1], assumed)
    for name, rows in common.items():
        for visit in visits:
            visit.leaves[name] = rows[0]
    read = [name for name in visits[0].uncertain if not name.startswith(ASSUMED)]
    own = _drawn(visits, read)
    for name, rows in own.items():
        for visit, row in zip(visits, rows, strict=True):
            visit.leaves[name] = row
    return common | own


def _drawn(visits: Sequence[Visit], names: Iterable[str]) -> dict[str, FloatArray]:
    """Draws of leaves (visits, N + 1), of those that are not drawn yet."""
    first = visits[0]
    names = [name for name in names if name not in first.leaves]
    if not names:
        return {}
    parts = [first.uncertain[name] for name in names]
    rows = [row for row, part in enumerate(parts) for _ in part.positions]
    columns = [position for part in parts for position in part.positions]
    every = [[visit.uncertain[name] for name in names] for visit in visits]
    coefficients = np.zeros((len(visits), len(names), len(first.variables)))
    coefficients[:, rows, columns] = [
        [value for part in own for value in part.coefficients] for own in every
    ]
    values = np.array([[part.value for part in own] for own in every])
    drawn = (coefficients @ first.inputs.basis.draws + values[:, :, None]).transpose(1, 0, 2)
    found: dict[str, FloatArray] = dict(zip(names, drawn, strict=True))
    for row, (name, part) in enumerate(zip(names, parts, strict=True)):
        if isinstance(part.then, str):
            found[name] = found[name] + found[part.then]
        elif part.then is not None:
            found[name] = part.then(found[name])
            # The nominal is what the caller read, not its round trip through the curves.
            found[name][:, 0] = [own[row].shown for own in every]
    return found
