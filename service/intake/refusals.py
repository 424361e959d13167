"""What is refused, and what the caller reads about it; no HTTP here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Refusal:
    """One field that cannot be accepted.

    ``pointer`` is a JSON Pointer into the request (RFC 6901).  ``unknown`` is a name of a reading that the
    contract does not know: the edge replaces the hint where it can say what is meant.
    """

    pointer: str
    value: object
    allowed: str
    detail: str
    hint: str
    unknown: str = ""


class RefusedError(Exception):
    """The request holds something impossible; nothing was computed."""

    def __init__(self, refusals: Sequence[Refusal]) -> None:
        super().__init__(f"{len(refusals)} field(s) refused")
        self.refusals = tuple(refusals)


def pointer(*parts: str) -> str:
    """A JSON Pointer from its parts."""
    return "".join("/" + part.replace("~", "~0").replace("/", "~1") for part in parts)
