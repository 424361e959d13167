"""A comparison, a diagnosis or a trend gets the same bytes alone and in any company."""

from __future__ import annotations

import copy
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

import numpy as np
import orjson
import pytest

from schemas.comparisons import ComparisonRequest
from schemas.details import Detail
from schemas.diagnoses import DiagnosisRequest
from schemas.examples import comparison_examples, diagnosis_examples, trend_examples
from schemas.trends import TrendRequest
from service.batches.cases import KINDS, Request, answered
from service.compare.comparison import compare
from service.compare.trend import trend
from service.faults.diagnosis import diagnose
from service.intake.refusals import RefusedError
from service.uncertainty.asking import Asking, ask, caught, done, together

Case = tuple[str, Request]


def moved(body: Any, factor: float) -> Any:  # noqa: ANN401
    """The same with its pressures a little off."""
    body = copy.deepcopy(dict(body))
    runs = [body.get("run"), body.get("baseline"), *getattr(body.get("runs", {}), "values", list)()]
    for run in filter(None, runs):
        for name in {"suction_pressure", "liquid_pressure"} & run["readings"].keys():
            value = run["readings"][name]
            if isinstance(value, dict):
                value["value"] *= factor
            else:
                run["readings"][name] = value * factor
    return body


@cache
def cases() -> tuple[Case, ...]:
    """Examples of every kind, two of them twice, and one that is refused."""
    found: list[Case] = [
        ("comparison", ComparisonRequest.model_validate(comparison_examples()["coil_cleaned"])),
        *(("diagnosis", DiagnosisRequest.model_validate(body)) for body in diagnosis_examples().values()),
        *(("trend", TrendRequest.model_validate(body)) for body in trend_examples().values()),
    ]
    for kind, model, body in (
        ("comparison", ComparisonRequest, comparison_examples()["coil_cleaned"]),
        ("diagnosis", DiagnosisRequest, diagnosis_examples()["fouled_with_baseline"]),
    ):
        found.append((kind, model.model_validate(moved(body, 0.99))))
    refused = moved(comparison_examples()["coil_cleaned"], 1.0)
    refused["runs"]["after"]["readings"] = {}
    return (*found, ("comparison", ComparisonRequest.model_validate(refused)))


@cache
def alone() -> tuple[bytes, ...]:
    def bytes_of(request: Request) -> bytes:
        try:
            match request:
                case ComparisonRequest():
                    return orjson.dumps(compare(request))
                case TrendRequest():
                    return orjson.dumps(trend(request))
            return orjson.dumps(diagnose(request))
        except RefusedError as error:
            return repr(error.refusals).encode()

    return tuple(bytes_of(request) for _, request in cases())


def side_by_side(asked: Sequence[Case], detail: Detail = "full") -> list[bytes]:
    return [
        repr(one.refusals).encode() if isinstance(one, RefusedError) else orjson.dumps(one)
        for one in answered(asked, detail)
    ]


def test_in_any_company() -> None:
    """All together, and some of them in another order: the same bytes as alone; one that is refused harms none."""
    assert alone()[-1].startswith(b"(Refusal")
    assert side_by_side(cases()) == list(alone())
    order = np.random.default_rng(4).permutation(len(cases())).tolist()[:3]
    assert side_by_side([cases()[place] for place in order]) == [alone()[place] for place in order]


@pytest.mark.parametrize("detail", ["verdicts", "grades"])
def test_shorter_forms_are_those_of_the_single_request(detail: Detail) -> None:
    """Made of the whole answer, by kind."""
    some = [place for place, (_, request) in enumerate(cases()) if alone()[place].startswith(b"{")][::4]
    forms = [KINDS[cases()[place][0]].forms[detail] for place in some]
    expected = [orjson.dumps(form(orjson.loads(alone()[place]))) for form, place in zip(forms, some, strict=True)]
    assert side_by_side([cases()[place] for place in some], detail) == expected


class Halves:
    """A question that only even numbers have an answer to."""

    def __init__(self, number: int) -> None:
        self.number = number

    @classmethod
    def answers(cls, questions: Sequence[Halves]) -> list[int]:
        if any(one.number % 2 for one in questions):
            raise ValueError("odd")
        return [one.number // 2 for one in questions]


def halved(number: int, times: int) -> Asking[int]:
    for _ in range(times):
        number = yield from ask(Halves(number))
    return number


def test_work_that_fails_fails_alone() -> None:
    """Also where its question fails all that are answered with it; the others end at their own time."""
    works: Iterator[Asking[int | Exception]] = (caught(halved(*one)) for one in ((8, 3), (6, 2), (5, 0), (64, 6)))
    found = done(together(list(works)))
    assert [found[0], found[2], found[3]] == [1, 5, 1]
    assert isinstance(found[1], ValueError)
    with pytest.raises(ValueError, match="odd"):
        done(halved(3, 1))
