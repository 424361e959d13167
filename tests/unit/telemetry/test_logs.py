"""The log: its lines, whose request they belong to, and that nobody's readings come into it."""

from __future__ import annotations

import asyncio
import copy
import gc
import io
import json
import logging
import re
import sys
import threading
import warnings
from collections.abc import Awaitable, Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import structlog
import uvicorn
from fastapi.testclient import TestClient
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from schemas.examples import examples
from service.app import create_app
from service.batches import answers
from service.edge.request_ids import RequestIds
from service.edge.settings import Settings
from service.routes import assessments
from service.telemetry import logs
from service.telemetry.logs import RequestLog, bound_from_headers, configure, logger
from service.telemetry.metrics import RequestMetrics, create_metrics
from service.telemetry.trace_context import continued, parent_of, passed_on

Configured = Callable[..., io.StringIO]

#: Examples of the recommendation (W3C Trace Context, 3.2.3 and 3.2.4).
TRACE, PARENT = "4bf92f3577b34da6a3ce929d0e0e4736", "00f067aa0ba902b7"
TRACEPARENT = f"00-{TRACE}-{PARENT}-01"


@pytest.fixture
def configured() -> Iterator[Configured]:
    """Sets the log up on a text; everything is as it was afterwards."""
    root = logging.getLogger()
    logging.getLogger("httpx2").disabled = True  # the client here is not part of the service
    server = [logging.getLogger(name) for name in ("uvicorn", "uvicorn.error", "uvicorn.access")]
    kept = root.handlers, root.level, [(one.handlers, one.level, one.propagate) for one in server]
    hooks = sys.excepthook, threading.excepthook, sys.unraisablehook, warnings.showwarning

    def run(*args: Any, **options: Any) -> io.StringIO:  # noqa: ANN401
        stream = io.StringIO()
        configure(*args, stream=stream, **options)
        return stream

    yield run
    root.handlers, root.level = kept[0], kept[1]
    for one, (handlers, level, propagate) in zip(server, kept[2], strict=True):
        one.handlers, one.level, one.propagate = handlers, level, propagate
    sys.excepthook, threading.excepthook, sys.unraisablehook, warnings.showwarning = hooks
    logging.getLogger("httpx2").disabled = False
    structlog.reset_defaults()


def lines(stream: io.StringIO) -> list[dict[str, Any]]:
    """Each line of a log, which is a JSON object."""
    return [json.loads(line) for line in stream.getvalue().splitlines()]


def requests(stream: io.StringIO) -> list[dict[str, Any]]:
    return [line for line in lines(stream) if line["event"] == "request"]


def of(answer: Callable[[Request], Awaitable[Response]], template: str = "/things/{thing}") -> Any:  # noqa: ANN401
    """A small application inside the usual middlewares."""

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        scope["route_template"] = template
        response = await answer(Request(scope, receive, send))
        await response(scope, receive, send)

    return RequestIds(RequestLog(app))


async def said(_request: Request) -> Response:
    return PlainTextResponse("twelve bytes")


# ---------------------------------------------------------------- lines


def test_a_request_is_one_line(configured: Configured) -> None:
    """Sizes and times of it, its template, and no part of what was asked."""
    stream = configured()

    async def answer(request: Request) -> Response:
        await request.body()
        return PlainTextResponse("twelve bytes", 418)

    client = TestClient(of(answer))
    response = client.post("/things/a-thing?by=somebody", content="seven b")
    (line,) = lines(stream)
    assert list(line)[:4] == ["time", "level", "event", "logger"]
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z", line.pop("time"))  # RFC 3339
    assert line.pop("duration_ms") >= 0.0
    assert re.fullmatch("[0-9a-f]{32}", line.pop("trace_id"))
    assert re.fullmatch("[0-9a-f]{16}", line.pop("span_id"))
    assert line == {
        "level": "info",
        "event": "request",
        "logger": "service.request",
        "request_id": response.headers["x-request-id"],
        "method": "POST",
        "route": "/things/{thing}",
        "status": 418,
        "bytes_in": 7,
        "bytes_out": 12,
        "client_left": False,
    }


