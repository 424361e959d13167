"""What the readings of two visits say about the unit model: features, and how their errors hang together.

A feature is a derived value as read, or its logarithm.  Its errors are linear in the independent
variables of its visit; a variable with the same key at both visits (a sensor's calibration, an
assumption about the unit) is one and the same, so it cancels in a change as far as it truly does.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np
from numpy.typing import NDArray

from service.derive.computation import Computed
from service.derive.examined import Derived
from service.intake.paths import AUXILIARY_OFF, NAMEPLATE, READING
from service.reference.model_outputs import CONDITIONS, OUTPUTS, outputs_of
from service.reference.unit_model import LOST_WHEN_REPLACED, POWER_FACTOR_OF_CAPACITANCE
from service.uncertainty.propagation import Variable, slopes_of
from service.unit.layout import LAYOUTS, RUNS
from service.unit.makers_table import NO_TABLE, MakersTable, makers_table

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Feature:
    """A derived value that the unit model predicts as ``output``."""

    source: str
    output: str
    logarithmic: bool = False


def _choices(mode: str) -> tuple[tuple[Feature, ...], ...]:
    """Features in rows; of each the first that is available counts."""
    rows: dict[str, tuple[Feature, ...]] = {}
    for row in outputs_of(mode):
        ways = (READING + row.as_read,) if row.as_read else row.ways
        for way in ways:
            alike = row.instead_of or way
            rows[alike] = (*rows.get(alike, ()), Feature(way, row.name, row.logarithmic))
    return tuple(rows.values())


_FEATURES = {mode: _choices(mode) for mode in LAYOUTS}
#: What auxiliary heat of unknown power hides.
_WITH_STRIPS = "heating_air_temperature_rise"
_REPLACED = "capacitor_replacement"
_STRIPS = "auxiliary_heat_power"

_LOWEST_CAPACITANCE = NAMEPLATE + "capacitors.compressor.lowest"


@dataclass(frozen=True, slots=True)
class Evidence:
    """Features of one visit: values (M,), slopes on its K variables (M, K), own variance (M,).

    ``capacitance`` is the logarithm of the compressor's run capacitance [F] where it was measured;
    ``capacitor_replaced`` is whether a capacitor was replaced at the visit.  ``table`` is what the maker's table
    says of a healthy unit under the conditions of the visit.
    """

    features: tuple[Feature, ...]
    values: FloatArray
    slopes: FloatArray
    own: FloatArray
    variables: tuple[Variable, ...]
    capacitance: float | None = None
    capacitor_replaced: bool = False
    table: MakersTable = NO_TABLE

    @property
    def tells_of_the_unit(self) -> bool:
        """Whether any feature is of the unit itself, not of its conditions."""
        return any(feature.output not in CONDITIONS for feature in self.features)

    def only(self, features: Collection[Feature]) -> Evidence:
        """What some of the features say."""
        places = [place for place, feature in enumerate(self.features) if feature in features]
        return replace(
            self,
            features=tuple([self.features[place] for place in places]),
            values=self.values[places],
            slopes=self.slopes[places],
            own=self.own[places],
        )

    def place(self, output: str) -> int | None:
        """Position of the first feature of an output."""
        for place, feature in enumerate(self.features):
            if feature.output == output:
                return place
        return None


def evidence(of: Derived) -> Evidence:
    """The features that a visit's readings give."""
    visit, computed = of.visit, of.computed
    chosen, rows, masks = [], [], []
    count = len(visit.variables)
    hidden = {_WITH_STRIPS} if _strips_of_unknown_power(of) else set()
    for options in _FEATURES[of.unit.mode]:
        for feature in options:
            if feature.source in of.doubted or feature.output in hidden:
                continue
            leaf = feature.source.startswith(READING)
            draws = (visit.leaves if leaf else computed.as_read).get(feature.source)
            if not isinstance(draws, np.ndarray) or draws.ndim != 1:
                continue
            if not np.isfinite(draws).all() or (feature.logarithmic and draws.min() <= 0.0):
                continue
            chosen.append(feature)
            rows.append(np.log(draws) if feature.logarithmic else draws)
            if leaf:
                mask = np.zeros(count, dtype=bool)
                mask[list(visit.leaf_variables[feature.source])] = True
            else:
                mask = np.pad(
                    computed.masks[feature.source],
                    (0, count - len(computed.masks[feature.source])),
                )
            masks.append(mask)
            break
    if not rows:
        empty = np.zeros(0)
        return Evidence((), empty, np.zeros((0, count)), empty, visit.variables)
    stack = np.stack(rows)
    slopes = slopes_of(stack, visit.inputs, np.stack(masks))
    own = np.array([OUTPUTS[f.output].scatter ** 2 for f in chosen])
    capacitance = _capacitance(computed)
    lowest = visit.leaves.get(_LOWEST_CAPACITANCE)
    replaced = _REPLACED in of.request.run.work
    found = Evidence(tuple(chosen), stack[:, 0], slopes, own, visit.variables, capacitance, replaced, makers_table(of))
    weak = 0.0 if capacitance is None or lowest is None else max(log(lowest) - capacitance, 0.0)
    return _with_free_power_factor(found, weak)


