"""Comparisons and trends cut down, for those who compare many pairs of visits or need few of the numbers."""

from __future__ import annotations

from schemas.answers import base_form
from schemas.comparisons import Change, Comparison, ComparisonVerdicts, Payback, PercentChange
from schemas.details import (
    GradedCrossing,
    GradedStep,
    TrendGrades,
    VerdictChange,
    VerdictPercent,
    Verdicts,
    VerdictYears,
)
from schemas.trends import Crossing, QuantityTrendVerdicts, Step, Trend, TrendVerdicts
from service.assess.grades import grades_of


def verdicts_of(comparison: Comparison) -> Verdicts:
    """The numbers, verdicts and names of a comparison, without sentences, sources and methods.

    A quarter of the size for the comparisons of the examples.  Everything in it is in the
    comparison too, letter for letter; of a band its ends.
    """
    system, worth = comparison["system"], comparison["worth"]
    return {
        "units": comparison["units"],
        "comparable": comparison["conditions"]["comparable"],
        "system": {
            "verdict": system["verdict"],
            "any_change": system["any_change"].copy(),
            "probabilities": system["probabilities"],
            "efficiency_change_percent": percent_of(system["efficiency_change_percent"]),
            "capacity_change_percent": percent_of(system["capacity_change_percent"]),
            "power_change_percent": percent_of(system["power_change_percent"]),
            "smallest_detectable_percent": system["smallest_detectable_percent"],
            "smallest_that_matters_percent": system["smallest_that_matters_percent"],
            "points_to": [{"cause": row["cause"], "probability": row["probability"]} for row in system["points_to"]],
            "missing": list(system["missing"]),
        },
        "changes": {
            name: {
                "difference_unit": row["difference_unit"],
                "verdict": row["verdict"],
                "probabilities": row["probabilities"],
                "smallest_detectable": row["smallest_detectable"],
                "smallest_that_matters": row["smallest_that_matters"],
                "as_read": _ends(row["as_read"]),
                "at_common_conditions": _change(row["at_common_conditions"]),
            }
            for name, row in comparison["changes"].items()
        },
        "worth": {
            "energy_saved": _change(worth["energy_saved"]),
            "money_saved": _change(worth["money_saved"]),
            "probability_paid_within_a_year": worth["probability_paid_within_a_year"],
            "payback_years": worth["payback_years"],
            "payback": _years(worth["payback"]),
            "payback_band": worth["payback_band"],
        },
        "assessments": {
            "before": grades_of(comparison["assessments"]["before"]),
            "after": grades_of(comparison["assessments"]["after"]),
        },
    }


def without_assessments(comparison: Comparison) -> ComparisonVerdicts:
    """A comparison without the assessments of both runs: a quarter of the size."""
    return base_form(ComparisonVerdicts, comparison)


def drifts_of(trend: Trend) -> TrendVerdicts:
    """A trend without its points and lines."""
    return {
        "units": trend["units"],
        "runs": trend["runs"],
        "quantities": {name: base_form(QuantityTrendVerdicts, row) for name, row in trend["quantities"].items()},
        "sentence": trend["sentence"],
        "provenance": trend["provenance"],
    }


def grades_of_trend(trend: Trend) -> TrendGrades:
    """The numbers and names of a trend, without sentences, points and lines."""
    return {
        "units": trend["units"],
        "runs": [run["taken_at"] for run in trend["runs"]],
        "quantities": {
            name: {
                "unit": row["unit"],
                "difference_unit": row["difference_unit"],
                "shape": row["shape"],
                "drift_per_year": _ends(row["drift_per_year"]),
                "probability_rising": row["probability_rising"],
                "step": _step(row["step"]),
                "odd_runs": list(row["odd_runs"]),
                "crossing": _crossing(row["crossing"]),
            }
            for name, row in trend["quantities"].items()
        },
    }


def _years(payback: Payback | None) -> VerdictYears | None:
    if payback is None:
        return None
    return {"value": payback["value"], "low": payback["band"]["low"], "high": payback["band"]["high"]}


def _step(step: Step | None) -> GradedStep | None:
    if step is None:
        return None
    return {"after": step["after"], "before": step["before"], "size": _ends(step["size"])}


def _crossing(crossing: Crossing | None) -> GradedCrossing | None:
    if crossing is None:
        return None
    return {
        "limit": crossing["limit"],
        "bound": crossing["bound"],
        "expected": crossing["expected"],
        "low": crossing["band"]["low"],
        "high": crossing["band"]["high"],
    }


def _ends(change: Change) -> VerdictChange:
    """A change with the ends of its band next to its value."""
    return {
        "value": change["value"],
        "standard_uncertainty": change["standard_uncertainty"],
        "low": change["band"]["low"],
        "high": change["band"]["high"],
    }


def _change(change: Change | None) -> VerdictChange | None:
    return None if change is None else _ends(change)


def percent_of(change: PercentChange | None) -> VerdictPercent | None:
    """A relative change with the ends of its band next to its value."""
    if change is None:
        return None
    return {"value": change["value"], "low": change["band"]["low"], "high": change["band"]["high"]}