def test_levels_of_requests(configured: Configured) -> None:
    """Probes whisper, faults of the service are errors, being busy is a warning."""
    for template, status, level in (
        ("/v1/assessments", 200, "info"),
        ("/v1/assessments", 422, "info"),
        ("/v1/assessments", 500, "error"),
        ("/v1/assessments", 503, "warning"),
        ("/v1/assessments", 504, "error"),
        ("/health/live", 200, "debug"),
        ("/health/ready", 200, "debug"),
        ("/health/ready", 503, "warning"),
        ("/metrics", 200, "debug"),
    ):

        async def answer(_request: Request, status: int = status) -> Response:
            return PlainTextResponse("", status)

        for least, shown in (("debug", True), ("info", level != "debug")):
            stream = configured(least)
            TestClient(of(answer, template)).get("/")
            assert [line["level"] for line in requests(stream)] == [level] * shown


def test_methods_that_nobody_knows_are_not_written(configured: Configured) -> None:
    """A method is a word of the caller's."""
    stream = configured()
    TestClient(of(said)).request("SECRET", "/")
    assert [line["method"] for line in requests(stream)] == ["other"]
    assert "SECRET" not in stream.getvalue()


def test_templates_of_the_whole_application(configured: Configured, client: TestClient) -> None:
    """A template wherever something lives, `unmatched` elsewhere; by the routing itself."""
    stream = configured("debug")
    outside = TestClient(RequestLog(client.app), raise_server_exceptions=False)
    for method, path, template in (
        ("GET", "/health/live", "/health/live"),
        ("POST", "/v1/assessments", "/v1/assessments"),
        ("DELETE", "/v1/assessments", "/v1/assessments"),
        ("GET", "/v1/refrigerants/R-22?units=metric", "/v1/refrigerants/{designation}"),
        ("POST", "/v1/plots/limits", "/v1/plots/{plot}"),
        ("GET", "/examples/comparisons/x.json", "/examples/{kind}/{name}.json"),
        ("GET", "/openapi.json", "/openapi.json"),
        ("GET", "/docs/assets/none-such.js", "/docs/assets"),
        ("GET", "/somebody/was/here", "unmatched"),
        ("GET", "/v1/assessments/", "/v1/assessments"),
    ):
        outside.request(method, path, follow_redirects=False)
        assert requests(stream)[-1]["route"] == template, path


def test_a_client_that_leaves(configured: Configured) -> None:
    """Is distinguished from one that left after its answer, and from one whose connection broke."""
    stream = configured()
    gone: Message = {"type": "http.disconnect"}
    whole: list[Message] = [
        {"type": "http.response.start", "status": 200, "headers": []},
        {"type": "http.response.body", "body": b"abc", "more_body": False},
    ]

    async def early(scope: Scope, receive: Receive, send: Send) -> None:
        await receive()

    async def late(scope: Scope, receive: Receive, send: Send) -> None:
        for message in whole:
            await send(message)
        await receive()

    async def broken(scope: Scope, receive: Receive, send: Send) -> None:
        await send(whole[0])
        await send(whole[1])

    async def run(app: ASGIApp, *, breaks: bool = False) -> None:
        async def receive() -> Message:
            return gone

        async def send(message: Message) -> None:
            if breaks and message["type"] == "http.response.body":
                raise OSError

        scope = {"type": "http", "method": "GET", "path": "/", "headers": []}
        await RequestLog(app)(scope, receive, send)

    asyncio.run(run(early))
    asyncio.run(run(late))
    with pytest.raises(OSError):  # noqa: PT011 - the connection's own, without a text
        asyncio.run(run(broken, breaks=True))
    found = [(line["status"], line["bytes_out"], line["client_left"]) for line in requests(stream)]
    assert found == [(None, 0, True), (200, 3, False), (200, 0, True)]


def test_a_log_that_nobody_reads_stops_no_work(configured: Configured) -> None:
    """A pipe whose reader has gone, and no standard error at all."""

    class Broken(io.StringIO):
        def write(self, text: str) -> int:
            raise BrokenPipeError(text)

    configured()
    for stream in (Broken(), None):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sys, "stderr", None)
            configure(stream=stream)
            logger("service.somewhere").warning("something")
            logging.getLogger("service.elsewhere").error("something else")


