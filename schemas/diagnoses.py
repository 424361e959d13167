"""`POST /v1/diagnoses`: one run, and better a baseline too, in; what is most probably wrong out."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from typing_extensions import TypeAliasType

from schemas.answers import Answer, fact
from schemas.assessments import Assessment, AssessmentRequest, Band, Caution, Provenance, Run
from schemas.comparisons import PercentChange
from schemas.growth import MayGrow
from schemas.quantities import UnitSystem

FaultName = TypeAliasType(
    "FaultName",
    Annotated[
        Literal[
            "no_fault",
            "low_charge",
            "overcharge",
            "condenser_heat_transfer",
            "evaporator_airflow",
            "liquid_line_restriction",
            "non_condensable_gas",
            "compressor_leakage",
            "expansion_overfeeding",
            "expansion_underfeeding",
            "low_load",
            "weak_run_capacitor",
            "supply_voltage",
            "return_air_leak",
            "measurement_mistake",
            "none_of_these",
            "compressor_stalled",
            "compressor_not_pumping",
            "circuit_nearly_empty",
            "outdoor_fan_stopped",
            "outdoor_coil_airflow",
            "outdoor_coil_frost",
            "indoor_airflow",
            "reversing_valve_leakage",
            "auxiliary_heat_on",
        ],
        Field(description="A hypothesis, see `GET /v1/faults`."),
    ],
)
HealthyStateSource = TypeAliasType(
    "HealthyStateSource",
    Annotated[
        Literal["baseline", "rating", "class"],
        Field(description="What a healthy unit is known from."),
    ],
)
AnyFault = Annotated[FaultName, MayGrow()]
_BAND = {"low": -14.0, "high": -6.0, "coverage": 0.95}


class DiagnosisRequest(AssessmentRequest):
    """One visit, as for an assessment; and the unit's own baseline, where there is one."""

    baseline: Run | None = Field(
        default=None,
        description="A run of the same unit when it was known to be healthy, by instruments of the same "
        "kit where possible. Without it the unit is compared with its rating, its nameplate and its class, "
        "which is far less sharp.",
        examples=[{"minutes_running": 20, "readings": {"suction_pressure": 118.0}}],
    )


class FaultLevel(Answer):
    """How far a fault has gone, if it is there."""

    value: Annotated[float, fact("Best estimate.", 0.18, "as unit")]
    band: Annotated[Band, fact("95 % band.", {"low": 0.1, "high": 0.27, "coverage": 0.95})]
    unit: Annotated[str, fact("Its unit; 1 is a share.", "1")]
    text: Annotated[str, fact("What is counted.", "share of the charge that is missing")]


class Cost(Answer):
    """What a fault takes from a healthy unit, in the weather of the visit."""

    efficiency_percent: Annotated[
        PercentChange, fact("Change of the energy efficiency ratio.", {"value": -10.0, "band": _BAND})
    ]
    capacity_percent: Annotated[PercentChange, fact("Change of cooling capacity.", {"value": -12.0, "band": _BAND})]
    probability_over_five_percent: Annotated[
        float, fact("Probability that more than 5 % of efficiency is lost.", 0.94, "1", ge=0, le=1)
    ]


#: How far a hypothesis has got.
Status = Literal["found", "possible", "unlikely"]


class Hypothesis(Answer):
    """One thing that may be the matter."""

    fault: Annotated[AnyFault, fact("What; see `GET /v1/faults`.", "low_charge")]
    text: Annotated[str, fact("In plain words.", "an undercharge (low on refrigerant)")]
    probability: Annotated[
        float,
        fact(
            "Probability, alone or together with another fault. Those that show in the refrigerant cycle "
            "and its readings are weighed against each other; those that show in one value against its limit "
            "are judged separately.",
            0.93,
            "1",
            ge=0,
            le=1,
        ),
    ]
    status: Annotated[
        Status,
        fact("`found` only at 0.9 and more, and where the verdict agrees; `possible` from 0.1.", "found"),
    ]
    form: Annotated[
        str | None,
        fact(
            "The most probable form, where a fault has several.",
            "airflow",
        ),
    ]
    level: Annotated[
        FaultLevel | None,
        fact(
            "How far it has gone, if it is there.",
            {
                "value": 0.18,
                "band": {"low": 0.1, "high": 0.27, "coverage": 0.95},
                "unit": "1",
                "text": "share of the charge that is missing",
            },
        ),
    ]
    cost: Annotated[
        Cost | None,
        fact(
            "What it takes by itself, if it is there.",
            {
                "efficiency_percent": {"value": -10.0, "band": _BAND},
                "capacity_percent": {"value": -12.0, "band": _BAND},
                "probability_over_five_percent": 0.94,
            },
        ),
    ]
    evidence_for: Annotated[
        list[str], fact("Readings that support it rather than a healthy unit, strongest first.", ["..."])
    ]
    evidence_against: Annotated[list[str], fact("Readings that speak against it.", ["..."])]
    tells_apart: Annotated[str, fact("What distinguishes it from faults that look like it.", "...")]
    source: Annotated[str, fact("Where its signature is published.", "...")]


