"""Sentences about drifts and steps.

Expected texts follow the project's own style rules; no outside source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from service.reference.capacity_control import UNSETTLED
from service.words.numbers import Estimate
from service.words.trend import (
    CrossingFacts,
    SeriesFacts,
    StepFacts,
    series_sentence,
    trend_sentence,
    when_reached,
)

DRIFT = SeriesFacts(
    label="Superheat",
    kind="temperature_difference",
    shape="drift",
    drift=Estimate(-1.0, -1.5, -0.5),
    step=None,
    crossing=None,
    odd=[],
)
JULY, AUGUST = datetime(2026, 7, 1, tzinfo=UTC), datetime(2026, 8, 1, tzinfo=UTC)


def test_a_fall_has_sizes_without_signs() -> None:
    """1 K is 1.8 °F; a band that reaches over zero keeps its signs."""
    assert series_sentence(DRIFT, "imperial") == ("Superheat falls by 1.8 °F a year (95 %: 0.9 to 2.7 °F).")
    unsure = replace(DRIFT, drift=Estimate(-1.0, -2.0, 0.5))
    assert "(95 %: a change of −2.0 to +0.5 K)" in series_sentence(unsure, "metric")


@pytest.mark.parametrize(
    ("dates", "said"),
    [
        (("2030-11-01", "2028-07-01", "2035-09-01"), "about 2030-11 (95 %: 2028-07 to 2035-09)"),
        (("2030-11-01", "2028-07-01", None), "about 2030-11 (95 %: 2028-07 to more than 20 years ahead)"),
        ((None, "2040-01-01", None), "more than 20 years ahead, and hardly before 2040-01"),
        ((None, None, None), "more than 20 years ahead"),
    ],
)
def test_when_a_limit_is_reached(dates: tuple[str | None, ...], said: str) -> None:
    """In the sentence of the series as in the picture."""
    assert when_reached(*dates) == said
    text = series_sentence(replace(DRIFT, crossing=CrossingFacts(-2.5, "degC", *dates)), "metric")
    assert text.endswith(f" At that rate it reaches its limit of −2.5 °C {said}.")


def test_a_step_and_the_runs_that_do_not_fit() -> None:
    step = replace(DRIFT, shape="step", step=StepFacts(2.0, JULY, AUGUST), odd=[JULY])
    assert series_sentence(step, "metric") == (
        "Superheat changed by +2.0 K between 2026-07-01 and 2026-08-01, and was steady before and after. "
        "The run of 2026-07-01 does not fit the others."
    )
    steady = replace(DRIFT, shape="steady", odd=[JULY, AUGUST])
    assert "no drift and no step is shown" in series_sentence(steady, "metric")
    assert "The runs of 2026-07-01, 2026-08-01 do not fit" in series_sentence(steady, "metric")


def test_what_stands_out_comes_first_or_the_lack_of_it() -> None:
    """What is not known of the capacity frames it: the reason before, the remedy after."""
    assert trend_sentence(["A rises.", "B falls."], 9, None) == "A rises. B falls."
    assert trend_sentence([], 9, None) == "No value is shown to drift or step."
    unsettled = UNSETTLED["two_stage"]
    text = trend_sentence([], 0, unsettled)
    assert text.startswith(unsettled.reason)
    assert "no trend to report" in text
    assert text.endswith(unsettled.remedy)
