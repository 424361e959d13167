"""States of the refrigerant and of the air that a visit's readings show, with their draws.

For pictures: the same derivations as the answer's, gathered as pairs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.derive.examined import Examined
from service.intake.paths import READING, SITE_PRESSURE
from service.physics import refrigerant_enthalpy

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Region:
    """Ellipse about a state, in first and ln second: ``(first, logarithm)`` plus ``(across cos t,
    slope cos t + up sin t)``."""

    first: float
    logarithm: float
    across: float
    slope: float
    up: float


@dataclass(frozen=True, slots=True)
class StateDraws:
    """One state as two properties, each of shape (N + 1,), nominal first; SI.

    For the refrigerant ``first`` is enthalpy and ``second`` absolute pressure, with the line temperature
    where one was read; for the air they are dry bulb and humidity ratio.
    """

    first: FloatArray
    second: FloatArray
    temperature: float | None = None

    def region(self) -> Region:
        """The ellipse of first and ln second that holds 95 % of the draws.

        Errors within limits reach less far than normal ones of the same spread, so the ellipse is as
        large as the draws say, and only its shape follows from their covariance.
        """
        first = self.first[1:] - self.first[0]
        second = np.log(self.second[1:]) - log(self.second[0])
        (a, b), (_, d) = np.cov(np.stack([first, second])).tolist()
        # Cholesky's factor of the covariance maps a circle onto the ellipse.
        across = sqrt(max(a, 0.0))
        slope = b / across if across > 0.0 else 0.0
        up = sqrt(max(d - slope**2, 0.0))
        u = first / across if across > 0.0 else np.zeros_like(first)
        v = (second - slope * u) / up if up > 0.0 else np.zeros_like(second)
        radius = float(np.quantile(np.hypot(u, v), 0.95))
        return Region(float(self.first[0]), log(self.second[0]), radius * across, radius * slope, radius * up)


#: States around the circuit, in the order of flow.
REFRIGERANT_STATES = ("suction", "discharge", "liquid", "evaporator_inlet")
AIR_STATES = ("return", "supply")


def refrigerant_states(examined: Examined) -> dict[str, StateDraws]:
    """What is known of the circuit: suction, discharge, liquid, evaporator inlet, in cooling or in heating.

    ``ideal_discharge`` replaces a discharge that was not read: gas compressed without any loss.  A
    state that its readings do not show (wet suction gas, a liquid line hotter than its bubble point) is
    missing.
    """
    values, leaves = examined.computed.as_read, examined.visit.leaves
    low, high = values.get("suction_pressure_absolute"), values.get("high_side_pressure_absolute")
    inlet, (liquid, *lines) = values.get("compressor_inlet_state"), _liquid(values)
    found: dict[str, StateDraws] = {}
    if low is not None and inlet is not None:
        found["suction"] = StateDraws(
            inlet.enthalpy,
            low,
            _read(leaves, "compressor_inlet_temperature", "suction_line_temperature"),
        )
    if high is not None and "discharge_enthalpy" in values:
        found["discharge"] = StateDraws(values["discharge_enthalpy"], high, _read(leaves, "discharge_line_temperature"))
    elif high is not None and inlet is not None and examined.visit.refrigerant is not None:
        phases = refrigerant_enthalpy.single_phase(examined.visit.refrigerant.designation)
        found["ideal_discharge"] = StateDraws(phases.enthalpy_at_entropy(high, inlet.entropy), high)
    if high is not None and liquid is not None:
        found["liquid"] = StateDraws(
            liquid,
            high,
            _read(leaves, *lines),
        )
        if low is not None:
            found["evaporator_inlet"] = StateDraws(liquid, low)
    return {
        name: state
        for name, state in found.items()
        if np.isfinite(state.first).all() and np.isfinite(state.second).all()
    }


def _liquid(values: Mapping[str, Any]) -> tuple[Any, str, str]:
    """Enthalpy of the liquid, None where it is not known, and the lines that may show it, nearest to the coil that
    condenses in heating, to the metering device in cooling."""
    if "condenser_outlet_enthalpy" in values:
        return values["condenser_outlet_enthalpy"], "liquid_line_temperature", "metering_device_inlet_temperature"
    return values.get("liquid_enthalpy"), "metering_device_inlet_temperature", "liquid_line_temperature"


def air_states(examined: Examined) -> dict[str, StateDraws]:
    """Return and supply air where dry bulb and humidity are known, and no draw is bone dry.

    A wet bulb so far below its dry bulb that some draws would have a negative humidity shows no state.
    """
    leaves, values = examined.visit.leaves, examined.computed.shown
    found = {}
    for side in AIR_STATES:
        dry, ratio = (
            leaves.get(f"{READING}{side}_air_dry_bulb"),
            values.get(f"{side}_air_humidity_ratio"),
        )
        if dry is not None and ratio is not None and bool((ratio > 0.0).all()):
            found[side] = StateDraws(np.asarray(dry), ratio, float(np.asarray(dry).flat[0]))
    return found


def dry_only(examined: Examined) -> dict[str, float]:
    """Dry bulbs [K] of the sides of the indoor coil whose humidity is not known."""
    known = air_states(examined)
    found = {side: _read(examined.visit.leaves, f"{side}_air_dry_bulb") for side in AIR_STATES}
    return {side: dry for side, dry in found.items() if dry is not None and side not in known}


def site_pressure(examined: Examined) -> float:
    """Air pressure at the site [Pa]."""
    return float(np.asarray(examined.visit.leaves[SITE_PRESSURE]).flat[0])


def _read(leaves: Mapping[str, object], *names: str) -> float | None:
    for name in names:
        if READING + name in leaves:
            return float(np.asarray(leaves[READING + name], dtype=np.float64).flat[0])
    return None
