"""The answer in three plain sentences, and its verdict with how certain that is."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from schemas.pictures import Audience
from service.faults.verdict import settled_first
from service.reference.faults import FAULTS, FOUND
from service.reference.likelihood import likelihood
from service.render.trend_chart import ranked
from service.render.wording import (
    Answer,
    amiss,
    amount,
    chance,
    decimals,
    diagnosed,
    ends,
    finding_label,
    label,
    nothing_wrong,
    percent,
    places_of,
    reading_words,
)
from service.words import phrases
from service.words.numbers import figure
from service.words.phrases import first_sentence, lowered, unit_word


@dataclass(frozen=True, slots=True)
class Summary:
    """What stands at the head of a report."""

    verdict: str
    certainty: str
    sentences: tuple[str, str, str]


def _sentence(text: str) -> str:
    """With a capital first and one full stop."""
    return f"{text[0].upper()}{text[1:].rstrip('. ')}."


def _surely(probability: float) -> str:
    return f"{likelihood(probability)}, probability {chance(probability)}"


def _listed(texts: Sequence[str], last: str) -> str:
    """A list in words; of nothing, nothing."""
    if not texts:
        return ""
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} {last} {texts[-1]}"


# ---------------------------------------------------------------- a visit

#: Readings set against a sound unit from which its efficiency is worth a sentence.
_TELLING = 3


def of_visit(answer: Answer, audience: Audience) -> Summary:
    """Of a diagnosis."""
    found = list(answer["found"])
    by_name = {row["fault"]: row for row in answer["hypotheses"]}
    none = nothing_wrong(answer) or 0.0
    verdict = answer["verdict"]
    if verdict == "fault_found":
        sure = max(
            _joint(answer, found), *(by_name[n]["probability"] for n in found if n in by_name)
        )
        names = _listed(
            [FAULTS[name].text for name in found], "or" if _alike(by_name, found) else "and"
        )
        first = f"Found: {names} ({_surely(sure)})"
        certainty = f"{_surely(sure)} that it is there"
    elif verdict == "fault_not_told_apart":
        possible = _possible(answer)
        if possible and possible[0].probability >= 0.5:
            others = f"; also possible: {_named(possible[1:3])}" if possible[1:] else ""
            first = f"Something is wrong, most likely {_named(possible[:1])}, which is not certain{others}"
        else:
            first = "Something is wrong, but these readings do not show what" + (
                f"; possible: {_named(possible[:3])}" if possible else ""
            )
        certainty = f"{_surely(1.0 - none)} that something is wrong"
    elif verdict == "healthy":
        first = "As far as these readings show, nothing is wrong with the unit"
        certainty = f"{_surely(none)} that there is no fault"
    elif verdict == "readings_doubted":
        first = (
            "The readings do not fit each other or the unit, so a reading or the refrigerant stated is "
            "probably wrong"
        )
        if found:
            beside = _listed([FAULTS[name].text for name in found], "and")
            first += f"; found whatever the rest shows: {beside}"
        doubt = by_name.get("measurement_mistake", {"probability": 1.0 - none})["probability"]
        certainty = f"{_surely(doubt)} that a reading, or the refrigerant stated, is wrong"
    else:
        first = _why_not(answer)
        certainty = (
            "not estimated"
            if not answer["combinations"]
            else f"{_surely(1.0 - none)} that something is wrong or misread"
            if amiss(answer)
            else f"not shown either way, probability of no fault {chance(none)}"
        )
    return Summary(
        diagnosed(answer),
        certainty,
        (_sentence(first), _sentence(_loss(answer, audience)), _sentence(_next(answer))),
    )


def _why_not(answer: Answer) -> str:
    """Why nothing is told: what disqualifies the readings, or the diagnosis' own reason."""
    stopping = [
        notice["sentence"]
        for notice in answer["assessment"]["usability"]["notices"]
        if notice["weight"] == "disqualifying"
    ]
    if stopping:
        return str(stopping[0])
    if not answer["combinations"]:
        return str(answer["sentence"])
    likely = _possible(answer)
    if likely and likely[0].probability >= FOUND:
        return (
            f"{likely[0].text} would explain these readings ({chance(likely[0].probability)}), but they show "
            "no loss of efficiency, so it is not called found"
        )
    possible = _named(likely[:2])
    known = (
        "Something is wrong or misread, but these readings do not show which"
        if amiss(answer)
        else "These readings are not enough to tell whether something is wrong"
    )
    return known + (f"; possible: {possible}" if possible else "")


