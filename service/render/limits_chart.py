"""Every graded value with its band against its limits, all rows by one measure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.derive.derivations import QUANTITIES
from service.reference.units import in_system
from service.render.axes import Scale, band_within
from service.render.drawing import MARGIN, WIDTH, Drawing, Shape, text_width
from service.render.palette import SIZES
from service.render.wording import amount, chance, decimals, finding_label, span, words
from service.words.numbers import figure

#: Mark, its class and the class of its band, for each grade.
GRADES: Mapping[str, tuple[Shape, str, str]] = {
    "conforming": ("circle", "mark-good", "line-good"),
    "nonconforming": ("diamond", "mark-bad", "line-bad"),
    "inconclusive": ("square", "mark-open", "line-open"),
}
#: Span [K] of a limit with one end on a scale without a zero (a choice of the drawing, no source).
_SPANS: Mapping[str, float] = {"temperature": 20.0, "temperature_difference": 20.0}
#: Rows where none are asked for: a picture that one screen or half a sheet holds.
USUAL_ROWS = 8
_STRIP = 12.0
_LANE = 15.0


@dataclass(frozen=True, slots=True)
class _Value:
    """One graded value: of which run, and the finding about it."""

    run: str
    finding: Mapping[str, Any]
    derived: Mapping[str, Any]


def rows_of(assessments: Mapping[str, Mapping[str, Any]]) -> list[list[_Value]]:
    """Graded findings by quantity and limit, those of several runs together, most pressing first.

    ``assessments`` are answers by the name of their run; one alone has the name ``""``.
    """
    rows: dict[tuple[object, ...], list[_Value]] = {}
    # The last run decides the order: it is how the unit stands now.
    for run, answer in reversed(list(assessments.items())):
        for finding in answer["findings"]:
            if finding["grade"] in GRADES:
                limit = finding["limit"]
                key = (finding["quantity"], limit["id"], limit["lower"], limit["upper"])
                value = _Value(run, finding, answer["derived"][finding["quantity"]])
                rows.setdefault(key, []).insert(0, value)
    return _apart(list(rows.values()))


def _apart(rows: list[list[_Value]]) -> list[list[_Value]]:
    """Rows without those that say nothing more: a limit met that lies beyond another of the same value."""
    return [row for row in rows if not any(_covers(other, row) for other in rows if other is not row)]


def _covers(row: Sequence[_Value], other: Sequence[_Value]) -> bool:
    """Whether a row bounds the same value at least as closely as another whose limit is met in every run."""
    one, two = row[-1].finding, other[-1].finding
    if one["quantity"] != two["quantity"] or any(value.finding["grade"] != "conforming" for value in other):
        return False
    (low, high), (lower, upper) = ((f["limit"]["lower"], f["limit"]["upper"]) for f in (one, two))
    closer = (lower is None or (low is not None and low >= lower)) and (
        upper is None or (high is not None and high <= upper)
    )
    return closer and (low, high) != (lower, upper)


def not_graded(assessments: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """What the last run has no grade for."""
    answer = list(assessments.values())[-1]
    found = (finding_label(f) for f in answer["findings"] if f["grade"] not in GRADES)
    return list(dict.fromkeys(found))


def draw(
    assessments: Mapping[str, Mapping[str, Any]],
    *,
    name: str = "limits",
    most: int | None = None,
) -> Drawing:
    """The chart; ``most`` rows where there are many.

    Each row has one strip: the permitted range is shaded and its ends are marked and written; the band
    is a line with caps about its mark.  In a comparison the first run lies over the second.  Of limits that bound
    one value on the same side, one is drawn.
    """
    rows = rows_of(assessments)
    shown = rows[: USUAL_ROWS if most is None else most]
    title = "Graded values against their limits"
    drawing = Drawing(name, title, _described(shown, len(rows) - len(shown)))
    under = (
        "Shaded, underlined: permitted. Line: 95 % band; arrowhead: continues. P: probability of conforming. "
        "All rows share one scale: twice as far beyond a limit is drawn twice as far."
    )
    if len(assessments) > 1:
        under += " Upper: {}; lower: {}.".format(*assessments)
    y = drawing.heading(title, under)
    for row in shown:
        y = _row(drawing, row, y) + 12
    for text in _rest(rows, shown, assessments):
        y = drawing.lines(MARGIN, y, text, "small", WIDTH - 2 * MARGIN) + 4
    drawing.height = y + MARGIN - 4
    return drawing


def _rest(
    rows: Sequence[list[_Value]],
    shown: Sequence[list[_Value]],
    assessments: Mapping[str, Mapping[str, Any]],
) -> list[str]:
    texts = []
    if not rows:
        texts.append("No value could be graded.")
    if len(shown) < len(rows):
        hidden = [row[-1].finding for row in rows[len(shown) :]]
        grades = dict.fromkeys(f["grade"] for f in hidden)
        counts = ", ".join(f"{sum(f['grade'] == grade for f in hidden)} {words(grade)}" for grade in grades)
        texts.append(f"Not drawn: {counts}.")
    rest = not_graded(assessments)
    if rest:
        texts.append("Not graded: " + "; ".join(rest) + ".")
    return texts


def _described(rows: Sequence[list[_Value]], hidden: int) -> str:
    sentences = [
        f"{value.run}: {value.finding['sentence']}" if value.run else value.finding["sentence"]
        for row in rows
        for value in row
    ]
    if hidden:
        sentences.append(f"{hidden} more values are not drawn.")
    return " ".join(sentences) or "No value could be graded."


def _row(drawing: Drawing, row: Sequence[_Value], y: float) -> float:
    first = row[0]
    quantity, limit = first.finding["quantity"], first.finding["limit"]
    y = drawing.lines(MARGIN, y, finding_label(first.finding), "strong", WIDTH - 2 * MARGIN)
    for value in row:
        y = _written(drawing, value, quantity, y)
    scale = _scale(limit, quantity)
    height = _STRIP + _LANE * (len(row) - 1)
    _permitted(drawing, scale, limit, y + 4, height, quantity)
    for place, value in enumerate(row):
        _drawn(drawing, scale, value, y + 4 + _STRIP / 2 + _LANE * place)
    return y + 4 + height + 5 + SIZES["small"]


def _written(drawing: Drawing, value: _Value, quantity: str, y: float) -> float:
    """The grade with its mark and probability, then the number with its band."""
    finding, derived = value.finding, value.derived
    shape, mark, _ = GRADES[finding["grade"]]
    size = SIZES["text"]
    drawing.mark(MARGIN + 6, y + size - 5, shape, mark)
    grade = f"{words(finding['grade'])}, P {chance(finding['probability_conforming'])}"
    drawing.text(MARGIN + 18, y + size, f"{value.run}: {grade}" if value.run else grade, "text")
    number = (
        f"{amount(derived['value'], derived['unit'], quantity)} "
        f"(95 %: {span(derived['band'], derived['unit'], quantity)})"
    )
    return drawing.lines(MARGIN + 18, y + size * 1.3, number, "small", WIDTH - 2 * MARGIN - 18)


def _scale(limit: Mapping[str, Any], quantity: str) -> Scale:
    """One measure for all rows, so that twice as far beyond a limit is drawn twice as far.

    A range with two ends takes the middle third.  A limit with one end lies on a third, and from there to a
    value of nothing are two thirds: half as much again as the limit is the end of the strip.  A temperature has no
    such zero; there, two thirds are a span of its own.
    """
    lower, upper = limit["lower"], limit["upper"]
    if lower is not None and upper is not None:
        third = upper - lower or abs(upper) or 1.0
        return Scale(lower - third, upper + third, MARGIN, WIDTH - MARGIN)
    bound = float(upper if lower is None else lower)
    kind = QUANTITIES[quantity].kind if quantity in QUANTITIES else ""
    if kind in _SPANS:
        size = in_system("temperature_difference", _SPANS[kind], _system_of(limit["unit"]))
    else:
        size = abs(bound) or 1.0
    if lower is None:
        return Scale(bound - size, bound + size / 2, MARGIN, WIDTH - MARGIN)
    return Scale(bound - size / 2, bound + size, MARGIN, WIDTH - MARGIN)


def _system_of(unit: str) -> str:
    return "imperial" if unit in ("degF", "delta_degF") else "metric"


def _permitted(
    drawing: Drawing, scale: Scale, limit: Mapping[str, Any], y: float, height: float, quantity: str
) -> None:
    lower, upper = limit["lower"], limit["upper"]
    start = scale.start if lower is None else scale(lower)
    end = scale.end if upper is None else scale(upper)
    drawing.rectangle(scale.start, y, scale.end - scale.start, height, "outside")
    drawing.rectangle(start, y, end - start, height, "inside")
    # The shade alone would be lost on a grey print.
    drawing.line(start, y + height, end, y + height, "bracket")
    places = decimals(limit["unit"], quantity)
    texts = []
    for bound, word in ((lower, "at least"), (upper, "at most")):
        if bound is None:
            continue
        at = scale(bound)
        drawing.line(at, y - 3, at, y + height + 1, "edge")
        both = lower is not None and upper is not None
        texts.append((at, figure(bound, places) if both else f"{word} {figure(bound, places)}"))
    halves = [text_width(text, "small") / 2 for _, text in texts]
    middles = [at for at, _ in texts]
    if len(texts) == 2:
        lacking = sum(halves) + 6 - (middles[1] - middles[0])
        if lacking > 0:
            middles = [middles[0] - lacking / 2, middles[1] + lacking / 2]
    for middle, half, (_, text) in zip(middles, halves, texts, strict=True):
        held = min(max(middle, MARGIN + half), WIDTH - MARGIN - half)
        drawing.text(held, y + height + 5 + SIZES["small"], text, "small", "middle")


def _drawn(drawing: Drawing, scale: Scale, value: _Value, y: float) -> None:
    shape, mark, line = GRADES[value.finding["grade"]]
    band, found = value.derived["band"], value.derived["value"]
    band_within(drawing, scale, band["low"], band["high"], y, line)
    if found in scale:
        drawing.mark(scale(found), y, shape, mark)
