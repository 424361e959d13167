"""Which form of an answer `Accept` asks for, and which coding `Accept-Encoding` (RFC 9110, 12.5)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite


def chosen(accept: str | None, offered: Mapping[str, str], default: str) -> str:
    """The form of the media type that is preferred among those offered.

    ``offered`` maps media types to forms, the first preferred where all weigh the same.  Of the ranges
    that match a type the most specific counts.  Where nothing that is offered is asked for the default
    is given: an answer in another form serves better than none.
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
    """The content coding that is preferred among those offered, the first where several weigh the same.

    ``default`` is to be had without being asked for: it is given where nothing offered is asked for, or
    where it is preferred by name.
    """
    weights = _ranges(accept_encoding or "")
    asked = {coding: weights.get(coding, weights.get("*", 0.0)) for coding in offered}
    best = max(asked, key=lambda coding: asked[coding])
    return best if asked[best] > 0.0 and asked[best] >= weights.get(default, 0.0) else default


def _ranges(accept: str) -> dict[str, float]:
    """Media ranges, or codings, with their weights; one that cannot be read weighs nothing."""
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
