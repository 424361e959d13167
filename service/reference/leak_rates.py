"""Leak rates of refrigerant: warming potentials by their edition, and thresholds to know.  The one place to touch.

Thresholds are information.  They grade nothing, and whether one applies is for the law and the authority to say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from service.reference.line_contents import POUND
from service.reference.refrigerants import Refrigerant

#: Days of a year, as both methods count them.
YEAR_DAYS = 365.0


@dataclass(frozen=True, slots=True)
class PotentialSet:
    """Warming potentials over 100 years of one edition, by component [1]; ``name`` ends the name of what uses it."""

    name: str
    edition: str
    source: str
    values: Mapping[str, float]


POTENTIALS = (
    PotentialSet(
        "ar4",
        "IPCC AR4 (2007), the exchange values of the AIM Act",
        "gwp_ar4",
        MappingProxyType(
            {
                "R-22": 1810.0,
                "R-32": 675.0,
                "R-125": 3500.0,
                "R-134a": 1430.0,
                "R-143a": 4470.0,
                "R-1234yf": 4.0,
                "R-1234ze(E)": 7.0,
                "R-290": 3.3,
                "R-600": 4.0,
                "R-600a": 3.0,
                "R-601a": 5.0,
            }
        ),
    ),
    PotentialSet(
        "ar5",
        "IPCC AR5 (2013), without climate-carbon feedback",
        "gwp_ar5",
        MappingProxyType(
            {
                "R-22": 1760.0,
                "R-32": 677.0,
                "R-125": 3170.0,
                "R-134a": 1300.0,
                "R-143a": 4800.0,
                "R-1234yf": 1.0,
                "R-1234ze(E)": 1.0,
                "R-290": 3.0,
                "R-600": 4.0,
                "R-600a": 3.0,
                "R-601a": 5.0,
            }
        ),
    ),
    PotentialSet(
        "ar6",
        "IPCC AR6 (2021)",
        "gwp_ar6",
        MappingProxyType(
            {
                "R-22": 1960.0,
                "R-32": 771.0,
                "R-125": 3740.0,
                "R-134a": 1530.0,
                "R-143a": 5810.0,
                "R-1234yf": 0.5,
                "R-1234ze(E)": 1.37,
                "R-290": 0.02,
                "R-600": 0.01,
                "R-600a": 0.01,
                "R-601a": 0.01,
            }
        ),
    ),
)


def potential(refrigerant: Refrigerant, of: PotentialSet) -> float:
    """Warming potential of a refrigerant [1]: that of its components by mass."""
    return sum(share * of.values[name] for name, _, share in refrigerant.components)


#: Full charge from which the thresholds concern an appliance [kg]: 15 lb of a regulated substance or its substitutes,
#: 50 lb of one that depletes ozone; the warming potential (AR4) above which the first rule counts a refrigerant, and
#: components that deplete ozone; source ``leak_thresholds``.
REGULATED_FROM, OZONE_DEPLETING_FROM = 15.0 * POUND, 50.0 * POUND
REGULATED_POTENTIAL = 53.0
OZONE_DEPLETING = frozenset({"R-22"})
#: Mass added at once over the full charge [1] that is questioned; common practice, no source.
MOST_ADDED = 1.15


def regulated_from(refrigerant: Refrigerant | None) -> float | None:
    """Full charge from which the thresholds concern a refrigerant [kg]; None where neither rule counts it.

    An unknown refrigerant is taken for one of the first rule, which begins at less.
    """
    if refrigerant is None:
        return REGULATED_FROM
    if any(name in OZONE_DEPLETING for name, _, _ in refrigerant.components):
        return OZONE_DEPLETING_FROM
    return REGULATED_FROM if potential(refrigerant, POTENTIALS[0]) > REGULATED_POTENTIAL else None


@dataclass(frozen=True, slots=True)
class Threshold:
    """A threshold of a rule, as information: a share a year [1], and whom it concerns."""

    id: str
    rate: float
    concerns: str
    source: str


THRESHOLDS = (
    Threshold("comfort_cooling", 0.10, "comfort cooling", "leak_thresholds"),
    Threshold("commercial_refrigeration", 0.20, "commercial refrigeration", "leak_thresholds"),
    Threshold("industrial_process_refrigeration", 0.30, "industrial process refrigeration", "leak_thresholds"),
)
