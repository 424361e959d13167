"""What differs between the modes of a unit: its parameters, what may change, and the names of its outputs.

The parameters of a fit are one vector; its layout says which place is which.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True)
class Layout:
    """The vector of parameters of one mode: P names and their places, C of them changes.

    ``conditions`` are the names of a visit's conditions, ``ratings`` those of the rating points; ``capacity``
    and ``efficiency`` are the outputs that a verdict is about; ``causes`` may have changed the unit,
    ``drift`` is what nobody changed, and bands are widened by the factor ``widening``.
    """

    mode: Mode
    parameters: Mapping[str, Parameter]
    conditions: tuple[str, ...]
    names: tuple[str, ...]
    index: Mapping[str, int]
    changes: tuple[str, ...]
    places: list[int]
    ratings: Mapping[str, Mapping[str, float]]
    causes: Mapping[str, Cause]
    drift: Mapping[str, float]
    superheat_spreads: Mapping[str, tuple[float, float]]
    widening: float
    capacity: str
    efficiency: str

    @classmethod
    def of(
        cls,
        mode: Mode,
        parameters: Mapping[str, Parameter],
        ratings: Mapping[str, Mapping[str, float]],
        causes: Mapping[str, Cause],
        drift: Mapping[str, float],
        superheat_spreads: Mapping[str, tuple[float, float]],
        widening: float,
        capacity: str,
        efficiency: str,
    ) -> Layout:
        """The layout of a mode's rows, conditions of both visits first."""
        conditions = tuple(row.name for row in parameters.values() if row.group == "conditions")
        names = (
            *(f"{name}_{run}" for run in RUNS for name in conditions),
            *(row.name for row in parameters.values() if row.group != "conditions"),
        )
        index = {name: place for place, name in enumerate(names)}
        changes = tuple(row.name for row in parameters.values() if row.group == "change")
        return cls(
            mode,
            parameters,
            conditions,
            names,
            MappingProxyType(index),
            changes,
            [index[name] for name in changes],
            ratings,
            causes,
            drift,
            superheat_spreads,
            widening,
            capacity,
            efficiency,
        )

    def row(self, name: str) -> Parameter:
        """The row of the reference data behind a parameter."""
        return self.parameters[name.rsplit("_", 1)[0] if name.endswith(("_before", "_after")) else name]

    @property
    def of_the_system(self) -> tuple[str, str]:
        """Outputs that the verdict on the system is about."""
        return self.efficiency, self.capacity


LAYOUTS: Mapping[str, Layout] = MappingProxyType(
    {
        "cooling": Layout.of(
            "cooling",
            cooling.PARAMETERS,
            MappingProxyType({"rating": maps.RATING_CONDITIONS}),
            cooling.CAUSES,
            cooling.DRIFT,
            cooling.SUPERHEAT_SPREADS,
            cooling.WIDENING,
            "cooling_capacity",
            "eer",
        ),
        "heating": Layout.of(
            "heating",
            heating.PARAMETERS,
            MappingProxyType({"rating": heating.RATING_CONDITIONS, "rating_low": heating.LOW_RATING_CONDITIONS}),
            heating.CAUSES,
            heating.DRIFT,
            heating.SUPERHEAT_SPREADS,
            heating.WIDENING,
            "heating_capacity",
            "heating_cop",
        ),
    }
)
