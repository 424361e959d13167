"""One value over the runs of a series: its points, the line through them, and the limit that it approaches."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import isfinite, sqrt

from schemas.trends import Crossing, FittedPiece, QuantityTrend, Trend
from service.intake.refusals import Refusal, RefusedError
from service.reference.changes import ONE_FACT
from service.reference.limits import LIMITS
from service.render.axes import Frame, Scale, band_within, step_of, tick_text, ticks
from service.render.drawing import MARGIN, WIDTH, Drawing, text_width
from service.render.palette import SIZES
from service.render.wording import amount, label
from service.words.numbers import figure, with_minus
from service.words.phrases import unit_word
from service.words.trend import when_reached

_DAY = 86400.0
_YEAR = 365.25 * _DAY
#: How far ahead of the last run the axis is extended to show when a limit is reached [s].
_AHEAD = 8.0 * _YEAR
#: How much taller the picture may become to show a limit, in heights of what the points need.
_TALLER = 4.0
_COVERAGE = 1.96
_HEIGHT = 230.0
#: Steps of the time axis: seconds, or months from the first of January.
_SECONDS = (
    *(60.0 * minutes for minutes in (5, 10, 15, 30)),
    *(3600.0 * hours for hours in (1, 2, 3, 6, 12)),
    *(_DAY * days for days in (1, 2, 5, 10)),
)
_MONTHS = (1, 2, 3, 6, 12, 24, 60, 120, 240, 600, 1200, 2400, 6000, 12000, 24000)
_MOST_DATES = 6
_MOST_VALUES = 10
_SHORTEST = 3600.0
_ODD_WORD = "odd"


@dataclass(frozen=True, slots=True)
class _Point:
    """One run: seconds after the first, and its value with its band."""

    seconds: float
    value: float
    low: float
    high: float
    weight: float
    odd: bool


@dataclass(frozen=True, slots=True)
class _Line:
    """A straight piece that the points follow, and the deviation of it at a time.

    ``spread`` is the variance at the time ``middle``; ``turning`` the variance of the slope.
    """

    start: float
    end: float
    middle: float
    level: float
    slope: float
    spread: float
    turning: float

    def __call__(self, seconds: float) -> float:
        """The value at a time."""
        return self.level + self.slope * (seconds - self.middle)

    def half(self, seconds: float) -> float:
        """Half the width of the 95 % band at a time."""
        variance = self.spread + self.turning * (seconds - self.middle) ** 2
        return _COVERAGE * sqrt(max(variance, 0.0))


@dataclass(frozen=True, slots=True)
class _Limit:
    """The limit that a drift approaches: when, as far as the axis shows it."""

    bound: float
    expected: float | None
    earliest: float | None
    latest: float | None


def chosen(answer: Trend, quantity: str | None) -> str:
    """The quantity to draw.

    Left out, it is one that moves toward a limit, the soonest first; else what drifts or has stepped most
    clearly; else efficiency; else the first.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the answer has no such series, or none.
    """
    series = answer["quantities"]
    if not series:
        raise RefusedError(
            [
                Refusal(
                    "/runs",
                    None,
                    "three or more runs with the same readings in similar weather",
                    "give no value in three runs or more, so there is no trend to draw",
                    "Add to each run suction_pressure, suction_line_temperature, liquid_pressure, "
                    "liquid_line_temperature and outdoor_air_dry_bulb.",
                )
            ]
        )
    if quantity is not None:
        if quantity not in series:
            raise RefusedError(
                [
                    Refusal(
                        "query/quantity",
                        quantity,
                        f"one of {', '.join(series)}",
                        "is not among the series of this answer",
                        "Leave it out to draw what moves most clearly.",
                    )
                ]
            )
        return quantity
    return ranked(answer)[0]


def ranked(answer: Trend, past: Collection[str] = ()) -> list[str]:
    """Series by how much they deserve a look, each fact once.

    First what moves and is ``past`` its limit already, then what moves toward one, the soonest first, then
    what drifts or has stepped, the clearest first, then efficiency, then the rest.
    """
    series = answer["quantities"]

    def order(name: str) -> tuple[int, bool, str, float]:
        row = series[name]
        if row["shape"] != "steady" and name in past:
            return 0, False, "", -_clearness(row)
        if row["crossing"] is not None:
            return 1, *_urgency(row)
        if row["shape"] != "steady":
            return 2, False, "", -_clearness(row)
        return (3 if name == "eer" else 4), False, "", 0.0

    facts: dict[str, str] = {}
    for name in sorted(series, key=order):
        facts.setdefault(ONE_FACT.get(name, name), name)
    return list(facts.values())


def draw(answer: Trend, quantity: str | None = None, *, name: str = "trend") -> Drawing:
    """The chart of one quantity; see `chosen` for which.

    The lines are those of the answer, rebuilt from what it says.  A drift: its level is the
    mean of the points less their drift, weighted by their stated weights and variances, which is where the
    fit had it.  Its band: the fit's variances of slope and level have one common factor, so the level's
    at the weighted mean date is the slope's times the weighted variance of the dates, and at any date
    the slope's variance times the squared distance from that date comes to it.  A step: both levels are
    weighted means with the stated size between them, and share its variance by their precisions.  Steady:
    the weighted mean, widened where the points scatter by more than their bands.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the answer has no such series, or none.
    """
    quantity = chosen(answer, quantity)
    row = answer["quantities"][quantity]
    first = _moment(row["points"][0]["taken_at"])
    points = _points(row, first)
    lines = [_drawable(piece, first) for piece in row["fitted"]]
    limit = _limit(row, first)
    title = f"{label(quantity)} over time"
    across, up, drawn = _scales(points, lines, limit)
    notes = _notes(answer, quantity, row, drawn)
    drawing = Drawing(name, title, _described(quantity, row, notes))
    width = WIDTH - 2 * MARGIN
    y = drawing.heading(title)
    y = drawing.lines(MARGIN, y - 2, row["sentence"], "text", width) + 4
    y = drawing.lines(MARGIN, y, _key(row), "small", width) + 30
    frame = Frame(across, replace(up, start=y + _HEIGHT, end=y))
    _grid(drawing, frame, quantity, row, first)
    with drawing.clipped(*frame.box):
        for line in lines:
            _line(drawing, frame, line)
        if row["shape"] == "step" and len(lines) == 2:
            at = (lines[0].end + lines[1].start) / 2
            ends = [frame.point(at, line(at)) for line in lines]
            drawing.path(ends, "line-guess")
            for line, edge in ((lines[0], lines[0].end), (lines[1], lines[1].start)):
                drawing.path([frame.point(edge, line(edge)), frame.point(at, line(at))], "line-guess")
    if limit is not None and drawn:
        _limit_line(drawing, frame, limit, points, row, quantity)
    named: list[tuple[float, float]] = []
    for point in points:
        _point(drawing, frame, point, named)
    y = frame.up.start + 44
    for text in notes:
        y = drawing.lines(MARGIN, y, text, "small", width) + 4
    drawing.height = y + MARGIN - 6
    return drawing


# ---------------------------------------------------------------- what the answer says


def _urgency(row: QuantityTrend) -> tuple[bool, str, float]:
    expected = None if row["crossing"] is None else row["crossing"]["expected"]
    when = "" if expected is None else _moment(expected).isoformat()
    return expected is None, when, -_clearness(row)


def _clearness(row: QuantityTrend) -> float:
    """Size over uncertainty of what it does."""
    step = row["step"]
    change = row["drift_per_year"] if step is None else step["size"]
    own = change["standard_uncertainty"]
    return abs(change["value"]) / own if own > 0.0 else float("inf")


def _moment(when: str | datetime) -> datetime:
    return when if isinstance(when, datetime) else datetime.fromisoformat(when)


def _after(first: datetime, when: str | datetime) -> float:
    return (_moment(when) - first).total_seconds()


def _points(row: QuantityTrend, first: datetime) -> list[_Point]:
    odd = {_after(first, when) for when in row["odd_runs"]}
    found = []
    for point in row["points"]:
        seconds = _after(first, point["taken_at"])
        band = point["band"]
        found.append(_Point(seconds, point["value"], band["low"], band["high"], point["weight"], seconds in odd))
    return found


def _limit(row: QuantityTrend, first: datetime) -> _Limit | None:
    crossing = row["crossing"]
    if crossing is None:
        return None
    dates = (crossing["expected"], crossing["earliest"], crossing["latest"])
    seconds = [None if date is None else _after(first, date) for date in dates]
    return _Limit(crossing["bound"], *seconds)


def _drawable(piece: FittedPiece, first: datetime) -> _Line:
    start, end, middle = (_after(first, when) for when in (piece["start"], piece["end"], piece["at"]))
    own, turning = piece["level_standard_uncertainty"], piece["slope_standard_uncertainty"] / _YEAR
    return _Line(start, end, middle, piece["level"], piece["slope_per_year"] / _YEAR, own**2, turning**2)


# ---------------------------------------------------------------- the picture


def _scales(points: Sequence[_Point], lines: Sequence[_Line], limit: _Limit | None) -> tuple[Scale, Scale, bool]:
    """Of time and of values (from the top of the frame), and whether the limit lies within them."""
    start, end = points[0].seconds, points[-1].seconds
    if limit is not None and limit.expected is not None and limit.expected - end <= _AHEAD:
        end = max(end, limit.expected)
    room = max(0.06 * (end - start), (_SHORTEST - (end - start)) / 2)
    values = [v for p in points for v in (p.value, p.low, p.high)]
    values += [
        v
        for line in lines
        for at in (line.start, line.end)
        for v in (line(at) - line.half(at), line(at) + line.half(at))
    ]
    values = [v for v in values if isfinite(v)] or [0.0]
    low, high = min(values), max(values)
    least = max(1e-3 * max(abs(low), abs(high)), 1e-6)
    if high - low < least:
        low, high = low - least, high + least
    drawn = False
    if limit is not None:
        tall = max(high, limit.bound) - min(low, limit.bound)
        drawn = tall <= _TALLER * (high - low)
        if drawn:
            low, high = min(low, limit.bound), max(high, limit.bound)
    pad = 0.12 * (high - low)
    low, high = low - pad, high + pad
    step = step_of(high - low, _MOST_VALUES)
    left = max(text_width(_tick(v, step), "small") for v in ticks(low, high, _MOST_VALUES))
    across = Scale(start - room, end + room, MARGIN + left + 8, WIDTH - MARGIN)
    return across, Scale(low, high, _HEIGHT, 0.0), drawn


def _tick(value: float, step: float) -> str:
    if step < 1e-4 or abs(value) >= 1e7:
        return with_minus(f"{value:.4g}")
    return figure(value, 0 if step >= 1.0 else len(tick_text(step, step)) - 2)


def _grid(drawing: Drawing, frame: Frame, quantity: str, row: QuantityTrend, first: datetime) -> None:
    step = step_of(frame.up.high - frame.up.low, _MOST_VALUES)
    up = [(v, _tick(v, step)) for v in ticks(frame.up.low, frame.up.high, _MOST_VALUES)]
    across, form = _dates(frame.across, first)
    unit = unit_word(row["unit"]) or "ratio"
    weather = "in the weather of the first run" if row["at_common_conditions"] else "as read"
    frame.grid(drawing, across, up, (form, f"{unit}, {weather}"))


def _dates(scale: Scale, first: datetime) -> tuple[list[tuple[float, str]], str]:
    """Ticks of the time axis whose texts stay within the picture, and what the texts are."""
    span = scale.high - scale.low
    seconds = next((step for step in _SECONDS if span / step <= _MOST_DATES), None)
    if seconds is not None:
        found = _clock_ticks(scale, first, seconds)
        pattern, form = "%H:%M", f"time, {first:%Y-%m-%d}"
        if seconds >= _DAY:
            pattern, form = "%m-%d", f"month and day, {first:%Y}"
    else:
        months = next((step for step in _MONTHS if span / (step * _YEAR / 12) <= _MOST_DATES), _MONTHS[-1])
        found = _calendar_ticks(scale, first, months)
        pattern, form = ("%Y", "year") if months >= 12 else ("%Y-%m", "year and month")
    texts = [(at, _date_text(date, pattern)) for at, date in found if at in scale]
    return [
        (at, text)
        for at, text in texts
        if scale(at) - text_width(text, "small") / 2 >= MARGIN
        and scale(at) + text_width(text, "small") / 2 <= WIDTH - MARGIN + 8
    ], form


def _date_text(date: datetime, pattern: str) -> str:
    if pattern == "%Y":
        return f"{date.year:04d}"
    # Among times of day, midnight says which day begins.
    midnight = pattern == "%H:%M" and (date.hour, date.minute) == (0, 0)
    return date.strftime("%m-%d" if midnight else pattern)


def _clock_ticks(scale: Scale, first: datetime, step: float) -> Iterator[tuple[float, datetime]]:
    midnight = first.replace(hour=0, minute=0, second=0, microsecond=0)
    into = (first - midnight).total_seconds()
    place = int((scale.low + into) // step)
    while place * step - into <= scale.high:
        try:
            yield place * step - into, midnight + timedelta(seconds=place * step)
        except OverflowError:
            # The calendar ends; so do its ticks.
            return
        place += 1


def _calendar_ticks(scale: Scale, first: datetime, months: int) -> Iterator[tuple[float, datetime]]:
    start = first.year * 12 + first.month - 1 + int(scale.low / _YEAR * 12) - 1
    place = start // months * months
    while place < 9999 * 12:
        year, month = divmod(place, 12)
        place += months
        if year < 1:
            continue
        date = datetime(year, month + 1, 1, tzinfo=first.tzinfo)
        at = (date - first).total_seconds()
        if at > scale.high:
            return
        yield at, date


def _line(drawing: Drawing, frame: Frame, line: _Line) -> None:
    """A piece with its band over its points, and on to the end of the axis where it drifts."""
    turns = line.slope != 0.0 or line.turning > 0.0
    end = max(line.end, frame.across.high) if turns else line.end
    # A level of one moment still shows as a short piece.
    room = 0.012 * (frame.across.high - frame.across.low)
    start, last = line.start - room, line.end + room
    count = 24 if turns else 1
    stop = end if turns else last
    steps = [start + (stop - start) * k / count for k in range(count + 1)]
    upper = [frame.point(at, line(at) + line.half(at)) for at in steps]
    lower = [frame.point(at, line(at) - line.half(at)) for at in reversed(steps)]
    drawing.path(upper + lower, "spread-trend", closed=True)
    drawing.path([frame.point(start, line(start)), frame.point(last, line(last))], "line-trend")
    if turns and end > last:
        drawing.path([frame.point(last, line(last)), frame.point(end, line(end))], "line-guess")


def _point(drawing: Drawing, frame: Frame, point: _Point, named: list[tuple[float, float]]) -> None:
    """A run's value and band; an odd one is labelled, where there is no label yet (``named``)."""
    x, y = frame.point(point.seconds, point.value)
    style = "whisker-odd" if point.odd else "whisker"
    top, bottom = frame.up(point.high), frame.up(point.low)
    drawing.line(x, top, x, bottom, style)
    for end in (top, bottom):
        drawing.line(x - 3.5, end, x + 3.5, end, style)
    if not point.odd:
        drawing.mark(x, y, "circle", "mark-point", 4.5)
        return
    drawing.mark(x, y, "cross", "line-bad", 4.5)
    width, height = text_width(_ODD_WORD, "small") + 4, SIZES["small"] * 1.2
    middle = min(max(x, frame.across.start + width / 2), frame.across.end - width / 2)
    base = top - 5
    if all(abs(middle - a) >= width or abs(base - b) >= height for a, b in named):
        drawing.text(middle, base, _ODD_WORD, "small", "middle")
        named.append((middle, base))


