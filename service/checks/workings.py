"""What a check derives from its readings, with statistics, grades and the parts of its answer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import DerivedValue, Finding, Missing, Notice
from schemas.checks.common import CheckAnswer, CheckName, CheckRequest, CheckStep, Explanation, Information
from service.assess.cautions import Circumstances, caution_answer, raised_anyway
from service.assess.findings import Bounds, Judged, Known, graded, limit_answer, limit_in_units
from service.assess.pipeline import METHOD, instruments_of
from service.derive.draws import DrawnVisit
from service.derive.shares import Shares, shares_of
from service.intake.refusals import Refusal, RefusedError
from service.reference.cautions import CAUTIONS
from service.reference.check_limits import CHECK_LIMITS, HAZARDS
from service.reference.check_notices import CHECK_NOTICES
from service.reference.limits import LimitRow
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.reference.versions import COOLPROP_VERSION, SERVICE_VERSION
from service.uncertainty.conformity import DECISION_PROBABILITY, matched, probabilities_within
from service.uncertainty.propagation import COVERAGE, Summary, summarise
from service.uncertainty.rounding import significant
from service.words import assessment as words
from service.words.checks import QUESTION_STEPS
from service.words.phrases import phrase

FloatArray = NDArray[np.float64]


class Quantity(NamedTuple):
    """A derived value of a check: its name, its kind, what a sentence calls it, how and from where it follows."""

    name: str
    kind: str
    label: str
    method: str
    source: str


@dataclass(frozen=True)
class Question:
    """Something that must be settled before anything is judged that depends on ``paths``, or on ``quantities``.

    ``paths`` are those of the request, which leaves of a series share.
    ``step`` is what to do about it, a key of :data:`service.words.checks.QUESTION_STEPS`.
    """

    notice: Notice
    paths: frozenset[str] = frozenset()
    quantities: frozenset[str] = frozenset()
    step: str = "check_the_unit"


@dataclass
class Workings:
    """Derived values of one check, in SI, as they are computed; their statistics once all are there."""

    visit: DrawnVisit
    questions: list[Question] = field(default_factory=list)
    rows: dict[str, Quantity] = field(default_factory=dict)
    draws: dict[str, FloatArray] = field(default_factory=dict)
    leaves: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def leaf(self, path: str) -> FloatArray:
        """Draws (N + 1,) of a leaf, the nominal first."""
        return np.asarray(self.visit.leaves[path], dtype=np.float64)

    def add(self, quantity: Quantity, draws: FloatArray, leaves: Iterable[str]) -> FloatArray:
        """A derived value from the leaves named; returns its draws."""
        count = self.visit.sample.draws + 1
        self.rows[quantity.name] = quantity
        self.draws[quantity.name] = np.broadcast_to(np.asarray(draws, dtype=np.float64), (count,))
        self.leaves[quantity.name] = tuple(leaves)
        return self.draws[quantity.name]

    @cached_property
    def summary(self) -> Summary:
        """Statistics of all values; nothing may be added afterwards."""
        stack = np.stack([self.draws[name] for name in self.rows])
        variables = len(self.visit.variables)
        mask = np.zeros((len(self.rows), variables), dtype=bool)
        for row, name in enumerate(self.rows):
            for path in self.leaves[name]:
                mask[row, list(self.visit.leaf_variables.get(path, ()))] = True
        return summarise(stack, self.visit.inputs, mask)

    def doubt(self, *names: str) -> str | None:
        """Why none of these values is judged: the first question about one of them, in a sentence; None without one."""
        for name in names:
            behind = {leaf.partition("[")[0] for leaf in self.leaves.get(name, ())}
            for one in self.questions:
                if name in one.quantities or not behind.isdisjoint(one.paths):
                    return one.notice["sentence"]
        return None

    def knows(self, name: str) -> bool:
        """Whether a value was derived and is a number."""
        return name in self.rows and bool(self.summary.reliable[self.place(name)])

    def place(self, name: str) -> int:
        """Row of a value in the statistics."""
        return list(self.rows).index(name)

    def defined(self, name: str) -> int:
        """Row of a value on which the outcome depends.

        Raises
        ------
        RefusedError
            If the readings, or the accuracies stated for them, leave it without a number.
        """
        place = self.place(name)
        if not self.summary.reliable[place]:
            raise RefusedError(
                [
                    Refusal(
                        "",
                        None,
                        "readings, with the accuracies of their instruments, for which the outcome is defined",
                        f"leave this without a number: {self.rows[name].label[0].lower()}{self.rows[name].label[1:]}",
                        "Check the readings, their units, and the accuracies stated in the kit.",
                    )
                ]
            )
        return place

    def value(self, name: str) -> float:
        """A value [SI]."""
        return float(self.summary.value[self.defined(name)])

    def uncertainty(self, name: str) -> float:
        """Its standard uncertainty [SI]."""
        return float(self.summary.standard_uncertainty[self.defined(name)])

    def band(self, name: str) -> tuple[float, float]:
        """The ends of its 95 % band [SI]."""
        place = self.place(name)
        return float(self.summary.low[place]), float(self.summary.high[place])

    def say(self, kind: str, value: float) -> str:
        """A value in SI in the caller's units, as a sentence has it."""
        return phrase(kind, value, self.visit.system)

    @cached_property
    def shares(self) -> Shares:
        """What contributes to the variance of each value."""
        variables = self.visit.variables
        labels = list(dict.fromkeys(one.owner for one in variables))
        owners = np.array([[float(one.owner == label) for label in labels] for one in variables])
        by_owner = self.summary.variance_by_variable @ owners.reshape(len(variables), len(labels))
        total = by_owner.sum(axis=-1, keepdims=True)
        parts = np.divide(by_owner, total, out=np.zeros_like(by_owner), where=total > 0)
        return shares_of(parts[None], labels)[0]

    # ------------------------------------------------------------ grades

    def probability(self, name: str, lower: float | None, upper: float | None) -> float:
        """Probability that a value lies within bounds [SI]."""
        place = self.defined(name)
        draws = matched(
            self.draws[name][None, 1:],
            self.summary.centre[place : place + 1],
            self.summary.standard_uncertainty[place : place + 1],
        )
        low = np.array([-np.inf if lower is None else lower])
        high = np.array([np.inf if upper is None else upper])
        return probabilities_within(draws, low, high)[0]

    def judged(self, limit: str, bounds: Bounds | None = None, quantity: str | None = None) -> Judged:
        """A limit of the table held against its value; ``bounds`` [SI] where the request states them.

        ``quantity`` is one of several that the limit applies to.
        """
        row = CHECK_LIMITS[limit] if quantity is None else replace(CHECK_LIMITS[limit], quantity=quantity)
        found = _bounds(row) if bounds is None else bounds
        probability = self.probability(row.quantity, *found)
        known = Known({name: self.place(name) for name in self.rows}, {}, self.summary)
        one = graded(row, found, probability, known)
        if self.doubt(row.quantity) is None or (row.id in HAZARDS and one.grade == "nonconforming"):
            return one
        return one._replace(grade="not_assessed", priority="look_closer", probability=None)

    def finding(self, one: Judged, sentence: str | None = None) -> Finding:
        """A judged limit as an answer shows it; with the usual sentences unless the check has its own."""
        assert one.bounds is not None
        quantity = self.rows[one.row.quantity]
        limit = limit_in_units(quantity.kind, one.bounds, self.visit.system)
        if one.grade == "not_assessed":
            sentence = words.not_graded(words.limited(one.row, quantity.label), self.doubt(quantity.name) or "")
        return {
            "quantity": quantity.name,
            "grade": one.grade,
            "probability_conforming": one.shown_probability,
            "limit": limit_answer(one.row, limit),
            "priority": one.priority,
            "condition_not_met": one.condition,
            "sentence": sentence or self._usual(one, limit.text),
        }

    def _usual(self, one: Judged, limits: str) -> str:
        quantity = self.rows[one.row.quantity]
        assert one.bounds is not None
        assert one.probability is not None
        parts = [
            words.value_and_band(words.limited(one.row, quantity.label), quantity.kind, one, None, self.visit.system),
            words.held_against(one, one.bounds, limits, one.probability, DECISION_PROBABILITY, 1),
        ]
        if one.grade == "inconclusive":
            parts.append(self.main_uncertainty(quantity.name))
        return " ".join(part for part in parts if part)

    def main_uncertainty(self, name: str) -> str:
        """What contributes most to the uncertainty of a value, as a sentence."""
        return words.main_uncertainty(self.shares.of(self.place(name)))

    # ------------------------------------------------------------ answer

    def derived(self) -> dict[str, DerivedValue]:
        """The derived values as an answer shows them; what is not a number is left out."""
        found: dict[str, DerivedValue] = {}
        for place, quantity in enumerate(self.rows.values()):
            if not self.summary.reliable[place]:
                continue
            symbol = system_unit(quantity.kind, self.visit.system)
            unit = conversion(quantity.kind, symbol)
            s = self.summary
            numbers = significant(
                np.array(
                    [
                        unit.from_si(float(s.value[place])),
                        float(s.standard_uncertainty[place]) / unit.scale,
                        unit.from_si(float(s.low[place])),
                        unit.from_si(float(s.high[place])),
                    ]
                )
            ).tolist()
            shown = dict.fromkeys(
                name for path in self.leaves[quantity.name] for name in self.visit.depends.get(path, (path,))
            )
            found[quantity.name] = {
                "value": numbers[0],
                "unit": symbol,
                "standard_uncertainty": numbers[1],
                "band": {"low": numbers[2], "high": numbers[3], "coverage": COVERAGE},
                "from": list(shown),
                "variance_shares": self.shares.of(place),
                "method": quantity.method,
                "source": source(quantity.source),
            }
        return found


