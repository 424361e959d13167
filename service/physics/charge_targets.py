"""Targets for superheat (fixed metering device) and temperature split.

Temperatures in K, targets in K of difference; any shapes that broadcast, draws on the last axis.
The closed forms are not clamped and carry on smoothly a little beyond the tables, so that draws
near an edge stay numbers; whether a target is valid is asked of the nominal conditions
(``*_is_tabulated``).
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
    SUPERHEAT_CENTRE_OUTDOOR,
    SUPERHEAT_CENTRE_WET_BULB,
    SUPERHEAT_DRY,
    SUPERHEAT_HUMID,
    SUPERHEAT_LOWEST_TARGET,
    SUPERHEAT_OUTDOOR,
    SUPERHEAT_SEAM,
    SUPERHEAT_WET_BULB,
)

_DEGF = 5.0 / 9.0
#: Slack for conversion dust at the edges of a table [°F].
_EDGE = 1e-6
#: Half a step of the tables' last digit [°F]: a cell that prints 5.0 may be 4.95.
_HALF_DIGIT = 0.05

_SEAM_DRY = SUPERHEAT_SEAM[0] - SUPERHEAT_CENTRE_WET_BULB
_SEAM_HUMID = SUPERHEAT_SEAM[1] - SUPERHEAT_CENTRE_WET_BULB
_LOWEST_ROWS, _LOWEST_WET_BULBS = zip(*SPLIT_LOWEST_WET_BULB, strict=True)


def _fahrenheit(temperature: FloatLike, centre: float = 0.0) -> FloatArray:
    """Degrees Fahrenheit above a centre."""
    return np.asarray(np.asarray(temperature) * 1.8 - (459.67 + centre))


def _polynomial(rows: tuple[tuple[float, ...], ...], x: FloatArray, y: FloatArray) -> FloatArray:
    """Horner's scheme in x over the rows, and in y inside each row."""
    total: FloatArray | float = 0.0
    for row in reversed(rows):
        inner: FloatArray | float = row[-1]
        for coefficient in row[-2::-1]:
            inner = inner * y + coefficient
        total = total * x + inner
    return np.asarray(total)


def target_superheat(outdoor_dry_bulb: FloatLike, return_wet_bulb: FloatLike) -> FloatArray:
    """Target superheat for a fixed metering device.

    Parameters
    ----------
    outdoor_dry_bulb : array_like
        Air entering the condenser [K]; the table covers 55 to 115 °F.
    return_wet_bulb : array_like
        Wet bulb of the return air [K]; the table covers 50 to 76 °F.

    Returns
    -------
    FloatArray
        Target superheat [K difference], broadcast shape; a number outside the table too, see
        :func:`target_superheat_is_tabulated`.

    Notes
    -----
    Two cubics, one for each side of the step of the table's slope between wet bulbs of 64 and
    65 °F.  Between them the edge columns are blended, which is linear interpolation of the table.

    References
    ----------
    California Energy Commission, 2008 Residential Appendices, RA3, Table RA3.2-2 (table recalled
    from memory; closed form fitted to it, within 0.1 °F of every cell).
    """
    x = _fahrenheit(outdoor_dry_bulb, SUPERHEAT_CENTRE_OUTDOOR)
    y = _fahrenheit(return_wet_bulb, SUPERHEAT_CENTRE_WET_BULB)
    # Draws seldom straddle the seam, so the second cubic is usually saved.
    if y.size and y.min() >= _SEAM_HUMID:
        return np.asarray(_polynomial(SUPERHEAT_HUMID, x, y) * _DEGF)
    if y.size and y.max() <= _SEAM_DRY:
        return np.asarray(_polynomial(SUPERHEAT_DRY, x, y) * _DEGF)
    weight = np.clip((y - _SEAM_DRY) / (_SEAM_HUMID - _SEAM_DRY), 0.0, 1.0)
    # At the seam each cubic is asked at its own edge column, as the table would be interpolated.
    humid = _polynomial(SUPERHEAT_HUMID, x, np.maximum(y, _SEAM_HUMID))
    dry = _polynomial(SUPERHEAT_DRY, x, np.minimum(y, _SEAM_DRY))
    return np.asarray((weight * humid + (1.0 - weight) * dry) * _DEGF)


