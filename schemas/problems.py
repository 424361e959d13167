"""Problem details (RFC 9457), the body of every error."""

from __future__ import annotations

from typing import Annotated, Any, NotRequired

from schemas.answers import Answer, fact


class FieldProblem(Answer):
    """One field that was refused."""

    pointer: Annotated[
        str,
        fact(
            "JSON Pointer (RFC 6901) into the request body, or `query` / `path` and a name.",
            "/run/readings/suction_pressure",
        ),
    ]
    value: Annotated[Any, fact("The value that was refused (shortened where long).", 9999)]
    allowed: Annotated[str, fact("What is allowed.", "-14.7 to 400 psi")]
    detail: Annotated[str, fact("What is wrong.", "is above the possible range")]
    hint: Annotated[str, fact("What to do.", "Check the unit of the reading.")]


class Problem(Answer):
    """Problem details for an HTTP API (RFC 9457)."""

    type: Annotated[str, fact("Address of a page about this type of problem.", "/problems/invalid-request")]
    title: Annotated[str, fact("The type of problem, the same for each occurrence.", "Invalid request")]
    status: Annotated[int, fact("HTTP status.", 422, "1", ge=400, le=599)]
    detail: Annotated[str, fact("This occurrence.", "1 field was refused.")]
    instance: NotRequired[
        Annotated[
            str | None,
            fact("The request that it happened in; left out in a batch.", "urn:request:5c1f"),
        ]
    ]
    errors: Annotated[list[FieldProblem], fact("Each field that was refused.", [])]
