"""Charge of a flammable refrigerant against the size of a room: the published formulas, and nothing else.

A formula is not a permission: the unit's label, its manual and the local code decide.
SI units; any shapes that broadcast.

References
----------
IEC 60335-2-40, annex GG (equipment without mitigation), as makers' installation manuals print it.
"""

from __future__ import annotations

import numpy as np

from service.physics.array_types import FloatArray, FloatLike

#: The factor of the formula [m^(5/4) kg^(-1/4)]: mass in kg, limit in kg/m3, height in m, area in m2.
_FACTOR = 2.5
#: Share of the lower flammability limit that the 2018 edition allows in the volume up to the release height.
_SHARE_OF_LIMIT = 0.75


def largest_charge(flammability_limit: FloatLike, height: FloatLike, area: FloatLike) -> FloatArray:
    """Largest charge of a room by its floor area.

    Parameters
    ----------
    flammability_limit : array_like
        Lower flammability limit of the refrigerant [kg/m3].
    height : array_like
        Height of the release above the floor [m].
    area : array_like
        Floor area [m2].

    Returns
    -------
    FloatArray
        m_max = 2.5 LFL^(5/4) h0 A^(1/2) [kg], broadcast shape.
    """
    return np.asarray(_FACTOR * np.asarray(flammability_limit) ** 1.25 * height * np.sqrt(np.asarray(area)))


def largest_charge_2018(flammability_limit: FloatLike, height: FloatLike, area: FloatLike) -> FloatArray:
    """The same by the 2018 edition: in small rooms a share of the flammability limit is the smaller.

    Parameters and the answer are those of :func:`largest_charge`; m_max = min(0.75 LFL h0 A, 2.5 LFL^(5/4) h0 A^(1/2)).
    The first term is inferred from a published table, which it reproduces.
    """
    mixed = _SHARE_OF_LIMIT * np.asarray(flammability_limit) * height * area
    return np.minimum(mixed, largest_charge(flammability_limit, height, area))


def smallest_area(flammability_limit: FloatLike, height: FloatLike, charge: FloatLike) -> FloatArray:
    """Smallest floor area for a charge [kg], the inverse of :func:`largest_charge` [m2]."""
    per_root_area = _FACTOR * np.asarray(flammability_limit) ** 1.25 * height
    return np.asarray((np.asarray(charge) / per_root_area) ** 2)


def smallest_area_2018(flammability_limit: FloatLike, height: FloatLike, charge: FloatLike) -> FloatArray:
    """Smallest floor area for a charge [kg], the inverse of :func:`largest_charge_2018` [m2]."""
    mixed = np.asarray(charge) / (_SHARE_OF_LIMIT * np.asarray(flammability_limit) * height)
    return np.maximum(mixed, smallest_area(flammability_limit, height, charge))
