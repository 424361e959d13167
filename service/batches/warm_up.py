"""What every computing process loads once, before the first visit."""

from __future__ import annotations

from service.physics import nitrogen, refrigerant_enthalpy
from service.reference.units import conversions
from service.uncertainty.low_discrepancy import DEFAULT_DRAWS, MAXIMUM_DRAWS, sample


def warm_up() -> None:
    """Load what every request needs, so that the first is as fast as the others."""
    conversions()
    refrigerant_enthalpy.warm_up()
    nitrogen.warm_up()
    sample(DEFAULT_DRAWS)
    sample(MAXIMUM_DRAWS)
