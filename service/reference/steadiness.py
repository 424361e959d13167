"""What counts as steady in a log, and what is known of a logged reading before it is read.  SI.

All of it common practice unless a row says otherwise: documents state tolerances of laboratory tests, not of visits.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from service.reference.conditions import DEGF


@dataclass(frozen=True, slots=True)
class Steady:
    """Readings of a class (``measured_as``) or of one name.

    ``limit`` is the largest change in five minutes that counts as steady, a share of the value where ``relative``;
    ``lag`` is the time constant of the usual sensor [s], ``jump`` the smallest sudden change that means something,
    in limits.
    """

    name: str
    limit: float
    lag: float
    relative: bool = False
    jump: float = 3.0
    source: str = "steadiness_practice"


_ROWS = (
    # 1 °F of saturation temperature is 1.5 to 2 % of the absolute pressure of the usual refrigerants.
    Steady("pressure", 0.015, 1.0, relative=True, jump=2.0),
    Steady("line_temperature", 1.0 * DEGF, 20.0),
    Steady("air_temperature", 1.0 * DEGF, 60.0),
    Steady("wet_bulb", 1.0 * DEGF, 60.0),
    Steady("relative_humidity", 0.02, 60.0),
    Steady("current", 0.02, 2.0, relative=True),
    Steady("voltage", 0.02, 1.0, relative=True),
    Steady("power", 0.02, 2.0, relative=True),
    Steady("ratio", 0.02, 2.0, relative=True),
    Steady("static_pressure", 0.05, 2.0, relative=True),
    Steady("airflow", 0.05, 2.0, relative=True),
    Steady("condensate_rate", 0.10, 60.0, relative=True),
    Steady("heat_flow", 0.05, 60.0, relative=True),
    Steady("return_air_dry_bulb", 1.0 * DEGF, 60.0, jump=2.0),
    Steady("room_air_dry_bulb", 1.0 * DEGF, 60.0, jump=2.0),
    Steady("outdoor_air_dry_bulb", 2.0 * DEGF, 60.0, jump=2.0),
    Steady("outdoor_air_wet_bulb", 2.0 * DEGF, 60.0, jump=2.0),
    Steady("suction_saturation_temperature", 1.0 * DEGF, 1.0),
    Steady("liquid_saturation_temperature", 1.0 * DEGF, 1.0),
    # The shell of the compressor is slow and hot: 1 °F would never be steady.
    Steady("discharge_line_temperature", 2.0 * DEGF, 20.0),
    Steady("vapour_line_temperature", 2.0 * DEGF, 20.0),
)

STEADY: Mapping[str, Steady] = MappingProxyType({row.name: row for row in _ROWS})

#: A limit is never below so many steps of the display.
LEAST_STEPS = 3.0

#: Values that are judged like readings: superheat and subcooling, 2 °F in five minutes.
OF_DERIVED = 2.0 * DEGF

#: Standard deviation of what room and weather do to a reading in five minutes, as a share of its limit: most visits
#: are steady by that measure once the start is over.
WEATHER = 0.33

#: How much wider than at a usual visit the start-up step of a log may be: a log may begin with the compressor, where
#: pressures come from rest.  The fast part takes most of that.
FAST_STEPS, SLOW_STEPS = 3.0, 0.55

#: Spread of time constants about their rows, as a standard deviation of the logarithm: sensors and shells add parts
#: of their own.
FAST_SPREAD, SLOW_SPREAD = 0.7, 0.4


#: What a reading shows of the unit in a log; others go by their class.
INPUTS = (
    "outdoor_unit_power",
    "compressor_common_current",
    "compressor_run_winding_current",
    "compressor_line_currents.l1",
    "compressor_line_currents.l2",
    "compressor_line_currents.l3",
)
HIGH_SIDE = ("liquid_pressure", "discharge_pressure", "liquid_saturation_temperature")
LOW_SIDE = ("suction_pressure", "suction_saturation_temperature")
ROOM_AIR = ("return_air_dry_bulb", "return_air_wet_bulb", "return_air_relative_humidity", "room_air_dry_bulb")

#: A log of a long run is used over its last half hour [s]: room and weather drift beyond that.
LONGEST_WINDOW = 1800.0
#: After a start, a stage step or a defrost the first minute is left out [s]: liquid and sensors are on their way.
FIRST_MINUTE = 60.0
#: Running for so long a stretch is as good as any [s].
LONG_ENOUGH = 900.0

#: Half a swing of superheat from which it is reported as hunting [K].
HUNTS = 2.0 * DEGF

#: A run shorter than this is a short cycle [s]; source ``short_cycle``.
SHORT_RUN = 300.0

#: Periods of a hunting valve [s], and how many whole ones its mean is taken over; source ``hunting_valve``.
HUNTING_PERIODS = (50.0, 315.0)
WHOLE_PERIODS = 3


def steady(reading: str, measured_as: str) -> Steady:
    """The row of a reading: its own, else that of its class."""
    return STEADY.get(reading) or STEADY[measured_as]
