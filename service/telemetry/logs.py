"""The log: one JSON object a line on standard error, about requests but never with their content.

A line has `time`, `level`, `event`, `logger`, and what is bound where it is written (`request_id`, `trace_id`,
`span_id`).  Readings could enter a log in four ways, and each is closed:

* a path or a query: only the template of the route is written;
* the message of an exception, which may quote what was refused: only its type and frames are written, unless
  :func:`configure` is asked for more;
* the arguments of a message that a library logs: they are left out, except for the server's own;
* a traceback or a warning printed outside the log: both are redirected to it.
"""

from __future__ import annotations

import io
import logging
import re
import sys
import threading
import warnings
from collections.abc import Iterator, MutableMapping
from contextlib import contextmanager, suppress
from types import TracebackType
from typing import Any, Literal, TextIO, cast

import orjson
import structlog
from starlette.types import ASGIApp, Receive, Scope, Send
from structlog.stdlib import BoundLogger, ProcessorFormatter
from structlog.tracebacks import Stack, extract
from structlog.typing import EventDict, Processor

from service.telemetry.exchanges import PROBES, Exchange, watched
from service.telemetry.trace_context import Headers, TraceContext, continued, parent_of, passed_on

Level = Literal["debug", "info", "warning", "error", "critical"]
Form = Literal["json", "text"]

#: Loggers whose messages may be written with their arguments: none of them logs content of a request.
_TRUSTED = ("service", "uvicorn", "opentelemetry")
#: Innermost frames of a traceback that are written; a runaway recursion has a thousand.
_MOST_FRAMES = 40
#: The form that `service.edge.request_ids` makes and accepts.
_REQUEST_ID = re.compile(rb"[A-Za-z0-9._-]{1,64}")
#: The parts of a line that come first.
_FIRST = ("time", "level", "event", "logger")


class _Handler(logging.StreamHandler[TextIO]):
    """Writes lines.  In place of a line that cannot be written, it reports that fact only.

    If nothing can be written because nobody reads, the work continues without a log.
    """

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802
        line = {
            "level": "error",
            "event": "a line of the log could not be written",
            "logger": record.name,
        }
        with suppress(OSError, ValueError):  # a pipe that nobody reads; a closed stream
            self.stream.write(orjson.dumps(line).decode() + self.terminator)


def configure(
    level: Level = "info",
    form: Form = "json",
    *,
    exception_texts: bool = False,
    stream: TextIO | None = None,
) -> None:
    """Set up the log of this process, in place of any earlier setup.

    Parameters
    ----------
    level : {"debug", "info", "warning", "error", "critical"}
        Lowest level that is written.
    form : {"json", "text"}
        JSON objects, or lines for people.
    exception_texts : bool
        Whether messages of exceptions and of warnings, and arguments of libraries' messages, are written too.
        They may quote the content of a request.
    stream : text file, optional
        Where to write; standard error if left out.

    The server's own loggers write through it too, if the server sets up none (uvicorn: ``log_config=None``).  Its
    access log is off, because it contains paths and queries.
    """
    # A process may be started without standard error.
    output = stream or sys.stderr or io.StringIO()
    structlog.configure(
        processors=_PROCESSORS,
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=BoundLogger,
        cache_logger_on_first_use=False,
    )
    rendered: list[Processor] = (
        [_exceptions(exception_texts), _in_order, _json]
        if form == "json"
        else [
            _exceptions(exception_texts),
            _exceptions_as_text,
            _in_order,
            structlog.dev.ConsoleRenderer(colors=output.isatty(), timestamp_key="time"),
        ]
    )
    handler = _Handler(output)
    handler.setFormatter(
        ProcessorFormatter(
            foreign_pre_chain=[
                structlog.contextvars.merge_contextvars,
                structlog.stdlib.add_logger_name,
                structlog.stdlib.add_log_level,
                _foreign(exception_texts),
                _TIME,
            ],
            processors=[ProcessorFormatter.remove_processors_meta, *rendered],
        )
    )
    root = logging.getLogger()
    root.handlers = [one for one in root.handlers if not isinstance(one, _Handler)] + [handler]
    root.setLevel(level.upper())
    for name in ("uvicorn", "uvicorn.error", "uvicorn.asgi", "uvicorn.access"):
        server = logging.getLogger(name)
        server.handlers.clear()
        server.setLevel(logging.NOTSET)
        server.propagate = name != "uvicorn.access"
    _redirect_printed(exception_texts)


