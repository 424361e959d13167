"""Comparisons, diagnoses and trends of a chunk, done side by side: what their fits ask is answered as one array.

Each gets the bytes that it gets alone, whatever is next to it, and fails alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NamedTuple

import orjson

from schemas.comparisons import ComparisonRequest
from schemas.details import Detail
from schemas.diagnoses import Diagnosis, DiagnosisRequest
from schemas.trends import TrendRequest
from service.compare.comparison import comparing
from service.compare.trend import following
from service.compare.verdicts import drifts_of, grades_of_trend, verdicts_of, without_assessments
from service.faults.diagnosis import diagnosing
from service.faults.grades import grades_of_diagnosis, without_assessment
from service.telemetry.counts import DRAWS, add, add_comparison, add_diagnosis, add_trend
from service.uncertainty.asking import Asking, caught, done, together
from service.uncertainty.low_discrepancy import DEFAULT_DRAWS

Request = ComparisonRequest | DiagnosisRequest | TrendRequest

#: Runs of readings at once, at the usual number of draws: enough to share what Python costs, few enough that their
#: draws take little memory.
_RUNS_AT_ONCE = 64


class Kind(NamedTuple):
    """A kind of case: its request, what works it out, its shorter forms, and how it is ``counted``.

    ``keys`` are the names of its answer in a line, by how much of it is asked for.
    """

    body: type[Request]
    work: Callable[[Any], Asking[Any]]
    keys: Mapping[Detail, str]
    forms: Mapping[Detail, Callable[[Any], Mapping[str, Any]]]
    counted: Callable[[Mapping[str, Any]], None]


def _diagnosis(request: DiagnosisRequest) -> Asking[Diagnosis]:
    found = yield from diagnosing(request)
    return found.answer


#: By the name of its body in a line.
KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "comparison": Kind(
            ComparisonRequest,
            comparing,
            {"full": "comparison", "verdicts": "comparison_verdicts", "grades": "verdicts"},
            {"verdicts": without_assessments, "grades": verdicts_of},
            add_comparison,
        ),
        "diagnosis": Kind(
            DiagnosisRequest,
            _diagnosis,
            {"full": "diagnosis", "verdicts": "diagnosis_verdicts", "grades": "diagnosis_grades"},
            {"verdicts": without_assessment, "grades": grades_of_diagnosis},
            add_diagnosis,
        ),
        "trend": Kind(
            TrendRequest,
            following,
            {"full": "trend", "verdicts": "trend_verdicts", "grades": "trend_grades"},
            {"verdicts": drifts_of, "grades": grades_of_trend},
            add_trend,
        ),
    }
)


def answered(cases: Sequence[tuple[str, Request]], detail: Detail) -> list[orjson.Fragment | Exception]:
    """The answer to each case, given by its kind and its request, or what was raised for it; in their order."""
    found: dict[int, orjson.Fragment | Exception] = {}
    for places in _at_once([request for _, request in cases]):
        works = [caught(_written(*cases[place], detail)) for place in places]
        found.update(zip(places, done(together(works)), strict=True))
    return [found[place] for place in range(len(cases))]


def _at_once(requests: Sequence[Request]) -> Iterator[list[int]]:
    """Places of the cases that are done side by side, those of like units and readings first."""
    some: list[int] = []
    draws = 0
    for place in sorted(range(len(requests)), key=lambda place: _like(requests[place])):
        more = _draws(requests[place])
        if some and draws + more > _RUNS_AT_ONCE * DEFAULT_DRAWS:
            yield some
            some, draws = [], 0
        some.append(place)
        draws += more
    if some:
        yield some


def _runs(request: Request) -> list[Any]:
    match request:
        case ComparisonRequest():
            return [request.runs.before, request.runs.after]
        case TrendRequest():
            return list(request.runs)
    return [request.run] if request.baseline is None else [request.run, request.baseline]


def _draws(request: Request) -> int:
    return len(_runs(request)) * request.options.draws


def _like(request: Request) -> tuple[Any, ...]:
    unit, readings = request.unit, _runs(request)[0].readings
    return (
        unit.mode,
        unit.refrigerant or "",
        unit.metering_device or "",
        request.options.draws,
        sorted(readings.model_fields_set),
        sorted(request.kit),
    )


def _written(kind: str, request: Request, detail: Detail) -> Asking[orjson.Fragment]:
    """Counts and writes an answer as soon as it exists: as bytes it takes a fraction of the memory."""
    own = KINDS[kind]
    answer = yield from own.work(request)
    add(DRAWS, number=_draws(request))
    own.counted(answer)
    form = own.forms.get(detail)
    return orjson.Fragment(orjson.dumps(answer if form is None else form(answer)))
