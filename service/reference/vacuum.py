"""What is assumed about a standing vacuum: the one place to touch.  SI units.

No public data on rises of split systems was available: priors and spreads are common practice, wide for that reason
(source ``vacuum_rise_practice``).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

MICRON = 0.133322387415

#: Probability beforehand of each explanation.
PRIORS: Mapping[str, float] = MappingProxyType(
    {"leak": 1.0 / 3.0, "drying": 1.0 / 3.0, "leak_and_drying": 1.0 / 6.0, "holds": 1.0 / 6.0}
)
#: Time constants of drying and outgassing [s]; each equally probable in its logarithm.
TIME_CONSTANTS = (30.0, 14_400.0)
#: Largest rise over a test that is looked for [Pa]; smaller ones are equally probable.
LARGEST_RISE = 5000.0 * MICRON
#: Standard deviation of a reading around a smooth rise, as a share of it: the scale of a thermal gauge is not straight.
SCATTER = 0.02
#: Relative standard deviation of a plateau against the saturation pressure of water: gauge and temperature.
PLATEAU_SPREAD = 0.12
#: Share of the saturation pressure from which a plateau may be free water.
FREE_WATER = 0.7
#: Probability from which an explanation is named as found, as for faults.
NAMED_FROM = 0.90
#: Factors on the length of a test that are tried for when the explanations come apart.
LONGER = (1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 9.0)
#: Length of a test [s] after which the pressure is compared with the usual limits.
JUDGED_FROM = 600.0
#: Shortest test [s] that is not remarked on.
SHORT_TEST = 300.0
