"""The capacity at which a unit ran: what is known at each, and what to do where it is not stated.

A rating, a charging target and the unit model describe one capacity.  A two-stage unit in low stage moves
0.728 of its full capacity for 0.633 of the power; a variable-speed one anything from a quarter upward; so
nothing that compares with the rating, or two runs with each other, holds until that is settled.  Source
``stage_ratios``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

#: How a unit ran: at full capacity; in the low stage of two; at a speed that the maker's test mode holds; at
#: another speed that is stated; or not stated.
Running = Literal["full", "low", "test_mode", "part_speed", "unknown"]

#: A stage by its name, or a speed in percent of the rated one.
Stage = str | float

#: Where targets and tables for the full capacity hold.
FIXED_CAPACITY: tuple[Running, ...] = ("full",)
#: Where a rating of the capacity is known.
RATED_RUNNING: tuple[Running, ...] = ("full", "low")
#: Where the maker may state a target of subcooling.
TARGET_RUNNING: tuple[Running, ...] = ("full", "low", "test_mode")

#: Percent of the rated speed within which the rating holds, with the spread that its assumption states.
RATED_SPEED = (95.0, 105.0)
#: Percent of the rated speed above which a display shows something else, such as a frequency (common practice, no
#: source): the speed counts as not stated.
HIGHEST_SPEED = 130.0
#: Largest difference of two speeds, in percent of the rated one, that counts as one speed (common practice, no
#: source).
SAME_SPEED = 2.0

#: Ratings of the full capacity, and the assumptions that turn them into those of low stage and of part speed.
LOW_STAGE_RATIO: Mapping[str, str] = MappingProxyType(
    {
        "cooling_capacity": "low_stage_capacity",
        "eer": "low_stage_efficiency",
        "eer2": "low_stage_efficiency",
        **dict.fromkeys(("heating_capacity", "heating_capacity_low"), "low_stage_heating_capacity"),
        **dict.fromkeys(("heating_cop", "heating_cop_low"), "low_stage_heating_efficiency"),
    }
)
PART_SPEED_RATIO: Mapping[str, str] = MappingProxyType(
    {
        "cooling_capacity": "part_speed_capacity",
        "eer": "part_speed_efficiency",
        "eer2": "part_speed_efficiency",
        **dict.fromkeys(("heating_capacity", "heating_capacity_low"), "part_speed_capacity"),
        **dict.fromkeys(("heating_cop", "heating_cop_low"), "part_speed_efficiency"),
    }
)
#: Logarithm of capacity for each unit of that of speed: the slower compressor meets a warmer evaporator (common
#: practice, no source).
CAPACITY_OF_SPEED = 0.85
#: Rise of the logarithm of efficiency for each fall of the logarithm of capacity where the speed falls.  Between
#: 0.44 (two stages, 0.869 of power over capacity at 0.728) and 0.21 (a variable-speed unit's minimum, 0.787 at
#: 0.32), source ``stage_ratios``.
EFFICIENCY_OF_SHARE = -0.3


@dataclass(frozen=True, slots=True)
class AtPartCapacity:
    """How a parameter of the unit model, relative to the capacity at which the unit runs, follows the logarithm
    of its share of full capacity: ``slope``, and the standard deviation of that."""

    slope: float
    spread: float


#: Coils keep their size while the compressor moves less, blowers and fans slow down with it.  At a share of
#: 0.728 these give an airflow of 0.72 to 0.86 of the full one, and condensing over outdoor air at about
#: 0.73 of that of full stage; both source ``stage_ratios``.  The rest is common practice without a source.
_IN_BOTH_MODES = {
    "ln_airflow": AtPartCapacity(-0.25, 0.28),
    "ln_fan": AtPartCapacity(-1.0, 1.0),
    "ln_blower": AtPartCapacity(1.1, 0.8),
    "ln_efficiency": AtPartCapacity(0.15, 0.25),
    "superheat": AtPartCapacity(0.0, 3.0),
    "subcooling": AtPartCapacity(3.0, 8.0),
}
AT_PART_CAPACITY: Mapping[str, Mapping[str, AtPartCapacity]] = MappingProxyType(
    {
        "cooling": MappingProxyType(
            {"ln_condenser": AtPartCapacity(-0.85, 0.30), "ln_transfer_units": AtPartCapacity(-0.34, 0.20)}
            | _IN_BOTH_MODES
        ),
        # The outdoor fan hardly slows down in low stage (common practice, no source).
        "heating": MappingProxyType(
            {
                "ln_outdoor_airflow": AtPartCapacity(-0.7, 0.40),
                "ln_outdoor_units": AtPartCapacity(0.0, 0.30),
                "ln_transfer_units": AtPartCapacity(-0.34, 0.20),
            }
            | _IN_BOTH_MODES
        ),
    }
)


@dataclass(frozen=True, slots=True)
class Unsettled:
    """What is not known about a unit's capacity, and how to find out; both are whole sentences."""

    reason: str
    remedy: str
    source: str = "stage_ratios"


