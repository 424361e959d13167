"""Many visits at once: what :func:`service.assess.pipeline.assess` says of each, in their order.

Visits of one kind (the same unit settings, readings and instruments; only the numbers differ) are computed
together, as arrays of visits by draws.  A fleet has few kinds and many visits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeVar

from schemas.assessments import AssessmentRequest
from service.assess.examination import Examined, examine_block, unit_kind
from service.assess.intake import take_in
from service.assess.pipeline import grades, report
from service.assess.refusals import RefusedError
from service.assess.usability import refuse_impossible
from service.assess.visit import Visit

_Answer = TypeVar("_Answer")

#: Visits in a block: enough to share what Python costs, few enough that their draws stay in the cache.
_BLOCK = 16


def assess_many(requests: Sequence[AssessmentRequest]) -> list[dict[str, Any] | RefusedError]:
    """The assessment of each visit, or what it was refused for.

    The answers are those of :func:`service.assess.pipeline.assess`, whatever stands beside them.
    """
    return _answer_many(requests, report)


def grade_many(requests: Sequence[AssessmentRequest]) -> list[dict[str, Any] | RefusedError]:
    """The numbers and grades of each visit (:func:`service.assess.grades.grades_of`), or what it was refused
    for."""
    return _answer_many(requests, grades)


def _answer_many(
    requests: Sequence[AssessmentRequest], answer: Callable[[Examined], _Answer]
) -> list[_Answer | RefusedError]:
    """An answer about each visit, made of what was derived from it."""
    answers: dict[int, _Answer | RefusedError] = {}
    kinds: dict[object, list[tuple[int, Visit]]] = {}
    for place, request in enumerate(requests):
        try:
            visit = take_in(request)
            refuse_impossible(request, visit)
        except RefusedError as error:
            answers[place] = error
        else:
            kind = (unit_kind(request, visit), visit.kind)
            kinds.setdefault(kind, []).append((place, visit))
    for alike in kinds.values():
        for block in _blocks(alike):
            places, visits = zip(*block, strict=True)
            examined = examine_block([requests[place] for place in places], visits)
            for place, one in zip(places, examined, strict=True):
                answers[place] = answer(one)
    return [answers[place] for place in range(len(requests))]


def _blocks(alike: list[tuple[int, Visit]]) -> Iterator[list[tuple[int, Visit]]]:
    for start in range(0, len(alike), _BLOCK):
        yield alike[start : start + _BLOCK]
