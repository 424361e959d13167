"""What holds of any batch, however it is cut on its way."""

from __future__ import annotations

import codecs
import gzip
import json
from collections.abc import Callable
from itertools import pairwise

from backports import zstd
from hypothesis import given
from hypothesis import strategies as st

from service.edge.codings import IDENTITY
from tests.streams import answer_to, parsed

LIMIT = 40
PACKED: dict[str, Callable[[bytes], bytes]] = {
    IDENTITY: bytes,
    "gzip": gzip.compress,
    "zstd": zstd.compress,
}

#: Lines: plain, in characters of several bytes, blank, at and over the limit.
line = st.one_of(
    st.text(st.characters(codec="utf-8", exclude_characters="\n\r"), max_size=LIMIT).map(str.encode),
    st.sampled_from([b"", b"  \t", b"x" * LIMIT, b"x" * (LIMIT + 1), "°é漢😀".encode()]),
)
end = st.sampled_from([b"\n", b"\r\n"])
body = st.builds(
    lambda mark, rows, last: mark + b"".join(row + ending for row, ending in rows) + last,
    st.sampled_from([b"", codecs.BOM_UTF8]),
    st.lists(st.tuples(line, end), max_size=12),
    st.one_of(st.just(b""), line),
)


def expected(content: bytes) -> list[tuple[int, str | None]]:
    """Number and content of each line that is answered; None for one that is too long."""
    rows = content.removeprefix(codecs.BOM_UTF8).split(b"\n")
    if rows[-1] == b"":
        rows.pop()
    whole = [row[:-1] if row.endswith(b"\r") else row for row in rows]
    return [
        (number, row.decode() if len(row) <= LIMIT else None)
        for number, row in enumerate(whole)
        if len(row) > LIMIT or row.strip(b" \t\r")
    ]


def cut(content: bytes, places: list[int]) -> list[bytes]:
    """The content in pieces, cut at those places (modulo its length)."""
    at = sorted({place % (len(content) + 1) for place in places} | {0, len(content)})
    return [content[low:high] for low, high in pairwise(at)]


places = st.lists(st.integers(0, 10_000), max_size=30)


@given(body, places, st.sampled_from([IDENTITY, "gzip", "zstd"]))
def test_pieces_do_not_matter(content: bytes, where: list[int], coding: str) -> None:
    """Any body, plain or compressed, cut anywhere, has one answer: that of its lines."""
    packed = PACKED[coding](content)
    answer = answer_to(cut(packed, where), input_coding=coding, line_limit=LIMIT)
    assert answer == answer_to([content], line_limit=LIMIT)
    lines, summary = parsed(answer)
    assert [(row["line"], row["id"]) for row in lines] == expected(content)
    total = content.count(b"\n") + (not content.endswith(b"\n") and content != b"")
    assert summary["lines"] == total == summary["answered"] + summary["blank"]


@given(body, st.integers(0, 10_000))
def test_a_cut_answer_and_its_rest_are_the_whole(content: bytes, where: int) -> None:
    """Cut anywhere on its way, its client goes on after the last whole line that it has."""
    whole = answer_to([content], line_limit=LIMIT)
    received = whole[: where % (len(whole) + 1)]
    kept = received[: received.rfind(b"\n") + 1]
    rows = [json.loads(row) for row in kept.splitlines()]
    if rows and "summary" in rows[-1]:
        return
    offset = rows[-1]["line"] + 1 if rows else 0
    rest = answer_to([content], offset=offset, line_limit=LIMIT)

    def without_summary(answer: bytes) -> list[bytes]:
        return answer.splitlines()[:-1]

    assert kept.splitlines() + without_summary(rest) == without_summary(whole)
    first, second = parsed(whole)[1], parsed(rest)[1]
    assert second["lines"] == first["lines"]
    assert second["skipped"] == min(offset, first["lines"])
