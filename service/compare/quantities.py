"""Each derived value: its change as read, its change under the same conditions, and the verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import expm1, log

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Band
from schemas.comparisons import PercentChange, QuantityChange, QuantityVerdict
from service.assess.findings import bounds_of
from service.compare.fusion import Fusion
from service.compare.tests_of_change import absolute, detectable_by_itself, equivalent
from service.derive.derivations import QUANTITIES, UnitKind
from service.derive.examined import Examined
from service.reference.changes import (
    DETECTABLE,
    DIRECTION,
    JUDGED,
    OUTSIDE,
    Judged,
)
from service.reference.limits import LIMITS
from service.reference.units import conversion, system_unit
from service.uncertainty.mixture import Normals, find_quantiles
from service.uncertainty.propagation import COVERAGE
from service.unit.evidence import joint
from service.unit.model import FOUND, LEFT
from service.words import comparison as words
from service.words.numbers import Estimate

FloatArray = NDArray[np.float64]

#: Kinds of value whose change is of another kind.
_DIFFERENCE = {
    "temperature": "temperature_difference",
    "absolute_pressure": "pressure",
    "specific_enthalpy": "specific_enthalpy_difference",
}

#: Middles of 25 slices of equal probability of a standard normal.
#: Probabilities of the ends of a 95 % band.
ENDS = (0.025, 0.975)
_SLICES = np.array([Normals(np.ones(1), np.zeros(1), np.ones(1)).quantile((k + 0.5) / 25.0) for k in range(25)])


def difference_kind(kind: str) -> str:
    """The kind of a difference between two values of a kind."""
    return _DIFFERENCE.get(kind, kind)


@dataclass(frozen=True, slots=True)
class AsRead:
    """Changes as read of the quantities that both runs have, in SI: values and standard uncertainties."""

    names: tuple[str, ...]
    before: FloatArray
    after: FloatArray
    deviations: FloatArray
    deviations_if_alike: FloatArray


def as_read(before: Examined, after: Examined, alike: Mapping[int, int]) -> AsRead:
    """Changes as read, without the errors that both runs share.

    ``alike`` maps the sensors of the second run to those of the first that made the same reading, to ask
    what one instrument would have given.
    """
    names = tuple(name for name in before.kept if name in after.kept)
    rows = [np.array([side.kept[name] for name in names], dtype=np.intp) for side in (before, after)]
    slopes = [side.summary.slopes[row] for side, row in zip((before, after), rows, strict=True)]
    variables = [side.visit.variables for side in (before, after)]
    curved = sum(
        np.maximum(
            side.summary.standard_uncertainty[row] ** 2 - side.summary.variance_by_variable[row].sum(axis=1),
            0.0,
        )
        for side, row in zip((before, after), rows, strict=True)
    )
    deviations = []
    for keys in (None, alike):
        whole, variances = joint(slopes, variables, keys)
        apart = whole[len(names) :] - whole[: len(names)]
        deviations.append(np.sqrt(apart**2 @ variances + curved))
    return AsRead(
        names,
        before.summary.value[rows[0]],
        after.summary.value[rows[1]],
        deviations[0],
        deviations[1],
    )


@dataclass(frozen=True, slots=True)
class Judgement:
    """A change under the same conditions in SI, its 95 % band, and its probabilities."""

    change: Normals
    band: tuple[float, float]
    matters: float
    detectable: float | None
    improved: float | None
    worsened: float | None
    neither: float
    rose: float
    within: float
    equivalent: bool
    judged_by: str
    method: str

    def verdict(self, *, changed: bool) -> QuantityVerdict:
        """The verdict; claims of change only where the one test of any change allows them."""
        if self.equivalent:
            return "no_material_change"
        if not changed:
            return "inconclusive"
        if self.improved is not None and self.improved >= DIRECTION:
            return "improved"
        if self.worsened is not None and self.worsened >= DIRECTION:
            return "worsened"
        if max(self.rose, 1.0 - self.rose) >= DIRECTION and (self.judged_by == "neither" or self.neither >= DIRECTION):
            return "neither"
        return "inconclusive"


def logarithms(size: float) -> tuple[float, float]:
    """A relative change of this size, down and up, on the scale of logarithms."""
    return log(1.0 - size), log(1.0 + size)


def judge(
    read: AsRead,
    before: Examined,
    unit: UnitKind,
    fusion: Fusion | None,
    matters: Mapping[str, float],
    of_the_system: Mapping[str, tuple[Normals, float] | None],
) -> dict[str, Judgement]:
    """Judgements of the quantities whose change can be brought to the same conditions.

    ``unit`` is what the pair is of: of no known capacity where the runs differ in theirs.
    ``of_the_system`` are the changes that the verdict on the system is about, with the smallest that
    would show: one fact has one judgement.  Efficiency and capacity follow from all readings
    together, and each cause leaves its trace in several of them; any other value must show by itself,
    whatever else changed.
    """
    places = {name: place for place, name in enumerate(read.names)}
    rows = [row for name, row in JUDGED.items() if name in places and judgeable(row, unit)]
    modelled = [row for row in rows if row.model is not None]
    fused: dict[str, Normals] = {}
    seen: dict[str, float] = {}
    if fusion is not None and modelled:
        names = list(dict.fromkeys(row.model for row in modelled if row.model is not None))
        relative = {row.model: row.relative for row in modelled}
        logarithmic = [relative[name] for name in names]
        fused = fusion.difference(FOUND, LEFT, names, logarithmic)
        sizes = detectable_by_itself(fusion, names, logarithmic)
        seen = dict(zip(names, sizes.tolist(), strict=True))
        fused = {name: change for name, change in fused.items() if np.isfinite(seen[name])}
        find_quantiles(fused.values(), ENDS)
    answer = {}
    for row in rows:
        place = places[row.quantity]
        start = float(read.before[place])
        if row.model is None:
            change = Normals(
                np.ones(1),
                np.array([read.after[place] - start]),
                np.array([read.deviations[place]]),
            )
            smallest = DETECTABLE * change.deviation
        elif row.model in fused:
            change, smallest = fused[row.model], seen[row.model]
        else:
            continue
        if row.quantity in of_the_system:
            one = of_the_system[row.quantity]
            if one is None:
                continue
            change, smallest = one
        spread = float(before.summary.standard_uncertainty[before.kept[row.quantity]])
        answer[row.quantity] = _judged(row, change, smallest, start, spread, before, matters)
    return answer


def judgeable(row: Judged, unit: UnitKind) -> bool:
    """Whether a change of the quantity says something about the unit: one that moves with the stage or the
    speed does not where that is not known."""
    return unit.capacity_is_known or not (row.follows_capacity or row.model is not None)


def times(change: Normals, start: float) -> Normals:
    """A change in the logarithm as one of the value."""
    factors = np.exp(change.means)
    return Normals(change.weights, start * (factors - 1.0), abs(start) * factors * change.deviations)


def _judged(
    row: Judged,
    change: Normals,
    detectable_: float,
    start: float,
    spread: float,
    before: Examined,
    matters: Mapping[str, float],
) -> Judgement:
    size = matters.get(row.quantity, row.matters)
    smallest = size * (abs(start) if row.relative else 1.0)
    # The model gives relative changes as logarithms; they are judged as such.
    logarithmic = row.relative and row.model is not None
    ends = logarithms(size) if logarithmic else (-smallest, smallest)
    fell, below, above = change.under(0.0), change.under(ends[0]), 1.0 - change.under(ends[1])
    same = equivalent(change, ends, detectable_)
    low, high = (change.quantile(end) for end in ENDS)
    if logarithmic:
        change = times(change, start)
        # Of the change that was judged, so that no verdict contradicts its band.
        low, high = sorted(start * expm1(end) for end in (low, high))
    shown_from = absolute(detectable_, start) if logarithmic else detectable_
    improved: float | None = None
    worsened: float | None = None
    neither, judged_by = 1.0, row.better
    limit_or_way: str = judged_by
    if row.better == "higher":
        improved, worsened, neither = 1.0 - fell, fell, 0.0
    elif row.better == "lower":
        improved, worsened, neither = fell, 1.0 - fell, 0.0
    elif row.better == "within":
        limit = next((LIMITS[name] for name in row.limits), None)
        bounds = None if limit is None else bounds_of(limit, before.visit)
        applies = limit is not None and before.unit.within(limit.modes, limit.devices, limit.phases, limit.running)
        limit_or_way = "neither"
        if limit is not None and bounds is not None and applies:
            limit_or_way = limit.id
            improved, worsened = _against(bounds, start, spread, change)
            neither = 1.0 - improved - worsened
    return Judgement(
        change,
        (low, high),
        smallest,
        shown_from,
        improved,
        worsened,
        neither,
        1.0 - fell,
        max(1.0 - above - below, 0.0),
        same,
        limit_or_way,
        words.METHOD_OF_THE_DIFFERENCE if row.model is None else words.METHOD_OF_THE_MODEL,
    )


def _against(
    bounds: tuple[float | None, float | None], start: float, spread: float, change: Normals
) -> tuple[float, float]:
    """Probabilities that the value came closer to its limits, and that it moved further from them."""
    first = start + spread * _SLICES[:, None]
    second = first + change.mean + change.deviation * _SLICES[None, :]

    def off(value: FloatArray) -> FloatArray:
        low = np.zeros_like(value) if bounds[0] is None else np.maximum(bounds[0] - value, 0.0)
        high = np.zeros_like(value) if bounds[1] is None else np.maximum(value - bounds[1], 0.0)
        return np.asarray(low + high)

    before, after = np.broadcast_to(off(first), second.shape), off(second)
    return float((after < before).mean()), float((after > before).mean())


# ---------------------------------------------------------------- answer


def changes_answer(
    read: AsRead,
    judgements: Mapping[str, Judgement],
    before: Examined,
    *,
    changed: bool,
    unit_changed: bool,
    work: frozenset[str],
    obstacle: words.Obstacle | None,
) -> dict[str, QuantityChange]:
    """The ``changes`` part of the answer, in the caller's units; ``obstacle`` is why nothing is brought
    to common conditions.  ``changed`` is whether any change is shown, ``unit_changed`` of more than a
    capacitor: only then may a value of the unit model claim one."""
    return {
        name: _change(
            name,
            place,
            read,
            judgements.get(name),
            before,
            changed=unit_changed if _follows_the_model(name) else changed,
            work=work,
            obstacle=obstacle,
        )
        for place, name in enumerate(read.names)
    }


def _follows_the_model(name: str) -> bool:
    return name in JUDGED and JUDGED[name].model is not None


def _change(
    name: str,
    place: int,
    read: AsRead,
    judgement: Judgement | None,
    before: Examined,
    *,
    changed: bool,
    work: frozenset[str],
    obstacle: words.Obstacle | None,
) -> QuantityChange:
    system = before.visit.system
    kind = QUANTITIES[name].kind
    apart = difference_kind(kind)
    unit = conversion(kind, system_unit(kind, system))
    step = conversion(apart, system_unit(apart, system)).scale
    difference = float(read.after[place] - read.before[place])
    deviation = float(read.deviations[place])
    answer: QuantityChange = {
        "unit": system_unit(kind, system),
        "difference_unit": system_unit(apart, system),
        "before": rounded(unit.from_si(float(read.before[place]))),
        "after": rounded(unit.from_si(float(read.after[place]))),
        "as_read": {
            "value": rounded(difference / step),
            "standard_uncertainty": rounded(deviation / step),
            "band": band((difference - 1.96 * deviation) / step, (difference + 1.96 * deviation) / step),
        },
        "at_common_conditions": None,
        "method": words.METHOD_AS_READ,
        "verdict": None,
        "judged_by": None,
        "probabilities": None,
        "smallest_detectable": None,
        "smallest_that_matters": None,
        "sentence": "",
    }
    if judgement is None:
        values = float(read.before[place]), float(read.after[place])
        answer["sentence"] = words.read_sentence(
            QUANTITIES[name].label, (kind, apart), values, system, _why_not(name, obstacle)
        )
        return answer
    change = judgement.change
    verdict = judgement.verdict(changed=changed)
    answer |= {
        "at_common_conditions": {
            "value": rounded(change.mean / step),
            "standard_uncertainty": rounded(change.deviation / step),
            "band": band(judgement.band[0] / step, judgement.band[1] / step),
        },
        "method": judgement.method,
        "verdict": verdict,
        "judged_by": judgement.judged_by,
        "probabilities": {
            "improved": None if judgement.improved is None else share(judgement.improved),
            "worsened": None if judgement.worsened is None else share(judgement.worsened),
            "rose": share(judgement.rose),
            "fell": share(1.0 - judgement.rose),
            "within_what_matters": share(judgement.within),
        },
        "smallest_detectable": (None if judgement.detectable is None else rounded(judgement.detectable / step)),
        "smallest_that_matters": rounded(judgement.matters / step),
    }
    answer["sentence"] = words.value_sentence(_facts(name, apart, judgement, verdict, work, changed=changed), system)
    return answer


def _why_not(name: str, obstacle: words.Obstacle | None) -> str:
    """The one reason why a value is not judged."""
    if name in JUDGED:
        return words.NOT_BROUGHT if obstacle is None else obstacle.clause
    return OUTSIDE.get(name, words.ANOTHER_WAY)


def _facts(
    name: str, kind: str, judgement: Judgement, verdict: str, work: frozenset[str], *, changed: bool
) -> words.ValueFacts:
    return words.ValueFacts(
        label=QUANTITIES[name].label,
        kind=kind,
        change=Estimate(judgement.change.mean, *judgement.band),
        verdict=verdict,
        matters=judgement.matters,
        detectable=judgement.detectable,
        probability_rose=judgement.rose,
        probability_improved=judgement.improved,
        moved=max(judgement.rose, 1.0 - judgement.rose) >= DIRECTION,
        something_changed=changed,
        has_limit=judgement.judged_by in LIMITS,
        no_direction_is_better=judgement.judged_by == "neither",
        is_capacitance=name.endswith("_run_capacitance"),
        work=work,
    )


def band(low: float, high: float) -> Band:
    """A band, ends in seven digits."""
    return {"low": rounded(low), "high": rounded(high), "coverage": COVERAGE}


def rounded(value: float) -> float:
    """A number in seven significant digits, far below any uncertainty."""
    # A rounded zero has no sign.
    return float(f"{value:.7g}") + 0.0


def percent_of(logarithm: float) -> float:
    """A change of a logarithm in percent."""
    return rounded(100.0 * expm1(logarithm))


def percents(change: Normals) -> Estimate:
    """A change of a logarithm in percent, with its 95 % band."""
    values = (change.mean, *(change.quantile(end) for end in ENDS))
    return Estimate(*(100.0 * expm1(value) for value in values))


def percent_change(change: Normals | None) -> PercentChange | None:
    """The same as an answer shows it."""
    return None if change is None else percent_of_change(change)


def percent_of_change(change: Normals) -> PercentChange:
    """A change of a logarithm as an answer shows it."""
    middle, low, high = percents(change)
    return {"value": rounded(middle), "band": band(low, high)}


def share(value: float) -> float:
    """A probability in four decimals."""
    return round(min(max(value, 0.0), 1.0), 4) + 0.0
