"""Which form of an answer the `Accept` header asks for (RFC 9110, 12.5.1)."""

from __future__ import annotations

from collections.abc import Mapping


def chosen(accept: str | None, offered: Mapping[str, str], default: str) -> str:
    """The form of the media type that is preferred among those offered.

    ``offered`` maps media types to forms, the first preferred where all weigh the same.  What is asked
    for and not offered gives the default: an answer in another form than asked for serves better than
    none.
    """
    weights = []
    for part in (accept or "").split(","):
        media_type, *parameters = (piece.strip().lower() for piece in part.split(";"))
        weight = 1.0
        for parameter in parameters:
            name, _, value = parameter.partition("=")
            if name.strip() == "q":
                try:
                    weight = float(value)
                except ValueError:
                    weight = 0.0
        if media_type in offered and weight > 0:
            weights.append((-weight, list(offered).index(media_type), offered[media_type]))
    return min(weights)[2] if weights else default
