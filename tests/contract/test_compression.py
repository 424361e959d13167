"""Compressed bodies and answers of single requests: what `Content-Encoding` and `Accept-Encoding` say, in bounds."""

from __future__ import annotations

import gzip
import sys
from collections.abc import Callable, Mapping
from typing import Any

import orjson
import pytest
from fastapi.testclient import TestClient

from schemas.examples import examples
from service.edge.codings import decoded
from service.edge.problems import ProblemError
from tests.contract.test_problems import problem

if sys.version_info >= (3, 14):
    from compression import zstd
else:
    from backports import zstd

PACKED: Mapping[str, Callable[[bytes], bytes]] = {"gzip": gzip.compress, "x-gzip": gzip.compress, "zstd": zstd.compress}
UNPACK: Mapping[str, Callable[[bytes], bytes]] = {"gzip": gzip.decompress, "zstd": zstd.decompress}
JSON = {"Content-Type": "application/json"}
BODY = orjson.dumps(next(iter(examples().values())))


def raw(client: TestClient, method: str, address: str, **named: Any) -> tuple[Any, bytes]:  # noqa: ANN401
    """Head and bytes of an answer as sent."""
    with client.stream(method, address, **named) as response:
        return response, b"".join(response.iter_raw())


@pytest.mark.parametrize(
    ("accepted", "given"),
    [
        # RFC 9110, 12.5.3
        ("gzip", "gzip"),
        ("gzip, deflate, br, zstd", "zstd"),
        ("gzip;q=1.0, zstd;q=0.5", "gzip"),
        ("br", None),
        ("gzip;q=0, identity", None),
        ("", None),
    ],
)
def test_an_answer_is_compressed_as_accepted(client: TestClient, accepted: str, given: str | None) -> None:
    """The same content; small; said in the head, and that it depends on the request."""
    plain = client.get("/v1/cautions", headers={"Accept-Encoding": "identity"})
    head, content = raw(client, "GET", "/v1/cautions", headers={"Accept-Encoding": accepted})
    assert head.headers.get("content-encoding") == given
    assert head.headers["vary"] == "Accept, Accept-Encoding"
    assert int(head.headers["content-length"]) == len(content)
    if given is None:
        assert content == plain.content
        return
    assert UNPACK[given](content) == plain.content
    assert len(content) < len(plain.content) / 2
    # The tag of a list is found again, though its bytes are others (a weak tag, RFC 9110, 8.8.3).
    again = client.get("/v1/cautions", headers={"If-None-Match": head.headers["etag"]})
    assert (again.status_code, head.headers["etag"]) == (304, "W/" + plain.headers["etag"])


def test_a_small_answer_and_a_picture_of_pixels_are_not(client: TestClient) -> None:
    head, _ = raw(client, "GET", "/health/live", headers={"Accept-Encoding": "gzip"})
    assert "content-encoding" not in head.headers
    named = {"content": BODY, "headers": {**JSON, "Accept-Encoding": "gzip"}}
    pixels, _ = raw(client, "POST", "/v1/plots/limits?format=png&most=2", **named)
    assert pixels.headers["content-type"] == "image/png"
    assert "content-encoding" not in pixels.headers
    lines, _ = raw(client, "POST", "/v1/plots/limits?format=svg&most=2", **named)
    assert lines.headers["content-encoding"] == "gzip"


@pytest.mark.parametrize("coding", PACKED)
def test_a_compressed_body_is_read(client: TestClient, coding: str) -> None:
    """With the same answer as plain; `x-gzip` is another name of gzip (RFC 9110, 8.4.1.3)."""
    address = "/v1/assessments?detail=grades"
    found = client.post(address, content=PACKED[coding](BODY), headers={**JSON, "Content-Encoding": coding})
    assert found.content == client.post(address, content=BODY, headers=JSON).content


@pytest.mark.parametrize("coding", ["gzip", "zstd"])
def test_a_body_that_expands_beyond_the_limit_is_refused(client: TestClient, coding: str) -> None:
    """413 after as many bytes as are allowed, not after all: 50 MB of spaces here."""
    bomb = PACKED[coding](b" " * 50_000_000)
    assert len(bomb) < 262_144
    found = problem(
        client.post("/v1/assessments", content=bomb, headers={**JSON, "Content-Encoding": coding}), 413, "too-large"
    )
    assert "262144 bytes" in found["detail"]
    assert decoded(bomb, coding, 1000) is None


def test_another_coding_or_one_that_does_not_fit_is_refused(client: TestClient) -> None:
    """415 with what is accepted, also in the header (RFC 9110, 15.5.16); 400 with what is wrong."""
    for coding in ("br", "gzip, gzip"):
        response = client.post("/v1/diagnoses", content=BODY, headers={**JSON, "Content-Encoding": coding})
        assert "gzip, zstd" in problem(response, 415, "unsupported-media-type")["errors"][0]["allowed"]
        assert response.headers["accept-encoding"] == "zstd, gzip"
    for content, coding in ((BODY, "gzip"), (gzip.compress(BODY)[:-9], "gzip"), (zstd.compress(BODY), "identity")):
        response = client.post("/v1/diagnoses", content=content, headers={**JSON, "Content-Encoding": coding})
        assert problem(response, 400, "invalid-coding")["errors"][0]["hint"]


def test_many_empty_members_cost_little() -> None:
    """A body of nothing but ends is refused or read in bounded time: 13,000 members of 20 bytes."""
    empty = gzip.compress(b"", mtime=0)
    with pytest.raises(ProblemError):
        decoded(empty * (262_144 // len(empty)) + b"x", "gzip", 262_144)
