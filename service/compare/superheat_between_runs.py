"""How far the superheat of an unchanged unit may follow the weather from one run to the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot, sqrt

import numpy as np

from service.reference.metering_devices import EXPANSION_VALVES
from service.reference.unit_model import FLOODED, LEAST_SUPERHEAT, WIDE_OPEN
from service.uncertainty.least_squares import Prior
from service.unit.evidence import Evidence
from service.unit.layout import RUNS
from service.unit.model import UnitModel

#: The parameters that say how superheat follows the weather, by the condition that it follows.
_FOLLOWS = {"outdoor": "superheat_outdoor", "wet_bulb": "superheat_wet_bulb"}


def with_superheat_between_runs(
    model: UnitModel, prior: Prior, given: Mapping[str, float], both: Sequence[Evidence]
) -> Prior:
    """What is known of a pair of runs, with superheat as free between them as the metering device leaves it.

    A valve that stands wide open controls no more than a fixed device does.  Where liquid comes back in a run, a
    thermometer does not show how much.  In heating nothing is changed.

    Parameters
    ----------
    model : UnitModel
    prior : Prior, covariance (P, P) diagonal
    given : mapping
        The conditions of the runs that were read [K].
    both : sequence of Evidence
        What the runs show, none where they are still to come.
    """
    if model.mode != "cooling":
        return prior
    places = [part.place("superheat") for part in both]
    seen = [float(part.values[place]) for part, place in zip(both, places, strict=True) if place is not None]
    spread = np.sqrt(np.diagonal(prior.covariance))
    index = model.layout.index
    if model.device in EXPANSION_VALVES and max(seen, default=0.0) > WIDE_OPEN:
        for name in _FOLLOWS.values():
            spread[index[name]] = max(spread[index[name]], model.layout.superheat_spreads[name][0])
    if min(seen, default=LEAST_SUPERHEAT) < LEAST_SUPERHEAT:
        for condition, name in _FOLLOWS.items():
            before, after = (given.get(f"{condition}_{run}") for run in RUNS)
            if before is not None and after is not None:
                share = FLOODED / sqrt(len(_FOLLOWS)) / max(abs(after - before), 1.0)
                spread[index[name]] = hypot(spread[index[name]], share)
    return Prior(prior.mean, np.diag(spread**2))
