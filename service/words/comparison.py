"""What changed between two runs, in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from service.reference.capacity_control import Unsettled
from service.words.numbers import Estimate, figure, percent
from service.words.phrases import (
    capital,
    chance,
    listed,
    lowered,
    phrase,
    signed_phrase,
    span,
    spoken,
    unit_word,
)
from service.words.settling import in_two_runs

RUNS: Mapping[str, str] = {"before": "first", "after": "second"}

METHOD = (
    "Both runs use one set of draws, so calibration errors of an instrument that made both cancel; a lumped "
    "cycle model is fitted to all readings of both runs at once (Gauss-Newton, Rodgers 2000) under each "
    "cause that may have changed, and averaged over causes; one test of any change precedes every claim"
)
METHOD_OF_THE_MODEL = (
    "all readings of both runs in one likelihood about a lumped cycle model; in the weather of the first run"
)
METHOD_AS_READ = "as read only"
METHOD_OF_THE_DIFFERENCE = "second run less first; it does not depend on the weather"


#: Verdicts on one value; None where it is not judged.
VERDICTS: Mapping[str | None, str] = {
    "improved": "improved",
    "worsened": "worsened",
    "neither": "neither better nor worse",
    "no_material_change": "no material change",
    "inconclusive": "inconclusive",
    None: "not judged",
}

#: What contributes to the uncertainty, besides instruments and assumptions.
UNSTEADINESS = "unsteadiness of the unit"
UNSEEN_CHANGES = "changes that the readings do not show"
FOLLOWS_THE_WEATHER = "how the unit follows the weather"
KIND_OF_UNIT = "kind of unit"
CONDITIONS_NOT_READ = "conditions that were not read"

#: The cause outside the unit model.
CAPACITOR = "a run capacitor"


# ---------------------------------------------------------------- why there is no verdict


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why two runs are not brought to the same conditions.

    ``run`` is the run at fault, ``unsettled`` what is not known of the unit's capacity, ``notice`` what is
    wrong with the readings: a sentence of their usability.
    """

    kind: Literal[
        "no_refrigerant",
        "capacity_not_known",
        "nothing_of_the_unit",
        "no_state_fits",
        "readings_unusable",
        "weather_too_different",
    ]
    run: Literal["before", "after"] | None = None
    unsettled: Unsettled | None = None
    notice: str = ""

    @property
    def clause(self) -> str:
        """The reason as a clause: lower case, no full stop."""
        run = RUNS.get(self.run or "", "")
        if self.unsettled is not None:
            return lowered(self.unsettled.reason.rstrip("."))
        return {
            "no_refrigerant": "the refrigerant is not given",
            "nothing_of_the_unit": f"no reading of the {run} run depends on the unit itself",
            "no_state_fits": "no state of the unit within the refrigerant's tables fits the readings",
            "readings_unusable": f"the readings of the {run} run cannot be used",
            "weather_too_different": "the weather of the two runs was too different to compare",
        }[self.kind]

    @property
    def sentences(self) -> str:
        """The reason, and what to do about it."""
        text = f"{capital(self.clause)}."
        if self.unsettled is not None:
            return f"{text} {self.unsettled.remedy} Do so in both runs."
        return f"{text} {self.notice}".rstrip()


# ---------------------------------------------------------------- the system


class Hidden(NamedTuple):
    """The cause that the readings show worst, and the change of efficiency [%] by it that they would show;
    None where they would show none."""

    cause: str
    smallest: float | None


@dataclass(frozen=True, slots=True)
class SystemFacts:
    """What was judged about the whole system.

    Changes are in percent.  ``moved`` says which of efficiency and capacity are shown to have moved, and
    where to.  ``probability`` is that of such readings without a change; None where nothing could be tested.
    ``missing`` are paths of readings; ``better`` and ``worse`` labels of values; ``in_step`` whether power and
    capacity moved as between two stages; ``frost`` whether frost on the outdoor coil was not ruled out in both;
    ``minutes`` how long the unit had run in each run, None where that is not stated.
    """

    verdict: str
    changed: bool
    withheld: bool
    obstacle: Obstacle | None
    efficiency: Estimate | None
    capacity: Estimate | None
    moved: Sequence[tuple[str, Literal["rose", "fell"]]]
    probability: float | None
    matters: float
    hidden: Hidden | None
    missing: Sequence[str]
    better: Sequence[str]
    worse: Sequence[str]
    in_step: bool = False
    frost: bool = False
    minutes: Mapping[Literal["before", "after"], float | None] = field(default_factory=dict)


def system_sentence(facts: SystemFacts) -> str:
    """The verdict on the system."""
    texts = [_verdict(facts)]
    if not facts.withheld and (text := in_two_runs(facts.minutes)):
        texts.append(text)
    if facts.in_step:
        texts.append(_IN_STEP)
    if facts.frost and facts.verdict in ("improved", "worsened"):
        texts.append(_FROST)
    return " ".join(texts)


