"""What the change of efficiency is worth: energy, money, payback."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from schemas.comparisons import Change, Worth
from service.compare.quantities import band, rounded, share
from service.derive.examined import Examined
from service.reference.units import conversion
from service.uncertainty.low_discrepancy import MAXIMUM_DRAWS, sample
from service.uncertainty.mixture import Normals
from service.uncertainty.propagation import COVERAGE
from service.words import comparison as words
from service.words.numbers import Estimate

FloatArray = NDArray[np.float64]

_JOULES = conversion("energy", "kWh").scale
_LOW, _HIGH = 0.025, 0.975
#: The energy of a season, by mode, best first.
_SEASONAL = {
    "cooling": ("seasonal_energy", "seasonal_energy_at_rated_efficiency"),
    "heating": ("seasonal_heating_energy",),
}
#: Years from which a payback counts as never.
_FAR = 50.0


def worth(before: Examined, efficiency: Normals | None, price: float | None) -> Worth:
    """Energy and money saved a year, for the load of the first run's unit.

    Parameters
    ----------
    before : Examined
        The first run; the saving is a share of its seasonal energy.
    efficiency : Normals or None
        Change of the logarithm of efficiency at rating conditions.
    price : float or None
        Price of the service.
    """
    usage = before.request.usage
    answer: Worth = {
        "energy_saved": None,
        "money_saved": None,
        "probability_paid_within_a_year": None,
        "payback_years": None,
        "payback": None,
        "payback_band": None,
        "sentence": "",
    }
    mode = before.unit.mode
    if (usage.heating_hours if mode == "heating" else usage.cooling_hours) is None:
        return answer | {"sentence": words.worth_not_known("hours", mode)}
    if efficiency is None:
        return answer | {"sentence": words.worth_not_known("efficiency", mode)}
    row = next((before.kept[name] for name in _SEASONAL[mode] if name in before.kept), None)
    if row is None:
        return answer | {"sentence": words.worth_not_known("energy", mode)}
    used = float(before.summary.value[row])
    relative = float(before.summary.standard_uncertainty[row]) / used
    table = sample(MAXIMUM_DRAWS)  # two dimensions cost nothing
    # Two dimensions of the sample that no error of the readings uses: which error is which does not
    # matter here, only that they are independent and evenly spread.
    spread = np.exp(relative * table.normal[0, 1:] - 0.5 * relative**2)
    change = efficiency.placed(0.5 * (1.0 + table.rectangular[1, 1:]))
    saved = used * spread * (1.0 - np.exp(-change))
    answer["energy_saved"] = _change(saved / _JOULES)
    facts = words.WorthFacts(_estimate(saved / _JOULES))
    if usage.energy_price is not None:
        money = saved / _JOULES * usage.energy_price
        answer["money_saved"] = _change(money)
        facts = replace(facts, money=_estimate(money))
        if price is not None:
            facts = _paid(facts, money, price)
            answer["probability_paid_within_a_year"] = share(facts.within_a_year or 0.0)
            years, low, high = (
                None if end is None else rounded(end) for end in (facts.payback, facts.soonest, facts.latest)
            )
            answer["payback_years"], answer["payback_band"] = years, [low, high]
            answer["payback"] = {"value": years, "band": {"low": low, "high": high, "coverage": COVERAGE}}
    return answer | {"sentence": words.worth_sentence(facts, _FAR)}


def _paid(facts: words.WorthFacts, money: FloatArray, price: float) -> words.WorthFacts:
    """When the money saved has paid the price."""
    best = float(np.median(money))
    soonest, latest = (
        price / end if end * _FAR > price else None for end in np.quantile(money, [_HIGH, _LOW]).tolist()
    )
    return replace(
        facts,
        payback=price / best if best > 0.0 and price / best < _FAR else None,
        soonest=soonest,
        latest=latest,
        within_a_year=float((money >= price).mean()),
    )


def _change(values: FloatArray) -> Change:
    low, high = np.quantile(values, [_LOW, _HIGH])
    return {
        "value": rounded(float(np.median(values))),
        "standard_uncertainty": rounded(float(values.std())),
        "band": band(float(low), float(high)),
    }


def _estimate(values: FloatArray) -> Estimate:
    low, middle, high = np.quantile(values, [_LOW, 0.5, _HIGH])
    return Estimate(float(middle), float(low), float(high))
