"""The sentences of the charge by weight, from the facts that :mod:`service.checks.charge_by_weight` found."""

from __future__ import annotations

from service.reference.line_contents import OUNCE, POUND, RoomFormula
from service.words.numbers import MINUS, figure
from service.words.phrases import capital, phrase

NEEDS_REFRIGERANT = "Name the refrigerant: the vapour that a recovery leaves depends on it."
POSITIVE_CHARGE = "less than the charge of the nameplate and the lines together"
CHECK_UNITS = "Check the numbers and their units: ounces and pounds are easily confused."

LINES_NOT_KNOWN = (
    "The charge for the lines is not known. Give the manual's charge per length of line, or the refrigerant and the "
    "size of the liquid line."
)
NO_ALLOWANCE = (
    "The part of the factory charge that is for the lines is not given. The service never estimates it: units differ. "
    "Read it on the nameplate or in the manual. Give 0 if the factory charge includes nothing for the lines."
)
NEVER_A_PERMISSION = (
    "This is arithmetic, not permission. The unit's label, its installation manual and the local code decide; editions "
    "of the standards differ."
)


def weight(mass: float, system: str) -> str:
    """A mass as a technician says it: pounds and ounces, or kilograms."""
    if system != "imperial":
        return phrase("mass", mass, system)
    sign = MINUS if mass < 0.0 else ""
    tenths = round(abs(mass) / OUNCE * 10.0)
    pounds, rest = divmod(tenths, round(POUND / OUNCE) * 10)
    ounces = figure(rest / 10.0, 1)
    return f"{sign}{pounds} lb {ounces} oz" if pounds else f"{sign}{ounces} oz"


def allowance_not_known(lines: str) -> str:
    """That there is no charge without the factory allowance."""
    return f"The lines hold {lines}. {NO_ALLOWANCE}"


_ADJUSTED = {
    "add_charge": "That is {change} more than on the nameplate.",
    "remove_charge": "That is {change} less than on the nameplate.",
    "removal_forbidden": "That is the nameplate charge: the lines need {change} less, but the manual does not allow "
    "charge to be removed.",
    "no_adjustment": "That is the nameplate charge, as far as the lines are known.",
}


def charge(verdict: str, total: str, change: str, half_band: str, weighed: str | None) -> str:
    """The charge, the adjustment, and how sure it is; or what was weighed in."""
    if weighed is None:
        sure = f"With this scale and hoses the unit will hold it within {half_band} (95 %)."
    else:
        sure = f"That is known within {half_band} (95 %). {capital(weighed)} were weighed in."
    return f"The unit should hold {total}. {_ADJUSTED[verdict].format(change=change)} {sure}"


_AFTER = {
    "charge_complete": "That completes the charge.",
    "add_charge": "{away} are still missing.",
    "remove_charge": "That is {away} too much.",
}


def after_weighing(verdict: str, away: str, doubt: str | None) -> str:
    """What the mass weighed in means; ``away`` from the charge, ``doubt`` a question about it."""
    if doubt is not None:
        return doubt
    return _AFTER.get(verdict, "Whether that completes the charge cannot be decided with this scale.").format(away=away)


NEXT_STEPS = {
    "state_the_lines": "Measure the length of the lines and read the size of the liquid line.",
    "read_the_allowance": "Find the factory allowance for lines on the nameplate or in the manual.",
    "weigh_in": "Weigh the charge into the evacuated circuit, liquid first, with the cylinder on the scale and the "
    "hoses purged. Then run the unit and check superheat or subcooling.",
    "ask_the_manual": "Ask the manual whether charge may be removed for short lines before you remove any.",
    "check_running": "Add no more by weight. Run the unit and check superheat or subcooling.",
    "add_the_rest": "Weigh in only what is still missing, liquid first, with the hoses purged. Then run the unit and "
    "check superheat or subcooling.",
    "recover_the_excess": "Check that every mass is in the right unit (ounces, not pounds). If so, recover the excess "
    "before you run the unit.",
    "check_the_recovered": "More came out than the unit should hold. Check the masses and their units; if they are "
    "right, it was overcharged.",
    "find_the_leak": "Find and repair the leak before you charge.",
}


# ---------------------------------------------------------------- rooms


def no_flammability_limit(designation: str) -> str:
    """That no formula was computed."""
    return f"The service has no lower flammability limit for {designation}, so no formula was computed."


def room_largest(formula: RoomFormula, area: str, most: str, limit: str, *, capped: bool) -> str:
    """What a formula gives for a room; ``capped`` where the largest charge of the standard is less."""
    if capped:
        return (
            f"{formula.edition}, without mitigation: {formula.text} gives more than {most} for a floor of {area}, but "
            "the standard's formula ends at that charge, whatever the area."
        )
    return (
        f"{formula.edition}, without mitigation: {formula.text} gives {most} for a floor of {area} (area rounded down, "
        f"lower flammability limit {limit} kg/m³)."
    )


def room_smallest(formula: RoomFormula, charge_: str, least: str) -> str:
    """What the inverse of a formula gives for a charge."""
    return (
        f"{formula.edition}, without mitigation: the same formula gives a floor of {least} for {charge_} (upper "
        "end of its band, rounded up)."
    )


def room_free(most: str, group: str, volume: float) -> str:
    """The charge up to which the standard has no room limit."""
    return (
        f"Recent editions set no room limit for group {group} up to {most}: {volume:g} m³ times the lower "
        "flammability limit. Other limits remain."
    )


def room_none(formula: RoomFormula, charge_: str) -> str:
    """That no floor is large enough by the formula."""
    return (
        f"{formula.edition}, without mitigation: {charge_} (upper end of its band, rounded up) is above the largest "
        "charge of the formula, so no floor area was computed."
    )


def room_cap(most: str, group: str, volume: float) -> str:
    """The charge at which the formula ends."""
    return (
        f"The formula ends at {most} for group {group}: {volume:g} m³ times the lower flammability limit, whatever the "
        "floor area."
    )
