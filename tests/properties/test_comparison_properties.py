"""Comparisons of readings at random: always a finite answer, never an unguarded claim."""

from __future__ import annotations

import copy
import math
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from schemas.comparisons import Comparison, ComparisonRequest
from schemas.examples import comparison_examples
from service.compare.comparison import compare
from service.intake.refusals import RefusedError
from tests.answers import conforms, untyped
from tests.properties.cases import slow_cases

NAMES = sorted(comparison_examples())
READINGS = sorted(comparison_examples()[NAMES[0]]["runs"]["before"]["readings"])
DEVICES = (None, "fixed_orifice", "capillary_tube", "electronic_expansion_valve")


def finite(node: Any) -> bool:  # noqa: ANN401
    if isinstance(node, float):
        return math.isfinite(node)
    if isinstance(node, dict):
        return all(finite(value) for value in node.values())
    return all(finite(value) for value in node) if isinstance(node, list) else True


def rescale(readings: dict[str, Any], scales: dict[str, float]) -> None:
    """Scale some of the readings, in place."""
    for reading, scale in scales.items():
        if isinstance(readings.get(reading), dict):
            readings[reading]["value"] *= scale
        elif reading in readings:
            readings[reading] *= scale


def guarded(answer: dict[str, Any]) -> None:
    """No change is claimed without the one test; probabilities and bands fit together."""
    system = answer["system"]
    changed = system["any_change"]["changed"]
    if system["verdict"] in ("improved", "worsened"):
        assert changed
        assert system["any_change"]["probability"] < 0.05
    for row in answer["changes"].values():
        assert changed or row["verdict"] not in ("improved", "worsened", "neither")
        if row["probabilities"] is not None:
            assert abs(row["probabilities"]["rose"] + row["probabilities"]["fell"] - 1.0) < 2e-4
        if row["at_common_conditions"] is not None:
            ends = row["at_common_conditions"]["band"]
            assert ends["low"] <= row["at_common_conditions"]["value"] <= ends["high"]
    told = [c["probability"] for c in system["points_to"] if c["cause"] != "electrical"]
    assert not told or abs(sum(told) - 1.0) < 0.04


@slow_cases(in_ci=12)
@given(
    name=st.sampled_from(NAMES),
    dropped=st.sets(st.sampled_from(READINGS), max_size=12),
    scales=st.dictionaries(st.sampled_from(READINGS), st.floats(0.6, 1.5), max_size=4),
    device=st.sampled_from(DEVICES),
    refrigerant=st.sampled_from(("R-410A", "R-22", "R-32", "R-407C", "R-454B")),
    mode=st.sampled_from(("cooling", "cooling", "cooling", "heating")),
    rated=st.booleans(),
)
def test_any_readings_get_a_guarded_answer(
    name: str,
    dropped: set[str],
    scales: dict[str, float],
    device: str | None,
    refrigerant: str,
    mode: str,
    *,
    rated: bool,
) -> None:
    """Numbers are finite, probabilities fit together, and no verdict of change stands without the test."""
    body = copy.deepcopy(dict(comparison_examples()[name]))
    body["unit"] |= {"refrigerant": refrigerant, "mode": mode}
    if device is None:
        del body["unit"]["metering_device"]
    else:
        body["unit"]["metering_device"] = device
    if not rated:
        del body["unit"]["rated"]
    for run in body["runs"].values():
        run["readings"] = {k: v for k, v in run["readings"].items() if k not in dropped}
    rescale(body["runs"]["after"]["readings"], scales)
    try:
        answer = compare(ComparisonRequest.model_validate(body))
    except RefusedError:
        return  # readings may be impossible for another refrigerant
    conforms(Comparison, answer)
    assert finite(answer)
    guarded(untyped(answer))
