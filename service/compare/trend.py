"""Three or more dated runs: each brought to the weather of the first, then drift, step, crossing.

runs -> examined -> each compared with the first in the unit model -> a series for each value -> its shape
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Run, UsabilityGrade
from schemas.comparisons import Change
from schemas.trends import Crossing, FittedPiece, QuantityTrend, Trend, TrendRequest
from service.assess import usability
from service.assess.examination import Assessed, examined_together
from service.assess.findings import bounds_of
from service.assess.notices import case_of
from service.assess.pipeline import model_of
from service.compare.capacity import unit_of, unsettled_between
from service.compare.comparison import (
    conditions,
    in_run,
    other_instruments,
    prepared,
    unusable,
    visit_request,
)
from service.compare.fusion import fit_once
from service.compare.quantities import (
    as_read,
    band,
    difference_kind,
    judgeable,
    rounded,
    share,
    times,
)
from service.derive.derivations import QUANTITIES
from service.derive.examined import Examined
from service.intake.refusals import Refusal, RefusedError, pointer
from service.reference.changes import DIRECTION, JUDGED, ONE_FACT, YEARS_AHEAD, Judged
from service.reference.limits import LIMITS
from service.reference.sources import source
from service.reference.units import Conversion, conversion, system_unit
from service.reference.versions import SERVICE_VERSION
from service.uncertainty.asking import Asking, done, together
from service.uncertainty.low_discrepancy import MAXIMUM_DRAWS, sample
from service.uncertainty.propagation import COVERAGE
from service.uncertainty.trend_lines import ODD, Line, Shape, shapes
from service.unit.evidence import Evidence, evidence
from service.unit.model import FOUND, LEFT
from service.words import trend as words
from service.words.comparison import Obstacle
from service.words.numbers import Estimate
from service.words.settling import in_one_run

FloatArray = NDArray[np.float64]

_YEAR = 365.25 * 86400.0
#: How many moving values the overall sentence names.
_SAID = 3


@dataclass(frozen=True, slots=True)
class _Series:
    """Values of one quantity in SI, with the uncertainty that is each run's own."""

    row: Judged
    places: tuple[int, ...]
    values: FloatArray
    deviations: FloatArray


def trend(request: TrendRequest) -> Trend:
    """Three or more runs in, drifts and steps out.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a run has no date, two have the same, or one holds something impossible.
    """
    return done(following(request))


def following(request: TrendRequest) -> Asking[Trend]:
    """The same as work that asks, so that many can be done side by side."""
    runs = _dated(request)
    sides = yield from _examined(request, runs)
    stopped = [unusable(side) for side in sides]
    weather = [conditions(sides[0], side) for side in sides]
    apart = [word for _, word in weather]
    dates = [run.taken_at for _, run in runs if run.taken_at is not None]
    years = np.array([(date - dates[0]).total_seconds() / _YEAR for date in dates])
    series = yield from _series(sides, [a == "no" or s is not None for a, s in zip(apart, stopped, strict=True)])
    series = [one for one in series if len(one.places) >= 3]
    quantities = {
        one.row.quantity: _quantity(one, found, years, dates, sides[0])
        for one, found in zip(series, _shapes(series, years), strict=True)
    }
    return {
        "units": request.units,
        "runs": [
            {
                "taken_at": date.isoformat(),
                "usability": _grade(side),
                "comparable": word,
                "sentence": reason or " ".join((about["sentence"], *_early(side))),
            }
            for date, side, (about, word), reason in zip(dates, sides, weather, stopped, strict=True)
        ],
        "quantities": quantities,
        "sentence": _overall(quantities, sides),
        "provenance": {
            "service": SERVICE_VERSION,
            "refrigerant_model": model_of(sides[0].visit.refrigerant),
            "draws": sides[0].visit.sample.draws,
            "method": words.METHOD,
        },
    }


def _dated(request: TrendRequest) -> list[tuple[int, Run]]:
    """Runs in order of time, with their places in the request."""
    refusals = []
    for place, run in enumerate(request.runs):
        if run.taken_at is None or run.taken_at.tzinfo is None:
            refusals.append(
                Refusal(
                    pointer("runs", str(place), "taken_at"),
                    None if run.taken_at is None else run.taken_at.isoformat(),
                    *words.NO_DATE,
                )
            )
    if refusals:
        raise RefusedError(refusals)
    ordered = sorted(enumerate(request.runs), key=lambda item: item[1].taken_at or datetime.min)
    for (_, first), (place, second) in pairwise(ordered):
        if first.taken_at == second.taken_at:
            refusals.append(Refusal(pointer("runs", str(place), "taken_at"), str(second.taken_at), *words.SAME_DATE))
    if refusals:
        raise RefusedError(refusals)
    return ordered


