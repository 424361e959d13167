"""`POST /v1/comparisons`: two runs of one unit in, what changed out."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from typing_extensions import TypeAliasType

from schemas.answers import Answer, fact
from schemas.assessments import Assessment, Band, Caution, Options, Provenance, Run, UnitRequest, Usage, Work, number
from schemas.growth import MayGrow
from schemas.quantities import Model, Number, UnitSystem

Verdict = TypeAliasType(
    "Verdict",
    Annotated[
        Literal["improved", "worsened", "no_material_change", "inconclusive"],
        Field(description="Verdict on the system."),
    ],
)
QuantityVerdict = TypeAliasType(
    "QuantityVerdict",
    Annotated[
        Literal["improved", "worsened", "neither", "no_material_change", "inconclusive"],
        Field(description="Verdict on one derived value."),
    ],
)

Comparability = TypeAliasType(
    "Comparability",
    Annotated[
        Literal["yes", "with_reservations", "no"],
        Field(description="Whether two runs can be compared."),
    ],
)
CauseName = TypeAliasType(
    "CauseName",
    Annotated[
        Literal[
            "nothing",
            "condenser_heat_transfer",
            "evaporator_airflow",
            "evaporator_heat_transfer",
            "charge",
            "compressor",
            "non_condensable_gas",
            "several",
            "electrical",
            "outdoor_coil",
            "indoor_airflow",
            "indoor_coil",
            "reversing_valve",
        ],
        Field(description="What may have changed. The last four apply to heating, where the outdoor coil evaporates."),
    ],
)
AnyCause = Annotated[CauseName, MayGrow()]

# ---------------------------------------------------------------- request


class Runs(Model):
    """The two runs, made by instruments of one kit."""

    before: Run = Field(
        description="The run before the service.",
        examples=[{"minutes_running": 20, "readings": {"suction_pressure": 118.0}}],
    )
    after: Run = Field(
        description="The run after it.",
        examples=[{"minutes_running": 20, "readings": {"suction_pressure": 121.0}}],
    )


class Service(Model):
    """What was done between the runs, and its price."""

    work: list[Work] = Field(
        default_factory=list,
        max_length=10,
        description="What was done. It adds the cautions for that work, and sentences about what the work "
        "can and cannot change; it never makes a change more probable.",
        examples=[["coil_cleaning"]],
    )
    price: Number | None = number(
        0, 1e9, "currency", 180.0, "Price of the service, in your own currency; for the payback."
    )


class SmallestChange(Model):
    """The smallest change that matters to you; smaller changes are not material."""

    efficiency_percent: Number | None = number(0, 50, "%", 5.0, "Of efficiency. Default: 5 %.", above=True)
    capacity_percent: Number | None = number(0, 50, "%", 5.0, "Of cooling capacity. Default: 5 %.", above=True)


class ComparisonRequest(UnitRequest):
    """One unit, one kit, two runs of readings."""

    runs: Runs = Field(
        description="The two runs.",
        examples=[{"before": {"readings": {}}, "after": {"readings": {}}}],
    )
    service: Service = Field(
        default_factory=Service,
        description="What was done between the runs.",
        examples=[{"work": ["coil_cleaning"], "price": 180}],
    )
    smallest_change_that_matters: SmallestChange = Field(
        default_factory=SmallestChange,
        description="The smallest change that matters to you.",
        examples=[{"efficiency_percent": 5}],
    )
    usage: Usage = Field(
        default_factory=Usage,
        description="Hours and price, for estimates of energy and money.",
        examples=[{"cooling_hours": 1200, "energy_price": 0.17}],
    )
    options: Options = Field(default_factory=Options, description="How to compute.", examples=[{"draws": 256}])


# ---------------------------------------------------------------- answer

_BAND = {"low": -1.2, "high": 3.4, "coverage": 0.95}


class Change(Answer):
    """A change and its band."""

    value: Annotated[float, fact("After less before.", 1.1, "as unit")]
    standard_uncertainty: Annotated[float, fact("Standard uncertainty of the change.", 1.2, "as unit", ge=0)]
    band: Annotated[Band, fact("95 % band of the change.", _BAND)]


class PercentChange(Answer):
    """A relative change and its band."""

    value: Annotated[float, fact("Best estimate.", 8.1, "%")]
    band: Annotated[Band, fact("95 % band.", {"low": 4.9, "high": 11.2, "coverage": 0.95})]


class Condition(Answer):
    """One condition of both runs."""

    name: Annotated[str, fact("Derived value or reading.", "outdoor_air_dry_bulb")]
    before: Annotated[float | None, fact("In the first run; null where it is not known.", 88.0, "as unit")]
    after: Annotated[float | None, fact("In the second run.", 96.0, "as unit")]
    unit: Annotated[str, fact("Unit of both.", "degF")]
    difference: Annotated[float | None, fact("After less before.", 8.0, "as difference_unit")]
    difference_unit: Annotated[str, fact("Unit of the difference.", "delta_degF")]
    plain: Annotated[bool, fact("Whether the two are close enough to compare without reservation.", False)]


class Conditions(Answer):
    """How far apart the two runs were."""

    comparable: Annotated[
        Comparability,
        fact(
            "`with_reservations`: further apart than two visits usually are; the bands are wider for it. "
            "`no`: too far apart; nothing is corrected to the same conditions.",
            "yes",
        ),
    ]
    differences: Annotated[list[Condition], fact("The conditions.", [])]
    sentence: Annotated[str, fact("In plain words.", "...")]
    source: Annotated[str, fact("Where the limits of comparing come from.", "...")]


class Probabilities(Answer):
    """Probabilities of the directions of a change under the same conditions."""

    improved: Annotated[float | None, fact("That it got better; null where neither direction is better.", 0.97, "1")]
    worsened: Annotated[float | None, fact("That it got worse; null where neither direction is worse.", 0.03, "1")]
    rose: Annotated[float, fact("That the true value rose.", 0.97, "1", ge=0, le=1)]
    fell: Annotated[float, fact("That it fell.", 0.03, "1", ge=0, le=1)]
    within_what_matters: Annotated[
        float, fact("That the change is smaller than the smallest that matters.", 0.4, "1", ge=0, le=1)
    ]


class QuantityChange(Answer):
    """The change of one derived value."""

    unit: Annotated[str, fact("Unit of the values.", "degF")]
    difference_unit: Annotated[str, fact("Unit of the changes.", "delta_degF")]
    before: Annotated[float, fact("Value in the first run.", 112.0, "as unit")]
    after: Annotated[float, fact("Value in the second run.", 110.0, "as unit")]
    as_read: Annotated[
        Change,
        fact(
            "After less before; the effect of the weather is still in it.",
            {"value": -2.0, "standard_uncertainty": 0.6, "band": _BAND},
        ),
    ]
    at_common_conditions: Annotated[
        Change | None,
        fact(
            "The change in the weather of the first run. Null where the quantity "
            "is a condition or another way to a quantity that is compared, or the runs are too far apart.",
            {"value": -1.1, "standard_uncertainty": 0.7, "band": _BAND},
        ),
    ]
    method: Annotated[str, fact("How it was corrected to the same conditions.", "...")]
    verdict: Annotated[
        QuantityVerdict | None,
        fact(
            "`neither`: it changed, but neither direction is better by itself, or it lies within its "
            "limits before and after. `no_material_change`: shown to be smaller than what matters, "
            "with its whole band. `inconclusive`: these instruments cannot tell. Null where nothing was judged.",
            "improved",
        ),
    ]
    judged_by: Annotated[
        str | None,
        fact(
            "What makes a change better: `higher`, `lower`, `neither`, or a limit's name.",
            "lower",
        ),
    ]
    probabilities: Annotated[
        Probabilities | None,
        fact(
            "Probabilities of the directions; null where nothing was judged.",
            {
                "improved": 0.97,
                "worsened": 0.03,
                "rose": 0.03,
                "fell": 0.97,
                "within_what_matters": 0.6,
            },
        ),
    ]
    smallest_detectable: Annotated[
        float | None,
        fact(
            "Smallest change that these instruments would show in four of five such pairs of runs "
            "(95 % confidence, 80 % power): for efficiency and capacity whichever one cause it had, as in "
            "`system`; for any other value whatever else changed with it. Null where a change of any size "
            "could stay hidden.",
            2.0,
            "as difference_unit",
        ),
    ]
    smallest_that_matters: Annotated[
        float | None,
        fact(
            "Smallest change that matters.",
            3.0,
            "as difference_unit",
        ),
    ]
    sentence: Annotated[str, fact("In plain words.", "...")]


class AnyChange(Answer):
    """One test over all readings together: did anything change?"""

    changed: Annotated[
        bool | None,
        fact(
            "Whether it is shown that something changed; null where nothing could be tested.",
            True,
        ),
    ]
    probability: Annotated[
        float | None,
        fact(
            "Probability of readings that indicate a change as strongly as these, if nothing changed. "
            "A change is claimed only below 0.05. Null where nothing could be tested.",
            0.002,
            "1",
            ge=0,
            le=1,
        ),
    ]
    directions: Annotated[int, fact("Independent directions of change that the readings can show.", 7, "1")]


class PossibleCause(Answer):
    """What the change points to."""

    cause: Annotated[AnyCause, fact("What may have changed.", "condenser_heat_transfer")]
    probability: Annotated[
        float,
        fact(
            "Its probability; all but `electrical` exclude one another, and `electrical` is separate from them.",
            0.91,
            "1",
            ge=0,
            le=1,
        ),
    ]
    text: Annotated[str, fact("In plain words.", "the outdoor coil's heat transfer")]
    faults: Annotated[
        list[str],
        fact(
            "Names of this cause in a diagnosis (`GET /v1/faults`); empty where it has none.",
            ["condenser_heat_transfer"],
        ),
    ]
    source: Annotated[str, fact("Source of the changes that come with this cause.", "...")]
    change_percent: Annotated[
        PercentChange | None,
        fact(
            "Size of the change itself (heat transfer, airflow, pumped flow), if this is the cause.",
            {"value": 21.0, "band": {"low": 12.0, "high": 31.0, "coverage": 0.95}},
        ),
    ]
    smallest_detectable_percent: Annotated[
        float | None,
        fact(
            "Smallest change of efficiency by this cause that these instruments would show "
            "(95 % confidence, 80 % power); null where a change by this cause does not show.",
            2.4,
            "%",
        ),
    ]


class SystemProbabilities(Answer):
    """Probabilities for efficiency, at the first run's conditions."""

    improved: Annotated[float, fact("That efficiency rose.", 0.99, "1", ge=0, le=1)]
    worsened: Annotated[float, fact("That it fell.", 0.01, "1", ge=0, le=1)]
    within_what_matters: Annotated[float, fact("That it changed by less than what matters.", 0.05, "1", ge=0, le=1)]


