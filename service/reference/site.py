"""Air pressure at the site."""

from __future__ import annotations

#: Standard atmosphere at sea level [Pa], ASHRAE Fundamentals 2017 ch. 1.
STANDARD_PRESSURE = 101_325.0

#: Weather's standard deviation of station pressure [Pa]; see the source ``weather_pressure``.
WEATHER_PRESSURE_DEVIATION = 700.0

#: Inhabited altitudes [m].
ALTITUDE_RANGE = (-430.0, 5500.0)

#: Air pressures that go with those altitudes, with weather [Pa].
BAROMETRIC_RANGE = (48_000.0, 110_000.0)
