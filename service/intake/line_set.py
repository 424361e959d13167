"""What is assumed about a suction line from its length and insulation."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.intake.paths import LINE_SET
from service.reference.line_sets import DOUBT, SUPERHEAT_PER_METRE, UNKNOWN_LINES, USUAL_LENGTH


def superheat_of_lines(leaves: Mapping[str, Any]) -> tuple[float, float]:
    """Superheat at the outdoor unit that a line set adds compared with a usual one: mean and spread [K]."""
    if LINE_SET + "length" not in leaves:
        return 0.0, UNKNOWN_LINES
    length = leaves[LINE_SET + "length"]
    gain = SUPERHEAT_PER_METRE[leaves.get(LINE_SET + "insulated", True)] * length
    added = gain - SUPERHEAT_PER_METRE[True] * USUAL_LENGTH
    return added, DOUBT * abs(added)