def _examined(request: TrendRequest, runs: list[tuple[int, Run]]) -> Asking[list[Assessed]]:
    alone = [visit_request(request, run, options=request.options) for _, run in runs]
    refusals: list[Refusal] = []
    sides = []
    for (place, _), one in zip(runs, (yield from examined_together(alone)), strict=True):
        if isinstance(one, RefusedError):
            refusals += [in_run(refusal, f"/runs/{place}") for refusal in one.refusals]
        else:
            sides.append(one)
    if refusals:
        raise RefusedError(list({(r.pointer, r.detail): r for r in refusals}.values()))
    return sides


def _early(side: Examined) -> list[str]:
    """That a run was read before the unit had settled, in a sentence; nothing where it was not."""
    return [text for text in (in_one_run(side.visit.minutes_running),) if text]


def _grade(side: Examined) -> UsabilityGrade:
    return usability.grade_of(usability.check(case_of(side)))


#: Change of each quantity and its standard deviation, SI.
_Changes = dict[str, tuple[float, float]]


def _as_read(first: Examined, side: Examined, alike: Mapping[int, int]) -> tuple[_Changes, list[Judged]]:
    """Changes of the quantities that do not follow the weather; and the rows that the model brings to common
    conditions."""
    read = as_read(first, side, alike)
    unit = unit_of(first, unsettled_between(first, side))
    positions = {name: position for position, name in enumerate(read.names)}
    rows = [row for name, row in JUDGED.items() if name in positions and judgeable(row, unit)]
    changes = {}
    for row in rows:
        if row.model is None:
            place = positions[row.quantity]
            change = float(read.after[place] - read.before[place])
            changes[row.quantity] = change, float(read.deviations[place])
    return changes, [row for row in rows if row.model is not None]


def _at_common_conditions(
    first: Examined, read_first: Evidence, side: Examined, modelled: list[Judged]
) -> Asking[_Changes]:
    """Changes that the unit model brings to the conditions of the first run; none where it does not fit."""
    if not modelled:
        return {}
    parts = prepared(first, read_first, evidence(side), unsettled_between(first, side))
    fusion = None if isinstance(parts, Obstacle) else (yield from fit_once(*parts))
    if fusion is None:
        return {}
    names = list(dict.fromkeys(str(row.model) for row in modelled))
    relative = {str(row.model): row.relative for row in modelled}
    changes = fusion.difference(FOUND, LEFT, names, [relative[name] for name in names])
    found = {}
    for row in modelled:
        if row.model not in changes:
            continue
        change = changes[str(row.model)]
        if row.relative:
            change = times(change, float(first.summary.value[first.kept[row.quantity]]))
        found[row.quantity] = change.mean, change.deviation
    return found


def _series(sides: Sequence[Examined], left_out: list[bool]) -> Asking[list[_Series]]:
    """A series for each judged quantity: differences from the first run, added to its value."""
    first = sides[0]
    read_first = evidence(first)
    read = [_as_read(first, side, other_instruments(first.visit, side.visit)[0]) for side in sides[1:]]
    brought = yield from together(
        [
            _at_common_conditions(first, read_first, side, [] if out or left_out[0] else modelled)
            for side, (_, modelled), out in zip(sides[1:], read, left_out[1:], strict=True)
        ]
    )
    found: dict[str, dict[int, tuple[float, float]]] = {}
    for place, ((changes, _), more) in enumerate(zip(read, brought, strict=True), start=1):
        for name, change in (changes | more).items():
            found.setdefault(name, {})[place] = change
    series = []
    for name, points in found.items():
        start = float(first.summary.value[first.kept[name]])
        # Half the variance of a difference belongs to each run, as the runs are alike; the first run's own
        # error is in every difference, and is attributed to the first value.
        own = {place: deviation / sqrt(2.0) for place, (_, deviation) in points.items()}
        places = (0, *sorted(points))
        values = np.array([start] + [start + points[place][0] for place in places[1:]])
        deviations = np.array([np.median(list(own.values()))] + [own[p] for p in places[1:]])
        if (deviations > 0.0).all():
            series.append(_Series(JUDGED[name], places, values, deviations))
    return sorted(series, key=lambda one: list(JUDGED).index(one.row.quantity))


