"""Compressed bodies, both ways, in steps whose size is bounded however strong the compression."""

from __future__ import annotations

import sys
import zlib
from abc import ABC, abstractmethod
from collections.abc import Callable, Generator, Iterator, Mapping
from typing import Protocol

from service.edge.problems import ProblemError, field_problem

if sys.version_info >= (3, 14):
    from compression import zstd
else:
    from backports import zstd

#: Content codings, the preferred first; `identity` is always available.
CODINGS = ("zstd", "gzip")
IDENTITY = "identity"

#: What a `Content-Encoding` means; RFC 9110, 8.4.1.3: `x-gzip` is `gzip`.
_BY_NAME = {**{coding: coding for coding in (*CODINGS, IDENTITY)}, "x-gzip": "gzip", "": IDENTITY}

#: Most bytes that one step of decompression yields.
STEP = 16_384
#: RFC 8878, 3.1.1.1: magic number and header of a zstd frame.
_LONGEST_FRAME_HEADER = 18
#: RFC 9659: content on the web has no window over 8 MB.
_WINDOW: Mapping[int, int] = {zstd.DecompressionParameter.window_log_max: 23}
#: Levels at which compression costs little compared with computing.
_GZIP_LEVEL, _ZSTD_LEVEL = 4, 3


def coding_of(content_encoding: str | None) -> str:
    """The coding of a body by its `Content-Encoding`.

    Raises
    ------
    ProblemError
        `unsupported-media-type`, with the codings that are accepted.
    """
    given = (content_encoding or "").strip()
    found = _BY_NAME.get(given.lower())
    if found is None:
        raise ProblemError(
            "unsupported-media-type",
            f"The body is compressed as {given[:80]!r}.",
            [
                field_problem(
                    "",
                    None,
                    "gzip, zstd or no Content-Encoding",
                    "is not an accepted coding",
                    "Compress the body as gzip or zstd, once, or send it plain.",
                )
            ],
            {"Accept-Encoding": ", ".join(CODINGS)},  # RFC 9110, 15.5.16
        )
    return found


class CodingError(ValueError):
    """A body does not fit its coding, or ends too early; ``hint`` says what to do."""

    def __init__(self, message: str, hint: str) -> None:
        super().__init__(message)
        self.hint = hint


class _Inner(Protocol):
    """What the decompressors of both libraries have in common."""

    @property
    def eof(self) -> bool: ...
    @property
    def unused_data(self) -> bytes: ...


class _Member(ABC):
    """One gzip member or zstd frame being decompressed."""

    _inner: _Inner

    @property
    def eof(self) -> bool:
        return self._inner.eof

    @property
    def unused_data(self) -> bytes:
        return self._inner.unused_data

    @abstractmethod
    def step(self, data: bytes) -> bytes: ...
    @abstractmethod
    def wants_input(self) -> bool: ...


class _GzipMember(_Member):
    def __init__(self) -> None:
        self._inner = self._gzip = zlib.decompressobj(wbits=31)
        self._full = False

    def step(self, data: bytes) -> bytes:
        found = self._gzip.decompress(self._gzip.unconsumed_tail + data, STEP)
        self._full = len(found) == STEP
        return found

    def wants_input(self) -> bool:
        # After a full step the decompressor may still hold output, although all input is consumed.
        return not self._gzip.unconsumed_tail and not self._full


class _ZstdFrame(_Member):
    def __init__(self) -> None:
        self._inner = self._zstd = zstd.ZstdDecompressor(options=_WINDOW)
        self._head, self._size = b"", 0

    def step(self, data: bytes) -> bytes:
        self._head += data[: _LONGEST_FRAME_HEADER - len(self._head)]
        found = self._zstd.decompress(data, STEP)
        self._size += len(found)
        if self._zstd.eof:
            # The library compares the two only if a frame arrives in one piece.
            stated = zstd.get_frame_info(self._head).decompressed_size
            if stated is not None and stated != self._size:
                raise zstd.ZstdError("the frame does not hold the number of bytes that it states")
        return found

    def wants_input(self) -> bool:
        return self._zstd.needs_input


#: First bytes of a compressed body.  No UTF-8 text begins with them.
_MAGIC = {"gzip": b"\x1f\x8b", "zstd": b"\x28\xb5\x2f\xfd"}

_AGAIN = "Compress the input again."
_CHECK = "Check the header Content-Encoding against the body: {}."

_MEMBERS: Mapping[str, Callable[[], _Member]] = {"gzip": _GzipMember, "zstd": _ZstdFrame}


