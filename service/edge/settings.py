"""Settings of the service, from environment variables with the prefix ``SERVICE_``."""

from __future__ import annotations

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """Everything that an operator can set; the table in DEVELOPERS.md is checked against it."""

    model_config = SettingsConfigDict(env_prefix="SERVICE_", extra="ignore")

    host: str = Field(default="127.0.0.1", description="Address to listen on.")
    port: int = Field(default=8000, ge=0, le=65535, description="Port to listen on.")
    maximum_body_bytes: int = Field(
        default=262_144, ge=1024, description="Largest request body, in bytes."
    )
    maximum_line_bytes: int = Field(
        default=262_144, ge=1024, description="Largest line of a batch, in bytes."
    )
    batch_processes: int | None = Field(
        default=None,
        ge=0,
        le=256,
        description="Processes that compute batches; 0: a thread of the service itself; left out: one for "
        "each processor that it may use.",
    )
    batch_stall_seconds: float = Field(
        default=60.0,
        gt=0,
        description="For how long the client of a batch may neither send nor read.",
    )
    log_level: str = Field(default="warning", description="Level of the server's own log.")