class Joint(Answer):
    """One explanation as a whole: no fault, one, or two at once."""

    faults: Annotated[list[AnyFault], fact("The faults; none for a healthy unit.", ["low_charge"])]
    probability: Annotated[float, fact("Its probability.", 0.9, "1", ge=0, le=1)]


class Outcome(Answer):
    """What one hypothesis expects of a reading."""

    faults: Annotated[list[AnyFault], fact("The faults; none for a healthy unit.", ["low_charge"])]
    expected: Annotated[float, fact("Value that it would show.", 2.1, "as unit")]
    band: Annotated[Band, fact("95 % band.", {"low": 0.2, "high": 4.0, "coverage": 0.95})]


class NextToRead(Answer):
    """A reading that would settle more."""

    reading: Annotated[str, fact("Path of the reading.", "run.readings.discharge_line_temperature")]
    bits: Annotated[float, fact("Expected information, in bits; one bit halves the uncertainty.", 0.42, "1", ge=0)]
    effort: Annotated[int, fact("Effort to take it; 1 is a thermometer clipped on.", 1, "1", ge=1)]
    quantity: Annotated[str, fact("The quantity it is judged as.", "discharge_temperature")]
    unit: Annotated[str, fact("Unit of the outcomes.", "degF")]
    outcomes: Annotated[list[Outcome], fact("What each hypothesis expects it to show.", [])]
    sentence: Annotated[str, fact("What each outcome would mean, in plain words.", "...")]


class NextStep(Answer):
    """One thing to do."""

    stage: Annotated[
        Annotated[
            Literal[
                "switch_off",
                "measure",
                "airflow",
                "electrical",
                "outdoor_coil",
                "charge",
                "open_circuit",
            ],
            MayGrow(),
        ],
        fact("Place in the order of work.", "airflow"),
    ]
    text: Annotated[str, fact("What to do.", "...")]
    faults: Annotated[list[AnyFault], fact("For which hypotheses.", ["evaporator_airflow"])]
    cautions: Annotated[list[str], fact("Cautions that go with it, by id.", ["live_voltage"])]


class ExpectedValue(Answer):
    """What a healthy unit would show here."""

    unit: Annotated[str, fact("Unit.", "degF")]
    read: Annotated[float, fact("As read.", 3.1, "as unit")]
    healthy: Annotated[float, fact("Expected of a healthy unit in this weather.", 10.2, "as unit")]
    band: Annotated[
        Band,
        fact(
            "95 % band of what a healthy unit may show, including the spread of its kind and of the instruments.",
            {"low": 4.0, "high": 16.0, "coverage": 0.95},
        ),
    ]
    outside: Annotated[bool, fact("Whether the reading lies outside that band.", True)]


#: Verdicts of a diagnosis.
DiagnosisVerdict = Literal["healthy", "fault_found", "fault_not_told_apart", "readings_doubted", "not_enough_to_tell"]


class StageFound(Answer):
    """What the readings say about the stage or the speed that nobody stated."""

    low: Annotated[
        float | None, fact("Probability of low stage; null for a variable-speed unit.", 0.97, "1", ge=0, le=1)
    ]
    high: Annotated[
        float | None, fact("Probability of full stage; null for a variable-speed unit.", 0.03, "1", ge=0, le=1)
    ]
    speed_percent: Annotated[
        PercentChange | None,
        fact(
            "Speed at which the readings fit best, in percent of the rated one; null for a two-stage unit.",
            {"value": 62.0, "band": {"low": 44.0, "high": 83.0, "coverage": 0.95}},
        ),
    ]
    sentence: Annotated[str, fact("In plain words.", "...")]


