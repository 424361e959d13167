"""Targets for superheat (fixed metering device) and temperature split.

Temperatures in K, targets in K of difference; draws on the last axis.  The closed forms carry on
smoothly a little beyond the tables, so that draws near an edge stay numbers; whether a target is
valid is asked of the nominal conditions (``*_is_tabulated``).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.physics.array_types import FloatArray, FloatLike
from service.reference.charge_targets import (
    SPLIT,
    SPLIT_DRY_BULB,
    SPLIT_LOWEST_WET_BULB,
    SPLIT_WET_BULB,
    SUPERHEAT_DRY,
    SUPERHEAT_HUMID,
    SUPERHEAT_LOWEST_TARGET,
    SUPERHEAT_OUTDOOR,
    SUPERHEAT_WET_BULB,
)

_DEGF = 5.0 / 9.0
#: Slack for conversion dust at the edges of a table [°F].
_EDGE = 1e-6


def _fahrenheit(temperature: FloatLike) -> FloatArray:
    return np.asarray((np.asarray(temperature) - 273.15) / _DEGF + 32.0)


def _polynomial(terms: dict[tuple[int, int], float], x: FloatArray, y: FloatArray) -> FloatArray:
    powers_x = [np.ones_like(x), x, x * x, x * x * x]
    powers_y = [np.ones_like(y), y, y * y, y * y * y]
    total = np.zeros(np.broadcast(x, y).shape)
    for (i, j), coefficient in terms.items():
        total = total + coefficient * powers_x[i] * powers_y[j]
    return total


def target_superheat(outdoor_dry_bulb: FloatLike, return_wet_bulb: FloatLike) -> FloatArray:
    """Target superheat for a fixed metering device.

    Parameters
    ----------
    outdoor_dry_bulb, return_wet_bulb : array_like
        Temperatures [K]; the table covers 55 to 115 °F and 50 to 76 °F.

    Returns
    -------
    FloatArray
        Target superheat [K].

    Notes
    -----
    Two cubics, one for each side of the table's step between wet bulbs of 64 and 65 °F; between
    them they are blended, which is linear interpolation there.

    References
    ----------
    California Energy Commission, 2008 Residential Appendices, RA3, Table RA3.2-2 (table from
    memory; closed form within 0.1 °F of every cell).
    """
    x = _fahrenheit(outdoor_dry_bulb) - 85.0
    y = _fahrenheit(return_wet_bulb) - 65.0
    weight = np.clip(y + 1.0, 0.0, 1.0)
    lowest, highest = float(np.min(weight)), float(np.max(weight))
    if lowest == 1.0:
        return np.asarray(_polynomial(SUPERHEAT_HUMID, x, y) * _DEGF)
    if highest == 0.0:
        return np.asarray(_polynomial(SUPERHEAT_DRY, x, y) * _DEGF)
    # At the seam each cubic is asked at its own edge column, as the table would be interpolated.
    humid = _polynomial(SUPERHEAT_HUMID, x, np.maximum(y, 0.0))
    dry = _polynomial(SUPERHEAT_DRY, x, np.minimum(y, -1.0))
    return np.asarray((weight * humid + (1.0 - weight) * dry) * _DEGF)


def target_superheat_is_tabulated(
    outdoor_dry_bulb: FloatLike, return_wet_bulb: FloatLike
) -> NDArray[np.bool_]:
    """Whether the table has a target at these conditions (temperatures in K)."""
    outdoor, bulb = _fahrenheit(outdoor_dry_bulb), _fahrenheit(return_wet_bulb)
    target = target_superheat(outdoor_dry_bulb, return_wet_bulb) / _DEGF
    return np.asarray(
        (outdoor >= SUPERHEAT_OUTDOOR[0] - _EDGE)
        & (outdoor <= SUPERHEAT_OUTDOOR[1] + _EDGE)
        & (bulb >= SUPERHEAT_WET_BULB[0] - _EDGE)
        & (bulb <= SUPERHEAT_WET_BULB[1] + _EDGE)
        # Half a step of the table's last digit: a cell that prints 5.0 is tabulated.
        & (target >= SUPERHEAT_LOWEST_TARGET - 0.05)
    )


def target_temperature_split(return_dry_bulb: FloatLike, return_wet_bulb: FloatLike) -> FloatArray:
    """Target temperature split, return minus supply dry bulb.

    Parameters
    ----------
    return_dry_bulb, return_wet_bulb : array_like
        Temperatures [K]; the table covers 70 to 84 °F and 50 to 76 °F, dry corner left out.

    Returns
    -------
    FloatArray
        Target split [K].

    References
    ----------
    California Energy Commission, 2008 Residential Appendices, RA3, Table RA3.2-3 (table from
    memory; closed form within 0.07 °F of every cell).
    """
    dry, bulb = _fahrenheit(return_dry_bulb), _fahrenheit(return_wet_bulb)
    constant, a, b, c = SPLIT
    return np.asarray((constant + a * dry + bulb * (b + c * bulb)) * _DEGF)


def target_split_is_tabulated(
    return_dry_bulb: FloatLike, return_wet_bulb: FloatLike
) -> NDArray[np.bool_]:
    """Whether the table has a target at these conditions (temperatures in K)."""
    dry, bulb = _fahrenheit(return_dry_bulb), _fahrenheit(return_wet_bulb)
    rows, lowest = zip(*SPLIT_LOWEST_WET_BULB, strict=True)
    return np.asarray(
        (dry >= SPLIT_DRY_BULB[0] - _EDGE)
        & (dry <= SPLIT_DRY_BULB[1] + _EDGE)
        & (bulb >= np.interp(dry, rows, lowest) - _EDGE)
        & (bulb <= SPLIT_WET_BULB[1] + _EDGE)
    )
