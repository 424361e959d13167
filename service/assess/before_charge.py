"""What comes before charge: a nearly empty circuit, heat that is not rejected, a motor that does not run.

Such a state explains readings that would otherwise count as impossible, and charge is not judged in it.
The thresholds are temperatures, so they hold for every refrigerant.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from service.assess.notices import Case, Notice, readings_behind, share
from service.intake.paths import CURVES
from service.reference.conditions import (
    CREDIBLE,
    FAR_OVER_AMBIENT,
    LITTLE_HEAD,
    LITTLE_SPLIT,
    LOWEST_EVAPORATING,
    MUCH_SUPERHEAT,
    NEAR_CUT_OUT,
    NO_CURRENT,
    SHOWN,
)
from service.reference.performance_maps import DRY_COIL_WET_BULB

FloatArray = NDArray[np.float64]

#: A high side further below outdoor air means a wrong unit or a closed hose.
CREDIBLE_HEAD = CREDIBLE["condensing_temperature_over_ambient"][0]
#: What a circuit with almost no liquid shows besides its low suction: whether a value is a sign.
_SIGNS = {
    "superheat": lambda value: value > MUCH_SUPERHEAT,
    "condensing_temperature_over_ambient": lambda value: CREDIBLE_HEAD <= value < LITTLE_HEAD,
    "temperature_split": lambda value: value < LITTLE_SPLIT,
}


#: Each in words, by whether it is negative (superheat never is).
_WORDS = {
    ("superheat", False): "a superheat of {}",
    (
        "condensing_temperature_over_ambient",
        False,
    ): "a condensing temperature only {} above outdoor air",
    ("condensing_temperature_over_ambient", True): "a condensing temperature {} below outdoor air",
    ("temperature_split", False): "a temperature split of only {}",
    ("temperature_split", True): "supply air {} warmer than the return air",
}


def signs_of_starvation(derived: Mapping[str, FloatArray]) -> dict[str, float]:
    """The signs [K] that almost no refrigerant reaches the compressor, by name; none unless all agree.

    A low suction and at least two more are needed, so that one wrong reading never makes them; two of the
    three are derived in cooling alone.
    """
    evaporating = derived.get("evaporating_temperature")
    if evaporating is None or not evaporating[0] < LOWEST_EVAPORATING:
        return {}
    known = {name: float(derived[name][0]) for name in _SIGNS if name in derived and np.isfinite(derived[name][0])}
    if len(known) < 2 or not all(_SIGNS[name](value) for name, value in known.items()):
        return {}
    return {"evaporating_temperature": float(evaporating[0])} | known


def nearly_empty(case: Case) -> Iterator[Notice]:
    """Most of the charge gone, or the flow blocked: reported before any reading is doubted."""
    signs = signs_of_starvation(case.derived)
    if not signs:
        return
    found = [
        _WORDS[name, value < 0.0].format(case.say("temperature_difference", abs(value)))
        for name, value in signs.items()
        if name in _SIGNS
    ]
    cold = case.say("temperature", signs["evaporating_temperature"])
    yield Notice(
        "nearly_empty_suspected",
        "reservation",
        readings_behind(
            case,
            "suction_pressure_absolute",
            "high_side_pressure_absolute",
            "suction_line_temperature",
            "outdoor_air_dry_bulb",
            "supply_air_dry_bulb",
        ),
        f"The evaporating temperature is {cold}, with {', '.join(found[:-1])} and {found[-1]}. Together these "
        "show that most of the charge is gone, or that the refrigerant flow is blocked. Stop the compressor: so "
        "little gas does not cool it. Find the leak or the blockage before you add any refrigerant. Only then "
        "doubt a gauge, a hose or the refrigerant stated.",
        # A starved coil freezes for that reason, not for lack of air.
        "nearly_empty",
        ("freezing",),
    )


def heat_not_rejected(case: Case) -> Iterator[Notice]:
    """Condensing far above outdoor air, or near the high-pressure cut-out: charge is not judged."""
    if case.request.unit.mode != "cooling":
        return
    over = case.derived.get("condensing_temperature_over_ambient")
    pressure = case.derived.get("high_side_pressure_absolute")
    curves = case.visit.leaves.get(CURVES)
    if over is not None and share(over[1:] > FAR_OVER_AMBIENT) > SHOWN:
        found = (
            f"The condensing temperature is {case.say('temperature_difference', float(over[0]))} above outdoor "
            "air, far more than any unit needs"
        )
    # By pressure: near the critical point a saturation temperature is not known.
    elif (
        pressure is not None
        and curves is not None
        and share(pressure[1:] > curves.bubble_pressure(np.array([NEAR_CUT_OUT]))) > SHOWN
    ):
        found = (
            f"The high side is at {case.say('absolute_pressure', float(pressure[0]))}, near the pressure at which "
            "high-pressure switches open"
        )
    else:
        return
    yield Notice(
        "heat_not_rejected",
        "reservation",
        readings_behind(case, "high_side_pressure_absolute", "outdoor_air_dry_bulb"),
        f"{found}. Check the outdoor fan, coil and airflow before the charge. Charge limits were not applied.",
        "high_pressure_cut_out",
        ("charge",),
    )


def standing_motor(case: Case) -> Iterator[Notice]:
    """A fan or blower without current: charge is not judged; with the compressor off nor is the motor."""
    standing = [
        name
        for name in ("outdoor_fan_current", "indoor_blower_current")
        if (amps := case.visit.nominal(name)) is not None
        and amps < NO_CURRENT
        # In heating the outdoor fan stops while the coil defrosts.
        and (name != "outdoor_fan_current" or case.request.unit.mode == "cooling")
    ]
    if not standing:
        return
    compressor = case.visit.nominal("compressor_common_current")
    if compressor is not None and compressor < NO_CURRENT:
        yield Notice(
            "unit_is_off",
            "reservation",
            ("compressor_common_current", *standing),
            "The compressor draws no current either, so the unit is off. Read again with it running.",
            "motor_running",
            ("motors", "charge", *(name.replace("_current", "_load") for name in standing)),
        )
        return
    words = " and ".join(f"the {name.removesuffix('_current').replace('_', ' ')}" for name in standing)
    yield Notice(
        "motor_not_running",
        "reservation",
        tuple(standing),
        f"{words[0].upper()}{words[1:]} {'draw' if len(standing) > 1 else 'draws'} no current: "
        f"{'they are' if len(standing) > 1 else 'it is'} not running, or the clamp is around the wrong wire or "
        "around two wires. Settle this before the charge. Charge limits were not applied.",
        "motor_running",
        ("charge", *(name.replace("_current", "_load") for name in standing)),
    )


def dry_coil(case: Case) -> Iterator[Notice]:
    """A return wet bulb so low that the coil removes no moisture."""
    bulb = case.draws("return_air_wet_bulb")
    found = case.derived.get("cooling_capacity_at_rating_conditions")
    if found is None or bulb is None or not np.isfinite(found[0]):
        return
    if float(bulb[0]) < DRY_COIL_WET_BULB:
        yield Notice(
            "dry_coil",
            "note",
            ("return_air_wet_bulb",),
            f"At a return wet bulb below {case.say('temperature', DRY_COIL_WET_BULB)} the coil removes no "
            "moisture, so capacity follows the dry bulb instead of the wet bulb. Capacity was brought to the "
            "rating conditions on that basis.",
            "dry_coil",
        )


CHECKS = (nearly_empty, standing_motor, heat_not_rejected, dry_coil)
