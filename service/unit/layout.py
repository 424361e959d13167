"""What differs between the modes of a unit: its parameters, what may change, and the names of its outputs.

The parameters of a fit are one vector; its layout says which place is which.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Literal

from service.reference import performance_maps as maps
from service.reference import unit_model as cooling
from service.reference import unit_model_heating as heating
from service.reference.unit_model import Cause, Parameter

Mode = Literal["cooling", "heating"]
Weather = Literal["before", "after", "rating", "rating_low"]
Health = Literal["before", "after"]

RUNS: tuple[Health, Health] = ("before", "after")


@dataclass(frozen=True)
class Layout:
    """The vector of parameters of one mode: P names and their places, C of them changes.

    ``ratings`` are the conditions of the rating points; ``capacity`` and ``efficiency`` are the outputs that
    a verdict is about; ``causes`` may have changed the unit, ``drift`` is what nobody changed, and bands are
    widened by the factor ``widening``.
    """

    mode: Mode
    parameters: Mapping[str, Parameter]
    ratings: Mapping[str, Mapping[str, float]]
    causes: Mapping[str, Cause]
    drift: Mapping[str, float]
    superheat_spreads: Mapping[str, tuple[float, float]]
    widening: float
    capacity: str
    efficiency: str

    @cached_property
    def conditions(self) -> tuple[str, ...]:
        """Names of a visit's conditions."""
        return self._of_group("conditions")

    @cached_property
    def names(self) -> tuple[str, ...]:
        """All P names, conditions of both visits first."""
        return (
            *(f"{name}_{run}" for run in RUNS for name in self.conditions),
            *(row.name for row in self.parameters.values() if row.group != "conditions"),
        )

    @cached_property
    def index(self) -> Mapping[str, int]:
        """The place of each name."""
        return MappingProxyType({name: place for place, name in enumerate(self.names)})

    @cached_property
    def changes(self) -> tuple[str, ...]:
        """Names of the C changes."""
        return self._of_group("change")

    @cached_property
    def places(self) -> list[int]:
        """Places of the changes."""
        return [self.index[name] for name in self.changes]

    def _of_group(self, group: str) -> tuple[str, ...]:
        return tuple(row.name for row in self.parameters.values() if row.group == group)

    def row(self, name: str) -> Parameter:
        """The row of the reference data behind a parameter."""
        return self.parameters[name.rsplit("_", 1)[0] if name.endswith(("_before", "_after")) else name]

    @property
    def of_the_system(self) -> tuple[str, str]:
        """Outputs that the verdict on the system is about."""
        return self.efficiency, self.capacity


LAYOUTS: Mapping[str, Layout] = MappingProxyType(
    {
        "cooling": Layout(
            mode="cooling",
            parameters=cooling.PARAMETERS,
            ratings=MappingProxyType({"rating": maps.RATING_CONDITIONS}),
            causes=cooling.CAUSES,
            drift=cooling.DRIFT,
            superheat_spreads=cooling.SUPERHEAT_SPREADS,
            widening=cooling.WIDENING,
            capacity="cooling_capacity",
            efficiency="eer",
        ),
        "heating": Layout(
            mode="heating",
            parameters=heating.PARAMETERS,
            ratings=MappingProxyType(
                {"rating": heating.RATING_CONDITIONS, "rating_low": heating.LOW_RATING_CONDITIONS}
            ),
            causes=heating.CAUSES,
            drift=heating.DRIFT,
            superheat_spreads=heating.SUPERHEAT_SPREADS,
            widening=heating.WIDENING,
            capacity="heating_capacity",
            efficiency="heating_cop",
        ),
    }
)
