"""One run of readings in SI: what the intake makes of a request.  Nothing in it is drawn, or changes later."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from service.intake.leaves import Uncertain
from service.intake.logged import LoggedRun
from service.intake.paths import NAMEPLATE
from service.reference.conditions import DualVoltage
from service.reference.credible import BoundRow
from service.reference.refrigerants import Refrigerant
from service.uncertainty.low_discrepancy import Sample
from service.uncertainty.propagation import Variable

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


class Disputed(NamedTuple):
    """A column of the maker's table that is far from the rating at its conditions [SI]."""

    column: str
    printed: float
    rated: float


class LeftOut(NamedTuple):
    """Readings that cannot be right and were left out, ``value`` [SI] of the first.

    ``taken`` is the unit in which they were taken, ``meant`` the one in which they would make sense, None where no unit
    does.  ``row`` has the bounds of a single reading, which are factors on ``of``, a path of the request with its value
    [SI], if that is not None.
    """

    readings: tuple[str, ...]
    value: float
    taken: str
    meant: str | None
    row: BoundRow | None = None
    of: tuple[str, float] | None = None

    @property
    def bounds(self) -> tuple[float, float]:
        """The bounds of a single reading [SI]."""
        assert self.row is not None
        factor = 1.0 if self.of is None else self.of[1]
        return self.row.low * factor, self.row.high * factor


@dataclass(frozen=True, slots=True)
class Visit:
    """One run of readings in SI, with the structure of its errors.

    ``constants`` maps the paths of the request that have no error to plain numbers and tables, and holds the
    saturation curves; ``uncertain`` are the leaves with errors.  ``depends`` names, for each leaf, the names
    that an answer's ``from`` shows.  ``variables`` are the independent random variables in use,
    ``leaf_variables`` their positions by leaf, ``sensors`` those of shared calibration errors.  ``table_gap``
    is why the maker's table was not used, at least in part.  ``logged`` is what its log says, ``minutes_running`` how
    long the unit had run, as stated or as the log shows.  ``left_out`` are readings that cannot be right,
    ``table_disputed`` what of the maker's table contradicts the rating, so that none was used.
    """

    system: str
    sample: Sample
    constants: Mapping[str, Any]
    uncertain: Mapping[str, Uncertain]
    depends: Mapping[str, tuple[str, ...]]
    readings: Mapping[str, float]
    instruments: Mapping[str, UsedInstrument]
    variables: tuple[Variable, ...]
    sensors: Mapping[int, int]
    leaf_variables: Mapping[str, tuple[int, ...]]
    refrigerant: Refrigerant | None
    phases: int
    assumed_sea_level: bool
    presumed_plate: PresumedPlate | None
    stated_altitude_pressure: float | None
    table_gap: str | None
    unzeroed: tuple[str, ...]
    unsteady: tuple[Scatter, ...]
    logged: LoggedRun | None
    minutes_running: float | None
    left_out: tuple[LeftOut, ...]
    table_disputed: tuple[Disputed, ...]

    @property
    def given(self) -> frozenset[str]:
        """The paths of all leaves."""
        return frozenset((*self.constants, *self.uncertain))

    @property
    def kind(self) -> tuple[object, ...]:
        """What visits must share to be computed together: all but the numbers."""
        return (
            self.sample.draws,
            tuple([(v.mix, v.owner, v.key) for v in self.variables]),
            tuple([(name, u.positions, u.then) for name, u in self.uncertain.items()]),
            tuple([(name, value if name in KIND_OF_UNIT else _form(value)) for name, value in self.constants.items()]),
        )

    def nominal(self, name: str) -> float | None:
        """A reading's nominal SI value, None where it was not given."""
        return self.readings.get(name)


def _form(value: Any) -> object:  # noqa: ANN401
    """What visits must share of a leaf without errors: for numbers and tables of numbers, only the form."""
    if isinstance(value, float):
        return None
    return tuple([_form(part) for part in value]) if isinstance(value, tuple) else value
