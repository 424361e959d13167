"""Each limit exceeded, with the status that belongs to it; and health, whatever is under way."""

from __future__ import annotations

import asyncio
import contextlib
import json
import re
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from backports import zstd
from fastapi import FastAPI
from starlette.types import Message

from service.edge import handlers
from service.edge.keys import hashed
from service.edge.settings import Settings
from service.routes import batches
from tests.serving.running import Answer, Running, answer, ask, closed, serving
from tests.serving.test_seeing import metric
from tests.serving.test_stopping import until


@pytest.fixture(scope="module")
def small() -> Iterator[Running]:
    """A service with small limits."""
    with serving(
        processes=1,
        maximum_requests=2,
        maximum_head_bytes=2048,
        maximum_body_bytes=4096,
        head_seconds=0.4,
        body_seconds=0.4,
        maximum_connections=8,
        batch_processes=0,
        maximum_batches=1,
        request_seconds=60,
        batch_idle_seconds=600,
    ) as running:
        yield running


def test_a_body_over_the_limit(small: Running) -> None:
    """413, whether its length is stated or not."""
    assert small.post("/v1/echo", b"x" * 4096).status == 200
    assert small.post("/v1/echo", b"x" * 4097).problem == "too-large"
    with small.connect() as connection:
        connection.sendall(b"POST /v1/echo HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n")
        connection.sendall(b"1001\r\n" + b"x" * 0x1001 + b"\r\n0\r\n\r\n")
        refused = answer(connection)
    assert (refused.status, refused.problem) == (413, "too-large")


def test_a_body_that_states_a_huge_length_is_refused_unread(small: Running) -> None:
    """Of as many digits as it likes."""
    for length in ("99999999", "9" * 19, "9" * 18):
        head = f"POST /v1/echo HTTP/1.1\r\nContent-Length: {length}\r\n"
        refused = small.ask(head)
        assert refused.status in (400, 413)


def sent_whole(running: Running, head: str, size: int = 10_000_000) -> Answer:
    """The answer to a client that sends its whole body before it reads, and asks to close."""
    with running.connect() as connection:
        lines = f"{head}\r\nHost: x\r\nConnection: close\r\nContent-Length: {size}\r\n\r\n"
        connection.sendall(lines.encode() + b" " * size)
        found = answer(connection)
        assert found.headers["connection"] == "close"
        assert connection.recv(1) == b""
    return found


@pytest.mark.parametrize(
    ("head", "name"),
    [
        ("POST /v1/echo HTTP/1.1", "too-large"),
        ("POST /nowhere HTTP/1.1", "not-found"),
        ("PUT /health/live HTTP/1.1", "method-not-allowed"),
        ("POST /v1/batches HTTP/1.1\r\nContent-Type: text/plain", "unsupported-media-type"),
        ("POST /v1/batches?offset=x HTTP/1.1\r\nContent-Type: application/x-ndjson", "invalid-request"),
        (f"POST /v1/echo HTTP/1.1\r\nX-Long: {'x' * 2048}", "head-too-large"),
    ],
)
def test_an_early_answer_is_not_lost_to_a_reset(small: Running, head: str, name: str) -> None:
    """A client that sends ten megabytes before it reads still reads why they were refused."""
    assert sent_whole(small, head).problem == name


def test_a_client_that_sends_on_after_its_answer_is_cut_off(small: Running) -> None:
    """What is discarded for it is bounded."""
    with small.connect() as connection:
        connection.sendall(
            b"POST /nowhere HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Length: 900000000\r\n\r\n"
        )
        sent, piece = 0, b" " * 2**20
        with contextlib.suppress(OSError):
            while sent < 2**28:
                connection.sendall(piece)
                sent += len(piece)
        assert sent < 2**28  # the bound is an eighth of it; the rest is what the system holds


