"""The counts of answers, compared with the answers themselves."""

from __future__ import annotations

import json
import pickle
from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any, get_args

import pytest
from fastapi.testclient import TestClient

from schemas.assessments import AssessmentRequest, Grade, Usability
from schemas.comparisons import Verdict
from schemas.diagnoses import Diagnosis
from schemas.examples import (
    comparison_examples,
    diagnosis_examples,
    examples,
    plan_examples,
    trend_examples,
)
from schemas.trends import TrendRun
from service.assess.many import answer_many
from service.batches import answers
from service.batches.answers import answer_chunk, answer_lines, failed_chunk
from service.derive.examined import Examined
from service.telemetry import counts
from service.telemetry.counts import Counts, add, add_all, collected, counted_by
from tests.answers import annotation
from tests.conftest import visit


def test_nobody_listens() -> None:
    """Then nothing is counted, and nothing fails."""
    add(counts.DRAWS)
    add_all({("draws", ()): 3})


def test_what_is_counted_is_gathered_and_can_be_sent() -> None:
    """Also what was gathered further in and sent on; the one within hears alone."""
    with collected() as outer:
        add(counts.FINDINGS, "conforming", number=2)
        with collected() as inner:
            add(counts.FINDINGS, "conforming")
            add(counts.DRAWS, number=256)
        add_all(pickle.loads(pickle.dumps(inner)))
    add(counts.DRAWS)
    assert inner == {("findings", ("conforming",)): 1, ("draws", ()): 256}
    assert outer == {("findings", ("conforming",)): 3, ("draws", ()): 256}


def test_a_sink_hears_at_once() -> None:
    """Not at the end: a batch may run for hours."""
    heard = []
    with counted_by(lambda *told: heard.append(told)):
        add(counts.PROBLEMS, "stalled", "batch")
        assert heard == [("problems", ("stalled", "batch"), 1)]


def test_words_are_those_of_the_contract() -> None:
    """So that every one of them is a series from the start, and none is `other`."""

    def literal(words: Any) -> tuple[str, ...]:  # noqa: ANN401
        if (value := getattr(words, "__value__", None)) is not None:  # a named set of words
            return literal(value)
        if not all(isinstance(one, str) for one in get_args(words)):
            return literal(get_args(words)[0])  # within what describes it
        return get_args(words)

    def words(model: Any, field: str) -> tuple[str, ...]:  # noqa: ANN401
        return literal(annotation(model, field))

    labels = {name: dict(row.labels) for name, row in counts.COUNTED.items()}
    assert labels["findings"] == {"grade": literal(Grade)}
    assert labels["runs_assessed"] == {"usability": words(Usability, "grade")}
    assert labels["runs_assessed"] == {"usability": words(TrendRun, "usability")}
    assert labels["comparisons"] == {"verdict": literal(Verdict)}
    assert labels["diagnoses"] == {"verdict": words(Diagnosis, "verdict")}


# ---------------------------------------------------------------- routes


def graded(*assessments: Mapping[str, Any]) -> Counts:
    """What assessments hold, counted here."""
    found: Counter[tuple[str, tuple[str, ...]]] = Counter()
    for assessment in assessments:
        found["runs_assessed", (assessment["usability"]["grade"],)] += 1
        for finding in assessment["findings"]:
            found["findings", (finding["grade"],)] += 1
    return dict(found)


def asked(client: TestClient, address: str, body: Any) -> tuple[Any, Counts]:  # noqa: ANN401
    """The answer of the application, and what was counted within its request."""
    gathered: Counts = {}

    async def listening(scope: Any, receive: Any, send: Any) -> None:  # noqa: ANN401
        with collected() as found:
            try:
                await client.app(scope, receive, send)
            finally:
                gathered.update(found)

    response = TestClient(listening, raise_server_exceptions=False).post(address, json=body)
    return response, gathered


@pytest.mark.parametrize("name", list(examples()))
def test_an_assessment(client: TestClient, name: str) -> None:
    """Findings by grade, usability, draws; in whichever form."""
    body = dict(examples()[name])
    response, found = asked(client, "/v1/assessments", body)
    answer = response.json()
    assert found == graded(answer) | {("draws", ()): answer["provenance"]["draws"]}
    assert asked(client, "/v1/assessments?format=csv", body)[1] == found
    more = asked(client, "/v1/assessments", body | {"options": {"draws": 512}})[1]
    assert more["draws", ()] == 512


@pytest.mark.parametrize("name", list(comparison_examples()))
def test_a_comparison(client: TestClient, name: str) -> None:
    """The verdict on the system, and both runs."""
    response, found = asked(client, "/v1/comparisons", comparison_examples()[name])
    answer = response.json()
    assert found == graded(*answer["assessments"].values()) | {
        ("comparisons", (answer["system"]["verdict"],)): 1,
        ("draws", ()): 2 * answer["provenance"]["draws"],
    }


@pytest.mark.parametrize("name", list(diagnosis_examples()))
def test_a_diagnosis(client: TestClient, name: str) -> None:
    """The verdict, the visit, and the draws of the baseline where there is one."""
    body = diagnosis_examples()[name]
    response, found = asked(client, "/v1/diagnoses", body)
    answer = response.json()
    assert found == graded(answer["assessment"]) | {
        ("diagnoses", (answer["verdict"],)): 1,
        ("draws", ()): (2 if "baseline" in body else 1) * answer["provenance"]["draws"],
    }


