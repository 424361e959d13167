"""How time grows with readings, draws and visits: slopes of log time over log size."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from statistics import median
from typing import Any, get_args

import numpy as np

from schemas.assessments import AssessmentRequest, Options
from schemas.examples import examples
from service.assess.pipeline import assess
from service.batches.answers import answer_lines
from tests.benchmarks.fleet_visits import lines
from tests.benchmarks.speed.rows import Row, in_turns

READINGS = (2, 4, 7, 12, 18)
VISITS = (1, 4, 16, 64, 256)
FEWER = VISITS[:-1]  # when quick


def slope(sizes: list[int], times: list[float]) -> tuple[float, float]:
    """Least-squares slope of log time over log size, and its standard error."""
    x, y = np.log(sizes), np.log(times)
    x = x - x.mean()
    value = float(x @ y / (x @ x))
    left = y - y.mean() - value * x
    return value, float(np.sqrt(left @ left / (len(x) - 2) / (x @ x)))


def measure(*, quick: bool) -> list[Row]:
    """Slopes, each of five sizes or so that are timed in turns; at most proportional is wanted."""
    seconds = 4.0 if quick else 15.0
    example = examples()["r410a_capacity"]
    draws = sorted(get_args(Options.model_fields["draws"].annotation))
    visits = FEWER if quick else VISITS
    fleet = list(lines(max(visits), seed=7))

    def with_readings(count: int) -> Callable[[], object]:
        body: dict[str, Any] = copy.deepcopy(example)
        readings = body["run"]["readings"]
        body["run"]["readings"] = dict(list(readings.items())[:count])
        return _assessed(body)

    def with_draws(count: int) -> Callable[[], object]:
        return _assessed({**example, "options": {"draws": count}})

    def with_visits(count: int) -> Callable[[], object]:
        return lambda: answer_lines(fleet[:count], detail="grades")

    return [
        *_rows("readings", {count: with_readings(count) for count in READINGS}, seconds),
        *_rows("draws", {count: with_draws(count) for count in draws}, seconds),
        *_rows("visits of a chunk", {count: with_visits(count) for count in visits}, 2.0 * seconds),
    ]


def _assessed(body: Any) -> Callable[[], object]:  # noqa: ANN401
    return lambda: assess(AssessmentRequest.model_validate(body))


def _rows(what: str, functions: Mapping[int, Callable[[], object]], seconds: float) -> list[Row]:
    taken = in_turns({str(size): one for size, one in functions.items()}, seconds, at_least=3)
    times = [median(taken[str(size)]) for size in functions]
    sizes = list(functions)
    value, error = slope(sizes, times)
    between = f"{what}: {sizes[0]} to {sizes[-1]}"
    return [
        Row(
            "growth",
            f"{between}, slope in logarithms (quartiles: ± one standard error)",
            value,
            "",
            value,
            "proportional",
            (value - error, value + error),
            1.0,
            at_most=True,
        ),
        Row("growth", f"{between}, time of the largest", 1e3 * times[-1], "ms", times[-1] / times[0], "the smallest"),
    ]
