"""What a diagnosis says: each sentence follows from what was decided, for the audience named.

The answer, its pictures and its page use these sentences, so that all say the same in the same words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from schemas.diagnoses import DiagnosisVerdict
from service.reference.faults import CLAIMED, COSTLY, EXPLAINS_ALL, FAULTS, FOUND, SUSPECTED
from service.reference.likelihood import likelihood
from service.words.numbers import Estimate, ends, figure, more_or_less_efficient
from service.words.phrases import (
    capital,
    chance,
    first_sentence,
    listed,
    lowered,
    phrase,
    span,
    spoken,
)
from service.words.settling import in_one_run

Audience = Literal["technician", "customer"]

_AGAINST: Mapping[str, str] = MappingProxyType(
    {
        "baseline": "its own baseline",
        "table": "its maker's table",
        "rating": "its rating",
        "class": "units of its class",
    }
)
#: A fault in a customer's words, where the trade's are not theirs.
_PLAIN: Mapping[str, str] = MappingProxyType(
    {
        "no_fault": "no fault in the refrigerant circuit",
        "low_charge": "a low refrigerant charge",
        "overcharge": "too much refrigerant in the system",
        "liquid_line_restriction": "a partly blocked refrigerant line",
        "non_condensable_gas": "air or nitrogen in the refrigerant circuit",
        "expansion_overfeeding": "a part that lets too much refrigerant into the coil",
        "expansion_underfeeding": "a part that lets too little refrigerant into the coil",
        "outdoor_coil_airflow": "an outdoor unit that does not absorb enough heat (dirt, or blocked air)",
        "outdoor_coil_frost": "frost or ice on the outdoor unit",
        "indoor_airflow": "too little air through the indoor unit (filter, fan or ducts)",
        "reversing_valve_leakage": "a leak in the valve that switches between heating and cooling",
        "auxiliary_heat_on": "electric backup heat that stays on",
        "low_load": "indoor air too cool for a full check",
        "weak_run_capacitor": "a weak run capacitor (a part that helps a motor run)",
        "measurement_mistake": "a wrong reading, or a refrigerant other than the one stated",
        "none_of_these": "something else",
        "compressor_stalled": "a compressor that cannot start",
    }
)
_HEADINGS: Mapping[str, str] = MappingProxyType(
    {
        "healthy": "Nothing found wrong",
        "fault_found": "Fault found",
        "fault_not_told_apart": "Something is wrong, not yet known what",
        "readings_doubted": "Readings in doubt",
        "not_enough_to_tell": "Not enough to tell",
    }
)
#: How many of the possible faults are named.
_NAMED = 4


@dataclass(frozen=True, slots=True)
class DiagnosisFacts:
    """What a diagnosis has decided.

    ``reason`` says why the refrigerant cycle was not assessed; where it was, ``basis`` is what a healthy unit
    is known from.  ``groups`` are the faults found, those that look alike together; ``chances`` all
    probabilities as the answer gives them; ``waiting`` what is not judged until something else is settled;
    ``joint`` the probability that any of the faults found is there.  Percentages are against a healthy unit
    in the weather of the visit.  ``culprit`` is the reading (a path), or the refrigerant, that is most
    probably wrong, with its probability.  ``stage`` is the sentence about a stage or speed that was not stated;
    ``minutes`` are those that the unit had run, None where they are not stated.  ``misread`` is what was said of
    readings that were left out.
    """

    verdict: DiagnosisVerdict
    chances: Mapping[str, float]
    groups: tuple[tuple[str, ...], ...] = ()
    contradicted: tuple[str, ...] = ()
    waiting: frozenset[str] = frozenset()
    reason: str = ""
    basis: str = "class"
    joint: float = 0.0
    efficiency: Estimate | None = None
    costly: float = 0.0
    capacity: Estimate | None = None
    culprit: tuple[str, float] | None = None
    nearest: str | None = None
    objection: str | None = None
    next_reading: str | None = None
    stage: str = ""
    device: str | None = None
    minutes: float | None = None
    misread: str = ""
    found: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "found", frozenset(n for group in self.groups for n in group))

    @property
    def amiss(self) -> bool:
        """Whether nothing is found, and yet it is all but ruled out that everything is as it should be."""
        return is_amiss(self.verdict, self.chances.get("no_fault"))

    @property
    def possible(self) -> list[str]:
        """What may be wrong and need not wait for something else, most probable first."""
        aside = self.waiting | {"no_fault", "low_load"}
        names = [n for n, c in self.chances.items() if n not in aside and c >= SUSPECTED]
        return sorted(names, key=lambda name: -self.chances[name])


# ---------------------------------------------------------------- the verdict


def is_amiss(verdict: str, no_fault: float | None) -> bool:
    """Whether a diagnosis that finds nothing all but rules out that everything is as it should be."""
    return verdict == "not_enough_to_tell" and no_fault is not None and no_fault <= 1.0 - CLAIMED


def heading(verdict: str, no_fault: float | None) -> str:
    """The verdict in a few words."""
    if is_amiss(verdict, no_fault):
        return "Something is wrong or misread"
    return _HEADINGS.get(verdict, verdict.replace("_", " "))


def certainty(facts: DiagnosisFacts) -> str:
    """How certain the verdict is, in words of the published scale with the number."""
    none = facts.chances.get("no_fault")
    if facts.verdict == "fault_found":
        return f"{_surely(facts.joint)} that it is there"
    if none is None:
        return "not estimated"
    doubt = facts.chances.get("measurement_mistake", 1.0 - none)
    that = {
        "healthy": (none, "there is no fault"),
        "readings_doubted": (doubt, "a reading, or the stated refrigerant, is wrong"),
        "fault_not_told_apart": (1.0 - none, "something is wrong"),
    }.get(facts.verdict)
    if facts.amiss:
        that = 1.0 - none, "something is wrong or misread"
    if that is None:
        return f"not shown either way, probability of no fault {chance(none)}"
    return f"{_surely(that[0])} that {that[1]}"


def _surely(probability: float) -> str:
    return f"{likelihood(probability)}, probability {chance(probability)}"


# ---------------------------------------------------------------- what is wrong


def sentence(facts: DiagnosisFacts) -> str:
    """The whole for a technician: what is known, what it costs or harms, what would settle the rest."""
    parts = [facts.misread, what(facts), facts.stage, "" if facts.reason else in_one_run(facts.minutes)]
    if not facts.reason and facts.verdict != "readings_doubted":
        parts.append(cost(facts))
        if facts.contradicted and facts.capacity is not None and not facts.found:
            parts.append(f"Capacity differs by {_percent(facts.capacity)}.")
    if facts.verdict != "readings_doubted":
        parts += [harm(facts), first_of_all(facts)]
    if facts.reason and facts.found:
        parts.append(_not_assessed(facts.reason))
    parts.append(_what_next(facts))
    return " ".join(part for part in parts if part)


def what(facts: DiagnosisFacts, audience: Audience = "technician") -> str:
    """What is known, in one sentence or two."""
    if facts.verdict == "fault_found":
        return f"Found: {_found(facts, audience)}."
    if facts.reason:
        return _NOT_YET if audience == "customer" else _not_assessed(facts.reason)
    return _WHAT.get(facts.verdict, _undecided)(facts, audience)


def _undecided(facts: DiagnosisFacts, audience: Audience) -> str:
    """Where nothing is found and nothing is claimed."""
    if facts.contradicted:
        return _contradicted(facts, audience)
    none, possible = facts.chances["no_fault"], _possible(facts.possible, facts, audience)
    if facts.amiss:
        return (
            f"Something is wrong or misread ({_how_likely(1.0 - none, audience)}), but these readings do not "
            f"show which{possible}."
        )
    if audience == "customer":
        return f"These readings are not enough to tell whether something is wrong{possible}."
    return f"Not enough to tell (probability of no fault {chance(none)}){possible}."


#: The same for a customer, who is not asked for readings.
_NOT_YET = "These readings do not show yet whether something is wrong; some must be taken again, or added."


def _not_assessed(reason: str) -> str:
    return f"{capital(reason).rstrip('.')}. The refrigerant cycle was therefore not assessed."


def _found(facts: DiagnosisFacts, audience: Audience) -> str:
    """The faults found, each with its probability; look-alikes together."""
    return "; and ".join(
        _in_brackets(named(group[0], audience), _how_likely(facts.chances[group[0]], audience))
        if len(group) == 1
        else _in_brackets(" or ".join(named(name, audience) for name in group), "these readings do not show which")
        for group in facts.groups
    )


def _doubted(facts: DiagnosisFacts, audience: Audience) -> str:
    found = _found(facts, audience)
    also = f" Found whatever the other readings show: {found}." if found else ""
    if audience == "customer":
        return "Some readings do not fit together, so a reading or the refrigerant stated is probably wrong." + also
    culprit = ""
    if facts.culprit is not None:
        culprit = f" Most likely: {_wrong(facts.culprit[0])} (probability {chance(facts.culprit[1])})."
    near = f" Closest known fault: {named(facts.nearest)}." if facts.nearest else ""
    return (
        "The readings do not fit each other or the unit: a reading or the stated refrigerant is wrong, or "
        f"something unknown is at work.{culprit}{near} Correct it, then read again.{also}"
    )


def _not_told_apart(facts: DiagnosisFacts, audience: Audience) -> str:
    possible = facts.possible
    wrong = "Something is wrong"
    if audience == "technician":
        wrong += f" (probability of no fault {chance(facts.chances['no_fault'])})"
    if not possible or facts.chances[possible[0]] < 0.5:
        return f"{wrong}, but these readings do not show what{_possible(possible, facts, audience)}."
    best = _with_chance(possible[0], facts, audience)
    others = _possible(possible[1:_NAMED], facts, audience, "; also possible: ")
    return f"{wrong}. Most likely it is {best}, but that is not certain{others}."


def _healthy(facts: DiagnosisFacts, audience: Audience) -> str:
    none = facts.chances["no_fault"]
    if audience == "customer":
        return f"As far as these readings show, nothing is wrong ({_how_likely(none, audience)})."
    return f"Healthy, as far as these readings show (probability of no fault {chance(none)})."


def _contradicted(facts: DiagnosisFacts, audience: Audience) -> str:
    denied = listed([_with_chance(name, facts, audience) for name in facts.contradicted])
    if audience == "customer":
        return (
            f"{capital(denied)} would explain the readings, but they show no loss of efficiency, so we do not "
            "report it as found."
        )
    return (
        f"Something differs from what {_AGAINST[facts.basis]} leads to expect. {capital(denied)} would explain "
        "it but would cost efficiency, and these readings show no loss, so it is not reported as found. Check what "
        "was stated about the unit (rating, stages, refrigerant, metering device), then read again."
    )


#: What is said of each verdict that has a sentence of its own.
_WHAT: Mapping[str, Callable[[DiagnosisFacts, Audience], str]] = {
    "readings_doubted": _doubted,
    "fault_not_told_apart": _not_told_apart,
    "healthy": _healthy,
}


def _possible(names: Sequence[str], facts: DiagnosisFacts, audience: Audience, lead: str = "; possible: ") -> str:
    if not names:
        return ""
    return lead + ", ".join(
        f"{_brief(name, audience)} ({_chance(facts.chances[name], audience)})" for name in names[:_NAMED]
    )


# ---------------------------------------------------------------- what it costs, and what is urgent


def cost(facts: DiagnosisFacts, audience: Audience = "technician") -> str:
    """The efficiency against a healthy unit in the same weather."""
    change = facts.efficiency
    if change is None:
        return "These readings say nothing about efficiency."
    if audience == "customer":
        return (
            f"Compared with a healthy unit in the same weather, it is {more_or_less_efficient(change)}. A loss of "
            f"more than {100 * COSTLY:.0f} % is {likelihood(facts.costly)} ({chance(facts.costly)})."
        )
    return (
        f"Compared with {_AGAINST[facts.basis]}, in this weather, efficiency differs by {_percent(change)}; "
        f"probability that more than {100 * COSTLY:.0f} % is lost {chance(facts.costly)}."
    )


def stage_sentence(low: float) -> str:
    """Which stage of two the readings point to; ``low`` is the probability of low stage."""
    state = "State which stage ran if you know."
    best, other = ("low", "full") if low >= 0.5 else ("full", "low")
    sure = max(low, 1.0 - low)
    if sure >= FOUND:
        return f"The stage was not stated; the readings fit {best} stage (probability {chance(sure)})."
    return (
        f"The stage was not stated, and these readings do not show which one ran (probability of {best} stage "
        f"{chance(sure)}, of {other} stage {chance(1.0 - sure)}). {state}"
    )


def speed_sentence(speed: Estimate, *, test_mode: bool) -> str:
    """Which speed [%] the readings of a variable-speed unit point to; in ``test_mode`` the maker's held it."""
    low, high = (figure(end, 0) for end in (speed.low, speed.high))
    held = "The maker's test mode held a speed that was not stated" if test_mode else "The unit chose its own speed"
    return f"{held}; the readings fit about {figure(speed.value, 0)} % of the rated speed (95 %: {low} to {high} %)."