def test_a_head_over_the_limit(small: Running) -> None:
    """431, in one piece or in many, in one header or in many, in the address."""
    one = "GET /v1/echo HTTP/1.1\r\n"
    for head in (
        one + f"X-Long: {'x' * 2048}\r\n",
        one + "".join(f"X-{n}: {'x' * 50}\r\n" for n in range(60)),
        f"GET /v1/echo?{'x' * 2048} HTTP/1.1\r\n",
    ):
        refused = small.ask(head)
        assert (refused.status, refused.problem) == (431, "head-too-large")
        assert refused.headers["connection"] == "close"
    with small.connect() as connection:
        connection.sendall(one.encode() + b"X-Endless: ")
        for _ in range(5):
            connection.sendall(b"x" * 500)
            time.sleep(0.02)
        refused = answer(connection)
        assert (refused.status, refused.problem) == (431, "head-too-large")
        assert closed(connection)
    assert small.ask(one + f"X-Long: {'x' * 1500}\r\n").status == 200


def test_a_client_that_sends_its_head_too_slowly(small: Running) -> None:
    """408 where something of it came; where nothing did, the connection is closed."""
    with small.connect() as connection:
        connection.sendall(b"GET /v1/echo HTT")
        refused = answer(connection)
        assert (refused.status, refused.problem) == (408, "stalled")
        assert closed(connection)
    with small.connect() as connection:
        assert closed(connection)
    # A line end between requests restarts no endless wait.
    with small.connect() as connection:
        assert ask(connection, "GET /v1/echo HTTP/1.1").status == 200
        connection.sendall(b"\r\n")
        assert answer(connection).status == 408
        assert closed(connection)


def test_a_client_that_sends_its_body_too_slowly(small: Running) -> None:
    """408, and the connection is closed."""
    with small.connect() as connection:
        connection.sendall(b"POST /v1/echo HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\n{")
        refused = answer(connection)
        assert (refused.status, refused.problem) == (408, "stalled")
        assert refused.headers["connection"] == "close"
        assert closed(connection)


