"""What every request needs, loaded beforehand: by the application, and by each process of a batch."""

from __future__ import annotations

from service.physics import refrigerant_enthalpy
from service.reference.units import conversions
from service.uncertainty.low_discrepancy import MAXIMUM_DRAWS, sample


def warm_up() -> None:
    """Load it, so that the first request is as fast as the rest."""
    conversions()
    refrigerant_enthalpy.warm_up()
    sample(1024)
    sample(MAXIMUM_DRAWS)
