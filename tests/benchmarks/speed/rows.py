"""Rows of results, timing by turns, and the two forms in which results leave."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

Times = dict[str, list[float]]


@dataclass(frozen=True)
class Row:
    """One result.

    ``value`` in ``unit``; ``ratio`` to what ``beside`` names, with the ``quartiles`` of it over the
    rounds.  A target is of the ratio, or of the value where ``target_of`` says so; ``at_most`` turns it
    round.
    """

    part: str
    name: str
    value: float
    unit: str
    ratio: float | None = None
    beside: str = ""
    quartiles: tuple[float, float] | None = None
    target: float | None = None
    target_of: str = "ratio"
    at_most: bool = False

    @property
    def reached(self) -> bool | None:
        """Whether the target is met; None without one."""
        judged = self.value if self.target_of == "value" else self.ratio
        if self.target is None or judged is None:
            return None
        return judged <= self.target if self.at_most else judged >= self.target

    def document(self) -> dict[str, Any]:
        """The row as JSON holds it."""
        return {**asdict(self), "reached": self.reached}


def in_turns(functions: Mapping[str, Callable[[], object]], seconds: float, *, at_least: int = 5) -> Times:
    """Processor times [s] of each function over rounds that call every one once; a first warms up.

    None of the functions waits for anything, so on a machine of one's own this is the time by the clock,
    and on a shared one it leaves out what others took.  Rounds end after ``seconds`` by the clock, but
    not before ``at_least`` of them.
    """
    times: Times = {name: [] for name in functions}
    for function in functions.values():
        function()
    end = time.perf_counter() + seconds
    while time.perf_counter() < end or len(next(iter(times.values()))) < at_least:
        for name, function in functions.items():
            start = time.process_time()
            function()
            times[name].append(time.process_time() - start)
    return times


@dataclass(frozen=True)
class Ratio:
    """Median and quartiles of the ratios of single rounds."""

    median: float
    quartiles: tuple[float, float]


def ratio(above: Sequence[float], below: Sequence[float]) -> Ratio:
    """Of two series from the same rounds."""
    rounds = [one / other for one, other in zip(above, below, strict=True)]
    if len(rounds) < 2:
        return Ratio(rounds[0], (rounds[0], rounds[0]))
    low, middle, high = statistics.quantiles(rounds, n=4, method="inclusive")
    return Ratio(middle, (low, high))


def _number(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 1000.0 else f"{value:.3g}"


def table(rows: Iterable[Row]) -> str:
    """The rows as a Markdown table."""
    lines = [
        "| part | what | figure | ratio (quartiles) | beside | target | reached |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for row in rows:
        ratio_ = "" if row.ratio is None else _number(row.ratio)
        if row.quartiles is not None:
            ratio_ += f" ({_number(row.quartiles[0])} to {_number(row.quartiles[1])})"
        target = ""
        if row.target is not None:
            target = f"{'≤' if row.at_most else '≥'} {_number(row.target)}"
            if row.target_of == "value":
                target += f" {row.unit}"
        reached = {True: "yes", False: "no", None: ""}[row.reached]
        cells = (
            row.part,
            row.name,
            f"{_number(row.value)} {row.unit}".strip(),
            ratio_,
            row.beside,
            target,
            reached,
        )
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)
