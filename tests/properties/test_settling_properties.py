"""Invariants of running time: it widens, and never forbids."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas.assessments import Assessment, AssessmentRequest
from schemas.comparisons import Comparison, ComparisonRequest
from schemas.examples import comparison_examples, examples
from service.assess.pipeline import assess
from service.compare.comparison import compare
from tests.properties.cases import slow_cases

BODY = next(iter(examples().values()))
PAIR = comparison_examples()["nothing_to_tell"]
#: Values of one or two readings each: the balances between all readings have a say in others.
SETTLING = ("superheat", "subcooling", "condensing_temperature", "temperature_split", "suction_pressure_absolute")
#: Draws are the same, but the regression on their variables is not exact where a part has settled.
TOLERANCE = 1.002


def assessed(minutes: float | None, **parts: Any) -> Assessment:  # noqa: ANN401
    """The first example, read after so many minutes."""
    body = {**copy.deepcopy(dict(BODY)), **parts}
    body["run"]["minutes_running"] = minutes
    return assess(AssessmentRequest.model_validate(body))


def compared(*minutes: float) -> Comparison:
    """Two runs of one unit, read after so many minutes each."""
    body = copy.deepcopy(dict(PAIR))
    for run, one in zip(("before", "after"), minutes, strict=True):
        body["runs"][run]["minutes_running"] = one
    return compare(ComparisonRequest.model_validate(body))


def width(answer: Assessment, name: str) -> float:
    """Width of a band."""
    band = answer["derived"][name]["band"]
    return band["high"] - band["low"]


@slow_cases(in_ci=10)
@given(st.floats(0.0, 40.0), st.floats(0.0, 40.0))
def test_more_minutes_never_widen(one: float, other: float) -> None:
    """Whatever is left of a start grows less with time."""
    early, late = assessed(min(one, other)), assessed(max(one, other))
    for name in SETTLING:
        assert width(late, name) <= TOLERANCE * width(early, name), name


def test_an_hour_is_as_good_as_no_start() -> None:
    """After 60 minutes nothing is left, and a run long settled reads the same."""
    hour, days = assessed(60.0), assessed(10_000.0)
    assert hour == days
    assert not any("settling" in row["variance_shares"] for row in hour["derived"].values())


@slow_cases(in_ci=5)
@given(st.one_of(st.none(), st.floats(0.0, 20.0)))
def test_the_unit_system_does_not_matter(minutes: float | None) -> None:
    """The same readings, each with its unit, answered in either system."""
    readings = {
        "suction_line_temperature": {"value": 55.5, "unit": "degF"},
        "suction_pressure": {"value": 124.0, "unit": "psi"},
    }
    answers = []
    for system in ("imperial", "metric"):
        run = {"minutes_running": minutes, "readings": readings}
        visit = {"units": system, "unit": {"refrigerant": "R-410A"}, "run": run}
        answers.append(assess(AssessmentRequest.model_validate(visit)))
    imperial, metric = (answer["derived"]["superheat"] for answer in answers)
    assert imperial["standard_uncertainty"] == pytest.approx(1.8 * metric["standard_uncertainty"], rel=1e-5)
    assert imperial["variance_shares"] == pytest.approx(metric["variance_shares"], abs=2e-3)


@slow_cases(in_ci=3)
@given(st.floats(2.5, 12.0))
def test_equal_minutes_leave_less_in_a_change_than_unequal_ones(minutes: float) -> None:
    """What the unit does at every start cancels where both runs were equally long."""
    alike, apart = compared(minutes, minutes), compared(minutes, 30.0)
    for name in SETTLING:
        deviations = [row["changes"][name]["as_read"]["standard_uncertainty"] for row in (alike, apart)]
        assert deviations[0] < deviations[1], name
    for answer in (alike, apart):
        assert answer["system"]["efficiency_change_percent"] is not None
