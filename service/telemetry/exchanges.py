"""One HTTP exchange as seen from outside, without its content.

Logs, metrics and traces look at the same exchange: the first that a request passes wraps what it receives and
sends; the others find the exchange in the scope.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from time import perf_counter

from starlette.routing import Mount
from starlette.types import Message, Receive, Scope, Send

#: Frequent requests that say little, logged at level debug only.
PROBES = frozenset({"/health/live", "/health/ready", "/metrics"})
#: In place of a route template if no route matched, because the path itself comes from the caller.
UNMATCHED = "unmatched"
#: In place of a method that HTTP does not know.
OTHER_METHOD = "other"

#: RFC 9110, 9 and RFC 5789; any other word comes from the caller.
_METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT"})
_KEY = "service.exchange"


class Exchange:
    """One request and its response, by sizes and times.

    Attributes
    ----------
    bytes_in, bytes_out : int
        Sizes of the two bodies, as far as they were read and sent.
    status : int or None
        None until the response begins.
    client_left : bool
        Whether the client left before its response was complete.
    """

    def __init__(self, scope: Scope, receive: Receive, send: Send) -> None:
        self._scope, self._receive, self._send = scope, receive, send
        self._started = perf_counter()
        self._ended: float | None = None
        self.bytes_in = self.bytes_out = 0
        self.status: int | None = None
        self.client_left = False

    @property
    def method(self) -> str:
        """The method if HTTP knows it, otherwise `other`."""
        method = str(self._scope["method"])
        return method if method in _METHODS else OTHER_METHOD

    @property
    def route(self) -> str:
        """The template of the route that matched, known once the application has been called."""
        return route_template(self._scope)

    @property
    def seconds(self) -> float:
        """Time from the start to the last byte handed to the server, or until now."""
        return (self._ended or perf_counter()) - self._started

    async def receive(self) -> Message:
        """What arrives next."""
        message = await self._receive()
        if message["type"] == "http.request":
            self.bytes_in += len(message.get("body", b""))
        elif message["type"] == "http.disconnect" and self._ended is None:
            self.client_left = True
        return message

    async def send(self, message: Message) -> None:
        """Pass a message on."""
        if message["type"] == "http.response.start":
            self.status = int(message["status"])
        try:
            await self._send(message)
        except OSError:
            self.client_left = True
            raise
        if message["type"] == "http.response.body":
            self.bytes_out += len(message.get("body", b""))
            if not message.get("more_body", False):
                self._ended = perf_counter()


@contextmanager
def watched(scope: Scope, receive: Receive, send: Send) -> Iterator[tuple[Exchange, Receive, Send]]:
    """The exchange of an HTTP scope, and what the application is to receive and send by."""
    known = scope.get(_KEY)
    if known is not None:
        yield known, receive, send
        return
    exchange = scope[_KEY] = Exchange(scope, receive, send)
    try:
        yield exchange, exchange.receive, exchange.send
    finally:
        del scope[_KEY]  # each refers to the other, so only the garbage collector would free them


def route_template(scope: Scope) -> str:
    """The template that matched a request, `/v1/plots/{plot}` for instance, never the path itself.

    ``scope["route_template"]``, set if a request is answered elsewhere, takes precedence.
    """
    stated = scope.get("route_template")
    if stated is not None:
        return str(stated)
    template = getattr(scope.get("route"), "path", None)
    if template is not None:
        return str(template)
    # The framework names no route for files and for its own document; they have no parameters.
    path, routes = scope["path"], getattr(scope.get("app"), "routes", ())
    for route in routes:
        template = str(getattr(route, "path", ""))
        if template and (template == path or (isinstance(route, Mount) and path.startswith(template + "/"))):
            return template
    return UNMATCHED
