"""What is assumed about a unit before its readings are known, for comparing two visits.

Each row is a parameter of the lumped cycle model with a value and an honest spread.  Those of the
``unit`` and its ``structure`` are the same at both visits, so most of their uncertainty cancels in a
change; the rest grows with the distance between the two sets of conditions.  ``change`` rows say
how large a change a service or a fault may cause.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from service.reference.metering_devices import FIXED_DEVICES

Group = Literal["conditions", "unit", "structure", "change"]


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter: ``spread`` is a standard deviation."""

    name: str
    group: Group
    value: float
    spread: float
    text: str
    source: str


_ROWS = (
    # Conditions of a visit where they were not read [K, 1].
    Parameter("outdoor", "conditions", 305.4, 6.0, "outdoor air", "practice"),
    Parameter("dry_bulb", "conditions", 298.2, 2.5, "return air dry bulb", "practice"),
    Parameter("wet_bulb", "conditions", 291.2, 2.0, "return air wet bulb", "practice"),
    Parameter("voltage", "conditions", 0.0, 0.03, "logarithm of line over nominal voltage", "practice"),
    # The unit, as found at the first visit.  ``ln_`` are natural logarithms.
    Parameter("ln_size", "unit", 0.0, 0.9, "capacity over the one expected", "practice"),
    Parameter(
        "ln_condenser",
        "unit",
        -2.22,
        0.35,
        "heat rejected for each kelvin of condensing over outdoor air and each watt of size [1/K]",
        "rating_cycle",
    ),
    Parameter("ln_transfer_units", "unit", -0.11, 0.30, "transfer units of the evaporator", "rating_cycle"),
    Parameter("ln_airflow", "unit", -9.83, 0.25, "return air for each watt of size [m3/(s W)]", "nominal_airflow"),
    Parameter(
        "ln_efficiency",
        "unit",
        -0.48,
        0.14,
        "isentropic efficiency of the compressor with its motor at pressure ratio 2.8",
        "practice",
    ),
    Parameter("superheat", "unit", 6.0, 6.0, "superheat [K]", "practice"),
    Parameter("subcooling", "unit", 6.0, 7.0, "subcooling [K]", "practice"),
    Parameter("ln_fan", "unit", -2.66, 0.45, "outdoor fan over compressor power", "practice"),
    Parameter("ln_blower", "unit", 6.70, 0.40, "blower power for each airflow [W s/m3]", "default_blower_power"),
    # How the unit responds to its conditions, relative to the first visit.
    Parameter(
        "volumetric_slope",
        "structure",
        0.045,
        0.015,
        "loss of volumetric efficiency for each unit of pressure ratio",
        "practice",
    ),
    Parameter(
        "efficiency_slope",
        "structure",
        -0.05,
        0.15,
        "d ln of isentropic efficiency / d ln of pressure ratio",
        "practice",
    ),
    Parameter("heat_loss", "structure", 0.06, 0.035, "share of the power lost by the shell", "practice"),
    Parameter(
        "condenser_outdoor",
        "structure",
        0.0,
        0.005,
        "relative change of the condenser's conductance for each kelvin outdoors",
        "map_spread",
    ),
    Parameter(
        "evaporator_wet_bulb",
        "structure",
        -0.012,
        0.012,
        "relative change of the evaporator's conductance for each kelvin of wet bulb",
        "map_spread",
    ),
    Parameter(
        "evaporator_outdoor",
        "structure",
        0.0,
        0.006,
        "relative change of the evaporator's conductance for each kelvin outdoors",
        "map_spread",
    ),
    Parameter("transfer_airflow", "structure", -0.45, 0.15, "d ln of transfer units / d ln of airflow", "practice"),
    Parameter(
        "blower_airflow",
        "structure",
        0.6,
        0.5,
        "d ln of blower power / d ln of airflow: below one with a restriction, three with the speed, "
        "below zero where the motor holds the airflow",
        "practice",
    ),
    Parameter(
        "evaporator_superheat",
        "structure",
        -0.028,
        0.012,
        "relative change of the evaporator's transfer units for each kelvin of superheat about the usual "
        "value, as superheat occupies part of the coil [1/K]",
        "fault_signatures",
    ),
    Parameter(
        "condenser_subcooling",
        "structure",
        -0.018,
        0.010,
        "relative change of the condenser's conductance for each kelvin of subcooling, as subcooling "
        "occupies part of the coil [1/K]",
        "fault_signatures",
    ),
    Parameter(
        "sensible_factor", "structure", 1.15, 0.15, "temperature over enthalpy effectiveness of the coil", "practice"
    ),
    Parameter(
        "superheat_outdoor",
        "structure",
        0.0,
        0.08,
        "change of superheat for each kelvin outdoors, beyond the target table's for a fixed device [1]",
        "practice",
    ),
    Parameter(
        "superheat_wet_bulb",
        "structure",
        0.0,
        0.12,
        "change of superheat for each kelvin of wet bulb, beyond the target table's for a fixed device [1]",
        "practice",
    ),
    Parameter(
        "subcooling_outdoor", "structure", 0.0, 0.08, "change of subcooling for each kelvin outdoors [1]", "practice"
    ),
    Parameter(
        "subcooling_wet_bulb",
        "structure",
        0.0,
        0.12,
        "change of subcooling for each kelvin of wet bulb [1]",
        "practice",
    ),
    Parameter("ln_power_factor", "structure", -0.08, 0.04, "power factor of the compressor", "power_factor_practice"),
    Parameter(
        "power_factor_voltage",
        "structure",
        0.4,
        0.4,
        "fall of the logarithm of the power factor for each unit of ln of voltage",
        "practice",
    ),
    Parameter("power_voltage", "structure", 0.0, 0.25, "d ln of power / d ln of voltage", "practice"),
    # What may have changed between the visits: ``spread`` where it is what changed.
    Parameter("condenser_change", "change", 0.0, 0.25, "ln of the outdoor coil's heat transfer", "change_sizes"),
    Parameter("airflow_change", "change", 0.0, 0.25, "ln of indoor airflow", "change_sizes"),
    Parameter("evaporator_change", "change", 0.0, 0.20, "ln of the indoor coil's heat transfer", "change_sizes"),
    Parameter("flow_change", "change", 0.0, 0.20, "ln of the flow that the compressor pumps", "change_sizes"),
    Parameter("efficiency_change", "change", 0.0, 0.20, "ln of the compressor's efficiency", "change_sizes"),
    Parameter("superheat_change", "change", 0.0, 6.0, "superheat [K]", "change_sizes"),
    Parameter("subcooling_change", "change", 0.0, 5.0, "subcooling [K]", "change_sizes"),
    Parameter("fan_change", "change", 0.0, 0.10, "ln of outdoor fan power", "change_sizes"),
    Parameter(
        "blower_change", "change", 0.0, 0.25, "ln of blower power beyond what follows the airflow", "change_sizes"
    ),
)

