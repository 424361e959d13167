"""The log: one JSON object a line on standard error, about requests and never of what they hold.

A line has `time`, `level`, `event`, `logger`, and what is bound where it is written (`request_id`, `trace_id`,
`span_id`).  Somebody's readings could come into a log by four ways, and each is shut:

* a path or a query: only the template of the route is written;
* the message of an exception, which may quote what was refused: its type and its frames are written, unless
  :func:`configure` is told otherwise;
* the arguments of a message that a library logs: they are left out, but for the server's own;
* a traceback, or a warning, that is printed past the log: they are taken into it.
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

#: Loggers whose messages may be written with their arguments: none of them logs what a request holds.
_TRUSTED = ("service", "uvicorn", "opentelemetry")
#: Frames of a traceback that are written, the innermost; a runaway recursion has a thousand.
_MOST_FRAMES = 40
#: As `service.edge.request_ids` makes and accepts them.
_REQUEST_ID = re.compile(rb"[A-Za-z0-9._-]{1,64}")
#: The parts of a line that come first.
_FIRST = ("time", "level", "event", "logger")


class _Handler(logging.StreamHandler[TextIO]):
    """Writes lines.  One that cannot be written is told of without what it was to say.

    Where nothing can be written any more, as nobody reads, the work goes on without a log.
    """

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802
        line = {
            "level": "error",
            "event": "a line of the log could not be written",
            "logger": record.name,
        }
        with suppress(OSError, ValueError):  # a pipe that nobody reads; a stream that was closed
            self.stream.write(orjson.dumps(line).decode() + self.terminator)


def configure(
    level: Level = "info",
    form: Form = "json",
    *,
    exception_texts: bool = False,
    stream: TextIO | None = None,
) -> None:
    """Set up the log of this process; called again it takes the place of what was set up before.

    Parameters
    ----------
    level : {"debug", "info", "warning", "error", "critical"}
        The least that is written.
    form : {"json", "text"}
        JSON objects, or lines for people.
    exception_texts : bool
        Whether messages of exceptions and of warnings, and arguments of libraries' messages, are written too.
        They may quote what a request holds.
    stream : text file, optional
        Where to write; left out, standard error.

    The server's own loggers write through it too, if the server is told not to set up any (uvicorn:
    ``log_config=None``).  Its log of accesses is shut: it has paths and queries.
    """
    # Where a process was started without standard error there is none.
    output = stream or sys.stderr or io.StringIO()
    structlog.configure(
        processors=_PROCESSORS, logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=BoundLogger, cache_logger_on_first_use=False,
    )  # fmt: skip
    rendered: list[Processor] = (
        [_exceptions(exception_texts), _in_order, _json]
        if form == "json"
        else [
            _exceptions(exception_texts), _exceptions_as_text, _in_order,
            structlog.dev.ConsoleRenderer(colors=output.isatty(), timestamp_key="time"),
        ]
    )  # fmt: skip
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
    _take_in_what_is_printed(exception_texts)


def logger(name: str) -> BoundLogger:
    """A logger whose calls take fields: ``logger(__name__).info("batch ended", lines=12)``.

    The event is a fixed text; what varies are fields.  No field may be something that a request holds.
    """
    return cast(
        BoundLogger,
        structlog.wrap_logger(
            logging.getLogger(name), processors=_PROCESSORS, wrapper_class=BoundLogger
        ),
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

    def told(_logger: Any, _name: str, event: EventDict) -> EventDict:  # noqa: ANN401
        record: logging.LogRecord = event["_record"]
        if not texts and record.name.split(".")[0] not in _TRUSTED:
            # The event loop puts what it knows of a failed task, its exception too, into later lines.
            event["event"] = str(record.msg).partition("\n")[0]
        event["event"] = str(event["event"]).strip()
        return event

    return told


def _exceptions(texts: bool) -> Processor:
    """Exceptions as types and frames; their messages where ``texts`` are asked for."""

    def told(_logger: Any, _name: str, event: EventDict) -> EventDict:  # noqa: ANN401
        given = event.pop("exc_info", None)
        error = sys.exc_info()[1] if given is True else given
        if isinstance(error, tuple):
            error = error[1]
        if isinstance(error, BaseException):
            stacks = extract(type(error), error, error.__traceback__).stacks
            event["exception"] = [_stack(stack, texts) for stack in stacks]
        event.pop("stack_info", None)
        return event

    return told


def _stack(stack: Stack, texts: bool) -> dict[str, Any]:
    """One exception of a chain, the one that was seen first."""
    frames = [
        {"file": frame.filename, "line": frame.lineno, "function": frame.name}
        for frame in stack.frames[-_MOST_FRAMES:]
    ]
    found: dict[str, Any] = {"type": stack.exc_type}
    if texts:
        found["message"] = "\n".join([stack.exc_value, *stack.exc_notes])
    if stack.is_cause:
        found["cause"] = True  # of the one before
    found["frames"] = frames
    if len(stack.frames) > _MOST_FRAMES:
        found["frames_left_out"] = len(stack.frames) - _MOST_FRAMES
    if stack.exceptions:
        found["group"] = [_stack(one, texts) for trace in stack.exceptions for one in trace.stacks]
    return found


def _exceptions_as_text(_logger: Any, _name: str, event: EventDict) -> EventDict:  # noqa: ANN401
    """The same for people: the innermost frame last, as they are used to."""
    if "exception" in event:
        event["exception"] = "\n".join(
            line for stack in reversed(event["exception"]) for line in _lines(stack, "")
        )
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
    # What is no JSON is named by its type: its text could hold anything.
    return orjson.dumps(event, default=lambda value: f"({type(value).__name__})").decode()


# ---------------------------------------------------------------- what would be printed


def _take_in_what_is_printed(texts: bool) -> None:
    """Tracebacks of what nobody caught, and warnings, go to the log."""
    log = logger("service.process")

    def uncaught(
        kind: type[BaseException], error: BaseException, traceback: TracebackType | None
    ) -> None:
        if issubclass(kind, KeyboardInterrupt):
            sys.__excepthook__(kind, error, traceback)
            return
        log.critical("uncaught exception", exc_info=error)

    def uncaught_in_thread(told: threading.ExceptHookArgs) -> None:
        log.critical("uncaught exception in a thread", exc_info=told.exc_value)

    def unraisable(told: sys.UnraisableHookArgs) -> None:
        log.error("exception where none can be raised", exc_info=told.exc_value)

    def warned(
        message: Warning | str,
        category: type[Warning],
        filename: str,
        lineno: int,
        file: TextIO | None = None,
        line: str | None = None,
    ) -> None:
        text = {"text": str(message)} if texts else {}
        log.warning("warning", type=category.__name__, file=filename, line=lineno, **text)

    sys.excepthook = uncaught
    threading.excepthook = uncaught_in_thread
    sys.unraisablehook = unraisable
    warnings.showwarning = warned


# ---------------------------------------------------------------- requests


class RequestLog:
    """Pure ASGI: one line for each request, and its ids on every line that is written within it.

    Stands within what gives the request its id (`service.edge.request_ids`) and outside the whole of the
    application, so that it sees what is made of an exception too.  The application finds this request's place in
    its trace in ``scope["trace_context"]``, and as the header ``traceparent``, to pass on.
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

    def _write(
        self, scope: Scope, exchange: Exchange, trace: TraceContext, failed: dict[str, str]
    ) -> None:
        route, status = exchange.route, exchange.status
        level = "info"
        if status is not None and status >= 500:
            # Busy or stopping is what an operator has chosen, not a fault.
            level = "warning" if status == 503 else "error"
        elif route in PROBES:
            level = "debug"
        ids = {"request_id": scope["request_id"]} if "request_id" in scope else {}
        if trace.parent_id is not None:
            ids["parent_id"] = trace.parent_id
        write = {
            "debug": self._log.debug, "info": self._log.info,
            "warning": self._log.warning, "error": self._log.error,
        }[level]  # fmt: skip
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
    """The place of a request in its trace; the first who asks puts it into the scope and the headers."""
    known: TraceContext | None = scope.get("trace_context")
    if known is None:
        known = scope["trace_context"] = continued(scope["headers"])
        scope["headers"] = passed_on(scope["headers"], known)
    return known


@contextmanager
def bound_from_headers(headers: Headers) -> Iterator[None]:
    """On every line written within: the ids of a request that another process took.

    ``headers`` are those that it passes on, with its ``x-request-id`` and its ``traceparent``.
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
