"""What is known of a unit from its rating, in the mode and at the capacity at which it runs."""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot
from typing import Any, NamedTuple, cast

from service.derive.derivations import UnitKind
from service.derive.rated_efficiency import rating
from service.intake.paths import PHASES, RATED, SHARE_OF_FULL, SITE_PRESSURE
from service.reference.unit_model_heating import HEATING_OF_COOLING, HEATING_OF_COOLING_SPREAD
from service.unit.layout import Mode
from service.unit.model import UnitModel


class Rated(NamedTuple):
    """A rated capacity [W], the spread of its logarithm beyond the maker's tolerance, and the path of the rating
    that it comes from."""

    value: float
    spread: float
    path: str


def rated_capacity(leaves: Mapping[str, Any], unit: UnitKind) -> Rated | None:
    """The capacity that the unit is rated for in its mode; in heating from that in cooling where no other is given."""
    own = rating(leaves, f"{unit.mode}_capacity")
    if own is not None:
        return Rated(own.value, own.spread, RATED + f"{unit.mode}_capacity")
    cooling = rating(leaves, "cooling_capacity")
    if unit.mode == "cooling" or cooling is None:
        return None
    factor, constant = HEATING_OF_COOLING
    spread = hypot(cooling.spread, HEATING_OF_COOLING_SPREAD)
    return Rated(factor * cooling.value + constant, spread, RATED + "cooling_capacity")


def size_of_unit(leaves: Mapping[str, Any], unit: UnitKind) -> Rated | None:
    """The same for two runs of one unit; None where the maker's test mode held the speed at what no rating states."""
    return None if unit.running == "test_mode" else rated_capacity(leaves, unit)


def model_of_unit(leaves: Mapping[str, Any], unit: UnitKind, rated: Rated | None) -> UnitModel:
    """The model of a unit whose refrigerant is known."""
    return UnitModel.of(
        leaves[PHASES],
        unit.device,
        float(leaves[SITE_PRESSURE][0]),
        None if rated is None else rated.value,
        leaves.get(SHARE_OF_FULL, 1.0),
        cast(Mode, unit.mode),
    )