#: Cycle whose capacity defines a unit's size: saturation temperatures of suction and liquid, superheat and
#: subcooling alike [K]; 45 and 116 °F with 10 °F, about a rating cycle (source ``rating_cycle``).
SIZE_CYCLE = (280.4, 320.0, 5.6)
#: Size [W] of a unit whose rating is not given: about three tons (common practice, no source).  Nothing
#: depends on it but the spread of ``ln_size`` about it.
USUAL_CAPACITY = 10_000.0
#: Spread of ``ln_size`` where the rating is given: a unit as found may have lost a quarter (common practice,
#: no source).
RATED_SIZE_AS_FOUND = 0.25
#: Compressor power over capacity that ``ln_fan`` is relative to: an efficiency of 3.6 without fans (common
#: practice, no source).
USUAL_POWER = 0.28
#: Evaporating temperature [K] of a usual coil where it stops condensing (48 °F, source ``rating_cycle``), and
#: the width [K] of wet bulb over which it does, as rows of one coil are not equally cold (common practice, no
#: source).
DRY_COIL = 281.8
PARTLY_WET = 1.0
#: Weight of a condition's prior where the condition was read, in spreads: negligible.
READ_SPREAD = 8.0

#: Superheat [K] at which the slope of ``evaporator_superheat`` holds.
USUAL_SUPERHEAT = 6.0

