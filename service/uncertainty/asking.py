"""Work that asks for something costly and waits, written as a generator, so that many can be answered at once.

A generator yields questions, is sent their answers in the same order, and returns what it found.  Whoever runs
several of them puts the questions of all that wait into one list; questions of one kind are answered together.
Each work goes its own way, whatever the others do: an answer must not depend on the company of its question.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from itertools import islice
from typing import Any, Protocol, TypeVar

Found = TypeVar("Found")
Answer = TypeVar("Answer")
Answer_co = TypeVar("Answer_co", covariant=True)


class Question(Protocol[Answer_co]):
    """What is asked; its class knows how to answer many of its kind."""

    @classmethod
    def answers(cls, questions: Sequence[Any], /) -> Sequence[Answer_co]:
        """The answers in order; one that is an exception is raised where it was asked."""
        ...


#: Questions out, their answers in, and what was found in the end.
Asking = Generator[Sequence[Question[Any]], Sequence[Any], Found]


def ask(question: Question[Answer]) -> Asking[Answer]:
    """The answer to one question."""
    (answer,) = yield [question]
    if isinstance(answer, Exception):
        raise answer
    found: Answer = answer
    return found


def together(works: Sequence[Asking[Found]]) -> Asking[list[Found]]:
    """Works done side by side: in each turn the questions of all that are not done."""
    found: dict[int, Found] = {}
    waiting: dict[int, Sequence[Question[Any]]] = {}

    def resume(place: int, answers: Sequence[Any] | None) -> None:
        try:
            waiting[place] = next(works[place]) if answers is None else works[place].send(answers)
        except StopIteration as stop:
            found[place] = stop.value
            waiting.pop(place, None)

    for place in range(len(works)):
        resume(place, None)
    while waiting:
        answers = iter((yield [question for asked in waiting.values() for question in asked]))
        for place, asked in list(waiting.items()):
            resume(place, list(islice(answers, len(asked))))
    return [found[place] for place in range(len(works))]


def caught(work: Asking[Found]) -> Asking[Found | Exception]:
    """What a work finds, or the exception that ended it, so that it ends no other."""
    try:
        return (yield from work)
    except Exception as error:
        return error


def done(work: Asking[Found]) -> Found:
    """What a work finds, its questions answered as they come."""
    try:
        asked = next(work)
        while True:
            asked = work.send(_answered(asked))
    except StopIteration as stop:
        found: Found = stop.value
        return found


def _answered(questions: Sequence[Question[Any]]) -> list[Any]:
    kinds: dict[type[Question[Any]], list[int]] = {}
    for place, question in enumerate(questions):
        kinds.setdefault(type(question), []).append(place)
    found: dict[int, Any] = {}
    for kind, places in kinds.items():
        found.update(zip(places, _of_kind(kind, [questions[place] for place in places]), strict=True))
    return [found[place] for place in range(len(questions))]


def _of_kind(kind: type[Question[Any]], questions: Sequence[Question[Any]]) -> Sequence[Any]:
    try:
        return kind.answers(questions)
    except Exception as error:
        if len(questions) == 1:
            return [error]
        # One question fails them all: each is tried by itself, so that it fails alone.
        return [answer for question in questions for answer in _of_kind(kind, [question])]
