"""The command by which an engine asks whether the service is ready."""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from service import health

ROOT = Path(__file__).parents[2]


class Answering(BaseHTTPRequestHandler):
    """Ready or not, as set."""

    status = 200

    def do_GET(self) -> None:
        """At the one address that is asked."""
        self.send_response(self.status if self.path == "/health/ready" else 404)
        self.end_headers()

    def log_message(self, format: str, *_: object) -> None:
        """Say nothing."""


@pytest.fixture
def port(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """A server's, on this machine."""
    monkeypatch.delenv("SERVICE_HOST", raising=False)
    with HTTPServer(("127.0.0.1", 0), Answering) as server:
        thread = threading.Thread(target=server.serve_forever, args=[0.01])
        thread.start()
        monkeypatch.setenv("SERVICE_PORT", str(server.server_port))
        yield server.server_port
        server.shutdown()
        thread.join()


@pytest.mark.parametrize("host", ["127.0.0.1", "0.0.0.0", ""])
def test_ready(port: int, host: str, capsys: pytest.CaptureFixture[str]) -> None:
    """At the address of the environment or the arguments; one that means every interface is asked here."""
    assert health.main(["health"]) == 0
    assert health.main(["health", "--host", host, "--port", str(port)]) == 0
    assert health.main(["health", "--quiet"]) == 0
    assert capsys.readouterr().out == "ready\nready\n"


def test_not_ready(port: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Any other answer, in words."""
    monkeypatch.setattr(Answering, "status", 503)
    assert health.main(["health"]) == 1
    assert "status 503" in capsys.readouterr().err


def test_nobody_there(port: int, capsys: pytest.CaptureFixture[str]) -> None:
    """Refused, or no HTTP at all."""
    with HTTPServer(("127.0.0.1", 0), Answering) as server:
        unused = server.server_port
    assert health.main(["health", "--port", str(unused)]) == 1
    assert f"no answer on port {unused}" in capsys.readouterr().err
    with pytest.raises(SystemExit) as stopped:
        health.main(["health", "--port", "0"])
    assert stopped.value.code == 2


def test_asking_imports_nothing_heavy(port: int) -> None:
    """The command as it is typed, and what it has loaded by its end."""
    code = (
        "import atexit, runpy, sys\n"
        "atexit.register(lambda: print(*(m for m in sys.modules if '.' not in m)))\n"
        "sys.argv = ['service', 'health']\n"
        "runpy.run_module('service', run_name='__main__')"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True, text=True)
    said, loaded = done.stdout.splitlines()
    assert said == "ready"
    assert not {"numpy", "fastapi", "pydantic", "uvicorn", "schemas"} & set(loaded.split())
