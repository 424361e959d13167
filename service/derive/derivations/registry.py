"""What a derived quantity is, and the table that the other modules of this folder fill.

A derivation names a quantity and the names it needs: paths of the request
(``run.readings.suction_pressure``), assumptions (``assumed.power_factor``) or other quantities.
Rows of one quantity are alternatives in order of trust.  The functions are pure, in SI, and work
element by element along the draws axis.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.reference.capacity_control import UNSETTLED, Running, Unsettled
from service.reference.circuits import OF_THE_WHOLE_UNIT

FloatArray = NDArray[np.float64]
Compute = Callable[..., Any]

COOLING = ("cooling",)
HEATING = ("heating",)
BOTH = ("cooling", "heating")


@dataclass(frozen=True, slots=True)
class UnitKind:
    """The traits of a unit that decide which quantities and limits apply to it."""

    mode: str
    device: str | None
    phases: int
    control: str = "single_speed"
    ducted: bool = True
    running: Running = "full"
    circuits: int = 1

    @property
    def capacity_is_known(self) -> bool:
        """Whether it is known at which capacity it ran, so that runs at the same one compare."""
        return self.running != "unknown"

    @property
    def unsettled(self) -> Unsettled | None:
        """Why its capacity is not known and how to find it; None where it is known."""
        return None if self.capacity_is_known else UNSETTLED[self.control]

    def within(
        self,
        modes: tuple[str, ...],
        devices: tuple[str, ...],
        phases: tuple[int, ...],
        running: tuple[Running, ...] = (),
    ) -> bool:
        """Whether it is one of the kinds named; empty devices, phases or ways of running name all."""
        return (
            self.mode in modes
            and (not devices or self.device in devices)
            and (not phases or self.phases in phases)
            and (not running or self.running in running)
        )


@dataclass(frozen=True, slots=True)
class Quantity:
    """A derived quantity.

    ``expected_with`` names paths of which at least one must be given before its absence is worth
    a word (empty: always worth one); of an ``optional`` one it never is, and not in the modes that it is
    ``optional_in``.  ``devices``, ``phases``
    and ``running`` limit the units it applies to.  An ``internal`` one is a step on the way: it is
    neither shown nor asked for, and its value may be anything made of arrays whose last axis is the
    draws.  A ``reconciled`` one is adjusted to agree with the balances; one that ``follows`` is
    computed again from those.
    """

    name: str
    label: str
    kind: str
    modes: tuple[str, ...] = BOTH
    devices: tuple[str, ...] = ()
    phases: tuple[int, ...] = ()
    running: tuple[Running, ...] = ()
    expected_with: tuple[str, ...] = ()
    optional: bool = False
    optional_in: tuple[str, ...] = ()
    internal: bool = False
    reconciled: bool = False
    follows: bool = False

    def is_asked_for(self, unit: UnitKind) -> bool:
        """Whether its absence may be worth a word for such a unit."""
        return not (self.internal or self.optional or unit.mode in self.optional_in) and self.concerns(unit)

    def concerns(self, unit: UnitKind) -> bool:
        """Whether the quantity applies to such a unit."""
        if unit.circuits > 1 and self.name in OF_THE_WHOLE_UNIT:
            return False
        return unit.within(self.modes, self.devices, self.phases, self.running)


@dataclass(frozen=True, slots=True)
class Derivation:
    """One way to compute a quantity."""

    quantity: str
    needs: tuple[str, ...]
    compute: Compute
    method: str
    source: str


REGISTERED_QUANTITIES: dict[str, Quantity] = {}
REGISTERED_DERIVATIONS: list[Derivation] = []


def quantity(name: str, label: str, kind: str, **limits: Any) -> None:  # noqa: ANN401
    """Add a quantity to the table."""
    REGISTERED_QUANTITIES[name] = Quantity(name, label, kind, **limits)


def derive(name: str, needs: tuple[str, ...], compute: Compute, method: str, source: str = "definition") -> None:
    """Add a way to compute a quantity, after the more trusted ones."""
    REGISTERED_DERIVATIONS.append(Derivation(name, needs, compute, method, source))


def same(value: FloatArray) -> FloatArray:
    """The value itself."""
    return value


def over(numerator: FloatArray, denominator: FloatArray) -> FloatArray:
    """A quotient; not-a-number where the denominator is not above zero."""
    divisor = np.asarray(denominator, dtype=np.float64)
    return np.asarray(numerator / np.where(divisor > 0.0, divisor, np.nan))