#: Spreads of how superheat follows the weather where no valve controls it: about the target table with a
#: fixed device, about zero where the device is not known [1].
SUPERHEAT_SPREADS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"superheat_outdoor": (0.30, 0.6), "superheat_wet_bulb": (0.60, 1.2)}
)
#: Superheat [K] from which an expansion valve stands wide open and no longer controls: it opens over some 3 to 7 K
#: (common practice, no source).
WIDE_OPEN = 8.0
#: How far superheat may be from what follows the weather where a run shows under :data:`LEAST_SUPERHEAT` of it [K]:
#: a thermometer sees nothing of the liquid that comes back (common practice, no source).
FLOODED = 4.0
#: Superheat [K] under which liquid may come back: the published procedure tests none under 5 °F (source
#: ``ra3_target_superheat``).
LEAST_SUPERHEAT = 5.0 / 1.8
#: Share of a fixed device's change of superheat with the weather that subcooling follows [1]: charge that
#: leaves one coil goes to the other (common practice, no source).
SUBCOOLING_OF_SUPERHEAT = 0.25

PARAMETERS: Mapping[str, Parameter] = MappingProxyType({row.name: row for row in _ROWS})

#: The model is coarse, so its evidence for one cause over another is discounted (a power of the likelihood;
#: Gruenwald and van Ommen 2017, Bayesian Analysis 12, 1069-1103), and its bands are widened by a factor.
#: Both are set so that the bands of pairs simulated with an independent model contain the truth as often as
#: they claim.
TEMPER = 0.75
WIDENING = 1.15

#: How a run capacitor moves the power factor of the compressor: standard deviation of its logarithm for each
#: unit of the logarithm of capacitance.  A third less capacitance draws some 5 to 15 % more current for the
#: same work (common practice, no source), so the current then says little about power.
POWER_FACTOR_OF_CAPACITANCE = 0.5
#: Logarithm of the capacitance that a run capacitor had usually lost when it was replaced: a fifth (common practice, no
#: source).
LOST_WHEN_REPLACED = 0.22

#: Standard deviation of a change that nobody made: how much a unit drifts between two visits.
DRIFT: Mapping[str, float] = MappingProxyType(
    {
        "condenser_change": 0.022,
        "airflow_change": 0.018,
        "evaporator_change": 0.022,
        "flow_change": 0.015,
        "efficiency_change": 0.012,
        "superheat_change": 0.5,
        "subcooling_change": 0.4,
        "fan_change": 0.02,
        "blower_change": 0.02,
    }
)


@dataclass(frozen=True, slots=True)
class Cause:
    """What may have changed: its probability beforehand, and the changes that come with it.

    ``changes`` are standard deviations in place of the drift.  ``valve`` and ``fixed`` are what moves in step,
    one standard deviation each, with an expansion valve and with a fixed device; source ``fault_signatures``.
    ``faults`` are the names under which a diagnosis knows it.
    """

    name: str
    text: str
    prior: float
    changes: Mapping[str, float]
    valve: Mapping[str, float] = field(default_factory=dict)
    fixed: Mapping[str, float] = field(default_factory=dict)
    source: str = "fault_signatures"
    faults: tuple[str, ...] = ()

    def together(self, device: str | None) -> Mapping[str, float]:
        """What moves in step with this metering device; nothing where it is not known."""
        if device is None:
            return {}
        return self.fixed if device in FIXED_DEVICES else self.valve


