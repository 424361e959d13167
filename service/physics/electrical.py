"""Alternating-current arithmetic for motors and their run capacitors.  SI units."""

from __future__ import annotations

import numpy as np

from service.physics.array_types import FloatArray, FloatLike


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
        Capacitance [F]; not a number where the voltage is not positive.

    References
    ----------
    Alternating-current circuit theory, I = 2πfCV.
    """
    volts = np.asarray(voltage, dtype=np.float64)
    positive = np.where(volts > 0.0, volts, np.nan)
    return np.asarray(np.asarray(current) / (2.0 * np.pi * np.asarray(frequency) * positive))


def apparent_power(current: FloatLike, voltage: FloatLike, phases: FloatLike) -> FloatArray:
    """Apparent power [VA] from current [A], line voltage [V] and number of phases (1 or 3).

    References
    ----------
    Circuit theory: S = V I with one phase, √3 V I with three (line-to-line voltage).
    """
    factor = np.where(np.asarray(phases) == 3, np.sqrt(3.0), 1.0)
    return np.asarray(factor * np.asarray(voltage) * np.asarray(current))


def imbalance(values: FloatArray) -> FloatArray:
    """Imbalance of three line voltages or currents.

    Parameters
    ----------
    values : FloatArray, shape (3, ...)
        The three values; draws on the last axis.

    Returns
    -------
    FloatArray, shape (...)
        Largest deviation from the mean over the mean [1]; not a number where the mean is zero.

    References
    ----------
    NEMA MG 1, 14.36 (definition; value from memory).
    """
    lines = np.asarray(values, dtype=np.float64)
    mean = lines.mean(axis=0)
    positive = np.where(mean > 0.0, mean, np.nan)
    return np.asarray(np.abs(lines - mean).max(axis=0) / positive)
