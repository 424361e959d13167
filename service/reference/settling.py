"""What a start may have left in readings: how far they are from their settled values after some minutes.

A reading approaches its settled value as the sum of a fast and a slow exponential of the minutes since the
compressor started.  Readings of one ``group`` settle together.  Nobody knows the start-up step of a visit, or its
sign, so what is left is an error about zero, of the step's size times what both parts leave.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from math import exp, sqrt
from types import MappingProxyType
from typing import Literal

from service.reference.conditions import RUNNING_MINUTES

GroupName = Literal["low_side", "high_side", "suction_lines", "hot_lines", "indoor_air", "outdoor_air", "electrical"]
PartName = Literal["fast", "slow"]

#: Whose the error is, in ``variance_shares`` and ``uncertainty_from``.
SETTLING = "settling"


@dataclass(frozen=True, slots=True)
class Part:
    """One exponential: its ``share`` of the step with a standard deviation, and its time constant [min], evenly
    between ``shortest`` and ``longest``."""

    name: PartName
    share: float
    share_spread: float
    shortest: float
    longest: float
    source: str


@dataclass(frozen=True, slots=True)
class Group:
    """Readings that settle together, and how."""

    name: GroupName
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """The start-up step of a reading: a standard deviation over starts of all units [K, 1].

    A ``relative`` one is a share of the reading: of its absolute pressure, current, power.
    """

    reading: str
    group: GroupName
    size: float
    relative: bool = False
    source: str = "start_up_steps"


def _parts(slow: float) -> tuple[Part, ...]:
    return (
        Part("fast", 1.0 - slow, 0.1, 0.5, 2.0, "start_up_fast"),
        Part("slow", slow, 0.1, 3.0, 6.0, "start_up_slow"),
    )


GROUPS: Mapping[str, Group] = MappingProxyType(
    {
        row.name: row
        for row in (
            # At a start one side's pressure falls and the other's rises, so neither tells of the other.
            Group("low_side", _parts(0.3)),
            Group("high_side", _parts(0.3)),
            Group("suction_lines", _parts(0.3)),
            Group("hot_lines", _parts(0.3)),
            Group("indoor_air", _parts(0.3)),
            Group("outdoor_air", _parts(0.3)),
            # Current and power follow the pressures.
            Group("electrical", _parts(0.3)),
        )
    }
)

#: Air that enters the coils, voltages, static pressures, fans and capacitors do not wait for the refrigerant.
STEPS: Mapping[str, Step] = MappingProxyType(
    {
        row.reading: row
        for row in (
            Step("suction_pressure", "low_side", 0.15, relative=True),
            Step("suction_saturation_temperature", "low_side", 5.0),
            Step("liquid_pressure", "high_side", 0.15, relative=True),
            Step("liquid_saturation_temperature", "high_side", 5.0),
            Step("discharge_pressure", "high_side", 0.15, relative=True),
            Step("suction_line_temperature", "suction_lines", 6.0),
            Step("evaporator_outlet_temperature", "suction_lines", 6.0),
            Step("compressor_inlet_temperature", "suction_lines", 6.0),
            Step("liquid_line_temperature", "hot_lines", 5.0),
            Step("metering_device_inlet_temperature", "hot_lines", 5.0),
            # It starts at the temperature of the outdoor air, and the compressor's shell warms with it.
            Step("discharge_line_temperature", "hot_lines", 25.0),
            Step("vapour_line_temperature", "hot_lines", 25.0),
            Step("supply_air_dry_bulb", "indoor_air", 6.0),
            Step("supply_air_wet_bulb", "indoor_air", 4.0),
            Step("supply_air_relative_humidity", "indoor_air", 0.15),
            Step("condenser_leaving_air_dry_bulb", "outdoor_air", 6.0),
            Step("outdoor_coil_leaving_air_dry_bulb", "outdoor_air", 4.0),
            # The coil holds water before any drips from it.
            Step("condensate_rate", "indoor_air", 1.0, relative=True),
            Step("compressor_common_current", "electrical", 0.20, relative=True),
            Step("compressor_run_winding_current", "electrical", 0.20, relative=True),
            *(Step(f"compressor_line_currents.l{line}", "electrical", 0.20, relative=True) for line in (1, 2, 3)),
            Step("outdoor_unit_power", "electrical", 0.20, relative=True),
        )
    }
)

#: Share of the variance of what is left that two starts of one unit have in common: its step and its time constants
#: are the unit's, how it stood beforehand is the visit's.  Source ``start_up_steps``.
OF_THE_UNIT = 0.75

#: Share of the step below which a part counts as settled: less than a tenth of a kelvin in most readings.
#: Common practice ("settled to 1 %").
SETTLED = 0.01

#: Minutes of running at which readings are usually made, with their probabilities, where nobody stated them; source
#: ``usual_running_time``.
USUAL_MINUTES: tuple[tuple[float, float], ...] = (
    (3.0, 0.05),
    (5.0, 0.10),
    (8.0, 0.15),
    (10.0, 0.25),
    (15.0, 0.25),
    (20.0, 0.20),
)

#: What to do where this limits the readings most.
READ_AGAIN = (
    f"Read again once the unit has run {RUNNING_MINUTES:.0f} minutes. Settling after the start contributes most to the "
    "uncertainty of these readings."
)

#: Minutes up to which nothing can be judged: liquid and oil are still on their way; source ``start_up_fast``.
JUST_STARTED = 2.0

#: Steps of the integral over time constants.
_STEPS = 24


@dataclass(frozen=True, slots=True)
class Left:
    """What a part has left of the step [1]: its root mean square ``size``, and how much of that is ``alike`` at any
    visit for which as much is known of the minutes."""

    part: PartName
    size: float
    alike: float


def left(group: GroupName, minutes: float | None) -> tuple[Left, ...]:
    """What the parts of a group have left of the step after so many minutes (None: not stated); without those
    that have settled."""
    return tuple(one for part in GROUPS[group].parts if (one := _left(part, minutes)).size >= SETTLED)


@cache
def _usual(part: Part) -> Left:
    found = [(chance, _at(part, minutes).size) for minutes, chance in USUAL_MINUTES]
    mean = sum(chance * size for chance, size in found)
    return Left(part.name, sqrt(sum(chance * size**2 for chance, size in found)), mean)


@lru_cache(maxsize=1024)
def _left(part: Part, minutes: float | None) -> Left:
    return _usual(part) if minutes is None else _at(part, minutes)


def _at(part: Part, minutes: float) -> Left:
    width = (part.longest - part.shortest) / _STEPS
    constants = [part.shortest + width * (place + 0.5) for place in range(_STEPS)]
    square = (part.share**2 + part.share_spread**2) * sum(exp(-2.0 * minutes / one) for one in constants) / _STEPS
    return Left(part.name, sqrt(square), sqrt(square))
