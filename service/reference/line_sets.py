"""What the lines between the units add to the superheat that is read at the outdoor unit.

A heat balance of a 3/4 in. suction line 22 K colder than the air around, behind 0.06 kg/s of R-410A: 5 W/m
through half an inch of foam (20 W/m and dripping without), and a loss of pressure of 0.05 K of saturation
for each metre.  Common practice, no source.
"""

from __future__ import annotations

#: Length [m] of the lines that ratings and the usual superheat are for (25 ft).
USUAL_LENGTH = 7.6
#: Superheat gained [K/m], insulated and not.
SUPERHEAT_PER_METRE = {True: 0.10, False: 0.32}
#: Standard deviation of the superheat [K] where no length is stated: lines are 4 to 30 m long.
UNKNOWN_LINES = 1.0
#: Standard deviation of what a line adds over the usual one, as a share of it.
DOUBT = 0.5