def test_a_series_and_a_plan(client: TestClient) -> None:
    """The runs of a series; of a plan nothing was read."""
    (body,) = trend_examples().values()
    response, found = asked(client, "/v1/trends", body)
    answer = response.json()
    usable = Counter(run["usability"] for run in answer["runs"])
    assert found == {("runs_assessed", (grade,)): number for grade, number in usable.items()} | {
        ("draws", ()): len(body["runs"]) * answer["provenance"]["draws"]
    }
    assert asked(client, "/v1/plans", next(iter(plan_examples().values())))[1] == {}


def test_pictures_and_pages_count_draws_only(client: TestClient) -> None:
    """Only their draws are counted."""
    body = next(iter(comparison_examples().values()))
    for address in ("/v1/plots/changes", "/v1/reports"):
        response, found = asked(client, address, body)
        assert response.status_code == 200
        assert found == {("draws", ()): 512}


def test_problems(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """By their types, and nothing else of what was refused."""

    def counted(address: str, body: Any) -> tuple[str, Counts]:  # noqa: ANN401
        response, found = asked(client, address, body)
        return response.json()["type"], found

    def crash(_request: object) -> None:
        raise RuntimeError

    for address, body, name in (
        ("/v1/assessments", {"units": "imperial"}, "invalid-request"),
        ("/v1/assessments", visit(readings={"suction_pressure": 1e5}), "cannot-be-assessed"),
        ("/v1/diagnoses", visit(unit={"refrigerant": "R-0"}), "cannot-be-assessed"),
        ("/v1/nothing", {}, "not-found"),
        ("/health/live", {}, "method-not-allowed"),
        ("/v1/batches", {}, "unsupported-media-type"),
    ):
        assert counted(address, body) == (
            f"/problems/{name}",
            {("problems", (name, "request")): 1},
        )
    monkeypatch.setattr("service.routes.assessments.assess", crash)
    _, found = counted("/v1/assessments", visit())
    assert found == {("problems", ("internal", "request")): 1}


# ---------------------------------------------------------------- batches


def line(body: Mapping[str, Any], kind: str = "assessment") -> bytes:
    return json.dumps({kind: body}).encode()


ROWS = [
    *(line(body) for body in examples().values()),
    b"",
    b"{}",
    line(visit(unit={"refrigerant": "R-0"})),
    line(comparison_examples()["nothing_to_tell"], "comparison"),
    b"no JSON",
    line(dict(examples()["r22_fixed_orifice"]) | {"options": {"draws": 1024}}),
]


@pytest.mark.parametrize("detail", ["full", "grades"])
def test_a_chunk_is_counted_as_its_answers(detail: Any) -> None:  # noqa: ANN401
    """Alike in full and cut down; once for each of them."""
    answered = answer_chunk(ROWS, detail, 0)
    rows = [json.loads(row) for row in answered.content.splitlines()]
    visits = [row.get("assessment") or row.get("grades") for row in rows]
    pairs = [row.get("comparison") or row.get("verdicts") for row in rows]
    told = [one for one in visits if one]
    (compared,) = [one for one in pairs if one]
    problems = Counter(row["problem"]["type"].removeprefix("/problems/") for row in rows if "problem" in row)
    assert problems == {"invalid-request": 1, "cannot-be-assessed": 1, "invalid-json": 1}
    draws = 256 * len(examples()) + 1024 + 2 * 256
    assert answered.counts == (
        graded(*told, *compared["assessments"].values())
        | {("problems", (name, "line")): number for name, number in problems.items()}
        | {
            ("draws", ()): draws,
            ("comparisons", (compared["system"]["verdict"],)): 1,
            ("batch_lines", ("assessment",)): len(told),
            ("batch_lines", ("comparison",)): 1,
            ("batch_lines", ("problem",)): 3,
        }
    )
    assert pickle.loads(pickle.dumps(answered)) == answered


def test_visits_that_fail_together_are_counted_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """One of them brings all down after others were answered: each is tried again, and counted then."""
    bodies = [dict(body) for body in examples().values()]

    def breaking(requests: list[AssessmentRequest], answer: Callable[[Examined], Any]) -> list[Any]:
        found: list[Any] = answer_many(requests, answer)
        if any(request.options.draws == 512 for request in requests):
            raise RuntimeError
        return found

    monkeypatch.setattr(answers, "answer_many", breaking)
    broken = bodies[0] | {"options": {"draws": 512}}
    answered = answer_chunk([line(body) for body in [*bodies, broken]], "full", 0)
    rows = [json.loads(row) for row in answered.content.splitlines()]
    assert answered.counts == graded(*(row["assessment"] for row in rows if "assessment" in row)) | {
        ("draws", ()): 256 * len(bodies),
        ("problems", ("internal", "line")): 1,
        ("batch_lines", ("assessment",)): len(bodies),
        ("batch_lines", ("problem",)): 1,
    }


def test_a_chunk_keeps_its_counts_to_itself() -> None:
    """They travel with its answer and are added where it arrives, wherever the chunk was computed."""
    with collected() as outside:
        answer_chunk(ROWS[:1], "grades", 0)
        failed = failed_chunk([b"", b"{}", b"{}"], 0)
    assert outside == {}
    assert failed.counts == {
        ("problems", ("internal", "line")): 2,
        ("batch_lines", ("problem",)): 2,
    }
    assert len(answer_lines(ROWS[:1])) == 1  # nobody listens there