def _limit_line(
    drawing: Drawing,
    frame: Frame,
    limit: _Limit,
    points: Sequence[_Point],
    row: QuantityTrend,
    quantity: str,
) -> None:
    x, _, width, _ = frame.box
    at = frame.up(limit.bound)
    drawing.line(x, at, x + width, at, "line-limit")
    text = f"limit {amount(limit.bound, row['unit'], quantity)}"
    taken = text_width(text, "small")
    # Beyond the limit there is seldom a point, so its name has room there; left, unless one is there.
    beyond = -1.0 if row["drift_per_year"]["value"] > 0.0 else 1.0
    near = [frame.across(p.seconds) for p in points if max((frame.up(v) - at) * beyond for v in (p.low, p.high)) > 0.0]
    left = x + 8
    if any(left - 16 < place < left + taken + 16 for place in near):
        left = x + width - taken - 8
    drawing.text(left, at - 6 if beyond < 0.0 else at + SIZES["small"] + 3, text, "tag-small")
    if limit.expected is None or limit.expected not in frame.across:
        return
    far = float("inf")
    early = limit.expected if limit.earliest is None else limit.earliest
    late = far if limit.latest is None else limit.latest
    band_within(drawing, frame.across, early, late, at, "line-open", 5.0)
    drawing.mark(frame.across(limit.expected), at, "diamond", "mark-open", 5.0)


