"""A diagnosis cut down: without the assessment of its visit, or to its numbers, verdicts and names."""

from __future__ import annotations

from schemas.answers import base_form
from schemas.details import DiagnosisGrades, GradedHypothesis, GradedStage
from schemas.diagnoses import Diagnosis, DiagnosisVerdicts, Hypothesis, StageFound
from service.assess.grades import grades_of
from service.compare.verdicts import percent_of


def without_assessment(diagnosis: Diagnosis) -> DiagnosisVerdicts:
    """A diagnosis without the assessment of the visit: a third of the size."""
    return base_form(DiagnosisVerdicts, diagnosis)


def grades_of_diagnosis(diagnosis: Diagnosis) -> DiagnosisGrades:
    """The numbers, verdicts and names of a diagnosis, without sentences and sources.

    Everything in it is in the diagnosis too, letter for letter; of a band its ends.
    """
    return {
        "units": diagnosis["units"],
        "verdict": diagnosis["verdict"],
        "found": list(diagnosis["found"]),
        "probability_costly": diagnosis["probability_costly"],
        "efficiency_percent": percent_of(diagnosis["efficiency_percent"]),
        "capacity_percent": percent_of(diagnosis["capacity_percent"]),
        "stage": _stage(diagnosis["stage"]),
        "hypotheses": [_hypothesis(row) for row in diagnosis["hypotheses"]],
        "combinations": list(diagnosis["combinations"]),
        "next_readings": [
            {"reading": row["reading"], "bits": row["bits"], "effort": row["effort"]}
            for row in diagnosis["next_readings"]
        ],
        "missing": list(diagnosis["missing"]),
        "cautions": [caution["id"] for caution in diagnosis["cautions"]],
        "assessment": grades_of(diagnosis["assessment"]),
    }


def _stage(stage: StageFound | None) -> GradedStage | None:
    if stage is None:
        return None
    return {"low": stage["low"], "high": stage["high"], "speed_percent": percent_of(stage["speed_percent"])}


def _hypothesis(row: Hypothesis) -> GradedHypothesis:
    cost = row["cost"]
    return {
        "fault": row["fault"],
        "probability": row["probability"],
        "status": row["status"],
        "form": row["form"],
        "efficiency_percent": None if cost is None else percent_of(cost["efficiency_percent"]),
        "capacity_percent": None if cost is None else percent_of(cost["capacity_percent"]),
    }