def test_what_is_not_http(small: Running) -> None:
    """400 as a problem."""
    with small.connect() as connection:
        connection.sendall(b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03")  # how TLS begins
        refused = answer(connection)
        assert (refused.status, refused.problem) == (400, "invalid-http")


def test_more_requests_than_are_taken(small: Running, tmp_path: Path) -> None:
    """503 with Retry-After; health answers all the same, and those who wait are answered."""
    begun, go = tmp_path / "begun", tmp_path / "go"
    with ThreadPoolExecutor(2) as threads:
        first = threads.submit(small.post, f"/v1/until?begun={begun}&file={go}")
        while not begun.exists():
            time.sleep(0.005)
        second = threads.submit(small.post, f"/v1/until?begun={begun}2&file={go}")
        while b"\nreadings_requests_waiting 1.0\n" not in small.get("/metrics").body:
            time.sleep(0.005)
        refused = small.post("/v1/echo")
        assert (refused.status, refused.problem) == (503, "overloaded")
        assert int(refused.headers["retry-after"]) >= 1
        for address in ("/health/live", "/health/ready", "/", "/openapi.json"):
            assert small.get(address).status == 200, address
        go.touch()
        assert first.result().status == second.result().status == 200


def test_more_connections_than_are_taken(small: Running) -> None:
    """Those that ask nothing make room, the oldest first; so health always finds room."""
    idle = [small.connect() for _ in range(12)]
    assert small.get("/health/live").status == 200
    assert closed(idle[0])
    for connection in idle:
        connection.close()


def test_more_batches_than_are_taken(small: Running) -> None:
    """503 with Retry-After while one is under way."""
    head = "POST /v1/batches HTTP/1.1\r\nContent-Type: application/x-ndjson\r\n"
    with small.connect() as connection:
        connection.sendall(f"{head}Host: x\r\nTransfer-Encoding: chunked\r\n\r\n".encode())
        while b"\r\n\r\n" not in connection.recv(65536):
            pass
        refused = small.ask(head + "Content-Length: 3\r\n", b"{}\n")
        assert (refused.status, refused.problem) == (503, "overloaded")
        assert refused.headers["retry-after"]
        connection.sendall(b"0\r\n\r\n")
        while b"summary" not in connection.recv(65536):
            pass


def test_batches_that_drip_make_room() -> None:
    """Eight clients that send a byte now and then do not keep a ninth out; they learn where to resume."""
    head = (
        b"POST /v1/batches HTTP/1.1\r\nContent-Type: application/x-ndjson\r\nHost: x\r\n"
        b"Transfer-Encoding: chunked\r\n\r\n"
    )
    with serving(batch_processes=0, processes=1, batch_idle_seconds=0.001) as running:
        with contextlib.ExitStack() as stack:
            dripping = [stack.enter_context(running.connect()) for _ in range(8)]
            for connection in dripping:
                connection.sendall(head + b"1\r\n \r\n")
                while b"\r\n\r\n" not in connection.recv(65536):
                    pass
            body = b"{}\n"
            found = running.ask(
                f"POST /v1/batches HTTP/1.1\r\nContent-Type: application/x-ndjson\r\nContent-Length: {len(body)}\r\n",
                body,
            )
            assert found.status == 200
            dripping[0].sendall(b"0\r\n\r\n")
            ended = b""
            while b'"summary"' not in ended:
                ended += dripping[0].recv(65536)
        assert b'"/problems/overloaded"' in ended
        assert b'"resume_offset":0' in ended


def test_a_bomb_whose_client_left_frees_its_place() -> None:
    """A gigabyte of blank lines is not decompressed for a client that is no longer there."""
    compressor = zstd.ZstdCompressor()
    blank = b"\n" * 2**24
    packed = b"".join(compressor.compress(blank) for _ in range(64)) + compressor.flush()
    head = (
        b"POST /v1/batches HTTP/1.1\r\nContent-Type: application/x-ndjson\r\nHost: x\r\n"
        b"Content-Encoding: zstd\r\nContent-Length: %d\r\n\r\n"
    )
    with serving(batch_processes=0, processes=1, maximum_batches=1, batch_idle_seconds=600) as running:
        with running.connect() as connection:
            connection.sendall(head % len(packed) + packed)
            while b"\r\n\r\n" not in connection.recv(65536):
                pass
        until(lambda: metric(running, "readings_batches_under_way") == 0.0)


def test_batches_that_come_at_once_are_counted() -> None:
    """One is taken, whichever; none slips in while another waits to begin."""
    app = FastAPI()
    batches.keep(app, Settings(maximum_batches=1, batch_processes=0, batch_idle_seconds=600))
    handlers.install(app)
    app.include_router(batches.router)
    scope = {
        "type": "http",
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": "/v1/batches",
        "query_string": b"",
        "root_path": "",
        "headers": [(b"content-type", b"application/x-ndjson")],
    }

    async def run() -> list[int]:
        begun: asyncio.Queue[int] = asyncio.Queue()

        async def receive() -> Message:
            return await asyncio.Future()  # nothing more comes

        async def send(message: Message) -> None:
            if message["type"] == "http.response.start":
                begun.put_nowait(message["status"])

        asking = [asyncio.create_task(app(dict(scope), receive, send)) for _ in range(3)]
        statuses = [await begun.get() for _ in asking]
        for task in asking:
            task.cancel()
        await asyncio.gather(*asking, return_exceptions=True)
        return statuses

    assert sorted(asyncio.run(run())) == [200, 503, 503]


def test_what_takes_too_long() -> None:
    """504, and the process is replaced: the next request is answered by another."""
    with serving(processes=1, request_seconds=0.5) as running:
        first = running.post("/v1/echo")
        refused = running.post("/v1/sleep?seconds=600")
        assert (refused.status, refused.problem) == (504, "timed-out")
        after = running.post("/v1/echo")
        while after.status != 200:  # it waited too long for the new process, on a busy machine
            assert (after.status, after.problem) == (503, "overloaded")
            after = running.post("/v1/echo")
        assert after.body != first.body


def test_what_waits_too_long(tmp_path: Path) -> None:
    """503: nothing was computed of it."""
    begun, go = tmp_path / "begun", tmp_path / "go"
    with serving(processes=1, request_seconds=1.5) as running, ThreadPoolExecutor(1) as threads:
        first = threads.submit(running.post, f"/v1/until?begun={begun}&file={go}")
        while not begun.exists():
            time.sleep(0.005)
        time.sleep(0.2)
        late = running.post("/v1/echo")
        # The first is given up a moment before: the second may still find the new process in time.
        assert (late.status, late.status == 200 or late.problem) in (
            (503, "overloaded"),
            (200, True),
        )
        assert first.result().status == 504


def test_keys(tmp_path: Path) -> None:
    """401 without a known key; pages and health are open."""
    file = tmp_path / "keys"
    file.write_text(hashed(b"another"))
    with serving(processes=1, api_key_hashes=hashed(b"one key"), api_key_file=file) as running:
        assert running.post("/v1/echo", headers="X-API-Key: one key\r\n").status == 200
        assert running.post("/v1/echo", headers="X-API-Key: another\r\n").status == 200
        for given in (
            "",
            "X-API-Key: one keys\r\n",
            "X-API-Key: one key\r\nX-API-Key: one key\r\n",
        ):
            refused = running.post("/v1/echo", headers=given)
            assert (refused.status, refused.problem) == (401, "unauthorised")
            assert refused.headers["www-authenticate"].startswith("ApiKey")
            assert b"one key" not in refused.body
        assert running.post("/v1/batches").status == 401
        assert running.post("/v1/assessments").status == 401
        # A slash at the end leads to the same address, and past no key.
        assert running.post("/v1/echo/").status == 401
        assert running.post("/v1/echo/", headers="X-API-Key: one key\r\n").status == 200
        shown = running.get("/metrics").body.decode()
        assert 'route="/v1/assessments",status="401"' in shown
        for address in ("/health/live", "/health/ready", "/docs", "/openapi.json", "/examples"):
            assert running.get(address).status == 200


def test_pages_of_other_origins(small: Running) -> None:
    """None may ask by default; those that are named may."""
    asking = "Origin: https://dashboard.example\r\nAccess-Control-Request-Method: POST\r\n"
    for found in (
        small.ask(f"OPTIONS /v1/echo HTTP/1.1\r\n{asking}"),
        small.get("/v1/echo", asking),
    ):
        assert not [name for name in found.headers if name.startswith("access-control")]
    with serving(processes=1, cors_origins="https://dashboard.example") as running:
        found = running.ask(f"OPTIONS /v1/echo HTTP/1.1\r\n{asking}")
        assert found.headers["access-control-allow-origin"] == "https://dashboard.example"
        other = running.get("/v1/echo", "Origin: https://other.example\r\n")
        assert "access-control-allow-origin" not in other.headers


def test_settings_that_cannot_be_used(monkeypatch: pytest.MonkeyPatch) -> None:
    """Refused before anything starts; a key in place of its hash is not repeated."""
    for name, value in (
        ("api_key_hashes", "open-sesame"),
        ("security_contact", "security"),
        ("cors_origins", "*"),
        ("maximum_draws", "1"),
        ("head_seconds", "inf"),
        ("stop_seconds", "nan"),
        ("batch_idle_seconds", "Infinity"),
    ):
        monkeypatch.setenv(f"SERVICE_{name.upper()}", value)
        with pytest.raises(ValueError, match=name) as refused:
            Settings()
        assert "open-sesame" not in str(refused.value)
        monkeypatch.delenv(f"SERVICE_{name.upper()}")


@pytest.mark.slow
def test_limits_of_a_body_in_the_service_itself() -> None:
    """Nesting, draws, the length of a line, where the real work is done."""
    example = Path("schemas/examples/r410a_capacity.json")
    with serving(
        "service",
        processes=1,
        batch_processes=1,
        maximum_depth=12,
        maximum_draws=512,
        maximum_line_bytes=4096,
    ) as running:
        body = json.loads((Path(__file__).parents[2] / example).read_text("utf-8"))
        assert running.post("/v1/assessments", json.dumps(body).encode()).status == 200
        deep = running.post("/v1/assessments", b'{"a":' * 13 + b"1" + b"}" * 13)
        assert (deep.status, deep.problem) == (400, "invalid-json")
        body["options"] = {"draws": 512}
        assert running.post("/v1/assessments", json.dumps(body).encode()).status == 200
        body["options"] = {"draws": 1024}
        many = running.post("/v1/assessments", json.dumps(body).encode())
        assert (many.status, many.problem) == (422, "invalid-request")
        assert json.loads(many.body)["errors"][0]["pointer"] == "/options/draws"
        lines = json.dumps({"assessment": body}).encode() + b"\n" + b"x" * 4097 + b"\n"
        found = running.ask(
            f"POST /v1/batches HTTP/1.1\r\nContent-Type: application/x-ndjson\r\nContent-Length: {len(lines)}\r\n",
            lines,
        )
        assert re.findall(rb'"status":(\d+)', found.body) == [b"422", b"413"]
        assert b'"/assessment/options/draws"' in found.body
