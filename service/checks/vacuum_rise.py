"""A vacuum that is isolated and watched: a leak, moisture, both, or neither?

The shape decides (:mod:`service.uncertainty.rising`), with the saturation pressure of water at the coldest part as the
most that drying can reach.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Finding, Missing, Notice
from schemas.checks import CheckAnswer
from schemas.checks.common import CheckStep, Explanation
from schemas.checks.vacuum_rise import VacuumRiseRequest
from service.assess.findings import Judged
from service.checks.taking import Reading, begin, bend, drawn, in_order, one_instrument, take, take_volume
from service.checks.workings import Outcome, Quantity, Workings, answer, notice, steps
from service.physics.moist_air import saturation_vapour_pressure
from service.reference import vacuum
from service.reference.assumptions import ASSUMPTIONS
from service.reference.check_limits import CHECK_LIMITS, SEEN
from service.uncertainty.error_terms import ErrorTerm, assumption_dimension
from service.uncertainty.normal import cumulative
from service.uncertainty.rising import Beliefs, Rise, comes_apart_at, explained, slope_deviation
from service.words import checks as words

FloatArray = NDArray[np.float64]

PRESSURE = Reading("readings.pressure", "vacuum", "vacuum", 0.0, 1e5 * vacuum.MICRON, 0)
COLDEST = Reading("coldest_temperature", "temperature", "line_temperature", 238.7, 349.8, 1)
#: The leaf that stands for what the scatter of the readings leaves of the shape.
SHAPE = "shape of the rise"

BELIEFS = Beliefs(vacuum.PRIORS, vacuum.TIME_CONSTANTS, vacuum.LARGEST_RISE, vacuum.PLATEAU_SPREAD)

START = Quantity("start_pressure", "vacuum", "The pressure at the start", "first reading", "definition")
FINAL = Quantity("final_pressure", "vacuum", "The pressure at the end", "last reading", "definition")
RISE = Quantity("rise", "vacuum", "The rise", "last less first reading", "definition")
RATE = Quantity("rise_rate", "vacuum_rate", "The mean rate of rise", "rise over time", "definition")
HALVES = Quantity(
    "ratio_of_halves",
    "ratio",
    "The rise of the second half over that of the first",
    "readings interpolated at half the time; 1 for a leak, less where the rise flattens",
    "vacuum_rise_practice",
)
SATURATION = Quantity(
    "water_saturation_pressure",
    "vacuum",
    "The saturation pressure of water at the coldest part",
    "at the coldest temperature",
    "water_saturation",
)
LEAK = Quantity(
    "leak_rise_rate",
    "vacuum_rate",
    "The rate of rise by the leak",
    "slope of the straight part, if there is a leak: alone or with moisture, by their probabilities",
    "vacuum_rise_practice",
)
PLATEAU = Quantity(
    "drying_plateau",
    "vacuum",
    "The pressure at which drying would end",
    "as if there were no leak: p_e of p = p_e - (p_e - p_0) exp(-t/tau)",
    "vacuum_rise_practice",
)
FLOW = Quantity("leak_flow", "gas_flow", "The flow of gas through the leak", "volume times rate", "gas_throughput")


@dataclass(frozen=True)
class Stood:
    """A standing vacuum worked out, in SI."""

    request: VacuumRiseRequest
    workings: Workings
    times: FloatArray
    pressures: FloatArray
    deviations: FloatArray
    own: float
    explained: Rise
    saturation: float | None

    @property
    def duration(self) -> float:
        """Length of the test [s]."""
        return float(self.times[-1])

    @property
    def leaks(self) -> float:
        """Probability of a leak, alone or with moisture."""
        found = self.explained.probabilities
        return found["leak"] + found["leak_and_drying"]

    @property
    def verdict(self) -> str:
        """What the readings show."""
        found = self.explained.probabilities
        if self.doubt is not None:
            return "cannot_tell"
        if self.fell:
            return "pressure_fell"
        if self.leaks >= vacuum.NAMED_FROM:
            return "leak" if found["leak"] >= found["leak_and_drying"] else "leak_and_drying"
        if self.leaks <= 1.0 - vacuum.NAMED_FROM:
            return "drying" if found["drying"] > found["holds"] else "holds"
        return "cannot_tell"

    @property
    def doubt(self) -> str | None:
        """Why nothing of the rise is judged; None where nothing is in question."""
        return self.workings.doubt(RISE.name, *([] if self.saturation is None else [SATURATION.name]))

    @property
    def long_enough(self) -> bool:
        """Whether it was held for as long as the usual limits ask for."""
        return self.duration >= vacuum.JUDGED_FROM

    @property
    def fell(self) -> bool:
        """Whether the pressure fell by more than the gauge scatters."""
        change = float(self.pressures[-1] - self.pressures[0])
        return change < -3.0 * float(np.hypot(self.deviations[0], self.deviations[-1]))

    @property
    def smallest(self) -> float:
        """Rate of rise by a leak that the test would have shown four times in five [Pa/s]."""
        return SEEN * slope_deviation(self.times, self.deviations)

    @cached_property
    def judged(self) -> tuple[Judged, ...]:
        """The limits that apply after so long, held against their values."""
        limits = ["vacuum_before_charging"]
        if self.long_enough:
            limits += ["vacuum_after_ten_minutes", "vacuum_leak_check"]
        return tuple([self.workings.judged(name) for name in limits])

    @property
    def deep_enough(self) -> bool:
        """Whether every limit is shown to be met: nothing is charged before."""
        return all(one.grade == "conforming" for one in self.judged)

    @cached_property
    def wait(self) -> float | None:
        """How much longer to read until leak and moisture come apart [s]; None where that is not foreseen."""
        until = comes_apart_at(
            self.times,
            self.explained,
            self.own,
            vacuum.SCATTER,
            self.saturation,
            BELIEFS,
            vacuum.LONGER,
            vacuum.NAMED_FROM,
        )
        return None if until is None else until - self.duration


def stood(request: VacuumRiseRequest) -> Stood:
    """A standing vacuum worked out.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a reading is impossible or the series is none.
    """
    entry = begin(request)
    rows = request.readings
    in_order(entry, [row.minutes for row in rows])
    one_instrument(entry, [row.pressure for row in rows], "pressure")
    leaves = [
        take(entry, PRESSURE, row.pressure, f"/readings/{place}/pressure", place, asked=place == 0) or ""
        for place, row in enumerate(rows)
    ]
    for place, leaf in enumerate(leaves):
        if leaf:
            bend(entry, leaf, PRESSURE, place, vacuum.SCATTER, "vacuum gauge: scale that is not straight")
    coldest = None
    if request.coldest_temperature is not None:
        coldest = take(entry, COLDEST, request.coldest_temperature, "/coldest_temperature", len(rows))
    take_volume(entry, request.volume, "volume")
    row = ASSUMPTIONS["shape_of_a_rise"]
    dimension = assumption_dimension(list(ASSUMPTIONS).index(row.name))
    term = ErrorTerm(dimension, row.distribution, row.spread)
    entry.leaves.register(SHAPE, 0.0, (term,), "readings: scatter around the rise", (PRESSURE.name,))
    return _worked_out(request, Workings(drawn(entry), entry.questions), leaves, coldest)


def _worked_out(request: VacuumRiseRequest, workings: Workings, leaves: list[str], coldest: str | None) -> Stood:
    pressures = np.stack([workings.leaf(path) for path in leaves])
    minutes = np.array([row.minutes for row in request.readings])
    times = 60.0 * (minutes - minutes[0])
    length, read = float(times[-1]), pressures[:, 0]
    deviations = np.array([_own_deviation(workings, path) for path in leaves])
    own = float(np.sqrt(max(deviations[0] ** 2 - (vacuum.SCATTER * read[0]) ** 2, 0.0)))
    workings.add(START, pressures[0], leaves[:1])
    workings.add(FINAL, pressures[-1], leaves[-1:])
    ends = [leaves[0], leaves[-1]]
    rise = workings.add(RISE, pressures[-1] - pressures[0], ends)
    workings.add(RATE, rise / length, ends)
    saturation = None
    if coldest is not None:
        drawn_ = workings.add(SATURATION, saturation_vapour_pressure(workings.leaf(coldest)), [coldest])
        saturation = float(drawn_[0])
    found = explained(times, read, deviations, saturation, BELIEFS)
    if len(times) > 2 and found.probabilities["holds"] < vacuum.NAMED_FROM:
        middle = _interpolated(times, pressures, 0.5 * length)
        with np.errstate(divide="ignore", invalid="ignore"):
            workings.add(HALVES, (pressures[-1] - middle) / (middle - pressures[0]), leaves)
    # What the gauge's calibration does to all of them: the readings' common factor.
    factor = pressures.mean(axis=0) / read.mean() if read.mean() > 0.0 else np.ones(pressures.shape[1])
    score = cumulative(workings.leaf(SHAPE))
    every = [*leaves, SHAPE]
    if found.probabilities["leak"] + found.probabilities["leak_and_drying"] > 1.0 - vacuum.NAMED_FROM:
        leak = workings.add(LEAK, factor * np.maximum(found.leak.placed(score), 0.0), every)
        if request.volume is not None:
            workings.add(FLOW, float(workings.visit.constants["volume"]) * leak, [*every, "volume"])
    if found.probabilities["drying"] > 1.0 - vacuum.NAMED_FROM:
        workings.add(PLATEAU, factor * found.plateau.placed(score), every)
    return Stood(request, workings, times, read, deviations, own, found, saturation)


def _own_deviation(workings: Workings, leaf: str) -> float:
    """Standard deviation of what is new at a reading of the gauge [Pa]."""
    shared = set(workings.visit.sensors.values())
    part = workings.visit.uncertain[leaf]
    own = [size for place, size in zip(part.positions, part.coefficients, strict=True) if place not in shared]
    return max(float(np.sqrt(np.square(own).sum())), 0.1 * vacuum.MICRON)


def _interpolated(times: FloatArray, pressures: FloatArray, at: float) -> FloatArray:
    """Pressures (n, N + 1) at a time, linear between the readings."""
    after = int(np.searchsorted(times, at))
    share = (at - times[after - 1]) / (times[after] - times[after - 1])
    return np.asarray((1.0 - share) * pressures[after - 1] + share * pressures[after])


def vacuum_rise(request: VacuumRiseRequest) -> CheckAnswer:
    """The answer to a standing vacuum.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a reading is impossible or the series is none.
    """
    return answer_of(stood(request))


def answer_of(found: Stood) -> CheckAnswer:
    """The answer to a standing vacuum that was worked out."""
    return answer(
        found.request,
        found.workings,
        Outcome(
            "vacuum-rise",
            found.verdict,
            _sentence(found),
            frozenset({"evacuation"}),
            findings=_findings(found),
            hypotheses=_hypotheses(found),
            notices=_notices(found),
            missing=_missing(found),
            next_steps=_next_steps(found),
        ),
    )


def _sentence(found: Stood) -> str:
    say = found.workings.say
    if found.doubt is not None:
        return words.not_judged(found.doubt)
    if found.verdict in {"leak", "leak_and_drying"}:
        rate = say("vacuum_rate", found.workings.value(LEAK.name))
        return words.vacuum_leaks(rate, found.leaks, drying=found.verdict == "leak_and_drying")
    if found.verdict == "drying":
        plateau = found.workings.value(PLATEAU.name)
        water, saturation = None, None
        if found.saturation is not None:
            water, saturation = plateau >= vacuum.FREE_WATER * found.saturation, say("vacuum", found.saturation)
        return words.vacuum_dries(say("vacuum", plateau), found.leaks, saturation, water=water)
    if found.verdict == "holds":
        final = say("vacuum", found.workings.value(FINAL.name))
        held = words.vacuum_holds(final, say("vacuum_rate", found.smallest), say("duration", found.duration))
        more = "" if found.deep_enough else words.NOT_DEEP_ENOUGH
        return " ".join(part for part in (held, more, "" if found.long_enough else words.NOT_LONG_ENOUGH) if part)
    if found.verdict == "pressure_fell":
        return words.vacuum_fell(say("vacuum", -found.workings.value(RISE.name)))
    wait = found.wait
    return words.vacuum_cannot_tell(found.leaks, None if wait is None else say("duration", wait))


def _hypotheses(found: Stood) -> list[Explanation]:
    if found.doubt is not None:
        return []
    return [
        {"name": name, "probability": round(value, 4), "sentence": words.VACUUM_MEANS[name]}
        for name, value in found.explained.probabilities.items()
    ]


def _findings(found: Stood) -> list[Finding]:
    return [found.workings.finding(one) for one in found.judged]


def _notices(found: Stood) -> list[Notice]:
    say, rows = found.workings.say, []
    behind = (PRESSURE.name,)
    if found.fell:
        rows.append(notice("pressure_fell", behind, fall=say("vacuum", -found.workings.value(RISE.name))))
    if len(found.times) < 5:
        rows.append(notice("few_readings", behind, count=str(len(found.times))))
    if found.duration < vacuum.JUDGED_FROM:
        rows.append(notice("short_rise_test", ("readings.minutes",), minutes=f"{found.duration / 60.0:g}"))
    upper = CHECK_LIMITS["vacuum_leak_check"].upper
    if isinstance(upper, float) and found.pressures[0] > upper:
        rows.append(notice("shallow_vacuum", behind, start=say("vacuum", float(found.pressures[0]))))
    if found.saturation is not None and found.workings.probability(FINAL.name, found.saturation, None) > 0.95:
        saturation = say("vacuum", found.saturation)
        rows.append(notice("saturation_exceeded", (*behind, COLDEST.name), saturation=saturation))
    return rows


def _missing(found: Stood) -> list[Missing]:
    rows: list[Missing] = []
    if found.saturation is None:
        rows.append({"quantity": SATURATION.name, "reason": words.NO_COLDEST, "unlock": [{"add": [COLDEST.name]}]})
    if found.request.volume is None:
        rows.append({"quantity": FLOW.name, "reason": words.NO_VACUUM_VOLUME, "unlock": [{"add": ["volume"]}]})
    return rows


def _next_steps(found: Stood) -> list[CheckStep]:
    actions = {
        "leak": ["check_hoses_and_cores", "pressure_test"],
        "leak_and_drying": ["check_hoses_and_cores", "pressure_test", "evacuate_further"],
        "drying": ["evacuate_further", "warm_the_circuit"],
        "holds": ["weigh_in"],
        "pressure_fell": ["start_vacuum_again"],
        "cannot_tell": ["wait_longer", "check_hoses_and_cores"],
    }[found.verdict]
    if found.doubt is not None:
        actions = []
    elif found.verdict == "holds" and not found.deep_enough:
        actions = ["evacuate_further", "check_hoses_and_cores"]
    elif found.verdict == "holds" and not found.long_enough:
        actions = ["wait_longer"]
    return steps(actions, words.NEXT_STEPS)
