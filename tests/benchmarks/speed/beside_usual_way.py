"""One visit, and many, beside the usual way: CoolProp, PsychroLib and an uncertainty library."""

from __future__ import annotations

from itertools import islice
from statistics import median
from typing import Any

import orjson

from schemas.assessments import AssessmentRequest
from schemas.examples import examples
from service.assess.pipeline import assess
from service.batches.answers import answer_lines
from tests.benchmarks.fleet_visits import visits
from tests.benchmarks.speed.rows import Row, in_turns, ratio
from tests.benchmarks.usual_way import (
    Linear,
    LinearReused,
    MonteCarlo,
    Tools,
    derived,
    differences,
    within_reach,
)

#: Time over that of the service: an assessment takes at most 1.5 times as long as the first-order script of the same
#: values, and a twentieth of its Monte Carlo, which alone arrives at bands of the same kind.
TARGETS = {"linear": 1.0 / 1.5, "monte_carlo": 20.0}
WORST_VALUE = 0.02  # standard uncertainties
WORST_UNCERTAINTY = 0.01
_NAMES = {
    "linear": "PropsSI, first order",
    "reused": "one state kept, first order",
    "monte_carlo": "PropsSI, 1,024 draws",
}


def agreement(body: Any) -> tuple[int, float, float]:  # noqa: ANN401
    """Number of values, largest difference in standard uncertainties, largest of these as a share.

    Raises
    ------
    AssertionError
        If the two do not agree; ``tests/published/test_usual_way.py`` says what differs on purpose.
    """
    rows = differences(derived(body, Linear()), assess(AssessmentRequest.model_validate(body)))
    value = max(abs(row.value) for row in rows)
    uncertainty = max(abs(row.uncertainty - 1.0) for row in rows if not row.as_read)
    assert value < WORST_VALUE, rows
    assert uncertainty < WORST_UNCERTAINTY, rows
    return len(rows), value, uncertainty


def measure(*, quick: bool) -> list[Row]:
    """Time for each visit: alone, and in a batch of sixty-four."""
    body = examples()["r410a_capacity"]
    count, value, uncertainty = agreement(body)
    tools: dict[str, Tools] = {
        "linear": Linear(),
        "reused": LinearReused(),
        "monte_carlo": MonteCarlo(),
    }
    seconds = 4.0 if quick else 20.0

    def service() -> object:
        return assess(AssessmentRequest.model_validate(body))

    def usual(name: str) -> object:
        return lambda: derived(body, tools[name])

    rows = [
        Row("usual_way", "values compared", count, "values"),
        Row(
            "usual_way",
            "largest difference of a value",
            value,
            "standard uncertainties",
            target=WORST_VALUE,
            target_of="value",
            at_most=True,
        ),
        Row(
            "usual_way",
            "largest difference of a standard uncertainty",
            100.0 * uncertainty,
            "%",
            target=100.0 * WORST_UNCERTAINTY,
            target_of="value",
            at_most=True,
        ),
    ]
    functions = {"service": service, **{name: usual(name) for name in tools}}
    alone = in_turns(functions, seconds)  # type: ignore[arg-type]
    rows.append(Row("usual_way", "one visit, service", 1e3 * median(alone["service"]), "ms"))
    for name in tools:
        found = ratio(alone[name], alone["service"])
        rows.append(
            Row(
                "usual_way",
                f"one visit, {_NAMES[name]}",
                1e3 * median(alone[name]),
                "ms",
                found.median,
                "service",
                found.quartiles,
                TARGETS.get(name),
            )
        )
    return [*rows, *_batch(tools, quick=quick)]


def _batch(tools: dict[str, Tools], *, quick: bool) -> list[Row]:
    size = 64
    fleet = list(islice(within_reach(visits(20_000, seed=1)), size))
    lines = [orjson.dumps({"id": number, "assessment": body}) for number, body in enumerate(fleet)]

    def usual(name: str) -> object:
        return lambda: [derived(body, tools[name]) for body in fleet]

    # A Monte Carlo gains nothing from company: its time for one visit stands for it.
    functions = {
        "service": lambda: answer_lines(lines),
        **{name: usual(name) for name in ("linear", "reused")},
    }
    times = in_turns(functions, 5.0 if quick else 25.0, at_least=2)  # type: ignore[arg-type]
    each = {name: 1e3 * median(taken) / size for name, taken in times.items()}
    rows = [Row("usual_way", f"each of {size} visits, service", each["service"], "ms")]
    for name in ("linear", "reused"):
        found = ratio(times[name], times["service"])
        rows.append(
            Row(
                "usual_way",
                f"each of {size} visits, {_NAMES[name]}",
                each[name],
                "ms",
                found.median,
                "service",
                found.quartiles,
                TARGETS.get(name),
            )
        )
    return rows
