"""What the change of efficiency is worth: energy, money, payback."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.compare.quantities import band, rounded, share
from service.derive.examined import Examined
from service.reference.units import conversion
from service.uncertainty.low_discrepancy import MAXIMUM_DRAWS, sample
from service.uncertainty.mixture import Normals

FloatArray = NDArray[np.float64]

_JOULES = conversion("energy", "kWh").scale
_LOW, _HIGH = 0.025, 0.975
#: Years from which a payback is none.
_FAR = 50.0


def worth(before: Examined, efficiency: Normals | None, price: float | None) -> dict[str, Any]:
    """Energy and money saved a year, for the load of the first run's unit.

    Parameters
    ----------
    before : Examined
        The first run; its seasonal energy is what the saving is reckoned on.
    efficiency : Normals or None
        Change of the logarithm of efficiency at rating conditions.
    price : float or None
        Price of the service.
    """
    usage = before.request.usage
    answer: dict[str, Any] = {
        "energy_saved": None,
        "money_saved": None,
        "probability_paid_within_a_year": None,
        "payback_years": None,
        "payback_band": None,
    }
    if usage.cooling_hours is None:
        return answer | {
            "sentence": "Give the hours of cooling in a year to have the worth reckoned."
        }
    if efficiency is None:
        return answer | {
            "sentence": "The readings do not give the change of efficiency, so its worth is not known."
        }
    row = before.kept.get("seasonal_energy")
    if row is None:
        row = before.kept.get("seasonal_energy_at_rated_efficiency")
    if row is None:
        return answer | {
            "sentence": "The energy of a season cannot be estimated from these readings; the rated capacity (in "
            "Btu/h, or W in metric units) and the rated energy efficiency ratio would do."
        }
    used = float(before.summary.value[row])
    relative = float(before.summary.standard_uncertainty[row]) / used
    table = sample(MAXIMUM_DRAWS)  # two dimensions cost nothing
    # Two dimensions of the sample that no error of the readings uses up: which error is which does not
    # matter here, only that they are independent and evenly spread.
    spread = np.exp(relative * table.normal[0, 1:] - 0.5 * relative**2)
    change = efficiency.placed(0.5 * (1.0 + table.rectangular[1, 1:]))
    saved = used * spread * (1.0 - np.exp(-change))
    answer["energy_saved"] = _change(saved / _JOULES)
    sentence = f"Energy saved a year: {_range(saved / _JOULES, 'kWh')}"
    if usage.energy_price is None:
        return answer | {"sentence": f"{sentence}. An estimate."}
    money = saved / _JOULES * usage.energy_price
    answer["money_saved"] = _change(money)
    sentence += f", worth {_range(money, 'in your currency')} at today's price"
    if price is None:
        return answer | {"sentence": f"{sentence}. An estimate."}
    within = float((money >= price).mean())
    answer["probability_paid_within_a_year"] = share(within)
    best = float(np.median(money))
    ends = np.quantile(money, [_HIGH, _LOW])
    if best > 0.0 and price / best < _FAR:
        answer["payback_years"] = rounded(price / best)
    paid = [price / end if end * _FAR > price else None for end in ends.tolist()]
    answer["payback_band"] = [None if end is None else rounded(end) for end in paid]
    words = (
        f"the service pays back in about {price / best:.1f} years"
        if best * _FAR > price
        else "whether it pays back by energy is not shown"
        if paid[0] is not None
        else f"the service does not pay back by energy within {_FAR:.0f} years"
    )
    shortest, longest = ("never" if end is None else f"{end:.1f} years" for end in paid)
    return answer | {
        "sentence": f"{sentence}; {words} (95 %: {shortest} to {longest}), within a year with a "
        f"probability of {100 * within:.0f} %. An estimate; comfort, wear and avoided repairs are not "
        "in it."
    }


def _change(values: FloatArray) -> dict[str, Any]:
    low, high = np.quantile(values, [_LOW, _HIGH])
    return {
        "value": rounded(float(np.median(values))),
        "standard_uncertainty": rounded(float(values.std())),
        "band": band(float(low), float(high)),
    }


def _range(values: FloatArray, unit: str) -> str:
    low, middle, high = np.quantile(values, [_LOW, 0.5, _HIGH])
    return f"{middle:.0f} {unit} (95 %: {low:.0f} to {high:.0f})"
