"""`POST /v1/plans`: intended readings in, what they could show out."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from typing_extensions import TypeAliasType

from schemas.answers import Answer, fact
from schemas.assessments import CapacityOfRun, Provenance, UnitRequest, number
from schemas.growth import MayGrow
from schemas.quantities import (
    WHOLE,
    InstrumentName,
    Model,
    Number,
    StrictInteger,
    StrictText,
    Temperature,
    TemperatureDifference,
    UnitSystem,
    quantity,
)

PlannedCauseName = TypeAliasType(
    "PlannedCauseName",
    Annotated[
        Literal[
            "condenser_heat_transfer",
            "evaporator_airflow",
            "evaporator_heat_transfer",
            "charge",
            "compressor",
            "non_condensable_gas",
            "outdoor_coil",
            "indoor_airflow",
            "indoor_coil",
            "reversing_valve",
        ],
        Field(
            description="What may change. In cooling: `condenser_heat_transfer`, `evaporator_airflow`, "
            "`evaporator_heat_transfer`; in heating: `outdoor_coil`, `indoor_airflow`, `indoor_coil`, "
            "`reversing_valve`; the others in both."
        ),
    ],
)

# ---------------------------------------------------------------- request


class IntendedReading(Model):
    """A reading that is to be made in both runs."""

    instrument: InstrumentName | None = Field(
        default=None,
        description="The instrument of the kit. Default: the one that can make it, else the type "
        "assumed for such a reading.",
        examples=["gauges"],
    )
    repeats: Annotated[StrictInteger, WHOLE] = Field(
        default=1,
        ge=1,
        le=100,
        description="How many times it is to be read in each run.",
        examples=[3],
        json_schema_extra={"x-unit": "1"},
    )


class PlannedConditions(Model):
    """The weather that is expected."""

    outdoor_air_dry_bulb: quantity(Temperature) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="Outdoor air in the first run. Default: 95 °F in cooling, 47 °F in heating.",
        examples=[88.0],
        json_schema_extra={"x-unit": "degF"},
    )
    outdoor_difference: quantity(TemperatureDifference) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="How much warmer or cooler the second run may be outdoors. Default: no difference.",
        examples=[6.0],
        json_schema_extra={"x-unit": "delta_degF"},
    )
    wet_bulb_difference: quantity(TemperatureDifference) | None = Field(  # type: ignore[valid-type]
        default=None,
        description="How much the return wet bulb may differ. Default: no difference.",
        examples=[2.0],
        json_schema_extra={"x-unit": "delta_degF"},
    )


class WorthFinding(Model):
    """The change that is worth finding."""

    efficiency_percent: float | None = number(0, 50, "%", 5.0, "Of efficiency. Default: 5 %.", above=True)
    cause: PlannedCauseName | None = Field(
        default=None,
        description="What is expected to change. Default: whichever is hardest to find.",
        examples=["condenser_heat_transfer"],
    )


class PlanRequest(UnitRequest, CapacityOfRun):
    """The unit, the kit and the intended readings."""

    readings: dict[StrictText, IntendedReading] = Field(
        min_length=1,
        max_length=60,
        description="The readings to be made in both runs, by their names in `run.readings`; "
        "parts of a group with a dot (`capacitor_voltage.compressor`).",
        examples=[{"suction_pressure": {"repeats": 3}, "liquid_pressure": {}}],
    )
    minutes_running: Number | None = number(
        0, 100000, "min", 20.0, "Minutes that the unit is to run before each run is read. Default: 20."
    )
    conditions: PlannedConditions = Field(
        default_factory=PlannedConditions,
        description="The weather that is expected.",
        examples=[{"outdoor_difference": 6.0}],
    )
    change_worth_finding: WorthFinding = Field(
        default_factory=WorthFinding,
        description="The change that is worth finding.",
        examples=[{"efficiency_percent": 5}],
    )


# ---------------------------------------------------------------- answer


class Findable(Answer):
    """How large a change by one cause must be to show."""

    cause: Annotated[Annotated[PlannedCauseName, MayGrow()], fact("What may change.", "condenser_heat_transfer")]
    text: Annotated[str, fact("In plain words.", "the outdoor coil's heat transfer")]
    smallest_detectable_percent: Annotated[
        float | None,
        fact(
            "Smallest change of efficiency by this cause that would show (95 % confidence, "
            "80 % power); null where a change by this cause does not show.",
            3.8,
            "%",
            ge=0,
        ),
    ]
    probability_of_finding: Annotated[
        float,
        fact(
            "Probability that the change worth finding would show, if this is its cause.",
            0.94,
            "1",
            ge=0,
            le=1,
        ),
    ]
    sentence: Annotated[str, fact("How large the change itself must be, in plain words.", "...")]


class QuantityPlan(Answer):
    """How large a change of one derived value must be to show."""

    unit: Annotated[str, fact("Unit of the change.", "delta_degF")]
    smallest_detectable: Annotated[
        float,
        fact(
            "Smallest change that would show (95 % confidence, 80 % power), under the same conditions, "
            "whatever else changes with it.",
            2.1,
            "as unit",
            ge=0,
        ),
    ]
    limited_by: Annotated[str | None, fact("The instrument that limits it most.", "gauges")]
    share: Annotated[float, fact("Its share of the variance of the change as read.", 0.7, "1", ge=0, le=1)]


#: Ways to see smaller changes.
WayName = Literal["repeats", "better_instrument", "added_reading", "like_weather", "longer_run"]


class Improvement(Answer):
    """One way to see smaller changes."""

    way: Annotated[
        Annotated[WayName, MayGrow()],
        fact(
            "`repeats`: read everything that often in each run. `better_instrument`: one with half the "
            "error. `added_reading`: make this reading too, in both runs. `like_weather`: make both runs in "
            "the same weather. `longer_run`: let the unit settle before each run is read.",
            "repeats",
        ),
    ]
    what: Annotated[str, fact("What to do, in plain words.", "reading everything 4 times in each run")]
    smallest_detectable_percent: Annotated[
        float, fact("Smallest change of efficiency that would then show.", 2.9, "%", ge=0)
    ]
    ratio: Annotated[
        float | None,
        fact(
            "That change divided by the one that the unchanged plan would show: 0.5 halves it. Null where the plan "
            "gives no change of efficiency.",
            0.76,
            "1",
            ge=0,
        ),
    ]


class Plan(Answer):
    """What the intended readings could show."""

    units: Annotated[UnitSystem, fact("Unit system of this answer.", "imperial")]
    can_be_found: Annotated[
        bool | None,
        fact(
            "Whether the change worth finding would show in four of five pairs of runs; null "
            "where these readings do not give a change of efficiency at all.",
            True,
        ),
    ]
    sentence: Annotated[str, fact("In plain words.", "...")]
    change_worth_finding_percent: Annotated[float, fact("As asked, or 5 %.", 5.0, "%")]
    smallest_detectable_percent: Annotated[
        float | None,
        fact(
            "Smallest change of efficiency that would show: for the cause asked for, or "
            "whatever the cause (95 % confidence, 80 % power). Null where these readings do not give one, or "
            "a change by some cause does not show.",
            3.8,
            "%",
        ),
    ]
    by_cause: Annotated[list[Findable], fact("The same by cause, hardest first.", [])]
    limited_by: Annotated[
        dict[str, float],
        fact(
            "What contributes to the variance, as shares, largest first: instruments, the effect of the weather "
            "on the unit, changes that the readings do not show.",
            {"gauges": 0.4},
            "1",
        ),
    ]
    improvements: Annotated[list[Improvement], fact("Ways to see smaller changes, best first.", [])]
    to_halve_it: Annotated[str, fact("What would halve the smallest change that would show.", "...")]
    quantities: Annotated[dict[str, QuantityPlan], fact("By derived value.", {})]
    provenance: Annotated[
        Provenance,
        fact(
            "What computed this answer.",
            {"service": "0.1.0", "refrigerant_model": "CoolProp 8.0.0", "draws": 256, "method": "..."},
        ),
    ]
