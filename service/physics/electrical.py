"""Alternating-current arithmetic for motors and their run capacitors.

SI units; any shapes that broadcast, draws on the last axis.
"""

from __future__ import annotations

import numpy as np

from service.physics.array_types import FloatArray, FloatLike

_ROOT_THREE = 3.0**0.5


def _over_zero(values: FloatLike) -> FloatArray:
    """The values, nan where they are not over zero and so cannot be divided by."""
    divisor = np.asarray(values, dtype=np.float64)
    if divisor.size and divisor.min() > 0.0:
        return divisor
    return np.where(divisor > 0.0, divisor, np.nan)


def capacitance(current: FloatLike, voltage: FloatLike, frequency: FloatLike) -> FloatArray:
    """Capacitance from the current through a capacitor and the voltage across it.

    Parameters
    ----------
    current : array_like
        Current in the capacitor's own wire [A].
    voltage : array_like
        Voltage across the capacitor, not the line voltage [V].
    frequency : array_like
        Supply frequency [Hz].

    Returns
    -------
    FloatArray
        Capacitance [F], broadcast shape; nan where voltage or frequency is not over zero.

    Notes
    -----
    Sinusoidal current and voltage; the capacitor's losses (about 0.1 %) are left out.

    References
    ----------
    Alternating-current circuit theory, I = 2πfCV.
    """
    impedance_divisor = (2.0 * np.pi) * _over_zero(frequency) * _over_zero(voltage)
    return np.asarray(np.asarray(current) / impedance_divisor)


def apparent_power(current: FloatLike, voltage: FloatLike, phases: FloatLike) -> FloatArray:
    """Apparent power.

    Parameters
    ----------
    current : array_like
        Line current [A].
    voltage : array_like
        Line voltage, line to line with three phases [V].
    phases : array_like
        Number of phases, 1 or 3.

    Returns
    -------
    FloatArray
        Apparent power [VA], broadcast shape; nan for any other number of phases.

    References
    ----------
    Circuit theory: S = V I with one phase, √3 V I with three (balanced, line-to-line voltage).
    """
    count = np.asarray(phases)
    factor = np.where(count == 3, _ROOT_THREE, np.where(count == 1, 1.0, np.nan))
    return np.asarray(factor * np.asarray(voltage) * np.asarray(current))


def imbalance(values: FloatArray) -> FloatArray:
    """Imbalance of three line voltages or currents.

    Parameters
    ----------
    values : FloatArray, shape (3, ...)
        The three values, all in one unit; draws on the last axis.

    Returns
    -------
    FloatArray, shape (...)
        Largest deviation from the mean over the mean [1], from 0 to 2 for values not under zero;
        nan where the mean is not over zero.

    References
    ----------
    NEMA MG 1, 14.36 (definition; value from memory).
    """
    lines = np.asarray(values, dtype=np.float64)
    mean = (lines[0] + lines[1] + lines[2]) / 3.0
    return np.asarray(np.abs(lines - mean).max(axis=0) / _over_zero(mean))
