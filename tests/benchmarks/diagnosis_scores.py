"""How well a diagnosis answers: rates, confusion, honesty of probabilities.  Pure functions.

The outcomes are those of the published evaluation of diagnosis protocols (Yuill and Braun 2013; their
definitions from memory): a case counts as faulty when its capacity or its efficiency falls under 95 % of
what it is without fault.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

NO_FAULT = "no_fault"
#: A fault is there, but not which.
NO_DIAGNOSIS = "no_diagnosis"
#: The rule cannot be applied to these readings.
NO_RESPONSE = "no_response"

#: Ratio to the fault-free value under which a case counts as faulty: 5 %; value from memory.
FAULTY_BELOW = 0.95

Outcome = Literal[
    "no_response",
    "correct",
    "false_alarm",
    "missed_detection",
    "misdiagnosis",
    "no_diagnosis",
]


@dataclass(frozen=True, slots=True)
class Scored:
    """One answered case: the fault imposed, the answer, and whether the case counts as faulty."""

    truth: str
    answer: str
    faulty: bool


@dataclass(frozen=True, slots=True)
class Rates:
    """Shares of the cases.

    ``no_response`` is of all cases; ``correct`` of all with a response; ``false_alarm`` of those not
    faulty; the others of the faulty ones.  ``alarm_named_small_fault`` is the part of the false alarms,
    of the cases not faulty, that name a fault which is there, but costs under 5 %.  Not-a-number where
    there is no such case.
    """

    cases: int
    faulty: int
    no_response: float
    correct: float
    false_alarm: float
    alarm_named_small_fault: float
    correct_of_faulty: float
    missed_detection: float
    misdiagnosis: float
    no_diagnosis: float


@dataclass(frozen=True, slots=True)
class ReliabilityBin:
    """Statements with a probability from ``low`` to ``high``: how many, mean stated, share right."""

    low: float
    high: float
    count: int
    stated: float
    right: float


def is_faulty(
    truth: str,
    capacity_ratio: float | None,
    efficiency_ratio: float | None,
    below: float = FAULTY_BELOW,
) -> bool:
    """Whether a case counts as faulty; an imposed fault of unpublished effect does."""
    if truth == NO_FAULT:
        return False
    known = [ratio for ratio in (capacity_ratio, efficiency_ratio) if ratio is not None]
    return not known or min(known) < below


def outcome(scored: Scored) -> Outcome:
    """What became of a case.

    On a case that is not faulty every fault stated is a false alarm, also an unnamed one, and also a
    small one that is really there.
    """
    if scored.answer == NO_RESPONSE:
        return "no_response"
    if not scored.faulty:
        return "correct" if scored.answer == NO_FAULT else "false_alarm"
    if scored.answer == NO_FAULT:
        return "missed_detection"
    if scored.answer == NO_DIAGNOSIS:
        return "no_diagnosis"
    return "correct" if scored.answer == scored.truth else "misdiagnosis"


def rates(results: Sequence[Scored]) -> Rates:
    """The rates of the published evaluation; cases without a response count in ``no_response`` alone."""
    answered = [(scored, outcome(scored)) for scored in results if scored.answer != NO_RESPONSE]
    faulty = Counter(kind for scored, kind in answered if scored.faulty)
    sound = Counter(kind for scored, kind in answered if not scored.faulty)
    named = sum(scored.answer == scored.truth != NO_FAULT for scored, _ in answered if not scored.faulty)
    return Rates(
        len(results),
        sum(scored.faulty for scored in results),
        _share(len(results) - len(answered), len(results)),
        _share(faulty["correct"] + sound["correct"], len(answered)),
        _share(sound["false_alarm"], sound.total()),
        _share(named, sound.total()),
        _share(faulty["correct"], faulty.total()),
        _share(faulty["missed_detection"], faulty.total()),
        _share(faulty["misdiagnosis"], faulty.total()),
        _share(faulty["no_diagnosis"], faulty.total()),
    )


def _share(part: float, whole: float) -> float:
    return part / whole if whole else float("nan")


def confusion_matrix(pairs: Sequence[tuple[str, str]]) -> dict[str, dict[str, int]]:
    """Counts by truth, then by answer; every truth and every answer that occurs, in order of name."""
    counts = Counter(pairs)
    answers = sorted({answer for _, answer in pairs})
    return {
        truth: {answer: counts[truth, answer] for answer in answers} for truth in sorted({truth for truth, _ in pairs})
    }


def brier_score(probabilities: Sequence[Mapping[str, float]], truths: Sequence[str]) -> float:
    """Mean over cases of the summed squared difference of probability and fact (Brier 1950), 0 to 2.

    A hypothesis that is not in a mapping has probability zero.
    """
    if not truths:
        return float("nan")
    total = 0.0
    for stated, truth in zip(probabilities, truths, strict=True):
        total += sum((stated.get(name, 0.0) - (name == truth)) ** 2 for name in {*stated, truth})
    return total / len(truths)


def reliability_table(statements: Sequence[tuple[float, bool]], bins: int = 10) -> list[ReliabilityBin]:
    """Stated probability against share that was right, in bins of equal width; empty bins left out.

    ``statements`` are pairs of a probability and whether what it was stated for was so.  A probability
    on a boundary is in the upper bin, one of 1 in the last.
    """
    groups: dict[int, list[tuple[float, bool]]] = {}
    for stated, right in statements:
        groups.setdefault(min(int(stated * bins), bins - 1), []).append((stated, right))
    return [
        ReliabilityBin(
            number / bins,
            (number + 1) / bins,
            len(group),
            sum(stated for stated, _ in group) / len(group),
            sum(right for _, right in group) / len(group),
        )
        for number, group in sorted(groups.items())
    ]


#: Rows of the side-by-side table: attribute of :class:`Rates` and what is printed for it.
ROWS = (
    ("no_response", "no response, of all"),
    ("correct", "correct, of all answered"),
    ("false_alarm", "false alarm, of not faulty"),
    ("alarm_named_small_fault", "  of these a small fault rightly named"),
    ("correct_of_faulty", "correct, of faulty"),
    ("missed_detection", "missed detection, of faulty"),
    ("misdiagnosis", "misdiagnosis, of faulty"),
    ("no_diagnosis", "no diagnosis, of faulty"),
)


def side_by_side(classifiers: Mapping[str, Sequence[Scored]]) -> str:
    """The rates of several classifiers in percent, one column each."""
    found = {name: rates(results) for name, results in classifiers.items()}
    first = max(len(text) for _, text in ROWS)
    widths = {name: max(len(name), 6) for name in found}

    def line(text: str, cells: Mapping[str, str]) -> str:
        return "  ".join([f"{text:<{first}}", *(f"{cells[name]:>{widths[name]}}" for name in found)])

    return "\n".join(
        [
            line("percent", {name: name for name in found}),
            line("cases", {name: str(rate.cases) for name, rate in found.items()}),
            line("faulty cases", {name: str(rate.faulty) for name, rate in found.items()}),
            *(
                line(
                    text,
                    {name: f"{100.0 * getattr(rate, key):.1f}" for name, rate in found.items()},
                )
                for key, text in ROWS
            ),
        ]
    )


def print_side_by_side(classifiers: Mapping[str, Sequence[Scored]]) -> None:
    """Print :func:`side_by_side`."""
    print(side_by_side(classifiers))
