"""Which units' capacity is known from their rating, and what to do about the others.

A rating, a charging target and the unit model describe one capacity.  A two-stage unit in low stage moves
0.728 of its full capacity for 0.633 of the power; a variable-speed one anything from a quarter upward; so
nothing that compares with the rating, or two runs with each other, holds until that is settled.  Source
``stage_ratios``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

#: Units whose capacity under given conditions is the machine's, not its controller's choice.
FIXED_CAPACITY = ("single_speed",)


@dataclass(frozen=True, slots=True)
class Unsettled:
    """Why the capacity of a kind of unit is not known, and how to find it; both are whole sentences."""

    reason: str
    remedy: str
    source: str


UNSETTLED: Mapping[str, Unsettled] = MappingProxyType(
    {
        "two_stage": Unsettled(
            "The stage that ran is not known, and in low stage a two-stage unit delivers about 0.73 of its full "
            "capacity at about 0.63 of the power.",
            "Call for full stage at the thermostat (set it several degrees from room temperature), wait "
            "until the stage delay is over and the unit runs steadily, and read again. Readings of a run "
            "held in full stage may be given as those of a single-speed unit.",
            "stage_ratios",
        ),
        "variable_speed": Unsettled(
            "A variable-speed unit chooses its own speed, superheat and subcooling, so the values that it should "
            "show are not known.",
            "Run it in the maker's test mode, wait until it reports that it is stable, and compare the "
            "readings with the maker's own values for that mode.",
            "stage_ratios",
        ),
    }
)
