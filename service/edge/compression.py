"""Answers compressed as `Accept-Encoding` asks (RFC 9110, 12.5.3)."""

from __future__ import annotations

import asyncio
from functools import lru_cache

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.edge.codings import CODINGS, IDENTITY, Encoder
from service.edge.negotiation import chosen_coding

#: Below this a packet is not made smaller: a segment of TCP holds about so many bytes.
SMALLEST = 1024
#: What compresses well; the other media types are compressed already.
_COMPRESSED = ("text/", "application/json", "application/problem+json", "application/vnd.", "image/svg+xml")


class Compression:
    """Pure ASGI: compresses whole answers; one that has a coding or is sent in parts by its maker passes as it is.

    No answer holds a secret next to what a caller sent, so compression reveals none.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wrap one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        accepted = Headers(scope=scope).get("accept-encoding")
        await self.app(scope, receive, _Sender(send, chosen_coding(accepted, CODINGS, default=IDENTITY)))


class _Sender:
    """Sends one answer in a coding, once it is whole."""

    def __init__(self, send: Send, coding: str) -> None:
        self._send, self._coding = send, coding
        self._head: Message | None = None
        self._pieces: list[bytes] = []

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start" and _compressible(message):
            headers = MutableHeaders(scope=message)
            if "accept-encoding" not in headers.get("vary", "").lower():  # the process that computed it has added it
                headers.add_vary_header("Accept-Encoding")
            if self._coding != IDENTITY:
                self._head = message
                return
        if self._head is None or message["type"] != "http.response.body":
            await self._send(message)
            return
        self._pieces.append(message.get("body", b""))
        if message.get("more_body", False):
            return
        await self._finish(self._head, b"".join(self._pieces))

    async def _finish(self, head: Message, body: bytes) -> None:
        if body:  # an answer to HEAD has none
            headers = MutableHeaders(scope=head)
            tag = headers.get("etag")
            if tag is None:
                body = _encoded(body, self._coding)
            else:  # a file or a list: it may be large, and is asked for again
                body = await asyncio.to_thread(_kept, body, self._coding)
            headers["content-encoding"] = self._coding
            headers["content-length"] = str(len(body))
            if tag is not None and not tag.startswith("W/"):
                headers["etag"] = f"W/{tag}"  # the same content in other bytes (RFC 9110, 8.8.1)
        await self._send(head)
        await self._send({"type": "http.response.body", "body": body})


def _encoded(body: bytes, coding: str) -> bytes:
    return Encoder(coding).encode(body, last=True)


_kept = lru_cache(maxsize=64)(_encoded)


def _compressible(head: Message) -> bool:
    """Whether an answer is compressed where that is asked for."""
    headers = Headers(raw=head["headers"])
    length = headers.get("content-length", "")
    return (
        head["status"] not in (204, 206, 304)
        and "content-encoding" not in headers
        and length.isdecimal()
        and int(length) >= SMALLEST
        and headers.get("content-type", "").startswith(_COMPRESSED)
    )
