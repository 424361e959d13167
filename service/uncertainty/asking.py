"""Work that asks for something costly and waits, written as a generator, so that many can be answered at once.

A generator yields a list of questions, is sent the answers in their order, and returns what it found.  Whoever
runs several of them puts the questions of all that wait into one list: each goes its own way, whatever the
others do.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from itertools import islice
from typing import TypeVar

Question = TypeVar("Question")
Answer = TypeVar("Answer")
Found = TypeVar("Found")

#: Questions out, their answers in, and what was found in the end.
Asking = Generator[Sequence[Question], Sequence[Answer], Found]


def ask(question: Question) -> Asking[Question, Answer, Answer]:
    """The answer to one question."""
    (answer,) = yield [question]
    return answer


def together(works: Sequence[Asking[Question, Answer, Found]]) -> Asking[Question, Answer, list[Found]]:
    """Works done next to each other: in each turn the questions of all that are not done."""
    found: dict[int, Found] = {}
    waiting: dict[int, Sequence[Question]] = {}

    def resume(place: int, answers: Sequence[Answer] | None) -> None:
        work = works[place]
        try:
            waiting[place] = next(work) if answers is None else work.send(answers)
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


def caught(work: Asking[Question, Answer, Found]) -> Asking[Question, Answer, Found | Exception]:
    """What a work finds, or the exception that ended it, so that it ends no other."""
    try:
        return (yield from work)
    except Exception as error:
        return error


def done(work: Asking[Question, Answer, Found], answered: Callable[[Sequence[Question]], Sequence[Answer]]) -> Found:
    """What a work finds, its questions answered as they come."""
    try:
        asked = next(work)
        while True:
            asked = work.send(answered(asked))
    except StopIteration as stop:
        found: Found = stop.value
        return found
