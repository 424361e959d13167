"""Windings, insulation and capacitors of a motor that is off and isolated.

SI units; any shapes that broadcast, draws on the last axis.
"""

from __future__ import annotations

import numpy as np

from service.physics.array_types import FloatArray, FloatLike
from service.physics.electrical import imbalance

#: Temperature [K] at which the resistance of copper would vanish if it fell on as it does near room
#: temperature: -234.5 °C.
_COPPER_ZERO = 273.15 - 234.5


def copper_resistance(resistance: FloatLike, temperature: FloatLike, wanted: FloatLike) -> FloatArray:
    """Resistance of a copper winding at another temperature.

    Parameters
    ----------
    resistance : array_like
        As read [Ω].
    temperature, wanted : array_like
        Of the winding when it was read, and the other one [K].

    Returns
    -------
    FloatArray
        [Ω], broadcast shape.

    References
    ----------
    R2 = R1 (234.5 + t2) / (234.5 + t1), t in °C (IEC 60034-1, IEEE 118; value from memory).
    """
    ratio = (np.asarray(wanted) - _COPPER_ZERO) / (np.asarray(temperature) - _COPPER_ZERO)
    return np.asarray(np.asarray(resistance) * ratio)


def series_departure(start_to_run: FloatLike, common_to_start: FloatLike, common_to_run: FloatLike) -> FloatArray:
    """By how much the reading across both windings of a single-phase motor differs from their sum.

    Parameters
    ----------
    start_to_run, common_to_start, common_to_run : array_like
        Resistances between the terminals [Ω].

    Returns
    -------
    FloatArray
        [Ω], broadcast shape; zero for windings that share one point and nothing else.

    References
    ----------
    Two resistances in series: S-R = C-S + C-R.
    """
    return np.asarray(np.asarray(start_to_run) - (np.asarray(common_to_start) + common_to_run))


def spread(windings: FloatArray) -> FloatArray:
    """Largest deviation of three windings from their mean, over the mean.

    Parameters
    ----------
    windings : FloatArray, shape (3, ...)
        Resistances between the three pairs of terminals [Ω]; draws on the last axis.

    Returns
    -------
    FloatArray, shape (...)
        [1]; not-a-number where the mean is not above zero.
    """
    return imbalance(windings)


def capacitors_in_series(one: FloatLike, other: FloatLike) -> FloatArray:
    """Capacitance across two capacitors in series [F].

    A two-section capacitor read from HERM to FAN shows this, not a section.

    References
    ----------
    Circuit theory: 1/C = 1/C1 + 1/C2.
    """
    first, second = np.asarray(one), np.asarray(other)
    return np.asarray(first * second / (first + second))


def simple_insulation_rule(voltage: FloatLike) -> FloatArray:
    """Least insulation resistance [Ω] by the rule of 1 MΩ and another for each kilovolt of rated voltage [V].

    References
    ----------
    IEEE 43 (older edition; value from memory).
    """
    return np.asarray(1e6 * (1.0 + np.asarray(voltage) / 1000.0))
