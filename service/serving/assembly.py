"""A service put together: processes, front, server and telemetry."""

from __future__ import annotations

from collections.abc import Callable

from prometheus_client import start_http_server

from service.edge.settings import Settings
from service.serving.front import create_front
from service.serving.pool import Processes
from service.serving.server import Server
from service.serving.state import ServiceState
from service.serving.watch import Watch, watching
from service.telemetry.logs import logger
from service.telemetry.traces import start_traces


def assemble(settings: Settings, processes: Processes, ready: Callable[[str], None]) -> Server:
    """A server that is ready to run; it calls ``ready`` with its address.

    Raises
    ------
    TracesUnavailableError
        If traces are switched on and their packages are not installed.
    OSError
        If the port of the metrics is taken.
    """
    shown = settings.model_dump(exclude={"api_key_hashes"})
    keys = len([part for part in settings.api_key_hashes.split(",") if part])
    logger(__name__).info("settings", **shown, keys=keys)
    state = ServiceState()
    watch: Watch | None = None
    if settings.metrics:
        watch = processes.watch = watching(state)
    traces = start_traces() if settings.traces else None
    metrics = None if watch is None else watch.metrics
    front = create_front(settings, processes, state, metrics, traces)
    if metrics is not None and settings.metrics_port is not None:
        start_http_server(settings.metrics_port, settings.host, metrics.registry)
    return Server(front, settings, state, ready)