#: Where a defrost may be what changed.
_FROST = (
    "Frost was not ruled out in both runs, and a defrost looks like a cleaned coil: look at the coil, and state "
    "frost_on_outdoor_coil for each run."
)
#: Where power and capacity moved as between two stages.
_IN_STEP = "Power and capacity moved in step, as they do between full and low stage: check which stage ran in each run."


def _verdict(facts: SystemFacts) -> str:
    if facts.withheld and facts.obstacle is not None:
        return f"No verdict: {lowered(facts.obstacle.sentences)}"
    if facts.efficiency is None:
        return _without_efficiency(facts)
    sizes = _sizes(facts.efficiency, facts.capacity)
    if facts.verdict == "no_material_change":
        return (
            f"No material change: any change is shown to be smaller than {facts.matters:.3g} %, the "
            f"smallest that matters. {sizes}"
        )
    if facts.verdict == "inconclusive":
        return f"{_inconclusive(facts, sizes)}{_lacking(facts.missing)}"
    return (
        f"The system {facts.verdict}: {_moved(facts.moved)}. {sizes} The probability of such readings "
        f"without a change is {chance(facts.probability or 0.0, 3)}."
    )


def _inconclusive(facts: SystemFacts, sizes: str) -> str:
    tested = 1.0 if facts.probability is None else facts.probability
    if not facts.changed:
        return f"These instruments cannot tell. {_often(tested)} {sizes}{_hidden(facts.hidden)}"
    if len(facts.moved) > 1:
        return f"No single verdict: {_moved(facts.moved)}. {sizes}"
    return (
        f"Something changed (probability of such readings without a change: {chance(tested, 3)}), but "
        f"whether for better or worse is not shown. {sizes}"
    )


def _without_efficiency(facts: SystemFacts) -> str:
    texts = ["These readings cannot show whether efficiency changed."]
    if facts.obstacle is not None:
        texts.append(facts.obstacle.sentences)
    if facts.verdict in ("improved", "worsened") and facts.capacity is not None:
        texts.insert(
            0,
            f"The system {facts.verdict} in capacity: {percent(facts.capacity)} under the same conditions.",
        )
    elif facts.probability is None:
        texts.append("No reading of both runs could be tested for a change.")
    elif facts.changed:
        texts.append(
            f"Something changed (probability of such readings without a change: {chance(facts.probability, 3)})."
        )
    else:
        texts.append(_often(facts.probability))
    if facts.missing:
        texts.append(f"To find out, add {_wanted(facts.missing)}.")
    texts.append(_single_values(facts.better, facts.worse))
    return " ".join(texts)


def _often(probability: float) -> str:
    return f"An unchanged unit would often give readings like these (probability {chance(probability, 2)})."


def _sizes(efficiency: Estimate, capacity: Estimate | None) -> str:
    text = f"Efficiency under the same conditions: {percent(efficiency)}"
    return f"{text}." if capacity is None else f"{text}; capacity: {percent(capacity)}."


def _moved(moved: Sequence[tuple[str, str]]) -> str:
    return " and ".join(f"{name} {way}" for name, way in moved)


def _hidden(hidden: Hidden | None) -> str:
    """What a change could be that the readings do not show."""
    if hidden is None:
        return ""
    if hidden.smallest is None:
        return f" These readings would not reveal a change in {hidden.cause}."
    return (
        f" Hardest to see is a change in {hidden.cause}: one that moves efficiency by up to "
        f"{hidden.smallest:.1f} % could go unnoticed. The band allows for that."
    )


def _single_values(better: Sequence[str], worse: Sequence[str]) -> str:
    told = "; ".join(
        f"shown to be {word}: {', '.join(lowered(label) for label in labels)}"
        for word, labels in (("better", better), ("worse", worse))
        if labels
    )
    return f"Of the single values, {told or 'none is shown to be better or worse'}."


def _wanted(missing: Sequence[str]) -> str:
    """What is missing, by the runs that lack it."""
    names: dict[str, list[str]] = {}
    for name, runs in _lacked(missing).items():
        where = " in both runs" if len(runs) > 1 else "".join(f" in the {run} run" for run in runs)
        names.setdefault(where, []).append(name)
    return "; ".join(listed(group) + where for where, group in names.items())


def _lacking(missing: Sequence[str]) -> str:
    """Readings that only one run lacks."""
    words = [f"{name} in the {runs[0]} run" for name, runs in _lacked(missing).items() if len(runs) == 1]
    return f" Missing: {', '.join(words)}." if words else ""


