"""An API key, if the operator requires one.

It keeps a bare service from being open to all.  Identity and permissions belong to the gateway.
"""

from __future__ import annotations

import hashlib
import hmac
import logging
import math
from pathlib import Path
from time import monotonic

from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from schemas.problems import Problem
from service.edge.handlers import response
from service.edge.problems import field_problem, problem_body
from service.edge.settings import hashes_in

logger = logging.getLogger(__name__)

HEADER = "X-API-Key"
_NAME = HEADER.lower().encode()
#: Key of the scope under which the caller is known by the hash of its key.
CALLER = "service.caller"
_LOOK_SECONDS = 1.0
#: What requires a key. Pages, examples and health do not.
_GUARDED = "/v1"


def hashed(key: bytes) -> str:
    """What is stored for a key: its SHA-256, in hexadecimal."""
    return hashlib.sha256(key).hexdigest()


def guarded(path: str) -> bool:
    """Whether an address requires a key, if the operator requires keys."""
    return path == _GUARDED or path.startswith(_GUARDED + "/")


class KnownKeys:
    """The hashes of the keys that are accepted: those listed, and those in a file that may change."""

    def __init__(self, listed: str, path: Path | None = None) -> None:
        self._listed = _parts(listed)
        self._path = path
        self._in_file: list[bytes] = []
        self._version: tuple[int, ...] = ()
        self._looked = -math.inf

    def hashes(self) -> list[bytes]:
        """Those of now; the file is looked at once a second at most."""
        if self._path is not None and monotonic() - self._looked >= _LOOK_SECONDS:
            self._looked = monotonic()
            self._look(self._path)
        return self._listed + self._in_file

    def _look(self, path: Path) -> None:
        try:
            state = path.stat()
            version = (state.st_mtime_ns, state.st_size, state.st_ino)
            if version != self._version:
                self._in_file = _parts(hashes_in(path))
                self._version = version
                logger.info("keys were read from their file: %d", len(self._in_file))
        except (OSError, ValueError):
            # Those known so far stay: a file being written must not lock everybody out.
            logger.warning("the file of keys cannot be read; the keys known so far stay")


def _parts(hashes: str) -> list[bytes]:
    return [part.encode() for part in hashes.split(",") if part]


def unknown_key() -> Problem:
    """A key is required, and none that is known was given."""
    return problem_body(
        "unauthorised",
        "The key is missing or unknown.",
        [
            field_problem(
                f"header/{HEADER}",
                None,
                "a key that this service knows",
                "is missing or unknown",
                f"Send the header {HEADER} with the key that the operator gave you.",
            )
        ],
    )


class Keys:
    """Pure ASGI: refuses work requested without a known key."""

    def __init__(self, app: ASGIApp, known: KnownKeys) -> None:
        self.app = app
        self._keys = known

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wrap one request."""
        if scope["type"] == "http" and guarded(scope["path"]) and not self._admits(scope):
            body = unknown_key()
            answer = response(Request(scope), body, {"WWW-Authenticate": 'ApiKey realm="service"'})
            await answer(scope, receive, send)
            return
        await self.app(scope, receive, send)

    def _admits(self, scope: Scope) -> bool:
        given = [value for name, value in scope["headers"] if name == _NAME]
        if len(given) != 1:
            return False
        digest = hashed(given[0]).encode()
        # All are compared, each in constant time, so that the time taken reveals nothing.
        known = [hmac.compare_digest(digest, one) for one in self._keys.hashes()]
        scope[CALLER] = digest.decode()
        return any(known)


def caller(scope: Scope) -> str:
    """Who asks: by key where keys are required, else by address."""
    known: str | None = scope.get(CALLER)
    if known is not None:
        return known
    client = scope.get("client")
    return str(client[0]) if client else ""
