"""What the service answered, counted: draws, findings by grade, verdicts, problems.

Whatever makes an answer calls :func:`add`, wherever it runs.  Where the numbers go depends on the process: a
computing process collects them (:func:`collected`) and sends them with its answer; the process that serves puts
them straight into its metrics (:func:`counted_by`).  Without either they are dropped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

#: Numbers, by what is counted and the values of its labels.
Counts = dict[tuple[str, tuple[str, ...]], float]
Sink = Callable[[str, tuple[str, ...], float], None]


@dataclass(frozen=True, slots=True)
class Counted:
    """One thing that is counted.

    ``labels`` maps each label to the values that it may have; to no values if another table holds them.
    """

    name: str
    description: str
    labels: Mapping[str, tuple[str, ...]]


def _counted(name: str, description: str, **labels: tuple[str, ...]) -> Counted:
    return Counted(name, description, MappingProxyType(labels))


DRAWS = _counted("draws", "Draws computed for runs of readings.")
FINDINGS = _counted(
    "findings",
    "Findings reported, by grade.",
    grade=("conforming", "nonconforming", "inconclusive", "not_assessed"),
)
RUNS = _counted(
    "runs_assessed",
    "Runs of readings answered, by usability.",
    usability=("usable", "usable_with_reservations", "not_usable"),
)
COMPARISONS = _counted(
    "comparisons",
    "Comparisons answered, by the verdict on the system.",
    verdict=("improved", "worsened", "no_material_change", "inconclusive"),
)
DIAGNOSES = _counted(
    "diagnoses",
    "Diagnoses answered, by verdict.",
    verdict=(
        "healthy",
        "fault_found",
        "fault_not_told_apart",
        "readings_doubted",
        "not_enough_to_tell",
    ),
)
PROBLEMS = _counted(
    "problems",
    "Problems reported, by type and place: a request, a line of a batch, or a whole batch.",
    type=(),
    part=("request", "line", "batch"),
)
BATCH_LINES = _counted(
    "batch_lines",
    "Lines of batches answered, by outcome.",
    outcome=("assessment", "comparison", "diagnosis", "trend", "problem", "check"),
)

COUNTED: Mapping[str, Counted] = MappingProxyType(
    {row.name: row for row in (DRAWS, FINDINGS, RUNS, COMPARISONS, DIAGNOSES, PROBLEMS, BATCH_LINES)}
)

_SINK: ContextVar[Sink | None] = ContextVar("service.counts", default=None)


def add(row: Counted, *values: str, number: float = 1) -> None:
    """Count; ``values`` are those of the row's labels, in their order."""
    sink = _SINK.get()
    if sink is not None:
        sink(row.name, values, number)


def add_all(counts: Mapping[tuple[str, tuple[str, ...]], float]) -> None:
    """Count what was collected elsewhere."""
    sink = _SINK.get()
    if sink is not None:
        for (name, values), number in counts.items():
            sink(name, values, number)


@contextmanager
def counted_by(sink: Sink) -> Iterator[None]:
    """Within, whatever is counted goes to ``sink`` only."""
    token = _SINK.set(sink)
    try:
        yield
    finally:
        _SINK.reset(token)


@contextmanager
def collected() -> Iterator[Counts]:
    """Within, whatever is counted is collected in the mapping that this yields."""
    found: Counts = {}

    def gather(name: str, values: tuple[str, ...], number: float) -> None:
        found[name, values] = found.get((name, values), 0) + number

    with counted_by(gather):
        yield found


# ---------------------------------------------------------------- answers


def add_assessment(answer: Mapping[str, Any]) -> None:
    """Count an assessment, whole or reduced to grades."""
    add(RUNS, answer["usability"]["grade"])
    _add_findings(answer)


def add_check(answer: Mapping[str, Any]) -> None:
    """Count the findings of a check."""
    _add_findings(answer)


def _add_findings(answer: Mapping[str, Any]) -> None:
    grades: dict[str, int] = {}
    for finding in answer["findings"]:  # done for every visit of a batch, so in the cheapest way
        grade = finding["grade"]
        grades[grade] = grades.get(grade, 0) + 1
    for grade, number in grades.items():
        add(FINDINGS, grade, number=number)


def add_comparison(answer: Mapping[str, Any]) -> None:
    """Count a comparison, whole or reduced to verdicts, and the assessments of its runs."""
    add(COMPARISONS, answer["system"]["verdict"])
    for assessment in answer["assessments"].values():
        add_assessment(assessment)


def add_diagnosis(answer: Mapping[str, Any]) -> None:
    """Count a diagnosis and the assessment of its visit."""
    add(DIAGNOSES, answer["verdict"])
    add_assessment(answer["assessment"])


def add_trend(answer: Mapping[str, Any]) -> None:
    """Count the runs of a series."""
    for run in answer["runs"]:
        add(RUNS, run["usability"])


def add_problem(problem: Mapping[str, Any], part: str) -> None:
    """Count a problem; ``part`` is where it occurred: `request`, `line` or `batch`."""
    add(PROBLEMS, str(problem["type"]).rpartition("/")[2], part)
