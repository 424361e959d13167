"""How the circumstances of a visit change the prior probability of a fault."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log

import numpy as np

from service.derive.examined import Derived
from service.faults.hypotheses import Components
from service.intake.paths import READING
from service.reference.faults_by_mode import (
    FROST_BEGINS,
    FROST_SEEN,
    KNOWN_ON,
    NO_FROST_ABOVE,
    NO_FROST_SEEN,
    SOON_AFTER_DEFROST,
    STATED_OFF,
)


def in_circumstances(told: Components, visit: Derived) -> Components:
    """The components with their prior probabilities in the circumstances of the visit; in cooling none matter."""
    if visit.unit.mode != "heating":
        return told
    factors = {"outdoor_coil_frost": _frost(visit), "auxiliary_heat_on": _strips(visit)}
    shift = sum(log(factor) * told.including[fault] for fault, factor in factors.items())
    return replace(told, prior=told.prior + shift)


def _frost(visit: Derived) -> float:
    """Frost needs a coil below freezing, time since the last defrost, and to be seen where somebody looked."""
    run, factor = visit.request.run, 1.0
    outdoor = visit.visit.leaves.get(READING + "outdoor_air_dry_bulb")
    if isinstance(outdoor, np.ndarray):
        over = min((float(outdoor[0]) - NO_FROST_ABOVE) / FROST_BEGINS, 30.0)
        factor /= 1.0 + exp(over)
    if run.minutes_since_defrost is not None and run.minutes_since_defrost < SOON_AFTER_DEFROST[0]:
        factor *= SOON_AFTER_DEFROST[1]
    if run.frost_on_outdoor_coil is not None:
        factor *= FROST_SEEN if run.frost_on_outdoor_coil else NO_FROST_SEEN
    return max(factor, 1e-6)


def _strips(visit: Derived) -> float:
    """Auxiliary heat that is known is a condition, and one stated as off is rarely on."""
    stated = visit.request.run.auxiliary_heat_on
    if stated or "auxiliary_heat_power" in visit.computed.as_read:
        return KNOWN_ON
    return 1.0 if stated is None else STATED_OFF