def harm(facts: DiagnosisFacts) -> str:
    """What the faults found do to the unit, beside costing efficiency."""
    texts = (FAULTS[name].harm_with(facts.device) for group in facts.groups for name in group)
    return " ".join(dict.fromkeys(text for text in texts if text))


def first_of_all(facts: DiagnosisFacts) -> str:
    """What has to be settled before more can be said."""
    urgent = [n for n in FAULTS if n in EXPLAINS_ALL and facts.chances.get(n, 0.0) >= SUSPECTED]
    texts = []
    if set(urgent) - facts.found:
        texts.append(f"Settle this first: {' or '.join(named(name) for name in urgent)}.")
    elif urgent and not facts.reason:
        texts.append("Charge and the rest of the circuit can be judged once that is corrected.")
    if _too_cool(facts):
        texts.append(
            "Return air this cool cannot show whether the charge is correct; warm the house up, then read again."
        )
    return " ".join(texts)


def _too_cool(facts: DiagnosisFacts) -> bool:
    return not facts.reason and facts.chances.get("low_load", 0.0) >= FOUND


def _what_next(facts: DiagnosisFacts) -> str:
    """The objection to calling the unit healthy, or the reading that would settle most."""
    if facts.objection is not None:
        return f"Not called healthy: {facts.objection}"
    settled = facts.verdict in ("healthy", "readings_doubted") or (
        facts.verdict == "fault_found" and all(len(group) == 1 for group in facts.groups)
    )
    if settled or facts.next_reading is None or _too_cool(facts):
        return ""
    return best_next(facts.next_reading)


