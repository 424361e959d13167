"""A comparison cut down to its numbers, verdicts and names, for those who compare many pairs of visits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.assess.grades import grades_of

#: What is kept of each change, unaltered.  The values themselves are in both assessments.
_OF_A_CHANGE = (
    "difference_unit",
    "verdict",
    "probabilities",
    "smallest_detectable",
    "smallest_that_matters",
)
#: The same of the worth.
_OF_THE_WORTH = ("probability_paid_within_a_year", "payback_years", "payback_band")


def verdicts_of(comparison: Mapping[str, Any]) -> dict[str, Any]:
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
            "any_change": dict(system["any_change"]),
            "probabilities": system["probabilities"],
            "efficiency_change_percent": _numbers(system["efficiency_change_percent"]),
            "capacity_change_percent": _numbers(system["capacity_change_percent"]),
            "power_change_percent": _numbers(system["power_change_percent"]),
            "smallest_detectable_percent": system["smallest_detectable_percent"],
            "smallest_that_matters_percent": system["smallest_that_matters_percent"],
            "points_to": [{"cause": row["cause"], "probability": row["probability"]} for row in system["points_to"]],
            "missing": list(system["missing"]),
        },
        "changes": {
            name: {part: row[part] for part in _OF_A_CHANGE}
            | {
                "as_read": _numbers(row["as_read"]),
                "at_common_conditions": _numbers(row["at_common_conditions"]),
            }
            for name, row in comparison["changes"].items()
        },
        "worth": {
            "energy_saved": _numbers(worth["energy_saved"]),
            "money_saved": _numbers(worth["money_saved"]),
            **{part: worth[part] for part in _OF_THE_WORTH},
        },
        "assessments": {run: grades_of(assessment) for run, assessment in comparison["assessments"].items()},
    }


def _numbers(change: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """A change with the ends of its band next to its value."""
    if change is None:
        return None
    kept = {part: value for part, value in change.items() if part != "band"}
    return kept | {"low": change["band"]["low"], "high": change["band"]["high"]}