def steps(actions: Iterable[str], sentences: Mapping[str, str]) -> list[CheckStep]:
    """Steps in order, each with its sentence."""
    return [{"action": name, "sentence": sentences[name]} for name in actions]


def _bounds(row: LimitRow) -> Bounds:
    """The bounds of a limit that are plain numbers [SI]."""
    return tuple(bound if isinstance(bound, float) else None for bound in (row.lower, row.upper))  # type: ignore[return-value]


def notice(name: str, readings: Sequence[str] = (), **said: str) -> Notice:
    """A notice of the table, with the values that its text names."""
    row = CHECK_NOTICES[name]
    return {
        "code": row.code,
        "weight": row.weight,
        "readings": list(readings),
        "sentence": row.text.format_map(said),
        "source": source(row.source),
    }


@dataclass(frozen=True)
class Outcome:
    """What a check found, besides its values: everything that its answer says.

    ``work`` are names of work (`schemas.assessments.Work`) whose cautions the answer carries, ``reads`` the readings of
    an assessment that are read like its own, ``found`` what it found that raises a caution by itself.
    """

    check: CheckName
    verdict: str
    sentence: str
    work: frozenset[str]
    findings: Sequence[Finding] = ()
    hypotheses: Sequence[Explanation] = ()
    notices: Sequence[Notice] = ()
    information: Sequence[Information] = ()
    missing: Sequence[Missing] = ()
    next_steps: Sequence[CheckStep] = ()
    found: frozenset[str] = frozenset()
    reads: frozenset[str] = frozenset()
    model: str | None = None


