"""Start the service: ``python -m service [--host HOST] [--port PORT]``.

Once ready it sends itself the first example, prints the findings and where to look, and serves
until stopped.  ``python -m service health`` asks a running one whether it is ready, and ``python -m
service openapi`` writes ``schemas/openapi.json``.
"""

from __future__ import annotations

import time

_STARTED = time.perf_counter()  # before anything that takes time to import

# ruff: noqa: E402
import sys

if __name__ == "__main__" and "health" in sys.argv[1:]:  # often asked: before all that takes time
    from service.health import main as ask

    sys.exit(ask(sys.argv[1:]))

import argparse
import asyncio
import gc
import json
import socket
import textwrap
import urllib.request
from collections.abc import Set
from pathlib import Path
from typing import Any

import uvicorn
from pydantic import ValidationError

from schemas.examples import TITLES, examples
from service.app import create_app
from service.batches.stream import Batch
from service.edge.settings import Settings

_OPENAPI = Path(__file__).parent.parent / "schemas" / "openapi.json"


def openapi_text() -> str:
    """The contract as it is committed."""
    return json.dumps(create_app().openapi(), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def _say(text: str = "") -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def _arguments(defaults: Settings) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m service", description=__doc__.split("\n")[0])
    parser.add_argument(
        "command", nargs="?", choices=["serve", "health", "openapi"], default="serve"
    )
    parser.add_argument("--host", default=defaults.host, help="address (SERVICE_HOST)")
    parser.add_argument("--port", type=int, default=defaults.port, help="port (SERVICE_PORT)")
    parser.add_argument("--quiet", action="store_true", help="do not send the example")
    return parser.parse_args()


def _post_example(base: str) -> dict[str, Any]:
    name = next(iter(TITLES))
    request = urllib.request.Request(
        f"{base}/v1/assessments",
        data=json.dumps(examples()[name]).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=30) as response:
        return dict(json.load(response))


def _introduce(base: str, answer: dict[str, Any]) -> None:
    name = next(iter(TITLES))
    _say(f"Example visit: {TITLES[name]}")
    _say(f"Readings: {answer['usability']['grade'].replace('_', ' ')}")
    for finding in answer["findings"][:5]:
        text = f"{finding['grade'].replace('_', ' ')}: {finding['sentence']}"
        _say(textwrap.fill(text, 96, initial_indent="  - ", subsequent_indent="    "))
    rest = len(answer["findings"]) - 5
    if rest > 0:
        _say(f"  - and {rest} more findings, {len(answer['derived'])} derived values, "
             f"{len(answer['cautions'])} cautions")  # fmt: skip
    _say()
    _say(f"Page      {base}/")
    _say(f"Docs      {base}/docs")
    _say(f"Example   {base}/examples/{name}.json  (POST it to {base}/v1/assessments)")
    _say("Serving until stopped (Ctrl+C).")


class _Server(uvicorn.Server):
    """Uvicorn's server, which introduces itself once the port is open."""

    quiet = False
    batches: Set[Batch] = frozenset()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if not self.started:
            return
        host, port = self.servers[0].sockets[0].getsockname()[:2]
        base = f"http://{'127.0.0.1' if host == '0.0.0.0' else host}:{port}"
        _say(f"Ready at {base} after {time.perf_counter() - _STARTED:.1f} s.")
        if not self.quiet:
            self._introduction = asyncio.create_task(self._introduce(base))

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        # A batch may run for hours: each is told to end with a line that says where to go on.
        for batch in self.batches:
            batch.stop()
        await super().shutdown(sockets)

    async def _introduce(self, base: str) -> None:
        try:
            answer = await asyncio.to_thread(_post_example, base)
        except OSError as error:
            _say(f"The example could not be sent: {error}")
            return
        _introduce(base, answer)


def main() -> int:
    """Run the command line."""
    try:
        settings = Settings()
    except ValidationError as error:
        for row in error.errors():
            name = "SERVICE_" + str(row["loc"][0]).upper()
            _say(f"{name}={row['input']!r} cannot be used: {row['msg']}.")
        return 2
    arguments = _arguments(settings)
    if arguments.command == "openapi":
        _OPENAPI.write_text(openapi_text(), "utf-8")
        _say("wrote schemas/openapi.json")
        return 0
    application = create_app(settings)
    # What is loaded by now stays: the collector need not walk through it while somebody waits.
    gc.collect()
    gc.freeze()
    server = _Server(
        uvicorn.Config(
            application,
            host=arguments.host,
            port=arguments.port,
            log_level=settings.log_level,
            access_log=False,
            server_header=False,
        )
    )
    server.quiet = arguments.quiet
    server.batches = application.state.batches
    server.run()
    if not server.started:
        _say(
            f"Could not listen on port {arguments.port}; if it is taken, choose another: --port 8080"
        )
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
