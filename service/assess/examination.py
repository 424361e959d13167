"""Visits examined, with what an assessment judges of their numbers: conformity, and how they read before.

Visits of one kind are judged together, as arrays of visits by draws; each gets the same bits as alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

from schemas.assessments import AssessmentRequest
from service.assess import agreement, findings, mistaken, pressures
from service.assess.notices import case_of
from service.derive.examined import (
    Derived,
    Examined,
    Together,
    derived_block,
    derived_from,
    examined_block,
    unit_kind,
)
from service.intake.refusals import RefusedError
from service.intake.take_in import take_in
from service.intake.visit import Visit
from service.reference.circuits import NOT_OF_ONE_CIRCUIT
from service.uncertainty.asking import Asking
from service.uncertainty.low_discrepancy import DEFAULT_DRAWS


class Examination(NamedTuple):
    """A visit to be examined, as a question that is answered together with others; ``compared`` and what it is
    refused for as in :func:`examine`.  Without ``statistics`` the answer is only what was derived."""

    request: AssessmentRequest
    compared: bool = True
    statistics: bool = True

    @classmethod
    def answers(cls, questions: Sequence[Examination]) -> Sequence[Derived | RefusedError]:
        """What each visit amounts to, or what it was refused for; visits of one kind are computed together."""
        found: dict[int, Derived | RefusedError] = {}
        kinds: dict[object, list[tuple[int, Visit]]] = {}
        for place, (request, compared, _) in enumerate(questions):
            try:
                visit = take_in(request, compared=compared)
            except RefusedError as error:
                found[place] = error
            else:
                kinds.setdefault((unit_kind(request, visit), visit.kind), []).append((place, visit))
        for alike in kinds.values():
            size = block_size(alike[0][1])
            for first in range(0, len(alike), size):
                places, visits = zip(*alike[first : first + size], strict=True)
                block = derived_block([questions[place].request for place in places], visits)
                found.update(zip(places, map(_with_doubts, block), strict=True))
                whole = [place for place in places if questions[place].statistics]
                some = [one for place in whole if isinstance(one := found[place], Derived)]
                found.update(zip(whole, _assessed(some), strict=True))
        return [found[place] for place in range(len(questions))]


#: Visits in a block, at the usual number of draws: enough to share what Python costs, few enough that their
#: draws stay in the cache.
_BLOCK = 16


def block_size(visit: Visit) -> int:
    """How many visits like this one are computed together."""
    return max(1, _BLOCK * DEFAULT_DRAWS // visit.sample.draws)


def examined_together(requests: Sequence[AssessmentRequest]) -> Asking[list[Assessed | RefusedError]]:
    """Everything derived from visits that are to be set against others, with statistics, or what each was refused
    for."""
    answers = yield [Examination(request) for request in requests]
    for one in answers:
        if isinstance(one, Exception) and not isinstance(one, RefusedError):
            raise one
    return list(answers)


class Judgement:
    """What is judged of visits that were examined together, worked out for all when the first asks for it."""

    def __init__(self, together: Together) -> None:
        self._together = together

    @cached_property
    def conformity(self) -> list[dict[str, float]]:
        """For each visit, the probability of conforming to each limit that has its bounds."""
        together = self._together
        return findings.probabilities(
            together.derived[0].unit,
            [one.visit for one in together.derived],
            together.positions,
            together.stack,
            together.summary,
        )

    @cached_property
    def beside(self) -> list[agreement.Beside | None]:
        """For each visit, the statistics of what the balances changed, as it was read."""
        together = self._together
        return agreement.beside([one.computed for one in together.derived], together.summary, together.positions)


@dataclass(frozen=True, slots=True)
class Assessed(Examined):
    """A visit examined, with what is judged of its numbers."""

    judgement: Judgement

    @property
    def conformity(self) -> Mapping[str, float]:
        """Probability of conforming to each limit that has its bounds, by the limit's name."""
        return self.judgement.conformity[self.place]

    @property
    def beside(self) -> agreement.Beside | None:
        """Statistics of what the balances changed, as it was read; None where they changed nothing."""
        return self.judgement.beside[self.place]


def examine(
    request: AssessmentRequest,
    *,
    compared: bool = False,
    planned: Mapping[str, int] | None = None,
) -> Assessed:
    """Everything derived from a visit with its statistics; see :func:`derive_visit`.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    return with_statistics(derive_visit(request, compared=compared, planned=planned))


def derive_visit(
    request: AssessmentRequest,
    *,
    compared: bool = False,
    planned: Mapping[str, int] | None = None,
) -> Derived:
    """Everything derived from a visit, and what of it is doubted; ``compared`` where it is to be set against
    another.

    ``planned`` are numbers of repeats of readings that are not made yet.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    return _with_doubts(derived_from(request, take_in(request, compared=compared, planned=planned)))


def _with_doubts(derived: Derived) -> Derived:
    of_others: frozenset[str] = NOT_OF_ONE_CIRCUIT if derived.unit.circuits > 1 else frozenset()
    case = case_of(derived)
    swapped = [name for one in pressures.swapped_clamps(case) for name in one.readings]
    return replace(derived, doubted=mistaken.doubted(case) | derived.computed.doubted_with(swapped) | of_others)


def with_statistics(derived: Derived) -> Assessed:
    """The same with the statistics of all that was derived."""
    return _assessed([derived])[0]


def examine_block(requests: Sequence[AssessmentRequest], visits: Sequence[Visit]) -> list[Assessed]:
    """Everything derived from visits of one kind, with statistics."""
    return _assessed(derived_block(requests, visits))


def _assessed(derived: Sequence[Derived]) -> list[Assessed]:
    judgements: dict[int, Judgement] = {}
    return [
        Assessed(
            one.request,
            one.computed,
            one.doubted,
            one.names,
            one.summary,
            one.kept,
            one.together,
            one.place,
            judgements.setdefault(id(one.together), Judgement(one.together)),
        )
        for one in examined_block(derived)
    ]
