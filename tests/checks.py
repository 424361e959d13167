"""Checks answered through the contract, for tests."""

from __future__ import annotations

from typing import Any

from schemas.checks import CHECKS, CheckAnswer
from service.checks.registry import answered
from tests.answers import conforms, untyped


def check(name: str, /, units: str = "imperial", **parts: Any) -> dict[str, Any]:  # noqa: ANN401
    """The answer to a check, held against its schema."""
    answer = answered(name, CHECKS[name].model_validate({"units": units, **parts}))
    conforms(CheckAnswer, answer)
    return untyped(answer)


def series(times: Any, **columns: Any) -> list[dict[str, Any]]:  # noqa: ANN401
    """Readings over minutes: one dictionary a time."""
    return [{"minutes": at, **{name: values[k] for name, values in columns.items()}} for k, at in enumerate(times)]