def _strips_of_unknown_power(of: Derived) -> bool:
    """Whether auxiliary heat ran and nothing shows how much."""
    if of.unit.mode != "heating" or AUXILIARY_OFF in of.visit.leaves:
        return False
    return _STRIPS not in of.computed.as_read


def _capacitance(computed: Computed) -> float | None:
    draws = computed.as_read.get("compressor_run_capacitance")
    if not isinstance(draws, np.ndarray) or not draws[0] > 0.0:
        return None
    return log(draws[0])


def _with_free_power_factor(of: Evidence, departure: float) -> Evidence:
    """Current limits power less closely where a capacitor departs by so much (a logarithm)."""
    if departure == 0.0:
        return of
    own = of.own.copy()
    for place, feature in enumerate(of.features):
        if feature.output == "compressor_apparent_power":
            own[place] += (POWER_FACTOR_OF_CAPACITANCE * departure) ** 2
    return replace(of, own=own)


def as_pair(before: Evidence, after: Evidence) -> tuple[Evidence, Evidence]:
    """Two visits to one unit: where the run capacitance is not what it was, neither is the power factor."""
    if before.capacitance is not None and after.capacitance is not None:
        departure = after.capacitance - before.capacitance
    else:
        departure = LOST_WHEN_REPLACED if after.capacitor_replaced else 0.0
    return before, _with_free_power_factor(after, departure)


def joint(
    slopes: Sequence[FloatArray],
    variables: Sequence[Sequence[Variable]],
    alike: Mapping[int, int] | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Slopes of all rows of several visits on one list of variables, and those variables' variances.

    Parameters
    ----------
    slopes : sequence of FloatArray, shape (M_i, K_i)
    variables : sequence of sequences of Variable
    alike : mapping, optional
        Keys to be taken for other keys (to ask what one instrument at both visits would have given).

    Returns
    -------
    FloatArray, shape (sum of M_i, K), and FloatArray, shape (K,).
    """
    places: dict[int, int] = {}
    variances: list[float] = []
    columns: list[list[int]] = []
    for own in variables:
        row = []
        for item in own:
            key = item.key if alike is None or item.key is None else alike.get(item.key, item.key)
            if key is None or key not in places:
                if key is not None:
                    places[key] = len(variances)
                row.append(len(variances))
                variances.append(item.variance)
            else:
                row.append(places[key])
        columns.append(row)
    total = np.zeros((sum(len(part) for part in slopes), len(variances)))
    start = 0
    for part, row in zip(slopes, columns, strict=True):
        for column, place in enumerate(row):
            total[start : start + len(part), place] += part[:, column]
        start += len(part)
    return total, np.array(variances)


def owners(variables: Sequence[Sequence[Variable]]) -> list[str]:
    """Who brings each variable, in the order of :func:`joint`."""
    found, seen = [], set()
    for own in variables:
        for item in own:
            if item.key is None or item.key not in seen:
                found.append(item.owner)
                seen.add(item.key)
    return found


def joint_errors(both: tuple[Evidence, Evidence], *, with_tables: bool = False) -> FloatArray:
    """Covariance of all features' errors; calibrations that both runs share appear in both.

    ``with_tables``: and of the values that the maker's table gives under the conditions of each run, after them; of
    their errors only those that readings share.
    """
    tables = [e for e in both if e.table.columns] if with_tables else []
    slopes, variances = joint(
        [*(e.slopes for e in both), *(e.table.slopes for e in tables)],
        [*(e.variables for e in both), *(e.variables for e in tables)],
    )
    count = sum(len(e.table.columns) for e in tables)
    own = np.diag(np.concatenate([*(e.own for e in both), np.zeros(count)]))
    return np.asarray((slopes * variances) @ slopes.T + own)


def relative(both: tuple[Evidence, Evidence]) -> tuple[FloatArray, dict[str, float]]:
    """All features, voltages against that of the first visit; and the conditions that were read."""
    given = {}
    for run, part in zip(RUNS, both, strict=True):
        for output, name in CONDITIONS.items():
            place = part.place(output)
            if place is not None:
                given[f"{name}_{run}"] = float(part.values[place])
    level = next((given[f"voltage_{run}"] for run in RUNS if f"voltage_{run}" in given), 0.0)
    readings = np.concatenate(
        [e.values - level * np.array([f.output == "supply_voltage" for f in e.features]) for e in both]
    )
    return readings, {n: v - level if n.startswith("voltage") else v for n, v in given.items()}
