"""A visit's answer is the same, letter for letter, alone and in any company."""

from __future__ import annotations

import copy
from collections.abc import Callable, Sequence
from dataclasses import fields

import numpy as np
import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas.assessments import Assessment, AssessmentRequest
from schemas.details import Grades
from schemas.examples import examples
from service.assess.examination import Assessed, examine
from service.assess.many import answer_many
from service.assess.pipeline import grades, report
from service.intake.refusals import RefusedError
from tests.benchmarks.fleet_visits import visits
from tests.properties.test_grades_properties import moved, requests

Form = Callable[[Assessed], Assessment | Grades]


def alone(request: AssessmentRequest, form: Form) -> bytes:
    try:
        return orjson.dumps(form(examine(request)))
    except RefusedError as error:
        return repr(error.refusals).encode()


def together(asked: Sequence[AssessmentRequest], form: Form) -> list[bytes]:
    return [
        repr(found.refusals).encode() if isinstance(found, RefusedError) else orjson.dumps(found)
        for found in answer_many(asked, form)
    ]


@pytest.mark.parametrize("form", [report, grades], ids=["full", "grades"])
def test_a_fleet(form: Form) -> None:
    """Visits of a dozen shapes, some lacking a reading or with one grossly wrong."""
    asked = [AssessmentRequest.model_validate(body) for body in visits(160, 7)]
    assert together(asked, form) == [alone(request, form) for request in asked]


def test_every_bit() -> None:
    """Not only what an answer shows: draws, statistics and probabilities are the same arrays."""
    asked = [AssessmentRequest.model_validate(body) for body in visits(120, 11)]
    for request, one in zip(asked, answer_many(asked, lambda examined: examined), strict=True):
        if isinstance(one, RefusedError):
            continue
        by_itself = examine(request)
        for name, draws in by_itself.computed.shown.items():
            assert np.array_equal(draws, one.computed.shown[name], equal_nan=True), name
        for part in fields(by_itself.summary):
            mine, other = (getattr(side.summary, part.name) for side in (by_itself, one))
            assert np.array_equal(mine, other, equal_nan=True), part.name
        assert by_itself.conformity == one.conformity


def test_order_and_company_do_not_matter() -> None:
    """Blocks of other visits, and of other sizes, give the same bytes."""
    asked = [AssessmentRequest.model_validate(body) for body in visits(120, 8)]
    found = together(asked, report)
    order = np.random.default_rng(3).permutation(len(asked)).tolist()
    assert together([asked[place] for place in order], report) == [found[p] for p in order]
    assert together(asked[5:40], report) == found[5:40]


@given(st.lists(requests(), min_size=2, max_size=4), st.lists(st.floats(0.97, 1.03), max_size=3))
def test_any_visits(asked: list[AssessmentRequest], factors: list[float]) -> None:
    """Any readings of any unit, beside others of their kind whose numbers differ a little."""
    first = asked[0].model_dump(mode="json", exclude_unset=True)
    for factor in factors:
        like = copy.deepcopy(first)
        readings = like["run"]["readings"]
        like["run"]["readings"] = {name: moved(one, factor) for name, one in readings.items()}
        asked.append(AssessmentRequest.model_validate(like))
    assert together(asked, report) == [alone(request, report) for request in asked]


def test_examples_side_by_side() -> None:
    """Each example thrice: shared draws are not shared results."""
    asked = [AssessmentRequest.model_validate(body) for body in examples().values()] * 3
    found = together(asked, report)
    assert found == [alone(request, report) for request in asked]
    assert len(set(found)) == len(examples())


@pytest.mark.parametrize("by", ["two ratings", "one rating", "table"])
def test_winter_visits_side_by_side(by: str) -> None:
    """Heating visits whose numbers differ, with the capacity of each way to rate it and a balance point."""
    example = examples()["r410a_heat_pump_heating"]
    asked = []
    for step in range(5):
        body = copy.deepcopy(dict(example))
        rated, readings = body["unit"]["rated"], body["run"]["readings"]
        if by != "two ratings":
            del rated["heating_capacity_low"], rated["heating_cop_low"]
        if by == "table":
            body["unit"]["performance_table"] = [
                {
                    "outdoor_air_dry_bulb": outdoor,
                    "airflow": flow,
                    "capacity": 300 * outdoor + flow,
                    "power": 2000 + flow,
                }
                for outdoor in (5, 17, 35, 47, 60)
                for flow in (1000, 1200, 1400)
            ]
        body["unit"]["design_load"]["heat_loss"] = 30000 + 1500 * step
        rated["heating_capacity"] = 35000 + 300 * step
        readings["outdoor_air_dry_bulb"] = 33 + step
        readings["supply_air_dry_bulb"] = 92 + 0.2 * step
        # The last has more heat than its power allows, so nothing is reconciled for it.
        readings["airflow"] = 1180 if step < 4 else 2600
        asked.append(AssessmentRequest.model_validate(body))
    found = together(asked, report)
    assert found == [alone(request, report) for request in asked]
    assert all(b'"balance_point"' in one for one in found[:4])
