"""Significant digits against Python's own decimal formatting."""

from __future__ import annotations

import numpy as np
import pytest

from service.uncertainty.rounding import significant


@pytest.mark.parametrize("digits", [1, 3, 7, 12])
@pytest.mark.parametrize(
    "value",
    [
        1.23456789012345,
        -0.000123456789012,
        0.987654321,
        9.99999996,
        123456.789,
        31_415_926_535.0,
        1.7e300,
        -2.3456789e-290,
        1.0,
        0.5,
    ],
)
def test_as_the_format_rounds(value: float, digits: int) -> None:
    expected = float(f"{value:.{digits}g}")
    assert significant(np.array([value]), digits)[0] == pytest.approx(expected, rel=1e-14)


def test_seven_digits_unless_told_otherwise() -> None:
    assert significant(np.array([1.23456789]))[0] == 1.234568


def test_what_has_no_digits_stays() -> None:
    """Without a warning too: these stand among other values."""
    values = np.array([0.0, np.nan, np.inf, -np.inf, 2.00000004, 5e-324])
    assert significant(values) == pytest.approx([0.0, np.nan, np.inf, -np.inf, 2.0, 0.0], nan_ok=True)
