"""Settings of the service, from environment variables with the prefix ``SERVICE_``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from pydantic_settings import BaseSettings, NoDecode, SettingsConfigDict
from rapidfuzz import process

from service.edge.body_limits import DEEPEST, FEWEST_DRAWS, MOST_DRAWS
from service.reference.prepared import ENVIRONMENT_VARIABLE


def _listed(text: str) -> str:
    return ",".join(part.strip() for part in text.split(",") if part.strip())


def _hashes(text: str) -> str:
    listed = _listed(text).lower()
    for part in filter(None, listed.split(",")):
        if not re.fullmatch(r"[0-9a-f]{64}", part):
            # The value may be the key itself, so it is not repeated.
            raise ValueError(
                "each entry must be the SHA-256 of a key, 64 hexadecimal digits, and not the key itself "
                "(printf %s KEY | sha256sum)"
            )
    return listed


def hashes_in(path: Path) -> str:
    """The hashes in a file of keys: one a line, blank lines and what follows a # left out.

    Raises
    ------
    ValueError
        If it cannot be read, or holds something else.
    """
    try:
        text = path.read_text("utf-8")
    except (OSError, UnicodeError) as error:
        raise ValueError(f"it cannot be read ({error.__class__.__name__})") from None
    return _hashes(",".join(line.partition("#")[0] for line in text.splitlines()))


def _key_file(path: Path) -> Path:
    hashes_in(path)
    return path


def _contacts(text: str) -> str:
    listed = _listed(text)
    for part in filter(None, listed.split(",")):
        if not re.fullmatch(r"(https://|mailto:|tel:)[^\s,]+", part):
            raise ValueError("each entry must be an address such as mailto:security@example.com or https://...")
    return listed


def _origins(text: str) -> str:
    listed = _listed(text)
    for part in filter(None, listed.split(",")):
        if not re.fullmatch(r"https?://[^/\s,*]+", part):
            raise ValueError(
                "each entry must be an origin such as https://example.com: no path, no slash at its end, no *"
            )
    return listed


#: A number of seconds; infinity is refused, because every wait must end.
Seconds = Annotated[float, Field(allow_inf_nan=False)]

#: Beginnings of the variables that a container engine sets for a service named "service".
_OF_ENGINES = ("SERVICE_PORT_", "SERVICE_HOST_", "SERVICE_SERVICE_")


def misspelt(environment: Iterable[str]) -> dict[str, str]:
    """Variables that are not settings but are spelled almost like one, each with the one that may be meant.

    A variable such as ``SERVICE_PORT_8000_TCP`` comes from a container engine and is not a mistake.
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
    """Everything that an operator can set; a test compares the table in deploy/README.md with it."""

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
        description="Processes that compute single answers; if left out, one for each processor it may use.",
    )
    batch_processes: int | None = Field(
        default=None,
        ge=0,
        le=256,
        description="Processes that compute batches; 0: a thread of the service itself; if left out, one for "
        "each processor it may use.",
    )

    # ------------------------------------------------------------ limits of one request
    maximum_head_bytes: int = Field(
        default=16_384,
        ge=1024,
        description="Largest head of a request (its first line and headers), in bytes.",
    )
    maximum_body_bytes: int = Field(default=262_144, ge=1024, description="Largest request body, in bytes.")
    maximum_line_bytes: int = Field(default=262_144, ge=1024, description="Largest line of a batch, in bytes.")
    maximum_depth: int = Field(
        default=DEEPEST,
        ge=12,
        le=DEEPEST,
        description="Most levels of nesting in a body or line.",
    )
    maximum_draws: int = Field(
        default=MOST_DRAWS,
        ge=FEWEST_DRAWS,
        le=MOST_DRAWS,
        description="Most draws that a request may ask for.",
    )
    head_seconds: Seconds = Field(
        default=10.0,
        gt=0,
        description="Time in which the head of a request must arrive, in seconds.",
    )
    body_seconds: Seconds = Field(
        default=20.0,
        gt=0,
        description="Time in which a body must arrive, in seconds (no limit for a batch).",
    )
    request_seconds: Seconds = Field(
        default=30.0,
        gt=0,
        description="Longest time that a request may wait and be computed, in seconds.",
    )
    batch_stall_seconds: Seconds = Field(
        default=60.0,
        gt=0,
        description="Longest time that the client of a batch may neither send nor read, in seconds.",
    )
    batch_idle_seconds: Seconds = Field(
        default=5.0,
        gt=0,
        description="When all places are taken, a batch makes room for another after waiting so long for its "
        "client to send a whole line or to read, in seconds.",
    )

    # ------------------------------------------------------------ limits of all together
    maximum_requests: int | None = Field(
        default=None,
        ge=1,
        description="Most requests waiting or being computed at once (batches not counted); if left out, sixteen "
        "for each process.",
    )
    maximum_batches: int = Field(default=8, ge=1, description="Most batches running at once.")
    maximum_connections: int = Field(default=512, ge=8, description="Most connections open at once.")

    # ------------------------------------------------------------ stopping
    drain_seconds: Seconds = Field(
        default=0.5,
        ge=0,
        description="How long after a stop signal it still accepts requests, closing each connection, in seconds.",
    )
    stop_seconds: Seconds = Field(
        default=30.0,
        gt=0,
        description="How long after that it may take to finish what is under way, in seconds.",
    )

    # ------------------------------------------------------------ who may ask
    api_key_hashes: Annotated[str, NoDecode, AfterValidator(_hashes)] = Field(
        default="",
        description="SHA-256 of each key accepted in the header X-API-Key, separated by commas; empty: no key is "
        "required.",
    )
    api_key_file: Annotated[Path, AfterValidator(_key_file)] | None = Field(
        default=None,
        description="File with the SHA-256 of further keys, one a line (# begins a comment). It is read again "
        "whenever it changes, so keys rotate without a restart; an empty file admits nobody.",
    )
    security_contact: Annotated[str, NoDecode, AfterValidator(_contacts)] = Field(
        default="",
        description="Where to report a vulnerability, the preferred first, separated by commas (mailto:, https:, "
        "tel:); served at /.well-known/security.txt (RFC 9116). Empty: nothing is served there.",
    )
    cors_origins: Annotated[str, NoDecode, AfterValidator(_origins)] = Field(
        default="",
        description="Origins whose pages may send requests, separated by commas; empty: only its own.",
    )

    # ------------------------------------------------------------ seeing
    log_level: Literal["debug", "info", "warning", "error", "critical"] = Field(
        default="info",
        description="Lowest level that is logged; each request is a line of level info.",
    )
    log_form: Literal["json", "text"] = Field(
        default="json", description="Form of the log: JSON objects, or lines for people."
    )
    log_exception_texts: bool = Field(
        default=False,
        description="Whether messages of exceptions are logged; they may quote the content of a request.",
    )
    metrics: bool = Field(default=True, description="Whether metrics are kept and served.")
    metrics_port: int | None = Field(
        default=None,
        ge=0,
        le=65535,
        description="Separate port for metrics, on the same address; if left out, they are at /metrics.",
    )
    traces: bool = Field(
        default=False,
        description="Whether spans are sent by OpenTelemetry (needs the extra traces; its own variables OTEL_... "
        "say where to).",
    )

    @property
    def requires_key(self) -> bool:
        """Whether work is done only for those who send a known key."""
        return bool(self.api_key_hashes) or self.api_key_file is not None
