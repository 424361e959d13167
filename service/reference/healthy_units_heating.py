"""How healthy heat pumps of one class differ in heating, as :mod:`service.reference.healthy_units` is for cooling.

Three makers' tables of condensing and evaporating temperature, subcooling and discharge temperature lie within these
spreads (source ``heating_tables``); what no table shows is common practice without a source.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

#: Means in place of those of a unit as found.
HEALTHY_MEANS: Mapping[str, float] = MappingProxyType(
    {"ln_transfer_units": 0.54, "ln_outdoor_units": -0.83, "ln_efficiency": -0.46}
)
#: Coefficient of performance at 47 °F for which those means hold, and their rise for each unit of the logarithm of a
#: better one.
USUAL_EFFICIENCY = 3.7
#: The usual one of units with stages or a variable speed, and the spread of its logarithm (common practice, no source).
STAGED_EFFICIENCY = (4.0, 0.12)
OF_THE_RATING: Mapping[str, float] = MappingProxyType(
    {"ln_transfer_units": 0.6, "ln_outdoor_units": 0.8, "ln_efficiency": 0.25}
)
#: Standard deviations in place of those of a unit as found.
HEALTHY: Mapping[str, float] = MappingProxyType(
    {
        "ln_transfer_units": 0.20,
        "ln_airflow": 0.12,
        "ln_outdoor_units": 0.25,
        "ln_outdoor_airflow": 0.22,
        "ln_efficiency": 0.10,
        "superheat": 1.8,
        # Healthy units show 12 to 36 °F in makers' tables.
        "subcooling": 4.2,
        "ln_fan": 0.35,
        "ln_blower": 0.40,
        "valve_leak": 0.003,
        "valve_rise": 0.9,
        "vapour_line_drop": 2.5,
    }
)
#: The same where the indoor unit is mounted in the room: less air for each watt (source ``rating_cycle``).
DUCTLESS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"ln_transfer_units": (0.50, 0.35), "ln_outdoor_units": (-0.55, 0.35), "ln_airflow": (-9.95, 0.25)}
)
#: How an expansion valve's superheat follows the weather [1].
VALVE_SUPERHEAT: Mapping[str, float] = MappingProxyType({"superheat_outdoor": 0.08, "superheat_return": 0.10})
#: Superheat [K] of a fixed device at the rating point, and how it follows outdoor air [1]: there is no table of targets
#: in heating, and along a maker's charge line the discharge runs from well superheated at 50 °F to nearly wet at 0 °F
#: (source ``heating_charge_line``).
FIXED_DEVICE: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "superheat": (3.0, 4.0),
        "superheat_outdoor": (0.25, 0.25),
        "subcooling": (7.0, 5.0),
        "subcooling_outdoor": (0.0, 0.20),
        # Condensing falls more steeply in the cold where liquid comes back.
        "indoor_coil_outdoor": (-0.003, 0.010),
    }
)
#: With a fixed device liquid comes back in the cold and cools the discharge, as a loss of heat would: the spread of
#: that loss [1] for each kelvin below the rating point (source ``heating_charge_line``; the size is common practice, no
#: source).
WET_IN_THE_COLD = 0.009
#: Frost that a healthy coil carries between defrosts: outdoor air [K] below which it forms, what it takes of the
#: coil's transfer units (a logarithm), and the spread of that (common practice, no source).
FROST_BETWEEN_DEFROSTS = (277.6, -0.06, 0.05)
#: What a healthy unit may drift by from its own baseline, in place of DRIFT of the unit model [K, 1]: frost builds
#: between defrosts, and much of the charge of a unit with a fixed device waits in an accumulator (common practice, no
#: source).
HEALTHY_DRIFT: Mapping[str, float] = MappingProxyType(
    {
        "superheat_change": 1.0,
        "subcooling_change": 1.1,
        "outdoor_coil_change": 0.05,
        "outdoor_airflow_change": 0.05,
        "blower_change": 0.04,
    }
)
FIXED_DEVICE_DRIFT: Mapping[str, float] = MappingProxyType({"superheat_change": 3.0, "subcooling_change": 2.2})
#: Spread of the logarithm of size about the rated capacity, where that is known.
RATED_SIZE = 0.12
#: How well a unit keeps to a rated coefficient of performance (logarithm).
RATED_EFFICIENCY = 0.06
