"""Every derived quantity: its name, what it needs, how it is computed, where that comes from.

The one place to touch for a new derivation: a row in the module of its side.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

# Each fills the table; the order of the imports is the order of the answer.
# isort: off
from service.derive.derivations import refrigerant_side  # noqa: F401
from service.derive.derivations import table  # noqa: F401
from service.derive.derivations import charge  # noqa: F401
from service.derive.derivations import air_side  # noqa: F401
from service.derive.derivations import electrical_side  # noqa: F401
from service.derive.derivations import airflow  # noqa: F401
from service.derive.derivations import power  # noqa: F401
from service.derive.derivations import capacity  # noqa: F401
from service.derive.derivations import efficiency  # noqa: F401
from service.derive.derivations import heating  # noqa: F401

# isort: on
from service.derive.derivations.electrical_side import CAPACITOR_CURRENT
from service.derive.derivations.registry import (
    REGISTERED_DERIVATIONS,
    REGISTERED_QUANTITIES,
    Derivation,
    Quantity,
    UnitKind,
)

QUANTITIES: Mapping[str, Quantity] = MappingProxyType(REGISTERED_QUANTITIES)
DERIVATIONS: tuple[Derivation, ...] = tuple(REGISTERED_DERIVATIONS)

__all__ = [
    "CAPACITOR_CURRENT",
    "DERIVATIONS",
    "QUANTITIES",
    "Derivation",
    "Quantity",
    "UnitKind",
]
