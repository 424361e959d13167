"""Which form of an answer `Accept` asks for, and which coding `Accept-Encoding` (RFC 9110, 12.5)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import TypeVar

_Form = TypeVar("_Form", bound=str)


def chosen(accept: str | None, offered: Mapping[str, _Form], default: _Form) -> _Form:
    """The form of the preferred media type among those offered.

    ``offered`` maps media types to forms, the first preferred among equal weights.  Of the ranges that match a
    type, the most specific counts.  If nothing offered is accepted, the result is ``default``: an answer in
    another form serves better than none.
    """
    ranges = _ranges(accept or "")
    weights = []
    for place, (media_type, form) in enumerate(offered.items()):
        wider = (media_type, media_type.split("/")[0] + "/*", "*/*")
        weight = next((ranges[one] for one in wider if one in ranges), 0.0)
        if weight > 0.0:
            weights.append((-weight, place, form))
    return min(weights)[2] if weights else default


def chosen_coding(accept_encoding: str | None, offered: Sequence[str], default: str) -> str:
    """The preferred content coding among those offered, the first among equal weights.

    ``default`` is the coding that needs no request: it is chosen if nothing offered is accepted, or if it is
    preferred by name.
    """
    weights = _ranges(accept_encoding or "")
    asked = {coding: weights.get(coding, weights.get("*", 0.0)) for coding in offered}
    best = max(asked, key=lambda coding: asked[coding])
    return best if asked[best] > 0.0 and asked[best] >= weights.get(default, 0.0) else default


def _ranges(accept: str) -> dict[str, float]:
    """Media ranges, or codings, with their weights; an unreadable weight is 0."""
    found = {}
    for part in accept.lower().split(","):
        media_range, *parameters = (piece.strip() for piece in part.split(";"))
        weight = 1.0
        for parameter in parameters:
            name, _, value = parameter.partition("=")
            if name.strip() == "q":
                try:
                    weight = float(value)
                except ValueError:
                    weight = 0.0
        if media_range:
            found[media_range] = weight if isfinite(weight) else 0.0
    return found