_PRIORITIES = ("safety", "act", "look_closer", "better_instrument", "none")
_WEIGHTS = ("disqualifying", "reservation", "note")
#: Steps that come before any question: people are at risk.
_URGENT = frozenset({"lower_the_pressure", "keep_it_off"})


def answer(request: CheckRequest, workings: Workings, outcome: Outcome) -> CheckAnswer:
    """The answer to a check."""
    visit = workings.visit
    anyway = raised_anyway(
        Circumstances(
            outcome.reads,
            frozenset(used.kind for used in visit.instruments.values()),
            outcome.work,
            None if visit.refrigerant is None else visit.refrigerant.safety_group,
            request.site.outdoor_unit_on_roof,
            found=outcome.found,
        )
    )
    return {
        "check": outcome.check,
        "units": request.units,
        "verdict": outcome.verdict,
        "sentence": outcome.sentence,
        "derived": workings.derived() if workings.rows else {},
        "findings": sorted(outcome.findings, key=lambda one: _PRIORITIES.index(one["priority"])),
        "hypotheses": sorted(outcome.hypotheses, key=lambda one: -one["probability"]),
        "notices": sorted(_noticed(workings, outcome), key=lambda one: _WEIGHTS.index(one["weight"])),
        "information": list(outcome.information),
        "missing": list(outcome.missing),
        "next_steps": _steps(workings, outcome),
        "cautions": [caution_answer(row) for row in CAUTIONS.values() if row.raised_by in anyway],
        "instruments": instruments_of(visit),
        "provenance": {
            "service": SERVICE_VERSION,
            "refrigerant_model": outcome.model,
            "draws": visit.sample.draws,
            "method": METHOD,
        },
    }


def _noticed(workings: Workings, outcome: Outcome) -> list[Notice]:
    """The notices, each question once, though several readings may raise the same one."""
    asked = {one.notice["sentence"]: one.notice for one in workings.questions}
    return [*asked.values(), *outcome.notices]


def _steps(workings: Workings, outcome: Outcome) -> list[CheckStep]:
    """What is urgent, then what the questions ask for, then the rest."""
    urgent = [one for one in outcome.next_steps if one["action"] in _URGENT]
    rest = [one for one in outcome.next_steps if one["action"] not in _URGENT]
    return [*urgent, *steps(dict.fromkeys(one.step for one in workings.questions), QUESTION_STEPS), *rest]


def property_model(name: str) -> str:
    """A model of the property library, as an answer names it."""
    return f"CoolProp {COOLPROP_VERSION}: {name}"
