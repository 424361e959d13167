"""Many visits at once: what :func:`service.assess.pipeline.assess` says of each, in their order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from schemas.assessments import AssessmentRequest
from service.assess.pipeline import assess
from service.assess.refusals import RefusedError


def assess_many(requests: Sequence[AssessmentRequest]) -> list[dict[str, Any] | RefusedError]:
    """The assessment of each visit, or what it was refused for.

    The answers are those of :func:`service.assess.pipeline.assess`, whatever stands beside them.
    """
    return [_one(request) for request in requests]


def _one(request: AssessmentRequest) -> dict[str, Any] | RefusedError:
    try:
        return assess(request)
    except RefusedError as error:
        return error
