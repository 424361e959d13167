"""Every change of a comparison under the same conditions, on one axis: over the smallest that matters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from schemas.pictures import Audience
from service.render.axes import Scale, band_within
from service.render.drawing import MARGIN, WIDTH, Anchor, Drawing, Shape
from service.render.palette import SIZES
from service.render.wording import amount, label, percent, span
from service.words import comparison as words
from service.words import household
from service.words.numbers import figure
from service.words.phrases import first_sentence

#: Mark, its class, and the class of its band, for each verdict.
VERDICTS: Mapping[str | None, tuple[Shape, str, str]] = {
    "improved": ("circle", "mark-good", "line-good"),
    "worsened": ("diamond", "mark-bad", "line-bad"),
    "neither": ("triangle", "mark-open", "line-open"),
    "no_material_change": ("circle", "mark-quiet", "line-quiet"),
    "inconclusive": ("square", "mark-open", "line-open"),
    None: ("cross", "line-quiet", "line-quiet"),
}
_CLAIMED = ("improved", "worsened")
#: The system's rows: percentage of the answer, label, and the derived value that it is about.
_SYSTEM: Sequence[tuple[str, str, str]] = (
    ("efficiency_change_percent", "Efficiency", "eer"),
    ("capacity_change_percent", "Cooling capacity", "cooling_capacity"),
    ("power_change_percent", "Total power", "total_power"),
)
#: Ends that the axis may have, in smallest changes that matter: the usual ones, and those for a change of the
#: whole system, which is the headline and never leaves the axis.
_ENDS = (2.0, 3.0, 4.0)
_FAR_ENDS = (6.0, 8.0, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0)
#: Derived values that show one state in several ways: the first available in each list is drawn.
_ONE_STATE: Sequence[tuple[str, ...]] = (
    ("suction_saturation_temperature", "evaporating_temperature", "suction_pressure_absolute"),
    ("liquid_saturation_temperature", "condensing_temperature", "high_side_pressure_absolute"),
    *(
        tuple(
            f"{side}_air_{one}" for one in ("enthalpy", "humidity_ratio", "wet_bulb", "relative_humidity", "dew_point")
        )
        for side in ("return", "supply")
    ),
    ("supply_voltage", "supply_voltage_deviation", "supply_voltage_share_of_nominal"),
)
#: Rows where none are asked for: a picture that one screen or half a sheet holds.
USUAL_ROWS = 12
_HALF_STRIP = 7.0
_INDENT = 20.0


@dataclass(frozen=True, slots=True)
class _Change:
    """One row: value, band and smallest detectable change over the smallest that matters."""

    label: str
    verdict: str | None
    numbers: str
    sizes: str
    value: float
    low: float
    high: float
    detectable: float | None
    headline: bool = False

    @property
    def reach(self) -> float:
        """How far from zero the row extends."""
        return max(abs(self.low), abs(self.high), abs(self.value), self.detectable or 0.0)


def rows_of(answer: Mapping[str, Any]) -> list[_Change]:
    """The system's rows, then claimed changes, then the rest in the answer's order.

    A derived value that a row of the system covers is not drawn twice: that row has both numbers.
    """
    system, changes = answer["system"], answer["changes"]
    rows, covered = [], set()
    for key, name, quantity in _SYSTEM:
        if system[key] is not None:
            row = _of_system(system, key, name, quantity, changes.get(quantity))
            if row is not None:
                rows.append(row)
                covered.add(quantity)
    drawable = [
        quantity
        for quantity, change in changes.items()
        if quantity not in covered and change["at_common_conditions"] is not None and change["smallest_that_matters"]
    ]
    again = {name for state in _ONE_STATE for name in [one for one in state if one in drawable][1:]}
    rest = [_of_value(quantity, changes[quantity]) for quantity in drawable if quantity not in again]
    return rows + sorted(rest, key=lambda row: row.verdict not in _CLAIMED)


def draw(
    answer: Mapping[str, Any],
    *,
    name: str = "changes",
    most: int | None = None,
    audience: Audience = "technician",
) -> Drawing:
    """The chart; ``most`` rows where there are many.  A customer reads the verdict and the weather in plain words.

    One axis for all rows: a change divided by the smallest change that matters, so changes that do not matter
    lie between -1 and 1, the shaded zone; each row writes what matters in its own unit.  The axis ends at two to
    four, or further out where a change of the whole system needs it; what extends beyond it ends in an arrowhead.
    """
    rows = rows_of(answer)
    shown = rows[: USUAL_ROWS if most is None else most]
    title = "What changed, under the same conditions"
    drawing = Drawing(name, title, _described(answer, shown, len(rows) - len(shown), audience))
    y = drawing.heading(title)
    sentence = answer["system"]["sentence"]
    if not rows:
        y = drawing.lines(MARGIN, y - 2, sentence, "text", WIDTH - 2 * MARGIN) + 6
        y = drawing.lines(
            MARGIN,
            y,
            f"No change is drawn. {household.weather(answer['conditions'], audience)}",
            "small",
            WIDTH - 2 * MARGIN,
        )
        drawing.height = y + MARGIN
        return drawing
    reach = max((row.reach for row in shown), default=0.0)
    needed = max([min(reach, _ENDS[-1]), *(row.reach for row in shown if row.headline)])
    end = next((end for end in (*_ENDS, *_FAR_ENDS) if needed <= end), _FAR_ENDS[-1])
    scale = Scale(-end, end, MARGIN + 4, WIDTH - MARGIN - 4)
    y = drawing.lines(MARGIN, y - 2, first_sentence(sentence), "strong", WIDTH - 2 * MARGIN) + 4
    y = drawing.lines(MARGIN, y, _key(reach > end), "small", WIDTH - 2 * MARGIN) + 10
    y = _axis(drawing, scale, y)
    for row in shown:
        y = _row(drawing, scale, row, y) + 13
    for text in _rest(rows[len(shown) :], answer, audience):
        y = drawing.lines(MARGIN, y, text, "small", WIDTH - 2 * MARGIN) + 4
    drawing.height = y + MARGIN - 6
    return drawing


def _of_system(
    system: Mapping[str, Any],
    key: str,
    name: str,
    quantity: str,
    change: Mapping[str, Any] | None,
) -> _Change | None:
    """A relative change; what matters and what would show come from the derived value's own row."""
    found = system[key]
    matters = float(system["smallest_that_matters_percent"])
    detectable = None
    also = ""
    if change is not None:
        start = abs(change["before"])
        common = change["at_common_conditions"]
        if start and change["smallest_that_matters"] and quantity != "eer":
            matters = 100.0 * change["smallest_that_matters"] / start
        if start and change["smallest_detectable"] is not None:
            detectable = 100.0 * change["smallest_detectable"] / start
        if common is not None:
            also = f"; {amount(common['value'], change['difference_unit'], quantity, signed=True)}"
    if quantity == "eer":
        # For efficiency the answer gives the smallest change that would show whichever one cause it had.
        detectable = system["smallest_detectable_percent"]
    if not matters:
        return None
    return _Change(
        name,
        None if change is None else change["verdict"],
        percent(found) + also,
        _sizes(
            f"{figure(matters, 1)} %",
            None if detectable is None else f"{figure(detectable, 1)} %",
        ),
        found["value"] / matters,
        found["band"]["low"] / matters,
        found["band"]["high"] / matters,
        None if detectable is None else detectable / matters,
        headline=True,
    )


