"""How much of an answer is given: in full, its verdicts, or its grades alone.

`full` is everything.  `verdicts` is what was judged, with its sentences, without what lies behind it: the values
of a visit, the assessments inside another answer, the points of a series; each is the base of the full answer, next
to which it is defined.  `grades` is numbers, grades and names, without any sentence: the models here.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from typing_extensions import TypeAliasType

from schemas.answers import Answer, Moment, fact
from schemas.assessments import Grade, Priority, UsabilityGrade
from schemas.comparisons import (
    AnyCause,
    AnyChange,
    Comparability,
    Probabilities,
    QuantityVerdict,
    SystemProbabilities,
    Verdict,
)
from schemas.diagnoses import AnyFault, DiagnosisVerdict, Joint, Status
from schemas.quantities import UnitSystem
from schemas.trends import Shape

Detail = TypeAliasType(
    "Detail",
    Annotated[Literal["full", "verdicts", "grades"], Field(description="How much of each answer is given.")],
)

# ---------------------------------------------------------------- grades


class GradedUsability(Answer):
    """Whether the readings can be judged, by names."""

    grade: Annotated[UsabilityGrade, fact("As in the assessment.", "usable")]
    notices: Annotated[list[str], fact("Codes of the notices.", ["steady_state_not_shown"])]
    settles_in: Annotated[
        float | None, fact("Seconds until the readings of a log will have settled, as in the assessment.", 180.0, "s")
    ]


class GradedValue(Answer):
    """One derived quantity, by numbers."""

    value: Annotated[float, fact("Best estimate, in `unit`.", 13.0, "as unit")]
    unit: Annotated[str, fact("Unit of value, uncertainty and band.", "delta_degF")]
    standard_uncertainty: Annotated[float, fact("Standard uncertainty (JCGM 100).", 0.9, "as unit", ge=0)]
    low: Annotated[float, fact("Lower end of the 95 % band.", 11.2, "as unit")]
    high: Annotated[float, fact("Upper end of the 95 % band.", 14.8, "as unit")]


class GradedFinding(Answer):
    """One quantity against one limit, by names."""

    quantity: Annotated[str, fact("Name of the derived value.", "subcooling")]
    limit: Annotated[str | None, fact("`id` of the limit; null where none could be set.", "subcooling_nameplate")]
    grade: Annotated[Grade, fact("The decision.", "inconclusive")]
    probability_conforming: Annotated[
        float | None, fact("Probability that the true value lies within the limit; null where not assessed.", 0.81, "1")
    ]
    priority: Annotated[Priority, fact("What it asks for.", "none")]


class Grades(Answer):
    """An assessment cut down to numbers, grades and names: `detail=grades`."""

    units: Annotated[UnitSystem, fact("Unit system of this answer.", "imperial")]
    usability: Annotated[
        GradedUsability, fact("Whether the readings can be judged.", {"grade": "usable", "notices": []})
    ]
    derived: Annotated[dict[str, GradedValue], fact("Derived values by name.", {})]
    findings: Annotated[list[GradedFinding], fact("Findings, most pressing first.", [])]
    cautions: Annotated[list[str], fact("`id` of each caution; `GET /v1/cautions` has the texts.", ["stored_charge"])]
    reconciliation: Annotated[str, fact("Whether the readings agree with each other.", "not_testable")]
    missing: Annotated[list[str], fact("Names of what could not be derived.", ["subcooling"])]


class VerdictChange(Answer):
    """A change, by numbers."""

    value: Annotated[float, fact("After less before.", 1.1, "as difference_unit")]
    standard_uncertainty: Annotated[float, fact("Standard uncertainty of the change.", 1.2, "as difference_unit", ge=0)]
    low: Annotated[float, fact("Lower end of the 95 % band.", -1.2, "as difference_unit")]
    high: Annotated[float, fact("Upper end of the 95 % band.", 3.4, "as difference_unit")]


class VerdictPercent(Answer):
    """A relative change, by numbers."""

    value: Annotated[float, fact("Best estimate.", 8.1, "%")]
    low: Annotated[float, fact("Lower end of the 95 % band.", 4.9, "%")]
    high: Annotated[float, fact("Upper end of the 95 % band.", 11.2, "%")]


class VerdictCause(Answer):
    """What the change points to, by name."""

    cause: Annotated[AnyCause, fact("What may have changed.", "condenser_heat_transfer")]
    probability: Annotated[float, fact("Its probability.", 0.91, "1", ge=0, le=1)]


_PERCENT = {"value": 8.1, "low": 4.9, "high": 11.2}
_LOSS = {"value": -9.0, "low": -15.0, "high": -3.0}
_SPEED = {"value": 62.0, "low": 44.0, "high": 83.0}
_DIFFERENCE = {"value": -2.0, "standard_uncertainty": 0.6, "low": -3.2, "high": -0.8}


class VerdictOfSystem(Answer):
    """The verdict on the system, by numbers and names; each as in the comparison."""

    verdict: Annotated[Verdict, fact("The verdict.", "improved")]
    any_change: Annotated[
        AnyChange, fact("One test over all readings.", {"changed": True, "probability": 0.002, "directions": 7})
    ]
    probabilities: Annotated[
        SystemProbabilities | None,
        fact("For efficiency.", {"improved": 0.99, "worsened": 0.01, "within_what_matters": 0.05}),
    ]
    efficiency_change_percent: Annotated[
        VerdictPercent | None, fact("Of the energy efficiency ratio, in the weather of the first run.", _PERCENT)
    ]
    capacity_change_percent: Annotated[VerdictPercent | None, fact("Of net capacity.", _PERCENT)]
    power_change_percent: Annotated[VerdictPercent | None, fact("Of total power.", _PERCENT)]
    smallest_detectable_percent: Annotated[
        float | None, fact("Smallest change of efficiency that these instruments would show.", 4.1, "%")
    ]
    smallest_that_matters_percent: Annotated[float, fact("As asked, or 5 %.", 5.0, "%")]
    points_to: Annotated[list[VerdictCause], fact("What the change points to, most probable first.", [])]
    missing: Annotated[list[str], fact("Readings to add.", ["runs.before.readings.outdoor_unit_power"])]


class VerdictOfQuantity(Answer):
    """The change of one derived value, by numbers; its values are in `assessments`."""

    difference_unit: Annotated[str, fact("Unit of the changes.", "delta_degF")]
    verdict: Annotated[QuantityVerdict | None, fact("Null where nothing was judged.", "improved")]
    probabilities: Annotated[
        Probabilities | None,
        fact(
            "Probabilities of the directions.",
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
        float | None, fact("Smallest change that these instruments would show.", 2.0, "as difference_unit")
    ]
    smallest_that_matters: Annotated[float | None, fact("Smallest change that matters.", 3.0, "as difference_unit")]
    as_read: Annotated[VerdictChange, fact("After less before.", _DIFFERENCE)]
    at_common_conditions: Annotated[
        VerdictChange | None, fact("What would have changed in the weather of the first run.", _DIFFERENCE)
    ]


class VerdictYears(Answer):
    """A time that may never come, by numbers."""

    value: Annotated[float | None, fact("Best estimate; null where that is never.", 4.4, "a")]
    low: Annotated[float | None, fact("Lower end of the 95 % band.", 3.0, "a")]
    high: Annotated[float | None, fact("Upper end of the 95 % band.", 8.9, "a")]


class VerdictOfWorth(Answer):
    """Energy and money, by numbers; null as in the comparison."""

    energy_saved: Annotated[VerdictChange | None, fact("Energy saved a year, in kWh.", _DIFFERENCE, "kWh")]
    money_saved: Annotated[VerdictChange | None, fact("Money saved a year.", _DIFFERENCE, "currency")]
    probability_paid_within_a_year: Annotated[
        float | None, fact("Probability that the service paid for itself within a year.", 0.02, "1")
    ]
    payback_years: Annotated[float | None, fact("Price over money saved a year.", 4.4, "a")]
    payback: Annotated[VerdictYears | None, fact("The payback with its band.", {"value": 4.4, "low": 3.0, "high": 8.9})]
    payback_band: Annotated[
        list[float | None] | None,
        fact(
            "95 % band of the payback in years; null as an end means never, or fifty years or more. Use `payback`.",
            [3.0, 8.9],
            "a",
            deprecated=True,
        ),
    ]


class GradesOfRuns(Answer):
    """Both runs, each cut down."""

    before: Annotated[Grades, fact("The first run.", {"units": "imperial"})]
    after: Annotated[Grades, fact("The second run.", {"units": "imperial"})]


class Verdicts(Answer):
    """A comparison cut down to numbers, verdicts and names: `detail=grades`."""

    units: Annotated[UnitSystem, fact("Unit system of this answer.", "imperial")]
    comparable: Annotated[Comparability, fact("Whether the runs were near enough to compare.", "yes")]
    system: Annotated[VerdictOfSystem, fact("The verdict on the system.", {"verdict": "improved"})]
    changes: Annotated[dict[str, VerdictOfQuantity], fact("Changes by derived value.", {})]
    worth: Annotated[VerdictOfWorth, fact("Energy and money.", {"payback_years": 4.4})]
    assessments: Annotated[GradesOfRuns, fact("Both runs on their own.", {})]


class GradedHypothesis(Answer):
    """One thing that may be the matter, by numbers."""

    fault: Annotated[AnyFault, fact("What; see `GET /v1/faults`.", "low_charge")]
    probability: Annotated[float, fact("Its probability.", 0.93, "1", ge=0, le=1)]
    status: Annotated[Status, fact("As in the diagnosis.", "found")]
    form: Annotated[str | None, fact("The most probable form, where a fault has several.", "airflow")]
    efficiency_percent: Annotated[
        VerdictPercent | None, fact("How much efficiency it costs on its own, if it is there.", _LOSS)
    ]
    capacity_percent: Annotated[VerdictPercent | None, fact("How much capacity it costs.", _LOSS)]


class GradedStage(Answer):
    """The stage that was not stated, by numbers."""

    low: Annotated[float | None, fact("Probability of low stage.", 0.97, "1", ge=0, le=1)]
    high: Annotated[float | None, fact("Probability of full stage.", 0.03, "1", ge=0, le=1)]
    speed_percent: Annotated[VerdictPercent | None, fact("Speed, in percent of the rated one.", _SPEED)]


class GradedNext(Answer):
    """A reading that would settle more, by numbers."""

    reading: Annotated[str, fact("Path of the reading.", "run.readings.discharge_line_temperature")]
    bits: Annotated[float, fact("Expected information, in bits.", 0.42, "1", ge=0)]
    effort: Annotated[int, fact("Effort to take it.", 1, "1", ge=1)]


class DiagnosisGrades(Answer):
    """A diagnosis cut down to numbers, verdicts and names: `detail=grades`; each as in the diagnosis."""

    units: Annotated[UnitSystem, fact("Unit system of this answer.", "imperial")]
    verdict: Annotated[DiagnosisVerdict, fact("The verdict.", "fault_found")]
    found: Annotated[list[AnyFault], fact("Faults named as found.", ["low_charge"])]
    probability_costly: Annotated[
        float | None, fact("Probability that more than 5 % of efficiency is lost.", 0.92, "1", ge=0, le=1)
    ]
    efficiency_percent: Annotated[VerdictPercent | None, fact("Efficiency against a healthy unit.", _LOSS)]
    capacity_percent: Annotated[VerdictPercent | None, fact("Capacity against a healthy unit.", _LOSS)]
    stage: Annotated[GradedStage | None, fact("The stage, if it was not stated.", None)]
    hypotheses: Annotated[list[GradedHypothesis], fact("Most probable first.", [])]
    combinations: Annotated[list[Joint], fact("Explanations as a whole, most probable first.", [])]
    next_readings: Annotated[list[GradedNext], fact("Readings that would settle most for their effort.", [])]
    missing: Annotated[list[str], fact("What would unlock a diagnosis.", [])]
    cautions: Annotated[list[str], fact("`id` of each caution.", ["stored_charge"])]
    assessment: Annotated[Grades, fact("The visit, cut down.", {"units": "imperial"})]


class GradedStep(Answer):
    """A change of level, by numbers."""

    after: Annotated[Moment, fact("The last run before it.", "2024-07-01T10:00:00Z")]
    before: Annotated[Moment, fact("The first run after it.", "2025-07-01T10:00:00Z")]
    size: Annotated[VerdictChange, fact("Level after less before.", _DIFFERENCE)]


class GradedCrossing(Answer):
    """When a drift reaches a limit."""

    limit: Annotated[str, fact("`id` of the limit.", "condensing_over_ambient_usual")]
    bound: Annotated[float, fact("The bound that is reached.", 35.0, "as unit")]
    expected: Annotated[Moment | None, fact("Expected date.", "2027-05-01T00:00:00Z")]
    low: Annotated[Moment | None, fact("Lower end of its 95 % band.", "2026-09-01T00:00:00Z")]
    high: Annotated[Moment | None, fact("Upper end of its 95 % band.", "2030-01-01T00:00:00Z")]


class GradedTrend(Answer):
    """The series of one derived value, by numbers; each as in the trend."""

    unit: Annotated[str, fact("Unit of the values.", "delta_degF")]
    difference_unit: Annotated[str, fact("Unit of changes.", "delta_degF")]
    shape: Annotated[Shape, fact("The simplest shape that fits.", "drift")]
    drift_per_year: Annotated[VerdictChange, fact("Slope of a straight line.", _DIFFERENCE)]
    probability_rising: Annotated[float, fact("That the slope is above zero.", 0.99, "1", ge=0, le=1)]
    step: Annotated[GradedStep | None, fact("The step, where the shape is one.", None)]
    odd_runs: Annotated[list[Moment], fact("Runs whose value does not fit the others.", [])]
    crossing: Annotated[GradedCrossing | None, fact("When it reaches a limit.", None)]


class TrendGrades(Answer):
    """A trend cut down to numbers and names: `detail=grades`."""

    units: Annotated[UnitSystem, fact("Unit system of this answer.", "imperial")]
    runs: Annotated[list[Moment], fact("When each run was made, in order of time.", ["2024-07-01T10:00:00Z"])]
    quantities: Annotated[dict[str, GradedTrend], fact("Series by derived value.", {})]
