"""Addresses as callers write them: one slash too many, or a name that is nearly right."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

from rapidfuzz.distance import OSA
from starlette.types import ASGIApp, Receive, Scope, Send

from service.reference.trade_words import ADDRESS_WORDS, CHECK_WORDS, PAGE_WORDS

#: The contract, as committed.
_OPENAPI = Path(__file__).parents[2] / "schemas" / "openapi.json"
#: Addresses of pages that the contract does not list.
_PAGES = ("/docs", "/json", "/openapi.json", "/examples")
#: Letters of a part of an address for each that may be wrong.
_LETTERS_PER_ERROR = 4
_WORDS = {**ADDRESS_WORDS, **CHECK_WORDS}


class TrailingSlashes:
    """Pure ASGI: an address with a slash at its end is the address without it.

    A redirect would lose the body with clients that do not follow it.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wrap one request."""
        if scope["type"] == "http" and scope["path"] != "/" and scope["path"].endswith("/"):
            # The same scope, so that what logs the request sees the route that answered it.
            scope["path"] = scope["path"].rstrip("/") or "/"
            if scope.get("raw_path"):
                scope["raw_path"] = scope["raw_path"].rstrip(b"/") or b"/"
        await self.app(scope, receive, send)


def near_address(path: str) -> str | None:
    """The address of the service that an unknown one is nearest to, None if none or several are."""
    given = [part for part in path[:200].split("/") if part]
    page = PAGE_WORDS.get(given[-1].lower()) if given else None
    if page is not None:
        return page
    # With another version, behind a prefix, without the version, or with it where there is none.
    bare = [part for part in given if not re.fullmatch(r"(?i)v\d+|api", part)]
    written = [list(parts) for parts in dict.fromkeys(map(tuple, (given, ["v1", *bare], bare)))]
    ranked: set[tuple[int, str]] = set()
    for template in _addresses():
        wanted = template.strip("/").split("/")
        for parts in written:
            distance = _distance(parts, wanted)
            if distance is not None:
                ranked.add((distance, _filled(wanted, parts)))
    least = min(ranked, default=None)
    if least is None or sum(distance == least[0] for distance, _ in ranked) > 1:
        return None
    return least[1]


@cache
def _addresses() -> tuple[str, ...]:
    return (*json.loads(_OPENAPI.read_bytes())["paths"], *_PAGES)


def _distance(given: list[str], wanted: list[str]) -> int | None:
    """Letters by which an address differs from a template; None if it is another one."""
    if len(given) != len(wanted):
        return None
    total = 0
    for part, name in zip(given, wanted, strict=True):
        word = part.lower()
        if name.startswith("{") or word == name or _WORDS.get(word) == name:
            continue
        most = len(name) // _LETTERS_PER_ERROR
        distance = OSA.distance(word, name, score_cutoff=most)
        if distance > most:
            return None
        total += distance
    return total


def _filled(wanted: list[str], given: list[str]) -> str:
    """A template with the parts of an address at its parameters."""
    parts = [part if name.startswith("{") else name for name, part in zip(wanted, given, strict=True)]
    return "/" + "/".join(parts)
