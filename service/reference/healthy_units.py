"""How healthy units of one class differ: spreads of the cycle model's parameters where nothing is wrong.

They hold for a unit whose maker designed it well and whose charge and airflow were set right; so they
are narrower than those of :mod:`service.reference.unit_model`, which are of units as found.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from service.reference.unit_model import LEAST_SUPERHEAT

#: Means in place of those of a unit as found: at rating conditions a unit of the efficiency below evaporates
#: near 47 to 48 °F and condenses 17 to 18 °F over outdoor air (source ``rating_cycle``).
HEALTHY_MEANS: Mapping[str, float] = MappingProxyType(
    {"ln_transfer_units": -0.17, "ln_condenser": -2.07, "ln_efficiency": -0.52}
)
#: Means and standard deviations in place of those where the indoor unit is mounted in the room:
#: published tables of such units reach 31 °F of condensing over outdoor air at 95 °F, and their airflow for each
#: watt is half to all of a ducted unit's (source ``rating_cycle``).
DUCTLESS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "ln_condenser": (-2.25, 0.35),
        "ln_transfer_units": (-0.10, 0.35),
        "ln_airflow": (-10.0, 0.25),
    }
)
#: Efficiency at rating point A [W/W] for which those means hold, and their rise for each unit of the logarithm
#: of a better one: an efficient unit owes it to its coils first (source ``rating_cycle``).
USUAL_EFFICIENCY = 3.0
OF_THE_RATING: Mapping[str, float] = MappingProxyType({"ln_transfer_units": 1.6, "ln_condenser": 1.1})
#: Efficiency at rating point A [W/W] of units with stages or a variable speed where none is rated, and the
#: standard deviation of its logarithm: they are sold from 10 to 16 Btu/(W h), as their seasonal rating is earned
#: at part load (common practice, no source).
STAGED_EFFICIENCY = (3.6, 0.16)
#: Standard deviations in place of those of a unit as found; common practice, no source, but for the cycle
#: that rating conditions bring about.
HEALTHY: Mapping[str, float] = MappingProxyType(
    {
        "ln_condenser": 0.17,
        "ln_transfer_units": 0.20,
        "ln_airflow": 0.10,
        "ln_efficiency": 0.10,
        "superheat": 1.8,
        "subcooling": 2.2,
        "ln_fan": 0.35,
        "ln_blower": 0.40,
    }
)
#: How an expansion valve's superheat follows the weather [1]: it opens over some 3 to 7 K, and the opening
#: that is needed changes by a quarter over 12 K outdoors (common practice, no source).
VALVE_SUPERHEAT: Mapping[str, float] = MappingProxyType({"superheat_outdoor": 0.12, "superheat_wet_bulb": 0.18})
#: Outdoor air [K] under which the head pressure may not drive enough liquid through a valve that stands wide
#: open (75 °F), and the spread of its superheat [K] for each kelvin below (common practice, no source).
COOL_OUTDOOR = (75.0 - 32.0) / 1.8 + 273.15
STARVED_IN_COOL = 2.0
#: The same where a nameplate states the target of subcooling [K]: the tolerance of a published protocol.
SUBCOOLING_OF_TARGET = 1.5
#: Target of superheat [K] under which a fixed device may send liquid back on a healthy unit.
LEAST_TARGET = LEAST_SUPERHEAT
#: Superheat of a fixed device about the table of targets [K].
SUPERHEAT_OF_TARGET = 2.4
#: Capacity over the rated one at the size that defines it (logarithm), where the rating is known.
RATED_SIZE = 0.15
#: How well a unit keeps to its rating (logarithms): certified tolerances and scatter of production.
RATED_CAPACITY = 0.04
RATED_EFFICIENCY = 0.05
#: What a healthy unit may drift by from its own baseline, in place of DRIFT of the unit model [K]: charge, load
#: and valve are never twice quite alike (common practice, no source).
HEALTHY_DRIFT: Mapping[str, float] = MappingProxyType({"superheat_change": 0.8, "subcooling_change": 0.55})
#: How far a healthy unit departs from its maker's table, beside what the table leaves (``TABLE_SPREAD``) (relative;
#: subcooling and discharge line in K): capacity and power as from a rating, subcooling by the tolerance of a published
#: protocol; the rest is common practice, no source.
OF_THE_TABLE: Mapping[str, float] = MappingProxyType(
    {
        "capacity": RATED_CAPACITY,
        "power": RATED_EFFICIENCY,
        "suction_pressure": 0.025,
        "liquid_pressure": 0.02,
        "subcooling": SUBCOOLING_OF_TARGET,
        "discharge_line_temperature": 2.5,
    }
)
#: Sets of columns of which one says how efficient a healthy unit is: without it a table is no measure of efficiency.
EFFICIENCY_OF_THE_TABLE = (frozenset({"capacity", "power"}), frozenset({"suction_pressure", "liquid_pressure"}))
#: How well the airflow of a healthy unit is known (logarithm) where a table depends on it (common practice, no source).
AIRFLOW_OF_TABLE = 0.08
#: The same of a unit as found, which may be far from its table (common practice, no source).
AS_FOUND_OF_THE_TABLE: Mapping[str, float] = MappingProxyType(
    {
        "capacity": 0.30,
        "power": 0.20,
        "suction_pressure": 0.20,
        "liquid_pressure": 0.15,
        "subcooling": 8.0,
        "discharge_line_temperature": 15.0,
    }
)
