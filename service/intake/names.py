"""Texts that pages and answers show as given: none may turn the direction of what is written next to it."""

from __future__ import annotations

import re

from service.intake.entry import Entry
from service.intake.refusals import Refusal, pointer

#: Unicode's property Bidi_Control (Unicode Standard Annex 9, section 2).
BIDIRECTIONAL_CONTROLS = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def take_names(entry: Entry) -> None:
    """Refuse labels, and names of instruments, that hold a bidirectional control character."""
    labels = entry.request.labels
    given = [] if labels is None else [(("labels", name), text) for name, text in labels if text is not None]
    given += [(("kit", name), name) for name in entry.request.kit]
    for where, text in given:
        found = BIDIRECTIONAL_CONTROLS.search(text)
        if found is not None:
            entry.refusals.append(
                Refusal(
                    pointer(*where),
                    BIDIRECTIONAL_CONTROLS.sub(lambda one: f"U+{ord(one[0]):04X}", text),
                    "text without bidirectional control characters",
                    f"holds U+{ord(found[0]):04X}, which turns the direction of what is written next to it",
                    "Type it again; text copied from elsewhere may hold such characters without showing them.",
                )
            )
