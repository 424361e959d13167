"""What the framework is told, wherever an application is made."""

from __future__ import annotations

from fastapi.telemetry import TelemetryConfig

#: Its own traces and logs hold paths, queries and the messages of exceptions; service/telemetry sees instead.
NO_TELEMETRY_OF_ITS_OWN: TelemetryConfig = {
    "tracing": False,
    "metrics": False,
    "logs": False,
    "auto_configure": False,
}