class _Possible(NamedTuple):
    """A hypothesis that is worth a word."""

    text: str
    probability: float


def _possible(answer: Answer) -> list[_Possible]:
    """What may be the matter and need not wait for something else, most probable first."""
    chances = {row["fault"]: row["probability"] for row in answer["hypotheses"]}
    aside = settled_first(chances) | {"no_fault", "low_load"}
    return [
        _Possible(row["text"], row["probability"])
        for row in answer["hypotheses"]
        if row["status"] != "unlikely" and row["fault"] not in aside
    ]


def _named(possible: Sequence[_Possible]) -> str:
    """Each with its probability."""
    return _listed([f"{one.text} ({chance(one.probability)})" for one in possible], "or")


def _alike(by_name: Mapping[str, Any], found: Sequence[str]) -> bool:
    """Whether the faults found are named together because they cannot be told apart."""
    return len(found) > 1 and sum(by_name[n]["probability"] for n in found if n in by_name) <= 1.05


def _joint(answer: Answer, found: Sequence[str]) -> float:
    """Probability of any explanation that holds one of the faults found."""
    return float(
        sum(row["probability"] for row in answer["combinations"] if set(row["faults"]) & set(found))
    )


def _loss(answer: Answer, audience: Audience) -> str:
    """What it costs; what would explain doubted readings; or how the graded values stand."""
    if answer["verdict"] == "readings_doubted":
        for row in answer["hypotheses"]:
            if row["fault"] == "measurement_mistake" and row["evidence_for"]:
                return str(row["evidence_for"][0])
    change, costly = answer["efficiency_percent"], answer["probability_costly"]
    # Some harm depends on the metering device: the answer's sentence names what this unit suffers.
    harms = [
        harm
        for name in answer["found"]
        if (harm := FAULTS[name].harm) and harm in answer["sentence"]
    ]
    if change is not None and costly is not None and costly < 0.5 and harms:
        return first_sentence(harms[0])
    if change is None or costly is None or len(answer["expected"]) < _TELLING:
        return _counted(answer["assessment"])
    if audience == "customer":
        return (
            f"Set against a sound unit in the same weather its efficiency is {_plain_percent(change)}; a loss "
            f"of more than 5 % is {likelihood(costly)}"
        )
    return (
        f"Efficiency against a sound unit in this weather: {percent(change, 0)}, 95 % band; probability that "
        f"more than 5 % is lost {chance(costly)}"
    )


def _plain_percent(change: Mapping[str, Any]) -> str:
    """A change as more or less, with its band."""
    value, low, high = change["value"], change["band"]["low"], change["band"]["high"]
    if round(value) == 0:
        return f"about the same ({_side(low)} to {_side(high)})"
    return f"about {_side(value)} ({_side(low)} to {_side(high)})"


def _side(value: float) -> str:
    if round(value) == 0:
        return "no change"
    return f"{abs(value):.0f} % {'higher' if value > 0 else 'lower'}"


def _counted(assessment: Answer) -> str:
    """How many values lie where, against their limits."""
    grades = [finding["grade"] for finding in assessment["findings"]]
    graded = [grade for grade in grades if grade != "not_assessed"]
    if not graded:
        return "None of these readings could be set against a limit"
    wrong, open_ = graded.count("nonconforming"), graded.count("inconclusive")
    good = len(graded) - wrong - open_
    parts = [
        f"{count} {words}"
        for count, words in (
            (good, "within"),
            (wrong, "outside"),
            (open_, "too near for these instruments to decide"),
        )
        if count
    ]
    return f"Against their limits: {_listed(parts, 'and')}"


def _next(answer: Answer) -> str:
    """What to do or read next: for what is found before what is only possible."""
    verdict = answer["verdict"]
    first = {"measurement_mistake"} if verdict == "readings_doubted" else set(answer["found"])
    steps = sorted(answer["next_steps"], key=lambda step: not set(step["faults"]) & first)
    readings = answer["next_readings"]
    if steps and steps[0]["stage"] == "switch_off":
        return lowered(steps[0]["text"])
    if verdict in ("fault_not_told_apart", "not_enough_to_tell") and readings:
        return f"Best read next: {reading_words(readings[0]['reading'])}"
    if steps:
        return f"Next: {lowered(steps[0]['text'])}"
    if verdict == "healthy":
        return _open(answer["assessment"])
    if readings:
        return f"Best read next: {reading_words(readings[0]['reading'])}"
    if answer["missing"]:
        needed = _listed([reading_words(path) for path in answer["missing"][:3]], "and")
        return f"To tell more, give {needed}"
    return _open(answer["assessment"])


