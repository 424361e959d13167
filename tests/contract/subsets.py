"""Visits told apart by WHICH readings they hold, sent to everything that takes a visit.

Readings are the examples of the table of readings (ordinary values): what differs is which of them are
there, as that decides what can be derived, listed and drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import combinations
from math import comb
from typing import Any

import orjson
from fastapi.testclient import TestClient

from schemas.pictures import PlotName
from schemas.readings import READINGS

Body = dict[str, Any]
Subset = tuple[str, ...]
Resource = tuple[str, Callable[[Body, Subset], Body]]

LARGEST = 4
#: Kinds of unit, taken in turn.
UNITS: tuple[Body, ...] = (
    {"refrigerant": "R-410A"},
    {
        "refrigerant": "R-410A",
        "metering_device": "thermostatic_expansion_valve",
        "rated": {"cooling_capacity": 36000, "eer": 11.0},
        "nameplate": {
            "voltage": 230,
            "subcooling": 10,
            "compressor_rated_load_amps": 16,
            "outdoor_fan_full_load_amps": 1.2,
            "indoor_blower_full_load_amps": 4.0,
            "maximum_external_static_pressure": 0.5,
            "capacitors": {"compressor": {"microfarads": 45}},
        },
    },
    {"refrigerant": "R-22", "metering_device": "fixed_orifice"},
    {"refrigerant": "R-410A", "capacity_control": "two_stage", "rated": {"cooling_capacity": 36000, "eer": 11.0}},
    {"refrigerant": "R-410A", "mode": "heating"},
    {},
)
_DATES = ("2026-05-01T12:00:00+00:00", "2026-06-01T12:00:00+00:00", "2026-07-01T12:00:00+00:00")


def subsets(largest: int = LARGEST) -> Iterator[Subset]:
    """Every choice of up to so many readings, the smallest first."""
    for size in range(largest + 1):
        yield from combinations(READINGS, size)


def count(largest: int = LARGEST) -> int:
    """How many there are."""
    return sum(comb(len(READINGS), size) for size in range(largest + 1))


def run(names: Subset, factor: float = 1.0) -> Body:
    """A run of these readings, each times a factor."""
    readings: Body = {}
    for name in names:
        group, _, part = name.partition(".")
        value = round(READINGS[name].example * factor, 4)
        # Watts in the table, kilowatts by default in a request.
        given = {"value": value, "unit": "W"} if READINGS[name].kind == "power" else value
        if part:
            readings.setdefault(group, {})[part] = given
        else:
            readings[name] = given
    return {"minutes_running": 20, "readings": readings}


def _of_a_visit(unit: Body, names: Subset) -> Body:
    return {"units": "imperial", "unit": unit, "run": run(names)}


def _of_a_diagnosis(unit: Body, names: Subset) -> Body:
    return _of_a_visit(unit, names) | {"baseline": run(names, 1.01)}


def _of_two(unit: Body, names: Subset) -> Body:
    runs = {"before": run(names), "after": run(names, 1.01)}
    return {"units": "imperial", "unit": unit, "runs": runs}


def _of_a_series(unit: Body, names: Subset) -> Body:
    runs = [run(names, 1.0 + k / 100) | {"taken_at": date} for k, date in enumerate(_DATES)]
    return {"units": "imperial", "unit": unit, "runs": runs}


def _of_a_plan(unit: Body, names: Subset) -> Body:
    # A plan is about one reading at least.
    readings: Body = {name: {} for name in names or ("suction_pressure",)}
    return {"units": "imperial", "unit": unit, "readings": readings}


_PLOTS: dict[str, Callable[[Body, Subset], Body]] = {
    name: {"changes": _of_two, "trend": _of_a_series}.get(name, _of_a_visit)
    for name in PlotName.__value__.__args__[0].__args__
}
#: Everything that takes a visit, with the body that it takes.
RESOURCES: tuple[Resource, ...] = (
    ("/v1/reports", _of_a_visit),
    ("/v1/diagnoses", _of_a_visit),
    ("/v1/comparisons", _of_two),
    ("/v1/reports", _of_two),
    ("/v1/assessments", _of_a_visit),
    ("/v1/diagnoses", _of_a_diagnosis),
    ("/v1/reports?audience=customer", _of_a_visit),
    ("/v1/trends", _of_a_series),
    ("/v1/plans", _of_a_plan),
    ("/v1/reports", _of_a_series),
    ("/v1/reports", _of_a_diagnosis),
    ("/v1/batches", _of_a_visit),
    ("/v1/batches", _of_two),
    *((f"/v1/plots/{name}", body) for name, body in _PLOTS.items()),
)


def _sent(client: TestClient, path: str, body: Body) -> tuple[int, bytes]:
    """Status and content; of a batch that of its one line."""
    if not path.endswith("/batches"):
        answer = client.post(path, json=body)
        return answer.status_code, answer.content
    kind = "comparison" if "before" in body.get("runs", {}) else "assessment"
    line = orjson.dumps({"id": "1", kind: body}) + b"\n"
    answer = client.post(path, content=line, headers={"Content-Type": "application/x-ndjson"})
    told = orjson.loads(answer.content.splitlines()[0])
    problem = told.get("problem")
    return answer.status_code if problem is None else int(problem["status"]), answer.content


def failures(
    client: TestClient,
    names: Subset,
    unit: Body,
    resources: Iterable[Resource] = RESOURCES,
) -> list[str]:
    """What went wrong with this choice of readings; empty where every resource answered, or refused for a
    reason of its own (a picture that these readings do not give, a comparison of nothing)."""
    found = []
    for path, body in resources:
        status, content = _sent(client, path, body(unit, names))
        if status == 200 or (status == 422 and b"cannot-be-assessed" in content):
            continue
        found.append(f"{status} of {path} ({body.__name__}) with {names} of {unit}: {content[:300]!r}")
    return found
