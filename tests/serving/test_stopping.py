"""Processes that die, and a service that stops."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import struct
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.serving.running import PATIENCE, ROOT, Running, ask, closed, serving


def until(condition: object) -> None:
    """Wait for what must come."""
    assert callable(condition)
    end = time.monotonic() + PATIENCE
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.01)


def waiting(service: Running) -> int:
    """Requests that wait for a process."""
    shown = service.get("/metrics").body.decode()
    return int(float(shown.partition("\nreadings_requests_waiting ")[2].split("\n")[0]))


@pytest.fixture
def running() -> Iterator[Running]:
    """Two processes of the stand-in, to be stopped."""
    with serving(processes=2, drain_seconds=0.3) as started:
        yield started


@pytest.fixture(scope="module")
def shared() -> Iterator[Running]:
    """The same for tests that leave it running."""
    with serving(processes=2) as started:
        yield started


def test_a_request_whose_process_dies_is_computed_once_more(shared: Running, tmp_path: Path) -> None:
    """Others are unharmed, and the process is replaced."""
    begun, go = tmp_path / "begun", tmp_path / "go"
    with ThreadPoolExecutor(1) as threads:
        other = threads.submit(shared.post, f"/v1/until?begun={begun}&file={go}")
        until(begun.exists)
        found = shared.post(f"/v1/die_once?file={tmp_path / 'died'}")
        assert found.status == 200
        go.touch()
        assert other.result().status == 200
        assert other.result().body != found.body
    assert shared.get("/health/ready").status == 200


def test_a_process_killed_from_outside_mid_request(shared: Running, tmp_path: Path) -> None:
    """The same, whatever kills it."""
    begun, go = tmp_path / "begun", tmp_path / "go"
    with ThreadPoolExecutor(1) as threads:
        asked = threads.submit(shared.post, f"/v1/until?begun={begun}&file={go}")
        until(begun.exists)
        number = int(begun.read_text())
        os.kill(number, signal.SIGKILL)
        go.touch()
        found = asked.result()
    assert found.status == 200
    assert int(found.body) != number


def test_a_process_that_dies_idle_is_replaced(shared: Running) -> None:
    """No request is lost on it."""
    number = int(shared.post("/v1/echo").body)
    os.kill(number, signal.SIGKILL)
    for _ in range(6):
        found = shared.post("/v1/echo")
        assert found.status == 200
        assert int(found.body) != number


def test_a_request_that_brings_two_processes_down_is_an_internal_error(shared: Running) -> None:
    """500, and the service continues."""
    found = shared.post("/v1/die")
    assert (found.status, found.problem) == (500, "internal")
    assert shared.post("/v1/echo").status == 200


def test_what_a_process_raises_stays_there(shared: Running) -> None:
    """500 without its text; the process is intact and continues."""
    found = shared.post("/v1/raise")
    assert (found.status, found.problem) == (500, "internal")
    assert b"secret" not in found.body
    assert shared.post("/v1/echo").status == 200


def test_a_client_that_leaves_while_it_waits_takes_no_process(shared: Running, tmp_path: Path) -> None:
    """Its request is dropped before its turn; those after it are answered."""
    go = tmp_path / "go"
    with ThreadPoolExecutor(2) as threads:
        for name in ("a", "b"):
            threads.submit(shared.post, f"/v1/until?begun={tmp_path / name}&file={go}")
        until(lambda: (tmp_path / "a").exists() and (tmp_path / "b").exists())
        with shared.connect() as connection:
            never = tmp_path / "never"
            connection.sendall(f"GET /v1/until?begun={never}&file={go} HTTP/1.1\r\nHost: x\r\n\r\n".encode())
            until(lambda: waiting(shared) == 1)
        until(lambda: waiting(shared) == 0)
        go.touch()
    assert shared.post("/v1/echo").status == 200
    assert not never.exists()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_stop_signal_lets_work_under_way_finish(running: Running, tmp_path: Path, number: signal.Signals) -> None:
    """Not ready at once, closing connections as they are answered, then exit status 0."""
    begun, go = tmp_path / "begun", tmp_path / "go"
    with ThreadPoolExecutor(1) as threads, running.connect() as idle, running.connect() as probe:
        assert ask(idle, "GET /health/live HTTP/1.1").status == 200
        assert ask(probe, "GET /health/ready HTTP/1.1").status == 200
        asked = threads.submit(running.post, f"/v1/until?begun={begun}&file={go}")
        until(begun.exists)
        running.process.send_signal(number)
        until(lambda: not_listening(running))
        assert running.process.poll() is None  # it waits for what is under way
        go.touch()
        found = asked.result()
        assert found.status == 200
        assert found.headers["connection"] == "close"
        assert closed(idle)
    assert running.process.wait(PATIENCE) == 0


def test_what_is_not_answered_in_time_gets_a_problem(tmp_path: Path) -> None:
    """503 as a problem, which names what to do; the exit status is 0 all the same."""
    begun, never = tmp_path / "begun", tmp_path / "never"
    with (
        serving(processes=1, drain_seconds=0, stop_seconds=0.1) as running,
        ThreadPoolExecutor(1) as threads,
    ):
        asked = threads.submit(running.post, f"/v1/until?begun={begun}&file={never}")
        until(begun.exists)
        running.process.send_signal(signal.SIGTERM)
        assert asked.result().problem == "stopping"
        assert running.process.wait(PATIENCE) == 0


def not_listening(running: Running) -> bool:
    """Whether it takes no more connections."""
    with contextlib.suppress(ConnectionResetError):
        try:
            running.connect().close()
        except ConnectionRefusedError:
            return True
    return False


def test_it_is_not_ready_while_it_sends_clients_away(tmp_path: Path) -> None:
    """Readiness fails, work is still answered, and each answer closes its connection."""
    with serving(processes=1, drain_seconds=PATIENCE) as running:
        with running.connect() as connection, running.connect() as kept:
            assert ask(kept, "GET /health/live HTTP/1.1").status == 200
            running.process.send_signal(signal.SIGTERM)
            found = ask(connection, "GET /health/ready HTTP/1.1")
            while found.status == 200:
                found = running.get("/health/ready")
            assert (found.status, found.problem) == (503, "stopping")
            assert found.headers["connection"] == "close"
            found = ask(kept, "GET /v1/echo HTTP/1.1")
            assert (found.status, found.headers["connection"]) == (200, "close")
        assert running.get("/health/live").status == 200
        running.process.send_signal(signal.SIGTERM)


def test_a_stop_signal_under_load_fails_no_request(running: Running) -> None:
    """Every request that was sent is answered whole; who comes after is refused, not dropped."""
    answered, failed = [0] * 6, []
    signalled, stop = threading.Event(), threading.Event()

    def client(number: int) -> None:
        while not stop.is_set():
            try:
                connection = running.connect()
            except (ConnectionRefusedError, ConnectionResetError):
                return  # it has stopped, and nothing was sent; another would be asked
            with connection:
                closing, fresh = False, True
                while not closing:
                    try:
                        found = ask(
                            connection,
                            "POST /v1/sleep?seconds=0.002 HTTP/1.1\r\nContent-Length: 2",
                            b"{}",
                        )
                        fresh = False
                    except OSError as error:
                        # The kernel takes a connection that the service has not yet accepted, and resets it when the
                        # service stops listening: no request was read.
                        failed.extend([] if fresh and signalled.is_set() else [repr(error)])
                        return
                    if found.status != 200:
                        failed.append(str(found))
                    answered[number] += 1
                    closing = found.headers.get("connection") == "close"

    threads = [threading.Thread(target=client, args=[n]) for n in range(len(answered))]
    for thread in threads:
        thread.start()
    until(lambda: min(answered) > 5)
    signalled.set()
    running.process.send_signal(signal.SIGTERM)
    assert running.process.wait(PATIENCE) == 0
    stop.set()
    for thread in threads:
        thread.join(PATIENCE)
    assert failed == []


def test_a_stopped_batch_says_where_to_resume(running: Running) -> None:
    """It ends with its summary, and the service with 0."""
    head = (
        "POST /v1/batches HTTP/1.1\r\nContent-Type: application/x-ndjson\r\nHost: x\r\n"
        "Transfer-Encoding: chunked\r\n\r\n"
    )
    with running.connect() as connection:
        connection.sendall(head.encode() + b"3\r\n{}\n\r\n")
        received = b""
        while b'"line":0' not in received:
            received += connection.recv(65536)
        running.process.send_signal(signal.SIGTERM)
        while b"summary" not in received or not received.endswith(b"\r\n"):
            received += connection.recv(65536)
        connection.sendall(b"0\r\n\r\n")
        while not received.endswith(b"0\r\n\r\n"):
            received += connection.recv(65536)
    line = next(row for row in received.splitlines() if b"summary" in row)
    summary = json.loads(line)["summary"]
    assert summary["problem"]["type"] == "/problems/stopping"
    assert (summary["complete"], summary["resume_offset"]) == (False, 1)
    assert running.process.wait(PATIENCE) == 0


@pytest.mark.slow
def test_the_same_bytes_from_every_process_and_after_a_restart() -> None:
    """An example of each kind, from two services of two processes each, two requests at a time."""
    folder = ROOT / "schemas" / "examples"
    bodies = [
        (address, (folder / name).read_bytes())
        for address, name in (
            ("assessments", "r410a_capacity.json"),
            ("diagnoses", "diagnoses/charge_lost.json"),
            ("comparisons", "comparisons/coil_cleaned.json"),
        )
    ]
    found: list[set[bytes]] = [set() for _ in bodies]
    processes = set()
    for _ in range(2):
        with serving("service", processes=2, batch_processes=0) as running, ThreadPoolExecutor(2) as threads:
            for place, (address, body) in enumerate(bodies):
                for one in [threads.submit(running.post, f"/v1/{address}", body) for _ in range(4)]:
                    assert one.result().status == 200
                    found[place].add(one.result().body)
            processes.add(running.process.pid)
    assert len(processes) == 2
    assert [len(row) for row in found] == [1] * len(bodies)


def test_pipelined_requests_are_answered_in_order(shared: Running) -> None:
    """Two requests in one piece."""
    with shared.connect() as connection:
        connection.sendall(b"GET /v1/echo HTTP/1.1\r\nHost: x\r\n\r\nGET /health/live HTTP/1.1\r\nHost: x\r\n\r\n")
        received = b""
        while b'"live"' not in received:
            received += connection.recv(65536)
    assert received.count(b"HTTP/1.1 200 OK") == 2
    assert received.index(b"text/plain") < received.index(b"application/json")


def test_a_client_that_leaves_amid_pipelined_requests_harms_nothing(tmp_path: Path) -> None:
    """Neither the first of them nor those that wait behind it are answered into a closed connection."""
    begun, go = tmp_path / "begun", tmp_path / "go"
    with serving(processes=1, capture=True) as running:
        first = f"GET /v1/until?begun={begun}&file={go} HTTP/1.1\r\nHost: x\r\n\r\n".encode()
        with running.connect() as connection:
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            connection.sendall(first + b"GET /v1/echo HTTP/1.1\r\nHost: x\r\n\r\n" * 3)
            until(begun.exists)
        go.touch()
        assert running.post("/v1/echo").status == 200
        running.process.send_signal(signal.SIGTERM)
        assert running.process.stderr is not None
        logged = running.process.stderr.read()
        assert running.process.wait(PATIENCE) == 0
    levels = {json.loads(line)["level"] for line in logged.splitlines()}
    assert levels <= {"info"}, logged