def test_other_scopes_pass(configured: Configured) -> None:
    """What is not an HTTP request is not touched."""
    stream = configured("debug")
    with TestClient(RequestLog(create_app(Settings(batch_processes=0)))):
        pass
    assert requests(stream) == []


# ---------------------------------------------------------------- whose line


def test_lines_within_a_request_have_its_ids_and_others_have_none(configured: Configured) -> None:
    """Of structlog's and of the standard library's loggers; two at once do not mix; none stays behind."""
    stream = configured()

    async def answer(request: Request) -> Response:
        logger("service.inner").info("within", at=request.query_params["at"])
        await asyncio.sleep(0)
        logging.getLogger("service.other").warning("within too")
        return PlainTextResponse("")

    app = of(answer)

    async def ask(at: str) -> None:
        async def receive() -> Message:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Message) -> None:
            pass

        await app(
            {
                "type": "http",
                "method": "GET",
                "path": "/",
                "query_string": f"at={at}".encode(),
                "headers": [(b"x-request-id", at.encode())],
            },
            receive,
            send,
        )

    async def run() -> None:
        await asyncio.gather(ask("one"), ask("two"))
        await ask("three")
        assert structlog.contextvars.get_contextvars() == {}
        logger("service.inner").info("outside")

    asyncio.run(run())
    *within, outside = lines(stream)
    assert "request_id" not in outside
    assert "trace_id" not in outside
    for name in ("one", "two", "three"):
        own = [line for line in within if line["request_id"] == name]
        assert sorted(line["event"] for line in own) == ["request", "within", "within too"]
        assert {line["at"] for line in own if "at" in line} == {name}
        assert len({line["trace_id"] for line in own}) == 1
    assert len({line["trace_id"] for line in within}) == 3


def test_a_trace_is_continued(configured: Configured) -> None:
    """The caller's trace, a new span, and the header for the computing process."""
    stream = configured()
    seen: dict[str, str] = {}

    async def answer(request: Request) -> Response:
        seen.update(request.headers)
        with bound_from_headers(request.scope["headers"]):
            logger("service.inner").info("as in another process")
        return PlainTextResponse("")

    headers = {"traceparent": TRACEPARENT, "tracestate": "a=b", "x-request-id": "mine"}
    TestClient(of(answer)).get("/", headers=headers)
    inner, line = lines(stream)
    assert (line["trace_id"], line["parent_id"]) == (TRACE, PARENT)
    assert line["span_id"] != PARENT
    assert seen["traceparent"] == f"00-{TRACE}-{line['span_id']}-01"
    assert seen["tracestate"] == "a=b"
    assert (inner["trace_id"], inner["span_id"]) == (TRACE, line["span_id"])


def test_ids_bound_from_headers(configured: Configured) -> None:
    """In a computing process nothing is bound before; an invalid id is ignored."""
    stream = configured()
    log = logger("service.inner")
    with bound_from_headers([(b"X-Request-Id", b"abc"), (b"traceparent", TRACEPARENT.encode())]):
        log.info("with")
    with bound_from_headers([(b"x-request-id", b"no id: SECRET"), (b"traceparent", b"none")]):
        log.info("without")
    log.info("after")
    given, without, after = lines(stream)
    assert (given["request_id"], given["trace_id"], given["span_id"]) == ("abc", TRACE, PARENT)
    for line in (without, after):
        assert {"request_id", "trace_id", "span_id"}.isdisjoint(line)


