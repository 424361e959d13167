"""Airflow by indirect methods: blower table, pressure drop, known heat.

Volume flows in m3/s at the state named, pressures in Pa, densities in kg/m3; arrays of any shape.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from service.physics.array_types import FloatArray, FloatLike
from service.reference.air import DRY_AIR_HEAT

#: Density of standard air [kg/m3], 0.075 lb/ft3 (ASHRAE Fundamentals 2017, chapter 1).
STANDARD_DENSITY = 1.2014


def from_blower_table(
    static_pressure: FloatLike,
    density: FloatLike,
    table_pressures: FloatLike | Sequence[float],
    table_airflows: FloatLike | Sequence[float],
) -> FloatArray:
    """Volume flow through a blower whose table gives airflow over external static pressure.

    Parameters
    ----------
    static_pressure : array
        Total external static pressure [Pa].
    density : array
        Of the air that the blower moves [kg/m3].
    table_pressures, table_airflows : array, shape (..., rows)
        The table for standard air, pressures ascending [Pa], airflows [m3/s]; axes before the rows stand for
        visits, as those before the draws do in the other arguments.

    Returns
    -------
    array
        [m3/s]; not-a-number further outside the table than a twentieth of its span.

    Notes
    -----
    A fan moves the same volume whatever the density, against a pressure in proportion to it (fan
    laws, ASHRAE HVAC Systems and Equipment, Fans), so the table is entered at the pressure that
    standard air would show.
    """
    # One table has plain numbers in its columns, tables of several visits one column for each visit.
    pressures, airflows = (
        [table[row] if table.ndim == 1 else table[..., row, None] for row in range(table.shape[-1])]
        for table in (np.asarray(table_pressures), np.asarray(table_airflows))
    )
    entered = np.asarray(static_pressure, dtype=np.float64) * STANDARD_DENSITY / density
    value, last = airflows[0], len(pressures) - 2
    for row in range(last + 1):
        step = pressures[row + 1] - pressures[row]
        # The way within each step of the table; the first and the last go on beyond its ends.
        way = entered - pressures[row]
        if row > 0:
            way = np.maximum(way, 0.0)
        if row < last:
            way = np.minimum(way, step)
        value = value + (airflows[row + 1] - airflows[row]) / step * way
    margin = 0.05 * (pressures[-1] - pressures[0])
    near = (entered >= pressures[0] - margin) & (entered <= pressures[-1] + margin)
    return np.where(near, value, np.nan)


def from_pressure_drop(
    pressure_drop: FloatLike, rated_pressure_drop: float, rated_airflow: float, density: FloatLike
) -> FloatArray:
    """Volume flow [m3/s] through a coil or filter by the square-root law.

    The pressure drop of turbulent flow grows with density times velocity squared; the rated point
    is for standard air (ASHRAE Fundamentals 2017, chapter 21).  Not-a-number for a negative drop.
    """
    with np.errstate(invalid="ignore"):
        return np.asarray(
            rated_airflow
            * np.sqrt(np.asarray(pressure_drop, dtype=np.float64) / rated_pressure_drop * (STANDARD_DENSITY / density))
        )


def from_known_heat(heat: FloatLike, entering: FloatLike, leaving: FloatLike, volume: FloatLike) -> FloatArray:
    """Volume flow [m3/s] of air that a known heat [W] warms from ``entering`` to ``leaving`` [K].

    ``volume`` is the specific volume of the entering air [m3/kg of dry air], which is taken as dry
    for its heat capacity (moisture adds under 2 %).  Not-a-number where the air is not warmed.
    """
    rise = np.asarray(leaving, dtype=np.float64) - entering
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(rise > 0.0, heat * volume / (DRY_AIR_HEAT * rise), np.nan)
