"""Electrical arithmetic against worked values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from service.physics import electrical


@pytest.mark.parametrize(
    ("amps", "volts", "hertz", "microfarads"),
    [
        # Closed form with the trade's factor 2652.58 = 1e6 / (2 pi 60) at 60 Hz; circuit theory.
        (5.00, 330.0, 60.0, 40.19),
        (4.20, 370.0, 60.0, 30.11),
        (1.10, 245.0, 60.0, 11.91),
        # Common practice, no source: a start winding's 5.00 A at 348.2 V reads 38.1 uF.
        (5.00, 348.2, 60.0, 38.1),
        # 50 Hz: factor 3183.10; 5 A at 400 V.
        (5.00, 400.0, 50.0, 39.79),
    ],
)
def test_capacitance(amps: float, volts: float, hertz: float, microfarads: float) -> None:
    """I / (2 pi f V)."""
    own = electrical.capacitance(amps, volts, hertz) * 1e6
    digits = 0.05 if microfarads == 38.1 else 0.005  # the digits that the source prints
    assert own == pytest.approx(microfarads, abs=digits + 1e-3)


# NEMA MG 1 definition (value from memory); worked by hand from it.
@pytest.mark.parametrize(
    ("lines", "percent"),
    [((462, 463, 455), 1.087), ((230, 232, 225), 1.747), ((208, 200, 210), 2.913), ((235, 225, 232), 2.457)],
)
def test_imbalance(lines: tuple[float, float, float], percent: float) -> None:
    """Largest deviation from the mean over the mean, not highest minus lowest."""
    own = electrical.imbalance(np.array(lines, dtype=float).reshape(3, 1))[0] * 100
    assert own == pytest.approx(percent, abs=0.001)


def test_apparent_power() -> None:
    """240 V x 12.0 A = 2880 VA; √3 times as much with three phases (circuit theory)."""
    assert electrical.apparent_power(12.0, 240.0, 1.0) == pytest.approx(2880.0)
    assert electrical.apparent_power(12.0, 240.0, 3.0) == pytest.approx(2880.0 * math.sqrt(3))


def test_apparent_power_of_another_number_of_phases() -> None:
    """Only one and three phases have a formula here."""
    assert np.isnan(electrical.apparent_power(12.0, 240.0, 2.0))


def test_draws_run_along_the_last_axis() -> None:
    """Two draws of three lines, worked by hand: 5/460 and 0."""
    own = electrical.imbalance(np.array([[462.0, 230.0], [463.0, 230.0], [455.0, 230.0]]))
    assert own == pytest.approx([5 / 460, 0.0])
    assert np.isnan(electrical.imbalance(np.zeros((3, 2)))).all()


def test_no_voltage_gives_no_number() -> None:
    """A dead capacitor circuit has no capacitance to read."""
    assert np.isnan(electrical.capacitance(0.0, 0.0, 60.0))


def test_each_draw_has_its_own_number_or_none() -> None:
    """A draw at or under zero volts beside one that is not: I / (2 pi f V) for the latter alone."""
    own = electrical.capacitance(5.0, np.array([0.0, -10.0, 400.0]), 50.0) * 1e6
    assert own == pytest.approx([np.nan, np.nan, 39.789], abs=1e-3, nan_ok=True)
    lines = np.array([[1.0, -1.0], [1.0, 0.0], [4.0, 1.0]])
    assert electrical.imbalance(lines) == pytest.approx([1.0, np.nan], nan_ok=True)
    assert electrical.imbalance(np.array([230, 232, 225])) == pytest.approx(0.01747, abs=1e-5)