#: What a diagnosis calls a change of charge or metering.
CHARGE_FAULTS = (
    "low_charge",
    "overcharge",
    "liquid_line_restriction",
    "expansion_overfeeding",
    "expansion_underfeeding",
)

_CAUSES = (
    Cause("nothing", "nothing beyond drift", 0.25, {}, source="change_sizes"),
    Cause(
        "condenser_heat_transfer",
        "the outdoor coil's heat transfer",
        0.16,
        {"condenser_change": 0.03, "fan_change": 0.06, "superheat_change": 0.8, "subcooling_change": 0.8},
        valve={"condenser_change": 0.20, "subcooling_change": -0.4},
        fixed={"condenser_change": 0.20, "superheat_change": 1.4},
        faults=("condenser_heat_transfer", "outdoor_fan_stopped"),
    ),
    Cause(
        "evaporator_airflow",
        "airflow over the indoor coil",
        0.16,
        {
            "airflow_change": 0.03,
            "blower_change": 0.25,
            "evaporator_change": 0.03,
            "superheat_change": 0.8,
            "subcooling_change": 0.6,
        },
        valve={"airflow_change": 0.20, "subcooling_change": -0.2},
        fixed={"airflow_change": 0.20, "superheat_change": 3.2, "subcooling_change": 0.4},
        faults=("evaporator_airflow",),
    ),
    Cause(
        "evaporator_heat_transfer",
        "the indoor coil's heat transfer",
        0.06,
        {"evaporator_change": 0.03, "superheat_change": 0.8, "subcooling_change": 0.6},
        valve={"evaporator_change": 0.20, "subcooling_change": -0.2},
        fixed={"evaporator_change": 0.20, "superheat_change": 3.2, "subcooling_change": 0.4},
        faults=("evaporator_airflow",),
    ),
    Cause(
        "charge",
        "refrigerant charge or metering",
        0.16,
        {
            "superheat_change": 4.0,
            "subcooling_change": 4.0,
            "condenser_change": 0.07,
            "evaporator_change": 0.15,
            "flow_change": 0.03,
            "efficiency_change": 0.02,
        },
        valve={"superheat_change": -1.5, "subcooling_change": 5.0},
        fixed={"superheat_change": -5.5, "subcooling_change": 4.5},
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
            "condenser_change": 0.05,
            "evaporator_change": 0.08,
        },
        valve={"flow_change": 0.18, "subcooling_change": 0.5},
        fixed={"flow_change": 0.18, "superheat_change": 4.3, "subcooling_change": 1.3},
        faults=("compressor_leakage", "compressor_not_pumping", "compressor_stalled"),
    ),
    # As read from pressure: about 10 % above the refrigerant's own pressure in the condenser.
    Cause(
        "non_condensable_gas",
        "non-condensable gas (air or nitrogen)",
        0.05,
        {"condenser_change": 0.06, "superheat_change": 4.0, "subcooling_change": 1.0},
        valve={"condenser_change": -0.30, "subcooling_change": 5.1},
        fixed={"condenser_change": -0.33, "superheat_change": -6.5, "subcooling_change": 3.9},
        source="non_condensable_effects",
        faults=("non_condensable_gas",),
    ),
    Cause(
        "several",
        "several causes at once",
        0.06,
        {
            "condenser_change": 0.15,
            "airflow_change": 0.15,
            "evaporator_change": 0.10,
            "flow_change": 0.05,
            "efficiency_change": 0.05,
            "superheat_change": 4.0,
            "subcooling_change": 4.0,
            "fan_change": 0.08,
            "blower_change": 0.15,
        },
    ),
)

CAUSES: Mapping[str, Cause] = MappingProxyType({row.name: row for row in _CAUSES})
#: What a diagnosis calls a change of a run capacitor, which is outside of this model.
ELECTRICAL_FAULTS = ("weak_run_capacitor",)
