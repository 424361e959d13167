"""What is assumed about a heat pump in heating before its readings are known.

As :mod:`service.reference.unit_model` is for cooling: the indoor coil is the condenser, the outdoor coil the
evaporator.  Where a row means the same in both modes it is the same row.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from service.reference import unit_model as cooling
from service.reference.unit_model import CHARGE_FAULTS, Cause, Parameter

#: Rows that mean the same in both modes.
_SHARED = (
    "voltage",
    "ln_fan",
    "ln_blower",
    "blower_airflow",
    "ln_power_factor",
    "power_factor_voltage",
    "power_voltage",
    "airflow_change",
    "flow_change",
    "efficiency_change",
    "superheat_change",
    "subcooling_change",
    "fan_change",
    "blower_change",
)

_ROWS = (
    # Conditions of a visit where they were not read [K, 1].
    Parameter("outdoor", "conditions", 281.5, 8.0, "outdoor air", "practice"),
    Parameter("dry_bulb", "conditions", 294.3, 2.0, "return air dry bulb", "practice"),
    Parameter("humidity", "conditions", 0.72, 0.15, "relative humidity of the outdoor air", "practice"),
    Parameter("strips", "conditions", 0.0, 500.0, "power of auxiliary heat [W]", "definition"),
    # The unit, as found at the first visit.
    Parameter("ln_size", "unit", 0.0, 0.9, "capacity over the one expected", "practice"),
    Parameter("ln_transfer_units", "unit", 0.54, 0.30, "transfer units of the indoor coil", "heating_tables"),
    Parameter("ln_airflow", "unit", -9.82, 0.25, "return air for each watt of size [m3/(s W)]", "heating_tables"),
    Parameter("ln_outdoor_units", "unit", -0.80, 0.35, "transfer units of the outdoor coil", "heating_tables"),
    Parameter("ln_outdoor_airflow", "unit", -8.90, 0.25, "outdoor air for each watt of size [m3/(s W)]", "practice"),
    Parameter(
        "ln_efficiency",
        "unit",
        -0.48,
        0.14,
        "isentropic efficiency of the compressor with its motor at pressure ratio 2.8",
        "practice",
    ),
    Parameter("superheat", "unit", 4.5, 6.0, "superheat at the outlet of the outdoor coil [K]", "practice"),
    Parameter("subcooling", "unit", 10.0, 7.0, "subcooling at the outdoor unit [K]", "heating_tables"),
    Parameter("valve_leak", "unit", 0.0, 0.05, "share of hot gas that the reversing valve leaks", "practice"),
    Parameter("valve_rise", "unit", 1.3, 1.0, "heat conducted by the reversing valve's body [K]", "practice"),
    Parameter("vapour_line_drop", "unit", 5.0, 3.0, "discharge over vapour line temperature [K]", "practice"),
    Parameter(
        "hot_gas_drop",
        "unit",
        1.3,
        0.7,
        "condensing temperature by the port of the hot gas over that of the coil (12 psi with R-410A) [K]",
        "practice",
    ),
    # How the unit responds to its conditions, relative to the first visit.
    Parameter(
        "volumetric_slope",
        "structure",
        0.080,
        0.025,
        "loss of volumetric efficiency for each unit of pressure ratio",
        "heating_tables",
    ),
    Parameter(
        "efficiency_slope",
        "structure",
        -0.28,
        0.20,
        "d ln of isentropic efficiency / d ln of pressure ratio",
        "heating_tables",
    ),
    Parameter("heat_loss", "structure", 0.11, 0.05, "share of the power lost by the shell, in cold air", "practice"),
    Parameter(
        "outdoor_coil_outdoor",
        "structure",
        0.0,
        0.007,
        "relative change of the outdoor coil's transfer units for each kelvin outdoors",
        "map_spread",
    ),
    Parameter(
        "indoor_coil_outdoor",
        "structure",
        0.003,
        0.006,
        "relative change of the indoor coil's transfer units for each kelvin outdoors",
        "heating_tables",
    ),
    Parameter(
        "transfer_airflow",
        "structure",
        -0.70,
        0.15,
        "d ln of the indoor coil's transfer units / d ln of airflow",
        "heating_tables",
    ),
    Parameter(
        "outdoor_transfer_airflow",
        "structure",
        -0.50,
        0.15,
        "d ln of the outdoor coil's transfer units / d ln of its airflow",
        "practice",
    ),
    Parameter(
        "evaporator_superheat",
        "structure",
        -0.035,
        0.015,
        "relative change of the outdoor coil's transfer units for each kelvin of superheat [1/K]",
        "practice",
    ),
    Parameter(
        "condenser_subcooling",
        "structure",
        -0.018,
        0.010,
        "relative change of the indoor coil's transfer units for each kelvin of subcooling [1/K]",
        "practice",
    ),
    Parameter(
        "sensible_factor",
        "structure",
        1.15,
        0.15,
        "temperature over enthalpy effectiveness of the outdoor coil",
        "practice",
    ),
    Parameter(
        "superheat_outdoor", "structure", 0.05, 0.10, "change of superheat for each kelvin outdoors [1]", "practice"
    ),
    Parameter(
        "superheat_return", "structure", 0.0, 0.15, "change of superheat for each kelvin of return air [1]", "practice"
    ),
    Parameter(
        "subcooling_outdoor",
        "structure",
        -0.07,
        0.10,
        "change of subcooling for each kelvin outdoors [1]",
        "heating_tables",
    ),
    Parameter(
        "subcooling_return",
        "structure",
        0.0,
        0.15,
        "change of subcooling for each kelvin of return air [1]",
        "heating_tables",
    ),
    # What may have changed between the visits: ``spread`` where it is what changed.
    Parameter("indoor_coil_change", "change", 0.0, 0.20, "ln of the indoor coil's heat transfer", "change_sizes"),
    Parameter("outdoor_coil_change", "change", 0.0, 0.25, "ln of the outdoor coil's heat transfer", "change_sizes"),
    Parameter("outdoor_airflow_change", "change", 0.0, 0.25, "ln of outdoor airflow", "change_sizes"),
    Parameter("leak_change", "change", 0.0, 0.08, "hot gas that leaks through the reversing valve", "change_sizes"),
    Parameter("strips_change", "change", 0.0, 0.8, "auxiliary heat over the unit's size [1]", "change_sizes"),
)

PARAMETERS: Mapping[str, Parameter] = MappingProxyType(
    {row.name: row for row in (*_ROWS, *(cooling.PARAMETERS[name] for name in _SHARED))}
)

#: Cycle whose capacity defines a unit's size: saturation temperatures of suction and liquid, superheat and
#: subcooling [K]; 31 and 98 °F with 9 and 14 °F, about the rating point at 47 °F (source ``heating_tables``).
SIZE_CYCLE = (272.6, 309.8, 5.0, 8.0)
#: Heat that the condenser gives off over what the evaporator takes up in that cycle (computed).
CONDENSED_OVER_ABSORBED = 1.27
#: Rated heating capacity [W] of a unit from its rated cooling capacity: factor and constant, and the spread of its
#: logarithm (source ``heating_of_cooling``; the spread is common practice, no source).
HEATING_OF_COOLING = (0.98, 180.0 / 3.412142)
HEATING_OF_COOLING_SPREAD = 0.07
#: Compressor power over capacity that ``ln_fan`` is relative to (common practice, no source).
USUAL_POWER = 0.24
#: Superheat [K] at which the slope of ``evaporator_superheat`` holds.
USUAL_SUPERHEAT = 4.5
#: Spreads of how superheat follows the weather with a fixed device, and where the device is not known [1].
SUPERHEAT_SPREADS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"superheat_outdoor": (0.35, 0.35), "superheat_return": (0.40, 0.40)}
)

#: Spread [W] of auxiliary heat of which nothing was read: it is taken to be off.
STRIPS_NOT_READ = 1.0

#: Rating points of AHRI 210/240 in heating, as conditions of the unit model (source ``ahri_210_heating``): 47 °F
#: dry and 43 °F wet bulb outdoors, and 17 and 15 °F; 70 °F indoors.
RATING_CONDITIONS: Mapping[str, float] = MappingProxyType(
    {"outdoor": 281.483, "dry_bulb": 294.261, "humidity": 0.726, "voltage": 0.0, "strips": 0.0}
)
LOW_RATING_CONDITIONS: Mapping[str, float] = MappingProxyType(
    {"outdoor": 264.817, "dry_bulb": 294.261, "humidity": 0.72, "voltage": 0.0, "strips": 0.0}
)

#: Standard deviation of a change that nobody made.
DRIFT: Mapping[str, float] = MappingProxyType(
    {
        **{name: cooling.DRIFT[name] for name in _SHARED if name in cooling.DRIFT},
        "indoor_coil_change": 0.022,
        # Frost builds between defrosts; much of the charge may wait in an accumulator.
        "outdoor_coil_change": 0.03,
        "outdoor_airflow_change": 0.03,
        "blower_change": 0.035,
        "superheat_change": 0.9,
        "subcooling_change": 0.8,
        "leak_change": 0.002,
        "strips_change": 0.001,
    }
)

#: By how much bands are widened, as :data:`service.reference.unit_model.WIDENING` for cooling: frost and an
#: accumulator, which the model does not hold, make it coarser.
WIDENING = 1.35

_CAUSES = (
    Cause("nothing", "nothing beyond drift", 0.25, {}, source="change_sizes"),
    Cause(
        "outdoor_coil",
        "the outdoor coil or its airflow",
        0.16,
        {
            "outdoor_coil_change": 0.10,
            "outdoor_airflow_change": 0.20,
            "fan_change": 0.06,
            "flow_change": 0.015,
            "superheat_change": 1.0,
            "subcooling_change": 1.0,
        },
        valve={"outdoor_coil_change": 0.25, "outdoor_airflow_change": 0.35},
        fixed={"outdoor_coil_change": 0.25, "outdoor_airflow_change": 0.35, "superheat_change": 1.2},
        faults=("outdoor_coil_airflow", "outdoor_coil_frost", "outdoor_fan_stopped"),
    ),
    Cause(
        "indoor_airflow",
        "airflow over the indoor coil",
        0.16,
        {
            "airflow_change": 0.03,
            "blower_change": 0.25,
            "indoor_coil_change": 0.03,
            "flow_change": 0.02,
            "efficiency_change": 0.025,
            "superheat_change": 1.0,
            "subcooling_change": 1.0,
        },
        valve={"airflow_change": 0.20, "flow_change": 0.012, "efficiency_change": 0.03},
        fixed={
            "airflow_change": 0.20,
            "flow_change": 0.012,
            "efficiency_change": 0.03,
            "superheat_change": 1.8,
            "subcooling_change": 1.1,
        },
        source="heating_airflow_effects",
        faults=("indoor_airflow",),
    ),
    Cause(
        "indoor_coil",
        "the indoor coil's heat transfer",
        0.06,
        {"indoor_coil_change": 0.03, "superheat_change": 0.8, "subcooling_change": 0.8},
        valve={"indoor_coil_change": 0.20},
        fixed={"indoor_coil_change": 0.20, "superheat_change": 1.8, "subcooling_change": 1.1},
        faults=("indoor_airflow",),
    ),
    Cause(
        "charge",
        "refrigerant charge or metering",
        0.16,
        {
            "superheat_change": 4.0,
            "subcooling_change": 4.0,
            "indoor_coil_change": 0.07,
            "outdoor_coil_change": 0.15,
            "flow_change": 0.03,
            "efficiency_change": 0.02,
        },
        valve={"superheat_change": -1.5, "subcooling_change": 5.0},
        fixed={"superheat_change": -5.5, "subcooling_change": 4.0},
        source="heating_charge_line",
        faults=CHARGE_FAULTS,
    ),
    Cause(
        "compressor",
        "the compressor",
        0.03,
        {
            "flow_change": 0.05,
            "efficiency_change": 0.18,
            "superheat_change": 1.2,
            "subcooling_change": 0.8,
            "indoor_coil_change": 0.05,
            "outdoor_coil_change": 0.08,
        },
        valve={"flow_change": 0.25},
        fixed={"flow_change": 0.25, "superheat_change": 3.0, "subcooling_change": 2.0},
        faults=("compressor_leakage", "compressor_not_pumping", "compressor_stalled"),
    ),
    Cause(
        "reversing_valve",
        "the reversing valve",
        0.02,
        {"superheat_change": 0.8, "subcooling_change": 0.8},
        valve={"leak_change": 0.07},
        fixed={"leak_change": 0.07, "superheat_change": 1.2, "subcooling_change": 0.8},
        source="reversing_valve_balance",
        faults=("reversing_valve_leakage",),
    ),
    Cause(
        "non_condensable_gas",
        "non-condensable gas (air or nitrogen)",
        0.05,
        {"indoor_coil_change": 0.06, "superheat_change": 2.0, "subcooling_change": 1.0},
        valve={"indoor_coil_change": -0.40, "subcooling_change": 4.0},
        fixed={"indoor_coil_change": -0.40, "subcooling_change": 3.5, "superheat_change": -3.0},
        source="non_condensable_effects",
        faults=("non_condensable_gas",),
    ),
    Cause(
        "several",
        "several causes at once",
        0.06,
        {
            "indoor_coil_change": 0.12,
            "airflow_change": 0.15,
            "outdoor_coil_change": 0.15,
            "outdoor_airflow_change": 0.15,
            "flow_change": 0.05,
            "efficiency_change": 0.05,
            "leak_change": 0.02,
            "superheat_change": 4.0,
            "subcooling_change": 4.0,
            "fan_change": 0.08,
            "blower_change": 0.15,
        },
    ),
)

CAUSES: Mapping[str, Cause] = MappingProxyType({row.name: row for row in _CAUSES})
