"""`POST /v1/trends`: three or more dated runs of one unit in, drifts and steps out."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from schemas.answers import Answer, Moment, fact
from schemas.assessments import Band, Options, Provenance, Run, UnitRequest, UsabilityGrade
from schemas.comparisons import Change, Comparability
from schemas.quantities import UnitSystem

_BAND = {"low": -1.2, "high": 3.4, "coverage": 0.95}

# ---------------------------------------------------------------- request


class TrendRequest(UnitRequest):
    """One unit, one kit, three or more dated runs."""

    runs: list[Run] = Field(
        min_length=3,
        max_length=40,
        description="The runs, in any order; each needs `taken_at`.",
        examples=[[{"taken_at": f"202{year}-07-01T10:00:00Z", "readings": {}} for year in (4, 5, 6)]],
    )
    options: Options = Field(default_factory=Options, description="How to compute.", examples=[{"draws": 256}])


# ---------------------------------------------------------------- answer


class TrendRun(Answer):
    """One run of the series."""

    taken_at: Annotated[Moment, fact("When it was made.", "2024-07-01T10:00:00Z")]
    usability: Annotated[UsabilityGrade, fact("Whether its readings can be used.", "usable")]
    comparable: Annotated[
        Comparability,
        fact(
            "Whether its weather compares with that of the first run; where it does not, values that depend on "
            "the weather are left out.",
            "yes",
        ),
    ]
    sentence: Annotated[str, fact("Why, in plain words.", "Outdoor and return air were similar in both runs.")]


class TrendPoint(Answer):
    """One value, corrected to the weather of the first run where it depends on the weather."""

    taken_at: Annotated[Moment, fact("When it was made.", "2024-07-01T10:00:00Z")]
    value: Annotated[float, fact("The value.", 18.4, "as unit")]
    band: Annotated[Band, fact("95 % band, without the errors that all runs share.", _BAND)]
    weight: Annotated[
        float, fact("Its weight in the line: 1 or more where it fits well; below 0.35 it is odd.", 1.2, "1")
    ]


class Step(Answer):
    """A change of level."""

    after: Annotated[Moment, fact("The last run before it.", "2024-07-01T10:00:00Z")]
    before: Annotated[Moment, fact("The first run after it.", "2025-07-01T10:00:00Z")]
    size: Annotated[
        Change, fact("Level after less before.", {"value": 3.0, "standard_uncertainty": 0.8, "band": _BAND})
    ]


class FittedPiece(Answer):
    """One straight piece of the fitted line. At a time `t` its value is `level + slope_per_year * (t - at)`, and
    the variance of that is `level_standard_uncertainty² + (slope_standard_uncertainty * (t - at))²`."""

    start: Annotated[Moment, fact("Its first run.", "2020-07-01T10:00:00Z")]
    end: Annotated[Moment, fact("Its last run.", "2024-07-01T10:00:00Z")]
    at: Annotated[Moment, fact("The time at which it is known best.", "2022-07-01T10:00:00Z")]
    level: Annotated[float, fact("Its value at that time.", 18.4, "as unit")]
    level_standard_uncertainty: Annotated[
        float, fact("Standard uncertainty of that value.", 0.4, "as difference_unit", ge=0)
    ]
    slope_per_year: Annotated[float, fact("Its slope; zero for a level.", 1.4, "as difference_unit")]
    slope_standard_uncertainty: Annotated[
        float, fact("Standard uncertainty of the slope; zero for a level.", 0.4, "as difference_unit", ge=0)
    ]


class DateBand(Answer):
    """A band of dates, of which an end may be too far ahead to give."""

    low: Annotated[Moment | None, fact("Lower end; null over twenty years ahead.", "2026-09-01T00:00:00Z")]
    high: Annotated[Moment | None, fact("Upper end; null over twenty years ahead.", "2030-01-01T00:00:00Z")]
    coverage: Annotated[float, fact("Probability that the band holds the true date.", 0.95, "1", ge=0, le=1)]


class Crossing(Answer):
    """When a drift reaches a limit."""

    limit: Annotated[str, fact("The limit, see `GET /v1/limits`.", "condensing_over_ambient_usual")]
    source: Annotated[str, fact("Where the limit comes from.", "...")]
    bound: Annotated[float, fact("The bound that is reached.", 35.0, "as unit")]
    expected: Annotated[
        Moment | None,
        fact(
            "Expected date; null where it is over twenty years ahead.",
            "2027-05-01T00:00:00Z",
        ),
    ]
    band: Annotated[
        DateBand,
        fact(
            "95 % band of the date.",
            {"low": "2026-09-01T00:00:00Z", "high": "2030-01-01T00:00:00Z", "coverage": 0.95},
        ),
    ]
    earliest: Annotated[
        Moment | None,
        fact(
            "The date is earlier with a probability of 2.5 %; null over twenty years ahead. Use `band`.",
            "2026-09-01T00:00:00Z",
            deprecated=True,
        ),
    ]
    latest: Annotated[
        Moment | None,
        fact(
            "The date is earlier with a probability of 97.5 %; null over twenty years ahead. Use `band`.",
            "2030-01-01T00:00:00Z",
            deprecated=True,
        ),
    ]


#: Shapes of a series.
Shape = Literal["steady", "drift", "step"]


class QuantityTrendVerdicts(Answer):
    """How one derived value developed, without the values themselves."""

    unit: Annotated[str, fact("Unit of the values.", "delta_degF")]
    difference_unit: Annotated[str, fact("Unit of changes.", "delta_degF")]
    at_common_conditions: Annotated[
        bool,
        fact(
            "Whether it was corrected to the weather of the first run; false where it does not depend on the weather.",
            True,
        ),
    ]
    shape: Annotated[
        Shape,
        fact(
            "The simplest shape that fits the values: `steady` means that no drift and no step is "
            "shown, not that there is none (see the band of the drift).",
            "drift",
        ),
    ]
    drift_per_year: Annotated[
        Change,
        fact(
            "Slope of a straight line through them.",
            {"value": 1.4, "standard_uncertainty": 0.4, "band": _BAND},
        ),
    ]
    probability_rising: Annotated[float, fact("That the slope is above zero.", 0.99, "1", ge=0, le=1)]
    step: Annotated[
        Step | None,
        fact(
            "The step, where the shape is one.",
            {
                "after": "2024-07-01T10:00:00Z",
                "before": "2025-07-01T10:00:00Z",
                "size": {"value": 3.0, "standard_uncertainty": 0.8, "band": _BAND},
            },
        ),
    ]
    odd_runs: Annotated[list[Moment], fact("Runs whose value does not fit the others.", [])]
    crossing: Annotated[
        Crossing | None,
        fact(
            "When it reaches a limit, where it drifts toward one.",
            {
                "limit": "condensing_over_ambient_usual",
                "source": "...",
                "bound": 35.0,
                "expected": "2027-05-01T00:00:00Z",
                "band": {"low": "2026-09-01T00:00:00Z", "high": "2030-01-01T00:00:00Z", "coverage": 0.95},
                "earliest": "2026-09-01T00:00:00Z",
                "latest": "2030-01-01T00:00:00Z",
            },
        ),
    ]
    sentence: Annotated[str, fact("In plain words.", "...")]


class QuantityTrend(QuantityTrendVerdicts):
    """The series of one derived value."""

    points: Annotated[list[TrendPoint], fact("The values.", [])]
    fitted: Annotated[
        list[FittedPiece],
        fact("The line of that shape: one piece, or with a step one before it and one after.", []),
    ]


class _OfRuns(Answer):
    """What every form of a trend has."""

    units: Annotated[UnitSystem, fact("Unit system of this answer.", "imperial")]
    runs: Annotated[list[TrendRun], fact("The runs in order of time.", [])]
    sentence: Annotated[str, fact("What stands out, in plain words.", "...")]
    provenance: Annotated[
        Provenance,
        fact(
            "What computed this answer.",
            {"service": "0.1.0", "refrigerant_model": "CoolProp 8.0.0", "draws": 256, "method": "..."},
        ),
    ]


class TrendVerdicts(_OfRuns):
    """Drifts and steps of a unit, without the values and lines: `detail=verdicts`."""

    quantities: Annotated[dict[str, QuantityTrendVerdicts], fact("How each derived value developed.", {})]


class Trend(_OfRuns):
    """Drifts and steps of a unit over its runs."""

    quantities: Annotated[dict[str, QuantityTrend], fact("Series by derived value.", {})]