def read_again_first() -> str:
    """The next step for someone who does not take the readings."""
    return "Next, one reading is repeated to be sure before anything is changed."


def best_next(path: str, audience: Audience = "technician") -> str:
    """The reading that would settle most."""
    if audience == "customer":
        return "One more measurement on the unit would tell us most."
    return f"Best next reading: {spoken(path)}."


def _percent(change: Estimate) -> str:
    band = ends(change.low, change.high, 0, signed=True)
    return f"{figure(change.value, 0, signed=True)} % (95 %: {band} %)"


# ---------------------------------------------------------------- the parts of the answer


def reading_outcomes(label: str, outcomes: Iterable[tuple[str, Sequence[str]]]) -> str:
    """What each outcome of a reading would mean: its value in words, and the faults that it would fit."""
    fitting: dict[str, list[str]] = {}
    for value, faults in outcomes:
        fitting.setdefault(value, []).append(" with ".join(map(_brief, faults)) or "no fault")
    words = "; ".join(f"about {value} would fit {listed(fit, 'or')}" for value, fit in fitting.items())
    return f"{capital(label)}: {words}."


def would_explain(culprit: str, probability: float) -> str:
    """A wrong reading (a path), or another refrigerant, as an explanation."""
    return f"{capital(_wrong(culprit))} would explain the readings (probability {chance(probability)})."


