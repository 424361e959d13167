"""Heating: performance against outdoor air, defrost, balance point, reversing valve, airflow over the condenser.

Temperatures in K, heat flows and powers in W; arrays of any shape.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from service.physics.array_types import FloatArray, FloatLike

#: What airflow does to the condensing temperature over return air: it grows as the airflow to this power; fitted
#: to one maker's heating chart (750, 1000 and 1250 cfm at seven outdoor temperatures).
AIRFLOW_EXPONENT = -0.75

#: Capacity and power lost to defrost in RESNET's model of heat pumps: clip(0.134 - 0.003 T, 0, 0.08) with T in °F,
#: below 40 °F, times 1.8 and 0.3.
_DEFROST = (0.134, 0.003, 0.08)
DEFROST_OF_CAPACITY, DEFROST_OF_POWER = 1.8, 0.3


def fahrenheit(temperature: FloatLike) -> FloatArray:
    """Temperature [°F], for the published curves that are in it."""
    return np.asarray((np.asarray(temperature) - 273.15) * 1.8 + 32.0)


def map_ratio(
    curve: Sequence[float], dry_bulb: FloatLike, outdoor: FloatLike, at: tuple[FloatLike, FloatLike]
) -> FloatArray:
    """A biquadratic heating curve in °F (Cutler et al. 2013) at return and outdoor air [K], over its value at
    two other temperatures ``at`` [K]."""

    def value(inside: FloatLike, outside: FloatLike) -> FloatArray:
        x, y = fahrenheit(inside), fahrenheit(outside)
        a, b, c, d, e, f = curve
        return np.asarray(a + x * (b + c * x + f * y) + y * (d + e * y))

    return np.asarray(value(dry_bulb, outdoor) / value(*at))


def line(first: tuple[FloatLike, FloatLike], second: tuple[FloatLike, FloatLike], at: FloatLike) -> FloatArray:
    """The straight line through two points (x, y)."""
    (x1, y1), (x2, y2) = first, second
    return np.asarray(y1 + (np.asarray(at) - x1) * (np.asarray(y2) - y1) / (np.asarray(x2) - x1))


def defrost_fraction(outdoor: FloatLike) -> FloatArray:
    """Fraction of operation lost to defrost by RESNET's model, at outdoor air [K]; zero from 40 °F."""
    high, slope, most = _DEFROST
    degrees = fahrenheit(outdoor)
    return np.where(degrees < 40.0, np.clip(high - slope * degrees, 0.0, most), 0.0)


def leak_share(mixed: FloatLike, evaporator: FloatLike, discharge: FloatLike) -> FloatArray:
    """Share of the compressor's flow that is hot gas mixed into the suction gas, by its energy balance.

    Enthalpies [J/kg] of the gas after and ahead of the reversing valve, and of the discharge gas.  Heat that the
    valve conducts counts too, so it is the most that leaks.
    """
    gain = np.asarray(discharge, dtype=np.float64) - evaporator
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(gain > 0.0, (np.asarray(mixed) - evaporator) / gain, np.nan)


def ideal_efficiency(supply: FloatLike, outdoor: FloatLike) -> FloatArray:
    """Coefficient of performance of an ideal heat pump between outdoor and supply air [K]; infinite where the
    supply is no warmer."""
    hot = np.asarray(supply, dtype=np.float64)
    lift = hot - outdoor
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(lift > 0.0, hot / lift, np.inf)


def heat_loss(at_design: FloatLike, design: FloatLike, zero: FloatLike, outdoor: FloatLike) -> FloatArray:
    """Heat that a building needs [W] at outdoor air [K]: in proportion to the difference to where it needs none."""
    return np.asarray(np.asarray(at_design) * (np.asarray(zero) - outdoor) / (np.asarray(zero) - design))


def balance_point(temperatures: FloatArray, excess: FloatArray) -> FloatArray:
    """Outdoor air [K] at which the capacity equals what the building needs.

    Parameters
    ----------
    temperatures : array, shape (G,)
        Outdoor air, ascending [K].
    excess : array, shape (..., G, N)
        Capacity minus need [W] at each; linear between two.

    Returns
    -------
    array, shape (..., N)
        The lowest crossing; not-a-number where there is none.
    """
    before, after = excess[..., :-1, :], excess[..., 1:, :]
    crosses = (before < 0.0) & (after >= 0.0)
    place = crosses.argmax(axis=-2)[..., None, :]
    low, high = (np.take_along_axis(side, place, axis=-2)[..., 0, :] for side in (before, after))
    start, end = (temperatures[place[..., 0, :] + step] for step in (0, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = start + (end - start) * low / (low - high)
    return np.where(crosses.any(axis=-2), crossing, np.nan)


def along_curve(temperatures: FloatArray, values: FloatArray, at: FloatLike) -> FloatArray:
    """Values, shape (..., G, N), at temperatures, shape (G,), read at another, shape (..., N) or broadcast to it.

    Linear between two; not-a-number outside.
    """
    where = np.broadcast_to(np.asarray(at, dtype=np.float64), (*values.shape[:-2], values.shape[-1]))
    place = np.clip(np.searchsorted(temperatures, where) - 1, 0, len(temperatures) - 2)
    low, high = (np.take_along_axis(values, place[..., None, :] + step, axis=-2)[..., 0, :] for step in (0, 1))
    part = (where - temperatures[place]) / (temperatures[place + 1] - temperatures[place])
    inside = (where >= temperatures[0]) & (where <= temperatures[-1])
    return np.where(inside, low + part * (high - low), np.nan)


def at_rated_airflow(over_return: FloatLike, airflow: FloatLike, rated: FloatLike) -> FloatArray:
    """Condensing temperature over return air [K] brought from an airflow to the rated one."""
    ratio = np.asarray(airflow, dtype=np.float64) / rated
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(ratio > 0.0, np.asarray(over_return) * ratio**-AIRFLOW_EXPONENT, np.nan)
