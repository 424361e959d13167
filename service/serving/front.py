"""The front: the application that listens.

It answers what costs nothing by itself (health, pages, the contract, problems) and streams batches to
their own processes; all other work is handed on, whole, to processes that compute::

    connection (protocol.py) -> front (this) -> forward.py -> pool.py -> process.py: the application

So its loop never computes, and answers a probe whatever is under way.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path

import fastapi_offline
from fastapi import FastAPI
from fastapi.responses import FileResponse
from fastapi.staticfiles import StaticFiles
from starlette.middleware.cors import CORSMiddleware
from starlette.routing import Route

from service.edge import problems
from service.edge.keys import HEADER, Keys
from service.edge.request_ids import RequestIds
from service.edge.settings import Settings
from service.routes import batches, operations, pages
from service.serving.forward import Forward
from service.serving.pool import Processes
from service.serving.state import State

OPENAPI = Path(__file__).parents[2] / "schemas" / "openapi.json"
#: Docs assets come from a package, so that the pages need no other host.
_ASSETS = Path(fastapi_offline.__file__).parent / "static"


def create_front(settings: Settings, processes: Processes, state: State | None = None) -> FastAPI:
    """The front; the processes are started with it, and end with it."""
    state = state or State()
    app = FastAPI(openapi_url=None, docs_url=None, redoc_url=None, lifespan=_lifespan)
    app.state.processes = processes
    app.state.not_ready = partial(_not_ready, state, processes)
    batches.keep(app, settings)
    problems.install(app)
    app.include_router(operations.router)
    app.include_router(pages.router)
    app.add_api_route("/openapi.json", _contract, include_in_schema=False)
    app.mount("/docs/assets", StaticFiles(directory=_ASSETS), name="docs assets")
    app.include_router(batches.router)
    app.router.routes.append(Route("/v1/{rest:path}", Forward(processes, settings)))
    if settings.api_key_hashes:
        app.add_middleware(Keys, hashes=settings.api_key_hashes)
    if settings.cors_origins:
        app.add_middleware(
            CORSMiddleware,
            allow_origins=settings.cors_origins.split(","),
            allow_methods=["GET", "POST"],
            allow_headers=["Content-Type", "Accept", "X-Request-Id", "Traceparent", HEADER],
            expose_headers=["X-Request-Id", "Retry-After"],
        )
    app.add_middleware(RequestIds)
    return app


async def _contract() -> FileResponse:
    """The contract, as it is committed."""
    return FileResponse(OPENAPI, media_type="application/json")


def _not_ready(state: State, processes: Processes) -> str | None:
    if state.draining:
        return operations.STOPPING
    return None if processes.alive else operations.NO_PROCESS


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    await app.state.processes.start()
    yield
    app.state.processes.close()
    await asyncio.to_thread(app.state.workers.close)