def _wrong(culprit: str) -> str:
    if culprit.startswith("run.readings."):
        return f"a wrong {spoken(culprit)}"
    return f"{culprit} in place of the stated refrigerant"


def outside_limits(labels: Iterable[str]) -> str:
    """Why a unit is not called healthy, though its cycle is."""
    return f"outside its limit: {', '.join(labels)} (see the findings)."


def baseline_not_used(reason: str) -> str:
    """Why a baseline was left out."""
    return f"The baseline was not used: {reason.rstrip('.')}."


def another_unit() -> str:
    """The reason where no single unit fits both baseline and visit."""
    return (
        "no state of one unit fits both the baseline and this visit, but a unit of this rating fits the visit. The "
        "baseline may be from another unit or another state"
    )


def on_trust(stated: str | None, others: Sequence[str], *, device: bool, baseline: bool) -> list[str]:
    """What the readings could not check: the refrigerant ``stated`` against the ``others`` that would fit,
    whether the metering ``device`` was stated, and whether a ``baseline`` was used."""
    texts = []
    if stated is not None and others:
        texts.append(
            f"That the circuit holds {stated}: {' or '.join(others)} would give the same readings. Only a "
            "refrigerant identifier, or the unit's records, can tell."
        )
    if not device:
        texts.append("Which metering device the unit has: not stated, so both kinds were considered.")
    if baseline:
        texts.append("That the unit was healthy when the baseline was read.")
    return texts


