"""Refrigerant mass flow through the compressor, three ways.

Mass flows in kg/s, powers in W, enthalpies in J/kg, densities in kg/m3; arrays of any shape.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from service.physics.array_types import FloatArray, FloatLike

#: Share of the change of suction density that the mass flow follows; source ``dabiri_rice_1981``.
DENSITY_FOLLOWED = 0.75


def ten_coefficients(coefficients: Sequence[float], suction: FloatLike, discharge: FloatLike) -> FloatArray:
    """The polynomial of AHRI 540 (and EN 12900) in suction and discharge dew temperatures.

    Parameters
    ----------
    coefficients : ten numbers
        C1 ... C10 of C1 + C2 S + C3 D + C4 S^2 + C5 S D + C6 D^2 + C7 S^3 + C8 D S^2 + C9 S D^2 +
        C10 D^3.
    suction, discharge : array
        S and D, in the unit that the coefficients were made for.
    """
    s, d = np.asarray(suction, dtype=np.float64), np.asarray(discharge, dtype=np.float64)
    c = coefficients
    return np.asarray(
        c[0]
        + s * (c[1] + s * (c[3] + s * c[6] + d * c[7]) + d * (c[4] + d * c[8]))
        + d * (c[2] + d * (c[5] + d * c[9]))
    )


def corrected_for_density(mass_flow: FloatLike, density: FloatLike, map_density: FloatLike) -> FloatArray:
    """Mass flow of a map brought from its suction density to the one at hand.

    m = m_map (1 + F (rho / rho_map - 1)), F = 0.75 (Dabiri and Rice 1981).
    """
    return np.asarray(mass_flow * (1.0 + DENSITY_FOLLOWED * (np.asarray(density) / map_density - 1.0)))


def from_energy_balance(power: FloatLike, heat_loss: FloatLike, suction: FloatLike, discharge: FloatLike) -> FloatArray:
    """Mass flow that carries off the compressor's power less what its shell loses.

    m = W (1 - f) / (h_discharge - h_suction).  Not-a-number where the gas gains nothing.
    """
    gain = np.asarray(discharge, dtype=np.float64) - suction
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(gain > 0.0, power * (1.0 - np.asarray(heat_loss)) / gain, np.nan)


def volumetric_efficiency(ratio: FloatLike, slope: FloatLike) -> FloatArray:
    """1 - slope (ratio - 1): the form common for positive-displacement compressors."""
    return np.asarray(1.0 - np.asarray(slope) * (np.asarray(ratio) - 1.0))


def isentropic_efficiency(suction: FloatLike, discharge: FloatLike, ideal: FloatLike) -> FloatArray:
    """Ideal over true rise of enthalpy; not-a-number where there is no rise.

    A shell that loses heat makes it look better than it is.
    """
    rise = np.asarray(discharge, dtype=np.float64) - suction
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(rise > 0.0, (np.asarray(ideal) - suction) / rise, np.nan)