def _open(assessment: Answer) -> str:
    """What is left to do on a unit in which no fault is found."""
    for asked, text in (
        (("safety", "act"), "Still to be set right"),
        (("look_closer",), "Still to be looked at"),
    ):
        names = [finding_label(f) for f in assessment["findings"] if f["priority"] in asked]
        if names:
            return f"{text}: {_listed([lowered(name) for name in dict.fromkeys(names)][:3], 'and')}"
    return "Nothing needs doing on account of these readings"


# ---------------------------------------------------------------- a comparison

_CHANGES: Mapping[str, str] = {
    "improved": "Improved",
    "worsened": "Worsened",
    "no_material_change": "No material change",
    "inconclusive": "Inconclusive: not shown either way",
}


def of_comparison(answer: Answer, audience: Audience) -> Summary:
    """Of a comparison."""
    system, verdict = answer["system"], answer["system"]["verdict"]
    change, matters = system["efficiency_change_percent"], system["smallest_that_matters_percent"]
    changed = system["any_change"]["changed"]
    told = "" if change is None else _change(change, audience)
    if verdict in ("improved", "worsened"):
        word = "better" if verdict == "improved" else "worse"
        first = f"The system runs {word} than before: in like weather its efficiency is {told}"
    elif verdict == "no_material_change":
        first = (
            f"Nothing changed that matters: in like weather its efficiency is {told}, where {figure(matters, 0)} % "
            "would matter"
        )
    elif changed:
        first = "Something changed, but whether for better or worse is not shown" + (
            f"; in like weather its efficiency is {told}" if told else ""
        )
    elif told:
        first = f"Whether anything changed cannot be told: in like weather its efficiency is {told}"
    else:
        first = first_sentence(system["sentence"])
    return Summary(
        _CHANGES[verdict],
        _certainty(system),
        (_sentence(first), _sentence(_because(system, changed)), _sentence(_worth(answer))),
    )


def _change(change: Mapping[str, Any], audience: Audience) -> str:
    if audience == "customer":
        return _plain_percent(change)
    value = figure(change["value"], 1, signed=True)
    return f"{value} % (95 %: {ends(change['band'], 1, signed=True)} %)"


def _certainty(system: Answer) -> str:
    chances, test = system["probabilities"], system["any_change"]["probability"]
    if chances is None:
        return "not estimated"
    told = {
        "improved": ("improved", "that efficiency rose"),
        "worsened": ("worsened", "that efficiency fell"),
    }.get(
        system["verdict"],
        ("within_what_matters", "that efficiency changed by less than what matters"),
    )
    text = f"{_surely(chances[told[0]])} {told[1]}"
    if test is not None:
        text += f"; chance of such readings without any change {phrases.chance(test, 3)}"
    return text


def _because(system: Answer, changed: bool | None) -> str:
    """What the change points to, or how small a one would have shown."""
    if system["efficiency_change_percent"] is None:
        # After the fact that nothing is shown comes the reason.
        reason = system["sentence"].removeprefix(first_sentence(system["sentence"])).strip()
        if reason:
            return first_sentence(reason)
    causes = [row for row in system["points_to"] if row["cause"] != "nothing"]
    smallest = system["smallest_detectable_percent"]
    if changed and causes:
        best = causes[0]
        return f"It points to {best['text']} ({_surely(best['probability'])})"
    if smallest is not None:
        return (
            f"A change of efficiency of {figure(smallest, 1)} % or more would have shown in four of five such "
            "pairs of runs"
        )
    return "How small a change would have shown is not known, as a change by some causes does not show at all"


def _worth(answer: Answer) -> str:
    worth, missing = answer["worth"], answer["system"]["missing"]
    saved = worth["energy_saved"]
    if saved is not None and answer["system"]["verdict"] in ("improved", "worsened"):
        more = saved["value"] < 0
        text = f"That {'costs' if more else 'saves'} about {_spread(saved, more=more)} kWh a year"
        money = worth["money_saved"]
        if money is not None:
            text += f", worth about {_spread(money, more=more)} in your currency"
        if worth["payback_years"] is not None and not more:
            text += f"; the service pays back in {_payback(worth)}"
        return f"{text}; estimates, with 95 % bands"
    # What was not read before the service can be read no more.
    later = [path for path in missing if path.startswith("runs.after.")]
    if later:
        told = _listed([reading_words(path) for path in later[:2]], "and")
        return f"To sharpen the answer, also read {told} now"
    return first_sentence(answer["conditions"]["sentence"])