class AtRating(Answer):
    """Changes at rating conditions: 95 °F outdoors, 80 °F dry and 67 °F wet bulb indoors."""

    efficiency_percent: Annotated[PercentChange, fact("Of the energy efficiency ratio.", {"value": 8.0, "band": _BAND})]
    capacity_percent: Annotated[PercentChange, fact("Of net capacity.", {"value": 5.0, "band": _BAND})]


class System(Answer):
    """The verdict on the system as a whole."""

    verdict: Annotated[
        Verdict,
        fact(
            "`improved` or `worsened` only where the one test of any change and the direction both hold "
            "at 95 %; `no_material_change` only where efficiency and capacity are shown to have changed by "
            "less than what matters, with their whole bands; otherwise `inconclusive`.",
            "improved",
        ),
    ]
    sentence: Annotated[str, fact("The verdict in plain words.", "...")]
    any_change: Annotated[
        AnyChange, fact("One test over all readings.", {"changed": True, "probability": 0.002, "directions": 7})
    ]
    probabilities: Annotated[
        SystemProbabilities | None,
        fact(
            "For efficiency; null where the readings do not give it.",
            {"improved": 0.99, "worsened": 0.01, "within_what_matters": 0.05},
        ),
    ]
    efficiency_change_percent: Annotated[
        PercentChange | None,
        fact(
            "Of the energy efficiency ratio, in the weather of the first run; null where the "
            "readings do not give it (`missing` says which would).",
            {"value": 8.1, "band": {"low": 4.9, "high": 11.2, "coverage": 0.95}},
        ),
    ]
    capacity_change_percent: Annotated[
        PercentChange | None,
        fact(
            "Of net cooling capacity, in the weather of the first run.",
            {"value": 5.1, "band": {"low": 2.0, "high": 8.3, "coverage": 0.95}},
        ),
    ]
    power_change_percent: Annotated[
        PercentChange | None,
        fact(
            "Of total power, in the weather of the first run.",
            {"value": -2.8, "band": {"low": -4.0, "high": -1.7, "coverage": 0.95}},
        ),
    ]
    at_rating_conditions: Annotated[
        AtRating | None,
        fact(
            "The same at rating conditions.",
            {
                "efficiency_percent": {"value": 8.0, "band": _BAND},
                "capacity_percent": {"value": 5.0, "band": _BAND},
            },
        ),
    ]
    smallest_detectable_percent: Annotated[
        float | None,
        fact(
            "Smallest change of efficiency that these instruments would show whichever one "
            "cause it had (95 % confidence, 80 % power); null where a change by some cause does not show.",
            4.1,
            "%",
        ),
    ]
    smallest_that_matters_percent: Annotated[float, fact("As asked, or 5 %.", 5.0, "%")]
    uncertainty_from: Annotated[
        dict[str, float],
        fact(
            "What contributes to the variance of the efficiency change, as shares, largest first: instruments, "
            "the effect of the weather on the unit, changes that the readings do not show.",
            {"gauges": 0.4, "power meter": 0.1},
            "1",
        ),
    ]
    points_to: Annotated[list[PossibleCause], fact("What the change points to, most probable first.", [])]
    missing: Annotated[
        list[str],
        fact(
            "Readings to add that would give the efficiency change, or sharpen it most; the most useful comes first. "
            "`minutes_running` of a run comes last, if it was not stated and much depends on it.",
            ["runs.before.readings.outdoor_unit_power", "runs.after.readings.outdoor_unit_power"],
        ),
    ]


