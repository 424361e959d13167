"""An API key, where whoever runs the service asks for one.

It keeps a bare service from being open to all.  Who somebody is, and what they may do, is the gateway's.
"""

from __future__ import annotations

import hashlib
import hmac

from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from service.edge.problems import field_problem, problem_body, response

HEADER = "X-API-Key"
_NAME = HEADER.lower().encode()
#: What is asked without a key: pages, reference examples, health. The work is asked with one.
_GUARDED = "/v1"


def hashed(key: bytes) -> str:
    """What is kept of a key: its SHA-256, in hexadecimal."""
    return hashlib.sha256(key).hexdigest()


def guarded(path: str) -> bool:
    """Whether what is asked for at an address needs a key, where keys are asked for."""
    return path == _GUARDED or path.startswith(_GUARDED + "/")


class Keys:
    """Pure ASGI: refuses work that is asked without a known key."""

    def __init__(self, app: ASGIApp, hashes: str) -> None:
        self.app = app
        self._hashes = [part.encode() for part in hashes.split(",") if part]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wrap one request."""
        if scope["type"] == "http" and guarded(scope["path"]) and not self._known(scope):
            body = problem_body(
                "unauthorised", "The key is missing, or not known here.",
                [field_problem(f"header/{HEADER}", None, "a key that is known here", "is missing or not known",
                               f"Send the header {HEADER} with the key that whoever runs the service gave you.")],
            )  # fmt: skip
            answer = response(Request(scope), body, {"WWW-Authenticate": 'ApiKey realm="service"'})
            await answer(scope, receive, send)
            return
        await self.app(scope, receive, send)

    def _known(self, scope: Scope) -> bool:
        given = [value for name, value in scope["headers"] if name == _NAME]
        if len(given) != 1:
            return False
        digest = hashed(given[0]).encode()
        # Each is compared in constant time, and always all: how long it takes tells nothing.
        known = [hmac.compare_digest(digest, one) for one in self._hashes]
        return any(known)
