"""Bodies: strict JSON, then a request of any kind.

The first byte says which kind of request; the rest is the body.
"""

from __future__ import annotations

import json
import random
from typing import Any

import orjson
from pydantic import TypeAdapter, ValidationError

from schemas.assessments import AssessmentRequest
from schemas.batches import BatchLine
from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.examples import batch_examples, every_example, examples, plan_examples
from schemas.pictures import AnyBody
from schemas.plans import PlanRequest
from schemas.problems import Problem
from schemas.trends import TrendRequest
from service.edge.body_limits import DEEPEST
from service.edge.problems import ProblemError
from service.edge.refused_fields import invalid_request
from service.edge.strict_json import parse, seems_cut
from tests.answers import conforms

CODE = (
    "service.edge.strict_json",
    "service.edge.problems",
    "service.edge.refused_fields",
    "schemas",
)

MODELS: tuple[Any, ...] = (
    AssessmentRequest,
    DiagnosisRequest,
    ComparisonRequest,
    PlanRequest,
    TrendRequest,
    BatchLine,
    AnyBody,
)
ADAPTERS: tuple[TypeAdapter[Any], ...] = tuple(TypeAdapter(model) for model in MODELS)

_TEXTS = [json.dumps(body) for _, _, body in every_example()]
_TEXTS += [json.dumps(body) for body in plan_examples().values()]
_TEXTS += [line for text in batch_examples().values() for line in text.splitlines()]
_ODD = [
    '{"a":1,"a":2}',
    "[NaN]",
    "[1e999]",
    "[" * 40,
    '"\\ud800"',
    '["\\ud83d\\ude00"]',
    "\ufeff{}",
    "",
    "[1" + "0" * 50 + "]",
    '{"id":null}',
    "[-0.0,1E-400]",
    '{"unit":"psi"} x',
    '{"taken_at":"2026-07-14T14:05:00Z"}',
]
SEEDS = [
    bytes([place]) + text.encode() for place, _ in enumerate(MODELS) for text in (*_TEXTS[place :: len(MODELS)], *_ODD)
] + [bytes([0]) + json.dumps(body).encode() for body in examples().values()]

#: Digits of the longest whole number that is taken.
_LONGEST_INTEGER = 40


def check(data: bytes) -> None:
    """A body is read as other readers read it, or refused for a reason that holds."""
    which, body = (data[0] if data else 0) % len(MODELS), data[1:]
    try:
        document = parse(body)
    except ProblemError as error:
        conforms(Problem, error.body)
        assert error.status_code == 400
        assert error.name == "invalid-json"
        assert _is_at_fault(body), f"refused without a reason: {error.detail}"
        assert isinstance(seems_cut(body), bool)
        return
    assert not seems_cut(body)
    assert not _is_at_fault(body), "read, though it is no strict JSON"
    assert _alike(document, orjson.loads(body)), "read otherwise than by another reader"
    again = parse(json.dumps(document, ensure_ascii=False).encode())
    assert _alike(again, document), "not what it was once it is written"
    validated(which, document)


def validated(which: int, document: Any) -> None:  # noqa: ANN401
    """A document is taken as it is and stays what it was, or is refused in words."""
    try:
        request = ADAPTERS[which].validate_python(document)
    except ValidationError as error:
        errors = error.errors()
        rows = [{**row, "loc": ("body", *row["loc"])} for row in errors]
        told = invalid_request(rows)
        conforms(Problem, told)
        orjson.dumps(told)
        assert told["errors"], "refused without a field"
        assert all(row["allowed"] and row["detail"] and row["hint"] for row in told["errors"])
        return
    written = ADAPTERS[which].dump_python(request, mode="json", exclude_unset=True)
    assert ADAPTERS[which].validate_python(written) == request, "another request once it is written"


def _is_at_fault(body: bytes) -> bool:
    """Whether there is a reason to refuse, by the standard library's reader and a look at the document."""
    found: list[str] = []

    def number(text: str) -> float:
        if len(text) > _LONGEST_INTEGER:
            found.append("a long number")
        return 0.0

    def fraction(text: str) -> float:
        if abs(float(text)) == float("inf"):
            found.append("an infinity")
        return 0.0

    def table(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        if len({key for key, _ in pairs}) < len(pairs):
            found.append("a key twice")
        return dict(pairs)

    try:
        document = json.loads(
            body.decode("utf-8"),
            object_pairs_hook=table,
            parse_int=number,
            parse_float=fraction,
            parse_constant=found.append,
        )
        json.dumps(document, ensure_ascii=False).encode("utf-8")
    except (ValueError, RecursionError):
        return True
    return bool(found) or _depth(document) > DEEPEST


def _depth(document: Any) -> int:  # noqa: ANN401
    parts = document.values() if isinstance(document, dict) else document
    return 1 + max(map(_depth, parts), default=0) if isinstance(document, dict | list) else 0


def _alike(one: Any, other: Any) -> bool:  # noqa: ANN401
    """Equal in type and value; a whole number over 64 bits is a fraction to some readers."""
    if isinstance(one, dict) and isinstance(other, dict):
        return list(one) == list(other) and all(_alike(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_alike, one, other))
    if isinstance(one, int) and isinstance(other, float) and abs(one) >= 2**63:
        return float(one) == other
    return type(one) is type(other) and bool(one == other)


# ---------------------------------------------------------------- mutations that stay JSON

#: What a value may be turned into.
_VALUES: tuple[Any, ...] = (
    None,
    True,
    False,
    0,
    -1,
    1,
    0.5,
    1e9,
    -1e-300,
    2**63,
    "",
    "x",
    "assumed:x",
    "psig",
    "degC",
    "K",
    "R-22",
    "2026-07-14T14:05:00Z",
    "2026-02-30",
    [],
    {},
    [1, 2],
    {"value": 1},
    {"values": [1, 2]},
    "\u0000",
    "é",
    "😀",
)


def _places(document: Any) -> list[tuple[Any, Any]]:  # noqa: ANN401
    """Every (table or list, key or place) of a document."""
    found: list[tuple[Any, Any]] = []
    waiting = [document]
    while waiting:
        part = waiting.pop()
        if isinstance(part, dict | list):
            keys = list(part) if isinstance(part, dict) else range(len(part))
            found += [(part, key) for key in keys]
            waiting += [part[key] for key in keys]
    return found


def mutated(data: bytes, seed: int) -> bytes | None:
    """The same with one value or name of the document changed; None where it is no JSON."""
    dice = random.Random(seed)
    try:
        document = json.loads(data[1:])
    except (ValueError, RecursionError):
        return None
    places = _places(document)
    if not places:
        return None
    part, key = dice.choice(places)
    other, other_key = dice.choice(places)
    match dice.randrange(6):
        case 0:
            part[key] = dice.choice(_VALUES)
        case 1:
            part[key] = json.loads(json.dumps(other[other_key]))
        case 2:
            del part[key]
        case 3 if isinstance(part, dict):
            part[str(other_key)] = part.pop(key)
        case 4 if isinstance(part[key], int | float):
            part[key] = part[key] * dice.choice([-1, 0.1, 10, 1e6]) + dice.choice([0, 0.5, 1])
        case _:
            which = dice.randrange(256)
            return bytes([which]) + data[1:]
    return data[:1] + json.dumps(document, ensure_ascii=dice.random() < 0.5).encode("utf-8", "replace")
