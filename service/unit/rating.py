"""What is known of a unit from its rating, in the mode in which it runs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple, cast

from service.derive.derivations import UnitKind
from service.intake.paths import PHASES, RATED, SITE_PRESSURE
from service.reference.healthy_units import RATED_CAPACITY
from service.reference.unit_model_heating import HEATING_OF_COOLING, HEATING_OF_COOLING_SPREAD
from service.unit.layout import Mode
from service.unit.model import UnitModel


class Rated(NamedTuple):
    """A rated capacity [W], the spread of its logarithm, and the path of the rating that it comes from."""

    capacity: float
    spread: float
    path: str


def rated_capacity(leaves: Mapping[str, Any], mode: str) -> Rated | None:
    """The capacity that the unit is rated for in a mode; in heating from that in cooling where no other is given."""
    own = leaves.get(RATED + f"{mode}_capacity")
    if own is not None:
        return Rated(float(own), RATED_CAPACITY, RATED + f"{mode}_capacity")
    cooling = leaves.get(RATED + "cooling_capacity")
    if mode == "cooling" or cooling is None:
        return None
    factor, constant = HEATING_OF_COOLING
    spread = (RATED_CAPACITY**2 + HEATING_OF_COOLING_SPREAD**2) ** 0.5
    return Rated(factor * float(cooling) + constant, spread, RATED + "cooling_capacity")


def model_of_unit(leaves: Mapping[str, Any], unit: UnitKind) -> UnitModel:
    """The model of a unit whose refrigerant is known."""
    rated = rated_capacity(leaves, unit.mode)
    return UnitModel.of(
        leaves[PHASES],
        unit.device,
        float(leaves[SITE_PRESSURE][0]),
        None if rated is None else rated.capacity,
        cast(Mode, unit.mode),
    )