class Decoder:
    """The content of a body in one of the codings, also of several members or frames in a row."""

    def __init__(self, coding: str) -> None:
        self._new = _MEMBERS.get(coding)
        self._coding = coding
        self._member: _Member | None = None
        self._any = False  # a member or frame has begun
        self._whole = False  # one has ended
        self._given = False  # the current member or frame yielded some content
        self._head: bytes | None = b""  # the first bytes of a plain body; None once it is known to be plain

    def feed(self, data: bytes) -> Iterator[bytes]:
        """The content of ``data``, in pieces of at most :data:`STEP` bytes, some of them empty.

        Raises
        ------
        CodingError
            If it is not in that coding.
        """
        if self._new is None:
            data = self._plain(data)
            yield from (data[at : at + STEP] for at in range(0, len(data), STEP))
            return
        while data:
            if self._member is None:
                # Some writers pad the end of a file with zeros; after a member they mean nothing.
                data = data.lstrip(b"\0") if self._any else data
                if not data:
                    return
                self._member = self._new()
                self._any, self._given = True, False
            data = yield from self._through(self._member, data)

    def _through(self, member: _Member, data: bytes) -> Generator[bytes, None, bytes]:
        """The content of one member in ``data``; returns what follows the member."""
        try:
            yield self._stepped(member, data)
            while not member.eof and not member.wants_input():
                yield self._stepped(member, b"")
        except (zlib.error, zstd.ZstdError) as error:
            raise self._invalid() from error
        if not member.eof:
            return b""
        self._member, self._whole = None, True
        return member.unused_data

    def _stepped(self, member: _Member, data: bytes) -> bytes:
        content = member.step(data)
        self._given = self._given or bool(content)
        return content

    def _invalid(self) -> CodingError:
        coding = self._coding
        if self._given:
            return CodingError(f"The body is not valid {coding}.", _AGAIN)
        if self._whole:
            return CodingError(
                f"The {coding} body has bytes after its end that are not {coding}.",
                _CHECK.format(f"after its end there may be nothing but more {coding}"),
            )
        return CodingError(
            f"The body is not {coding}.",
            _CHECK.format(f"leave it out if the body is plain, or compress it as {coding}"),
        )

    def _plain(self, data: bytes) -> bytes:
        """The part of ``data`` that is certainly content of a plain body."""
        if self._head is None:
            return data
        self._head += data
        for coding, magic in _MAGIC.items():
            if self._head.startswith(magic):
                raise CodingError(
                    f"The body begins like {coding}, but no Content-Encoding says so.",
                    f"Send the header Content-Encoding: {coding}.",
                )
        if any(magic.startswith(self._head) for magic in _MAGIC.values()):
            return b""
        head, self._head = self._head, None
        return head

    def end(self) -> bytes:
        """What was held back; checks that nothing is missing.

        Raises
        ------
        CodingError
            If the body ended within a member or frame, or before the first.
        """
        if self._new is None:
            head, self._head = self._head or b"", None
            return head
        if not self._any:
            raise CodingError(
                f"The body is empty, which is not {self._coding}.",
                _CHECK.format("leave it out where there is no body"),
            )
        if self._member is not None:
            raise CodingError(f"The {self._coding} body is incomplete.", _AGAIN)
        return b""


def decoded(body: bytes, coding: str, limit: int) -> bytes | None:
    """The content of a whole body; None if it has more than ``limit`` bytes, of which no more are then made.

    Raises
    ------
    ProblemError
        `invalid-coding`, if it is not in that coding.
    """
    decoder, pieces, size = Decoder(coding), list[bytes](), 0
    try:
        for piece in decoder.feed(body):
            size += len(piece)
            if size > limit:
                return None
            pieces.append(piece)
        pieces.append(decoder.end())
    except CodingError as error:
        detail = str(error)
        raise ProblemError(
            "invalid-coding", detail, [field_problem("", None, "a body in its coding", "cannot be read", error.hint)]
        ) from error
    return b"".join(pieces)


class Encoder:
    """Compresses an answer so that each part can be read as soon as it arrives."""

    def __init__(self, coding: str) -> None:
        self._gzip = zlib.compressobj(_GZIP_LEVEL, wbits=31) if coding == "gzip" else None
        self._zstd = zstd.ZstdCompressor(_ZSTD_LEVEL) if coding == "zstd" else None

    def encode(self, data: bytes, *, last: bool = False) -> bytes:
        """``data`` in the coding, flushed."""
        if self._gzip is not None:
            mode = zlib.Z_FINISH if last else zlib.Z_SYNC_FLUSH
            return self._gzip.compress(data) + self._gzip.flush(mode)
        if self._zstd is not None:
            if last:
                return self._zstd.compress(data, zstd.ZstdCompressor.FLUSH_FRAME)
            return self._zstd.compress(data, zstd.ZstdCompressor.FLUSH_BLOCK)
        return data