def logger(name: str) -> BoundLogger:
    """A logger whose calls take fields: ``logger(__name__).info("batch ended", lines=12)``.

    The event is a fixed text; what varies goes into fields.  No field may hold content of a request.
    """
    return cast(
        BoundLogger,
        structlog.wrap_logger(logging.getLogger(name), processors=_PROCESSORS, wrapper_class=BoundLogger),
    )


# ---------------------------------------------------------------- processors


_TIME: Processor = structlog.processors.TimeStamper(fmt="iso", utc=True, key="time")

_PROCESSORS: list[Processor] = [
    structlog.stdlib.filter_by_level,
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_logger_name,
    structlog.stdlib.add_log_level,
    _TIME,
    ProcessorFormatter.wrap_for_formatter,
]


def _foreign(texts: bool) -> Processor:
    """Messages of libraries, without their arguments."""

    def process(_logger: Any, _name: str, event: EventDict) -> EventDict:  # noqa: ANN401
        record: logging.LogRecord = event["_record"]
        if not texts and record.name.split(".")[0] not in _TRUSTED:
            # The event loop adds lines about a failed task, its exception included.
            event["event"] = str(record.msg).partition("\n")[0]
        event["event"] = str(event["event"]).strip()
        return event

    return process


def _exceptions(texts: bool) -> Processor:
    """Exceptions as types and frames, with their messages if ``texts`` is true."""

    def process(_logger: Any, _name: str, event: EventDict) -> EventDict:  # noqa: ANN401
        given = event.pop("exc_info", None)
        error = sys.exc_info()[1] if given is True else given
        if isinstance(error, tuple):
            error = error[1]
        if isinstance(error, BaseException):
            stacks = extract(type(error), error, error.__traceback__).stacks
            event["exception"] = [_stack(stack, texts) for stack in stacks]
        event.pop("stack_info", None)
        return event

    return process


def _stack(stack: Stack, texts: bool) -> dict[str, Any]:
    """One exception of a chain."""
    frames = [
        {"file": frame.filename, "line": frame.lineno, "function": frame.name} for frame in stack.frames[-_MOST_FRAMES:]
    ]
    found: dict[str, Any] = {"type": stack.exc_type}
    if texts:
        found["message"] = "\n".join([stack.exc_value, *stack.exc_notes])
    if stack.is_cause:
        found["cause"] = True  # of the exception before it
    found["frames"] = frames
    if len(stack.frames) > _MOST_FRAMES:
        found["frames_left_out"] = len(stack.frames) - _MOST_FRAMES
    if stack.exceptions:
        found["group"] = [_stack(one, texts) for trace in stack.exceptions for one in trace.stacks]
    return found


def _exceptions_as_text(_logger: Any, _name: str, event: EventDict) -> EventDict:  # noqa: ANN401
    """The same for people: the innermost frame last, as is usual."""
    if "exception" in event:
        event["exception"] = "\n".join(line for stack in reversed(event["exception"]) for line in _lines(stack, ""))
    return event


def _lines(stack: MutableMapping[str, Any], indent: str) -> Iterator[str]:
    for frame in stack["frames"]:
        yield f"{indent}  {frame['file']}:{frame['line']} in {frame['function']}"
    yield indent + ": ".join([stack["type"], *([stack["message"]] if "message" in stack else [])])
    for one in stack.get("group", ()):
        yield from _lines(one, indent + "  ")


def _in_order(_logger: Any, _name: str, event: EventDict) -> EventDict:  # noqa: ANN401
    first = {name: event.pop(name) for name in _FIRST if name in event}
    return {**first, **event}


def _json(_logger: Any, _name: str, event: EventDict) -> str:  # noqa: ANN401
    # A value that JSON cannot hold is named by its type, because its text could hold anything.
    return orjson.dumps(event, default=lambda value: f"({type(value).__name__})").decode()


# ---------------------------------------------------------------- what would be printed


