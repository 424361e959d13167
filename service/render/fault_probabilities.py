"""What may be wrong with a unit, and how probable each is: a bar from 0 to 1 for each hypothesis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from schemas.diagnoses import Diagnosis, Hypothesis
from schemas.pictures import Audience
from service.reference.faults import FAULTS, FOUND, SUSPECTED
from service.render.axes import Scale
from service.render.drawing import MARGIN, WIDTH, Anchor, Drawing, text_width
from service.render.palette import SIZES
from service.render.wording import chance, diagnosed, nothing_wrong, percent, reading_words
from service.words.diagnosis import named

_BARS: Mapping[str, str] = {
    "found": "bar-found",
    "possible": "bar-possible",
    "unlikely": "bar-unlikely",
}
_SOUND = "nothing wrong"
_HEIGHT = 13.0


@dataclass(frozen=True, slots=True)
class _Row:
    """One bar and the texts over it."""

    label: str
    detail: str
    probability: float
    bar: str


def rows_of(answer: Diagnosis, audience: Audience = "technician") -> list[_Row]:
    """Hypotheses in the answer's order, and nothing wrong among them by its probability."""
    rows = [
        _of_hypothesis(one, answer["found"], audience) for one in answer["hypotheses"] if one["fault"] != "no_fault"
    ]
    sound = nothing_wrong(answer)
    if sound is None:
        return rows
    place = next((k for k, row in enumerate(rows) if row.probability < sound), len(rows))
    label = _SOUND if audience == "customer" else f"{_SOUND} ({FAULTS['no_fault'].text})"
    row = _Row(label, f"probability {chance(sound)}", sound, "bar-sound")
    return [*rows[:place], row, *rows[place:]]


def draw(
    answer: Diagnosis,
    *,
    name: str = "fault-probabilities",
    most: int | None = None,
    audience: Audience = "technician",
) -> Drawing:
    """The chart; ``most`` rows where there are many.  A customer reads plain names, and the verdict only.

    Lines stand where a hypothesis is called possible and where it is called found.
    """
    rows = rows_of(answer, audience)
    shown = rows[:most]
    title = "What may be wrong"
    notes = _notes(answer, len(rows) - len(shown), audience)
    drawing = Drawing(name, title, _described(answer, shown, notes, audience))
    width = WIDTH - 2 * MARGIN
    y = drawing.heading(title)
    y = drawing.lines(MARGIN, y - 2, diagnosed(answer), "strong", width)
    if audience == "technician":
        y = drawing.lines(MARGIN, y + 2, answer["sentence"], "small", width)
    y += 10
    if shown:
        scale = Scale(0.0, 1.0, MARGIN, WIDTH - MARGIN)
        y = _axis(drawing, scale, y)
        for row in shown:
            y = _drawn(drawing, scale, row, y) + 12
    for text in notes:
        y = drawing.lines(MARGIN, y, text, "small", width) + 4
    drawing.height = y + MARGIN - 6
    return drawing


def _of_hypothesis(one: Hypothesis, found: Sequence[str], audience: Audience) -> _Row:
    status = one["status"]
    detail = f"{status}, probability {chance(one['probability'])}"
    if one["cost"] is not None and status != "unlikely":
        change = one["cost"]["efficiency_percent"]
        detail += f"; efficiency {percent(change, 0)}"
    if one["fault"] in found and status != "found":
        detail += "; found together with a fault that looks like it"
    text = named(one["fault"], audience) if audience == "customer" else one["text"]
    return _Row(text, detail, one["probability"], _BARS[status])


def _axis(drawing: Drawing, scale: Scale, y: float) -> float:
    """The axis over the first row, with the words of the two marked probabilities."""
    small = SIZES["small"]
    for value, text in (
        (SUSPECTED, "possible from"),
        (0.5, "probability"),
        (FOUND, "found from"),
    ):
        half = text_width(text, "small") / 2
        middle = min(max(scale(value), scale.start + half), scale.end - half)
        drawing.text(middle, y + small, text, "small", "middle")
    y += small * 2.3
    drawing.line(scale.start, y + 9, scale.end, y + 9, "axis")
    anchors: Mapping[float, Anchor] = {0.0: "start", 1.0: "end"}
    for value in (0.0, SUSPECTED, 0.5, FOUND, 1.0):
        drawing.text(scale(value), y, f"{value:g}", "small", anchors.get(value, "middle"))
        drawing.line(scale(value), y + 5, scale(value), y + 9, "axis")
    return y + 16


def _drawn(drawing: Drawing, scale: Scale, row: _Row, y: float) -> float:
    width = WIDTH - 2 * MARGIN
    y = drawing.lines(MARGIN, y, row.label[:1].upper() + row.label[1:], "text", width)
    y = drawing.lines(MARGIN, y, row.detail, "small", width) + 4
    drawing.rectangle(scale.start, y, scale.end - scale.start, _HEIGHT, "ground")
    drawing.rectangle(scale.start, y, scale.held(row.probability) - scale.start, _HEIGHT, row.bar)
    for value in (SUSPECTED, FOUND):
        drawing.line(scale(value), y - 3, scale(value), y + _HEIGHT + 3, "curve")
    return y + _HEIGHT


def _notes(answer: Diagnosis, hidden: int, audience: Audience) -> list[str]:
    notes = []
    if hidden:
        notes.append(f"Not drawn: {hidden} more, each less probable.")
    if not answer["hypotheses"] and not answer["combinations"]:
        notes.append("No hypothesis could be weighed, so there are no probabilities to show.")
    if answer["missing"]:
        needed = "; ".join(reading_words(path) for path in answer["missing"])
        notes.append(f"To obtain a diagnosis, add: {needed}.")
    beside = [
        one["text"] for one in answer["hypotheses"] if one["fault"] in FAULTS and FAULTS[one["fault"]].shown == "direct"
    ]
    if beside and audience == "technician":
        notes.append(
            f"Judged separately: {'; '.join(beside)}. The others are weighed against each other."
            if answer["combinations"]
            else f"Judged separately: {'; '.join(beside)}."
        )
    return notes


def _described(answer: Diagnosis, shown: Sequence[_Row], notes: Sequence[str], audience: Audience) -> str:
    sentences = [f"{diagnosed(answer)}."]
    if audience == "technician":
        sentences.append(answer["sentence"])
    sentences += [f"{row.label[:1].upper() + row.label[1:]}: {row.detail}." for row in shown]
    return " ".join([*sentences, *notes])