def _of_value(quantity: str, change: Mapping[str, Any]) -> _Change:
    found, unit = change["at_common_conditions"], change["difference_unit"]
    matters, detectable = change["smallest_that_matters"], change["smallest_detectable"]
    band = span(found["band"], unit, quantity, signed=True)
    return _Change(
        label(quantity),
        change["verdict"],
        f"{amount(found['value'], unit, quantity, signed=True)} ({band})",
        _sizes(
            amount(matters, unit, quantity),
            None if detectable is None else amount(detectable, unit, quantity),
        ),
        found["value"] / matters,
        found["band"]["low"] / matters,
        found["band"]["high"] / matters,
        None if detectable is None else detectable / matters,
    )


def _sizes(matters: str, detectable: str | None) -> str:
    shown = f"; would show from {detectable}" if detectable is not None else ""
    return f"matters from {matters}{shown}"


def _key(beyond: bool) -> str:
    text = (
        "Shaded: too small a change to matter. Line with caps: 95 % band. Short ticks: the smallest change "
        "that these instruments would show."
    )
    return f"{text} Arrowhead: extends beyond the axis." if beyond else text


def _axis(drawing: Drawing, scale: Scale, y: float) -> float:
    """What the places along the axis mean, in words: numbers are in the rows, each in its own unit."""
    y += SIZES["small"]
    for at, text, anchor in (
        (scale.start, "lower", "start"),
        (scale(0.0), "too small to matter", "middle"),
        (scale.end, "higher", "end"),
    ):
        drawing.text(at, y, text, "small", cast(Anchor, anchor))
    drawing.line(scale.start, y + 9, scale.end, y + 9, "axis")
    for edge in (-1.0, 1.0):
        drawing.line(scale(edge), y + 5, scale(edge), y + 9, "axis")
    return y + 18


