"""What applications and connections share with the framework."""

from __future__ import annotations

from fastapi.telemetry import TelemetryConfig

#: Its own traces and logs contain paths, queries and messages of exceptions; service/telemetry takes their place.
NO_TELEMETRY_OF_ITS_OWN: TelemetryConfig = {
    "tracing": False,
    "metrics": False,
    "logs": False,
    "auto_configure": False,
}

#: Key that a connection adds to the scope of each of its requests when its client leaves before the answer is
#: whole.  A request can look for it while it reads nothing.
CLIENT_LEFT = "service.client_left"
