"""What comes before charge: a nearly empty circuit, heat that is not rejected, a motor that does not run.

Such a state explains readings that would otherwise count as impossible, and charge is not judged in it.
The thresholds are temperatures, so they hold for every refrigerant.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from service.assess.notices import Case, Notice, item, notice, readings_behind, share
from service.intake.paths import CURVES
from service.reference.conditions import (
    CREDIBLE,
    FAR_OVER_AMBIENT,
    LITTLE_HEAD,
    LITTLE_SPLIT,
    LITTLE_SUBCOOLING,
    LOWEST_EVAPORATING,
    MUCH_SUPERHEAT,
    NEAR_CUT_OUT,
    NO_CURRENT,
    SHOWN,
)
from service.reference.performance_maps import DRY_COIL_WET_BULB
from service.words.phrases import listed

FloatArray = NDArray[np.float64]

#: A high side further below outdoor air means a wrong unit or a closed hose.
CREDIBLE_HEAD = CREDIBLE["condensing_temperature_over_ambient"][0]
#: What a circuit with almost no liquid shows besides its low suction: whether a value is a sign.
_SIGNS = {
    "superheat": lambda value: value > MUCH_SUPERHEAT,
    "condensing_temperature_over_ambient": lambda value: CREDIBLE_HEAD <= value < LITTLE_HEAD,
    "temperature_split": lambda value: value < LITTLE_SPLIT,
}


#: The item of the notice for each, by whether it is negative (superheat never is).
_ITEMS = {
    ("superheat", False): "superheat",
    ("condensing_temperature_over_ambient", False): "low_head",
    ("condensing_temperature_over_ambient", True): "head_under_outdoor_air",
    ("temperature_split", False): "small_split",
    ("temperature_split", True): "warmed_supply_air",
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
        item(_ITEMS[name, value < 0.0], case.say("temperature_difference", abs(value)))
        for name, value in signs.items()
        if name in _SIGNS
    ]
    readings = readings_behind(
        case,
        "suction_pressure_absolute",
        "high_side_pressure_absolute",
        "suction_line_temperature",
        "outdoor_air_dry_bulb",
        "supply_air_dry_bulb",
    )
    evaporating = case.say("temperature", signs["evaporating_temperature"])
    yield notice("nearly_empty_suspected", readings, evaporating=evaporating, signs=listed(found))


def heat_not_rejected(case: Case) -> Iterator[Notice]:
    """Condensing far above outdoor air, or near the high-pressure cut-out: charge is not judged."""
    if case.request.unit.mode != "cooling":
        return
    over = case.derived.get("condensing_temperature_over_ambient")
    pressure = case.derived.get("high_side_pressure_absolute")
    curves = case.visit.leaves.get(CURVES)
    readings = readings_behind(case, "high_side_pressure_absolute", "outdoor_air_dry_bulb")
    if over is not None and share(over[1:] > FAR_OVER_AMBIENT) > SHOWN:
        above = case.say("temperature_difference", float(over[0]))
        yield notice("heat_not_rejected.hot", readings, over=above)
    # By pressure: near the critical point a saturation temperature is not known.
    elif (
        pressure is not None
        and curves is not None
        and share(pressure[1:] > curves.bubble_pressure(np.array([NEAR_CUT_OUT]))) > SHOWN
    ):
        head = case.say("absolute_pressure", float(pressure[0]))
        yield notice("heat_not_rejected.near_cut_out", readings, pressure=head)


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
    loads = [name.replace("_current", "_load") for name in standing]
    if compressor is not None and compressor < NO_CURRENT:
        yield notice("unit_is_off", ("compressor_common_current", *standing), stops=loads)
    elif len(standing) > 1:
        yield notice("motor_not_running.both", standing, stops=loads)
    else:
        motor = standing[0].removesuffix("_current").replace("_", " ")
        yield notice("motor_not_running", standing, stops=loads, motor=motor)


def dry_coil(case: Case) -> Iterator[Notice]:
    """A return wet bulb so low that the coil removes no moisture."""
    bulb = case.draws("return_air_wet_bulb")
    found = case.derived.get("cooling_capacity_at_rating_conditions")
    if found is None or bulb is None or not np.isfinite(found[0]):
        return
    if float(bulb[0]) < DRY_COIL_WET_BULB:
        yield notice("dry_coil", ("return_air_wet_bulb",), lowest=case.say("temperature", DRY_COIL_WET_BULB))


def little_subcooling(case: Case) -> Iterator[Notice]:
    """So little subcooling that the liquid line may carry vapour."""
    found = case.derived.get("subcooling")
    if found is not None and case.request.unit.mode == "cooling" and float(found[0]) < LITTLE_SUBCOOLING:
        value = case.say("temperature_difference", float(found[0]))
        yield notice("little_subcooling", readings_behind(case, "subcooling"), value=value)


CHECKS = (nearly_empty, standing_motor, heat_not_rejected, dry_coil, little_subcooling)
