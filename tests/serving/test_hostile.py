"""Hostile and broken clients: what they send harms nobody else."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.edge.keys import hashed
from tests.serving.running import Running, answer, closed, serving
from tests.serving.test_limits import sent_whole
from tests.serving.test_seeing import metric
from tests.serving.test_stopping import until

BATCH = (
    b"POST /v1/batches HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nTransfer-Encoding: chunked\r\n\r\n"
)
ORIGIN = "https://dashboard.example"


@pytest.fixture(scope="module")
def shared() -> Iterator[Running]:
    """A service that asks for a key, for which a page of another origin may ask too."""
    with serving(
        processes=1,
        batch_processes=0,
        maximum_head_bytes=2048,
        api_key_hashes=hashed(b"key"),
        cors_origins=ORIGIN,
    ) as running:
        yield running


def asking(address: str, body: bytes | None = None) -> bytes:
    """A request with the key, by POST where it has a body."""
    length = b"" if body is None else b"Content-Length: %d\r\n" % len(body)
    method = b"GET" if body is None else b"POST"
    head = b"%b %b HTTP/1.1\r\nHost: x\r\nX-API-Key: key\r\n%b\r\n"
    return head % (method, address.encode(), length) + (body or b"")


def rest(connection: socket.socket) -> bytes:
    """Everything up to the end of the connection."""
    received = b""
    with contextlib.suppress(ConnectionResetError):
        while piece := connection.recv(65536):
            received += piece
    return received


@pytest.mark.parametrize("after", [b"\0 no request\r\n\r\n", b"GET / HTTP/1.1\r\nX: " + b"x" * 4096])
def test_what_follows_a_request_is_not_answered_in_its_place(shared: Running, tmp_path: Path, after: bytes) -> None:
    """Nothing comes before the answer that is due; after it the connection closes."""
    begun, go = tmp_path / "begun", tmp_path / "go"
    with shared.connect() as connection:
        connection.sendall(asking(f"/v1/until?begun={begun}&file={go}"))
        until(begun.exists)
        connection.sendall(after)
        connection.sendall(after)  # so that the first is known to be read: nothing of this one is
        assert shared.get("/health/live").status == 200
        go.touch()
        found = answer(connection)
        assert (found.status, found.headers["connection"]) == (200, "close")
        assert closed(connection)


def test_a_body_that_breaks_off(shared: Running) -> None:
    """400 before anything was answered; into an answer that has begun nothing is written."""
    head = b"POST /v1/echo HTTP/1.1\r\nHost: x\r\nX-API-Key: key\r\nTransfer-Encoding: chunked\r\n\r\n"
    with shared.connect() as connection:
        connection.sendall(head + b"no length\r\n")
        assert answer(connection).problem == "invalid-http"
        assert closed(connection)
    with shared.connect() as connection:
        connection.sendall(BATCH.replace(b"\r\n\r\n", b"\r\nX-API-Key: key\r\n\r\n") + b"3\r\n{}\n\r\n")
        received = b""
        while b'"line":0' not in received:
            received += connection.recv(65536)
        connection.sendall(b"no length\r\n")
        assert b"HTTP/1.1" not in rest(connection)


def test_requests_without_end_in_one_pipe(shared: Running, tmp_path: Path) -> None:
    """Of those that come while one is answered 32 are taken, answered in order, and the connection closed."""
    begun, go = tmp_path / "begun", tmp_path / "go"
    with shared.connect() as connection:
        connection.sendall(asking(f"/v1/until?begun={begun}&file={go}"))
        until(begun.exists)
        connection.sendall(asking("/health/live") * 100)
        assert shared.get("/health/live").status == 200
        go.touch()
        received = rest(connection)
    assert received.count(b"HTTP/1.1 200 OK") == 33
    assert received.count(b"connection: close") == 1


def test_fields_after_a_body(shared: Running) -> None:
    """They do not pass for those of the head; and they are bounded as a head is, where no time is."""
    with shared.connect() as connection:
        connection.sendall(
            b"POST /v1/echo HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n0\r\nX-API-Key: key\r\n\r\n"
        )
        assert answer(connection).problem == "unauthorised"
    with shared.connect() as connection:
        connection.sendall(BATCH.replace(b"\r\n\r\n", b"\r\nX-API-Key: key\r\n\r\n") + b"0\r\n")
        received = b""
        while b"\r\n\r\n" not in received:
            received += connection.recv(65536)
        connection.sendall(b"X-Endless: " + b"x" * 4096)
        assert b"summary" not in rest(connection)


def test_a_page_of_another_origin_where_a_key_is_asked_for(shared: Running) -> None:
    """A browser asks without the key whether it may send one, and lets the page read a refusal."""
    found = shared.ask(
        f"OPTIONS /v1/echo HTTP/1.1\r\nOrigin: {ORIGIN}\r\nAccess-Control-Request-Method: POST\r\n"
        "Access-Control-Request-Headers: x-api-key\r\n"
    )
    assert found.status == 200
    assert "X-API-Key" in found.headers["access-control-allow-headers"]
    refused = shared.get("/v1/echo", f"Origin: {ORIGIN}\r\n")
    assert (refused.status, refused.headers["access-control-allow-origin"]) == (401, ORIGIN)


def test_a_refused_key_is_not_lost_to_a_reset(shared: Running) -> None:
    """Though the client sends ten megabytes before it reads."""
    assert sent_whole(shared, "POST /v1/echo HTTP/1.1").problem == "unauthorised"


def test_no_way_round_the_key(shared: Running) -> None:
    """However the address is written, nothing comes to a process without the key."""
    for address in (
        "/v1",
        "/v1/",
        "/v1/echo",
        "//v1/echo",
        "/%76%31/echo",
        "/v1%2fecho",
        "/V1/echo",
        "/./v1/echo",
        "/docs/../v1/echo",
        "/docs/%2e%2e/v1/echo",
        "/docs/assets/..%2f..%2fv1/echo",
        "/%2fv1/echo",
        "http://x/v1/echo",
        "/v1;x/echo",
        "/v1/%0aecho",
        "/v1/%00",
    ):
        assert shared.get(address).status in (401, 404), address


def test_clients_that_do_not_read() -> None:
    """Neither answers nor a batch that was given up keep a connection for ever."""
    with serving(processes=1, batch_processes=0, batch_stall_seconds=0.2) as running:
        before = metric(running, "process_open_fds")
        page, batch = socket.socket(), socket.socket()
        with page, batch:
            for connection in (page, batch):
                connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
                connection.connect(("127.0.0.1", running.port))
            page.sendall(asking("/openapi.json") * 30)
            line = b'{"id": "%s"}\n' % (b"x" * 60)
            chunk = b"%x\r\n%b\r\n" % (len(line) * 1000, line * 1000)
            batch.settimeout(1.0)
            with contextlib.suppress(OSError):
                batch.sendall(BATCH + chunk * 250)
            until(lambda: metric(running, "process_open_fds") == before)
