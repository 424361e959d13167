"""One request on its way in: what has been settled so far, and what is refused."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Self

from schemas.assessments import AssessmentRequest
from schemas.quantities import Model
from service.intake.kit import Kit, kit_of
from service.intake.leaves import Leaves
from service.intake.logged import LoggedRun
from service.intake.refusals import Refusal, pointer
from service.intake.visit import Disputed, LeftOut, PresumedPlate, Scatter, UsedInstrument, Visit
from service.reference.capacity_control import Running
from service.reference.refrigerants import Refrigerant
from service.reference.units import OTHER_TEMPERATURE, conversion, system_unit
from service.uncertainty.low_discrepancy import sample


@dataclass(slots=True)
class Entry:
    """A request that is being taken in; the fields are those of the visit that it becomes.

    ``planned`` are numbers of repeats of readings that are yet to be made.
    """

    request: AssessmentRequest
    system: str
    kit: Kit
    planned: Mapping[str, int]
    leaves: Leaves = field(default_factory=Leaves)
    constants: dict[str, Any] = field(default_factory=dict)
    readings: dict[str, float] = field(default_factory=dict)
    instruments: dict[str, UsedInstrument] = field(default_factory=dict)
    running: Running = "full"
    refrigerant: Refrigerant | None = None
    phases: int = 1
    assumed_sea_level: bool = False
    presumed_plate: PresumedPlate | None = None
    stated_altitude_pressure: float | None = None
    table_gap: str | None = None
    unzeroed: list[str] = field(default_factory=list)
    unsteady: list[Scatter] = field(default_factory=list)
    logged: LoggedRun | None = None
    left_out: list[LeftOut] = field(default_factory=list)
    table_disputed: tuple[Disputed, ...] = ()
    refusals: list[Refusal] = field(default_factory=list)

    @classmethod
    def of(cls, request: AssessmentRequest, planned: Mapping[str, int] | None, *, compared: bool) -> Self:
        """With the kit of the request, and nothing taken in yet."""
        system = request.units
        return cls(request, system, kit_of(request.kit, system, compared=compared), planned or {})

    def visit(self) -> Visit:
        """The visit, as it stays."""
        leaves = self.leaves
        return Visit(
            self.system,
            sample(self.request.options.draws),
            MappingProxyType(self.constants),
            MappingProxyType(leaves.uncertain),
            MappingProxyType(leaves.depends),
            MappingProxyType(self.readings),
            MappingProxyType(self.instruments),
            tuple(leaves.variables),
            MappingProxyType(leaves.sensors),
            MappingProxyType(leaves.leaf_variables),
            self.refrigerant,
            self.phases,
            self.assumed_sea_level,
            self.presumed_plate,
            self.stated_altitude_pressure,
            self.table_gap,
            tuple(self.unzeroed),
            tuple(self.unsteady),
            self.logged,
            self.minutes_running,
            tuple(self.left_out),
            self.table_disputed,
        )

    @property
    def minutes_running(self) -> float | None:
        """Minutes that the unit had run, as stated, else as its log shows."""
        stated = self.request.run.minutes_running
        return self.logged.minutes_running if stated is None and self.logged is not None else stated

    def constant(self, path: str, value: object, shown: str | None = None) -> None:
        """A leaf without errors, and the name that an answer shows for it."""
        self.constants[path] = value
        self.leaves.depends[path] = (shown or path,)

    def plain(self, path: str, given: Any, kind: str) -> None:  # noqa: ANN401
        """A number with a unit as a leaf without errors, if it was given."""
        if given is not None:
            self.constant(path, self.to_si(given, kind))

    def to_si(self, given: Any, kind: str) -> float:  # noqa: ANN401
        """A number of the request in SI: in its own unit, else in that of the unit system."""
        if isinstance(given, Model):
            symbol = given.unit or system_unit(kind, self.system)  # type: ignore[attr-defined]
            return conversion(kind, symbol).to_si(given.value)  # type: ignore[attr-defined]
        return conversion(kind, system_unit(kind, self.system)).to_si(given)

    def inside(
        self,
        value: float,
        limits: tuple[float, float],
        kind: str,
        where: str,
        given: Any,  # noqa: ANN401
        number: float | None = None,
    ) -> bool:
        """Whether a value is possible; ``number`` is the one meant where several were given."""
        low, high = limits
        if low - 1e-9 * abs(low) <= value <= high + 1e-9 * abs(high):
            return True
        symbol = given.unit if isinstance(given, Model) else None  # type: ignore[attr-defined]
        symbol = symbol or system_unit(kind, self.system)
        unit = conversion(kind, symbol)
        self.refusals.append(
            Refusal(
                where,
                display(given) if number is None else number,
                f"{_end(unit.from_si(low))} to {_end(unit.from_si(high))} {symbol}",
                f"is {'above' if value > high else 'below'} its possible range",
                _range_hint(kind, symbol, value, limits, unit.from_si(value)),
            )
        )
        return False

    def all_positive(self, values: tuple[float, ...], path: str) -> bool:
        """Whether all are above zero; refused if not."""
        if all(value > 0.0 for value in values):
            return True
        self.refusals.append(
            Refusal(
                pointer(*path.split(".")),
                None,
                "above zero",
                "is zero or negative",
                "Correct it, or leave it out.",
            )
        )
        return False


#: Btu/h in a ton of refrigeration, and the largest rating that is one in tons.
_BTU_PER_TON, _MOST_TONS = 12_000, 25.0


def _range_hint(kind: str, symbol: str, value: float, limits: tuple[float, float], number: float) -> str:
    """What to do about a value out of range: a capacity of a few units may be one in tons, a temperature in the other
    unit."""
    low, high = limits
    usual = f"Check the number and its unit (taken as {symbol})."
    if kind == "heat_flow" and symbol == "Btu/h" and value < low and 0.0 < number < _MOST_TONS:
        return f"A ton is 12,000 Btu/h: {number:g} tons are {number * _BTU_PER_TON:,.0f} Btu/h. {usual}"
    other = OTHER_TEMPERATURE.get(symbol)
    if other is not None and low <= conversion(kind, other).to_si(number) <= high:
        return f"It would be possible in {other}: give the unit with the value. {usual}"
    return usual


def display(given: Any) -> float:  # noqa: ANN401
    """The number of a field that is a number, or a number with its unit."""
    return float(getattr(given, "value", given))


def _end(value: float) -> str:
    """An end of a range in four digits, without an exponent."""
    return f"{value:.0f}" if abs(value) >= 1e4 else f"{value:.4g}"