# ---------------------------------------------------------------- evidence


@dataclass(frozen=True, slots=True)
class Compared:
    """One reading in SI next to what a healthy unit would show, and the band of that (95 %)."""

    label: str
    kind: str
    read: float
    healthy: float
    low: float
    high: float


def against_healthy(row: Compared, system: str) -> str:
    """A reading and what a healthy unit would show."""
    return (
        f"{row.label} {phrase(row.kind, row.read, system)}; a healthy unit would show "
        f"{span(row.kind, row.low, row.high, system)} here."
    )


def against_fault(row: Compared, fault: str, there: float, system: str) -> str:
    """A reading, what a healthy unit would show, and what one with the fault would show."""
    return (
        f"{row.label} {phrase(row.kind, row.read, system)}; a healthy unit would show about "
        f"{phrase(row.kind, row.healthy, system)} here ({span(row.kind, row.low, row.high, system)}), one with "
        f"{_brief(fault)} about {phrase(row.kind, there, system)}."
    )


def symptom(label: str, kind: str, values: tuple[float, float, float], fault: str, system: str, *, usual: bool) -> str:
    """A value as read, as usual (else at the baseline) and as it would be with the fault."""
    read, healthy, there = (phrase(kind, value, system) for value in values)
    usually = "usually about" if usual else "at the baseline"
    return f"{label} {read}; {usually} {healthy}, with {_brief(fault)} about {there}."


def value_against(
    label: str,
    kind: str,
    value: float,
    bounds: tuple[float | None, float | None],
    system: str,
    source: str = "",
) -> str:
    """A value next to its limit, and the limit's source."""
    lower, upper = bounds
    if lower is not None and upper is not None:
        limit = span(kind, lower, upper, system)
    elif lower is not None:
        limit = f"at least {phrase(kind, lower, system)}"
    else:
        assert upper is not None
        limit = f"at most {phrase(kind, upper, system)}"
    cited = f" ({source})" if source else ""
    return f"{label} {phrase(kind, value, system)}, which should be {limit}{cited}."


def cool_return_air(value: float, lowest: float, system: str) -> str:
    """Return air too cool to judge charge by superheat."""
    return (
        f"Return air dry bulb {phrase('temperature', value, system)}; superheat shows the charge only from "
        f"{phrase('temperature', lowest, system)} up."
    )


