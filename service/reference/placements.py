"""What a reading errs by because of where its probe sits, beside how it is set on each time.

The error lasts as long as the probe sits there, so between two visits with probes at the same spots it
cancels.  It is a share of the difference between what is read and what is around; temperatures in K.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal


@dataclass(frozen=True, slots=True)
class Spot:
    """A probe's place: ``share`` is a half-width if rectangular, else a standard deviation [1]."""

    name: str
    text: str
    share: float
    distribution: Literal["rectangular", "normal"]
    source: str


@dataclass(frozen=True, slots=True)
class Placement:
    """A ``reading`` errs by a spot's share of what the reading ``around`` has over it.

    ``usual`` is that difference where ``around`` was not read.  ``in_heating`` is what is around in heating,
    where that differs.
    """

    reading: str
    spot: str
    around: str
    usual: float
    in_heating: str = ""


#: A clamp errs to one side, from nothing to the most it may, but its number is left as read: an even spread
#: about that number holds the truth as often as stated where it is this much wider.
_ONE_SIDED = 1.2


def _clamp(line: str, most: float) -> Spot:
    return Spot(
        f"{line}_clamp",
        f"share of the air around in what a clamp on the {line.replace('_', ' ')} reads",
        _ONE_SIDED * most,
        "rectangular",
        "clamp_contact",
    )


#: The order is that of their dimensions in the sample: append, as another one changes the digits of all bands.
_SPOTS = (
    _clamp("metering_device_inlet", 0.02),
    Spot(
        "condenser_air",
        "share of the air's temperature rise by which one spot is off the mean",
        0.13,
        "normal",
        "spot_in_air",
    ),
    _clamp("evaporator_outlet", 0.02),
    _clamp("suction_line", 0.02),
    _clamp("liquid_line", 0.02),
    # The hottest line, in the fan's air.
    _clamp("discharge_line", 0.06),
    _clamp("compressor_inlet", 0.02),
    Spot(
        "supply_air",
        "share of return air by which one spot in the supply is off the mean",
        0.05,
        "normal",
        "spot_in_air",
    ),
    # As hot as the discharge line, and in the fan's air as well.
    _clamp("vapour_line", 0.06),
)
SPOTS: Mapping[str, Spot] = MappingProxyType({row.name: row for row in _SPOTS})

PLACEMENTS = (
    Placement("discharge_line_temperature", "discharge_line_clamp", "outdoor_air_dry_bulb", -40.0),
    Placement("suction_line_temperature", "suction_line_clamp", "outdoor_air_dry_bulb", 18.0),
    Placement("liquid_line_temperature", "liquid_line_clamp", "outdoor_air_dry_bulb", -6.0),
    Placement("compressor_inlet_temperature", "compressor_inlet_clamp", "outdoor_air_dry_bulb", 18.0),
    Placement(
        "evaporator_outlet_temperature", "evaporator_outlet_clamp", "return_air_dry_bulb", 14.0, "outdoor_air_dry_bulb"
    ),
    Placement(
        "metering_device_inlet_temperature",
        "metering_device_inlet_clamp",
        "return_air_dry_bulb",
        -12.0,
        "outdoor_air_dry_bulb",
    ),
    Placement("vapour_line_temperature", "vapour_line_clamp", "outdoor_air_dry_bulb", -55.0),
    Placement("condenser_leaving_air_dry_bulb", "condenser_air", "outdoor_air_dry_bulb", -10.0),
    Placement("outdoor_coil_leaving_air_dry_bulb", "condenser_air", "outdoor_air_dry_bulb", 4.0),
    # One spot, so one share for all that is read there.
    Placement("supply_air_dry_bulb", "supply_air", "return_air_dry_bulb", 11.0),
    Placement("supply_air_wet_bulb", "supply_air", "return_air_wet_bulb", 7.0),
    Placement("supply_air_relative_humidity", "supply_air", "return_air_relative_humidity", -0.4),
)
