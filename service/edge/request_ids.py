"""An id for every request, and the headers that every answer carries."""

from __future__ import annotations

import re
import uuid

from starlette.types import ASGIApp, Message, Receive, Scope, Send

_ACCEPTED = re.compile(rb"[A-Za-z0-9._-]{1,64}")

#: Headers of every answer.
ALWAYS = [(b"x-content-type-options", b"nosniff"), (b"referrer-policy", b"no-referrer")]


class RequestIds:
    """Pure ASGI: keeps a caller's ``X-Request-Id`` if it is plain, else makes one."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wrap one request."""
        if scope["type"] != "http" or "request_id" in scope:  # one further out has given it an id
            await self.app(scope, receive, send)
            return
        given = next((value for name, value in scope["headers"] if name == b"x-request-id"), b"")
        request_id = given if _ACCEPTED.fullmatch(given) else uuid.uuid4().hex.encode()
        scope["request_id"] = request_id.decode()

        async def send_with_id(message: Message) -> None:
            if message["type"] == "http.response.start":
                # An answer made elsewhere may already have some of them.
                added = {b"x-request-id": request_id, **dict(ALWAYS)}
                kept = [row for row in message.get("headers", []) if row[0] not in added]
                message["headers"] = [*kept, *added.items()]
            await send(message)

        await self.app(scope, receive, send_with_id)
