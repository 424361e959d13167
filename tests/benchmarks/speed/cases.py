"""Comparisons and diagnoses: alone, and side by side in the chunks of a batch; answers a second on two whole cores,
and the share of the unit model in them.

By processor time, in turns.  The fleet's cases are visits of ``fleet_visits`` with eight readings and more; the second
run of a comparison is the first a little off.  An earlier revision is timed in its own tree, alone.
"""

from __future__ import annotations

import copy
import gc
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from statistics import median
from typing import Any, ParamSpec, TypeVar
from unittest.mock import patch

import numpy as np
import orjson

from schemas.examples import comparison_examples, diagnosis_examples
from service.batches.answers import answer_lines
from service.unit import model, questions
from tests.benchmarks.fleet_visits import visits
from tests.benchmarks.speed.rows import Row, in_turns, ratio
from tests.benchmarks.speed.servers import work_tree

Given = ParamSpec("Given")
Found = TypeVar("Found")

CASES = 64
LEAST_READINGS = 8
TARGET = 200.0  # answers a second on two cores
EXAMPLES = {"comparison": "coil_cleaned", "diagnosis": "charge_lost"}
_OFF = 0.003

#: Times single requests in the tree that it runs in; works in revisions that know no batch of diagnoses.
_ALONE = """
import json, sys, time
from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from service.compare.comparison import compare
from service.faults.diagnosis import diagnose
ways = {"comparison": (ComparisonRequest, compare), "diagnosis": (DiagnosisRequest, diagnose)}
for line in sys.stdin:
    kind, body = json.loads(line)
    model, answer = ways[kind]
    request = model.model_validate(body)
    answer(request)
    times = []
    for _ in range(5):
        start = time.process_time()
        answer(request)
        times.append(time.process_time() - start)
    print(json.dumps(min(times)), flush=True)
"""


def fleet(kind: str, count: int = CASES, seed: int = 7) -> list[dict[str, Any]]:
    """Bodies of a fleet's comparisons or diagnoses."""
    random = np.random.default_rng(seed)
    found: list[dict[str, Any]] = []
    for body in visits(16 * count, seed):
        if "refrigerant" not in body["unit"] or len(body["run"]["readings"]) < LEAST_READINGS:
            continue
        found.append(_compared(body, random) if kind == "comparison" else dict(body))
        if len(found) == count:
            break
    return found


def _compared(body: Mapping[str, Any], random: np.random.Generator) -> dict[str, Any]:
    before = {name: value for name, value in body["run"].items() if name != "taken_at"}
    after = copy.deepcopy(before)
    for name, value in after["readings"].items():
        if isinstance(value, int | float):
            after["readings"][name] = round(value * (1.0 + _OFF * float(random.normal())), 2)
    rest = {name: value for name, value in body.items() if name != "run"}
    return {**rest, "runs": {"before": before, "after": after}}


def measure(*, quick: bool, against: str | None = None) -> list[Row]:
    """Alone and side by side, and single requests next to an earlier revision where one is named."""
    seconds = 6.0 if quick else 40.0
    rows = []
    # As in the processes of a batch.
    gc.collect()
    gc.freeze()
    for kind in EXAMPLES:
        lines = [orjson.dumps({kind: body}) for body in fleet(kind)]
        few = lines[: CASES // 4]
        times = in_turns(
            {
                "alone": lambda few=few: [answer_lines([line]) for line in few],  # type: ignore[misc]
                "side by side": partial(answer_lines, lines),
                "side by side, grades": partial(answer_lines, lines, detail="grades"),
            },
            seconds,
            at_least=3,
        )
        each = {
            name: [one / (len(few) if name == "alone" else len(lines)) for one in own] for name, own in times.items()
        }
        for name, own in each.items():
            found = ratio(each["alone"], own)
            rows.append(
                Row(
                    "cases",
                    f"{kind}, fleet, {name}, two whole cores",
                    2.0 / median(own),
                    "answers/s",
                    None if name == "alone" else found.median,
                    "" if name == "alone" else "alone",
                    None if name == "alone" else found.quartiles,
                    TARGET if name == "side by side" else None,
                    "value",
                )
            )
        for name, work, count in (
            ("alone", lambda few=few: [answer_lines([line]) for line in few], len(few)),
            ("side by side", partial(answer_lines, lines), len(lines)),
        ):
            spent, whole = _in_the_model(work)
            rows.append(
                Row(
                    "cases",
                    f"{kind}, fleet, {name}, in the unit model",
                    1e3 * spent / count,
                    "ms",
                    spent / whole,
                    "whole",
                )
            )
    gc.unfreeze()
    if against is not None:
        rows += _against(against)
    return rows


def _in_the_model(work: Callable[[], object]) -> tuple[float, float]:
    """Processor time in the unit model and in all [s]: no kernel could save more than the first."""
    spent: list[float] = []

    def timed(function: Callable[Given, Found]) -> Callable[Given, Found]:
        def call(*arguments: Given.args, **named: Given.kwargs) -> Found:
            start = time.process_time()
            found = function(*arguments, **named)
            spent.append(time.process_time() - start)
            return found

        return call

    with (
        patch.object(questions, "linear", timed(model.linear)),
        patch.object(model.UnitModel, "at", timed(model.UnitModel.at)),
    ):
        start = time.process_time()
        work()
        whole = time.process_time() - start
    return sum(spent), whole


def _against(revision: str) -> list[Row]:
    """Single requests of this tree over those of another, in turns."""
    bodies = {
        "comparison": comparison_examples()[EXAMPLES["comparison"]],
        "diagnosis": diagnosis_examples()[EXAMPLES["diagnosis"]],
    }
    asked = [(kind, dict(body)) for kind, body in bodies.items()]
    times: dict[str, list[list[float]]] = {"here": [], revision: []}
    with work_tree(revision) as tree:
        for _ in range(3):
            for name, folder in (("here", Path.cwd()), (revision, tree)):
                times[name].append(_timed(folder, asked))
    rows = []
    for place, kind in enumerate(bodies):
        mine, theirs = ([one[place] for one in times[name]] for name in ("here", revision))
        found = ratio(mine, theirs)
        name = f"{kind} {EXAMPLES[kind]}, alone"
        rows.append(Row("cases", name, 1e3 * min(mine), "ms", found.median, revision, found.quartiles))
    return rows


def _timed(folder: Path, asked: Sequence[tuple[str, Mapping[str, Any]]]) -> list[float]:
    answered = subprocess.run(
        [sys.executable, "-c", _ALONE],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder)},
        input="\n".join(json.dumps(one) for one in asked),
        capture_output=True,
        text=True,
        check=True,
    )
    return [json.loads(line) for line in answered.stdout.splitlines()]