def _shapes(series: list[_Series], years: FloatArray) -> list[Shape]:
    """The shape of each series; series over the same runs are computed together."""
    alike: dict[tuple[int, ...], list[int]] = {}
    for position, one in enumerate(series):
        alike.setdefault(one.places, []).append(position)
    found: dict[int, Shape] = {}
    for places, positions in alike.items():
        values = np.stack([series[position].values for position in positions])
        deviations = np.stack([series[position].deviations for position in positions])
        together = shapes(years[list(places)], values, deviations)
        found.update(zip(positions, together, strict=True))
    return [found[position] for position in range(len(series))]


def _quantity(one: _Series, found: Shape, years: FloatArray, dates: list[datetime], first: Examined) -> QuantityTrend:
    moments = years[list(one.places)]
    when = [dates[place] for place in one.places]
    system = first.visit.system
    kind = QUANTITIES[one.row.quantity].kind
    apart = difference_kind(kind)
    unit = conversion(kind, system_unit(kind, system))
    step = conversion(apart, system_unit(apart, system)).scale
    slope, deviation = float(found.drift.coefficients[1]), _deviation(found.drift, 1)
    rising = NormalDist().cdf(slope / deviation) if deviation > 0.0 else 0.5
    odd = [date for date, w in zip(when, found.chosen.weights, strict=True) if w < ODD]
    crossing = _crossing(one, found, moments, when, first) if found.name == "drift" else None
    answer: QuantityTrend = {
        "unit": system_unit(kind, system),
        "difference_unit": system_unit(apart, system),
        "at_common_conditions": one.row.model is not None,
        "points": [
            {
                "taken_at": date.isoformat(),
                "value": rounded(unit.from_si(float(value))),
                "band": band(unit.from_si(float(value - 1.96 * own)), unit.from_si(float(value + 1.96 * own))),
                "weight": round(float(weight), 3),
            }
            for date, value, own, weight in zip(when, one.values, one.deviations, found.chosen.weights, strict=True)
        ],
        "shape": found.name,
        "fitted": pieces(found, moments, when, unit, step),
        "drift_per_year": _change(slope, deviation, step),
        "probability_rising": share(rising),
        "step": None,
        "odd_runs": [date.isoformat() for date in odd],
        "crossing": crossing,
        "sentence": "",
    }
    if found.step is not None:
        place, size, own = found.step
        answer["step"] = {
            "after": when[place - 1].isoformat(),
            "before": when[place].isoformat(),
            "size": _change(size, own, step),
        }
    answer["sentence"] = words.series_sentence(_facts(one, found, when, odd, crossing, system), system)
    return answer


def pieces(found: Shape, times: FloatArray, when: list[datetime], unit: Conversion, step: float) -> list[FittedPiece]:
    """The fitted line in straight pieces, each about the time at which its level and slope are independent."""
    level, covariance = found.chosen.coefficients, found.chosen.covariance
    if found.step is not None:
        place = found.step[0]
        # The second coefficient is the step.
        after = np.ones(2)
        return [
            _piece(when[:place], when[0], float(level[0]), float(covariance[0, 0]), unit, step),
            _piece(when[place:], when[place], float(level.sum()), float(after @ covariance @ after), unit, step),
        ]
    if found.name == "steady":
        return [_piece(when, when[0], float(level[0]), float(covariance[0, 0]), unit, step)]
    slope, variance = float(level[1]), float(covariance[1, 1])
    shift = -float(covariance[0, 1]) / variance if variance > 0.0 else 0.0
    at = when[0] + timedelta(seconds=float(times.mean() - times[0] + shift) * _YEAR)
    best = float(covariance[0, 0]) - shift**2 * variance
    return [_piece(when, at, float(level[0]) + slope * shift, best, unit, step, (slope, variance))]


def _piece(
    when: list[datetime],
    at: datetime,
    level: float,
    variance: float,
    unit: Conversion,
    step: float,
    slope: tuple[float, float] = (0.0, 0.0),
) -> FittedPiece:
    """One piece in the caller's units; ``slope`` is a slope a year with its variance, zero for a level."""
    return {
        "start": when[0].isoformat(),
        "end": when[-1].isoformat(),
        "at": at.isoformat(),
        "level": rounded(unit.from_si(level)),
        "level_standard_uncertainty": rounded(sqrt(max(variance, 0.0)) / step),
        "slope_per_year": rounded(slope[0] / step),
        "slope_standard_uncertainty": rounded(sqrt(max(slope[1], 0.0)) / step),
    }


