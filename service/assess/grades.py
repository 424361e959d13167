"""An assessment cut down, to what was judged or to its numbers, grades and names."""

from __future__ import annotations

from schemas.answers import base_form
from schemas.assessments import Assessment, AssessmentVerdicts
from schemas.details import Grades


def without_values(assessment: Assessment) -> AssessmentVerdicts:
    """What was judged of a visit, with its sentences, without the values behind it."""
    return base_form(AssessmentVerdicts, assessment)


def grades_of(assessment: Assessment) -> Grades:
    """The numbers, grades and names of an assessment, without sentences and sources.

    A fifth to a sixth of the size for the full visits of the examples, less for visits of few readings
    (an eighth).  Everything in it is in the assessment too, letter for letter.
    """
    settles = assessment["usability"]["settles_in"]
    return {
        "units": assessment["units"],
        "usability": {
            "grade": assessment["usability"]["grade"],
            "notices": [notice["code"] for notice in assessment["usability"]["notices"]],
            "settles_in": None if settles is None else settles["seconds"],
        },
        "derived": {
            name: {
                "value": row["value"],
                "unit": row["unit"],
                "standard_uncertainty": row["standard_uncertainty"],
                "low": row["band"]["low"],
                "high": row["band"]["high"],
            }
            for name, row in assessment["derived"].items()
        },
        "findings": [
            {
                "quantity": finding["quantity"],
                "limit": None if finding["limit"] is None else finding["limit"]["id"],
                "grade": finding["grade"],
                "probability_conforming": finding["probability_conforming"],
                "priority": finding["priority"],
            }
            for finding in assessment["findings"]
        ],
        "cautions": [caution["id"] for caution in assessment["cautions"]],
        "reconciliation": assessment["reconciliation"]["verdict"],
        "missing": [row["quantity"] for row in assessment["missing"]],
    }
