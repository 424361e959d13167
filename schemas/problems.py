"""Problem details (RFC 9457), the body of every error."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from schemas.growth import may_get_fields
from schemas.quantities import without_default


class FieldProblem(BaseModel):
    """One field that was refused."""

    model_config = ConfigDict(extra="forbid", json_schema_extra=may_get_fields)

    pointer: str = Field(
        description="JSON Pointer (RFC 6901) into the request body, or `query` / `path` and a name.",
        examples=["/run/readings/suction_pressure"],
    )
    value: Any = Field(
        description="The value that was refused (shortened where long).",
        examples=[9999],
    )
    allowed: str = Field(description="What is allowed.", examples=["-14.7 to 400 psi"])
    detail: str = Field(description="What is wrong.", examples=["is above the possible range"])
    hint: str = Field(description="What to do.", examples=["Check the unit of the reading."])


class Problem(BaseModel):
    """Problem details for an HTTP API (RFC 9457)."""

    model_config = ConfigDict(extra="forbid", json_schema_extra=may_get_fields)

    type: str = Field(
        description="Address of a page about this type of problem.",
        examples=["/problems/invalid-request"],
    )
    title: str = Field(
        description="The type of problem, the same for each occurrence.",
        examples=["Invalid request"],
    )
    status: int = Field(
        ge=400,
        le=599,
        description="HTTP status.",
        examples=[422],
        json_schema_extra={"x-unit": "1"},
    )
    detail: str = Field(description="This occurrence.", examples=["1 field was refused."])
    instance: str | None = Field(
        default=None,
        description="The request that it happened in; left out in a batch.",
        examples=["urn:request:5c1f"],
        json_schema_extra=without_default,
    )
    errors: list[FieldProblem] = Field(description="Each field that was refused.", examples=[[]])
