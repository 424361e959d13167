"""Heat of air: the constants that moist air, coils and known heats share."""

from __future__ import annotations

#: Specific heats of dry air and of water vapour [J/(kg K)] and heat of vaporisation at 0 °C [J/kg]:
#: ASHRAE Fundamentals 2017, chapter 1, equation 30.
DRY_AIR_HEAT = 1006.0
VAPOUR_HEAT = 1860.0
VAPORISATION_HEAT = 2.501e6
#: Specific heat [J/(kg K)] of room air for each kilogram of dry air: the two above at a humidity ratio of
#: 0.0086, about that of 75 °F and 47 % (the humidity ratio is common practice, no source).
ROOM_AIR_HEAT = 1022.0
#: Humidity ratio of outdoor air where none was read [1]: half a part in a hundred of volume and heat either
#: way (common practice, no source).
USUAL_HUMIDITY_RATIO = 0.010
#: What the moisture of heated air adds to its specific heat [J/(kg K)]: a humidity ratio of 0.008 (common
#: practice, no source).
HEATED_MOISTURE_HEAT = 15.0
