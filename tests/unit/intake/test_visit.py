"""A visit never changes: whoever draws it, or derives from it, gets an object of its own."""

from __future__ import annotations

from dataclasses import FrozenInstanceError
from typing import Any, cast

import numpy as np
import pytest

from schemas.assessments import AssessmentRequest
from schemas.examples import examples
from service.derive.computation import compute
from service.derive.examined import unit_kind
from service.intake.take_in import take_in
from service.intake.visit import Visit


@pytest.fixture
def request_() -> AssessmentRequest:
    return AssessmentRequest.model_validate(examples()["r410a_capacity"])


def state_of(visit: Visit) -> tuple[object, ...]:
    """All that deriving could have changed, copied."""
    return (
        dict(visit.constants),
        dict(visit.uncertain),
        dict(visit.depends),
        visit.variables,
        dict(visit.sensors),
        dict(visit.leaf_variables),
        dict(visit.readings),
        dict(visit.instruments),
    )


def test_nothing_of_a_visit_can_be_set(request_: AssessmentRequest) -> None:
    visit = cast(Any, take_in(request_))
    with pytest.raises(FrozenInstanceError):
        visit.phases = 3
    for name in ("constants", "uncertain", "depends", "readings", "instruments", "sensors"):
        with pytest.raises(TypeError):
            getattr(visit, name)["x"] = 1.0


def test_deriving_leaves_no_trace_in_the_visit(request_: AssessmentRequest) -> None:
    """Assumptions join the drawn visit alone, and a second derivation starts from the same."""
    visit = take_in(request_)
    before, unit = state_of(visit), unit_kind(request_, visit)
    first = compute(visit, visit.given, unit)
    assert state_of(visit) == before
    assert len(first.visit.variables) > len(visit.variables)
    # What the suspected reading of a drawn visit is left out of does not touch that visit either.
    drawn = state_of(first.visit)
    compute(first.visit, visit.given - {"run.readings.airflow"}, unit)
    assert state_of(first.visit) == drawn
    again = compute(visit, visit.given, unit)
    for name, draws in first.shown.items():
        assert np.array_equal(draws, again.shown[name], equal_nan=True), name
