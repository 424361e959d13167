"""The front: the application that listens.

It answers whatever costs nothing (health, pages, the contract, problems) and streams batches to their own
processes; it hands all other work on, whole, to computing processes::

    connection (protocol.py) -> front (this) -> forward.py -> pool.py -> process.py: the application

So its loop never computes, and it answers probes whatever is under way.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Set
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import fastapi_offline
from fastapi import FastAPI, Request, Response
from fastapi.responses import FileResponse
from fastapi.staticfiles import StaticFiles
from starlette.middleware.cors import CORSMiddleware
from starlette.routing import Route
from starlette.types import ASGIApp

from service.batches.stream import Batch
from service.edge import handlers
from service.edge.addresses import TrailingSlashes
from service.edge.compression import Compression
from service.edge.framework import NO_TELEMETRY_OF_ITS_OWN
from service.edge.keys import HEADER, Keys, KnownKeys
from service.edge.request_ids import RequestIds
from service.edge.settings import Settings
from service.routes import batches, operations, pages
from service.serving.forward import OPENAPI, Forward, Routes
from service.serving.pool import Processes
from service.serving.process import set_up_for_batches
from service.serving.state import ServiceState
from service.telemetry.logs import RequestLog
from service.telemetry.metrics import Metrics, RequestMetrics, exposition
from service.telemetry.traces import RequestTraces, Traces

#: The assets of the docs page come from a package, so that the page needs no other host.
_ASSETS = Path(fastapi_offline.__file__).parent / "static"


@dataclass(frozen=True, slots=True)
class Front:
    """What listens, and what its server needs to know."""

    application: ASGIApp
    batches: Set[Batch]
    metrics: Metrics | None


def create_front(
    settings: Settings,
    processes: Processes,
    state: ServiceState | None = None,
    metrics: Metrics | None = None,
    traces: Traces | None = None,
) -> Front:
    """The front; the processes start and end with it."""
    app = FastAPI(
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        lifespan=_lifespan,
        telemetry=NO_TELEMETRY_OF_ITS_OWN,
    )
    app.state.processes, app.state.traces = processes, traces
    app.state.not_ready = partial(_not_ready, state or ServiceState(), processes)
    operations.keep(app, settings)
    batches.keep(app, settings, set_up=partial(set_up_for_batches, settings))
    handlers.install(app)
    app.include_router(operations.router)
    app.include_router(pages.router)
    app.add_api_route("/openapi.json", _contract, include_in_schema=False)
    app.mount("/docs/assets", StaticFiles(directory=_ASSETS), name="docs assets")
    app.include_router(batches.router)
    app.router.routes.append(Route("/v1/{rest:path}", Forward(processes, settings, metrics)))
    if metrics is not None:
        _show(metrics, processes, app.state.batches)
        if settings.metrics_port is None:
            app.add_api_route("/metrics", partial(_exposed, metrics), include_in_schema=False)
    return Front(_wrapped(app, settings, metrics, traces), app.state.batches, metrics)


def _wrapped(app: ASGIApp, settings: Settings, metrics: Metrics | None, traces: Traces | None) -> ASGIApp:
    """The application within what every request passes; the last wrapper comes first."""
    app = Compression(app)  # of what the front answers itself; the other answers arrive compressed
    if settings.requires_key:
        app = Keys(app, KnownKeys(settings.api_key_hashes, settings.api_key_file))
    # Outside of keys: a browser asks without a key whether it may send one, and a page may read a refusal.
    if settings.cors_origins:
        app = CORSMiddleware(
            app,
            allow_origins=settings.cors_origins.split(","),
            allow_methods=["GET", "POST"],
            allow_headers=["Content-Type", "Content-Encoding", "Accept", "X-Request-Id", "Traceparent", HEADER],
            expose_headers=["X-Request-Id", "Retry-After", "Deprecation", "Link"],
        )
    app = Routes(app)
    if metrics is not None:
        app = RequestMetrics(app, metrics)
    app = RequestLog(app)
    if traces is not None:
        app = RequestTraces(app, traces)
    return RequestIds(TrailingSlashes(app))


def _show(metrics: Metrics, processes: Processes, running: Set[Batch]) -> None:
    """Let the metrics show what is under way whenever they are read."""
    metrics.processes_alive.set_function(lambda: processes.alive)
    metrics.processes_busy.set_function(lambda: processes.busy)
    metrics.requests_waiting.set_function(lambda: processes.waiting)
    metrics.batches_under_way.set_function(lambda: len(running))
    # Copied first: on a separate port, another thread serves the metrics.
    metrics.batch_chunks_under_way.set_function(lambda: sum(batch.chunks_under_way for batch in tuple(running)))
    metrics.watch_processes(processes.numbered)


async def _exposed(metrics: Metrics, request: Request) -> Response:
    """The metrics."""
    content, kind = exposition(metrics.registry, request.headers.get("accept"))
    return Response(content, headers={"Content-Type": kind, "Cache-Control": "no-store"})


async def _contract() -> FileResponse:
    """The contract, as committed."""
    return FileResponse(OPENAPI, media_type="application/json")


def _not_ready(state: ServiceState, processes: Processes) -> str | None:
    if state.draining:
        return operations.STOPPING
    return None if processes.alive else operations.NO_PROCESS


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    await app.state.processes.start()
    yield
    app.state.processes.close()
    if app.state.traces is not None:
        await asyncio.to_thread(app.state.traces.close)
    await asyncio.to_thread(app.state.workers.close)