def _redirect_printed(texts: bool) -> None:
    """Send tracebacks of uncaught exceptions, and warnings, to the log."""
    log = logger("service.process")

    def uncaught(kind: type[BaseException], error: BaseException, traceback: TracebackType | None) -> None:
        if issubclass(kind, KeyboardInterrupt):
            sys.__excepthook__(kind, error, traceback)
            return
        log.critical("uncaught exception", exc_info=error)

    def uncaught_in_thread(given: threading.ExceptHookArgs) -> None:
        log.critical("uncaught exception in a thread", exc_info=given.exc_value)

    def unraisable(given: sys.UnraisableHookArgs) -> None:
        log.error("exception where none can be raised", exc_info=given.exc_value)

    def warned(
        message: Warning | str,
        category: type[Warning],
        filename: str,
        lineno: int,
        *_: object,
        **__: object,
    ) -> None:
        text = {"text": str(message)} if texts else {}
        log.warning("warning", type=category.__name__, file=filename, line=lineno, **text)

    sys.excepthook = uncaught
    threading.excepthook = uncaught_in_thread
    sys.unraisablehook = unraisable
    warnings.showwarning = warned


# ---------------------------------------------------------------- requests


class RequestLog:
    """Pure ASGI: one line for each request, and its ids on every line written within it.

    It is inside what gives the request its id (`service.edge.request_ids`) and wraps the whole application, so that
    it also sees the answer to an exception.  The application finds the request's place in its trace in
    ``scope["trace_context"]``, and as the header ``traceparent``, to pass on.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self._log = logger("service.request")

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wrap one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        trace = trace_of(scope)
        with (
            watched(scope, receive, send) as (exchange, receive_on, send_on),
            _bound(scope.get("request_id"), trace.trace_id, trace.span_id),
        ):
            failed: dict[str, str] = {}
            try:
                await self.app(scope, receive_on, send_on)
            except BaseException as error:
                failed["failed"] = type(error).__name__
                raise
            finally:
                self._write(scope, exchange, trace, failed)

    def _write(self, scope: Scope, exchange: Exchange, trace: TraceContext, failed: dict[str, str]) -> None:
        route, status = exchange.route, exchange.status
        level = "info"
        if status is not None and status >= 500:
            # Busy or stopping follows from the operator's choices and is not a fault.
            level = "warning" if status == 503 else "error"
        elif route in PROBES:
            level = "debug"
        ids = {"request_id": scope["request_id"]} if "request_id" in scope else {}
        if trace.parent_id is not None:
            ids["parent_id"] = trace.parent_id
        write = {
            "debug": self._log.debug,
            "info": self._log.info,
            "warning": self._log.warning,
            "error": self._log.error,
        }[level]
        write(
            "request",
            method=exchange.method,
            route=route,
            status=status,
            duration_ms=round(exchange.seconds * 1000.0, 3),
            bytes_in=exchange.bytes_in,
            bytes_out=exchange.bytes_out,
            client_left=exchange.client_left,
            **ids,
            **failed,
        )


def trace_of(scope: Scope) -> TraceContext:
    """The place of a request in its trace; the first call adds it to the scope and the headers."""
    known: TraceContext | None = scope.get("trace_context")
    if known is None:
        known = scope["trace_context"] = continued(scope["headers"])
        scope["headers"] = passed_on(scope["headers"], known)
    return known


@contextmanager
def bound_from_headers(headers: Headers) -> Iterator[None]:
    """Put the ids of a request that another process received on every line written within.

    ``headers`` are those that it passed on, with its ``x-request-id`` and its ``traceparent``.
    """
    headers = list(headers)
    given = next((value for name, value in headers if name.lower() == b"x-request-id"), b"")
    request_id = given.decode() if _REQUEST_ID.fullmatch(given) else None
    parent = parent_of(headers)
    trace_id, span_id = (None, None) if parent is None else (parent.trace_id, parent.span_id)
    with _bound(request_id, trace_id, span_id):
        yield


@contextmanager
def _bound(request_id: str | None, trace_id: str | None, span_id: str | None) -> Iterator[None]:
    ids = {"request_id": request_id, "trace_id": trace_id, "span_id": span_id}
    given = {name: value for name, value in ids.items() if value is not None}
    with structlog.contextvars.bound_contextvars(**given):
        yield
