"""Many visits at once, each answered as if it were alone.

Visits of one kind (the same unit settings, readings and instruments; only the numbers differ) are computed
together, as arrays of visits by draws.  A fleet has few kinds and many visits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from schemas.assessments import AssessmentRequest
from service.assess.examination import Assessed, block_size, examine_block
from service.derive.examined import unit_kind
from service.intake.refusals import RefusedError
from service.intake.take_in import take_in
from service.intake.visit import Visit

_Answer = TypeVar("_Answer")


def answer_many(
    requests: Sequence[AssessmentRequest], answer: Callable[[Assessed], _Answer]
) -> list[_Answer | RefusedError]:
    """An answer about each visit, or what it was refused for, in their order.

    ``answer`` makes it from all that was derived: :func:`service.assess.pipeline.report` in full,
    :func:`service.assess.pipeline.grades` cut down.  It is the answer that the visit gets alone, whatever
    else is in the block.
    """
    answers: dict[int, _Answer | RefusedError] = {}
    kinds: dict[object, list[tuple[int, Visit]]] = {}
    for place, request in enumerate(requests):
        try:
            visit = take_in(request)
        except RefusedError as error:
            answers[place] = error
        else:
            kind = (unit_kind(request, visit), visit.kind)
            kinds.setdefault(kind, []).append((place, visit))
    while kinds:
        _, alike = kinds.popitem()
        size = block_size(alike[0][1])
        while alike:
            # Taken out, so that a block's draws go when its answers are there.
            block, alike = alike[:size], alike[size:]
            places, visits = zip(*block, strict=True)
            examined = examine_block([requests[place] for place in places], visits)
            for place, one in zip(places, examined, strict=True):
                answers[place] = answer(one)
            del block, visits, examined, one
    return [answers[place] for place in range(len(requests))]
