"""Which trace a request belongs to: the header ``traceparent`` of the W3C recommendation Trace Context.

``00-<trace id, 32 digits>-<id of the caller's span, 16 digits>-<flags, 2 digits>``, in lower-case hexadecimal
digits.  A header of any other form counts as absent, as the recommendation asks, and so does its
``tracestate``.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable
from dataclasses import dataclass

Headers = Iterable[tuple[bytes, bytes]]

TRACEPARENT, TRACESTATE = b"traceparent", b"tracestate"

#: Version 00 ends after the flags; a later version may have more, after another dash.
_FORM = re.compile(
    rb"(?P<version>[0-9a-f]{2})-(?P<trace>[0-9a-f]{32})-(?P<parent>[0-9a-f]{16})-(?P<flags>[0-9a-f]{2})"
    rb"(?P<more>-.*)?",
    re.DOTALL,
)
#: The only flag of version 00; others must not be passed on.
_SAMPLED = 0x01


@dataclass(frozen=True, slots=True)
class TraceContext:
    """The trace of a request, and the request's own place (span) in it.

    ``parent_id`` is the caller's span, None if the trace begins here.
    """

    trace_id: str
    span_id: str
    parent_id: str | None
    sampled: bool

    @property
    def traceparent(self) -> bytes:
        """The header for the next process that works on the request."""
        return f"00-{self.trace_id}-{self.span_id}-{int(self.sampled):02x}".encode()


@dataclass(frozen=True, slots=True)
class Parent:
    """The content of a caller's header."""

    trace_id: str
    span_id: str
    sampled: bool


def parent_of(headers: Headers) -> Parent | None:
    """The caller's place in its trace; None if the headers name none, or not in the right form."""
    given = [value for name, value in headers if name.lower() == TRACEPARENT]
    found = _FORM.fullmatch(given[0]) if len(given) == 1 else None
    if found is None or found["version"] == b"ff":
        return None
    if found["version"] == b"00" and found["more"] is not None:
        return None
    trace, parent = found["trace"].decode(), found["parent"].decode()
    if not trace.strip("0") or not parent.strip("0"):
        return None
    return Parent(trace, parent, bool(int(found["flags"], 16) & _SAMPLED))


def continued(headers: Headers) -> TraceContext:
    """A new span in the caller's trace, or in a new trace if there is none."""
    parent = parent_of(headers)
    if parent is None:
        return TraceContext(_random_id(16), _random_id(8), None, sampled=False)
    return TraceContext(parent.trace_id, _random_id(8), parent.span_id, parent.sampled)


def passed_on(headers: Headers, context: TraceContext) -> list[tuple[bytes, bytes]]:
    """The same headers for the next process that works on the request, with ``traceparent`` of this span."""
    dropped = {TRACEPARENT} if context.parent_id is not None else {TRACEPARENT, TRACESTATE}
    kept = [(name, value) for name, value in headers if name.lower() not in dropped]
    return [*kept, (TRACEPARENT, context.traceparent)]


def _random_id(size: int) -> str:
    """Hexadecimal digits of ``size`` random bytes, not all zero."""
    while not (found := secrets.token_hex(size)).strip("0"):
        pass
    return found