# ---------------------------------------------------------------- words


def _key(row: QuantityTrend) -> str:
    texts = ["Dot with a line: one run with its 95 % band."]
    if row["odd_runs"]:
        texts.append("Cross: odd, does not fit the others.")
    texts.append(
        {
            "drift": "Line: the drift, with its 95 % band.",
            "step": "Lines: the levels before and after the step, with their 95 % bands.",
        }.get(row["shape"], "Line: the level, with its 95 % band.")
    )
    return " ".join(texts)


def _notes(answer: Trend, quantity: str, row: QuantityTrend, drawn: bool) -> list[str]:
    notes = []
    crossing = row["crossing"]
    if crossing is not None:
        known = LIMITS.get(crossing["limit"])
        about = f" ({known.aspect})" if known is not None and known.aspect else ""
        side = "above" if row["drift_per_year"]["value"] > 0.0 else "below"
        notes.append(
            f"Limit{about}: {amount(crossing['bound'], row['unit'], quantity)}"
            f"{'' if drawn else f', far {side} what is drawn'} ({crossing['source']}). "
            f"{_when(crossing)}"
        )
    for shape, text in (("drift", "Drifting"), ("step", "Stepped")):
        others = [
            label(name) for name, other in answer["quantities"].items() if name != quantity and other["shape"] == shape
        ]
        if others:
            too = " too" if row["shape"] == shape else ""
            notes.append(f"{text}{too}: {'; '.join(others)}.")
    return notes


def _when(crossing: Crossing) -> str:
    dates = (crossing[key] for key in ("expected", "earliest", "latest"))
    when = when_reached(*(None if date is None else f"{_moment(date):%Y-%m}" for date in dates))
    return f"At that rate it is reached {when}."


def _described(quantity: str, row: QuantityTrend, notes: Sequence[str]) -> str:
    odd = {_moment(when) for when in row["odd_runs"]}
    texts = []
    for point in row["points"]:
        when = _moment(point["taken_at"])
        low, high = (amount(point["band"][end], row["unit"], quantity) for end in ("low", "high"))
        texts.append(
            f"{when:%Y-%m-%d %H:%M}: {amount(point['value'], row['unit'], quantity)} "
            f"(95 %: {low} to {high}){', odd' if when in odd else ''}"
        )
    return " ".join([row["sentence"], f"Runs: {'; '.join(texts)}.", *notes])