@pytest.mark.parametrize(
    ("header", "valid"),
    [
        # W3C Trace Context, 3.2.2.5 and the cases of its own test suite.
        (TRACEPARENT, True),
        (f"00-{TRACE}-{PARENT}-00", True),
        (f"cc-{TRACE}-{PARENT}-01", True),
        (f"cc-{TRACE}-{PARENT}-01-what-the-future-will-be-like", True),
        (f"cc-{TRACE}-{PARENT}-01.what-the-future-will-be-like", False),
        (f"00-{TRACE}-{PARENT}-01-what-the-future-will-be-like", False),
        (f"00-{TRACE}-{PARENT}-01-", False),
        (f"ff-{TRACE}-{PARENT}-01", False),
        (f".0-{TRACE}-{PARENT}-01", False),
        (f"0-{TRACE}-{PARENT}-01", False),
        (f"00-{TRACE.upper()}-{PARENT}-01", False),
        (f"00-{TRACE}-{PARENT.upper()}-01", False),
        (f"00-{'0' * 32}-{PARENT}-01", False),
        (f"00-{TRACE}-{'0' * 16}-01", False),
        (f"00-{TRACE[:-1]}-{PARENT}-01", False),
        (f"00-{TRACE}-{PARENT}-1", False),
        (f"00-{TRACE}-{PARENT}-.0", False),
        (f"00-{TRACE}-{PARENT}", False),
        (f"00-{TRACE}-{PARENT}-01\n", False),
        ("", False),
    ],
)
def test_traceparent_is_taken_strictly(header: str, valid: bool) -> None:
    """What is not exactly a header of the recommendation begins a new trace, and its state goes too."""
    headers = [(b"traceparent", header.encode()), (b"tracestate", b"a=b"), (b"other", b"x")]
    context = continued(headers)
    passed = dict(passed_on(headers, context))
    assert (parent_of(headers) is not None) == valid
    assert (context.trace_id == TRACE) == valid
    assert (context.parent_id == PARENT) == valid
    assert (b"tracestate" in passed) == valid
    assert passed[b"other"] == b"x"
    found = parent_of(passed.items())
    assert found is not None
    assert (found.trace_id, found.span_id) == (context.trace_id, context.span_id)
    assert context.sampled == (valid and header.split("-")[3] == "01")


def test_two_traceparents_are_none() -> None:
    """Nobody can tell which of them is meant."""
    assert parent_of([(b"traceparent", TRACEPARENT.encode())] * 2) is None


# ---------------------------------------------------------------- what is not written


SECRETS = ("SECRET", "123.456789")


def whole_application() -> tuple[TestClient, ASGIApp]:
    """The service as it is run, computing batches in a thread."""
    app = create_app(Settings(batch_processes=0))
    metrics = create_metrics(property_model="1")
    outside = RequestIds(RequestLog(RequestMetrics(app, metrics)))
    return TestClient(outside, raise_server_exceptions=False), app


def marked() -> dict[str, Any]:
    """A body that is answered, with marks wherever a caller may put words of its own."""
    body: dict[str, Any] = copy.deepcopy(dict(next(iter(examples().values()))))
    body["kit"]["SECRET gauges"] = {"type": "pressure_transducer"}
    body["run"]["readings"]["suction_pressure"] = {
        "value": 123.456789,
        "instrument": "SECRET gauges",
    }
    return body