def _spread(saved: Mapping[str, Any], *, more: bool) -> str:
    """What is saved, or what more it costs, with its band."""
    sign = -1.0 if more else 1.0
    low, high = sorted(sign * saved["band"][end] for end in ("low", "high"))
    return f"{figure(sign * saved['value'], 0)} ({figure(low, 0)} to {figure(high, 0)})"


def _payback(worth: Answer) -> str:
    text = f"about {figure(worth['payback_years'], 1)} years"
    if worth["payback_band"] is None:
        return text
    low, high = worth["payback_band"]
    soonest = "never" if low is None else figure(low, 1)
    latest = "fifty years or never" if high is None else figure(high, 1)
    return f"{text} ({soonest} to {latest})"


# ---------------------------------------------------------------- a series


def of_trend(answer: Answer, past: Collection[str]) -> Summary:
    """Of a series; ``past`` are values that lie outside their limits in the last run."""
    rows = answer["quantities"]
    moving = [name for name in ranked(answer, past) if rows[name]["shape"] != "steady"]
    if not moving:
        steady = len(rows)
        return Summary(
            "No drift shown" if steady else "Not enough to tell",
            f"{steady} values followed over {len(answer['runs'])} runs",
            (
                "No drift and no step is shown over these runs." if steady
                else "These runs do not give a series of any value.",
                _sentence(_hidden(answer)),
                "A further run, with the same instruments, sharpens the answer.",
            ),
        )  # fmt: skip
    name = moving[0]
    row = rows[name]
    certain = max(row["probability_rising"], 1.0 - row["probability_rising"])
    return Summary(
        f"{label(name)}: {'drifts' if row['shape'] == 'drift' else 'has stepped'}",
        f"{_surely(certain)} that it {'rises' if row['probability_rising'] > 0.5 else 'falls'}",
        (
            _sentence(_moved(name, row)),
            _sentence(_reached(row, past=name in past)),
            _sentence(_others(answer, moving[1:])),
        ),
    )


def _moved(name: str, row: Answer) -> str:
    unit = row["difference_unit"]
    if row["shape"] == "step" and row["step"] is not None:
        size = row["step"]["size"]
        return (
            f"{label(name)} stepped by {amount(size['value'], unit, signed=True)} between "
            f"{row['step']['after'][:10]} and {row['step']['before'][:10]}"
        )
    drift = row["drift_per_year"]
    low, high = drift["band"]["low"], drift["band"]["high"]
    places = places_of(drift["band"], decimals(row["unit"], name))
    if low < 0.0 < high:
        return (
            f"{label(name)} moves by about {figure(drift['value'], places, signed=True)} {unit_word(unit)} a year "
            f"in like weather (95 %: {ends(drift['band'], places, signed=True)})"
        )
    way = "rises" if drift["value"] > 0 else "falls"
    smaller, larger = sorted((abs(low), abs(high)))
    return (
        f"{label(name)} {way} by about {figure(abs(drift['value']), places)} {unit_word(unit)} a year in like "
        f"weather (95 %: {ends({'low': smaller, 'high': larger}, places)})"
    )


def _reached(row: Answer, *, past: bool) -> str:
    if past:
        return "It lies outside its limits already"
    crossing = row["crossing"]
    if crossing is None:
        return "It does not move toward a limit"
    bound = amount(crossing["bound"], row["unit"])
    if crossing["expected"] is None:
        return f"At that rate its limit of {bound} is over twenty years ahead"
    text = f"At that rate it reaches its limit of {bound} about {crossing['expected'][:7]}"
    if crossing["earliest"] is not None:
        latest = crossing["latest"]
        text += (
            f" (95 %: {crossing['earliest'][:7]} to "
            f"{'over twenty years ahead' if latest is None else latest[:7]})"
        )
    return text


def _others(answer: Answer, names: Sequence[str]) -> str:
    steady = sum(row["shape"] == "steady" for row in answer["quantities"].values())
    if names:
        told = _listed([lowered(label(name)) for name in names[:4]], "and")
        return f"Also moving: {told}; {steady} other values show neither drift nor step"
    return f"The {steady} other values show neither drift nor step"


def _hidden(answer: Answer) -> str:
    row = answer["quantities"].get("eer")
    if row is None:
        return "How much drift could hide is told for each value"
    unit, band = row["difference_unit"], row["drift_per_year"]["band"]
    low, high = (amount(band[end], unit, signed=True) for end in ("low", "high"))
    return f"A drift of efficiency between {low} and {high} a year could still hide"
