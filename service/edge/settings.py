"""Settings of the service, from environment variables with the prefix ``SERVICE_``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from pydantic_settings import BaseSettings, NoDecode, SettingsConfigDict
from rapidfuzz import process

from service.edge.limits import DEEPEST, FEWEST_DRAWS, MOST_DRAWS
from service.reference.prepared import ENVIRONMENT_VARIABLE


def _listed(text: str) -> str:
    return ",".join(part.strip() for part in text.split(",") if part.strip())


def _hashes(text: str) -> str:
    listed = _listed(text).lower()
    for part in filter(None, listed.split(",")):
        if not re.fullmatch(r"[0-9a-f]{64}", part):
            # What was given may be the key itself: it is not repeated.
            raise ValueError(
                "each entry is the SHA-256 of a key, 64 hexadecimal digits, and not the key itself "
                "(printf %s KEY | sha256sum)"
            )
    return listed


def _origins(text: str) -> str:
    listed = _listed(text)
    for part in filter(None, listed.split(",")):
        if not re.fullmatch(r"https?://[^/\s,*]+", part):
            raise ValueError(
                "each entry is an origin such as https://example.com: no path, no slash at its end, no *"
            )
    return listed


#: How variables begin that an engine sets for a service that it calls "service".
_OF_ENGINES = ("SERVICE_PORT_", "SERVICE_HOST_", "SERVICE_SERVICE_")


def misspelt(environment: Iterable[str]) -> dict[str, str]:
    """Variables that are no setting, and are spelt almost as one: each with the one that could be meant.

    What begins like a setting and goes on (``SERVICE_PORT_8000_TCP``) is an engine's own, and no mistake.
    """
    names = [f"SERVICE_{name.upper()}" for name in Settings.model_fields]
    known = {*names, ENVIRONMENT_VARIABLE}
    found = {}
    for given in environment:
        if given.startswith("SERVICE_") and given not in known:
            near = process.extractOne(given, names, score_cutoff=90)
            if near is not None and not given.startswith(_OF_ENGINES):
                found[given] = str(near[0])
    return found


class Settings(BaseSettings):
    """Everything that an operator can set; the table in deploy/README.md is checked against it."""

    model_config = SettingsConfigDict(
        env_prefix="SERVICE_", env_ignore_empty=True, extra="ignore", hide_input_in_errors=True
    )

    # ------------------------------------------------------------ where, and with what
    host: str = Field(default="127.0.0.1", description="Address to listen on.")
    port: int = Field(default=8000, ge=0, le=65535, description="Port to listen on.")
    processes: int | None = Field(
        default=None,
        ge=1,
        le=256,
        description="Processes that compute single answers; left out: one for each processor that it may use.",
    )
    batch_processes: int | None = Field(
        default=None,
        ge=0,
        le=256,
        description="Processes that compute batches; 0: a thread of the service itself; left out: one for "
        "each processor that it may use.",
    )

    # ------------------------------------------------------------ limits of one request
    maximum_head_bytes: int = Field(
        default=16_384,
        ge=1024,
        description="Largest head of a request (its line and headers), in bytes.",
    )
    maximum_body_bytes: int = Field(
        default=262_144, ge=1024, description="Largest request body, in bytes."
    )
    maximum_line_bytes: int = Field(
        default=262_144, ge=1024, description="Largest line of a batch, in bytes."
    )
    maximum_depth: int = Field(
        default=DEEPEST,
        ge=12,
        le=DEEPEST,
        description="Levels to which a body or line may be nested.",
    )
    maximum_draws: int = Field(
        default=MOST_DRAWS,
        ge=FEWEST_DRAWS,
        le=MOST_DRAWS,
        description="Draws that a request may ask for.",
    )
    head_seconds: float = Field(
        default=10.0, gt=0, description="Within how long the head of a request must have arrived."
    )
    body_seconds: float = Field(
        default=20.0,
        gt=0,
        description="Within how long a body must have arrived (of a batch: no limit).",
    )
    request_seconds: float = Field(
        default=30.0, gt=0, description="For how long a request may wait and be computed."
    )
    batch_stall_seconds: float = Field(
        default=60.0,
        gt=0,
        description="For how long the client of a batch may neither send nor read.",
    )

    # ------------------------------------------------------------ limits of all together
    maximum_requests: int | None = Field(
        default=None,
        ge=1,
        description="Requests that may wait or be computed at once (batches apart); left out: sixteen for each "
        "process.",
    )
    maximum_batches: int = Field(default=8, ge=1, description="Batches that may run at once.")
    maximum_connections: int = Field(
        default=512, ge=8, description="Connections that may be open at once."
    )

    # ------------------------------------------------------------ stopping
    drain_seconds: float = Field(
        default=0.5,
        ge=0,
        description="For how long, told to stop, it still takes requests while it sends clients away.",
    )
    stop_seconds: float = Field(
        default=30.0, gt=0, description="For how long after that what is under way may take."
    )

    # ------------------------------------------------------------ who may ask
    api_key_hashes: Annotated[str, NoDecode, AfterValidator(_hashes)] = Field(
        default="",
        description="SHA-256 of each key that is taken in the header X-API-Key, with commas between; empty: "
        "no key is asked for.",
    )
    cors_origins: Annotated[str, NoDecode, AfterValidator(_origins)] = Field(
        default="",
        description="Origins whose pages may ask, with commas between; empty: none but its own.",
    )

    # ------------------------------------------------------------ seeing
    log_level: Literal["debug", "info", "warning", "error", "critical"] = Field(
        default="info",
        description="The least level that is logged; each request is a line of level info.",
    )
    log_form: Literal["json", "text"] = Field(
        default="json", description="The log as JSON objects, or as lines for people."
    )
    log_exception_texts: bool = Field(
        default=False,
        description="Whether the messages of exceptions are logged, which may quote what a request holds.",
    )
    metrics: bool = Field(default=True, description="Whether metrics are kept and told.")
    metrics_port: int | None = Field(
        default=None,
        ge=0,
        le=65535,
        description="A port of their own for metrics, on the same address; left out: /metrics beside the rest.",
    )
    traces: bool = Field(
        default=False,
        description="Whether spans are sent by OpenTelemetry (needs the extra traces; where to, by its own "
        "variables OTEL_...).",
    )
