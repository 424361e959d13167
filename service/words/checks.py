"""The sentences of the checks, from the facts that :mod:`service.checks` judged.

Each is a function of what was found, as it is written in the caller's units.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from service.words.phrases import chance

#: What to do about a question, before anything else.
QUESTION_STEPS = {
    "check_the_unit": "Check the number, and send it with its unit.",
    "read_the_terminals": "Discharge the capacitor, and read it again: HERM to C, then FAN to C.",
    "mark_the_terminals": "Find the terminals: the pair that reads highest is start and run, and start reads more to "
    "common than run does. Then read again.",
    "use_a_finer_meter": "Zero the leads and read again, with a four-wire meter if the motor is large.",
    "let_it_cool": "Keep the power off, let the compressor cool for hours, and read the windings again.",
    "read_the_air_again": "Check which probe was where, and the mode. Then read the air again.",
    "check_the_lines": "Read the sizes off the lines, and check the length and the allowance.",
    "check_the_masses": "Check every mass and its unit: ounces and pounds are easily confused.",
}


def not_judged(why: str) -> str:
    """That nothing was decided; ``why`` is a sentence or more."""
    return f"This cannot be decided. {why}"


# ---------------------------------------------------------------- pressure under nitrogen

NOT_TIGHT = "That does not prove the circuit tight."


def loss_shown(loss: str, band: str, hours: str, probability: float) -> str:
    """That pressure was lost beyond what temperature explains."""
    return (
        f"In {hours} the circuit lost {loss} more than the temperature change explains (95 % band {band}; "
        f"probability of no loss {chance(probability)}). It leaks."
    )


def no_loss_seen(smallest: str, smallest_mass: str | None, hours: str) -> str:
    """That no loss was seen, and how small a leak would have been."""
    mass = f" ({smallest_mass})" if smallest_mass else ""
    return (
        f"No loss was seen in {hours}. A leak that loses less than {smallest} in that time{mass} would not have been "
        f"seen. {NOT_TIGHT}"
    )


def tests_little(low: str | None, short: str | None) -> str:
    """Why a test shows nothing about leaks: a pressure that is low, a time that is short, or both."""
    pressure = f"{low} hardly tests a circuit: a leak at working pressure may not show." if low else ""
    time = f"In {short} the gas has not settled from filling, so a small change shows nothing." if short else ""
    return f"{pressure} {time}".strip()


def pressure_rose(rise: str) -> str:
    """That the pressure rose by more than temperature explains."""
    return (
        f"The pressure rose by {rise} more than the temperature change explains, so the test says nothing about leaks. "
        "Find the cause, then start again."
    )


NO_VOLUME = "The internal volume is not given, so the loss is given as pressure only."
NO_TEST_PRESSURE = (
    "The highest test pressure on the nameplate is not given, so the pressure was not judged. Check the nameplate "
    "before you pressurise."
)

NEXT_STEPS = {
    "lower_the_pressure": "Keep clear and lower the pressure slowly. Then have the parts inspected.",
    "test_joints_with_bubbles": "Brush every joint with leak-test solution, and look again after ten minutes.",
    "repair_and_repeat": "Release the nitrogen outdoors, repair the leak, and repeat the pressure test.",
    "hold_longer": "Hold the pressure longer, with the circuit in steady shade. A longer test can show a smaller leak.",
    "test_at_pressure": "Test at the pressure that the nameplate allows, for about an hour, before you evacuate.",
    "start_again": "Wait until the gas has settled, keep the probe insulated and shaded, and start again.",
    "evacuate_next": "Release the nitrogen outdoors, evacuate, and run a standing-vacuum test.",
}


def over_the_limit(highest: str, limit: str) -> str:
    """That the pressure is above what the parts may stand."""
    return f"The pressure, {highest}, is above the highest test pressure, {limit}. Keep clear."


# ---------------------------------------------------------------- vacuum that rises


def vacuum_leaks(rate: str, probability: float, *, drying: bool) -> str:
    """That the rise shows a leak."""
    also = " Moisture or outgassing adds to the rise." if drying else ""
    return f"The pressure rises by about {rate}, as with a leak (probability of a leak {chance(probability)}).{also}"


def vacuum_dries(plateau: str, probability: float, saturation: str | None, *, water: bool | None) -> str:
    """That the rise shows moisture or outgassing; ``saturation`` is that of water where it is known."""
    text = (
        f"The rise flattens at about {plateau}, as with moisture or outgassing (probability of a leak "
        f"{chance(probability)})."
    )
    if saturation is None or water is None:
        return f"{text} Read the temperature of the coldest part: it shows whether free water is inside."
    if water:
        return f"{text} At the coldest part water saturates at {saturation}, close to that: free water is inside."
    return (
        f"{text} That is far below the saturation pressure of water at the coldest part, {saturation}, so it is "
        "outgassing or the last moisture rather than free water."
    )


def vacuum_holds(final: str, smallest: str, minutes: str) -> str:
    """That no rise was seen, and how small a leak would have been."""
    return (
        f"The vacuum held at {final} for {minutes}. A leak that raises it by less than {smallest} would not have been "
        f"seen. {NOT_TIGHT}"
    )


def vacuum_cannot_tell(leak: float, wait: str | None) -> str:
    """That the readings do not yet separate a leak from moisture."""
    rest = (
        f"Cannot tell yet: wait {wait} longer." if wait else "Cannot tell yet: keep it isolated at least as long again."
    )
    return f"These readings do not show whether it is a leak or moisture (probability of a leak {chance(leak)}). {rest}"


def vacuum_fell(fall: str) -> str:
    """That the pressure fell though it was isolated."""
    return f"The pressure fell by {fall} during the test, so it says nothing about the circuit. Start again."


VACUUM_MEANS = {
    "leak": "A leak: the pressure rises in a straight line.",
    "drying": "Moisture or outgassing: the rise flattens and ends.",
    "leak_and_drying": "A leak and moisture together: the rise flattens, but does not end.",
    "holds": "No rise beyond the scatter of the gauge.",
}

NO_COLDEST = (
    "The temperature of the coldest part is not given, so the plateau was not compared with the saturation pressure of "
    "water."
)
NO_VACUUM_VOLUME = "The internal volume is not given, so a leak is given as a rate of rise only."

#: What a steady vacuum that is not deep says.
NOT_DEEP_ENOUGH = "It is not shown to be deep enough to charge."
#: What a steady vacuum says that was not watched for long.
NOT_LONG_ENOUGH = "Hold it for at least ten minutes before you charge."

NEXT_STEPS |= {
    "check_hoses_and_cores": "Check hoses, valve cores, caps and the gauge connection first: they leak most often.",
    "pressure_test": "Break the vacuum with dry nitrogen, pressurise to the nameplate's limit, and find the leak.",
    "evacuate_further": "Sweep with dry nitrogen if needed, evacuate further, and repeat the test.",
    "warm_the_circuit": "Warm the coldest parts so that water boils off faster. Ice hardly evaporates.",
    "start_vacuum_again": "Isolate the circuit from the pump, wait until the gauge is steady, and start again.",
    "wait_longer": "Keep it isolated, and keep reading at the same interval.",
    "weigh_in": "Weigh the charge in while the vacuum holds.",
}

# ---------------------------------------------------------------- the unit at rest


def excess_shown(excess: str, band: str, mass: str | None, probability: float) -> str:
    """That the pressure at rest is above saturation."""
    grams = f", about {mass} of air" if mass else ""
    return (
        f"The pressure at rest is {excess} above saturation (95 % band {band}; probability of an excess "
        f"{chance(probability)}){grams}. Non-condensable gas (air or nitrogen) is in the circuit, or the liquid is "
        "warmer than the probe shows."
    )


def excess_not_told(away: str, why: str, *, above: bool) -> str:
    """How far the pressure is from saturation, and why that shows nothing yet."""
    side = "above" if above else "below"
    return f"The pressure is {away} {side} saturation, but that decides nothing yet. {why}"


def below_saturation(under: str, band: str, probability: float) -> str:
    """That the pressure at rest is below saturation."""
    return (
        f"The pressure at rest is {under} below saturation (95 % band {band}; probability {chance(probability)}). No "
        "liquid is left in the circuit, or the coil is colder than the probe shows."
    )


def no_excess_seen(smallest: str) -> str:
    """That no excess was seen, and how small one would have been."""
    return (
        "The pressure at rest matches saturation. Non-condensable gas that adds less than "
        f"{smallest} would not have been seen."
    )


NO_GAS_VOLUME = "The volume that holds gas is not given, so an excess is given as pressure only."

NEXT_STEPS |= {
    "check_pressure_and_temperature": "Check both readings and their units: so large an excess is not air alone.",
    "read_again_settled": "Read again after another half hour off, in the shade, with the probe insulated on the coil.",
    "recover_and_evacuate": "If the excess stays, recover the charge, evacuate, and weigh in fresh refrigerant.",
    "check_the_temperature": "Check where the probe sits: it must show the coldest place that holds liquid.",
    "look_for_the_leak": "Find and repair the leak before you add refrigerant.",
    "better_thermometer": "A better thermometer, or several places that agree, would show a smaller excess.",
}

QUESTION_STEPS |= {name: NEXT_STEPS[name] for name in ("read_again_settled", "check_pressure_and_temperature")}

# ---------------------------------------------------------------- leak rate


def leak_rate(method: str, rate: str, band: str, mass: str) -> str:
    """The annual rate and the mass behind it."""
    return f"{method} is {rate} (95 % band {band}), which is {mass} of refrigerant."


def leak_threshold(rate: str, concerns: str, applies: str) -> str:
    """A threshold, and whether it concerns this unit."""
    return (
        f"United States, 40 CFR 84.106 (from January 2026) and 82.157: {rate} for {concerns}, in appliances of 15 lb "
        "or more of a regulated HFC, or 50 lb or more of an ozone-depleting substance. The rule of 2026 leaves out "
        f"residential and light commercial air conditioning. {applies} This is information, not legal advice: the rule "
        "in force and the authority decide."
    )


def threshold_exceeded(above: float) -> str:
    """The probability of a rate above a threshold that concerns this charge."""
    return f"Probability that this rate is above it: {chance(above)}."


def threshold_of_larger(charge: str, least: str) -> str:
    """That a threshold begins at a larger charge."""
    return f"It does not apply to a full charge of {charge}, which is less than {least}."


def threshold_near(charge: str, least: str) -> str:
    """That the charge is not known well enough to say."""
    return f"Whether it applies cannot be decided: the full charge, {charge}, is too close to {least}."


def threshold_of_others(refrigerant: str) -> str:
    """That neither rule counts a refrigerant."""
    return f"It does not apply to {refrigerant}, which neither rule counts."


NO_DAYS = "The days since the previous addition are not given, so the annualizing method cannot be applied."
NO_REFRIGERANT = "The refrigerant is not given, so the loss has no CO2 equivalent."

NEXT_STEPS |= {
    "keep_records": "Keep the record of dates and masses: both methods start from it.",
    "ask_the_authority": "Ask the authority or a lawyer which rule applies to this unit.",
}

# ---------------------------------------------------------------- pictures and pages

VACUUM_TITLE = {
    "leak": "The pressure rises as with a leak",
    "leak_and_drying": "The pressure rises as with a leak and moisture",
    "drying": "The rise flattens: moisture or outgassing",
    "holds": "The vacuum holds",
    "cannot_tell": "Leak or moisture: cannot tell yet",
    "pressure_fell": "The pressure fell: not a test of the circuit",
}
HOLD_TITLE = {
    "loss_shown": "The circuit loses pressure",
    "no_loss_seen": "No loss was seen",
    "pressure_rose": "The pressure rose more than the temperature explains",
    "cannot_tell": "This test decides nothing",
    "over_limit": "The pressure is above its limit",
}

#: The outcome in a few words, by check and verdict, where the verdict's own name says too little.
HEADLINES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "vacuum-rise": VACUUM_TITLE,
        "pressure-hold": HOLD_TITLE,
        "pressure-at-rest": {
            "excess_shown": "The pressure is above saturation",
            "no_excess_seen": "The pressure matches saturation",
            "below_saturation": "The pressure is below saturation",
            "cannot_tell": "This cannot be decided yet",
        },
        "leak-rate": {"computed": "The annual leak rate"},
    }
)
#: An explanation in a word or two.
EXPLANATIONS: Mapping[str, str] = MappingProxyType(
    {
        "leak": "a leak",
        "drying": "moisture or outgassing",
        "leak_and_drying": "a leak and moisture",
        "holds": "no rise",
    }
)


def curve_of_vacuum(name: str, probability: float) -> str:
    """What a curve of a standing vacuum is."""
    kind = {"leak": "a leak alone", "drying": "moisture or outgassing alone"}[name]
    return f"{kind} (probability {chance(probability)})"


def described(verdict: str, count: int, what: str) -> str:
    """A picture of a test in a sentence, for those who do not see it."""
    return f"{count} readings of the {what}. Outcome: {verdict.replace('_', ' ')}."
