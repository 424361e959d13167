"""The published fault cases: complete, repeatable, faithful to their tables."""

from __future__ import annotations

from collections import Counter

import pytest

from schemas.assessments import AssessmentRequest
from tests.benchmarks.published_cases import (
    FAULTS,
    NO_FAULT,
    ORIFICE,
    VALVE,
    base_states,
    cases,
    charge_effect,
    readings_of,
    recommended,
    request,
)


def test_every_case_is_a_valid_visit() -> None:
    """The body without baseline is one of the contract; the baseline has the form of the run."""
    for case in cases():
        AssessmentRequest.model_validate(request(case, with_baseline=False, condenser_air=True))
        body = request(case, with_baseline=True)
        assert ("baseline" in body) == (case.baseline is not None)
        if case.baseline is not None:
            assert body["baseline"]["readings"].keys() == body["run"]["readings"].keys()


def test_names_are_unique_and_truths_known() -> None:
    """One name for each case, and the faults that the tables hold."""
    found = cases()
    assert len({case.name for case in found}) == len(found)
    without = {"expansion_overfeeding", "expansion_underfeeding"}
    assert set(Counter(case.truth for case in found)) == {NO_FAULT, *FAULTS} - without


@pytest.mark.parametrize(
    ("family", "charge", "capacity", "power", "efficiency"),
    [
        ("heat pump with valve", -0.3, -20.2, -3.6, -17.2),
        ("heat pump with valve", -0.1, -4.4, -1.0, -3.5),
        ("heat pump with valve", 0.2, 2.1, 3.5, -1.4),
        ("split", -0.2, -10.2, -4.7, -5.7),
        ("rooftop", -0.3, -20.3, -6.7, -14.6),
    ],
)
def test_charge_polynomials(family: str, charge: float, capacity: float, power: float, efficiency: float) -> None:
    """Percent at 35 °C, 26.7/19.4 °C, as evaluated elsewhere from the same coefficients."""
    found = [100.0 * (ratio - 1.0) for ratio in charge_effect(family, charge)]
    assert found == pytest.approx([capacity, power, efficiency], abs=0.1)


def test_levels_between_the_published_ones_are_linear() -> None:
    """Condensing with -15 % charge lies midway between -1.1 and -2.2 K."""
    deviation = recommended("low_charge", VALVE, 1.5)
    assert deviation is not None
    assert deviation.features["condensing"] == pytest.approx(-1.65)
    assert recommended("expansion_overfeeding", VALVE, 1.0) is None


def test_saturated_lines_end_at_saturation() -> None:
    """An orifice with 30 % too much charge floods back: superheat reads zero, not below."""
    deviation = recommended("overcharge", ORIFICE, 3.0)
    assert deviation is not None
    readings = readings_of(base_states()["published", ORIFICE], deviation)
    assert readings["suction_line_temperature"] == readings["suction_saturation_temperature"]
