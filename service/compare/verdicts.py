"""A comparison cut down to its numbers, verdicts and names, for those who compare many pairs of visits."""

from __future__ import annotations

from schemas.batches import VerdictChange, VerdictPercent, Verdicts
from schemas.comparisons import Change, Comparison, PercentChange
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
            "efficiency_change_percent": _percent(system["efficiency_change_percent"]),
            "capacity_change_percent": _percent(system["capacity_change_percent"]),
            "power_change_percent": _percent(system["power_change_percent"]),
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
            "payback_band": worth["payback_band"],
        },
        "assessments": {
            "before": grades_of(comparison["assessments"]["before"]),
            "after": grades_of(comparison["assessments"]["after"]),
        },
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


def _percent(change: PercentChange | None) -> VerdictPercent | None:
    if change is None:
        return None
    return {"value": change["value"], "low": change["band"]["low"], "high": change["band"]["high"]}
