"""Windings, insulation and two-section capacitors against worked values."""

from __future__ import annotations

import numpy as np
import pytest

from service.physics import windings


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8 + 273.15


@pytest.mark.parametrize(
    ("fahrenheit", "ohms"),
    [(40, 0.740), (100, 0.843), (150, 0.929), (200, 1.015)],
)
def test_copper_at_another_temperature(fahrenheit: float, ohms: float) -> None:
    """0.800 ohms at 75 °F, worked by hand from R2 = R1 (234.5 + t2)/(234.5 + t1) (value from memory)."""
    assert windings.copper_resistance(0.800, kelvin(75), kelvin(fahrenheit)) == pytest.approx(ohms, abs=6e-4)


def test_copper_near_room_temperature_grows_by_its_handbook_coefficient() -> None:
    """0.00393 per kelvin at 20 °C, the International Annealed Copper Standard (handbook value)."""
    slope = windings.copper_resistance(1.0, 293.15, 294.15) - 1.0
    assert slope == pytest.approx(0.00393, abs=1e-5)


@pytest.mark.parametrize(
    ("start_to_run", "common_to_start", "common_to_run", "departure"),
    # Series circuit; 3.0 and 0.5 ohms are a service procedure's good motor, 18 a textbook's highest reading.
    [(3.5, 3.0, 0.5, 0.0), (18.0, 14.0, 4.0, 0.0), (4.0, 3.0, 0.5, 0.5)],
)
def test_windings_in_series(
    start_to_run: float, common_to_start: float, common_to_run: float, departure: float
) -> None:
    """S-R = C-S + C-R."""
    assert windings.series_departure(start_to_run, common_to_start, common_to_run) == pytest.approx(departure)


def test_spread_of_three_windings() -> None:
    """1.00, 1.00 and 1.06: mean 1.02, furthest 0.04 from it (by hand)."""
    own = windings.spread(np.array([[1.00], [1.00], [1.06]]))
    assert own == pytest.approx([0.04 / 1.02])


def test_two_sections_in_series() -> None:
    """45 and 5 µF read 4.50 µF from HERM to FAN (circuit theory)."""
    assert windings.capacitors_in_series(45e-6, 5e-6) * 1e6 == pytest.approx(4.50)


def test_simple_rule_of_insulation() -> None:
    """1 MΩ and another per kilovolt: 1.23 MΩ at 230 V (IEEE 43, older edition; value from memory)."""
    assert windings.simple_insulation_rule(230.0) / 1e6 == pytest.approx(1.23)