def fan_current(amps: float, system: str, *, hot: str, cool: bool) -> str:
    """What the outdoor fan draws; ``hot`` is the sentence on a condenser that stays hot, ``cool`` where it does not."""
    text = f"The outdoor fan motor draws {phrase('current', amps, system)}."
    if not cool:
        return f"{text} {hot}" if hot else text
    return f"{text} The unit still gets rid of its heat, so the clamp is around the wrong wire."


def signs(values: Sequence[tuple[str, str, float]], system: str) -> str:
    """Values that point to one fault together: label, kind and value of each."""
    return capital(", ".join(f"{label.lower()} {phrase(kind, value, system)}" for label, kind, value in values)) + "."


def hardly_pumping(ratio: float, amps: float | None, system: str) -> str:
    """Pressures that hardly differ, with what the compressor draws where it was read."""
    text = f"The pressures hardly differ (ratio {figure(ratio, 2)})"
    if amps is None:
        return f"{text}; whether the compressor draws current was not read."
    return f"{text}, and the compressor draws {phrase('current', amps, system)}."


# ---------------------------------------------------------------- the page


def loss(facts: DiagnosisFacts, audience: Audience, *, compared: bool, counted: str) -> str:
    """The page's second sentence: what it costs; what it harms, where it costs little; or, where too few
    readings were ``compared`` with a healthy unit, how the graded values compare (``counted``)."""
    if facts.verdict == "readings_doubted" and facts.culprit and audience == "customer":
        return would_explain(*facts.culprit)
    harms = harm(facts)
    if harms and facts.efficiency is not None and facts.costly < 0.5:
        return first_sentence(harms)
    return cost(facts, audience) if facts.efficiency is not None and compared else counted


def counted(within: int, outside: int, undecided: int) -> str:
    """How many values lie where, against their limits."""
    if not within + outside + undecided:
        return "None of these readings could be compared with a limit."
    parts = [
        f"{count} {words}"
        for count, words in (
            (within, "within"),
            (outside, "outside"),
            (undecided, "too close for these instruments to decide"),
        )
        if count
    ]
    return f"Against their limits: {listed(parts)}."


def still_to_do(urgent: Sequence[str], closer: Sequence[str], *, doubted: bool) -> str:
    """What is left to do on a unit with no fault found: values to correct, else values to look at; where the readings
    are ``doubted``, to read again."""
    if urgent:
        return f"Still to be corrected: {listed(urgent[:3])}."
    if closer:
        return f"Still to be checked: {listed(closer[:3])}."
    if doubted:
        return "Read again as the notices on these readings ask; until then they call for no other work."
    return "These readings call for no further work."


def to_read(paths: Sequence[str]) -> str:
    """Readings without which there is no diagnosis."""
    return f"To learn more, add {listed([spoken(path) for path in paths[:3]])}."


def one_step(text: str, *, at_once: bool) -> str:
    """A step to take; one that cannot wait is said as it is."""
    return text if at_once else f"Next: {lowered(text)}"


# ---------------------------------------------------------------- names and lists


def named(fault: str, audience: Audience = "technician") -> str:
    """A fault by name."""
    return _PLAIN.get(fault, FAULTS[fault].text) if audience == "customer" else FAULTS[fault].text


def _brief(fault: str, audience: Audience = "technician") -> str:
    """A fault by name, without what the name has in brackets."""
    return named(fault, audience).partition(" (")[0]


def _with_chance(fault: str, facts: DiagnosisFacts, audience: Audience) -> str:
    return _in_brackets(named(fault, audience), _chance(facts.chances[fault], audience))


def _chance(probability: float, audience: Audience) -> str:
    return _how_likely(probability, audience) if audience == "customer" else chance(probability)


def _how_likely(probability: float, audience: Audience) -> str:
    if audience == "customer":
        return f"{likelihood(probability)}, {chance(probability)}"
    return f"probability {chance(probability)}"


def _in_brackets(text: str, more: str) -> str:
    """A text and a remark in brackets: those that the text ends in take it in."""
    return f"{text[:-1]}; {more})" if text.endswith(")") else f"{text} ({more})"
