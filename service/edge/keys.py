"""An API key, if the operator requires one.

It keeps a bare service from being open to all.  Identity and permissions belong to the gateway.
"""

from __future__ import annotations

import hashlib
import hmac

from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from schemas.problems import Problem
from service.edge.handlers import response
from service.edge.problems import field_problem, problem_body

HEADER = "X-API-Key"
_NAME = HEADER.lower().encode()
#: What requires a key. Pages, examples and health do not.
_GUARDED = "/v1"


def hashed(key: bytes) -> str:
    """What is stored for a key: its SHA-256, in hexadecimal."""
    return hashlib.sha256(key).hexdigest()


def guarded(path: str) -> bool:
    """Whether an address requires a key, if the operator requires keys."""
    return path == _GUARDED or path.startswith(_GUARDED + "/")


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

    def __init__(self, app: ASGIApp, hashes: str) -> None:
        self.app = app
        self._hashes = [part.encode() for part in hashes.split(",") if part]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wrap one request."""
        if scope["type"] == "http" and guarded(scope["path"]) and not self._known(scope):
            body = unknown_key()
            answer = response(Request(scope), body, {"WWW-Authenticate": 'ApiKey realm="service"'})
            await answer(scope, receive, send)
            return
        await self.app(scope, receive, send)

    def _known(self, scope: Scope) -> bool:
        given = [value for name, value in scope["headers"] if name == _NAME]
        if len(given) != 1:
            return False
        digest = hashed(given[0]).encode()
        # All are compared, each in constant time, so that the time taken reveals nothing.
        known = [hmac.compare_digest(digest, one) for one in self._hashes]
        return any(known)
