"""What it means that readings were made before the unit had settled, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from service.reference.conditions import NEARLY_SETTLED_MINUTES, RUNNING_MINUTES
from service.words.phrases import capital, listed

_RUNS: Mapping[str, str] = {"before": "first", "after": "second"}
_AGAIN = f"at {RUNNING_MINUTES:.0f} minutes"


def in_one_run(minutes: float | None) -> str:
    """Of a visit read after so many minutes; empty where that was long enough, or is not known."""
    if minutes is None or minutes >= RUNNING_MINUTES:
        return ""
    read = f"Read after {round(minutes, 1):g} minutes"
    if minutes < NEARLY_SETTLED_MINUTES:
        return f"{read}: the unit was still settling. The result allows for that. Read again {_AGAIN} to narrow it."
    return f"{read}: the unit had nearly settled, and the result allows for what was left."


def in_two_runs(minutes: Mapping[Literal["before", "after"], float | None]) -> str:
    """Of two runs, by the minutes of each; empty where both were long enough, or are not known."""
    early = {run: one for run, one in minutes.items() if one is not None and one < RUNNING_MINUTES}
    if not early:
        return ""
    if len(early) > 1 and len(set(early.values())) == 1:
        one = next(iter(early.values()))
        return (
            f"Both runs were read after {round(one, 1):g} minutes, {_state(one)}. Much of that cancels in the change, "
            "and the band includes the rest."
        )
    runs = listed(
        [f"the {_RUNS[run]} run was read after {round(one, 1):g} minutes, {_state(one)}" for run, one in early.items()]
    )
    text = f"{capital(runs)}. The band includes that"
    # Where the first run had not settled either, a second one that has is no better.
    if set(early) == {"after"}:
        return f"{text}. Read the second run again {_AGAIN} to narrow it."
    return f"{text}."


def _state(minutes: float) -> str:
    if minutes < NEARLY_SETTLED_MINUTES:
        return "while the unit was still settling"
    return "when the unit had nearly settled"
