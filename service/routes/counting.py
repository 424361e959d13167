"""What a route answered, counted: one call for each kind of request."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from schemas.assessments import AssessmentRequest
from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.pictures import Body
from schemas.trends import TrendRequest
from service.telemetry.counts import (
    DRAWS,
    add,
    add_assessment,
    add_comparison,
    add_diagnosis,
    add_trend,
)

_Answer = TypeVar("_Answer", bound=Mapping[str, Any])


def counted(request: AssessmentRequest | Body, answer: _Answer) -> _Answer:
    """The answer, after its draws, findings and verdicts were counted."""
    count_draws(request)
    told: Callable[[Mapping[str, Any]], None]
    match request:
        case DiagnosisRequest():  # an assessment's body, and more
            told = add_diagnosis
        case AssessmentRequest():
            told = add_assessment
        case ComparisonRequest():
            told = add_comparison
        case TrendRequest():
            told = add_trend
    told(answer)
    return answer


def count_draws(request: AssessmentRequest | Body) -> None:
    """Count the draws of an answer: those asked for, through each run that the body holds.

    Of a picture or a page nothing else is counted: what it shows was told by no answer.
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
