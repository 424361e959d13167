"""Air pressure at the site."""

from __future__ import annotations

from service.intake.entry import Entry
from service.intake.paths import SITE_PRESSURE
from service.intake.readings import Measured, with_errors
from service.intake.refusals import pointer
from service.physics.moist_air import standard_atmosphere_pressure
from service.reference.site import (
    ALTITUDE_RANGE,
    BAROMETRIC_RANGE,
    STANDARD_PRESSURE,
    WEATHER_PRESSURE_DEVIATION,
)
from service.uncertainty.error_terms import ErrorTerm, site_pressure_dimension

WEATHER = "site: air pressure"


def take_site(entry: Entry) -> None:
    """As read, else from the altitude, else sea level."""
    site = entry.request.site
    stated = None
    if site.altitude is not None:
        altitude = entry.to_si(site.altitude, "altitude")
        if not entry.inside(altitude, ALTITUDE_RANGE, "altitude", pointer("site", "altitude"), site.altitude):
            return
        stated = float(standard_atmosphere_pressure(altitude))
    if site.barometric_pressure is not None:
        where = pointer("site", "barometric_pressure")
        value = entry.to_si(site.barometric_pressure, "absolute_pressure")
        entry.stated_altitude_pressure = stated
        if entry.inside(value, BAROMETRIC_RANGE, "absolute_pressure", where, site.barometric_pressure):
            named = getattr(site.barometric_pressure, "instrument", None)
            read = Measured("barometric_pressure", "absolute_pressure", "absolute_pressure", value, named, where)
            with_errors(entry, read, leaf=SITE_PRESSURE, shown="site.barometric_pressure")
        return
    pressure, shown = STANDARD_PRESSURE, "site.altitude"
    if stated is not None:
        pressure = stated
    else:
        entry.assumed_sea_level = True
        shown = "assumed: sea level"
    term = ErrorTerm(site_pressure_dimension(), "normal", WEATHER_PRESSURE_DEVIATION)
    entry.leaves.register(SITE_PRESSURE, pressure, (term,), WEATHER, (shown,))
