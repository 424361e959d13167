"""Counts what a route answered: one call for each kind of request."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from schemas.assessments import AssessmentRequest
from schemas.checks import CheckAnswer, CheckRequest
from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.pictures import Body
from schemas.trends import TrendRequest
from service.telemetry.counts import (
    DRAWS,
    add,
    add_assessment,
    add_check,
    add_comparison,
    add_diagnosis,
    add_trend,
)

_Answer = TypeVar("_Answer", bound=Mapping[str, Any])


def counted(request: AssessmentRequest | Body, answer: _Answer) -> _Answer:
    """The answer, with its draws, findings and verdicts counted."""
    count_draws(request)
    count: Callable[[Mapping[str, Any]], None]
    match request:
        case DiagnosisRequest():  # also an AssessmentRequest
            count = add_diagnosis
        case AssessmentRequest():
            count = add_assessment
        case ComparisonRequest():
            count = add_comparison
        case TrendRequest():
            count = add_trend
    count(answer)
    return answer


def counted_check(request: CheckRequest, answer: CheckAnswer) -> CheckAnswer:
    """The answer to a check, with its draws and findings counted."""
    count_check(request)
    add_check(answer)
    return answer


def count_check(request: CheckRequest) -> None:
    """Count the draws of a check; all that is counted of a picture."""
    add(DRAWS, number=request.options.draws)


def count_draws(request: AssessmentRequest | Body) -> None:
    """Count the draws of an answer: those requested, for each run in the body.

    For a picture or a page nothing else is counted, because what it shows is not an answer.
    """
    match request:
        case ComparisonRequest():
            runs = 2
        case TrendRequest():
            runs = len(request.runs)
        case DiagnosisRequest(baseline=baseline):
            runs = 1 if baseline is None else 2
        case _:
            runs = 1
    add(DRAWS, number=runs * request.options.draws)