#: By ``unit.capacity_control`` where nobody stated how the unit ran.
UNSETTLED: Mapping[str, Unsettled] = MappingProxyType(
    {
        "two_stage": Unsettled(
            "It is not known which stage ran, and in low stage a two-stage unit delivers about 0.73 of its full "
            "capacity for about 0.63 of the power.",
            "State which stage ran. If you do not know, call for full stage: set the thermostat several degrees from "
            "room temperature. Wait until the stage delay is over and the unit runs steadily, then read again.",
        ),
        "variable_speed": Unsettled(
            "A variable-speed unit chooses its own speed, superheat and subcooling, so its correct values are not "
            "known.",
            "Run it in the maker's test mode, wait until it reports that it is stable, read again, and "
            "state that it ran in test mode. Or state the speed that it displays.",
        ),
    }
)

#: By ``unit.capacity_control`` where the capacity of each run is known, and they differ.
OTHER_CAPACITY: Mapping[str, Unsettled] = MappingProxyType(
    {
        "two_stage": Unsettled(
            "The runs were not made in the same stage.",
            "Run the unit in full stage: set the thermostat several degrees from room temperature and wait until "
            "the stage delay is over. Then read again.",
        ),
        "variable_speed": Unsettled(
            "The runs were not made at the same speed.",
            "Run the unit in the maker's test mode, or at one speed that it displays, and read again.",
        ),
    }
)

#: Where one stage is stated for both runs, and the readings look like two.
STAGE_IN_DOUBT = Unsettled(
    "Power and capacity moved in step, as they do between full and low stage, although both runs are stated to be "
    "in one stage.",
    "Check which stage ran (the outdoor unit draws more current in full stage), then read again in one stage.",
)

#: What moves between the stages: quantities, the first that was read counts; the ratio of low to full stage; and by
#: how much its logarithm may differ (common practice, no source).  Source of the ratios ``stage_ratios``.
STAGE_CHANGE: tuple[tuple[tuple[str, ...], float, float], ...] = (
    (("outdoor_unit_power", "compressor_current"), 0.633, 0.22),
    (("cooling_capacity", "heating_capacity"), 0.728, 0.17),
)

#: Stages and speeds [%] that a diagnosis weighs where nobody stated them, with their prior probabilities: equal
#: for the stages, and evenly from a quarter of the capacity to a tenth above it.
STAGES: Mapping[Stage, float] = MappingProxyType({"low": 0.5, "high": 0.5})
SPEEDS: Mapping[Stage, float] = MappingProxyType({29.0: 0.10, 39.0: 0.135, 53.0: 0.185, 71.0: 0.245, 97.0: 0.335})

#: Standard deviation of a speed about the one weighed, as a share of it: half the distance of two.
BETWEEN_SPEEDS = 0.15

#: What a variable-speed unit sets for itself, beyond the spread of units of one speed: standard deviations of
#: the unit model's parameters (common practice, no source).
SET_BY_ITSELF: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "cooling": MappingProxyType(
            {"superheat": 2.5, "subcooling": 3.5, "ln_condenser": 0.15, "ln_transfer_units": 0.15, "ln_airflow": 0.20}
        ),
        "heating": MappingProxyType(
            {
                "superheat": 2.5,
                "subcooling": 3.5,
                "ln_outdoor_units": 0.15,
                "ln_transfer_units": 0.15,
                "ln_airflow": 0.20,
                "ln_outdoor_airflow": 0.20,
            }
        ),
    }
)

#: By how the unit ran, where that is stated but not all limits hold.
PARTLY_SETTLED: Mapping[Running, Unsettled] = MappingProxyType(
    {
        "low": Unsettled(
            "The unit ran in low stage. Targets for superheat and the temperature split are for full stage; so is "
            "the nameplate's subcooling, unless one for low stage is given.",
            "To apply these targets, run the unit in full stage and read again.",
        ),
        "test_mode": Unsettled(
            "The maker's test mode held the speed, at a capacity that only the maker's data give.",
            "Compare the capacity and the pressures with the maker's values for that mode.",
        ),
        "part_speed": Unsettled(
            "The unit ran at part speed, where no rating and no target applies.",
            "Run it in the maker's test mode or at full speed, and read again.",
        ),
    }
)