class OpenBand(Answer):
    """A band with an end that may be out of reach."""

    low: Annotated[float | None, fact("Lower end; null where it is never reached.", 3.0, "as value")]
    high: Annotated[float | None, fact("Upper end; null where it is never reached.", 8.9, "as value")]
    coverage: Annotated[float, fact("Probability that the band holds the true value.", 0.95, "1", ge=0, le=1)]


class Payback(Answer):
    """How soon the money saved pays for the service."""

    value: Annotated[float | None, fact("Best estimate; null for never or over fifty years.", 4.4, "a")]
    band: Annotated[
        OpenBand,
        fact(
            "95 % band; an end is null for never or over fifty years.",
            {"low": 3.0, "high": 8.9, "coverage": 0.95},
            "a",
        ),
    ]


class Worth(Answer):
    """Energy and money, estimates with bands."""

    energy_saved: Annotated[
        Change | None,
        fact(
            "Energy saved a year, in kWh; negative where more is used. Null without `usage.cooling_hours` (in heating "
            "`usage.heating_hours`), an estimate of the load, or an efficiency change.",
            {"value": 240.0, "standard_uncertainty": 60.0, "band": _BAND},
            "kWh",
        ),
    ]
    money_saved: Annotated[
        Change | None,
        fact(
            "Money saved a year; null without `usage.energy_price`.",
            {"value": 41.0, "standard_uncertainty": 10.0, "band": _BAND},
            "currency",
        ),
    ]
    probability_paid_within_a_year: Annotated[
        float | None,
        fact(
            "Probability that the service paid for itself within a year; null without `service.price`.",
            0.02,
            "1",
        ),
    ]
    payback_years: Annotated[
        float | None,
        fact(
            "Price of the service divided by the money saved a year; null where that is fifty years or more, "
            "or nothing is saved.",
            4.4,
            "a",
        ),
    ]
    payback: Annotated[
        Payback | None,
        fact(
            "The same with its band; null without `service.price`.",
            {"value": 4.4, "band": {"low": 3.0, "high": 8.9, "coverage": 0.95}},
            "a",
        ),
    ]
    payback_band: Annotated[
        list[float | None] | None,
        fact(
            "95 % band of the payback in years; null as an end means never, or fifty years or more. Use "
            "`payback.band`.",
            [3.0, 8.9],
            "a",
            deprecated=True,
        ),
    ]
    sentence: Annotated[str, fact("In plain words.", "...")]


