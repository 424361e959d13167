"""Metering devices by how they feed the evaporator: the one place that groups them.

A valve sets its opening by the superheat, so the charge shows in the subcooling.  A fixed device has one
opening, so the charge shows in the superheat (source ``ra3_target_superheat``).
"""

from __future__ import annotations

#: Valve with a sensing bulb, and valve driven by a controller.
THERMOSTATIC, ELECTRONIC = "thermostatic_expansion_valve", "electronic_expansion_valve"
EXPANSION_VALVES = (THERMOSTATIC, ELECTRONIC)
FIXED_DEVICES = ("fixed_orifice", "capillary_tube")
