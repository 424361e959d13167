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

    ``limit`` is the largest change in five minutes that counts as steady, ``lag`` the time constant of the usual
    sensor [s]; ``least`` is the smallest jump that means something, as one limit or several.  A ``relative`` limit is
    a share of the value.
    """

    name: str
    limit: float
    lag: float
    relative: bool = False
    source: str = "steadiness_practice"


_ROWS = (
    # 1 °F of saturation temperature is 1.5 to 2 % of the absolute pressure of the usual refrigerants.
    Steady("pressure", 0.015, 1.0, relative=True),
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
    Steady("outdoor_air_dry_bulb", 2.0 * DEGF, 60.0),
    Steady("outdoor_air_wet_bulb", 2.0 * DEGF, 60.0),
    Steady("suction_saturation_temperature", 1.0 * DEGF, 1.0),
    Steady("liquid_saturation_temperature", 1.0 * DEGF, 1.0),
    # The shell of the compressor is slow and hot: 1 °F would never be steady.
    Steady("discharge_line_temperature", 2.0 * DEGF, 20.0),
    Steady("vapour_line_temperature", 2.0 * DEGF, 20.0),
)

STEADY: Mapping[str, Steady] = MappingProxyType({row.name: row for row in _ROWS})

#: Smallest relative limit, as a share of what readings of that kind usually are, is never below this many limits of a
#: display's step.
LEAST_STEPS = 3.0

#: Standard deviation of what room and weather do to a reading in five minutes, as a share of its limit: most visits
#: are steady by that measure once the start is over.
WEATHER = 0.35

#: How much wider than at a usual visit the start-up step of a log may be: a log may begin with the compressor, where
#: pressures come from rest.  The fast part takes most of that.
FAST_STEPS, SLOW_STEPS = 4.0, 1.0

#: Spread of time constants about their rows, as a standard deviation of the logarithm: sensors and shells add parts
#: of their own.
FAST_SPREAD, SLOW_SPREAD = 0.7, 0.45


def steady(reading: str, measured_as: str) -> Steady:
    """The row of a reading: its own, else that of its class."""
    return STEADY.get(reading) or STEADY[measured_as]
