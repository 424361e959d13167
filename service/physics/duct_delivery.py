"""Air and heat that ducts deliver: conduction and leakage, delivery effectiveness, fan power, moisture.

SI units; any shapes that broadcast, draws on the last axis.  ``flow_heat`` is the heat capacity of the air
that flows [W/K]: mass flow times specific heat.

References
----------
ANSI/ASHRAE Standard 152, method of test for the design and seasonal efficiencies of residential thermal
distribution systems, as implemented in a public residential simulation library; the text of the standard
was not read.
"""

from __future__ import annotations

import numpy as np

from service.physics.array_types import FloatArray, FloatLike

#: One h ft2 °F/Btu [m2 K/W].
_R_VALUE = 0.3048**2 * 3600.0 / 1055.05585262 * 5.0 / 9.0
#: Thermal resistance of ducts by their nominal insulation: constant and share, and that of bare sheet metal
#: [h ft2 °F/Btu].  The share is under one because insulation is squeezed at corners and joints.
_SUPPLY = (2.2438, 0.5619)
_RETURN = (2.0388, 0.7053)
_BARE = 1.7
#: Exponent of a leak's flow over pressure [1]; value from memory (ASTM E1554).
_LEAK_EXPONENT = 0.60


def _resistance(nominal: FloatLike, constant: float, share: float) -> FloatArray:
    given = np.asarray(nominal, dtype=np.float64) / _R_VALUE
    return np.where(given > 0.0, constant + share * given, _BARE) * _R_VALUE


def supply_resistance(nominal: FloatLike) -> FloatArray:
    """Thermal resistance of supply ducts [m2 K/W] from that printed on their insulation; 0 for bare metal."""
    return _resistance(nominal, *_SUPPLY)


def return_resistance(nominal: FloatLike) -> FloatArray:
    """Thermal resistance of return ducts [m2 K/W] from that printed on their insulation; 0 for bare metal."""
    return _resistance(nominal, *_RETURN)


def conduction_fraction(area: FloatLike, resistance: FloatLike, flow_heat: FloatLike) -> FloatArray:
    """Share of a temperature difference that is left at the end of a duct.

    Parameters
    ----------
    area : array_like
        Outer surface of the duct [m2].
    resistance : array_like
        Its thermal resistance [m2 K/W].
    flow_heat : array_like
        Heat capacity of the air in it [W/K].

    Returns
    -------
    FloatArray
        B = exp(-A / (R C)) [1], broadcast shape.
    """
    return np.asarray(np.exp(-np.asarray(area) / (np.asarray(resistance) * flow_heat)))


def heating_delivery(
    supply: tuple[FloatLike, FloatLike],
    back: tuple[FloatLike, FloatLike],
    colder: tuple[FloatLike, FloatLike],
    rise: FloatLike,
) -> FloatArray:
    """Delivery effectiveness in heating.

    Parameters
    ----------
    supply, back : pair of array_like
        Of the supply and of the return ducts: share of the air that stays in them, and the share of a
        temperature difference that is left at their end [1].
    colder : pair of array_like
        By how much the zones of the supply and of the return ducts are colder than the rooms [K].
    rise : array_like
        Temperature rise of the air in the equipment [K].

    Returns
    -------
    FloatArray
        Heat delivered to the rooms over the heat that the equipment gives [1].
    """
    (kept, left), (kept_back, left_back) = supply, back
    colder_supply, colder_back = colder
    lost_back = left * (1.0 - np.asarray(left_back) * kept_back) * colder_back
    lost_supply = (1.0 - np.asarray(left)) * colder_supply
    return np.asarray(kept * (left - (lost_back + lost_supply) / rise))


def cooling_delivery(
    supply: tuple[FloatLike, FloatLike],
    back: tuple[FloatLike, FloatLike],
    warmer: tuple[FloatLike, FloatLike],
    zone_enthalpy_excess: FloatLike,
    capacity: FloatLike,
    air: tuple[FloatLike, float],
) -> FloatArray:
    """Delivery effectiveness in cooling.

    Parameters
    ----------
    supply, back : pair of array_like
        As for :func:`heating_delivery`.
    warmer : pair of array_like
        By how much the zone of the supply ducts is warmer than supply air, and that of the return ducts than
        the rooms [K].
    zone_enthalpy_excess : array_like
        Enthalpy of the air around the return ducts less that of the rooms [J/kg].
    capacity : array_like
        Cooling capacity of the equipment, positive [W].
    air : pair
        Mass flow through the equipment [kg/s], and the specific heat of air [J/(kg K)].

    Returns
    -------
    FloatArray
        Cooling delivered to the rooms over the cooling that the equipment gives [1].
    """
    (kept, left), (kept_back, left_back) = supply, back
    warmer_supply, warmer_back = warmer
    flow, heat = air
    drawn_in = (1.0 - np.asarray(kept_back)) * zone_enthalpy_excess
    gained_back = heat * np.asarray(kept_back) * (1.0 - np.asarray(left_back)) * warmer_back
    gained = heat * (1.0 - np.asarray(left)) * warmer_supply
    return np.asarray(kept * (1.0 - flow * (drawn_in + gained_back + gained) / capacity))


def equipment_factor(relative_airflow: FloatLike, *, expansion_valve: bool) -> FloatArray:
    """Efficiency of a cooling unit at an airflow over that at 400 cfm per ton.

    Parameters
    ----------
    relative_airflow : array_like
        Airflow over 400 cfm per ton of capacity [1], over zero.
    expansion_valve : bool
        Whether a thermostatic expansion valve feeds the coil; else a fixed device does.

    Returns
    -------
    FloatArray
        [1], same shape.
    """
    share = np.asarray(relative_airflow, dtype=np.float64)
    if not expansion_valve:
        return np.asarray(0.65 + 0.35 * share)
    return np.asarray(1.62 - 0.62 * share + 0.647 * np.log(share))


def leakage_at(leakage: FloatLike, pressure: FloatLike, wanted: FloatLike) -> FloatArray:
    """Leakage [m3/s] at another pressure difference [Pa] than that of the test: Q = Q0 (p / p0)^0.60."""
    return np.asarray(np.asarray(leakage) * (np.asarray(wanted) / np.asarray(pressure)) ** _LEAK_EXPONENT)


def moisture_removed(mass_flow: FloatLike, entering: FloatLike, leaving: FloatLike) -> FloatArray:
    """Water taken out of an air stream [kg/s]: dry-air mass flow [kg/s] times the fall of its humidity ratio."""
    return np.asarray(np.asarray(mass_flow) * (np.asarray(entering) - leaving))
