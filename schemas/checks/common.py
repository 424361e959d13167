"""What all checks share: the base of their requests, and the one shape of their answers."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field
from typing_extensions import TypeAliasType

from schemas.answers import Answer, fact
from schemas.assessments import (
    Caution,
    DerivedValue,
    Finding,
    Instant,
    InstrumentUsed,
    Kit,
    Labels,
    Missing,
    Notice,
    Options,
    Provenance,
    Site,
)
from schemas.growth import MayGrow
from schemas.quantities import Model, Number, StrictText, UnitSystem

CheckName = TypeAliasType(
    "CheckName",
    Annotated[
        Literal[
            "pressure-hold",
            "vacuum-rise",
            "pressure-at-rest",
            "leak-rate",
            "charge-by-weight",
            "motor",
            "air-delivery",
        ],
        Field(description="A check, as in `POST /v1/checks/{check}`."),
    ],
)

# ---------------------------------------------------------------- request


class CheckedUnit(Model):
    """The unit, as far as the check needs it."""

    refrigerant: StrictText | None = Field(
        default=None,
        min_length=1,
        max_length=30,
        description="ASHRAE designation, see `GET /v1/refrigerants`.",
        examples=["R-410A"],
    )


class CheckRequest(Model):
    """What every check asks for besides its own readings."""

    units: UnitSystem = Field(
        description="Unit system of bare numbers and of the answer. There is no default.",
        examples=["imperial"],
    )
    unit: CheckedUnit = Field(
        default_factory=CheckedUnit,
        description="The unit, as far as this check needs it.",
        examples=[{"refrigerant": "R-410A"}],
    )
    site: Site = Field(default_factory=Site, description="Where the unit is.", examples=[{"altitude": 980}])
    kit: Kit = Field(
        default_factory=dict,
        description="The instruments, each under a name of your own. All readings of one series count as made by one "
        "sensor, so its calibration error cancels in a difference.",
        examples=[{"gauges": {"type": "pressure_transducer"}}],
    )
    labels: Labels | None = Field(
        default=None,
        description="Texts that a report shows: whose unit it is, and who took the readings.",
        examples=[{"visit": "Work order 1042", "unit": "Unit 2, north roof"}],
    )
    taken_at: Instant | None = Field(
        default=None,
        description="When the readings were taken, ISO 8601.",
        examples=["2026-07-14T14:05:00-05:00"],
    )
    options: Options = Field(
        default_factory=Options, description="Options of the computation.", examples=[{"draws": 256}]
    )


def minutes(example: float, description: str = "Minutes since the test began.") -> Any:  # noqa: ANN401
    """A field with a time of a series."""
    return Field(ge=0, le=100_000, description=description, examples=[example], json_schema_extra={"x-unit": "min"})


Minutes = Number

# ---------------------------------------------------------------- answer


class Explanation(Answer):
    """One explanation of the readings, and its probability next to the others."""

    name: Annotated[str, fact("Stable name; the description of the operation lists them.", "leak")]
    probability: Annotated[float, fact("Probability, given the readings.", 0.93, "1", ge=0, le=1)]
    sentence: Annotated[str, fact("What it means, in plain words.", "...")]


class Information(Answer):
    """A number or rule to know. It grades nothing and permits nothing."""

    id: Annotated[str, fact("Stable name.", "threshold_comfort_cooling")]
    value: Annotated[float | None, fact("The number; null where there is none.", 10.0, "as unit")]
    unit: Annotated[str | None, fact("Its unit.", "%/a")]
    sentence: Annotated[str, fact("What it says, with its edition and what it defers to.", "...")]
    source: Annotated[str, fact("Where it comes from, and how well that is known.", "...")]


class CheckStep(Answer):
    """What to do next."""

    action: Annotated[str, fact("Stable name.", "test_joints_with_bubbles")]
    sentence: Annotated[str, fact("What to do, in plain words.", "Test every joint with bubbles.")]


class CheckAnswer(Answer):
    """The answer to a check: what was found, how sure it is, what it means, and what to do next.

    Values and findings have the same shape as in an assessment.
    """

    check: Annotated[Annotated[CheckName, MayGrow()], fact("Which check this is.", "pressure-hold")]
    units: Annotated[UnitSystem, fact("Unit system of this answer.", "imperial")]
    verdict: Annotated[
        str, fact("The outcome by a stable name; the description of the operation lists them.", "no_loss_seen")
    ]
    sentence: Annotated[str, fact("The outcome in plain words.", "No loss was seen. ...")]
    derived: Annotated[dict[str, DerivedValue], fact("Derived values by name.", {})]
    findings: Annotated[list[Finding], fact("Findings, most pressing first.", [])]
    hypotheses: Annotated[
        list[Explanation], fact("Explanations of the readings, most probable first; empty where there is only one.", [])
    ]
    notices: Annotated[list[Notice], fact("What is odd about the readings, weightiest first.", [])]
    information: Annotated[list[Information], fact("Numbers and rules to know.", [])]
    missing: Annotated[list[Missing], fact("What could not be derived, and what would unlock it.", [])]
    next_steps: Annotated[list[CheckStep], fact("What to do next, in order.", [])]
    cautions: Annotated[list[Caution], fact("Cautions, gravest first; always at least one.", [])]
    instruments: Annotated[dict[str, InstrumentUsed], fact("The instrument behind each reading.", {})]
    provenance: Annotated[
        Provenance,
        fact(
            "What computed this answer.",
            {"service": "0.1.0", "refrigerant_model": None, "draws": 256, "method": "JCGM 101 propagation"},
        ),
    ]