class InstrumentInBoth(Answer):
    """A reading that was not made by the same instrument in both runs."""

    reading: Annotated[str, fact("The reading.", "suction_pressure")]
    before: Annotated[str, fact("Its instrument in the first run.", "gauges")]
    after: Annotated[str, fact("In the second.", "other gauges")]
    sentence: Annotated[str, fact("What that costs.", "...")]


class Assessments(Answer):
    """Both runs, each assessed on its own."""

    before: Annotated[Assessment, fact("The first run.", {})]
    after: Annotated[Assessment, fact("The second run.", {})]


class ComparisonVerdicts(Answer):
    """What changed between two runs, without the assessments of both: `detail=verdicts`."""

    units: Annotated[UnitSystem, fact("Unit system of this answer.", "imperial")]
    system: Annotated[System, fact("The verdict on the system.", {})]
    worth: Annotated[Worth, fact("Energy and money.", {"sentence": "..."})]
    cautions: Annotated[
        list[Caution], fact("Cautions of both runs and of the work between them, each once, gravest first.", [])
    ]
    conditions: Annotated[Conditions, fact("How far apart the runs were.", {})]
    changes: Annotated[dict[str, QuantityChange], fact("Changes by derived value.", {})]
    instruments: Annotated[
        list[InstrumentInBoth],
        fact("Readings made with another instrument in the second run, and what that costs.", []),
    ]
    provenance: Annotated[
        Provenance,
        fact(
            "What computed this answer.",
            {"service": "0.1.0", "refrigerant_model": "CoolProp 8.0.0", "draws": 256, "method": "..."},
        ),
    ]


class Comparison(ComparisonVerdicts):
    """What changed between two runs, and what it is worth."""

    assessments: Annotated[Assessments, fact("Both runs on their own.", {})]