def _row(drawing: Drawing, scale: Scale, row: _Change, y: float) -> float:
    shape, mark, line = VERDICTS.get(row.verdict, VERDICTS[None])
    width = WIDTH - 2 * MARGIN - _INDENT
    drawing.mark(MARGIN + 7, y + SIZES["text"] - 4.5, shape, mark)
    y = drawing.lines(MARGIN + _INDENT, y, row.label, "text", width)
    matters = row.sizes.partition(";")[0]
    y = drawing.lines(MARGIN + _INDENT, y, f"{_verdict(row)}: {row.numbers}; {matters}", "small", width) + 3
    middle = y + _HALF_STRIP
    drawing.line(scale.start, middle, scale.end, middle, "rule")
    drawing.rectangle(scale(-1.0), y, scale(1.0) - scale(-1.0), 2 * _HALF_STRIP, "matterless")
    drawing.line(scale(0.0), y - 1, scale(0.0), y + 2 * _HALF_STRIP + 1, "axis")
    if row.detectable is not None:
        for sign in (-1.0, 1.0):
            size = sign * row.detectable
            if size in scale:
                drawing.line(scale(size), y, scale(size), y + 2 * _HALF_STRIP, "curve")
            else:
                drawing.arrowhead(scale.held(size), middle, sign, "curve", _HALF_STRIP - 2)
    band_within(drawing, scale, row.low, row.high, middle, line)
    if row.value in scale:
        drawing.mark(scale(row.value), middle, shape, mark)
    return y + 2 * _HALF_STRIP


def _verdict(row: _Change) -> str:
    return words.VERDICTS.get(row.verdict, words.VERDICTS[None])


def _rest(hidden: Sequence[_Change], answer: Mapping[str, Any], audience: Audience) -> list[str]:
    texts = []
    if hidden:
        verdicts = [_verdict(row) for row in hidden]
        counts = "; ".join(f"{verdicts.count(text)} {text}" for text in dict.fromkeys(verdicts))
        texts.append(f"Not drawn: {len(hidden)} more ({counts}).")
    if answer["conditions"]["comparable"] != "yes":
        texts.append(household.weather(answer["conditions"], audience))
    return texts


def _described(answer: Mapping[str, Any], shown: Sequence[_Change], hidden: int, audience: Audience) -> str:
    verdict = answer["system"]["sentence"]
    sentences = [
        first_sentence(verdict) if audience == "customer" else verdict,
        household.weather(answer["conditions"], audience),
    ]
    sentences += [f"{row.label}: {_verdict(row)}, {row.numbers}; {row.sizes}." for row in shown]
    if not shown and not hidden:
        sentences.append("No change is drawn.")
    if hidden:
        sentences.append(f"{hidden} more changes are not drawn.")
    return " ".join(sentences)
