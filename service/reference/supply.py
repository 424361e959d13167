"""Supply systems behind a nameplate voltage.

A motor marked 230 V belongs on a nominal 240 V system (ANSI C84.1, table of nominal system
voltages and motor nameplate voltages; value from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

#: Nameplate voltage to nominal system voltage [V].
SYSTEM_VOLTAGES: Mapping[int, float] = MappingProxyType(
    {115: 120.0, 120: 120.0, 200: 208.0, 208: 208.0, 220: 240.0, 230: 240.0, 240: 240.0,
     460: 480.0, 480: 480.0, 575: 600.0, 600: 600.0}
)  # fmt: skip
