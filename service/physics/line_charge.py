"""Refrigerant held by a line set, and the charge that follows from a nameplate.

SI units; any shapes that broadcast, draws on the last axis.
"""

from __future__ import annotations

import numpy as np

from service.physics.array_types import FloatArray, FloatLike

#: Molar gas constant [J/(mol K)] (exact, SI 2019).
_GAS_CONSTANT = 8.31446261815324


def content_per_length(inside_diameter: FloatLike, density: FloatLike) -> FloatArray:
    """Mass of refrigerant in a length of line.

    Parameters
    ----------
    inside_diameter : array_like
        Of the tube [m].
    density : array_like
        Of the refrigerant in it [kg/m3].

    Returns
    -------
    FloatArray
        [kg/m], broadcast shape.

    References
    ----------
    Volume of a cylinder.
    """
    diameter = np.asarray(inside_diameter, dtype=np.float64)
    return np.asarray(0.25 * np.pi * diameter * diameter * density)


def adjustment(per_length: FloatLike, length: FloatLike, allowance: FloatLike, accessories: FloatLike) -> FloatArray:
    """Mass to add to the factory charge for the lines as installed; negative: to remove.

    Parameters
    ----------
    per_length : array_like
        Line content or the maker's allowance for each length of the installed lines [kg/m].
    length : array_like
        Of the lines, one way [m].
    allowance : array_like
        Mass for lines that the factory charge already holds [kg].
    accessories : array_like
        Mass that accessories need [kg].

    Returns
    -------
    FloatArray
        [kg], broadcast shape.

    References
    ----------
    A maker's installation manual of R-410A split systems: "[(Lineset oz/ft x total length) – (factory charge
    for lineset)] = charge adjustment".
    """
    return np.asarray(np.asarray(per_length) * length - allowance + accessories)


def vapour_left(pressure: FloatLike, temperature: FloatLike, volume: FloatLike, molar_mass: float) -> FloatArray:
    """Mass of vapour that recovery leaves in a circuit.

    Parameters
    ----------
    pressure : array_like
        Final pressure of the recovery, absolute [Pa].
    temperature : array_like
        Of the circuit [K].
    volume : array_like
        Inside volume of the circuit [m3].
    molar_mass : float
        Of the refrigerant [kg/mol].

    Returns
    -------
    FloatArray
        [kg], broadcast shape.

    Notes
    -----
    Ideal gas: at atmospheric pressure real vapour of these refrigerants is 1 to 3 % denser, which is small
    against what is known of the volume.

    References
    ----------
    Ideal-gas law.
    """
    moles = np.asarray(pressure) * volume / (_GAS_CONSTANT * np.asarray(temperature))
    return np.asarray(molar_mass * moles)