def _lacked(missing: Sequence[str]) -> dict[str, list[str]]:
    """What is missing in words, with the runs that lack it; no run where it is not a reading."""
    runs: dict[str, list[str]] = {}
    for path in missing:
        kind, _, rest = path.partition(".")
        run, _, name = rest.partition(".")
        if kind == "runs":
            runs.setdefault(spoken(f"run.{name}"), []).append(RUNS[run])
        else:
            runs.setdefault(spoken(path), [])
    return runs


# ---------------------------------------------------------------- one value


@dataclass(frozen=True, slots=True)
class ValueFacts:
    """What was judged about one value's change; sizes in SI.

    ``kind`` is that of the difference.  ``probability_rose`` and ``probability_improved`` as judged; ``moved``
    says whether the direction is shown.  ``detectable`` is None where no change need show.
    """

    label: str
    kind: str
    change: Estimate
    verdict: str
    matters: float
    detectable: float | None
    probability_rose: float
    probability_improved: float | None
    moved: bool
    something_changed: bool
    has_limit: bool
    no_direction_is_better: bool
    is_capacitance: bool
    work: Set[str]


def value_sentence(facts: ValueFacts, system: str) -> str:
    """One value's change under the same conditions, and what it amounts to."""
    value, low, high = facts.change
    band = span(facts.kind, low, high, system, signed=True)
    text = (
        f"{facts.label}: {signed_phrase(facts.kind, value, system)} under the same conditions (95 %: {band}). "
        f"{_judged(facts, system)}"
    )
    if facts.is_capacitance and facts.verdict not in ("no_material_change", "inconclusive"):
        text += f" {_about_capacitor(facts.work)}"
    return text


def _judged(facts: ValueFacts, system: str) -> str:
    way = "rose" if facts.probability_rose > 0.5 else "fell"
    if facts.verdict == "inconclusive":
        return _undecided(facts, way, system)
    if facts.verdict == "neither":
        if facts.no_direction_is_better:
            return f"It {way}. Neither direction is better by itself."
        return "It moved within its limits: neither better nor worse."
    if facts.verdict == "no_material_change":
        matters = phrase(facts.kind, facts.matters, system)
        return f"Any change is shown to be smaller than what matters ({matters})."
    return {"improved": "That is better.", "worsened": "That is worse."}[facts.verdict]


def _undecided(facts: ValueFacts, way: str, system: str) -> str:
    if facts.moved and not facts.something_changed:
        sure = max(facts.probability_rose, 1.0 - facts.probability_rose)
        return (
            f"By itself it {way} (probability {chance(sure, 3)}), but among so many values one can do so by "
            "chance, and the readings as a whole do not show a change."
        )
    if facts.moved and facts.has_limit:
        return (
            f"It {way}. Whether that is closer to its limits or further from them is not shown (probability of "
            f"closer: {chance(facts.probability_improved or 0.0, 2)})."
        )
    matters = phrase(facts.kind, facts.matters, system)
    if facts.detectable is None:
        return f"These instruments cannot tell: a change of any size could stay hidden; {matters} would matter."
    return (
        f"These instruments cannot tell: only changes of {phrase(facts.kind, facts.detectable, system)} or more "
        f"show in four of five such pairs of runs; {matters} would matter."
    )


def _about_capacitor(work: Set[str]) -> str:
    if work & {"capacitor_replacement", "electrical_repair"}:
        return "The work done can account for it."
    if work - {"readings_only"}:
        return (
            "The work done cannot change a capacitor: look for a change of temperature, load or "
            "measurement, or an exchanged part."
        )
    return (
        "Cleaning, air and charge cannot change a capacitor: it was exchanged, or its temperature, load or "
        "measurement changed."
    )


def read_sentence(label: str, kinds: tuple[str, str], values: tuple[float, float], system: str, reason: str) -> str:
    """A value that is shown as read, and why it is not judged.

    ``kinds`` are those of the value and of its difference; ``values`` in SI, of both runs.
    """
    first, second = (phrase(kinds[0], value, system) for value in values)
    change = signed_phrase(kinds[1], values[1] - values[0], system)
    return f"{label}: {first}, then {second} (change {change}). Not judged: {reason}."


#: Why a value is not judged, where nothing else says so.
ANOTHER_WAY = "it is one way to a value that is judged from all readings together"
NOT_BROUGHT = "the readings do not let it be brought to the same conditions"


# ---------------------------------------------------------------- conditions and instruments


class Apart(NamedTuple):
    """A condition by which the runs were further apart than two visits usually are; in the caller's unit."""

    name: str
    difference: float
    unit: str


