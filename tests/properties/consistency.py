"""What no diagnosis may say at once: rules that hold between the parts of one answer.

The rules are logic and the contract's own words (``schemas/diagnoses.py``), so no outside source is
needed: an answer that breaks one contradicts itself.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

Answer = dict[str, Any]

#: Probabilities that the contract names: found from the first, something is wrong from the second, listed as
#: possible from the third.
FOUND, CLAIMED, POSSIBLE = 0.9, 0.8, 0.1
#: Faults that cost efficiency by every published study (``faults.md``; overcharge and overfeeding cost little
#: and harm the compressor).
COSTING = frozenset(
    {
        "low_charge",
        "condenser_heat_transfer",
        "evaporator_airflow",
        "liquid_line_restriction",
        "non_condensable_gas",
        "compressor_leakage",
        "expansion_underfeeding",
        "outdoor_coil_airflow",
        "outdoor_coil_frost",
        "indoor_airflow",
        "reversing_valve_leakage",
    }
)
#: Faults of the circuit, which are not judged while the outdoor fan stands or nothing is pumped.
CIRCUIT = COSTING - {
    "condenser_heat_transfer",
    "evaporator_airflow",
    "outdoor_coil_airflow",
    "outdoor_coil_frost",
    "indoor_airflow",
} | {
    "overcharge",
    "expansion_overfeeding",
}
URGENT = (
    "outdoor_fan_stopped",
    "compressor_stalled",
    "compressor_not_pumping",
    "circuit_nearly_empty",
)
READINGS = ("measurement_mistake", "none_of_these")
#: Stages of work that look or measure, and so may be proposed for a healthy unit.
LOOKING = ("measure",)


def _chances(answer: Answer) -> dict[str, float]:
    return {row["fault"]: row["probability"] for row in answer["hypotheses"]}


def _of_the_verdict(answer: Answer) -> Iterator[str]:
    verdict, found, chances = answer["verdict"], answer["found"], _chances(answer)
    doubt = sum(chances.get(name, 0.0) for name in READINGS)
    if verdict == "fault_found" and not found:
        yield "a fault is found and none is named"
    if found and verdict not in ("fault_found", "readings_doubted"):
        yield f"{found} are found and the verdict is {verdict}"
    if verdict == "readings_doubted" and doubt < FOUND - 1e-3:
        yield f"readings are doubted at {doubt}"
    if verdict == "healthy":
        if answer["probability_costly"] is None or answer["probability_costly"] > 1.0 - FOUND:
            yield "healthy, and a loss is not ruled out"
        if chances["no_fault"] < 0.5:
            yield "healthy, and a fault is more probable than none"
        likely = [n for n, c in chances.items() if n != "no_fault" and c >= FOUND]
        if likely:
            yield f"healthy beside {likely}"
    if verdict == "fault_not_told_apart" and chances["no_fault"] > 1.0 - CLAIMED:
        yield "something is wrong, and no fault is not unlikely"


def _of_the_cost(answer: Answer) -> Iterator[str]:
    costly, change = answer["probability_costly"], answer["efficiency_percent"]
    if (costly is None) != (change is None):
        yield "a loss and its probability are not given together"
    if costly is None or change is None:
        return
    low, value, high = change["band"]["low"], change["value"], change["band"]["high"]
    if not low <= value <= high:
        yield f"the estimate {value} lies outside its band {low} to {high}"
    if high < -5.0 and costly < 0.95:
        yield f"all of the band is a loss over 5 %, and its probability is {costly}"
    if low > -5.0 and costly > 0.05:
        yield f"none of the band is a loss over 5 %, and its probability is {costly}"
    named = COSTING & set(answer["found"])
    if named and value >= 0.0 and costly <= 1.0 - FOUND:
        yield f"{sorted(named)} found, and nothing is lost ({value} %, {costly})"
    if answer["verdict"] == "readings_doubted":
        yield "a cost is given of readings that are doubted"


def _of_one_hypothesis(row: Answer, verdict: str, found: set[str]) -> Iterator[str]:
    name, chance, status = row["fault"], row["probability"], row["status"]
    if status == "found" and chance < FOUND:
        yield f"{name} is found at {chance}"
    if (status == "unlikely") != (chance < POSSIBLE):
        yield f"{name} is {status} at {chance}"
    allowed = name in found or (
        (name in READINGS and verdict == "readings_doubted")
        or (name == "no_fault" and verdict in ("healthy", "fault_found"))
    )
    if status == "found" and not allowed:
        yield f"{name} is found as a hypothesis and not by the verdict {verdict}"
    if name in found and chance >= FOUND and status != "found":
        yield f"{name} is found by the verdict and {status} as a hypothesis"


def _of_the_hypotheses(answer: Answer) -> Iterator[str]:
    chances, verdict, found = _chances(answer), answer["verdict"], set(answer["found"])
    ranked = [row["probability"] for row in answer["hypotheses"]]
    if ranked != sorted(ranked, reverse=True):
        yield "hypotheses are not in the order of their probabilities"
    if len(chances) != len(ranked):
        yield "a hypothesis is listed twice"
    for row in answer["hypotheses"]:
        yield from _of_one_hypothesis(row, verdict, found)
    for name in found - set(chances):
        yield f"{name} is found and no hypothesis"
    total = sum(row["probability"] for row in answer["combinations"])
    if total > 1.001:
        yield f"explanations sum to {total}"
    for row in answer["combinations"]:
        if not row["faults"] and abs(row["probability"] - chances["no_fault"]) > 1e-4:
            yield "no fault has two probabilities"


def _of_the_steps(answer: Answer) -> Iterator[str]:
    steps, chances, found = answer["next_steps"], _chances(answer), set(answer["found"])
    wanted = {name for step in steps for name in step["faults"]}
    if answer["verdict"] == "fault_found" and not found & wanted:
        yield f"{sorted(found)} found, and nothing is to be done about it"
    if answer["verdict"] == "healthy" and any(step["stage"] not in LOOKING for step in steps):
        yield "a healthy unit is to be worked on"
    for step in steps:
        if step["stage"] == "open_circuit" and not found & set(step["faults"]):
            yield f"the circuit is to be opened for {step['faults']}, which is not found"
    if any(chances.get(name, 0.0) >= POSSIBLE for name in URGENT):
        if CIRCUIT & (found | wanted):
            yield f"{sorted(CIRCUIT & (found | wanted))} come before what must be settled first"
        if not set(URGENT) & set(steps[0]["faults"] if steps else ()):
            yield "what must be settled first is not the first step"
    shown = {row["id"] for row in answer["cautions"]}
    for step in steps:
        if not set(step["cautions"]) <= shown:
            yield f"cautions of a step are not shown: {step['cautions']}"


def _of_the_assessment(answer: Answer) -> Iterator[str]:
    if answer["verdict"] != "healthy":
        return
    asked = [row["quantity"] for row in answer["assessment"]["findings"] if row["priority"] in ("safety", "act")]
    if asked:
        yield f"healthy, and the assessment asks for action on {asked}"
    if answer["assessment"]["usability"]["grade"] == "not_usable":
        yield "healthy by readings that cannot be used"
    if "return air" in answer["sentence"].lower():
        yield "healthy, and the return air is not fit to judge it"


_PROBABILITY = r"(over 0\.\d+|under 0\.\d+|\d\.\d+)"


def _printed(text: str) -> tuple[float, float]:
    """The probabilities that a printed one may stand for."""
    number = float(text.rsplit(" ", 1)[-1])
    if text.startswith("over"):
        return number, 1.0
    if text.startswith("under"):
        return 0.0, number
    half = 0.0101 if len(text) <= 4 else 0.00101
    return number - half, number + half


def _of_the_words(answer: Answer) -> Iterator[str]:
    chances = _chances(answer)
    sentence = answer["sentence"]
    texts = [sentence, *(t for row in answer["hypotheses"] for t in row["evidence_for"])]
    for text in texts:
        if re.search(r"probability (of no fault )?[01]\.0+\b|\([01]\.0+\)", text):
            yield f"a probability is printed as certain: {text}"
    pairs = [
        (chances[row["fault"]], found.group(1))
        for row in answer["hypotheses"]
        for found in re.finditer(
            # A text that ends in a bracket takes the probability into it; a list leaves the bracket out.
            rf"(?:{re.escape(row['text'].removesuffix(')'))}; |{re.escape(row['text'].partition(' (')[0])} \()"
            rf"(?:probability )?{_PROBABILITY}\)",
            sentence,
            re.IGNORECASE,
        )
    ]
    pairs += [
        (chances["no_fault"], found.group(1)) for found in re.finditer(rf"(?:of )?no fault {_PROBABILITY}", sentence)
    ]
    pairs += [
        (answer["probability_costly"], found.group(1)) for found in re.finditer(rf"% is lost {_PROBABILITY}", sentence)
    ]
    for chance, printed in pairs:
        low, high = _printed(printed)
        if not low - 1e-9 <= chance <= high + 1e-9:
            yield f"{chance} is printed as {printed}"
        for limit in (POSSIBLE, CLAIMED, FOUND):
            number = float(printed.rsplit(" ", 1)[-1])
            if printed[0].isdigit() and (number >= limit) != (chance >= limit):
                yield f"{chance} is printed as {printed}, on the other side of {limit}"
    if answer["verdict"] == "not_enough_to_tell" and answer["combinations"]:
        unknown = sentence.startswith("Not enough to tell")
        if unknown and chances["no_fault"] <= 1.0 - CLAIMED:
            yield "not enough to tell, and that no fault is there is all but ruled out"


RULES: tuple[Callable[[Answer], Iterator[str]], ...] = (
    _of_the_verdict,
    _of_the_cost,
    _of_the_hypotheses,
    _of_the_steps,
    _of_the_assessment,
    _of_the_words,
)


def contradictions(answer: Answer) -> list[str]:
    """What of a diagnosis contradicts the rest of it; empty where it is consistent."""
    return [found for rule in RULES for found in rule(answer)]
