"""The answer in three plain sentences, and its verdict with how certain that is."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from schemas.assessments import Assessment
from schemas.comparisons import Change, Comparison, Payback, PercentChange, System
from schemas.diagnoses import Diagnosis
from schemas.pictures import Audience
from schemas.trends import QuantityTrend, Trend
from service.faults.diagnosis import Diagnosed
from service.reference.likelihood import likelihood
from service.render.trend_chart import ranked
from service.render.wording import (
    amount,
    chance,
    decimals,
    diagnosed,
    ends,
    finding_label,
    label,
    places_of,
    reading_words,
)
from service.words import diagnosis as words
from service.words import household, numbers, phrases
from service.words.numbers import Estimate, figure, more_or_less_efficient
from service.words.phrases import capital, first_sentence, listed, lowered, unit_word


@dataclass(frozen=True, slots=True)
class Summary:
    """The head of a report."""

    verdict: str
    certainty: str
    sentences: tuple[str, str, str]


def _sentence(text: str) -> str:
    """With a capital first and one full stop."""
    return f"{capital(text).rstrip('. ')}."


def _surely(probability: float) -> str:
    return f"{likelihood(probability)}, probability {chance(probability)}"


# ---------------------------------------------------------------- a visit

#: Readings compared with a healthy unit from which its efficiency is worth a sentence.
_TELLING = 3


def of_visit(diagnosis: Diagnosed, audience: Audience) -> Summary:
    """Of a diagnosis: the sentences of its answer, for the audience."""
    answer, facts = diagnosis.answer, diagnosis.facts
    return Summary(
        diagnosed(answer),
        words.certainty(facts),
        (
            words.what(facts, audience),
            words.loss(
                facts,
                audience,
                compared=len(answer["expected"]) >= _TELLING,
                counted=_counted(answer["assessment"]),
            ),
            _next(answer, audience),
        ),
    )


def _counted(assessment: Assessment) -> str:
    """How many values lie where, against their limits."""
    grades = [finding["grade"] for finding in assessment["findings"]]
    return words.counted(*(grades.count(grade) for grade in ("conforming", "nonconforming", "inconclusive")))


def _next(answer: Diagnosis, audience: Audience) -> str:
    """What to do or read next: for what is found before what is only possible."""
    verdict = answer["verdict"]
    first = {"measurement_mistake"} if verdict == "readings_doubted" else set(answer["found"])
    steps = sorted(answer["next_steps"], key=lambda step: not set(step["faults"]) & first)
    readings = answer["next_readings"]
    urgent = bool(steps) and steps[0]["stage"] == "switch_off"
    undecided = verdict in ("fault_not_told_apart", "not_enough_to_tell")
    if steps and (urgent or not (undecided and readings)):
        if audience == "customer" and steps[0]["stage"] == "measure":
            return words.read_again_first()
        return words.one_step(steps[0]["text"], at_once=urgent)
    if verdict == "healthy":
        return _open(answer["assessment"])
    if readings:
        return words.best_next(readings[0]["reading"], audience)
    if answer["missing"]:
        return words.to_read(answer["missing"])
    return _open(answer["assessment"])


def _open(assessment: Assessment) -> str:
    """What is left to do on a unit in which no fault is found."""
    urgent, closer = (
        list(dict.fromkeys(lowered(finding_label(f)) for f in assessment["findings"] if f["priority"] in asked))
        for asked in (("safety", "act"), ("look_closer",))
    )
    return words.still_to_do(urgent, closer, doubted=assessment["usability"]["grade"] == "not_usable")


# ---------------------------------------------------------------- a comparison

_CHANGES: Mapping[str, str] = {
    "improved": "Improved",
    "worsened": "Worsened",
    "no_material_change": "No material change",
    "inconclusive": "Inconclusive: not shown either way",
}


def of_comparison(answer: Comparison, audience: Audience) -> Summary:
    """Of a comparison."""
    system, verdict = answer["system"], answer["system"]["verdict"]
    change, matters = system["efficiency_change_percent"], system["smallest_that_matters_percent"]
    changed = system["any_change"]["changed"]
    size = "" if change is None else _change(change, audience)
    if verdict in ("improved", "worsened"):
        word = "better" if verdict == "improved" else "worse"
        first = f"The system runs {word} than before: under the same conditions {size}"
    elif verdict == "no_material_change":
        first = (
            f"Nothing changed that matters: under the same conditions {size}, and {figure(matters, 0)} % would matter"
        )
    elif changed:
        first = "Something changed, but whether for better or worse is not shown" + (
            f"; under the same conditions {size}" if size else ""
        )
    elif size:
        first = f"These readings cannot show whether anything changed: under the same conditions {size}"
    else:
        first = first_sentence(system["sentence"])
    return Summary(
        _CHANGES[verdict],
        _certainty(system, audience),
        (_sentence(first), _sentence(_because(system, changed, audience)), _sentence(_worth(answer, audience))),
    )


def _change(change: PercentChange, audience: Audience) -> str:
    if audience == "customer":
        band = change["band"]
        return f"it is {more_or_less_efficient(Estimate(change['value'], band['low'], band['high']))}"
    value = figure(change["value"], 1, signed=True)
    return f"its efficiency differs by {value} % (95 %: {ends(change['band'], 1, signed=True)} %)"


def _certainty(system: System, audience: Audience) -> str:
    chances, test = system["probabilities"], system["any_change"]["probability"]
    if chances is None:
        return "not estimated"
    match system["verdict"]:
        case "improved":
            text = f"{_surely(chances['improved'])} that efficiency rose"
        case "worsened":
            text = f"{_surely(chances['worsened'])} that efficiency fell"
        case _:
            text = f"{_surely(chances['within_what_matters'])} that efficiency changed by less than what matters"
    if test is not None and audience == "technician":
        text += f"; probability of such readings without a change {phrases.chance(test, 3)}"
    return text


def _because(system: System, changed: bool | None, audience: Audience) -> str:
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
        text = household.changed(best["cause"], best["text"]) if audience == "customer" else best["text"]
        return f"It points to {text} ({_surely(best['probability'])})"
    if smallest is not None and audience == "customer":
        return (
            f"Our instruments would show a change in efficiency of {figure(smallest, 1)} % or more four times in five"
        )
    if smallest is not None:
        return (
            f"A change in efficiency of {figure(smallest, 1)} % or more would show in four of five such pairs of runs"
        )
    return "The smallest change that would show is not known, because some causes would not show at all"


def _worth(answer: Comparison, audience: Audience) -> str:
    worth, missing = answer["worth"], answer["system"]["missing"]
    saved = worth["energy_saved"]
    if saved is not None and answer["system"]["verdict"] in ("improved", "worsened"):
        more = saved["value"] < 0
        text = f"That {'costs' if more else 'saves'} about {_spread(saved, more=more)} kWh a year"
        money = worth["money_saved"]
        if money is not None:
            text += f", worth about {_spread(money, more=more)} in your currency"
        years = worth["payback_years"]
        if years is not None and not more:
            text += f"; the service pays for itself in {_payback(years, worth['payback'])}"
        return f"{text}; estimates, with 95 % bands"
    # What was not read before the service can no longer be read.
    later = [path for path in missing if path.startswith("runs.after.")]
    if later and audience == "technician":
        wanted = listed([reading_words(path) for path in later[:2]], "and")
        return f"For a sharper answer, also read {wanted} now"
    return first_sentence(household.weather(answer["conditions"], audience))


def _spread(saved: Change, *, more: bool) -> str:
    """What is saved, or what more it costs, with its band."""
    sign = -1.0 if more else 1.0
    low, high = sorted(sign * saved["band"][end] for end in ("low", "high"))
    return f"{figure(sign * saved['value'], 0)} ({figure(low, 0)} to {figure(high, 0)})"


def _payback(years: float, payback: Payback | None) -> str:
    text = f"about {figure(years, 1)} years"
    if payback is None:
        return text
    low, high = payback["band"]["low"], payback["band"]["high"]
    soonest = "never" if low is None else figure(low, 1)
    latest = "fifty years or never" if high is None else figure(high, 1)
    return f"{text} ({soonest} to {latest})"


# ---------------------------------------------------------------- a series


def of_trend(answer: Trend, past: Collection[str]) -> Summary:
    """Of a series; ``past`` are values that lie outside their limits in the last run."""
    rows = answer["quantities"]
    moving = [name for name in ranked(answer, past) if rows[name]["shape"] != "steady"]
    if not moving:
        steady = len(rows)
        return Summary(
            "No drift shown" if steady else "Not enough to tell",
            f"{steady} values followed over {len(answer['runs'])} runs",
            (
                "These runs show no drift and no step."
                if steady
                else "No value appears in at least three runs, so there is no trend to report.",
                _sentence(_hidden(answer)),
                "Another run with the same instruments would sharpen the answer.",
            ),
        )
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


def _moved(name: str, row: QuantityTrend) -> str:
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
            f"under the same conditions (95 %: {ends(drift['band'], places, signed=True)})"
        )
    way = "rises" if drift["value"] > 0 else "falls"
    smaller, larger = sorted((abs(low), abs(high)))
    return (
        f"{label(name)} {way} by about {figure(abs(drift['value']), places)} {unit_word(unit)} a year under the "
        f"same conditions (95 %: {numbers.ends(smaller, larger, places)})"
    )


def _reached(row: QuantityTrend, *, past: bool) -> str:
    if past:
        return "It is already outside its limits"
    crossing = row["crossing"]
    if crossing is None:
        return "It is not moving toward a limit"
    bound = amount(crossing["bound"], row["unit"])
    if crossing["expected"] is None:
        return f"At that rate its limit of {bound} is more than twenty years away"
    text = f"At that rate it reaches its limit of {bound} about {crossing['expected'][:7]}"
    if crossing["earliest"] is not None:
        latest = crossing["latest"]
        text += (
            f" (95 %: {crossing['earliest'][:7]} to {'more than twenty years ahead' if latest is None else latest[:7]})"
        )
    return text


def _others(answer: Trend, names: Sequence[str]) -> str:
    steady = sum(row["shape"] == "steady" for row in answer["quantities"].values())
    if names:
        moving = listed([lowered(label(name)) for name in names[:4]], "and")
        return f"Also moving: {moving}; {steady} other values show neither drift nor step"
    return f"The {steady} other values show neither drift nor step"


def _hidden(answer: Trend) -> str:
    row = answer["quantities"].get("eer")
    if row is None:
        return "How much drift could go unnoticed is reported for each value"
    unit, band = row["difference_unit"], row["drift_per_year"]["band"]
    low, high = (amount(band[end], unit, signed=True) for end in ("low", "high"))
    return f"A drift in efficiency between {low} and {high} a year could still go unnoticed"