def conditions_sentence(comparable: str, apart: Sequence[Apart], unknown: Sequence[str], swapped: Sequence[str]) -> str:
    """How far apart the runs were; first the runs in which air probes seem to be swapped."""
    differences = ", ".join(
        f"{one.name.replace('_', ' ')} by {abs(one.difference):.1f} {unit_word(one.unit)}" for one in apart
    )
    text = {
        "yes": "Outdoor and return air were similar in both runs.",
        "no": (
            f"The runs were made under conditions too far apart to compare ({differences}). Only values that do "
            "not depend on the weather are judged. Read again in weather like that of the first run."
        ),
    }.get(comparable)
    if text is None and apart:
        text = (
            f"The conditions of the runs differed more than usual between two visits ({differences}). The effect "
            "of the weather is removed, and the bands are wider because that effect is not known exactly."
        )
    text = text or "The bands are wider because some conditions were not read."
    if unknown:
        names = ", ".join(name.replace("_", " ") for name in unknown)
        text += f" Not known in one run or both: {names}."
    return _swapped(swapped) + text


def _swapped(runs: Sequence[str]) -> str:
    if not runs:
        return ""
    named = " and the ".join(RUNS[run] for run in runs)
    return (
        f"Were the supply and return probes swapped in the {named} run? Until that is settled, the indoor air "
        "is not known. "
    )


def other_instrument_sentence(
    *,
    assumed: bool,
    half_bands: tuple[float, float] | None,
    times_uncertainty: float | None,
) -> str:
    """What it costs that another instrument made the reading in the second run.

    ``half_bands`` [%] are of the efficiency change, now and with one instrument for each reading.
    """
    if assumed:
        return (
            "Its instrument is not in the kit, so each run counts as made by another one, and its "
            "calibration error does not cancel in the change. Name it in the kit if it was one."
        )
    text = "Two instruments: their calibration errors do not cancel in the change."
    if half_bands is not None:
        now, then = half_bands
        text += (
            f" The band of the efficiency change is ±{now:.1f} %; with one instrument for each reading in "
            f"both runs it would be ±{then:.1f} %."
        )
    if times_uncertainty is not None:
        text += f" The change as read is {times_uncertainty:.1f} times as uncertain as with one instrument."
    return text


# ---------------------------------------------------------------- what it is worth

_ESTIMATE = "An estimate."


def worth_not_known(lacking: Literal["hours", "efficiency", "energy"], mode: str) -> str:
    """Why no energy and no money is estimated."""
    ratings = (
        "the rated heating capacity (in Btu/h, or W in metric units) and the rated coefficient of performance (COP) or "
        "HSPF"
        if mode == "heating"
        else "the rated capacity (in Btu/h, or W in metric units) and the rated energy efficiency ratio"
    )
    return {
        "hours": f"Add the hours of {mode} a year to estimate what it is worth.",
        "efficiency": "These readings do not give the change of efficiency, so its worth is not known.",
        "energy": f"The energy of a season cannot be estimated from these readings. Add {ratings}.",
    }[lacking]


@dataclass(frozen=True, slots=True)
class WorthFacts:
    """Energy [kWh] and money saved a year; payback in years, its ends None for never."""

    energy: Estimate
    money: Estimate | None = None
    payback: float | None = None
    soonest: float | None = None
    latest: float | None = None
    within_a_year: float | None = None


def worth_sentence(facts: WorthFacts, far: float) -> str:
    """What the change is worth; a payback of ``far`` years or more is none."""
    text = f"Energy saved a year: {_amount(facts.energy, 'kWh')}"
    if facts.money is None:
        return f"{text}. {_ESTIMATE}"
    text += f", worth {_amount(facts.money, 'in your currency')} at today's price"
    if facts.within_a_year is None:
        return f"{text}. {_ESTIMATE}"
    if facts.payback is not None:
        words = f"the service pays for itself in about {facts.payback:.1f} years"
    elif facts.soonest is not None:
        words = "whether it pays back by energy is not shown"
    else:
        words = f"the service does not pay back by energy within {far:.0f} years"
    shortest, longest = ("never" if end is None else f"{end:.1f} years" for end in (facts.soonest, facts.latest))
    return (
        f"{text}; {words} (95 %: {shortest} to {longest}; probability of payback within a year: "
        f"{chance(facts.within_a_year)}). {_ESTIMATE} It leaves out comfort, wear and avoided repairs."
    )


def _amount(value: Estimate, unit: str) -> str:
    return f"{figure(value.value, 0)} {unit} (95 %: {figure(value.low, 0)} to {figure(value.high, 0)})"


# ---------------------------------------------------------------- refusals


class Refused(NamedTuple):
    """What is allowed, what is wrong, and what to do."""

    allowed: str
    detail: str
    hint: str


NO_READING = Refused(
    "one reading or more",
    "holds no reading",
    "Nothing can be compared: give the same readings in both runs, as in /examples/comparisons/coil_cleaned.json.",
)


def earlier(first: str) -> Refused:
    """The second run was made before the first."""
    return Refused(
        f"not before {first}",
        "is earlier than the first run",
        "Exchange the runs, or correct the time.",
    )