def target_superheat_is_tabulated(outdoor_dry_bulb: FloatLike, return_wet_bulb: FloatLike) -> NDArray[np.bool_]:
    """Whether the table has a target superheat at these conditions.

    Parameters
    ----------
    outdoor_dry_bulb, return_wet_bulb : array_like
        Temperatures [K], nominal.

    Returns
    -------
    NDArray[np.bool_]
        True inside 55 to 115 °F outdoors and 50 to 76 °F wet bulb, where the target is at least
        5 °F as printed (the table has a dash below); broadcast shape.

    Notes
    -----
    The closed form is good to 0.1 °F, so within that of 5 °F the answer may differ from the table.

    References
    ----------
    California Energy Commission, 2008 Residential Appendices, RA3, Table RA3.2-2 (recalled from
    memory).
    """
    target = target_superheat(outdoor_dry_bulb, return_wet_bulb) / _DEGF
    return np.asarray(
        target_superheat_is_in_table(outdoor_dry_bulb, return_wet_bulb)
        & (target >= SUPERHEAT_LOWEST_TARGET - _HALF_DIGIT)
    )


def target_superheat_is_in_table(outdoor_dry_bulb: FloatLike, return_wet_bulb: FloatLike) -> NDArray[np.bool_]:
    """Whether these conditions [K] have a cell in the table, be it a dash (broadcast shape)."""
    outdoor, bulb = _fahrenheit(outdoor_dry_bulb), _fahrenheit(return_wet_bulb)
    return np.asarray(
        (outdoor >= SUPERHEAT_OUTDOOR[0] - _EDGE)
        & (outdoor <= SUPERHEAT_OUTDOOR[1] + _EDGE)
        & (bulb >= SUPERHEAT_WET_BULB[0] - _EDGE)
        & (bulb <= SUPERHEAT_WET_BULB[1] + _EDGE)
    )


def target_temperature_split(return_dry_bulb: FloatLike, return_wet_bulb: FloatLike) -> FloatArray:
    """Target temperature split, return minus supply dry bulb.

    Parameters
    ----------
    return_dry_bulb : array_like
        Dry bulb of the return air [K]; the table covers 70 to 84 °F.
    return_wet_bulb : array_like
        Wet bulb of the return air [K]; the table covers 50 to 76 °F, dry corner left out.

    Returns
    -------
    FloatArray
        Target split [K difference], broadcast shape; a number outside the table too, see
        :func:`target_split_is_tabulated`.

    References
    ----------
    California Energy Commission, 2008 Residential Appendices, RA3, Table RA3.2-3 (table recalled
    from memory; closed form fitted to it, within 0.063 °F of every cell).
    """
    dry, bulb = _fahrenheit(return_dry_bulb), _fahrenheit(return_wet_bulb)
    constant, by_dry, by_wet, by_wet_squared = SPLIT
    return np.asarray((constant + by_dry * dry + bulb * (by_wet + by_wet_squared * bulb)) * _DEGF)


def target_split_is_tabulated(return_dry_bulb: FloatLike, return_wet_bulb: FloatLike) -> NDArray[np.bool_]:
    """Whether the table has a target split at these conditions.

    Parameters
    ----------
    return_dry_bulb, return_wet_bulb : array_like
        Temperatures [K], nominal.

    Returns
    -------
    NDArray[np.bool_]
        True inside 70 to 84 °F dry bulb, up to 76 °F wet bulb and from the driest filled cell of
        the row up, with a straight line between rows; broadcast shape.

    References
    ----------
    California Energy Commission, 2008 Residential Appendices, RA3, Table RA3.2-3 (recalled from
    memory).
    """
    dry, bulb = _fahrenheit(return_dry_bulb), _fahrenheit(return_wet_bulb)
    return np.asarray(
        (dry >= SPLIT_DRY_BULB[0] - _EDGE)
        & (dry <= SPLIT_DRY_BULB[1] + _EDGE)
        & (bulb >= np.interp(dry, _LOWEST_ROWS, _LOWEST_WET_BULBS) - _EDGE)
        & (bulb <= SPLIT_WET_BULB[1] + _EDGE)
    )
