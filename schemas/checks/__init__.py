"""`POST /v1/checks/{check}`: tests with the unit off, one module a check.

The one table of the checks of the contract; ``service/checks/registry.py`` has what answers each.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from schemas.checks.air_delivery import AirDeliveryRequest
from schemas.checks.charge_by_weight import ChargeByWeightRequest
from schemas.checks.common import CheckAnswer, CheckRequest
from schemas.checks.leak_rate import LeakRateRequest
from schemas.checks.motor import MotorRequest
from schemas.checks.pressure_at_rest import PressureAtRestRequest
from schemas.checks.pressure_hold import PressureHoldRequest
from schemas.checks.vacuum_rise import VacuumRiseRequest

#: The body of each check, by its name in the address.
CHECKS: Mapping[str, type[CheckRequest]] = MappingProxyType(
    {
        "pressure-hold": PressureHoldRequest,
        "charge-by-weight": ChargeByWeightRequest,
        "motor": MotorRequest,
        "air-delivery": AirDeliveryRequest,
        "vacuum-rise": VacuumRiseRequest,
        "pressure-at-rest": PressureAtRestRequest,
        "leak-rate": LeakRateRequest,
    }
)

__all__ = ["CHECKS", "CheckAnswer", "CheckRequest"]