class DiagnosisVerdicts(Answer):
    """A diagnosis without the assessment of the visit: `detail=verdicts`."""

    units: Annotated[UnitSystem, fact("Unit system of this answer.", "imperial")]
    verdict: Annotated[
        DiagnosisVerdict,
        fact(
            "`fault_found`: one fault (or two) at 0.9 and more, or faults that look alike, together. "
            "`fault_not_told_apart`: something is wrong at 0.8 and more, but not which. "
            "`readings_doubted`: a reading, or the refrigerant stated, is wrong at 0.9 and more; it takes "
            "precedence over "
            "`fault_found`, unless a stopped outdoor fan or compressor explains the readings, and `found` still "
            "names what shows by itself. `healthy`: nothing found, a loss of more than 5 % is assessed and has "
            "a probability of at most 0.1, and the assessment of the same readings asks for no action. A fault "
            "that costs "
            "efficiency is not found where nothing is lost; charge and the rest of the circuit wait until the "
            "outdoor fan turns and the compressor pumps.",
            "fault_found",
        ),
    ]
    sentence: Annotated[str, fact("In plain words.", "...")]
    found: Annotated[
        list[AnyFault],
        fact(
            "Faults named as found; several that look alike where they cannot be told apart, see `sentence`.",
            ["low_charge"],
        ),
    ]
    expected_from: Annotated[
        HealthyStateSource | None,
        fact(
            "Where the healthy unit comes from: its own baseline, its maker's data (rating, performance table), or its "
            "class; null where there was no healthy state to compare the readings with.",
            "rating",
        ),
    ]
    expected_by_table: Annotated[
        list[str],
        fact(
            "Columns of `unit.performance_table` that say what a healthy unit shows under these conditions. They "
            "replace the usual values of its class.",
            ["capacity", "power", "subcooling"],
        ),
    ]
    probability_costly: Annotated[
        float | None,
        fact(
            "Probability that more than 5 % of efficiency is lost, whatever the cause; null where the "
            "cycle was not assessed, the readings are doubted, or they say almost nothing about efficiency.",
            0.92,
            "1",
            ge=0,
            le=1,
        ),
    ]
    efficiency_percent: Annotated[
        PercentChange | None,
        fact(
            "Efficiency against a healthy unit in this weather, over all hypotheses; null as `probability_costly` is.",
            {"value": -9.0, "band": _BAND},
        ),
    ]
    capacity_percent: Annotated[
        PercentChange | None,
        fact(
            "Capacity against a healthy unit in this weather, over all hypotheses; null where "
            "the cycle was not assessed, the readings are doubted, or they say almost nothing about it.",
            {"value": -11.0, "band": _BAND},
        ),
    ]
    stage: Annotated[
        StageFound | None,
        fact(
            "The stage or the speed that the readings point to, where it was not stated and the cycle was weighed "
            "under each; else null. Every probability of this answer is over all of them.",
            None,
        ),
    ]
    hypotheses: Annotated[list[Hypothesis], fact("All hypotheses worth mentioning, most probable first.", [])]
    combinations: Annotated[
        list[Joint], fact("Explanations as a whole, most probable first; with mistakes they sum to one.", [])
    ]
    next_readings: Annotated[
        list[NextToRead], fact("Readings that would settle most for their effort, best first.", [])
    ]
    next_steps: Annotated[
        list[NextStep],
        fact(
            "What to do, in the order of work: what must be switched off first, measuring and airflow before "
            "charge, looking before opening.",
            [],
        ),
    ]
    expected: Annotated[dict[str, ExpectedValue], fact("The healthy state, by derived value.", {})]
    taken_on_trust: Annotated[list[str], fact("What the readings could not check.", [])]
    missing: Annotated[
        list[str], fact("What would unlock a diagnosis where there is none; empty where no reading would.", [])
    ]
    cautions: Annotated[list[Caution], fact("Cautions, gravest first.", [])]
    provenance: Annotated[
        Provenance,
        fact(
            "What computed this answer.",
            {"service": "0.1.0", "refrigerant_model": "CoolProp 8.0.0", "draws": 256, "method": "..."},
        ),
    ]


class Diagnosis(DiagnosisVerdicts):
    """What is most probably wrong, how sure that is, what it costs, and what to do next."""

    assessment: Annotated[Assessment, fact("The visit, assessed.", {})]
