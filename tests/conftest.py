"""Shared fixtures; hypothesis is derandomised so that every run tests the same cases.

``HYPOTHESIS_PROFILE=nightly`` runs many random cases instead: see ``tests/properties/cases.py``.
"""

from __future__ import annotations

import copy
import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, settings

from schemas.assessments import Assessment, AssessmentRequest
from schemas.examples import examples
from service.app import create_app
from service.assess.pipeline import assess
from tests.answers import conforms, untyped

settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    max_examples=20,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.register_profile(
    "nightly",
    deadline=None,
    max_examples=10_000,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))

Assess = Callable[[dict[str, Any]], dict[str, Any]]


@pytest.fixture(scope="session")
def client() -> Iterator[TestClient]:
    """The service, without a network."""
    with TestClient(create_app(), raise_server_exceptions=False) as session:
        yield session


@pytest.fixture
def body() -> dict[str, Any]:
    """A fresh copy of the first example."""
    return copy.deepcopy(dict(next(iter(examples().values()))))


@pytest.fixture(scope="session")
def assessed() -> Assess:
    """Assess a body through the contract, checked against the answer's schema."""

    def run(request: dict[str, Any]) -> dict[str, Any]:
        answer = assess(AssessmentRequest.model_validate(request))
        conforms(Assessment, answer)
        return untyped(answer)

    return run


def visit(units: str = "imperial", **parts: Any) -> dict[str, Any]:  # noqa: ANN401
    """A request body from its parts; ``readings`` may stand for a whole run."""
    readings = parts.pop("readings", {})
    run = {"minutes_running": 20, "readings": readings, **parts.pop("run", {})}
    return {"units": units, "run": run, **parts}
