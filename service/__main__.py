"""Start the service: ``python -m service [--host HOST] [--port PORT]``.

Once ready, it sends itself the first example, prints the findings and the addresses to open, and serves until
stopped.  ``python -m service health`` asks a running service whether it is ready, and ``python -m service
openapi`` writes ``schemas/openapi.json``.
"""

from __future__ import annotations

import time

_STARTED = time.perf_counter()  # before any slow import

# ruff: noqa: E402, PLC0415 - computing processes import this module too, but nothing that it starts
import sys

if __name__ == "__main__" and "health" in sys.argv[1:]:  # called often, so before any slow import
    from service.health import main as ask

    sys.exit(ask(sys.argv[1:]))

import argparse
import asyncio
import json
import os
import textwrap
import urllib.request
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from service.edge.settings import Settings

_OPENAPI = Path(__file__).parent.parent / "schemas" / "openapi.json"


def openapi_text() -> str:
    """The contract, as it is to be committed."""
    from service.app import create_app

    return json.dumps(create_app().openapi(), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def _say(text: str = "") -> None:
    if sys.stdout is None:  # started without standard output
        return
    try:
        sys.stdout.write(text + "\n")
        sys.stdout.flush()
    except OSError:  # nobody reads any more; the service continues
        sys.stdout = None


def _arguments(defaults: Settings) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m service", description=__doc__.split("\n")[0])
    parser.add_argument("command", nargs="?", choices=["serve", "health", "openapi"], default="serve")
    parser.add_argument("--host", default=defaults.host, help="address (SERVICE_HOST)")
    parser.add_argument("--port", type=int, default=defaults.port, help="port (SERVICE_PORT)")
    parser.add_argument("--quiet", action="store_true", help="do not send the example")
    given = parser.parse_args()
    if not 0 <= given.port < 65536:
        parser.error(f"there is no port {given.port}; choose one up to 65535: --port 8080")
    return given


def _post_example(base: str) -> dict[str, Any]:
    from schemas.examples import TITLES, examples

    name = next(iter(TITLES))
    request = urllib.request.Request(
        f"{base}/v1/assessments",
        data=json.dumps(examples()[name]).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=30) as response:
        return dict(json.load(response))


def _introduce(base: str, answer: dict[str, Any]) -> None:
    from schemas.examples import TITLES

    name = next(iter(TITLES))
    _say(f"Example visit: {TITLES[name]}")
    _say(f"Readings: {answer['usability']['grade'].replace('_', ' ')}")
    for finding in answer["findings"][:5]:
        text = f"{finding['grade'].replace('_', ' ')}: {finding['sentence']}"
        _say(textwrap.fill(text, 96, initial_indent="  - ", subsequent_indent="    "))
    rest = len(answer["findings"]) - 5
    if rest > 0:
        _say(
            f"  - and {rest} more findings, {len(answer['derived'])} derived values, {len(answer['cautions'])} cautions"
        )
    _say()
    _say(f"Page      {base}/")
    _say(f"Docs      {base}/docs")
    _say(f"Example   {base}/examples/{name}.json  (POST it to {base}/v1/assessments)")
    _say("Serving until stopped (Ctrl+C).")


async def _send_example(base: str) -> None:
    try:
        answer = await asyncio.to_thread(_post_example, base)
    except OSError as error:
        _say(f"The example could not be sent: {error}")
        return
    _introduce(base, answer)


def _serve(settings: Settings, *, quiet: bool) -> int:
    from service.batches.workers import processors
    from service.serving import process
    from service.serving.pool import Processes

    processes = Processes(settings.processes or processors(), partial(process.set_up, settings), process.answer)
    processes.start_first()
    from service.serving.assembly import assemble
    from service.telemetry.traces import TracesUnavailableError

    process.configure_log(settings)
    introductions: list[asyncio.Task[None]] = []

    def ready(base: str) -> None:
        _say(f"Ready at {base} after {time.perf_counter() - _STARTED:.1f} s.")
        if quiet:
            return
        if settings.requires_key:
            _say("A key is required, so no example is sent.")
        else:
            introductions.append(asyncio.get_running_loop().create_task(_send_example(base)))

    try:
        server = assemble(settings, processes, ready)
    except TracesUnavailableError as error:
        _say(str(error))
        return 2
    except OSError as error:
        _say(f"Metrics cannot be served on port {settings.metrics_port}: {error.strerror}.")
        return 1
    with suppress(SystemExit):  # raised if the server could not start; the log says why
        server.run()
    if server.lifespan.should_exit:
        _say("No computing process could be started; the log says why.")
        return 1
    if not server.started:
        _say(f"Could not listen on port {settings.port}. If it is taken, choose another: --port 8080")
        return 1
    return 0


def _settings() -> Settings | None:
    """The settings; None, after saying what is wrong, if they cannot be used."""
    from pydantic import ValidationError

    from service.edge.settings import Settings, misspelt

    wrong = misspelt(os.environ)
    for name, near in wrong.items():
        _say(f"{name} is not a setting. Did you mean {near}?")
    if wrong:
        return None
    try:
        return Settings()
    except ValidationError as error:
        for row in error.errors():
            name = "SERVICE_" + str(row["loc"][0]).upper()
            # A key given in place of its hash is not repeated.
            given = "" if name == "SERVICE_API_KEY_HASHES" else f"={row['input']!r}"
            reason = row["msg"].removeprefix("Value error, ")
            _say(f"{name}{given} cannot be used: {reason}.")
        return None


def main() -> int:
    """Run the command line."""
    settings = _settings()
    if settings is None:
        return 2
    arguments = _arguments(settings)
    if arguments.command == "openapi":
        _OPENAPI.write_text(openapi_text(), "utf-8")
        _say("wrote schemas/openapi.json")
        return 0
    asked = {"host": arguments.host, "port": arguments.port}
    return _serve(settings.model_copy(update=asked), quiet=arguments.quiet)


if __name__ == "__main__":
    sys.exit(main())
