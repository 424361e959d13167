"""What a reading can be on a unit of this kind while it runs: bounds in its rating, and windows of temperatures.

A reading outside its bounds is wrong, mostly in its unit, and is left out.  Bounds are wide: they hold for a unit in
bad condition too, at any stage or speed.  SI.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from service.reference.conditions import CFM_PER_TON, CREDIBLE, CREDIBLE_IN_HEATING, DEGF, PLAUSIBLE

Window = tuple[float, float]


@dataclass(frozen=True, slots=True)
class BoundRow:
    """What a reading lies between, as a factor on the first value known of those that it goes with (``of``), else by
    itself [SI]; ``kind`` is that of those values, ``hint`` the usual cause."""

    reading: str
    low: float
    high: float
    of: tuple[str, ...] = ()
    kind: str = ""
    hint: str = ""
    source: str = "credible_readings"


_CAPACITY = ("unit.rated.season_capacity", "unit.rated.season_heating_capacity")
_INCH_OF_WATER = 249.0889

#: All are common practice without a source.  Ducted units are run at 250 to 500 cfm a ton, a blocked coil at 100.
#: Units draw 0.2 to 0.5 W per watt of rated capacity outdoors, a twentieth of that at their lowest speed; blowers 0.02
#: to 0.08, with strips up to 1.5.  A locked rotor draws 4 to 8 times the rated amps.  All capacity as condensate
#: would be 0.41 g/s per kW.
_ROWS = (
    BoundRow("airflow", 40.0 * CFM_PER_TON, 1500.0 * CFM_PER_TON, _CAPACITY, "heat_flow"),
    BoundRow("condenser_airflow", 60.0 * CFM_PER_TON, 5000.0 * CFM_PER_TON, _CAPACITY, "heat_flow"),
    BoundRow("outdoor_unit_power", 0.005, 1.5, _CAPACITY, "heat_flow"),
    BoundRow("outdoor_unit_power", 20.0, 200_000.0),
    BoundRow("indoor_unit_power", 0.001, 3.0, _CAPACITY, "heat_flow"),
    BoundRow("condensate_rate", 0.0, 8e-7, _CAPACITY[:1], "heat_flow"),
    BoundRow("compressor_common_current", 0.0, 10.0, ("unit.nameplate.compressor_rated_load_amps",), "current"),
    BoundRow("compressor_run_winding_current", 0.0, 10.0, ("unit.nameplate.compressor_rated_load_amps",), "current"),
    BoundRow("outdoor_fan_current", 0.0, 10.0, ("unit.nameplate.outdoor_fan_full_load_amps",), "current"),
    BoundRow("indoor_blower_current", 0.0, 10.0, ("unit.nameplate.indoor_blower_full_load_amps",), "current"),
    BoundRow("line_voltage", 0.0, 3.0, ("unit.nameplate.voltage",), "voltage"),
    # A blower that moves air shows more than this at its unit, and none of a comfort system more than the second.
    BoundRow("total_external_static_pressure", 1.25, 4.0 * _INCH_OF_WATER),
    BoundRow("coil_pressure_drop", 0.5, 4.0 * _INCH_OF_WATER),
    BoundRow("filter_pressure_drop", 0.0, 4.0 * _INCH_OF_WATER),
    *(
        BoundRow(f"{side}_air_relative_humidity", 0.015, 1.0, hint="Was it given as a fraction?")
        for side in ("return", "supply", "outdoor")
    ),
)

BOUNDS: Mapping[str, tuple[BoundRow, ...]] = MappingProxyType(
    {row.reading: tuple(other for other in _ROWS if other.reading == row.reading) for row in _ROWS}
)


@dataclass(frozen=True, slots=True)
class WindowRow:
    """Where a temperature, or its difference from a ``lower`` one, usually is, and outside which it is not possible on
    a unit that runs [K].

    Temperatures are readings; ``evaporating`` and ``condensing`` are those of the pressures.
    """

    name: str
    usual: Window
    possible: Window
    lower: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """The temperatures that it judges."""
        return (self.name, self.lower) if self.lower else (self.name,)


def _degf(name: str, usual: Window, possible: Window) -> WindowRow:
    inside, outside = (tuple((end - 32.0) * DEGF + 273.15 for end in one) for one in (usual, possible))
    return WindowRow(name, inside, outside)  # type: ignore[arg-type]


#: By mode; source ``credible_readings``, those of the refrigerant ``plausible_windows``.
WINDOWS: Mapping[str, tuple[WindowRow, ...]] = MappingProxyType(
    {
        "cooling": (
            _degf("return_air_dry_bulb", (60.0, 95.0), (50.0, 110.0)),
            _degf("return_air_wet_bulb", (45.0, 80.0), (28.0, 90.0)),
            _degf("supply_air_dry_bulb", (40.0, 80.0), (33.0, 105.0)),
            _degf("supply_air_wet_bulb", (38.0, 75.0), (26.0, 90.0)),
            _degf("outdoor_air_dry_bulb", (58.0, 120.0), (40.0, 130.0)),
            _degf("condenser_leaving_air_dry_bulb", (65.0, 150.0), (45.0, 170.0)),
            _degf("suction_line_temperature", (30.0, 90.0), (0.0, 125.0)),
            _degf("evaporator_outlet_temperature", (30.0, 80.0), (0.0, 110.0)),
            _degf("compressor_inlet_temperature", (30.0, 95.0), (0.0, 130.0)),
            _degf("liquid_line_temperature", (65.0, 135.0), (50.0, 155.0)),
            _degf("metering_device_inlet_temperature", (60.0, 135.0), (45.0, 155.0)),
            _degf("discharge_line_temperature", (115.0, 260.0), (85.0, 320.0)),
            _degf("suction_saturation_temperature", (22.0, 62.0), (-20.0, 95.0)),
            _degf("liquid_saturation_temperature", (75.0, 140.0), (60.0, 165.0)),
            WindowRow("suction_line_temperature", PLAUSIBLE["superheat"], CREDIBLE["superheat"], "evaporating"),
            WindowRow("condensing", PLAUSIBLE["subcooling"], CREDIBLE["subcooling"], "liquid_line_temperature"),
            WindowRow(
                "condensing",
                PLAUSIBLE["condensing_temperature_over_ambient"],
                CREDIBLE["condensing_temperature_over_ambient"],
                "outdoor_air_dry_bulb",
            ),
            WindowRow(
                "return_air_dry_bulb",
                PLAUSIBLE["evaporating_temperature_under_return_air"],
                CREDIBLE["evaporating_temperature_under_return_air"],
                "evaporating",
            ),
            # A clamp that hardly touches the pipe, or liquid that floods through, reads a little low.
            WindowRow("discharge_line_temperature", (5.0, 42.0), (-12.0, 90.0), "condensing"),
            WindowRow("return_air_dry_bulb", (-1.0, 17.0), (-8.0, 25.0), "supply_air_dry_bulb"),
            WindowRow("return_air_dry_bulb", (-1.0, 15.0), (-3.0, 20.0), "return_air_wet_bulb"),
            WindowRow("supply_air_dry_bulb", (-1.0, 25.0), (-6.0, 45.0), "evaporating"),
            WindowRow("liquid_line_temperature", (-1.0, 25.0), (-10.0, 45.0), "outdoor_air_dry_bulb"),
        ),
        "heating": (
            _degf("return_air_dry_bulb", (55.0, 80.0), (32.0, 100.0)),
            _degf("supply_air_dry_bulb", (75.0, 130.0), (45.0, 200.0)),
            _degf("outdoor_air_dry_bulb", (-15.0, 65.0), (-40.0, 90.0)),
            _degf("outdoor_air_wet_bulb", (-15.0, 62.0), (-40.0, 85.0)),
            _degf("outdoor_coil_leaving_air_dry_bulb", (-25.0, 62.0), (-50.0, 85.0)),
            _degf("suction_line_temperature", (-25.0, 70.0), (-60.0, 200.0)),
            _degf("vapour_line_temperature", (95.0, 220.0), (75.0, 280.0)),
            _degf("liquid_line_temperature", (60.0, 120.0), (40.0, 145.0)),
            # Makers print discharge lines below the condensing temperature in the cold (source ``cold_discharge``).
            _degf("discharge_line_temperature", (60.0, 260.0), (50.0, 320.0)),
            _degf("suction_saturation_temperature", (-30.0, 58.0), (-60.0, 120.0)),
            _degf("liquid_saturation_temperature", (75.0, 135.0), (55.0, 165.0)),
            WindowRow("suction_line_temperature", (-2.0, 28.0), CREDIBLE_IN_HEATING["superheat"], "evaporating"),
            WindowRow("condensing", (-2.0, 30.0), CREDIBLE_IN_HEATING["subcooling"], "liquid_line_temperature"),
            WindowRow(
                "condensing",
                (2.0, 45.0),
                CREDIBLE_IN_HEATING["condensing_temperature_over_return_air"],
                "return_air_dry_bulb",
            ),
            WindowRow(
                "outdoor_air_dry_bulb",
                (-1.0, 25.0),
                CREDIBLE_IN_HEATING["evaporating_temperature_under_outdoor_air"],
                "evaporating",
            ),
            WindowRow("discharge_line_temperature", (-15.0, 60.0), (-25.0, 100.0), "condensing"),
            WindowRow("supply_air_dry_bulb", (0.0, 35.0), (-8.0, 80.0), "return_air_dry_bulb"),
        ),
    }
)

#: Readings that one instrument usually makes, so that one wrong setting moves them together.
ALIKE = (
    (
        "suction_line_temperature",
        "evaporator_outlet_temperature",
        "compressor_inlet_temperature",
        "liquid_line_temperature",
        "metering_device_inlet_temperature",
        "discharge_line_temperature",
        "vapour_line_temperature",
    ),
    (
        "return_air_dry_bulb",
        "return_air_wet_bulb",
        "supply_air_dry_bulb",
        "supply_air_wet_bulb",
        "outdoor_air_dry_bulb",
        "outdoor_air_wet_bulb",
        "condenser_leaving_air_dry_bulb",
        "outdoor_coil_leaving_air_dry_bulb",
    ),
)

#: How many temperatures must be impossible as taken, beyond those that are unusual in the other unit, before all of
#: them count as typed in the other unit: a cold house alone makes one.
FEWEST_IMPOSSIBLE = 2
#: How many of the windows that concern a part of the temperatures must be left, where none is impossible.
FEWEST_UNUSUAL = 2