def everything(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Requests that are answered, refused, lost and that crash, all of them marked."""
    body = marked()
    line = json.dumps({"id": "SECRET id", "assessment": body})
    kind = {"Content-Type": "application/x-ndjson"}
    assert client.post("/v1/assessments", json=body).status_code == 200
    assert client.post("/v1/batches", content=line, headers=kind).status_code == 200
    refused = copy.deepcopy(body)
    refused["run"]["readings"]["suction_pressure"]["unit"] = "SECRET unit"
    refused["SECRET field"] = 123.456789
    assert client.post("/v1/assessments", json=refused).status_code == 422
    impossible = copy.deepcopy(body)
    impossible["unit"]["refrigerant"] = "SECRET refrigerant"
    assert client.post("/v1/diagnoses", json=impossible).status_code == 422
    broken = '{"SECRET": 123.456789, "SECRET": 1}'
    typed = {"Content-Type": "application/json"}
    assert client.post("/v1/assessments", content=broken, headers=typed).status_code == 400
    client.post("/v1/batches", content=f"{broken}\n{json.dumps(refused)}\nSECRET", headers=kind)
    client.get("/SECRET/123.456789?SECRET=123.456789", headers={"Referer": "SECRET"})
    client.get("/v1/refrigerants/SECRET-path?units=SECRET-query")
    client.get("/examples/SECRET.json", headers={"User-Agent": "SECRET", "X-Request-Id": "no id: SECRET"})
    client.request("SECRET", "/v1/assessments")

    def crash(*_args: Any) -> None:  # noqa: ANN401
        secret = "SECRET 123.456789"
        try:
            raise ValueError(secret)
        except ValueError as error:
            error.add_note(secret)
            raise ExceptionGroup(secret, [KeyError(secret), RuntimeError(secret)]) from error

    with monkeypatch.context() as patched:
        patched.setattr(assessments, "assess", crash)
        patched.setattr(answers, "answer_many", crash)
        assert client.post("/v1/assessments", json=body).status_code == 500
        told = client.post("/v1/batches", content=line, headers=kind)
        assert "/problems/internal" in told.text
    past_the_log(crash)


def past_the_log(crash: Callable[[], None]) -> None:
    """What would be printed, or is written by somebody else."""

    async def failing() -> None:
        raise ValueError("SECRET")

    async def abandoned() -> None:
        task = asyncio.create_task(failing())
        await asyncio.sleep(0)
        del task
        gc.collect()

    asyncio.run(abandoned())
    try:
        crash()
    except BaseException as error:
        sys.excepthook(type(error), error, error.__traceback__)
        threading.excepthook(threading.ExceptHookArgs((type(error), error, error.__traceback__, None)))
    logging.getLogger("a_library").warning("it reads %s, %r", "SECRET", 123.456789)
    with warnings.catch_warnings():
        warnings.simplefilter("always")
        configured_again = warnings.showwarning
        configured_again("SECRET 123.456789", UserWarning, "a.py", 1)


@pytest.mark.parametrize("form", ["json", "text"])
def test_nothing_of_a_request_is_logged(
    configured: Configured,
    form: str,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Not by a path, a value, an exception's text, a library or a traceback; and the log says enough all the same."""
    stream = configured("debug", form)
    client, _ = whole_application()
    everything(client, monkeypatch)
    printed = capfd.readouterr()
    log = stream.getvalue()
    for secret in SECRETS:
        assert secret not in log
        assert secret not in printed.out + printed.err
    assert "ValueError" in log
    assert "ExceptionGroup" in log
    assert "KeyError" in log
    assert "test_logs.py" in log
    assert "in crash" in log if form == "text" else '"function":"crash"' in log
    for event in (
        "uncaught exception",
        "exception was never retrieved",
        "it reads %s",
        "UserWarning",
    ):
        assert event in log
    if form == "json":
        found = requests(stream)
        assert {line["status"] for line in found} >= {200, 400, 404, 405, 422, 500}
        crashed = next(line for line in found if line["status"] == 500)
        assert (crashed["level"], crashed["failed"]) == ("error", "ExceptionGroup")
        errors = [line for line in lines(stream) if line.get("exception")]
        assert crashed["request_id"] in [line.get("request_id") for line in errors]
        first = errors[0]["exception"]
        assert [one["type"] for one in first] == ["ExceptionGroup", "ValueError"]
        assert [one["type"] for one in first[0]["group"]] == ["KeyError", "RuntimeError"]
        assert first[1]["cause"]
        assert set(first[0]["frames"][-1]) == {"file", "line", "function"}


def test_texts_of_exceptions_where_they_are_asked_for(
    configured: Configured, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same requests: so the marks above would have been seen."""
    stream = configured("debug", exception_texts=True)
    client, _ = whole_application()
    everything(client, monkeypatch)
    capfd.readouterr()
    texts = [one["message"] for line in lines(stream) for one in line.get("exception", ()) if one["message"]]
    assert any("SECRET 123.456789" in text for text in texts)
    assert any("it reads SECRET" in line["event"] for line in lines(stream))
    assert any(line.get("text") == "SECRET 123.456789" for line in lines(stream))
    # Paths and queries are written by nothing.
    assert "/SECRET/" not in stream.getvalue()
    assert "SECRET-query" not in stream.getvalue()


def test_the_readme_lists_the_fields(configured: Configured) -> None:
    """Every field of a request's line, and of one with an exception; none that no line has."""
    home = Path(__file__).parents[3] / "service" / "telemetry"
    text = (home / "README.md").read_text("utf-8")
    section = text.partition("\n## Logs\n")[2].partition("\n## ")[0]
    first = re.findall(r"^\| (`[^|]+) \|", section, re.MULTILINE)
    listed = {name for cell in first for name in re.findall("`([a-z_]+)`", cell)}
    stream = configured()

    async def failing(_request: Request) -> Response:
        logger("service.inner").info("within", exc_info=ValueError())
        raise ValueError

    client = TestClient(of(failing), raise_server_exceptions=False)
    client.get("/", headers={"traceparent": TRACEPARENT})
    assert listed == {name for line in lines(stream) for name in line}


def test_a_runaway_recursion_is_cut(configured: Configured) -> None:
    """The innermost frames are kept, and how many were not."""
    stream = configured()

    def deeper() -> None:
        deeper()

    try:
        deeper()
    except RecursionError:
        logger("service.inner").error("too deep", exc_info=True)
    (line,) = lines(stream)
    (told,) = line["exception"]
    assert told["type"] == "RecursionError"
    assert len(told["frames"]) == 40
    assert told["frames_left_out"] > 400
    assert {frame["function"] for frame in told["frames"]} == {"deeper"}


def test_a_line_is_one_line(configured: Configured) -> None:
    """Whatever its fields hold; what JSON cannot hold is named by its type."""
    stream = configured()
    logger("service.inner").info("two\nlines", text="a\nb\u2028c", odd=object(), number=float("nan"))
    (line,) = [json.loads(one) for one in stream.getvalue().split("\n") if one]
    assert line["event"] == "two\nlines"
    assert line["odd"] == "(object)"
    assert line["number"] is None


def test_a_line_that_cannot_be_written(configured: Configured, capfd: pytest.CaptureFixture[str]) -> None:
    """Is reported without its content, where the standard library would print its arguments."""
    stream = configured()
    (handler,) = [one for one in logging.getLogger().handlers if isinstance(one, logs._Handler)]
    handler.handle(logging.LogRecord("service", logging.ERROR, "a.py", 1, "a number: %d", ("SECRET",), None))
    (line,) = lines(stream)
    assert line["event"] == "a line of the log could not be written"
    assert "SECRET" not in stream.getvalue() + capfd.readouterr().err


def test_set_up_again_takes_the_place(configured: Configured) -> None:
    """One line, not two; other handlers stay."""
    other = logging.NullHandler()
    logging.getLogger().addHandler(other)
    first = configured()
    second = configured("warning")
    logging.getLogger("service").warning("once")
    logging.getLogger("service").info("not at all")
    assert first.getvalue() == ""
    assert len(lines(second)) == 1
    assert other in logging.getLogger().handlers


def test_nothing_set_up_disturbs_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    """Without a configured log a request is answered all the same, and nothing is printed."""
    assert TestClient(of(said)).get("/").status_code == 200
    assert capfd.readouterr() == ("", "")


def test_the_server_writes_through_it(configured: Configured, capfd: pytest.CaptureFixture[str]) -> None:
    """Its own lines are JSON too, its access log is shut, and its tracebacks have no texts."""
    stream = configured()

    async def crashing(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            raise ValueError("SECRET")

    config = uvicorn.Config(RequestIds(RequestLog(crashing)), port=0, log_config=None, lifespan="off")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        while not server.started:
            assert thread.is_alive()
        port = server.servers[0].sockets[0].getsockname()[1]
        import httpx2

        response = httpx2.get(f"http://127.0.0.1:{port}/SECRET?SECRET", timeout=60)
        assert response.status_code == 500
    finally:
        server.should_exit = True
        thread.join()
    found = lines(stream)
    printed = capfd.readouterr()
    assert "SECRET" not in stream.getvalue() + printed.out + printed.err
    assert {line["logger"] for line in found} == {"uvicorn.error", "service.request"}
    assert any(line["event"].startswith("Uvicorn running on") for line in found)
    (crashed,) = [line for line in found if "exception" in line]
    assert crashed["event"] == "Exception in ASGI application"
    assert crashed["exception"][0]["type"] == "ValueError"
    (request,) = requests(stream)
    assert (request["status"], request["failed"]) == (None, "ValueError")
