"""The sentences of the check of a motor, from the facts that :mod:`service.checks.motor` found."""

from __future__ import annotations

from collections.abc import Sequence

from service.words.checks import not_judged
from service.words.phrases import listed, lowered

ANYTHING = "windings, a reading to ground, insulation or capacitors"
GIVE_A_READING = (
    "Give at least one of single_phase_windings, three_phase_windings, winding_to_ground, insulation and capacitors."
)
ONE_OF_TWO = "Give winding_to_ground if the meter shows a number, winding_to_ground_over_range if it shows none."
NO_INSULATION_LIMIT = (
    "Neither the maker's least insulation resistance nor the rated voltage is given, so only the simple rule's least "
    "value of 1 megohm was applied."
)
NOT_READ = "The section is on the marking, but its reading is not given."

_WINDINGS = {
    "start_to_run": "start to run",
    "common_to_start": "common to start",
    "common_to_run": "common to run",
    "l1_l2": "L1 to L2",
    "l2_l3": "L2 to L3",
    "l3_l1": "L3 to L1",
}


def winding(name: str) -> str:
    """A reading of a winding, as a sentence begins with it."""
    return f"The winding from {_WINDINGS[name]}"


def at_reference(name: str) -> str:
    """A winding at the temperature of data sheets."""
    return f"{winding(name)} at 77 °F (25 °C)"


def capacitor(place: int, name: str | None, section: str | None) -> str:
    """A section of a capacitor."""
    which = f'"{name}"' if name else f"capacitor {place + 1}"
    return f"The {section} section of {which}" if section else f"The capacitance of {which}"


def terminals_of(marking: str, *, two: bool) -> str:
    """Which readings belong to a marking."""
    if two:
        return f"{marking} has two sections: give herm_to_common and fan_to_common."
    return f"{marking} has one section: give terminals."


def _these(labels: Sequence[str]) -> str:
    return listed([lowered(label) for label in labels])


#: What a value beyond its limit shows, where that is more than being beyond it.
_FAULTS = {"winding_identity": "the readings of the windings do not add up"}


def fault(limit: str, label: str, *, low: bool) -> str:
    """What is wrong with a value beyond its limit."""
    return _FAULTS.get(limit, f"{lowered(label)} is {'below' if low else 'above'} its limit")


def open_winding(name: str) -> str:
    """That a winding is open."""
    return f"{lowered(winding(name))} is open"


def verdict(name: str, about: Sequence[str], watched: Sequence[str], asked: Sequence[str]) -> str:
    """The outcome of the whole check.

    ``about`` are faults where one is shown, else the values that are not decided; ``watched`` are values that are poor,
    though not beyond a limit that decides; ``asked`` is the first question, in a sentence.
    """
    if name == "nothing_found":
        return "Nothing wrong was found in these readings. That does not prove the motor sound."
    if name == "fault_shown":
        return f"A fault is shown: {listed(about)}."
    if not about and not watched and not asked:
        return "No limit applies to these readings, so nothing was decided."
    undecided = f"These readings cannot decide about {_these(about)}." if about else ""
    poor = f"Poor, but no fault is shown: {_these(watched)}." if watched else ""
    first = not_judged(asked[0]) if asked else ""
    return " ".join(part for part in (first, undecided, poor) if part)


def start_over_run(ratio: str, old: tuple[float, float], now: tuple[float, float]) -> str:
    """The ratio of the windings next to its rule of thumb."""
    return (
        f"The start winding reads {ratio} times the run winding. A service procedure expects {old[0]:g} to {old[1]:g}; "
        f"modern compressors often read as low as {now[0]:g}. The maker's table decides."
    )


def insulation(value: str, name: str, advice: str) -> str:
    """What the trade makes of an insulation resistance."""
    return f'Trade tables call {value} "{name}" for small hermetic compressors. {advice}'


NEXT_STEPS = {
    "keep_it_off": "Keep the motor off and locked out.",
    "lift_the_bleed_resistor": "If a bleed resistor is fitted across the capacitor, lift one end and read again: it "
    "lowers the reading.",
    "take_the_leads_off": "Take both leads off the capacitor, check that the marking is the one of this can, and read "
    "again.",
    "replace_the_capacitor": "Replace the capacitor with one of the same value and at least the same voltage.",
    "warm_and_read_again": "Warm the compressor with its heater, read the insulation again, and test the oil for acid.",
    "better_meter": "Zero the leads and read again, or use a meter with a smaller error.",
    "test_the_insulation": "Test the insulation to ground with an insulation tester, never in a vacuum.",
}
