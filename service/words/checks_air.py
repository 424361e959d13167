"""The sentences of the check of air delivery, from the facts that :mod:`service.checks.air_delivery` found."""

from __future__ import annotations

from collections.abc import Sequence

from service.words.checks import not_judged
from service.words.numbers import figure
from service.words.phrases import listed, lowered

ANYTHING = "registers, equipment, a duct test, a filter or a furnace"
GIVE_A_READING = "Give at least one of registers, equipment, duct_test, filter and furnace."
NEEDS_ROOM = "Add the room air: delivered heat is computed against it."
ONE_HUMIDITY = "Give one of the two: the more exact one."
RISES = "Copy both ends of the range from the furnace's nameplate."
NO_CAPACITY = (
    "The capacity of the equipment is not known for the same kind of heat, so the share that arrives cannot be "
    "computed."
)
NO_AIRFLOW = "No airflow is given to compare the leakage with."
NO_DUCT_INPUTS = "The formula of ANSI/ASHRAE Standard 152 needs more data."


def _these(labels: Sequence[str]) -> str:
    return listed([lowered(label) for label in labels])


def verdict(name: str, about: Sequence[str], watched: Sequence[str], asked: Sequence[str]) -> str:
    """The outcome of the whole check.

    ``about`` are values outside their limits, else those that are not decided; ``watched`` are beyond a limit that only
    some rules set; ``asked`` is the first question, in a sentence.
    """
    if name == "within_limits":
        return "Everything that was read is within its limits."
    if name == "outside_limits":
        return f"Outside its limit: {_these(about)}."
    if not about and not watched and not asked:
        return "No limit applies to these readings, so nothing was decided."
    first = not_judged(asked[0]) if asked else ""
    undecided = f"These readings cannot decide about {_these(about)}." if about else ""
    above = f"Above a limit that applies to new work only: {_these(watched)}." if watched else ""
    return " ".join(part for part in (first, undecided, above) if part)


def model_fan(motor: str, value: str) -> str:
    """What a rating model assumes of a blower."""
    return f"A rating model assumes {value} for {motor} blower motors at 0.50 in. w.c. (125 Pa)."


def efficiency_at_airflow(factor: float) -> str:
    """What an airflow costs in efficiency by the standard."""
    return (
        f"By the standard's curve a unit at this airflow reaches {figure(100.0 * factor, 1)} % of its efficiency at "
        "400 cfm per ton (54 L/s per kW)."
    )


#: What to do about a value outside a limit.
STEP_OF = {
    "delivered_share_usual": "look_at_the_ducts",
    "delivery_effectiveness_usual": "seal_the_ducts",
    "duct_leakage_altered": "seal_the_ducts",
    "duct_leakage_new": "seal_the_ducts",
    "fan_power_usual": "lower_the_resistance",
    "fan_power_furnace": "lower_the_resistance",
    "filter_share_of_rating": "change_the_filter",
    "filter_face_usual": "change_the_filter",
    "furnace_rise_nameplate": "set_the_rise",
}
NEXT_STEPS = {
    "look_at_the_ducts": "Look at the ducts outside the rooms: disconnected runs first, then leaks, then insulation.",
    "seal_the_ducts": "Seal joints, boots and the cabinet with mastic, and test again.",
    "lower_the_resistance": "Check filter, coil, dampers and registers, then the blower's speed.",
    "read_more_closely": "Read what is close to its limit again, more than once or with a better instrument.",
    "change_the_filter": "Change the filter, or fit a larger one.",
    "set_the_rise": "Set the furnace's temperature rise by blower speed and gas input, as its manual says. Leave work "
    "on gas to people licensed for it.",
}
