"""A chunk of lines in, a chunk of answers out: the one function that every engine maps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import orjson
from pydantic import ValidationError

from schemas.assessments import AssessmentRequest
from schemas.comparisons import ComparisonRequest
from service.assess.grades import grades_of
from service.assess.many import assess_many
from service.assess.refusals import RefusedError
from service.compare.comparison import compare
from service.edge.problems import ProblemError
from service.edge.strict_json import parse

Detail = Literal["full", "grades"]


def answer_lines(lines: Sequence[bytes], *, detail: Detail = "full", first: int = 0) -> list[bytes]:
    """The answer to each line of a batch, each a line of JSON without its end.

    Parameters
    ----------
    lines : sequence of bytes
        JSON documents ``{"id": ..., "assessment": {...}}`` or ``{"id": ..., "comparison": {...}}``.
    detail : {"full", "grades"}
        Whether assessments are given in full or cut to numbers, grades and names.
    first : int
        Number of the first line in its batch, from 0.
    """
    answers: list[dict[str, Any]] = [{} for _ in lines]
    visits: dict[int, AssessmentRequest] = {}
    for number, line in enumerate(lines):
        answer = answers[number]
        try:
            body = parse(line)
            answer |= {"id": body.get("id"), "line": first + number}
            if "assessment" in body:
                visits[number] = AssessmentRequest.model_validate(body["assessment"])
            else:
                answer["comparison"] = compare(ComparisonRequest.model_validate(body["comparison"]))
        except (ProblemError, ValidationError, RefusedError, KeyError) as error:
            answer["problem"] = {"detail": str(error)}
    for number, found in zip(visits, assess_many(list(visits.values())), strict=True):
        if isinstance(found, RefusedError):
            answers[number]["problem"] = {"detail": str(found)}
        elif detail == "grades":
            answers[number]["grades"] = grades_of(found)
        else:
            answers[number]["assessment"] = found
    return [orjson.dumps(answer) for answer in answers]
