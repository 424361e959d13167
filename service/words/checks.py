"""The sentences of the checks, from the facts that :mod:`service.checks` judged.

Each is a function of what was found, as it is written in the caller's units.
"""

from __future__ import annotations

from service.words.phrases import chance

# ---------------------------------------------------------------- pressure under nitrogen

NOT_TIGHT = "That does not prove the circuit tight."


def loss_shown(loss: str, band: str, hours: str, probability: float) -> str:
    """That pressure was lost beyond what temperature explains."""
    return (
        f"The circuit lost {loss} in {hours} beyond what the change of temperature explains (95 % band {band}; "
        f"probability of no loss {chance(probability)}). It leaks."
    )


def no_loss_seen(smallest: str, smallest_mass: str | None, hours: str) -> str:
    """That no loss was seen, and how small a leak would have been."""
    mass = f" ({smallest_mass})" if smallest_mass else ""
    return (
        f"No loss was seen in {hours}. A leak that loses less than {smallest} in that time{mass} would not have been "
        f"seen. {NOT_TIGHT}"
    )


def pressure_rose(rise: str) -> str:
    """That the pressure rose by more than temperature explains."""
    return (
        f"The pressure rose by {rise} more than the change of temperature explains, so the test says nothing about "
        "leaks. Find out why, then start again."
    )


NO_VOLUME = "The inner volume is not given, so the loss is a pressure only."
NO_TEST_PRESSURE = (
    "The highest test pressure of the nameplate is not given, so the pressure was not judged. Check the nameplate "
    "before you pressurise."
)

NEXT_STEPS = {
    "lower_the_pressure": "Keep clear and lower the pressure slowly. Then have the parts inspected.",
    "test_joints_with_bubbles": "Brush every joint with a leak-test solution and look again after ten minutes.",
    "repair_and_repeat": "Release the nitrogen outdoors, repair the leak, and repeat the pressure test.",
    "hold_longer": "Hold the pressure longer, with the circuit in steady shade: a longer test sees a smaller leak.",
    "start_again": "Wait until the gas has settled, keep the probe insulated and in the shade, and start again.",
    "evacuate_next": "Release the nitrogen, then evacuate and watch the rise of the vacuum.",
}