def _deviation(line: Line, place: int) -> float:
    return sqrt(max(float(line.covariance[place, place]), 0.0))


def _change(value: float, deviation: float, step: float) -> Change:
    return {
        "value": rounded(value / step),
        "standard_uncertainty": rounded(deviation / step),
        "band": band((value - 1.96 * deviation) / step, (value + 1.96 * deviation) / step),
    }


def _crossing(one: _Series, found: Shape, times: FloatArray, when: list[datetime], first: Examined) -> Crossing | None:
    """When the line reaches a limit that it has not reached yet."""
    line = found.drift
    slope = float(line.coefficients[1])
    now = float(times[-1] - times.mean())
    level = float(line.coefficients[0]) + slope * now
    name = one.row.quantity
    spread = float(first.summary.standard_uncertainty[first.kept[name]])
    kind = QUANTITIES[name].kind
    unit = conversion(kind, system_unit(kind, first.visit.system))
    for row in LIMITS.values():
        if row.quantity != name or not first.unit.within(row.modes, row.devices, row.phases, row.running):
            continue
        bounds = bounds_of(row, first.visit)
        if bounds is None:
            continue
        bound = bounds[1] if slope > 0.0 else bounds[0]
        if bound is None or (bound - level) * slope <= 0.0:
            continue
        normal = sample(MAXIMUM_DRAWS).normal[:3, 1:]  # three dimensions cost nothing
        root = np.linalg.cholesky(line.covariance + 1e-18 * np.eye(2))
        drawn = line.coefficients[:, None] + root @ normal[:2]
        levels = drawn[0] + drawn[1] * now + spread * normal[2]
        with np.errstate(divide="ignore", invalid="ignore"):
            ahead = (bound - levels) / drawn[1]
        # A line that runs the other way never reaches it; one that has reached it counts as now.
        there = (bound - levels) * np.sign(slope) <= 0.0
        ahead = np.where(there, 0.0, np.where(drawn[1] * slope > 0.0, ahead, np.inf))
        early, late = np.quantile(ahead, [0.025, 0.975], method="inverted_cdf")
        middle = (bound - level) / slope
        low, high = _date(when[-1], float(early)), _date(when[-1], float(late))
        return {
            "limit": row.id,
            "source": source(row.source),
            "bound": rounded(unit.from_si(float(bound))),
            "expected": _date(when[-1], float(middle)),
            "band": {"low": low, "high": high, "coverage": COVERAGE},
            "earliest": low,
            "latest": high,
        }
    return None


def _date(last: datetime, years: float) -> str | None:
    if not np.isfinite(years) or years > YEARS_AHEAD:
        return None
    return (last + timedelta(seconds=years * _YEAR)).replace(microsecond=0).isoformat()


def _facts(
    one: _Series,
    found: Shape,
    when: list[datetime],
    odd: list[datetime],
    crossing: Crossing | None,
    system: str,
) -> words.SeriesFacts:
    kind = QUANTITIES[one.row.quantity].kind
    slope, deviation = float(found.drift.coefficients[1]), _deviation(found.drift, 1)
    step = None
    if found.step is not None:
        place, size, _ = found.step
        step = words.StepFacts(size, when[place - 1], when[place])
    return words.SeriesFacts(
        label=QUANTITIES[one.row.quantity].label,
        kind=difference_kind(kind),
        shape=found.name,
        drift=Estimate(slope, slope - 1.96 * deviation, slope + 1.96 * deviation),
        step=step,
        crossing=None
        if crossing is None
        else words.CrossingFacts(
            crossing["bound"],
            system_unit(kind, system),
            crossing["expected"],
            crossing["earliest"],
            crossing["latest"],
        ),
        odd=odd,
    )


def _overall(quantities: Mapping[str, QuantityTrend], sides: Sequence[Examined]) -> str:
    # First what can be better or worse by itself.
    ordered = sorted(quantities.items(), key=lambda item: JUDGED[item[0]].better == "neither")
    moving: dict[str, str] = {}
    for name, row in ordered:
        sure = max(row["probability_rising"], 1.0 - row["probability_rising"])
        if row["shape"] != "steady" and (row["shape"] != "drift" or sure >= DIRECTION):
            moving.setdefault(ONE_FACT.get(name, name), row["sentence"])
    unsettled = unsettled_between(*sides)
    return words.trend_sentence(list(moving.values())[:_SAID], len(quantities), unsettled)
