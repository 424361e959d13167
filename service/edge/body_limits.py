"""Limits on what one body, or one line of a batch, may ask for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

from schemas.draws import Draws

#: No request of the contract is nested deeper than ten levels.
DEEPEST = 32
FEWEST_DRAWS, MOST_DRAWS = min(get_args(Draws)), max(get_args(Draws))


@dataclass(frozen=True, slots=True)
class BodyLimits:
    """How deeply it may be nested, and how many draws it may request."""

    depth: int = DEEPEST
    draws: int = MOST_DRAWS


USUAL = BodyLimits()
