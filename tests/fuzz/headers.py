"""Headers: media types, charsets, what is accepted; and names that a caller writes."""

from __future__ import annotations

from service.edge.codings import CODINGS, IDENTITY
from service.edge.negotiation import chosen, chosen_coding
from service.edge.strict_json import charset, media_type, sent_as
from service.reference.refrigerants import (
    REFRIGERANTS,
    designation_of,
    near_designations,
    reason_not_carried,
)
from service.routes.forms import JSON_OR_CSV

CODE = ("service.edge.negotiation", "service.edge.strict_json", "service.reference.refrigerants")

SEEDS = [
    text.encode()
    for text in (
        "application/json",
        "Application/Problem+JSON; charset=utf-8",
        'text/csv;q="0.5"',
        "*/*;q=0.1, text/*",
        "gzip;q=1.0, identity; q=0.5, *;q=0",
        "zstd, gzip",
        "application/x-ndjson; charset*=utf-8''utf-8",
        "text/csv;q=nan",
        "text/csv;q=1e999, application/json;q=-1",
        ";;;,,,===",
        "r410a",
        "R 22",
        "R-1234yf",
        'multipart/form-data; boundary="=?utf-8?q?=", x*0=a; x*1=b',
        "a/b; charset*0*=x'y'%ff; charset*1=z",
    )
]


def check(data: bytes) -> None:
    """Nothing raises, whatever is sent, and what is chosen is of what is offered."""
    text = data.decode("latin-1")  # as the server hands over a header
    found = media_type(text)
    assert found == found.lower()
    assert found.count("/") == 1
    assert charset(text) == charset(text).strip()
    assert sent_as(text)
    assert chosen(text, JSON_OR_CSV, "json") in ("json", "csv")
    assert chosen_coding(text, CODINGS, IDENTITY) in (*CODINGS, IDENTITY)
    for written in (text, data.decode("utf-8", "replace")):
        known = designation_of(written)
        assert known is None or known in REFRIGERANTS
        assert reason_not_carried(written) is None or known is None
        near = near_designations(written)
        assert len(near) <= 3
        assert set(near) <= set(REFRIGERANTS)


def mutated(_: bytes, __: int) -> bytes | None:
    """The bytes as any others."""
    return None
