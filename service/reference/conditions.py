"""Conditions under which limits apply, and windows of plausible operation.  SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

DEGF = 5.0 / 9.0


def _degf(value: float) -> float:
    return (value - 32.0) * DEGF + 273.15


#: Outdoor air from which charge may be judged by targets [K]; source ``ra3_outdoor_limit``.
LOWEST_OUTDOOR = _degf(55.0)

#: Outdoor air at which the target tables end [K]; source ``ra3_target_superheat``.
HIGHEST_OUTDOOR = _degf(115.0)

#: Return air from which the targets are tabulated [K]; source ``ra3_return_minimum``.
LOWEST_RETURN = _degf(70.0)

#: Minutes of running before readings settle; source ``ra3_running_time``.
RUNNING_MINUTES = 15.0
#: Minutes from which little is left of a start (under a twentieth of the step); source ``start_up_slow``.
NEARLY_SETTLED_MINUTES = 10.0

#: Agreement of a saturation temperature with the pressure given for the same side [K]; source
#: ``ra3_saturation_reread``.
SATURATION_AGREEMENT = 3.0 * DEGF
#: Agreement [K] from which a supposed mistake counts as the reason why the two differ; common practice, no source.
SATURATION_EXPLAINED = SATURATION_AGREEMENT / 2.0

#: Windows of plausible operation in cooling [K]; source ``plausible_windows``.
PLAUSIBLE: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "superheat": (-2.0, 28.0),
        "subcooling": (-2.0, 22.0),
        "condensing_temperature_over_ambient": (1.0, 35.0),
        "evaporating_temperature_under_return_air": (6.0, 40.0),
    }
)

#: The same for the temperatures that replace the last two where the air was not read [K]; source
#: ``plausible_windows``.
PLAUSIBLE_ALONE: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "evaporating_temperature": (_degf(25.0), _degf(62.0)),
        "condensing_temperature": (_degf(80.0), _degf(135.0)),
    }
)

#: Probability above which two readings count as shown to be in the wrong order (two-sided 95 % band).
SHOWN = 0.975

#: Largest excess of wet bulb over dry bulb [K] that instruments can explain; beyond it one is wrong.
WET_BULB_EXCESS = 1.5

#: Outdoor air from which heat stress is a hazard [K] (90 °F); source ``osha_heat``.
HOT_DAY = _degf(90.0)

#: Discharge line that burns on contact [K] (140 °F); source ``safety_practice``.
BURNING_SURFACE = _degf(140.0)

#: Supply [V] from which an answer warns of arc flash, that of 400 and 480 V systems; source ``nfpa_70e_arc``.
ARC_FLASH_VOLTAGE = 400.0

#: High-side gauge pressure that calls for a caution [Pa] (500 psi); source ``safety_practice``.
HIGH_PRESSURE = 500.0 * 6894.757293168361

#: Half the last digit that a sentence shows [K]: a reading that prints as the limit is at it.
EDGE = 0.05

#: Windows that no running comfort-cooling system can leave [K]: outside them the readings or their units
#: are wrong.  Source ``plausible_windows``.
CREDIBLE: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "superheat": (-12.0, 45.0),
        "subcooling": (-12.0, 35.0),
        "condensing_temperature_over_ambient": (-15.0, 55.0),
        "evaporating_temperature_under_return_air": (-15.0, 60.0),
    }
)

#: Evaporating temperature [K] below which comfort cooling never runs: low-pressure switches open not far
#: below (about 50 psig with R-410A and 25 psig with R-22, 0 to 4 °F); source ``low_pressure_cut_out``.
LOWEST_EVAPORATING = _degf(20.0)

#: Subcooling [K] under which the liquid line may carry vapour; source ``little_subcooling``.
LITTLE_SUBCOOLING = 4.0 * DEGF

#: What a circuit with almost no liquid shows besides so low a suction [K]: superheat above this, condensing
#: temperature over outdoor air and temperature split below these; source ``nearly_empty``.
MUCH_SUPERHEAT = 25.0 * DEGF
LITTLE_HEAD = 10.0 * DEGF
LITTLE_SPLIT = 12.0 * DEGF

#: Condensing over outdoor air [K] beyond what any air-cooled unit needs; source ``condensing_over_ambient``.
FAR_OVER_AMBIENT = 35.0 * DEGF

#: Lowest condensing temperature [K] at which high-pressure switches open (600 psig with R-410A), and a
#: temperature near it (nine tenths of that pressure); R-22 opens at 400 psig, 154 °F.  Source
#: ``high_pressure_cut_out``.
HIGH_CUT_OUT = _degf(148.0)
NEAR_CUT_OUT = _degf(141.0)

#: Evaporating temperature [K] at which water on the coil freezes.
FREEZING = 273.15
#: Temperatures [K] that no running system shows, whatever the air; source ``plausible_windows``.
CREDIBLE_ALONE: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"evaporating_temperature": (228.0, 305.0), "condensing_temperature": (273.0, 360.0)}
)

#: The same in heating; a unit that has lost its charge evaporates far below outdoor air.
CREDIBLE_IN_HEATING: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "superheat": (-15.0, 45.0),
        "subcooling": (-12.0, 40.0),
        "condensing_temperature_over_return_air": (-15.0, 50.0),
        "evaporating_temperature_under_outdoor_air": (-15.0, 45.0),
        # Air leaves no colder than the coil, which a usual net puts at most 14 K (25 °F) under outdoor air.
        "outdoor_coil_air_temperature_drop": (-8.0, 14.0),
    }
)

#: Signs of heating, cooling and swapped probes; source ``signs_of_mode``.  Supply air
#: warmer or colder than return air by so much [K]; no unit has a split beyond the second.
AIR_CHANGED = (5.0, 17.0)
#: Liquid line further below outdoor air than this [K]: the clamp is on another line; common practice, no source.
CLAMP_UNDER_OUTDOOR = 1.0
#: Outdoor air [K] above which a reading in heating is doubted: the highest rating point is 62 °F (practice).
WARM_FOR_HEATING = _degf(75.0)
#: Lowest supply air of heating, highest of cooling, and the range of room air [K].
HEATED_SUPPLY = _degf(85.0)
COOLED_SUPPLY = _degf(75.0)
ROOM_AIR = (_degf(60.0), _degf(90.0))
#: Supply air too hot to be the air of a room [K], whatever the weather.
HOT_SUPPLY = _degf(95.0)
#: Outdoor air [K] up to which heating is usual, from which cooling is usual, and from which no unit defrosts.
HEATING_WEATHER = _degf(70.0)
COOLING_WEATHER = _degf(55.0)
NO_DEFROST = _degf(60.0)
#: An evaporating temperature this far below outdoor air [K] is that of the indoor coil.
EVAPORATING_INDOORS = 18.0

#: Lowest current of a compressor as a share of its rated-load amps, at the load of the rating point; it
#: scales with the load.  Source ``loaded_current``.
LOADED_CURRENT = 0.45

#: Two currents closer than this [1] were read on one wire; source ``motor_currents`` says why they differ
#: otherwise.
EQUAL_CURRENTS = 0.03

#: Relative humidity [1] below which a percentage was probably given as a fraction.
LOWEST_HUMIDITY = 0.05

#: Disagreement of two ways to the same relative humidity [1] beyond both instruments.
HUMIDITY_DISAGREEMENT = 0.10

#: Disagreement of altitude and barometer [Pa] beyond any weather: the barometer was reduced to sea level.
BAROMETER_DISAGREEMENT = 4000.0

#: Air pressure [Pa] below which the split table no longer holds (about 2,500 ft), and below which a
#: dial's printed temperature scale is notably off (about 1,000 ft).
LOWEST_SPLIT_PRESSURE = 92_500.0
LOWEST_DIAL_PRESSURE = 97_700.0

#: A round altitude [m] in each unit system, by which an answer shows what an altitude would change.
EXAMPLE_ALTITUDE: Mapping[str, float] = MappingProxyType({"imperial": 1524.0, "metric": 1500.0})

#: Closeness of capacitor voltage to line voltage [1] at which it was probably read across the line.
CAPACITOR_OVER_LINE = 0.03

#: Current [A] below which a motor counts as drawing none.
NO_CURRENT = 0.1

#: Voltage [V] below which a line is dead and the meter shows an induced voltage: common practice, no source.
NO_VOLTAGE = 30.0


@dataclass(frozen=True, slots=True)
class DualVoltage:
    """A nameplate of two voltages [V], of which often only the higher one is entered.

    ``lowest`` is where its range begins; line voltages within ``supply`` belong to its lower one.
    Source ``dual_voltage``.
    """

    lower: float
    higher: float
    lowest: float
    supply: tuple[float, float]
    frequency: int


#: Voltages that a motor takes, over the one voltage of its nameplate [1]; source ``mg1_voltage``.
MOTOR_VOLTAGES = (0.9, 1.1)

#: 10 % under 208 V is 187 V, and 220 V is closer to a 208 V system than to one of 240 V.
DUAL_VOLTAGES = (DualVoltage(208.0, 230.0, 197.0, (187.0, 220.0), 60),)

#: Compression ratios [1]: below the first the compressor pumps nothing; below the second it pumps nothing
#: if the air shows no cooling either.  Source ``plausible_windows``.
HARDLY_ANY_LIFT = 1.25
LITTLE_LIFT = 1.6

#: Values below which the unit is not cooling [K]; source ``plausible_windows``.
IDLE_COOLING: Mapping[str, float] = MappingProxyType(
    {"temperature_split": 3.0, "evaporating_temperature_under_return_air": 5.0}
)

#: Zero error [Pa] that a zeroed gauge does not exceed (1 psi).
ZERO_ALLOWANCE = 6894.757293168361

#: Tolerance assumed for a capacitor whose marking is not given [%]; source ``capacitor_marking``.
CAPACITOR_TOLERANCE = 6.0

#: One cfm per ton of 12,000 Btu/h, in m3/s per W.
CFM_PER_TON = 0.3048**3 / 60.0 / 3516.853

#: Possible ratings of a unit of this kind: 2,000 to 1,200,000 Btu/h [W] and 50 to 40,000 cfm [m3/s].
RATED_CAPACITY_RANGE = (586.0, 351_700.0)
#: The same of the power of a unit that runs [W]: from a small ductless unit to 200 tons; common practice, no source.
RUNNING_POWER_RANGE = (100.0, 200_000.0)
RATED_AIRFLOW_RANGE = (0.0235, 18.9)

#: Degrees of freedom that an instrument's stated repeatability is worth next to the scatter of repeats:
#: it counts like six readings.  Common practice, no source.
REPEATABILITY_WORTH = 5.0

#: Probability (one in a thousand) below which the instrument no longer explains the scatter of repeats;
#: source ``scatter_of_repeats``.
UNSTEADY_PROBABILITY = 0.001

#: Outdoor air [K] above which a building needs no heat, where the request does not say: the base of heating degree
#: days, common practice, no source.
ZERO_LOAD = _degf(65.0)

#: Minutes after a defrost before which nothing is judged, and before which with reservation; sources
#: ``defrost_recovery``, ``defrost_settling``.
DEFROST_MINUTES = 5.0
DEFROST_SETTLED_MINUTES = 15.0

#: Outdoor air [K] below which frost forms on the coil; source ``frost_practice``.
FROST_WEATHER = _degf(40.0)

#: Outdoor air [K] below which healthy units print less discharge superheat than floods; source
#: ``cold_discharge``.
COLD_DISCHARGE = _degf(30.0)

#: Share [1] of the ideal efficiency between outdoor and supply air that no heat pump reaches; source
#: ``heating_efficiency_limit``.
MOST_OF_IDEAL = 0.5

#: Power of the indoor unit over its airflow [W/(m3/s)] beyond any blower's (1.5 W per cfm): the meter sees the
#: strips.  Common practice, no source.
BLOWER_ALONE = 3180.0

#: Auxiliary heat [W] below which it counts as off.
NO_AUXILIARY = 100.0
