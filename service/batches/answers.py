"""A chunk of lines in, a chunk of answers out: the one function that every engine maps."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import Any

import orjson
from pydantic import BaseModel, TypeAdapter, ValidationError

from schemas.assessments import Assessment, AssessmentRequest, AssessmentVerdicts
from schemas.batches import FIELDS_OF_BODIES, BatchLine, Id
from schemas.checks import CHECKS, CheckAnswer, CheckRequest
from schemas.comparisons import ComparisonRequest
from schemas.details import Detail, Grades
from schemas.diagnoses import DiagnosisRequest
from schemas.problems import FieldProblem, Problem
from schemas.trends import TrendRequest
from service.assess.examination import Assessed
from service.assess.grades import without_values
from service.assess.many import answer_many
from service.assess.pipeline import grades, report
from service.batches import cases
from service.batches.answered import Answered, Tally
from service.batches.lines import BLANK, Line, Overlong
from service.checks.registry import answered
from service.edge.body_limits import USUAL, BodyLimits
from service.edge.problems import ProblemError, cannot_be_assessed, field_problem, internal
from service.edge.refused_fields import invalid_request, refused_field
from service.edge.strict_json import parse, refuse_draws
from service.intake.refusals import RefusedError
from service.telemetry.counts import (
    BATCH_LINES,
    DRAWS,
    Counts,
    add,
    add_all,
    add_assessment,
    add_check,
    add_problem,
    collected,
)

logger = logging.getLogger(__name__)

#: The kinds of body that a line may hold.
_BODIES: Mapping[str, type[BaseModel]] = {
    "assessment": AssessmentRequest,
    **{name: kind.body for name, kind in cases.KINDS.items()},
}
#: The name of an answer in its line, by the kind of body and how much of it is asked for.
_KEYS: Mapping[str, Mapping[Detail, str]] = {
    "assessment": {"full": "assessment", "verdicts": "assessment_verdicts", "grades": "grades"},
    **{name: kind.keys for name, kind in cases.KINDS.items()},
}
#: What the answers of a line are called, by what they are counted as.
_OUTCOMES: Mapping[str, Collection[str]] = {
    **{kind: frozenset(keys.values()) for kind, keys in _KEYS.items()},
    "check": ("check",),
    "problem": ("problem",),
}
_ID: TypeAdapter[str | int | None] = TypeAdapter(Id)


def answer_lines(
    lines: Sequence[Line], *, detail: Detail = "full", first: int = 0, limits: BodyLimits = USUAL
) -> list[bytes]:
    """The answer to each line of a batch except blank ones, each a line of JSON without its end.

    Parameters
    ----------
    lines : sequence of bytes
        JSON documents ``{"id": ..., "assessment": {...}}``, with a ``comparison``, a ``diagnosis`` or a ``trend`` in
        its place, or with ``"check": {"leak-rate": {...}}``; or an `Overlong` in place of a line that was too long.
        Blank lines are counted and not answered.
    detail : {"full", "verdicts", "grades"}
        How much of each answer but that to a check is given.
    first : int
        Number of the first line in its batch, from 0.
    limits : BodyLimits
        What a line may ask for.

    Raises nothing for the content of a line: its answer is then a problem.
    """
    return [orjson.dumps(answer) for answer in _answers(lines, detail, first, limits)]


def answer_chunk(lines: Sequence[Line], detail: Detail, first: int, limits: BodyLimits = USUAL) -> Answered:
    """The answers to a chunk as one piece of bytes, counted."""
    with collected() as counts:
        return _joined(_answers(lines, detail, first, limits), counts)


def failed_chunk(lines: Sequence[Line], first: int) -> Answered:
    """A problem for each line of a chunk that could not be computed at all."""
    answers = []
    for number, line in enumerate(lines, first):
        if line != BLANK:
            try:
                given = _id(parse(line)) if isinstance(line, bytes) else None
            except ProblemError:
                given = None
            answers.append({"id": given, "line": number, "problem": internal("line").body})
    with collected() as counts:
        return _joined(answers, counts)


def _joined(answers: Sequence[Mapping[str, Any]], counts: Counts) -> Answered:
    problems = [answer["problem"] for answer in answers if "problem" in answer]
    numbers = {
        outcome: sum(not answer.keys().isdisjoint(names) for answer in answers) for outcome, names in _OUTCOMES.items()
    }
    for problem in problems:
        add_problem(problem, "line")
    for outcome, number in numbers.items():
        if number:
            add(BATCH_LINES, outcome, number=number)
    return Answered(
        b"".join(orjson.dumps(answer, option=orjson.OPT_APPEND_NEWLINE) for answer in answers),
        Tally(
            assessments=numbers["assessment"],
            comparisons=numbers["comparison"],
            diagnoses=numbers["diagnosis"],
            trends=numbers["trend"],
            checks=numbers["check"],
            problems=numbers["problem"],
        ),
        counts,
    )


def _answers(lines: Sequence[Line], detail: Detail, first: int, limits: BodyLimits) -> list[dict[str, Any]]:
    answers: list[dict[str, Any]] = []
    visits: list[tuple[dict[str, Any], AssessmentRequest]] = []
    others: list[tuple[dict[str, Any], tuple[str, cases.Request]]] = []
    for number, line in enumerate(lines, first):
        if line == BLANK:
            continue
        answer: dict[str, Any] = {"id": None, "line": number}
        answers.append(answer)
        where = ""
        try:
            match _read(line, answer, limits):
                case ("assessment", AssessmentRequest() as visit):
                    visits.append((answer, visit))
                case (str() as kind, ComparisonRequest() | DiagnosisRequest() | TrendRequest() as request):
                    others.append((answer, (kind, request)))
                case (str() as check, CheckRequest() as body):
                    where = f"/check/{check}"
                    answer["check"] = _checked(check, body)
        except Exception as error:
            answer["problem"] = _problem(error, where, number)
    found = _assessed([asked for _, asked in visits], detail)
    for (answer, _), assessed in zip(visits, found, strict=True):
        _put(answer, "assessment", assessed, detail)
    for (answer, (kind, _)), one in zip(others, cases.answered([asked for _, asked in others], detail), strict=True):
        _put(answer, kind, one, detail)
    return answers


def _put(answer: dict[str, Any], kind: str, found: orjson.Fragment | Exception, detail: Detail) -> None:
    """What was found for a line, in its answer."""
    if isinstance(found, Exception):
        answer["problem"] = _problem(found, f"/{kind}", answer["line"])
    else:
        answer[_KEYS[kind][detail]] = found


def _checked(name: str, body: CheckRequest) -> CheckAnswer:
    checked = answered(name, body)
    add(DRAWS, number=body.options.draws)
    add_check(checked)
    return checked


def _assessed(visits: Sequence[AssessmentRequest], detail: Detail) -> Sequence[orjson.Fragment | Exception]:
    """The assessment of each visit or its grades, or what was raised for it."""
    try:
        # Visits that fail together are counted when each is tried by itself.
        with collected() as counts:
            answers = answer_many(visits, _written(_ASSESSMENTS[detail]))
        add_all(counts)
        return answers
    except Exception as error:
        if len(visits) == 1:
            return [error]
        # One visit fails them all: each is tried by itself, so that it fails alone.
        return [found for visit in visits for found in _assessed([visit], detail)]


_Form = Callable[[Assessed], Assessment | AssessmentVerdicts | Grades]


def _judged(examined: Assessed) -> AssessmentVerdicts:
    return without_values(report(examined))


_ASSESSMENTS: Mapping[Detail, _Form] = {
    "full": report,
    "verdicts": _judged,
    "grades": grades,
}


def _written(form: _Form) -> Callable[[Assessed], orjson.Fragment]:
    """Counts and writes each answer as soon as it exists: as bytes it takes a fraction of the memory."""

    def written(examined: Assessed) -> orjson.Fragment:
        answer = form(examined)
        add(DRAWS, number=examined.visit.sample.draws)
        add_assessment(answer)
        return orjson.Fragment(orjson.dumps(answer))

    return written


_Asked = tuple[str, AssessmentRequest | cases.Request | CheckRequest]


def _read(line: Line, answer: dict[str, Any], limits: BodyLimits) -> _Asked | None:
    """What a line asks for: its kind, of a check its name, and its body; None, with the problem in ``answer``, if its
    fields are refused."""
    if isinstance(line, Overlong):
        raise ProblemError(
            "too-large",
            f"The line is larger than {line.limit} bytes.",
            [
                field_problem(
                    "",
                    None,
                    f"at most {line.limit} bytes",
                    "is too large",
                    "Give one body a line, and end each line with \\n.",
                )
            ],
        )
    document = parse(line, "line", limits)
    answer["id"] = _id(document)
    for where, body in _bodies(document):
        refuse_draws(body, limits, where)
    try:
        asked = BatchLine.model_validate(document)
    except ValidationError as error:
        answer["problem"] = invalid_request(error.errors(), _field)
        return None
    if asked.check is not None:
        found: tuple[str, CheckRequest] = asked.check.given
        return found
    return next((kind, body) for kind in _BODIES if (body := getattr(asked, kind)) is not None)


def _bodies(document: object) -> Iterator[tuple[str, object]]:
    """The bodies of a line, whatever they hold, each with its place."""
    if isinstance(document, Mapping):
        for kind in _BODIES:
            yield f"/{kind}", document.get(kind)
        check = document.get("check")
        if isinstance(check, Mapping):
            for name in CHECKS:
                yield f"/check/{name}", check.get(name)


def _id(document: object) -> str | int | None:
    """The line's own key, if it has a valid one; a refused line keeps it too."""
    given = document.get("id") if isinstance(document, Mapping) else None
    try:
        return _ID.validate_python(given)
    except ValidationError:
        return None


