"""What a summary points out about a body that arrived whole, but perhaps not as its sender meant it."""

from __future__ import annotations

from schemas.batches import NoticeCode, SummaryNotice


def notices(lines: int, answered: int, offset: int, cut_line: int | None) -> list[SummaryNotice]:
    """The notices of a batch that ended with its input.

    Parameters
    ----------
    lines, answered : int
        Lines that the body held, and answers given.
    offset : int
        Lines skipped at the start.
    cut_line : int or None
        Number of a last line that seems to be cut.
    """
    if cut_line is not None:
        return [
            _notice(
                "last_line_cut",
                "The last line has no line end and is not valid JSON: the input may have been cut on its way here. "
                "Compare `lines` with your own count; if lines are missing, send the whole input again with this "
                "offset.",
                cut_line,
            )
        ]
    if lines == 0 or (offset == 0 and answered == 0):
        return [
            _notice(
                "no_line",
                f"The body holds {'nothing but blank lines' if lines else 'no line'}. Give one JSON object a line; "
                "check that the file was found and sent.",
            )
        ]
    if offset > lines:
        return [
            _notice(
                "offset_past_end",
                f"The offset skips {offset} lines, but the body holds {lines}: nothing was answered. "
                "Send the whole of the same input again.",
            )
        ]
    return []


def _notice(code: NoticeCode, sentence: str, resume_offset: int | None = None) -> SummaryNotice:
    return {"code": code, "sentence": sentence, "resume_offset": resume_offset}
