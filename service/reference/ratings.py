"""How a unit's ratings tell its efficiency at 95 °F outdoors, and what its line set adds.

A nameplate seldom carries an EER, so it is estimated from what is given.  Efficiencies in W/W, spreads
are standard deviations.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from service.reference.healthy_units import RATED_EFFICIENCY


@dataclass(frozen=True, slots=True)
class EfficiencyRating:
    """A rating that an EER may be estimated from.

    ``share`` is the rating over what it is by the test procedure before 2023, of a ducted unit; of a
    ductless one the two are alike.  A ``seasonal`` one is brought to 95 °F by SEASONAL_TO_EER.
    ``spread`` is that of the logarithm of the new unit's EER about the estimate.
    """

    name: str
    spread: float
    source: str
    share: float = 1.0
    seasonal: bool = False


_ROWS = (
    # Best first.
    EfficiencyRating("eer", RATED_EFFICIENCY, "ahri_210"),
    EfficiencyRating("eer2", 0.055, "appendix_m1", share=0.957),
    EfficiencyRating("seer", 0.075, "seer_to_eer", seasonal=True),
    EfficiencyRating("seer2", 0.080, "seer_to_eer", share=0.954, seasonal=True),
)
EFFICIENCY_RATINGS: Mapping[str, EfficiencyRating] = MappingProxyType({r.name: r for r in _ROWS})

#: Seasonal ratings in heating, best first, with their share of what they are by the test procedure before 2023, of a
#: ducted unit (0.85: value from memory; of a ductless one the two are alike).
HSPF_RATINGS: Mapping[str, float] = MappingProxyType({"hspf": 1.0, "hspf2": 0.85})
#: Coefficient of performance at 47 °F = first + second * HSPF in Btu/(W h) (source ``hspf_to_cop``), the spread of its
#: logarithm, and the HSPF for which it holds of single-speed units (the last two: common practice, no source).
COP_OF_HSPF = (0.9099, 0.3225)
COP_OF_HSPF_SPREAD = 0.10
HSPF_RANGE = (6.0, 10.5)
#: EER = first * SEER + second * SEER², both in Btu/(W h), of single-speed units; source ``seer_to_eer``.
SEASONAL_TO_EER = (1.12, -0.02)
#: SEER [Btu/(W h)] for which it holds: single-speed units end near the upper one (common practice, no
#: source).
SEASONAL_RANGE = (6.0, 20.0)