def _field(row: Mapping[str, Any]) -> FieldProblem:
    """One of pydantic's errors; within a body worded as for the single request, with a pointer into the line."""
    kind, *rest = row["loc"] or ("",)
    if kind == "check" and len(rest) > 1 and rest[0] in CHECKS:
        found = refused_field({**row, "loc": ("body", *rest[1:])}, CHECKS[rest[0]])
        return {**found, "pointer": f"/check/{rest[0]}{found['pointer']}"}
    if kind in _BODIES and rest:
        found = refused_field({**row, "loc": ("body", *rest)}, _BODIES[str(kind)])
        return {**found, "pointer": f"/{kind}{found['pointer']}"}
    found = refused_field({**row, "loc": ("body", *row["loc"])}, BatchLine)
    if row["type"] == "extra_forbidden" and kind in FIELDS_OF_BODIES:
        found["hint"] = f'Put it in the body: {{"assessment": {{"{kind}": ...}}}}.'
    return found


def _within(problem: Problem, where: str) -> Problem:
    errors: list[FieldProblem] = [{**row, "pointer": where + row["pointer"]} for row in problem["errors"]]
    return {**problem, "errors": errors}


def _problem(error: Exception, where: str, number: int) -> Problem:
    """The problem that was raised for a line; ``where`` is the place of its body."""
    if isinstance(error, RefusedError):
        return _within(cannot_be_assessed(error), where)
    if isinstance(error, ProblemError):
        return error.body
    logger.error("unhandled error in line %d of a batch", number, exc_info=error)
    return internal("line").body
